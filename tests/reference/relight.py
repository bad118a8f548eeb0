"""Writes relight_examples.csv: the 24 reflectances of chart24_reflectance.csv under three lamps, with
colour-science 0.4.7 (BSD-3-Clause): summed at 1 nm, adapted by CAT16 to D50 or, without adaptation,
taken as seen beside D65. Run it in this folder."""
import csv
import numpy as np
import colour
from colour import SpectralShape

NM = SpectralShape(380, 780, 1)
CMFS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
W50, W65 = (colour.xy_to_XYZ(w) for w in ([0.3457, 0.3585], [0.3127, 0.3290]))
BRADFORD = colour.adaptation.matrix_chromatic_adaptation_VonKries(W65, W50, transform="Bradford")
with open("chart24_reflectance.csv") as f:
    chart = list(csv.DictReader(line for line in f if not line.startswith("#")))
nm5 = np.array([float(r["wavelength_nm"]) for r in chart])
rows = []
for lamp in ("A", "LED-B3", "FL11"):
    sd = colour.SDS_ILLUMINANTS[lamp].copy().trim(SpectralShape(380, 780, 5))
    power = sd.interpolate(NM, interpolator=colour.LinearInterpolator).values
    for degrees, name in CMFS.items():
        weights = power[:, None] * colour.MSDS_CMFS[name].copy().align(NM).values
        k = weights[:, 1].sum()
        white = weights.sum(0) / k
        cat16 = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, W50, transform="CAT16")
        for patch in range(1, 25):
            r = np.interp(NM.wavelengths, nm5, [float(row[f"p{patch:02d}"]) for row in chart])
            xyz = r @ weights / k
            lab = [colour.XYZ_to_Lab(m @ xyz, [0.3457, 0.3585]) for m in (cat16, BRADFORD)]
            rows.append([lamp, degrees, patch, *xyz, *lab[0], *lab[1]])
with open("relight_examples.csv", "w") as f:
    f.write("# The 24 reflectances (Ohta 1997) under three lamps; straight lines between readings.\n"
            "# Computed by relight.py with the package colour-science 0.4.7 (BSD-3-Clause).\n"
            "lamp,observer,patch,X,Y,Z,adapted_L,adapted_a,adapted_b,unadapted_L,unadapted_a,unadapted_b\n")
    for row in rows:
        f.write(",".join(v if isinstance(v, str) else f"{v:.8g}" for v in row) + "\n")
