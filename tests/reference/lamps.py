"""Writes weights_e2022.csv, interpolation_examples.csv, lamp_quality.csv and cct_examples.csv with
colour-science 0.4.7 (BSD-3-Clause), as an independent computation. Run it in this folder."""
import numpy as np
import colour
from colour import SpectralShape
from colour.quality import colour_fidelity_index_CIE2017

SAYS = "# Computed by lamps.py with the package colour-science 0.4.7 (BSD-3-Clause).\n"
CMFS = {2: colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"],
        10: colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]}
NM = SpectralShape(380, 780, 1)


def table(name, what, header, rows):
    with open(name, "w") as f:
        f.write(f"# {what}\n{SAYS}{header}\n")
        for row in rows:
            f.write(",".join(v if isinstance(v, str) else f"{v:.10g}" for v in row) + "\n")


def at_1nm(lamp):
    sd = colour.SDS_ILLUMINANTS[lamp].copy().trim(SpectralShape(380, 780, 5))
    return sd.interpolate(NM, interpolator=colour.LinearInterpolator)


rows = []
for lamp in ("D50", "A", "LED-B3"):
    for observer, cmfs in CMFS.items():
        for step in (5, 10, 20):
            shape = SpectralShape(380, 780, step)
            w = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
                cmfs.copy().align(NM), at_1nm(lamp), shape)
            rows += [[lamp, observer, step, nm, *v] for nm, v in zip(shape.wavelengths, w)]
table("weights_e2022.csv", "ASTM E2022 weighting factors over 380 to 780 nm, sum of y 100.",
      "lamp,observer,step_nm,wavelength_nm,x,y,z", rows)

grid = np.arange(380, 781, 20)
known = 0.4 + 0.25 * np.sin(grid / 37.0) + 0.1 * np.cos(grid / 11.0)
linear, sprague = colour.LinearInterpolator(grid, known), colour.SpragueInterpolator(grid, known)
inside = np.array([381, 397, 405.5, 419, 433, 501, 555, 640, 693, 707, 741, 759, 765, 779])
rows = [["known", nm, v, v] for nm, v in zip(grid, known)]
rows += [["between", nm, a, b] for nm, a, b in zip(inside, linear(inside), sprague(inside))]
table("interpolation_examples.csv", "Values known at 20 nm and found between: straight line; Sprague.",
      "kind,wavelength_nm,linear,sprague", rows)

# CIE 13.3 sums at 5 nm; the package would at 1 nm.
colour.quality.cri.SPECTRAL_SHAPE_DEFAULT = SpectralShape(380, 780, 5)
lamps = ["A", "D50", "D55", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1",
         "LED-RGB1", "LED-V1", "LED-V2", "FL2", "FL7", "FL11"]
rows = []
for lamp in lamps:
    sd = colour.SDS_ILLUMINANTS[lamp].copy().trim(SpectralShape(380, 780, 5))
    xyz = colour.sd_to_XYZ(at_1nm(lamp), CMFS[2].copy().align(NM), method="Integration")
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(xyz))
    cct, duv = colour.temperature.uv_to_CCT_Ohno2013(uv)
    cri = colour.colour_rendering_index(sd, additional_data=True)
    cfi = colour_fidelity_index_CIE2017(sd, additional_data=True)
    rows.append([lamp, cct, duv, cri.Q_a, *[cri.Q_as[i].Q_a for i in range(1, 15)], cfi.R_f,
                 *[cfi.R_s[i] for i in (0, 49, 98)]])
table("lamp_quality.csv", "CCT and Duv (Ohno 2013), CIE 13.3-1995 Ra and R1 to R14, CIE 224:2017 Rf "
      "and three of its samples.",
      "lamp,cct_k,duv,Ra," + ",".join(f"R{i}" for i in range(1, 15)) + ",Rf,Rf1,Rf50,Rf99", rows)

rows = []
for cct in (1500, 1900, 2700, 2856, 3000, 3500, 4000, 5000, 6500, 9000, 15000, 20000):
    for duv in (-0.02, -0.005, 0.0, 0.003, 0.02):
        u, v = colour.temperature.CCT_to_uv_Ohno2013(np.array([cct, duv]))
        rows.append([cct, duv, u, v])
table("cct_examples.csv", "CIE 1960 (u, v) of a correlated colour temperature and a Duv.",
      "cct_k,duv,u,v", rows)
