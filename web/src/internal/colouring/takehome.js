// @ts-check
/** What a child takes home: a picture with a caption, or the object itself in its colours (glTF 2.0, GLB). */

/** @typedef {import("../context.js").Context} Context */

/** The picture, and the strip under it with the words (px). */
const [WIDTH, HEIGHT, STRIP] = [1600, 1200, 190];

/** @param {Context} ctx @param {{title: string, by: string, note: string}} words @returns {Promise<Blob>} PNG */
export async function pictureOf(ctx, { title, by, note }) {
  const pixels = await ctx.pictured(null, WIDTH, HEIGHT, new Uint32Array([0, 0, WIDTH, HEIGHT]));
  const canvas = new OffscreenCanvas(WIDTH, HEIGHT + STRIP);
  const drawing = canvas.getContext("2d");
  if (!drawing) throw new Error("This browser gave no drawing surface for the picture.");
  drawing.putImageData(new ImageData(new Uint8ClampedArray(pixels), WIDTH, HEIGHT), 0, 0);
  drawing.fillStyle = "#fbfbfb";
  drawing.fillRect(0, HEIGHT, WIDTH, STRIP);
  drawing.fillStyle = "#1a1a1a";
  const from_right = document.dir === "rtl" || ctx.t("direction") === "rtl";
  drawing.direction = from_right ? "rtl" : "ltr";
  drawing.textAlign = "start";
  const x = from_right ? WIDTH - 60 : 60;
  const line = (/** @type {string} */ text, /** @type {number} */ y, /** @type {string} */ font) => {
    drawing.font = font;
    drawing.fillText(text, x, y, WIDTH - 120);
  };
  line(by, HEIGHT + 72, "48px Georgia, 'Noto Serif', 'Noto Naskh Arabic', serif");
  line(title, HEIGHT + 118, "30px Georgia, 'Noto Serif', 'Noto Naskh Arabic', serif");
  // What is long is broken once, not squeezed.
  drawing.font = "20px 'Noto Sans', 'Noto Sans Arabic', sans-serif";
  const words = note.split(" ");
  let count = words.length;
  while (count > 1 && drawing.measureText(words.slice(0, count).join(" ")).width > WIDTH - 120) count -= 1;
  for (const [row, text] of [words.slice(0, count), words.slice(count)].entries()) drawing.fillText(text.join(" "), x, HEIGHT + 151 + row * 27, WIDTH - 120);
  return canvas.convertToBlob({ type: "image/png" });
}

/** First four bytes of a GLB, and the types of its chunks (glTF 2.0, section 4.4). */
const [MAGIC, JSON_CHUNK, BIN_CHUNK] = [0x46546c67, 0x4e4f534a, 0x004e4942];

/**
 * The same surface with other pictures on its materials; geometry and its packing stay as they are.
 * @param {Uint8Array} glb @param {Map<string, Uint8Array>} pictures PNG by the name of the material
 * @param {Record<string, unknown>} extras said of the whole file
 * @returns {Uint8Array<ArrayBuffer>}
 */
export function coloured(glb, pictures, extras) {
  const view = new DataView(glb.buffer, glb.byteOffset, glb.byteLength);
  if (glb.byteLength < 20 || view.getUint32(0, true) !== MAGIC || view.getUint32(16, true) !== JSON_CHUNK) throw new Error("The surface is no .glb, so it cannot be taken home in one file.");
  const json_length = view.getUint32(12, true);
  const gltf = JSON.parse(new TextDecoder().decode(glb.subarray(20, 20 + json_length)));
  const bin_at = 20 + json_length;
  const has_bin = glb.byteLength >= bin_at + 8 && view.getUint32(bin_at + 4, true) === BIN_CHUNK;
  /** @type {Uint8Array[]} */
  const parts = has_bin ? [glb.subarray(bin_at + 8, bin_at + 8 + view.getUint32(bin_at, true))] : [];
  let length = padded(parts[0]?.length ?? 0);
  gltf.buffers ??= [];
  if (gltf.buffers[0]?.uri !== undefined) throw new Error("The surface keeps its geometry in a file of its own, so it cannot be taken home in one file.");
  gltf.bufferViews ??= [];
  gltf.images ??= [];
  gltf.textures ??= [];
  gltf.materials ??= [];
  for (const material of gltf.materials) {
    const png = pictures.get(material.name ?? "");
    if (!png) continue;
    gltf.bufferViews.push({ buffer: 0, byteOffset: length, byteLength: png.length });
    gltf.images.push({ bufferView: gltf.bufferViews.length - 1, mimeType: "image/png" });
    gltf.textures.push({ source: gltf.images.length - 1 });
    parts.push(png);
    length = padded(length + png.length);
    const { baseColorTexture } = material.pbrMetallicRoughness ?? {};
    // Where the picture lies on the surface is as before.
    material.pbrMetallicRoughness = { metallicFactor: 0, roughnessFactor: 0.9, baseColorTexture: { ...baseColorTexture, index: gltf.textures.length - 1 } };
    delete material.extensions;
    delete material.emissiveTexture;
  }
  gltf.asset = { ...gltf.asset, extras: { ...gltf.asset?.extras, ...extras } };
  gltf.buffers[0] = { ...gltf.buffers[0], byteLength: length };
  used(gltf);
  const text = new TextEncoder().encode(JSON.stringify(gltf));
  const json = new Uint8Array(padded(text.length)).fill(0x20);
  json.set(text);
  const out = new Uint8Array(20 + json.length + 8 + length);
  const head = new DataView(out.buffer);
  [MAGIC, 2, out.length, json.length, JSON_CHUNK].forEach((value, index) => head.setUint32(index * 4, value, true));
  out.set(json, 20);
  head.setUint32(20 + json.length, length, true);
  head.setUint32(24 + json.length, BIN_CHUNK, true);
  let at = 28 + json.length;
  for (const part of parts) {
    out.set(part, at);
    at += padded(part.length);
  }
  return out;
}

/** @param {number} length */
const padded = (length) => (length + 3) & ~3;

/** Names only the extensions that are still there. @param {any} gltf */
function used(gltf) {
  const rest = JSON.stringify({ ...gltf, extensionsUsed: undefined, extensionsRequired: undefined });
  for (const list of ["extensionsUsed", "extensionsRequired"]) {
    if (!gltf[list]) continue;
    gltf[list] = gltf[list].filter((/** @type {string} */ name) => rest.includes(`"${name}"`));
    if (gltf[list].length === 0) delete gltf[list];
  }
}
