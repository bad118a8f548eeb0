"""Times colour-science on NumPy over a grid of CIELAB colours, for the bench of the crate colorimetry.

Arguments: the CSV of the grid, how often it is repeated, 32 or 64 for the
precision. Prints nanoseconds of processor time a colour, the best run of two
seconds.
"""
import sys
import time

import numpy as np
import colour

path, repeats = sys.argv[1], int(sys.argv[2])
FLOAT = np.float32 if sys.argv[3] == "32" else np.float64
colour.utilities.set_default_float_dtype(FLOAT)
grid = np.loadtxt((l for l in open(path) if l[0] not in "#L"), delimiter=",", usecols=(0, 1, 2))
one = np.tile(grid, (repeats, 1))
two = (one[::-1] * [1.0, 0.7, 0.9]).astype(FLOAT)
one = one.astype(FLOAT)
D50 = np.array([0.3457, 0.3585])
SRGB = colour.RGB_COLOURSPACES["sRGB"]


def lab_to_srgb8(lab):
    rgb = colour.XYZ_to_RGB(colour.Lab_to_XYZ(lab, D50), SRGB, illuminant=D50,
                            chromatic_adaptation_transform="Bradford", apply_cctf_encoding=True)
    return np.round(np.clip(rgb, 0, 1) * 255).astype(np.uint8)


def srgb8_to_lab(code):
    xyz = colour.RGB_to_XYZ(code / FLOAT(255.0), SRGB, illuminant=D50,
                            chromatic_adaptation_transform="Bradford", apply_cctf_decoding=True)
    return colour.XYZ_to_Lab(xyz, D50)


codes = lab_to_srgb8(one)
labs = srgb8_to_lab(codes)
assert labs.dtype == FLOAT
work = {
    "delta_e_2000": lambda: colour.delta_E(one, two, method="CIE 2000"),
    "srgb_to_lab": lambda: srgb8_to_lab(codes),
    "lab_to_srgb": lambda: lab_to_srgb8(labs),
}
for name, run in work.items():
    run()
    best, until = float("inf"), time.process_time() + 2.0
    while time.process_time() < until:
        start = time.process_time()
        run()
        best = min(best, time.process_time() - start)
    print(name, best * 1e9 / len(one))
