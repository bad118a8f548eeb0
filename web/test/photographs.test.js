import test from "node:test";
import assert from "node:assert/strict";
import { arrowTimes, basisOf, cameraThrough, inverse, isThere, quartersOf, stored, turned } from "../src/internal/photographs/seeing.js";

test("a picture is turned as EXIF says, and back", () => {
  // The first pixel of the file lies at the upper right for tag 6, lower right for 3, lower left for 8 (CIPA DC-008, 4.6.4).
  const size = [300, 200];
  assert.deepEqual(turned([0, 0], size, quartersOf(6)), [200, 0]);
  assert.deepEqual(turned([0, 0], size, quartersOf(3)), [300, 200]);
  assert.deepEqual(turned([0, 0], size, quartersOf(8)), [0, 300]);
  for (const quarters of [0, 1, 2, 3]) assert.deepEqual(stored(turned([12, 34], size, quarters), size, quarters), [12, 34]);
});

test("a matrix times its inverse is the identity", () => {
  const matrix = [0, 2, 1, 0, 3, 0, 0, 1, 1, 1, 5, 0, 0, 4, 0, 2];
  const back = inverse(matrix);
  for (let row = 0; row < 4; row += 1) for (let column = 0; column < 4; column += 1) {
    const sum = [0, 1, 2, 3].reduce((all, k) => all + matrix[k * 4 + row] * back[column * 4 + k], 0);
    assert.ok(Math.abs(sum - Number(row === column)) < 1e-12);
  }
  assert.equal(inverse(new Array(16).fill(1)), null);
});

test("the camera stands where the photograph was taken from and takes all of it in", () => {
  const orientation = { up: [0, 1, 0], front: [0, 0, 1] };
  // From 2 m before the middle, 30° to the right: a picture of 60° across and 40° high, lying on its side.
  const angle = Math.PI / 6;
  const centre_m = [2 * Math.sin(angle), 0.1, 2 * Math.cos(angle)];
  const axis = [-Math.sin(angle), 0, -Math.cos(angle)];
  const aside = [Math.cos(angle), 0, -Math.sin(angle)];
  const [half_up, half_aside] = [Math.tan(Math.PI / 6), Math.tan(Math.PI / 9)];
  const border = [[-1, 1], [1, 1], [1, -1], [-1, -1]].map(([u, v]) => axis.map((one, k) => one + aside[k] * u * half_aside + (k === 1 ? v * half_up : 0)));
  const frame = { centre_m, middle: axis, border, min: [0, 0], max: [0, 0], fold_r2: null };
  const camera = cameraThrough(frame, orientation, [0, 0, 0], 1.5);
  assert.ok(Math.abs(camera.azimuth_deg - 30) < 1e-9 && Math.abs(camera.elevation_deg) < 1e-9);
  assert.ok(Math.abs(camera.distance_m - 2) < 1e-9);
  camera.target_m.forEach((one, k) => assert.ok(Math.abs(one - [0, 0.1, 0][k]) < 1e-9));
  // 60° stand upright here; a little more is shown.
  assert.ok(camera.fov_deg > 60 && camera.fov_deg < 62);
  // In a narrow room the width decides.
  const narrow = cameraThrough(frame, orientation, [0, 0, 0], 0.5);
  assert.ok(Math.abs(Math.tan((narrow.fov_deg * Math.PI) / 360) / 1.03 - half_aside / 0.5) < 1e-9);
  assert.equal(cameraThrough({ ...frame, middle: [0, -1, 0] }, orientation, [0, 0, 0], 1), null);
});

test("arrows grow in round steps while the longest right one stays short", () => {
  const answer = (lengths) => ({ fit: { lens: { width_px: 6000 }, pairs: lengths.map((length, k) => ({ off_px: [length, 0], wrong: k === 0 && lengths.length > 1 })) } });
  assert.equal(arrowTimes(answer([1])), 200);
  assert.equal(arrowTimes(answer([900, 3.7])), 50);
  assert.equal(arrowTimes(answer([500])), 1);
});

test("a part is there only in the states that show it", () => {
  const document = { surface: { parts: [{ id: "bill", node: "bill-mesh" }] }, states: [{ id: "found", parts: [] }, { id: "restored", parts: ["bill"] }] };
  assert.equal(isThere(["root"], document, ["found"]), true);
  assert.equal(isThere(["root", "bill-mesh"], document, ["found"]), false);
  assert.equal(isThere(["root", "bill-mesh"], document, ["found", "restored"]), true);
  assert.equal(isThere(["bill-mesh"], document, []), true);
});

test("the basis is the viewer's: right, up and front at right angles", () => {
  const { right, up, front } = basisOf({ up: [0, 0, 2], front: [1, 0, 0.3] });
  [right, up, front].forEach((axis, k) => axis.forEach((one, at) => assert.ok(Math.abs(one - [[0, 1, 0], [0, 0, 1], [1, 0, 0]][k][at]) < 1e-12)));
});
