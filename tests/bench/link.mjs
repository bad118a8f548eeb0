// A server behind a link of one speed: all answers together pass at so many bits a second, and each begins so many
// milliseconds after it was asked for. Shaped here and not in the browser, so that workers are held to it too, and so
// that every byte is counted, headers and all. Text and modules go out as brotli, as a web server would store them.
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { extname, join, normalize } from 'node:path';
import { brotliCompressSync, constants } from 'node:zlib';
import { TYPES, serveSite } from '../e2e/site.mjs';

/** Pieces of an answer: about 6 ms of the link that is asked for, which a timer can still tell apart. */
const PIECE = 16 * 1024;
const PACKED = new Set(['.html', '.js', '.css', '.json', '.wasm', '.svg']);

/** Brotli at its best quality, kept in a folder by the hash of what was packed: it takes seconds a module. @param {string} store @param {Buffer} body */
export function packedOnce(store, body) {
  const file = join(store, `${createHash('sha256').update(body).digest('hex').slice(0, 32)}.br`);
  if (existsSync(file)) return readFileSync(file);
  const made = brotliCompressSync(body, { params: { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: body.length } });
  mkdirSync(store, { recursive: true });
  writeFileSync(`${file}.part`, made);
  renameSync(`${file}.part`, file);
  return made;
}

/** When an answer takes more, or will take no more. */
const drained = (response) => new Promise((done) => {
  const heard = () => {
    response.off('drain', heard).off('close', heard);
    done();
  };
  response.on('drain', heard).on('close', heard);
});

/**
 * @param {Record<string, string>} folders first part of a path to a folder; all else is the viewer's
 * @param {string} store where packed files are kept
 * @returns the site of `serveSite` with `shape(link)` and `bytesAt(epoch_ms)`
 */
export async function serveLinked(folders, store) {
  /** @type {{bits_per_second: number, latency_ms: number} | null} */
  let link = null;
  /** When the link is free again (epoch ms). */
  let free_ms = 0;
  /** What has passed: epoch ms, bytes, path. @type {{at_ms: number, bytes: number, path: string}[]} */
  let log = [];
  const epoch = () => performance.timeOrigin + performance.now();
  const wait = (ms) => new Promise((done) => { setTimeout(done, ms); });

  async function send(response, request, path) {
    const asked = path.endsWith('/') ? `${path}index.html` : path;
    const [first, ...rest] = asked.split('/');
    const file = folders[first] ? join(folders[first], normalize(`/${rest.join('/')}`)) : join(process.env.GANOSIS_VIEWER, normalize(`/${asked}`));
    let body = await readFile(file);
    const ending = extname(file).toLowerCase();
    const headers = { 'content-type': TYPES[ending] ?? 'application/octet-stream', vary: 'accept-encoding' };
    if (PACKED.has(ending) && /\bbr\b/.test(request.headers['accept-encoding'] ?? '')) {
      body = packedOnce(store, body);
      headers['content-encoding'] = 'br';
    }
    headers['content-length'] = body.length;
    if (link) await wait(link.latency_ms);
    response.writeHead(200, headers);
    response.flushHeaders();
    // A line each, and the status line before them.
    const lines = Object.entries({ ...response.getHeaders(), ...headers }).map(([name, value]) => `${name}: ${value}\r\n`);
    log.push({ at_ms: epoch(), bytes: 'HTTP/1.1 200 OK\r\n\r\n'.length + lines.join('').length, path });
    for (let at = 0; at < body.length && !response.destroyed; at += PIECE) {
      const piece = body.subarray(at, at + PIECE);
      if (link) {
        free_ms = Math.max(free_ms, epoch()) + (piece.length * 8000) / link.bits_per_second;
        await wait(Math.max(0, free_ms - epoch()));
      }
      if (!response.write(piece)) await drained(response);
      log.push({ at_ms: epoch(), bytes: piece.length, path });
    }
    response.end();
  }

  const site = await serveSite(new Proxy({}, { get: (_, first) => (response, rest, request) => send(response, request, rest === '' ? (folders[first] ? `${first}/` : String(first)) : `${String(first)}/${rest}`) }));
  return {
    ...site,
    shape(asked) {
      link = asked;
      free_ms = 0;
      log = [];
    },
    /** Bytes sent until then, since the link was shaped, and by path. @param {number} at_ms since the epoch */
    bytesAt(at_ms) {
      const passed = log.filter((one) => one.at_ms <= at_ms);
      const by_path = {};
      for (const { path, bytes } of passed) by_path[path] = (by_path[path] ?? 0) + bytes;
      return { bytes: passed.reduce((sum, { bytes }) => sum + bytes, 0), by_path };
    },
    log: () => log,
  };
}
