// What a frame costs, until the device has finished a row of them: the viewer's and the bare page's, in turns.
import { barePage, bareSettled, hold, pictureAlone, viewerSettled } from './pages.mjs';

/** Another size is for trying the bench out. */
export const [WIDTH, HEIGHT] = (process.env.GANOSIS_BENCH_SIZE ?? '1920x1080').split('x').map(Number);
/** Frames of one measurement, after which is waited for the device: browsers tell of it late, some by 60 ms; and
 * measurements of each kind, in turns so that a busy machine harms all alike. */
const [FRAMES, ROUNDS] = [Number(process.env.GANOSIS_BENCH_FRAMES) || 4, Number(process.env.GANOSIS_BENCH_ROUNDS) || 5];

export const median = (values) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)];

/** Milliseconds a frame of the viewer. @param {{compare: string, slides: boolean, turns: boolean}} kind */
const viewerFrames = (page, kind) => page.evaluate(async ([{ compare, slides, turns }, count]) => {
  const canvas = document.querySelector('ganosis-view').shadowRoot.querySelector('.stage canvas');
  const gl = globalThis.held_device ? null : canvas.getContext('webgl2');
  // The viewer leaves buffers of its own bound: a pixel of the canvas is what waits for the whole picture.
  const readOne = () => {
    const [buffer, picture] = [gl.getParameter(gl.PIXEL_PACK_BUFFER_BINDING), gl.getParameter(gl.READ_FRAMEBUFFER_BINDING)];
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, null);
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, null);
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    const error = gl.getError();
    if (error !== gl.NO_ERROR) throw new Error(`no pixel of the canvas could be read: ${error}`);
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, buffer);
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, picture);
  };
  const finished = () => (gl ? readOne() : globalThis.held_device.queue.onSubmittedWorkDone());
  const { camera } = globalThis.base ??= held.view();
  held.set_view({ compare, camera, position: 0.25 });
  // The first makes pipelines, one a frame.
  while (!held.frame(performance.now()) && held.wants_frame()) await new Promise(requestAnimationFrame);
  await finished();
  const start = performance.now();
  for (let index = 1; index <= count; index += 1) {
    held.set_view({
      ...(slides && { position: 0.3 + (0.4 * index) / count }),
      ...(turns && { camera: { ...camera, azimuth_deg: camera.azimuth_deg + 0.001 * index } }),
    });
    if (!held.frame(performance.now())) throw new Error('a frame was not drawn');
  }
  await finished();
  return (performance.now() - start) / count;
}, [kind, FRAMES]);

/** Milliseconds a frame of the bare page. @param {{slides: boolean, turns: boolean}} kind */
const bareFrames = (page, kind) => page.evaluate(([{ slides, turns }, count]) => {
  const azimuth_deg = globalThis.base ??= bare.azimuth_deg;
  bare.frame({ divider: 0.25, azimuth_deg });
  bare.finished();
  const start = performance.now();
  for (let index = 1; index <= count; index += 1) {
    bare.frame({ ...(slides && { divider: 0.3 + (0.4 * index) / count }), ...(turns && { azimuth_deg: azimuth_deg + 0.001 * index }) });
  }
  bare.finished();
  return (performance.now() - start) / count;
}, [kind, FRAMES]);

/** Kinds: a divider that moves over a still object, over one that turns, and one state that turns. */
const KINDS = {
  swipe: { compare: 'swipe', slides: true, turns: false },
  turned: { compare: 'swipe', slides: true, turns: true },
  one: { compare: 'one', slides: false, turns: true },
};

/** @returns {Promise<{ours: Record<string, number>, bare: Record<string, number>, to_bare: number, to_bare_turned: number, to_one: number}>} ms a frame, and medians of ratios within rounds */
export async function swipeFrames(chromium, site, backend) {
  site.shape(null);
  const context = await chromium.newContext({ viewport: { width: WIDTH, height: HEIGHT }, reducedMotion: 'reduce' });
  try {
    const ours = await context.newPage();
    await ours.addInitScript(hold, backend);
    await ours.goto(pictureAlone(site.origin, backend), { waitUntil: 'commit' });
    await viewerSettled(ours);
    const camera = await ours.evaluate(() => document.querySelector('ganosis-view').view.camera);
    const bare = await context.newPage();
    await bare.goto(barePage(site.origin, { width: WIDTH, height: HEIGHT, camera }), { waitUntil: 'commit' });
    await bareSettled(bare);
    const measures = {
      ...Object.fromEntries(Object.entries(KINDS).map(([name, kind]) => [name, async () => viewerFrames(ours, kind)])),
      bare_swipe: async () => bareFrames(bare, KINDS.swipe),
      bare_turned: async () => bareFrames(bare, KINDS.turned),
    };
    const rounds = [];
    for (let round = 0; round <= ROUNDS; round += 1) {
      const row = {};
      for (const name of round % 2 ? Object.keys(measures).toReversed() : Object.keys(measures)) {
        await (name.startsWith('bare') ? bare : ours).bringToFront();
        row[name] = await measures[name]();
      }
      // The first makes pipelines and fills caches.
      if (round > 0) rounds.push(row);
    }
    const ratio = (above, below) => median(rounds.map((row) => row[above] / row[below]));
    return {
      ms: Object.fromEntries(Object.keys(measures).map((name) => [name, median(rounds.map((row) => row[name]))])),
      to_bare: ratio('swipe', 'bare_swipe'), to_bare_turned: ratio('turned', 'bare_turned'), to_one: ratio('turned', 'one'),
    };
  } finally {
    await context.close();
  }
}
