"""Knots of the band map: prints the 17 (a*, b*) pairs of src/band_map.rs.

L* rises linearly from 12 to 95. The path in a*b* is a closed-form curve through hand-set anchors
(hue and chroma in CIELAB D50): dark green, slate blue, mauve, rose, cream. Along it the step is
made even in CIEDE2000. Needs numpy and colour-science.
"""
import numpy as np, colour
from scipy.interpolate import PchipInterpolator, CubicSpline

L0, L1, N = 12.0, 95.0, 17
anchor_t = np.array([0.0, 0.22, 0.45, 0.66, 0.84, 1.0])
anchor_h = np.radians([158.0, 225.0, 285.0, 345.0, 410.0, 448.0])
anchor_c = np.array([9.0, 15.0, 33.0, 36.0, 30.0, 13.0])
M = 4001
s = np.linspace(0, 1, M)
h, c = PchipInterpolator(anchor_t, anchor_h)(s), PchipInterpolator(anchor_t, anchor_c)(s)
a, b = c * np.cos(h), c * np.sin(h)
t = s.copy()
for _ in range(60):  # re-time the path (not L*) until dE00 per step is even
    lab = np.stack([L0 + (L1 - L0) * s, np.interp(t, s, a), np.interp(t, s, b)], 1)
    de = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    dt = np.diff(t)
    dt *= (de.mean() / de) ** 0.7
    k = np.ones(161) / 161
    dt = np.convolve(np.pad(dt, 80, mode="edge"), k, mode="valid")
    t = np.concatenate([[0], np.cumsum(dt)])
    t /= t[-1]
knots = np.linspace(0, M - 1, N).astype(int)
A, B = np.interp(t, s, a)[knots], np.interp(t, s, b)[knots]
for x, y in zip(A, B):
    print(f"    [{x:.2f}, {y:.2f}],")
q = np.linspace(0, 1, 256)
kx = np.linspace(0, 1, N)
lab = np.stack([L0 + (L1 - L0) * q, CubicSpline(kx, A)(q), CubicSpline(kx, B)(q)], 1)
de = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
print("dE00 per step min mean max", de.min(), de.mean(), de.max())
xyz = colour.Lab_to_XYZ(lab, [0.3457, 0.3585])
rgb = colour.XYZ_to_sRGB(xyz, [0.3457, 0.3585], "Bradford")
print("sRGB range", rgb.min(), rgb.max())
