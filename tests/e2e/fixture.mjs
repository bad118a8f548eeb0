// A dossier of which every pixel is known: a flat square of patches, twice in other colours, with a
// band and a region map. Written from scratch, so that nothing of the project makes its own test.
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { deflateSync, crc32 } from 'node:zlib';

/** Patches a side; each is PATCH_PX wide. */
export const PATCHES = 6;
export const PATCH_PX = 64;
const SIDE = PATCHES * PATCH_PX;

/** Encoded sRGB of a patch: the corners and edges of the cube, greys, and steps between. */
export function colourOf(state, column, row) {
  const index = row * PATCHES + column;
  const level = (n) => [0, 1, 51, 102, 153, 204, 254, 255][n % 8];
  return state === 0
    ? [level(index), level(index * 3 + 1), level(index * 5 + 2)]
    : [255 - level(index), level(index * 7 + 3), (index * 7) % 256];
}

/** Band value of a patch, 0..255. */
export const bandOf = (column, row) => (row * PATCHES + column) * 7;

/** Region number of a patch: columns are regions 1..6. */
export const regionOf = (column) => column + 1;

function chunk(type, data) {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const out = Buffer.alloc(body.length + 8);
  out.writeUInt32BE(data.length, 0);
  body.copy(out, 4);
  out.writeUInt32BE(crc32(body), body.length + 4);
  return out;
}

/** A PNG (ISO/IEC 15948) of one channel of 16 bits. */
export function png16(width, height, sample) {
  const rows = Buffer.alloc(height * (1 + width * 2));
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) rows.writeUInt16BE(sample(x, y), y * (1 + width * 2) + 1 + x * 2);
  }
  return file(width, height, [16, 0, 0, 0, 0], [], rows);
}

/** A PNG of 8-bit samples; `channels` 1, 3 or 4. A gAMA chunk must change nothing. */
export function png(width, height, channels, sample, gamma) {
  const rows = Buffer.alloc(height * (1 + width * channels));
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const values = sample(x, y);
      for (let c = 0; c < channels; c += 1) rows[y * (1 + width * channels) + 1 + x * channels + c] = values[c];
    }
  }
  const more = [];
  if (gamma) {
    const value = Buffer.alloc(4);
    value.writeUInt32BE(gamma, 0);
    more.push(chunk('gAMA', value));
  }
  return file(width, height, [8, { 1: 0, 3: 2, 4: 6 }[channels], 0, 0, 0], more, rows);
}

function file(width, height, kind, more, rows) {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set(kind, 8);
  const start = [Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), chunk('IHDR', header)];
  return Buffer.concat([...start, ...more, chunk('IDAT', deflateSync(rows)), chunk('IEND', Buffer.alloc(0))]);
}

/** A square of one metre in the plane z = 0, v = 0 at its upper edge, as .glb (glTF 2.0). */
export const squareGlb = () => reliefGlb(1, () => 0);

/**
 * The square as a relief of `cells` cells a side, each of two triangles: `height_m` of x and y from -0.5 to 0.5.
 * @param {number} cells @param {(x: number, y: number) => number} height_m
 */
export function reliefGlb(cells, height_m) {
  const side = cells + 1;
  const count = side * side;
  const [positions, normals, uvs] = [3, 3, 2].map((width) => new Float32Array(count * width));
  for (let row = 0; row < side; row += 1) for (let column = 0; column < side; column += 1) {
    const at = row * side + column;
    const [x, y] = [column / cells - 0.5, row / cells - 0.5];
    positions.set([x, y, height_m(x, y)], at * 3);
    // The gradient by small differences; on a plane it is exactly +z.
    const d = 1e-4;
    const [gx, gy] = [(height_m(x + d, y) - height_m(x - d, y)) / (2 * d), (height_m(x, y + d) - height_m(x, y - d)) / (2 * d)];
    const length = Math.hypot(gx, gy, 1);
    normals.set([-gx / length, -gy / length, 1 / length], at * 3);
    uvs.set([x + 0.5, 0.5 - y], at * 2);
  }
  const indices = new Uint32Array(cells * cells * 6);
  for (let row = 0; row < cells; row += 1) for (let column = 0; column < cells; column += 1) {
    const a = row * side + column;
    const [b, c, d] = [a + 1, a + side + 1, a + side];
    indices.set([a, b, c, a, c, d], (row * cells + column) * 6);
  }
  const arrays = [positions, normals, uvs, indices];
  const bin = Buffer.concat(arrays.map((array) => Buffer.from(array.buffer)));
  const heights = positions.filter((_, i) => i % 3 === 2);
  const [low, high] = [heights.reduce((a, b) => Math.min(a, b)), heights.reduce((a, b) => Math.max(a, b))];
  let from = 0;
  const views = arrays.map(({ byteLength }) => {
    from += byteLength;
    return { buffer: 0, byteOffset: from - byteLength, byteLength };
  });
  const json = {
    asset: { version: '2.0' },
    scene: 0,
    scenes: [{ nodes: [0] }],
    nodes: [{ mesh: 0, name: 'square' }],
    meshes: [{ primitives: [{ attributes: { POSITION: 0, NORMAL: 1, TEXCOORD_0: 2 }, indices: 3, material: 0 }] }],
    materials: [{ name: 'front' }],
    buffers: [{ byteLength: bin.length }],
    bufferViews: views,
    accessors: [
      { bufferView: 0, componentType: 5126, count, type: 'VEC3', min: [-0.5, -0.5, low], max: [0.5, 0.5, high] },
      { bufferView: 1, componentType: 5126, count, type: 'VEC3' },
      { bufferView: 2, componentType: 5126, count, type: 'VEC2' },
      { bufferView: 3, componentType: 5125, count: indices.length, type: 'SCALAR' },
    ],
  };
  let text = JSON.stringify(json);
  text += ' '.repeat((4 - (text.length % 4)) % 4);
  const body = Buffer.from(text);
  const out = Buffer.alloc(12 + 8 + body.length + 8 + bin.length);
  out.write('glTF', 0, 'latin1');
  out.writeUInt32LE(2, 4);
  out.writeUInt32LE(out.length, 8);
  out.writeUInt32LE(body.length, 12);
  out.write('JSON', 16, 'latin1');
  body.copy(out, 20);
  out.writeUInt32LE(bin.length, 20 + body.length);
  out.writeUInt32LE(0x004e4942, 24 + body.length);
  bin.copy(out, 28 + body.length);
  return out;
}

/** Writes the dossier into `folder` and gives its document. */
export function writeDossier(folder) {
  mkdirSync(folder, { recursive: true });
  const patch = (v) => Math.floor(v / PATCH_PX);
  const image = (name, bytes) => writeFileSync(join(folder, name), bytes);
  for (const state of [0, 1]) {
    image(`state-${state}.png`, png(SIDE, SIDE, 3, (x, y) => colourOf(state, patch(x), patch(y)), state === 0 ? 100000 : 0));
  }
  image('band.png', png(SIDE, SIDE, 1, (x, y) => [bandOf(patch(x), patch(y))]));
  image('regions.png', png(SIDE, SIDE, 1, (x) => [regionOf(patch(x))]));
  writeFileSync(join(folder, 'square.glb'), squareGlb());
  const over = (file) => [{ sheet: 'front', file, width_px: SIDE, height_px: SIDE }];
  const anchor = { sheet: 'front', uv: [0.5, 0.5], position_m: [0, 0, 0], normal: [0, 0, 1] };
  const document = {
    format: 'ganosis-dossier/1',
    id: 'patches',
    revision: 1,
    title: { en: 'Patches of known colour' },
    notice: 'Invented data for tests.',
    rights: { licence: 'https://creativecommons.org/publicdomain/zero/1.0/', credit: 'Invented' },
    languages: ['en'],
    surface: { file: 'square.glb', sheets: [{ id: 'front', material: 'front' }] },
    people: [{ id: 'ek', name: 'E. K.', role: 'conservation scientist' }],
    layers: [
      { id: 'first', kind: 'colour', title: 'First', colour_space: 'srgb', images: over('state-0.png') },
      { id: 'second', kind: 'colour', title: 'Second', colour_space: 'srgb', images: over('state-1.png') },
      { id: 'irr', kind: 'band', band: 'IRR', title: 'Infrared', unit: '%', range: [0, 50], images: over('band.png') },
    ],
    states: [
      { id: 'as-found', kind: 'as-found', title: 'As found', layers: ['first'] },
      { id: 'evidence', kind: 'evidence-based', title: 'Evidence-based', layers: ['second'], proposed_by: ['ek'] },
    ],
    region_map: { images: over('regions.png') },
    regions: Array.from({ length: PATCHES }, (_, i) => ({ id: `column-${i + 1}`, number: i + 1, title: `Column ${i + 1}` })),
    palette: [{ id: 'azurite', title: 'Azurite', lab_d50: [38, -3, -33], readings: 3 }],
    evidence: [
      {
        id: 'xrf-1', technique: 'xrf', title: 'Spot one', result: 'Copper', anchor, region: 'column-3',
        date: '2025-03-14', operator: 'ek', elements: ['Cu'],
      },
    ],
    claims: [
      {
        id: 'c-1', regions: ['column-3'], states: ['evidence'], pigment: 'azurite', certainty: 'measured',
        evidence: ['xrf-1'], author: 'ek', date: '2025-05-02', argument: 'Copper at the spot.',
      },
    ],
    pins: [{ id: 'p1', title: 'The spot', text: 'Copper was found here.', anchor, evidence: ['xrf-1'], claims: ['c-1'] }],
  };
  writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document, null, 2));
  return document;
}
