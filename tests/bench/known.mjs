// Places of a picture whose colour is known beforehand: where a ray meets the mesh, by three.js, and what the images
// have there, by the browser's canvas. Only places are taken around which an image has the same mean over areas of
// every size, so that a coarse level of it is as right as a fine one, and a coarse one that is wrong is told apart.

/** Sides of the areas whose means have to agree, in shares of the image: from a pixel of the picture to two texels of the coarsest level. */
const AREAS = [1 / 1024, 1 / 512, 1 / 256];
/** By so much (sRGB code values). */
const AGREE = 1.5;
/** How far a pixel may be from the mean (sRGB code values): what the areas differ by, rounding, and grain that is not averaged out. */
export const TOLERANCE = 4;
/** How far from a place on its sheet the surface four pixels away may lie: the same chart, not steeply seen (share of the sheet). */
const BEND = 0.02;
/** Places to try on each side of the divider, and how many are enough. */
const [TRIED, KEPT] = [400, 8];

/**
 * @param page with the bare page, settled
 * @param {string} whole address of the dossier with whole images
 * @param {{width: number, height: number, states: [string, string], position: number}} picture
 * @returns {Promise<{x: number, y: number, colour: number[], side: string}[]>}
 */
export async function knownPlaces(page, whole, { width, height, states, position }) {
  const found = await page.evaluate(async ([address, w, h, sides, divider, areas, agree, tried, kept, bend]) => {
    const folder = new URL(address, location.href);
    const dossier = await (await fetch(new URL('dossier.json', folder))).json();
    const linear = Float64Array.from({ length: 256 }, (_, code) => (code <= 10 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4));
    const encoded = (value) => 255 * (value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055);
    const canvases = new Map();
    const canvasOf = async (file) => {
      if (!canvases.has(file)) {
        const bitmap = await createImageBitmap(await (await fetch(new URL(file, folder))).blob(), { colorSpaceConversion: 'none', premultiplyAlpha: 'none' });
        const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
        const context = canvas.getContext('2d', { willReadFrequently: true });
        context.drawImage(bitmap, 0, 0);
        bitmap.close();
        canvases.set(file, context);
      }
      return canvases.get(file);
    };
    const mean = (context, u, v, share) => {
      const { width: across, height: down } = context.canvas;
      const side = Math.max(1, Math.round(share * across));
      const { data } = context.getImageData(Math.round(u * across - side / 2), Math.round(v * down - side / 2), side, side);
      const sum = [0, 0, 0];
      for (let i = 0; i < data.length; i += 4) for (let c = 0; c < 3; c += 1) sum[c] += linear[data[i + c]];
      return sum.map((value) => encoded(value / side ** 2));
    };
    // Where the surface bends away or another part begins, a pixel has some of both.
    const bends = (x, y, met) => [[-3, -3], [3, 3]].some(([dx, dy]) => {
      const near = bare.met(x + 0.5 + dx, y + 0.5 + dy);
      return near?.sheet !== met.sheet || Math.hypot(near.uv[0] - met.uv[0], near.uv[1] - met.uv[1]) > bend;
    });
    const places = [];
    for (const [index, state] of sides.entries()) {
      const images = dossier.layers.find(({ id }) => id === dossier.states.find((one) => one.id === state).layers[0]).images;
      const here = [];
      for (let i = 0; i < tried && here.length < kept; i += 1) {
        // Evenly over the side (R2 sequence, M. Roberts 2018), in the part of the picture that the object is sure to fill.
        const [a, b] = [(0.5 + i * 0.7548776662466927) % 1, (0.5 + i * 0.5698402909980532) % 1];
        const [from, to] = index === 0 ? [w / 2 - 0.35 * h, w * divider - 6] : [w * divider + 6, w / 2 + 0.35 * h];
        const [x, y] = [Math.floor(from + a * (to - from)), Math.floor(h * (0.15 + 0.7 * b))];
        const met = bare.met(x + 0.5, y + 0.5);
        const sheet = met && dossier.surface.sheets.find(({ material }) => material === met.sheet);
        if (!sheet) continue;
        const context = await canvasOf(images.find((image) => image.sheet === sheet.id).file);
        const means = areas.map((share) => mean(context, met.uv[0], met.uv[1], share));
        const apart = Math.max(...means.flatMap((one) => one.map((value, c) => Math.abs(value - means[0][c]))));
        if (apart <= agree && !bends(x, y, met)) here.push({ x, y, side: index === 0 ? 'left' : 'right', colour: means[1] });
      }
      places.push(...here);
    }
    return places;
  }, [whole, width, height, states, position, AREAS, AGREE, TRIED, KEPT, BEND]);
  if (found.length < 2 * KEPT) throw new Error(`only ${found.length} places have a colour that holds at every distance`);
  return found;
}

/**
 * Runs in a page before its own scripts: looks at the picture after each callback that may have drawn it, and notes
 * when all places are right. The same on every page, so that what looking costs falls on all of them.
 */
export function watch([places, tolerance]) {
  const ask = window.requestAnimationFrame;
  const copy = new OffscreenCanvas(1, 1);
  let context = null;
  window.watched = { correct_ms: null, looks: 0, worst: null };
  const look = () => {
    const canvas = document.querySelector('ganosis-view')?.shadowRoot?.querySelector('.stage canvas') ?? document.querySelector('canvas');
    if (window.watched.correct_ms !== null || !canvas || canvas.width < 2) return;
    if (copy.width !== canvas.width || copy.height !== canvas.height || !context) {
      [copy.width, copy.height] = [canvas.width, canvas.height];
      context = copy.getContext('2d', { willReadFrequently: true });
    }
    context.clearRect(0, 0, copy.width, copy.height);
    context.drawImage(canvas, 0, 0);
    window.watched.looks += 1;
    const off = places.map(({ x, y, colour }) => {
      const { data } = context.getImageData(x, y, 1, 1);
      return Math.max(...colour.map((value, c) => Math.abs(value - data[c])));
    });
    window.watched.worst = off;
    if (off.every((value) => value <= tolerance)) window.watched.correct_ms = performance.now();
  };
  window.requestAnimationFrame = (act) => ask.call(window, (now) => {
    act(now);
    look();
  });
}
