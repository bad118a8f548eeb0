"""Times colour-science on NumPy over a grid of CIELAB colours, for the bench of the crate colorimetry.

Arguments: the CSV of the grid, how often it is repeated. Prints nanoseconds of
processor time a colour, the mean of two seconds.
"""
import sys
import time

import numpy as np
import colour

path, repeats = sys.argv[1], int(sys.argv[2])
grid = np.loadtxt((l for l in open(path) if l[0] not in "#L"), delimiter=",", usecols=(0, 1, 2))
one = np.tile(grid, (repeats, 1))
two = one[::-1] * [1.0, 0.7, 0.9]
D50 = np.array([0.3457, 0.3585])
SRGB = colour.RGB_COLOURSPACES["sRGB"]


def lab_to_srgb8(lab):
    rgb = colour.XYZ_to_RGB(colour.Lab_to_XYZ(lab, D50), SRGB, illuminant=D50,
                            chromatic_adaptation_transform="Bradford", apply_cctf_encoding=True)
    return np.round(np.clip(rgb, 0, 1) * 255).astype(np.uint8)


def srgb8_to_lab(code):
    xyz = colour.RGB_to_XYZ(code / 255.0, SRGB, illuminant=D50,
                            chromatic_adaptation_transform="Bradford", apply_cctf_decoding=True)
    return colour.XYZ_to_Lab(xyz, D50)


codes = lab_to_srgb8(one)
labs = srgb8_to_lab(codes)
work = {
    "delta_e_2000": lambda: colour.delta_E(one, two, method="CIE 2000"),
    "srgb_to_lab": lambda: srgb8_to_lab(codes),
    "lab_to_srgb": lambda: lab_to_srgb8(labs),
}
for name, run in work.items():
    run()
    runs, start = 0, time.process_time()
    while time.process_time() - start < 2.0:
        run()
        runs += 1
    print(name, (time.process_time() - start) * 1e9 / (runs * len(one)))
