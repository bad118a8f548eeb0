"""The task of `ganosis drape` with general-purpose libraries, for its bench: trimesh with embree for places and
rays, OpenCV for projecting and reading photographs, NumPy for the rest.

Arguments: a folder with s.glb, poses.json and the photographs named there, and the side of the sheet in texels.
Writes layer.tif and views.png (255: no triangle there) into the folder and prints a line of JSON.

It does less than the command: a weighted mean in one band, nothing against outliers, no edges of charts beyond
the triangles, no steps kept for going on, all photographs in memory at once.
"""
import json
import sys
import time

import cv2
import numpy as np
import trimesh

ROWS = 256  # A block of rows, so that arrays stay some tens of megabytes (a choice of ours).
NEARLY = 2e-5  # Rays start this far above the surface, in metres: embree is of single precision.

folder, side = sys.argv[1], int(sys.argv[2])
start = time.perf_counter()
mesh = trimesh.load(f"{folder}/s.glb", process=False, force="mesh")
corners = mesh.triangles
normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
normals /= np.linalg.norm(normals, axis=1, keepdims=True)
# trimesh turns v around.
flat = np.column_stack([mesh.visual.uv[:, 0], 1.0 - mesh.visual.uv[:, 1]]) * side
page = trimesh.Trimesh(np.column_stack([flat, np.zeros(len(flat))]), mesh.faces, process=False)
places, space = (trimesh.ray.ray_pyembree.RayMeshIntersector(m, scale_to_box=False) for m in (page, mesh))
photos = []
for one in json.load(open(f"{folder}/poses.json"))["photos"]:
    lens, pose = one["lens"], one["pose"]
    d = {"k1": 0, "k2": 0, "p1": 0, "p2": 0, "k3": 0} | lens.get("distortion", {})
    rotation, shift = np.array(pose["rotation"]), np.array(pose["translation_m"])
    photos.append({
        "image": cv2.imread(f"{folder}/{one['photo']['file']}", cv2.IMREAD_UNCHANGED),
        "camera": np.array([[lens["focal_px"][0], 0, lens["centre_px"][0]],
                            [0, lens["focal_px"][1], lens["centre_px"][1]], [0, 0, 1]]),
        "distortion": np.array([d[k] for k in ("k1", "k2", "p1", "p2", "k3")], float),
        "rotation": rotation, "shift": shift, "centre": -rotation.T @ shift,
        "size": (lens["width_px"], lens["height_px"]),
    })


def block(row):
    """Light and number of views of some rows."""
    rows = np.arange(row, min(row + ROWS, side)) + 0.5
    x, y = np.meshgrid(np.arange(side) + 0.5, rows)
    texels = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, 1.0)])
    face = places.intersects_first(texels, np.tile([0.0, 0.0, -1.0], (x.size, 1)))
    on = np.flatnonzero(face >= 0)
    light, weights = np.zeros((x.size, 3), np.float32), np.zeros(x.size, np.float32)
    views = np.full(x.size, 255, np.uint8)
    views[on] = 0
    if len(on) == 0:
        return light.reshape(*x.shape, 3), views.reshape(x.shape)
    face = face[on]
    a, b, c = (flat[mesh.faces[face, k]] for k in range(3))
    p = texels[on, :2]
    whole = np.cross(b - a, c - a)
    u, v = np.cross(b - p, c - p) / whole, np.cross(c - p, a - p) / whole
    point = (u[:, None] * corners[face, 0] + v[:, None] * corners[face, 1]
             + (1 - u - v)[:, None] * corners[face, 2])
    for photo in photos:
        towards = photo["centre"] - point
        cosine = np.einsum("ij,ij->i", normals[face], towards)
        front = np.flatnonzero(cosine > 0)
        if len(front) == 0:
            continue
        turn, _ = cv2.Rodrigues(photo["rotation"])
        pixel, _ = cv2.projectPoints(point[front], turn, photo["shift"], photo["camera"], photo["distortion"])
        pixel = pixel.reshape(-1, 2)
        depth = point[front] @ photo["rotation"][2] + photo["shift"][2]
        size = np.array(photo["size"])
        inside = (depth > 0) & np.all((pixel >= 0.5) & (pixel <= size - 0.5), axis=1)
        front, pixel, depth = front[inside], pixel[inside], depth[inside]
        if len(front) == 0:
            continue
        way = towards[front]
        distance = np.linalg.norm(way, axis=1)
        free = ~space.intersects_any(point[front] + normals[face[front]] * NEARLY, way)
        front, pixel, depth, distance = front[free], pixel[free], depth[free], distance[free]
        views[on[front]] += 1
        cosine = cosine[front] / distance
        resolution = photo["camera"][0, 0] * photo["camera"][1, 1] * cosine * distance / depth**3
        weight = (resolution * cosine**2).astype(np.float32) ** 4
        map_x, map_y = np.full(x.size, -1, np.float32), np.full(x.size, -1, np.float32)
        map_x[on[front]], map_y[on[front]] = pixel[:, 0] - 0.5, pixel[:, 1] - 0.5
        read = cv2.remap(photo["image"], map_x.reshape(x.shape), map_y.reshape(x.shape), cv2.INTER_CUBIC)
        light[on[front]] += weight[:, None] * read.reshape(-1, 3)[on[front]]
        weights[on[front]] += weight
    light /= np.maximum(weights, 1e-30)[:, None]
    return light.reshape(*x.shape, 3), views.reshape(x.shape)


blocks = [block(row) for row in range(0, side, ROWS)]
light, views = (np.concatenate(parts) for parts in zip(*blocks))
cv2.imwrite(f"{folder}/layer.tif", np.clip(np.rint(light), 0, 65535).astype(np.uint16))
cv2.imwrite(f"{folder}/views.png", views)
print(json.dumps({"seconds": time.perf_counter() - start, "processor_seconds": time.process_time()}))
