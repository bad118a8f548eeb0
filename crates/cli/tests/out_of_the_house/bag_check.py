"""What PyPI `bagit` says of a bag: bag_check.py FOLDER"""
import json
import logging
import sys

import bagit

logging.disable(logging.CRITICAL)
try:
    bagit.Bag(sys.argv[1]).validate(fast=False)
    wrong = None
except Exception as error:  # whatever it refuses by
    wrong = f"{type(error).__name__}: {error}"
print(json.dumps({"wrong": wrong}))
