// @ts-check
/** What the porter does, in its worker or, where a page allows none, on the page itself: opens meshes and greyscale images. */
import { BASE } from "../site/base.js";

const MODULE = new URL("viewer/porter.js", BASE);
const WASM = new URL("viewer/porter_bg.wasm", BASE);

/** @typedef {{head: Uint8Array, arrays: Uint8Array[]}} OpenedMesh everything but the arrays, and the arrays in the viewer's order */
/** @typedef {{boxes: Uint8Array, order: Uint8Array}} MeshTree by which places on a mesh are found */
/** @typedef {{width: number, height: number, full_scale: number, texels: Uint16Array}} Grey */

/** @type {Promise<any> | null} */
let loading = null;
/** The mesh that each picture opened last, until its tree is made. @type {Map<number, any>} */
const meshes = new Map();

/** Loads the module; call it early. @returns {Promise<any>} */
export function load() {
  loading ??= import(MODULE.href).then(async (module) => {
    await module.default({ module_or_path: WASM });
    return module;
  });
  loading.catch(() => { loading = null; });
  return loading;
}

/**
 * @param {number} picture whose mesh it is @param {Uint8Array} bytes @param {string} path of the file
 * @param {(path: string) => Promise<Uint8Array>} bring a file that it names
 * @returns {Promise<OpenedMesh>}
 */
export async function open(picture, bytes, path, bring) {
  const { Mesh } = await load();
  forget(picture);
  /** @type {Map<string, Uint8Array>} */
  const files = new Map();
  for (const name of Mesh.needs(bytes)) files.set(name, await bring(Mesh.beside(path, name)));
  const mesh = new Mesh(bytes, (/** @type {string} */ name) => {
    const file = files.get(name);
    if (!file) throw new Error(name);
    return file;
  });
  meshes.set(picture, mesh);
  return { head: mesh.head(), arrays: mesh.arrays() };
}

/** Of the mesh that this picture opened last, which is then let go. @param {number} picture @returns {Promise<MeshTree | null>} */
export async function tree(picture) {
  const mesh = meshes.get(picture);
  if (!mesh) return null;
  const [boxes, order] = mesh.tree();
  forget(picture);
  return { boxes, order };
}

/** @param {number} picture whose mesh is let go */
export function forget(picture) {
  meshes.get(picture)?.free();
  meshes.delete(picture);
}

/** @param {Uint8Array} bytes of a PNG @returns {Promise<Grey>} */
export async function grey(bytes) {
  return (await load()).Images.grey(bytes);
}
