"""Writes conversions_grid.csv: a grid of CIELAB colours converted by colour-science 0.4.7.

The whites are those of CSS Color 4 (from xy to four decimals) and the RGB matrices are derived from
the primaries, because the package's default sRGB matrices are the standard's rounded ones.
"""
import numpy as np
import colour

colour.utilities.filter_warnings(python_warnings=True)
W50, W65 = np.array([0.3457, 0.3585]), np.array([0.3127, 0.3290])
M = colour.adaptation.matrix_chromatic_adaptation_VonKries(
    colour.xy_to_XYZ(W50), colour.xy_to_XYZ(W65), transform="Bradford")
M16 = colour.adaptation.matrix_chromatic_adaptation_VonKries(
    colour.xy_to_XYZ(W50), colour.xy_to_XYZ(W65), transform="CAT16")
spaces = {
    "srgb": ([0.64, 0.33, 0.30, 0.60, 0.15, 0.06], W65),
    "p3": ([0.68, 0.32, 0.265, 0.69, 0.15, 0.06], W65),
    "oprgb": ([0.64, 0.33, 0.21, 0.71, 0.15, 0.06], W65),
    "rec2020": ([0.708, 0.292, 0.170, 0.797, 0.131, 0.046], W65),
    "romm": ([0.734699, 0.265301, 0.159597, 0.840403, 0.036598, 0.000105], W50),
}
n = 13
L, a, b = np.meshgrid(np.linspace(2, 98, n), np.linspace(-90, 90, n), np.linspace(-90, 90, n))
lab = np.stack([L.ravel(), a.ravel(), b.ravel()], 1)
xyz50 = colour.Lab_to_XYZ(lab, W50)
xyz65 = xyz50 @ M.T
columns = {"xyz_d65": xyz65, "cat16": xyz50 @ M16.T}
for name, (primaries, white) in spaces.items():
    P = colour.normalised_primary_matrix(primaries, white)
    columns[name + "_linear"] = (xyz65 if white is W65 else xyz50) @ np.linalg.inv(P).T
columns["srgb"] = np.sign(columns["srgb_linear"]) * colour.models.eotf_inverse_sRGB(
    np.abs(columns["srgb_linear"]))
# Oklab: the package has Ottosson's own first matrix, made for a D65 rounded otherwise; CSS Color 4
# scales its rows so that the D65 above is (1, 0, 0).
M1 = np.array(colour.models.oklab.MATRIX_1_XYZ_TO_LMS)
M1 = M1 / (M1 @ colour.xy_to_XYZ(W65))[:, None]
columns["oklab"] = np.cbrt(xyz65 @ M1.T) @ np.array(colour.models.oklab.MATRIX_2_LMS_TO_LAB).T
other = lab[::-1] * [1, 0.7, 0.9]
scalar = {
    "de76": colour.delta_E(lab, other, method="CIE 1976"),
    "de94": colour.delta_E(lab, other, method="CIE 1994"),
    "de00": colour.delta_E(lab, other, method="CIE 2000"),
}
with open("conversions_grid.csv", "w") as f:
    f.write("# CIELAB (D50) colours converted by the package colour-science 0.4.7 (BSD-3); see "
            "conversions_grid.py.\n# de..: difference from the colour of the row as far from the end, "
            "its a* times 0.7 and b* times 0.9.\n")
    f.write("L,a,b," + ",".join(f"{k}_{i}" for k in columns for i in range(3)) + ","
            + ",".join(scalar) + "\n")
    for i, row in enumerate(lab):
        v = list(row) + [c[i][k] for c in columns.values() for k in range(3)]
        v += [s[i] for s in scalar.values()]
        f.write(",".join(f"{x:.8g}" for x in v) + "\n")
