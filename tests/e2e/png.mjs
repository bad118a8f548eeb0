// Reading PNG files of 8-bit truecolour (ISO/IEC 15948), by the standard and not by the project's own code.
import assert from 'node:assert/strict';
import { crc32, inflateSync } from 'node:zlib';

/** Chunks, size and RGB of a file; every checksum is looked at. */
export function pngOf(bytes) {
  assert.deepEqual([...bytes.subarray(0, 8)], [137, 80, 78, 71, 13, 10, 26, 10]);
  const chunks = [];
  for (let at = 8; at < bytes.length;) {
    const length = bytes.readUInt32BE(at);
    const type = bytes.toString('latin1', at + 4, at + 8);
    assert.equal(bytes.readUInt32BE(at + 8 + length), crc32(bytes.subarray(at + 4, at + 8 + length)), type);
    chunks.push({ type, data: bytes.subarray(at + 8, at + 8 + length) });
    at += length + 12;
  }
  const header = chunks[0].data;
  const [width, height] = [header.readUInt32BE(0), header.readUInt32BE(4)];
  assert.deepEqual([...header.subarray(8)], [8, 2, 0, 0, 0]);
  const raw = inflateSync(Buffer.concat(chunks.filter(({ type }) => type === 'IDAT').map(({ data }) => data)));
  const line = width * 3;
  assert.equal(raw.length, height * (line + 1));
  const pixels = Buffer.alloc(height * line);
  for (let y = 0; y < height; y += 1) {
    const filter = raw[y * (line + 1)];
    assert.ok(filter <= 2, `filter ${filter}`);
    for (let x = 0; x < line; x += 1) {
      const left = x < 3 ? 0 : pixels[y * line + x - 3];
      const up = y === 0 ? 0 : pixels[(y - 1) * line + x];
      pixels[y * line + x] = raw[y * (line + 1) + 1 + x] + [0, left, up][filter];
    }
  }
  return { chunks, width, height, pixels };
}

/** Texts of iTXt chunks by their keyword (section 11.3.3.4), unpacked ones only. */
export function textsIn(chunks) {
  return Object.fromEntries(chunks.filter(({ type }) => type === 'iTXt').map(({ data }) => {
    const keyword = data.indexOf(0);
    assert.equal(data[keyword + 1], 0, 'not packed');
    const language = data.indexOf(0, keyword + 3);
    return [data.toString('latin1', 0, keyword), data.toString('utf8', data.indexOf(0, language + 1) + 1)];
  }));
}
