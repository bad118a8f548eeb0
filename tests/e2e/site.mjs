// A server of the viewer's files and of whatever a test mounts, which may be slow, silent or wrong.
import { createServer } from 'node:http';
import { readFile, stat } from 'node:fs/promises';
import { extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';

export const TYPES = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.json': 'application/json',
  '.wasm': 'application/wasm', '.png': 'image/png', '.jpg': 'image/jpeg', '.svg': 'image/svg+xml', '.csv': 'text/csv',
  '.glb': 'model/gltf-binary', '.gltf': 'model/gltf+json', '.zip': 'application/zip',
};

/** The page's modules one by one, as they are written: a mount for tests of one. */
export const MODULES = fileURLToPath(new URL('../../web/src/internal/', import.meta.url));

/** As strict as the command's own server, so that a test sees what a visitor sees. */
const POLICY = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; "
  + "connect-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; frame-ancestors 'self'; worker-src 'self' blob:";

/**
 * @param {Record<string, string | ((response, path, request) => unknown)>} mounts first part of a path to a
 *   folder, or to a function that answers (or does not)
 */
export async function serveSite(mounts = {}) {
  const viewer = process.env.GANOSIS_VIEWER;
  if (!viewer) throw new Error('set GANOSIS_VIEWER to the folder of the built site (cargo xtask test does)');
  const server = createServer(async (request, response) => {
    response.setHeader('content-security-policy', POLICY);
    const path = decodeURIComponent(new URL(request.url, 'http://x').pathname).slice(1) || 'index.html';
    const [first, ...rest] = path.split('/');
    const mount = mounts[first];
    try {
      if (typeof mount === 'function') await mount(response, rest.join('/'), request);
      else await sendFile(response, mount ?? viewer, mount ? rest.join('/') : path);
    } catch (error) {
      if (response.headersSent) response.destroy();
      else response.writeHead(error.code === 'ENOENT' || error.code === 'EISDIR' ? 404 : 500).end(String(error.message));
    }
  });
  await new Promise((done) => { server.listen(0, '127.0.0.1', done); });
  const origin = `http://127.0.0.1:${server.address().port}`;
  return {
    origin,
    mounts,
    address: (src) => `${origin}/?src=${encodeURIComponent(src)}`,
    stop: () => new Promise((done) => { server.close(done); server.closeAllConnections(); }),
  };
}

/** Answers with a file of a folder. */
export async function sendFile(response, folder, path) {
  const file = join(folder, normalize(`/${path}`));
  const { size } = await stat(file);
  const body = await readFile(file);
  response.writeHead(200, { 'content-type': TYPES[extname(file).toLowerCase()] ?? 'application/octet-stream', 'content-length': size });
  response.end(body);
}

/** Answers with bytes. */
export function sendBytes(response, bytes, type = 'application/octet-stream') {
  response.writeHead(200, { 'content-type': type, 'content-length': bytes.length });
  response.end(bytes);
}
