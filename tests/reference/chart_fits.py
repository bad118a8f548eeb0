"""Writes chart_fits.csv: the fits of colour-science 0.4.7 to the patch means of three photographs of a
24-patch chart (tests/samples/chart/patches.csv) against three published tables of the chart.

Camera values are the patch means decoded with the sRGB curve; targets are XYZ for D50 from the tables'
CIELAB, white of CSS Color 4. Methods: matrix_colour_correction_Cheung2004 with 3 terms, and
matrix_colour_correction_Finlayson2015, root polynomial of degree 2, both unweighted least squares.
Differences: delta_E, method CIE 2000.
"""
import csv
import numpy as np
import colour

colour.utilities.filter_warnings(python_warnings=True)
W50 = np.array([0.3457, 0.3585])
SAMPLES = "../samples/chart/"
patches = {}
for row in csv.DictReader(open(SAMPLES + "patches.csv")):
    patches.setdefault(row["photo"], []).append([float(row[c]) for c in "rgb"])
with open("chart_fits.csv", "w") as out:
    out.write("# Fits of colour-science 0.4.7 to photographs of a 24-patch chart, dE00 over the 24 patches. Made by chart_fits.py, which says how.\n")
    out.write("photo,edition,method,mean,median,p95,max\n")
    for photo, encoded in patches.items():
        camera = colour.models.eotf_sRGB(np.array(encoded))
        for edition in ["2005", "before-2014-11", "2014-11"]:
            table = list(csv.DictReader(open(f"{SAMPLES}reference-{edition}.csv")))
            lab = np.array([[float(r[c]) for c in ("L*", "a*", "b*")] for r in table])
            xyz = colour.Lab_to_XYZ(lab, W50)
            methods = {
                "matrix": (
                    colour.characterisation.matrix_colour_correction_Cheung2004(camera, xyz, terms=3),
                    lambda c: colour.characterisation.matrix_augmented_Cheung2004(c, terms=3),
                ),
                "root-polynomial": (
                    colour.characterisation.matrix_colour_correction_Finlayson2015(
                        camera, xyz, degree=2, root_polynomial_expansion=True),
                    lambda c: colour.characterisation.polynomial_expansion_Finlayson2015(
                        c, degree=2, root_polynomial_expansion=True),
                ),
            }
            for name, (matrix, expand) in methods.items():
                got = colour.XYZ_to_Lab(expand(camera) @ matrix.T, W50)
                e = colour.delta_E(lab, got, method="CIE 2000")
                numbers = [np.mean(e), np.median(e), np.percentile(e, 95), np.max(e)]
                out.write(f"{photo},{edition},{name}," + ",".join(f"{v:.6f}" for v in numbers) + "\n")
