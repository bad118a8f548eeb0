"""The task of `ganosis drape` with general-purpose libraries, for its bench: trimesh with embree for places and
rays, OpenCV for projecting, reading and blurring photographs, NumPy for the rest.

Arguments: a folder with s.glb, poses.json and the photographs named there, the side of the sheet in texels, and how
many blocks of rows there are for each that is done (1: all are). took.json says how long those took that are done.
Writes the layer (16 bits in the photographs' space, and 8 bits of sRGB) and what is known of each texel as the
command does (views.png: 255 where there is no triangle, and in blocks that are not done).

The task is the same: linear light; weights by angle, resolution, sharpness and distance from where a view ends;
three bands of detail; what three or more do not agree on is left out; a border about the charts. It does less
where the libraries have no way for it: a texel larger than a pixel is read from a photograph made smaller as a
whole, all photographs are in memory at once, and nothing is kept for going on.
"""
import json
import sys
import time

import cv2
import numpy as np
import trimesh

TEXELS = 2**19  # In a block, so that arrays stay some tens of megabytes (a choice of ours).
NEARLY = 2e-5  # Rays start this far above the surface, in metres: embree is of single precision.
BLUR = (8.0, 32.0)  # Of the two coarser bands, in pixels.
CELLS = 640  # Along the longer side of a photograph, for where its view ends.
DARK = 0.02

folder, side, every = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
mesh = trimesh.load(f"{folder}/s.glb", process=False, force="mesh")
corners = mesh.triangles
normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
normals /= np.linalg.norm(normals, axis=1, keepdims=True)
# trimesh turns v around.
flat = np.column_stack([mesh.visual.uv[:, 0], 1.0 - mesh.visual.uv[:, 1]]) * side
page = trimesh.Trimesh(np.column_stack([flat, np.zeros(len(flat))]), mesh.faces, process=False)
places, space = (trimesh.ray.ray_pyembree.RayMeshIntersector(m, scale_to_box=False) for m in (page, mesh))
a, b, c = (flat[mesh.faces[:, k]] for k in range(3))
ab, ac = b - a, c - a
whole = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]

# ROMM RGB (ISO 22028-2): its curve, and its way to linear sRGB (IEC 61966-2-1) at D50 by Bradford.
codes = np.arange(65536) / 65535.0
LIGHT = np.where(codes < 16 * 0.001953125, codes / 16, codes**1.8).astype(np.float32)
roots = np.linspace(0, 1, 65536) ** 2
ROMM = np.rint(65535 * np.where(roots < 0.001953125, roots * 16, roots ** (1 / 1.8))).astype(np.uint16)
SRGB = np.rint(255 * np.where(roots <= 0.0031308, 12.92 * roots, 1.055 * roots ** (1 / 2.4) - 0.055)).astype(np.uint8)
TO_SRGB = np.array([[2.0343, -0.7275, -0.3067], [-0.2288, 1.2317, -0.0029], [-0.0086, -0.1533, 1.1619]], np.float32)


def step(t):
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def photograph(one):
    """One photograph: its lens and pose, its bands, its detail, and how much it counts towards its ends."""
    lens, pose = one["lens"], one["pose"]
    d = {"k1": 0, "k2": 0, "p1": 0, "p2": 0, "k3": 0} | lens.get("distortion", {})
    rotation, shift = np.array(pose["rotation"]), np.array(pose["translation_m"])
    centre = -rotation.T @ shift
    camera = np.array([[lens["focal_px"][0], 0, lens["centre_px"][0]], [0, lens["focal_px"][1], lens["centre_px"][1]], [0, 0, 1]])
    distortion = np.array([d[k] for k in ("k1", "k2", "p1", "p2", "k3")], float)
    image = LIGHT[cv2.imread(f"{folder}/{one['photo']['file']}", cv2.IMREAD_UNCHANGED)]
    height, width = image.shape[:2]
    quarter = cv2.resize(image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    eighth = cv2.resize(quarter, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    green = image[..., 1]
    mean = cv2.resize(quarter[..., 1], (width, height), interpolation=cv2.INTER_NEAREST)
    off = cv2.resize(cv2.absdiff(green, mean), (eighth.shape[1], eighth.shape[0]), interpolation=cv2.INTER_AREA)
    detail = off / (eighth[..., 1] + DARK)
    # Where the view ends: at the edge of the picture, and where the surface breaks off.
    cell = -(-max(width, height) // CELLS)
    x, y = np.meshgrid(np.arange(cell / 2, width, cell), np.arange(cell / 2, height, cell))
    rays = cv2.undistortPoints(np.column_stack([x.ravel(), y.ravel()])[:, None], camera, distortion)[:, 0]
    rays = np.column_stack([rays, np.ones(len(rays))]) @ rotation
    face = space.intersects_first(np.tile(centre, (len(rays), 1)), rays)
    hit = face >= 0
    plane = np.einsum("ij,ij->i", normals[face], corners[face, 0] - centre)
    depth = np.where(hit, plane / np.einsum("ij,ij->i", normals[face], rays), np.inf).reshape(x.shape)
    inverse = 1 / depth
    ends = np.ones(x.shape, np.uint8)
    ends[[0, -1]] = 0
    ends[:, [0, -1]] = 0
    outline = np.ones(x.shape, np.uint8)
    for axis in (0, 1):
        before, after = np.delete(inverse, -1, axis), np.delete(inverse, 0, axis)
        breaks = np.abs(before - after) > 0.004 * np.maximum(before, after)
        for part, other, at in ((before, after, slice(None, -1)), (after, before, slice(1, None))):
            place = (at, slice(None)) if axis == 0 else (slice(None), at)
            ends[place][breaks & (part < other) & (part > 0)] = 0
            outline[place][breaks & (part > other)] = 0
    fade = 0.03 * max(x.shape)
    far = [step(cv2.distanceTransform(m, cv2.DIST_L2, 3) / fade) for m in (ends, outline)]
    return {
        "size": np.array([width, height]), "camera": camera, "distortion": distortion, "rotation": rotation,
        "turn": cv2.Rodrigues(rotation)[0], "shift": shift, "centre": centre, "cell": cell,
        "fine": image, "shrunk": {1: image},
        "middle": (4, cv2.GaussianBlur(quarter, None, BLUR[0] / 4)), "low": (16, cv2.GaussianBlur(eighth, None, BLUR[1] / 16)),
        "detail": (16, detail.astype(np.float32)), "margin": (far[0] * (0.25 + 0.75 * far[1])).astype(np.float32),
    }


photos = [photograph(one) for one in json.load(open(f"{folder}/poses.json"))["photos"]]
# How many pixels a texel is, in the middle: a whole number that the photograph is made smaller by.
texel_m = np.sqrt(mesh.area / (0.5 * np.abs(whole).sum()))


def read(image, shrunk, pixel, how=cv2.INTER_LINEAR):
    """A list of places has at most 32,767 columns in OpenCV."""
    at = np.zeros((-(-len(pixel) // 1024) * 1024, 2), np.float32)
    at[: len(pixel)] = pixel / shrunk - 0.5
    at = at.reshape(-1, 1024, 2)
    out = cv2.remap(image, at, None, how, borderMode=cv2.BORDER_REPLICATE)
    return out.reshape(at.shape[0] * 1024, -1)[: len(pixel)]


def fine(photo, pixel, texel_px):
    """The photograph itself, made smaller where a texel is larger than a pixel."""
    by = max(1, int(np.median(texel_px)))
    if by not in photo["shrunk"]:
        width, height = photo["size"] // by
        photo["shrunk"][by] = cv2.resize(photo["fine"][: height * by, : width * by], (int(width), int(height)), interpolation=cv2.INTER_AREA)
    return read(photo["shrunk"][by], by, pixel, cv2.INTER_CUBIC)


def block(row, rows):
    """Light and what is known of some rows."""
    x, y = np.meshgrid(np.arange(side) + 0.5, np.arange(row, row + rows) + 0.5)
    texels = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, 1.0)])
    face = places.intersects_first(texels, np.tile([0.0, 0.0, -1.0], (x.size, 1)))
    on = np.flatnonzero(face >= 0)
    n = len(on)
    views = np.full(x.size, 255, np.uint8)
    views[on] = 0
    light, chosen, resolution = np.zeros((x.size, 3), np.float32), np.zeros(x.size, np.uint16), np.zeros(x.size, np.uint16)
    if n == 0:
        return light, views, chosen, resolution
    face, p = face[on], texels[on, :2]
    pa, pb, pc = (k[face] - p for k in (a, b, c))
    u = (pb[:, 0] * pc[:, 1] - pb[:, 1] * pc[:, 0]) / whole[face]
    v = (pc[:, 0] * pa[:, 1] - pc[:, 1] * pa[:, 0]) / whole[face]
    point = u[:, None] * corners[face, 0] + v[:, None] * corners[face, 1] + (1 - u - v)[:, None] * corners[face, 2]
    normal = normals[face]
    lights = []
    for number, photo in enumerate(photos):
        towards = photo["centre"] - point
        cosine = np.einsum("ij,ij->i", normal, towards)
        at = np.flatnonzero(cosine > 0)
        if len(at) == 0:
            continue
        pixel, _ = cv2.projectPoints(point[at], photo["turn"], photo["shift"], photo["camera"], photo["distortion"])
        pixel = pixel.reshape(-1, 2)
        depth = point[at] @ photo["rotation"][2] + photo["shift"][2]
        inside = (depth > 0) & np.all((pixel >= 0.5) & (pixel <= photo["size"] - 0.5), axis=1)
        at, pixel, depth = at[inside], pixel[inside], depth[inside]
        if len(at) == 0:
            continue
        way = towards[at]
        free = ~space.intersects_any(point[at] + normal[at] * NEARLY, way)
        at, pixel, depth = at[free], pixel[free], depth[free]
        if len(at) == 0:
            continue
        views[on[at]] += 1
        distance = np.linalg.norm(way[free], axis=1)
        cosine = cosine[at] / distance
        per_m2 = photo["camera"][0, 0] * photo["camera"][1, 1] * cosine * distance / depth**3
        margin = read(photo["margin"], photo["cell"], pixel)[:, 0] + 1e-3
        least = np.cos(np.radians(80))
        weight = (per_m2 * (np.clip((cosine - least) / (1 - least), 0, 1) ** 2 + 1e-4)).astype(np.float32) * margin
        bands = [fine(photo, pixel, np.sqrt(per_m2) * texel_m)] + [read(photo[k][1], photo[k][0], pixel) for k in ("middle", "low")]
        lights.append((at, weight, bands, read(photo["detail"][1], 16, pixel)[:, 0], np.sqrt(per_m2), number))
    if not lights:
        return light, views, chosen, resolution
    # What three or more do not agree on.
    stack = np.full((len(lights), n, 3), np.nan, np.float32)
    most, sharpest = np.zeros(n, np.float32), np.zeros(n, np.float32)
    for k, (at, weight, bands, detail, _, _) in enumerate(lights):
        stack[k, at] = bands[1]
        most[at] = np.maximum(most[at], weight)
        sharpest[at] = np.maximum(sharpest[at], detail)
    many = np.flatnonzero(views[on] >= 3)
    count = views[on][many]
    trust = np.ones((len(lights), n), np.float32)
    if len(many):
        some = stack[:, many]
        ordered = np.sort(some, axis=0)  # NaN goes last.
        pick = np.arange(len(many))
        middle = 0.5 * (ordered[(count - 1) // 2, pick] + ordered[count // 2, pick])
        off = (np.abs(some - middle) / (middle + DARK)).max(axis=2)
        spread = np.sort(off, axis=0)
        spread = 1.4826 * 0.5 * (spread[(count - 1) // 2, pick] + spread[count // 2, pick])
        trust[:, many] = 1 - step(off / np.maximum(0.1, 3 * spread) - 1)
    sums, shares, best = [np.zeros((n, 3), np.float32) for _ in range(3)], np.zeros((3, n), np.float32), np.zeros(n, np.float32)
    for k, (at, weight, bands, detail, per_m, number) in enumerate(lights):
        part = weight / most[at] * trust[k, at]
        sharp = part * np.maximum((detail + 0.02) / (sharpest[at] + 0.02), 0.5)
        for level, share in enumerate((sharp**16, part**4, part)):
            coarser = bands[level + 1] if level < 2 else 0
            sums[level][at] += share[:, None] * (bands[level] - coarser)
            shares[level][at] += share
        better = sharp > best[at]
        best[at] = np.maximum(best[at], sharp)
        chosen[on[at[better]]] = number + 1
        resolution[on[at[better]]] = np.minimum(1e7 / per_m[better], 65535)
    light[on] = sum(s / np.maximum(w, 1e-30)[:, None] for s, w in zip(sums, shares))
    return light, views, chosen, resolution


rows = max(1, TEXELS // side)
seconds, processor_seconds, blocks = 0.0, 0.0, []
for number, row in enumerate(range(0, side, rows)):
    if number % every != every // 2:
        texels = side * min(rows, side - row)
        blocks.append((np.zeros((texels, 3), np.float32), np.full(texels, 255, np.uint8), *np.zeros((2, texels), np.uint16)))
        continue
    seconds, processor_seconds = seconds - time.perf_counter(), processor_seconds - time.process_time()
    blocks.append(block(row, min(rows, side - row)))
    seconds, processor_seconds = seconds + time.perf_counter(), processor_seconds + time.process_time()
light, views, chosen, resolution = (np.concatenate(parts).reshape(side, side, *parts[0].shape[1:]) for parts in zip(*blocks))
# A border about the charts, of the nearest texel.
seen = (views > 0) & (views < 255)
near, label = cv2.distanceTransformWithLabels((~seen).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
border = (near <= 4) & (views == 255)
nearest = np.zeros(label.max() + 1, np.int64)
nearest[label[seen]] = np.flatnonzero(seen)
light[border] = light.reshape(-1, 3)[nearest[label[border]]]


def code(table, values):
    return table[(np.sqrt(np.clip(values, 0, 1)) * 65535 + 0.5).astype(np.int32)]


cv2.imwrite(f"{folder}/layer.tif", code(ROMM, light))
shown = code(SRGB, light @ TO_SRGB[::-1, ::-1].T)
cv2.imwrite(f"{folder}/layer.png", np.dstack([shown, np.where(seen | border, 255, 0).astype(np.uint8)]))
cv2.imwrite(f"{folder}/coverage.png", np.where(seen, 255, np.where(views == 0, 64, 0)).astype(np.uint8))
for name, values in (("views", views), ("photo", chosen), ("resolution", resolution)):
    cv2.imwrite(f"{folder}/{name}.png", values)
with open(f"{folder}/took.json", "w") as file:
    json.dump({"seconds": seconds, "processor_seconds": processor_seconds}, file)
