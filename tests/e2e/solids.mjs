// Solids of flat faces as .glb (glTF 2.0), and a dossier of one colour over them.
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { png } from './fixture.mjs';

const sum = (...vectors) => [0, 1, 2].map((i) => vectors.reduce((all, v) => all + v[i], 0));
const times = (v, s) => v.map((x) => x * s);
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (v) => times(v, 1 / Math.hypot(...v));

/** Faces `[corner, a, b, cells]`: a parallelogram in so many cells a side, facing a × b. */
export function solidGlb(faces) {
  const [positions, normals, uvs, indices] = [[], [], [], []];
  for (const [corner, a, b, cells = 1] of faces) {
    const first = positions.length / 3;
    for (let j = 0; j <= cells; j += 1) {
      for (let i = 0; i <= cells; i += 1) {
        positions.push(...sum(corner, times(a, i / cells), times(b, j / cells)));
        normals.push(...unit(cross(a, b)));
        uvs.push(i / cells, 1 - j / cells);
      }
    }
    const at = (i, j) => first + j * (cells + 1) + i;
    for (let j = 0; j < cells; j += 1) {
      for (let i = 0; i < cells; i += 1) indices.push(at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j), at(i + 1, j + 1), at(i, j + 1));
    }
  }
  const parts = [new Float32Array(positions), new Float32Array(normals), new Float32Array(uvs), new Uint32Array(indices)].map((list) => Buffer.from(list.buffer));
  const bin = Buffer.concat(parts);
  let offset = 0;
  const bufferViews = parts.map(({ length }) => {
    offset += length;
    return { buffer: 0, byteOffset: offset - length, byteLength: length };
  });
  const count = positions.length / 3;
  const bound = (pick) => [0, 1, 2].map((axis) => pick(...positions.filter((_, i) => i % 3 === axis)));
  let text = JSON.stringify({
    asset: { version: '2.0' }, scene: 0, scenes: [{ nodes: [0] }], nodes: [{ mesh: 0, name: 'solid' }],
    meshes: [{ primitives: [{ attributes: { POSITION: 0, NORMAL: 1, TEXCOORD_0: 2 }, indices: 3, material: 0 }] }],
    materials: [{ name: 'front' }], buffers: [{ byteLength: bin.length }], bufferViews,
    accessors: [
      { bufferView: 0, componentType: 5126, count, type: 'VEC3', min: bound(Math.min), max: bound(Math.max) },
      { bufferView: 1, componentType: 5126, count, type: 'VEC3' },
      { bufferView: 2, componentType: 5126, count, type: 'VEC2' },
      { bufferView: 3, componentType: 5125, count: indices.length, type: 'SCALAR' },
    ],
  });
  text += ' '.repeat((4 - (text.length % 4)) % 4);
  const body = Buffer.from(text);
  const head = Buffer.alloc(20);
  head.write('glTF', 0, 'latin1');
  [2, 28 + body.length + bin.length, body.length, 0x4e4f534a].forEach((value, i) => head.writeUInt32LE(value, 4 + 4 * i));
  const middle = Buffer.alloc(8);
  middle.writeUInt32LE(bin.length, 0);
  middle.writeUInt32LE(0x004e4942, 4);
  return Buffer.concat([head, body, middle, bin]);
}

/** Six sides of a box of the given half lengths around the origin, facing outwards; without the top if `open`, and then facing inwards too. */
export function boxFaces([x, y, z], { open = false, cells = 1 } = {}) {
  const [X, Y, Z] = [[2 * x, 0, 0], [0, 2 * y, 0], [0, 0, 2 * z]];
  const low = [-x, -y, -z];
  const back = (v) => times(v, -1);
  const outwards = [
    [low, Y, X, cells], [sum(low, Z), X, Y, cells],
    [low, X, Z, cells], [sum(low, Y), Z, X, cells],
    [low, Z, Y, cells], [sum(low, X), Y, Z, cells],
  ];
  if (!open) return outwards;
  // The side towards +z is left out; the others face the inside.
  return outwards.filter((_, i) => i !== 1).map(([corner, a, b, n]) => [sum(corner, a), back(a), b, n]);
}

/** A dossier of one colour over a solid; `finish` is that of the one region, which is everywhere. */
export function writeSolid(folder, faces, colour, finish) {
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'solid.glb'), solidGlb(faces));
  writeFileSync(join(folder, 'colour.png'), png(8, 8, 3, () => colour));
  writeFileSync(join(folder, 'regions.png'), png(8, 8, 1, () => [1]));
  const over = (file) => [{ sheet: 'front', file, width_px: 8, height_px: 8 }];
  writeFileSync(join(folder, 'dossier.json'), JSON.stringify({
    format: 'ganosis-dossier/1', id: 'solid', revision: 1, title: 'A solid of one colour', notice: 'Invented data for tests.',
    rights: { licence: 'https://creativecommons.org/publicdomain/zero/1.0/', credit: 'Invented' }, languages: ['en'],
    surface: { file: 'solid.glb', sheets: [{ id: 'front', material: 'front' }] },
    people: [{ id: 'ek', name: 'E. K.', role: 'conservation scientist' }],
    layers: [{ id: 'paint', kind: 'colour', title: 'Paint', colour_space: 'srgb', images: over('colour.png') }],
    states: [{ id: 'as-found', kind: 'as-found', title: 'As found', layers: ['paint'] }],
    region_map: { images: over('regions.png') }, regions: [{ id: 'all', number: 1, title: 'All of it' }],
    claims: finish ? [{ id: 'c', regions: ['all'], states: ['as-found'], finish, certainty: 'conjectural', author: 'ek', date: '2025-05-02', argument: 'Supposed.' }] : [],
  }));
}
