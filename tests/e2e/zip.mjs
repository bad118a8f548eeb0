// A small zip writer (PKWARE APPNOTE.TXT, section 4.3), so that a test can also make archives that are wrong.
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { crc32, deflateRawSync } from 'node:zlib';

/** Packs `[name, bytes]` pairs; pictures are stored, the rest is deflated. */
export function zipOf(files) {
  const locals = [];
  const centrals = [];
  let at = 0;
  for (const [name, bytes] of files) {
    const deflated = !name.endsWith('.png');
    const packed = deflated ? deflateRawSync(bytes) : bytes;
    const path = Buffer.from(name);
    const common = Buffer.alloc(26);
    common.writeUInt16LE(20, 0);
    // Bit 11: the name is UTF-8.
    common.writeUInt16LE(0x0800, 2);
    common.writeUInt16LE(deflated ? 8 : 0, 4);
    common.writeUInt32LE(crc32(bytes), 10);
    common.writeUInt32LE(packed.length, 14);
    common.writeUInt32LE(bytes.length, 18);
    common.writeUInt16LE(path.length, 22);
    const central = Buffer.alloc(46);
    central.write('PK\x01\x02', 0, 'latin1');
    common.copy(central, 6);
    central.writeUInt32LE(at, 42);
    const local = Buffer.concat([Buffer.from('PK\x03\x04', 'latin1'), common, path, packed]);
    locals.push(local);
    centrals.push(central, path);
    at += local.length;
  }
  const list = Buffer.concat(centrals);
  const end = Buffer.alloc(22);
  end.write('PK\x05\x06', 0, 'latin1');
  end.writeUInt16LE(files.length, 8);
  end.writeUInt16LE(files.length, 10);
  end.writeUInt32LE(list.length, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...locals, list, end]);
}

/** Every file of a folder, below one top folder. */
export function zipOfFolder(folder, top) {
  const names = readdirSync(folder, { recursive: true }).filter((name) => statSync(join(folder, name)).isFile());
  return zipOf(names.map((name) => [`${top}/${name}`, readFileSync(join(folder, name))]));
}

/** Stored entries of an archive as [name, bytes], by its central directory (APPNOTE.TXT 4.3.12). */
export function storedIn(bytes) {
  const end = bytes.lastIndexOf(Buffer.from([0x50, 0x4b, 5, 6]));
  const count = bytes.readUInt16LE(end + 10);
  const entries = [];
  for (let index = 0, at = bytes.readUInt32LE(end + 16); index < count; index += 1) {
    const [method, length, name_bytes, extra, comment, header] = [bytes.readUInt16LE(at + 10), bytes.readUInt32LE(at + 24), bytes.readUInt16LE(at + 28), bytes.readUInt16LE(at + 30), bytes.readUInt16LE(at + 32), bytes.readUInt32LE(at + 42)];
    if (method !== 0) throw new Error('packed');
    const from = header + 30 + bytes.readUInt16LE(header + 26) + bytes.readUInt16LE(header + 28);
    entries.push([bytes.toString('utf8', at + 46, at + 46 + name_bytes), bytes.subarray(from, from + length)]);
    at += 46 + name_bytes + extra + comment;
  }
  return entries;
}
