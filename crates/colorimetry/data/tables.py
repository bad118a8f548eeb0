"""Writes the tables of this folder from the package colour-science 0.4.7 (BSD-3-Clause), which
carries the numbers that the CIE publishes. Run it in this folder."""
import colour
from colour.quality.cfi2017 import load_TCS_CIE2017
from colour.quality.datasets.tcs import SDS_TCS

SOURCE = "# Read from the package colour-science 0.4.7 (BSD-3-Clause).\n"


def write(name, title, columns, wavelengths, digits):
    """`columns`: name -> function of the wavelength."""
    with open(name, "w") as f:
        f.write(f"# {title}\n{SOURCE}wavelength_nm,{','.join(columns)}\n")
        for w in wavelengths:
            f.write(f"{w}," + ",".join(f"{v(w):.{digits}g}" for v in columns.values()) + "\n")


def of(sd, scale=1.0):
    return lambda w: float(sd[w]) * scale


observers = {"2": ("CIE 1931 2 degrees", "CIE 1931 2 Degree Standard Observer"),
             "10": ("CIE 1964 10 degrees", "CIE 1964 10 Degree Standard Observer")}
for angle, (title, name) in observers.items():
    write(f"observer_{angle}deg_1nm.csv",
          f"CIE 15:2018 colour-matching functions, {title}, 360 to 830 nm at 1 nm.",
          {c: (lambda w, s=colour.MSDS_CMFS[name], i=i: float(s[w][i])) for i, c in enumerate("xyz")},
          range(360, 831), 9)

lamps = ["A", "D50", "D55", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1",
         "LED-RGB1", "LED-V1", "LED-V2", "FL2", "FL7", "FL11"]
write("illuminants_5nm.csv",
      "CIE 15:2018 and CIE 018:2019 relative spectral power, 380 to 780 nm at 5 nm.",
      {n: of(colour.SDS_ILLUMINANTS[n]) for n in lamps}, range(380, 781, 5), 7)

basis = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
write("daylight_components_5nm.csv",
      "CIE 15:2018 components S0, S1, S2 of daylight, 380 to 780 nm at 5 nm.",
      {n: of(basis[n]) for n in ("S0", "S1", "S2")}, range(380, 781, 5), 7)

write("rendering_samples_5nm.csv",
      "CIE 13.3-1995 test colour samples 1 to 14, radiance factors, 380 to 780 nm at 5 nm.",
      {n: of(s) for n, s in SDS_TCS["CIE 1995"].items()}, range(380, 781, 5), 6)

samples = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
write("fidelity_samples_5nm.csv",
      "CIE 224:2017 test colour samples 1 to 99, reflectances, 380 to 780 nm at 5 nm.",
      {f"{i + 1}": (lambda w, i=i: float(samples[w][i])) for i in range(99)},
      range(380, 781, 5), 6)
