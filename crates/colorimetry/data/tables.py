"""Writes observers_1nm.csv and illuminants_5nm.csv from the package colour-science 0.4.7 (BSD-3)."""
import colour
o = [colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"], colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]]
with open("observers_1nm.csv", "w") as f:
    f.write("# CIE 15:2018 colour-matching functions, CIE 1931 2 degrees and CIE 1964 10 degrees, 360 to 830 nm at 1 nm.\n# Read from the package colour-science 0.4.7 (BSD-3-Clause).\nwavelength_nm,x2,y2,z2,x10,y10,z10\n")
    for w in range(360, 831):
        f.write(f"{w}," + ",".join(f"{v:.9g}" for c in o for v in c[w]) + "\n")
n = ["A", "D50", "D55", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1", "LED-V2"]
s = [colour.SDS_ILLUMINANTS[k].copy() for k in n]
with open("illuminants_5nm.csv", "w") as f:
    f.write("# CIE 15:2018 and CIE 018:2019 relative spectral power, 380 to 780 nm at 5 nm.\n# Read from the package colour-science 0.4.7 (BSD-3-Clause).\nwavelength_nm," + ",".join(n) + "\n")
    for w in range(380, 781, 5):
        f.write(f"{w}," + ",".join(f"{x[w]:.7g}" for x in s) + "\n")
