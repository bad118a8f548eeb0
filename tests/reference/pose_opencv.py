"""Writes pose_opencv.json with OpenCV 5.0 (opencv-python-headless, Apache-2.0): projectPoints,
solvePnP with solvePnPRefineLM, and calibrateCamera on one view. Run it in this folder.

Origin of pixels as in OpenCV: the centre of the top left one."""
import json
import cv2
import numpy as np

rng = np.random.default_rng(20260)
W, H = 6000, 4000


def digits(a):
    return np.asarray(a, float).tolist()


def camera():
    f = rng.uniform(2500, 9000)
    k = np.array([[f, 0, W / 2 + rng.uniform(-40, 40)],
                  [0, f * rng.uniform(0.999, 1.001), H / 2 + rng.uniform(-40, 40)], [0, 0, 1]])
    d = np.array([rng.uniform(-0.2, 0.2), rng.uniform(-0.1, 0.1), rng.uniform(-1e-3, 1e-3),
                  rng.uniform(-1e-3, 1e-3), rng.uniform(-0.03, 0.03)])
    return k, d


def pose(f):
    rvec = rng.uniform(-1, 1, 3) * [0.8, 0.8, 3.0]
    return rvec, np.array([rng.uniform(-0.02, 0.02), rng.uniform(-0.02, 0.02), f * 0.42 / 3600])


def points(n, depth):
    return np.round(np.c_[rng.uniform(-0.2, 0.2, (n, 2)), rng.uniform(-depth, depth, n)], 5)


def project(x, rvec, t, k, d):
    return cv2.projectPoints(x, rvec, t, k, d)[0].reshape(-1, 2)


projected = []
for i in range(30):
    k, d = camera()
    if i % 3 == 0:
        d = np.r_[d, rng.uniform(-0.02, 0.02, 3)]
    rvec, t = pose(k[0, 0])
    x = points(6, 0.06)
    projected.append(dict(camera_matrix=digits(k), distortion=digits(d), rvec=digits(rvec),
                          rotation=digits(cv2.Rodrigues(rvec)[0]), tvec_m=digits(t),
                          object_points_m=digits(x), image_points_px=digits(project(x, rvec, t, k, d))))

solved = []
for i, n in enumerate([4, 5, 6, 6, 8, 10, 12, 20, 30, 40] * 2):
    k, d = camera()
    rvec, t = pose(k[0, 0])
    flat = i % 4 == 3
    x = points(n, 0.0 if flat else 0.06)
    seen = np.round(project(x, rvec, t, k, d) + rng.normal(0, [0.3, 1.0][i % 2], (n, 2)), 4)
    # To the optimum and not only near it, from several starts: with few points there are several.
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 1000, 1e-15)
    starts = [cv2.solvePnP(x, seen, k, d, flags=m)[1:] for m in (cv2.SOLVEPNP_SQPNP, cv2.SOLVEPNP_EPNP)]
    starts.append((rvec[:, None], t[:, None]))
    ends = [cv2.solvePnPRefineLM(x, seen, k, d, r.copy(), s.copy(), stop) for r, s in starts]
    r2, t2 = min(ends, key=lambda e: np.linalg.norm(project(x, *e, k, d) - seen))
    found = project(x, r2, t2, k, d)
    solved.append(dict(planar=flat, camera_matrix=digits(k), distortion=digits(d),
                       object_points_m=digits(x), image_points_px=digits(seen),
                       found=dict(rotation=digits(cv2.Rodrigues(r2)[0]), tvec_m=digits(t2.ravel()),
                                  image_points_px=digits(found),
                                  rms_px=float(np.sqrt(((found - seen) ** 2).sum(1).mean())))))

calibrated = []
fixed = (cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST
         | cv2.CALIB_FIX_K3)
# The first four are without the principal point, the others with it.
for i, n in enumerate([24, 30, 40, 50] * 2):
    f = rng.uniform(3000, 7000)
    k = np.array([[f, 0, W / 2 - 0.5], [0, f, H / 2 - 0.5], [0, 0, 1.0]])
    d = np.array([rng.uniform(-0.2, 0.1), rng.uniform(-0.05, 0.05), 0, 0, 0])
    rvec, t = pose(f)
    x = points(n, 0.12)
    seen = project(x, rvec, t, k, d) + rng.normal(0, 0.4, (n, 2))
    guess = k.copy()
    guess[0, 0] = guess[1, 1] = f * 1.03
    flags = fixed | (0 if i >= 4 else cv2.CALIB_FIX_PRINCIPAL_POINT)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 10000, 1e-15)
    rms, k2, d2, r2, t2 = cv2.calibrateCamera([x.astype(np.float32)], [seen.astype(np.float32)], (W, H),
                                              guess, np.zeros(5), flags=flags, criteria=stop)
    # What it was given, which is in single precision.
    x, seen = x.astype(np.float32).astype(float), seen.astype(np.float32).astype(float)
    found = project(x, r2[0], t2[0], k2, d2)
    calibrated.append(dict(free_centre=i >= 4, object_points_m=digits(x), image_points_px=digits(seen),
                           found=dict(camera_matrix=digits(k2), distortion=digits(d2.ravel()),
                                      image_points_px=digits(found),
                                      rms_px=float(np.sqrt(((found - seen) ** 2).sum(1).mean())))))

says = (f"Computed by pose_opencv.py with OpenCV {cv2.__version__} (opencv-python-headless, Apache-2.0). "
        "Invented geometry. Pixels count from the centre of the top left one.")
with open("pose_opencv.json", "w") as out:
    cases = dict(projected=projected, solved=solved, calibrated=calibrated)
    out.write('{"_comment": ' + json.dumps(says) + f', "width_px": {W}, "height_px": {H}')
    for name, rows in cases.items():
        out.write(f',\n"{name}": [\n' + ",\n".join(json.dumps(row) for row in rows) + "]")
    out.write("}\n")
