// Times in Chromium, one JSON object a line: {name, measured, limit, unit}. Run by `cargo xtask bench`.
import { BACKENDS, browser, openReady } from './harness.mjs';
import { serveSite } from './site.mjs';

const [WIDTH, HEIGHT] = [960, 600];
/** Frames of one measurement, and measurements of each kind, taken in turn so that a busy machine harms both alike. */
const [FRAMES, ROUNDS] = [6, 5];
/** The contract: a swipe frame costs at most this many single frames. */
const SWIPE_LIMIT = 1.15;

const tell = (name, measured, limit, unit) => console.log(JSON.stringify({ name, measured, limit, unit }));
const median = (values) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)];

/** From navigation to the first picture, in milliseconds: the median of fresh pages. */
async function firstPicture(chromium, address, backend) {
  const times = [];
  for (let round = 0; round < 3; round += 1) {
    const context = await chromium.newContext({ viewport: { width: WIDTH, height: HEIGHT } });
    const page = await context.newPage();
    await openReady(page, address, backend);
    // `openReady` polls; the element itself says when.
    times.push(await page.evaluate(() => performance.getEntriesByName('ganosis-first-picture').at(-1)?.startTime ?? performance.now()));
    await context.close();
  }
  return median(times);
}

/** Milliseconds a frame with one state and with a swipe, on a handle of the viewer's own. */
async function frames(chromium, origin, backend) {
  const page = await chromium.newPage({ viewport: { width: WIDTH, height: HEIGHT } });
  await page.goto(`${origin}/bench/`);
  const rounds = await page.evaluate(async ([name, width, height, count, rounds]) => {
    const module = await import(`/viewer/viewer-${name}.js`);
    await module.default({ module_or_path: `/viewer/viewer-${name}_bg.wasm` });
    const canvas = document.createElement('canvas');
    document.body.append(canvas);
    const handle = await module.Viewer.create(canvas, { antialias: true, reduced_motion: true });
    const bytesOf = async (path) => new Uint8Array(await (await fetch(`/dossier/${path}`)).arrayBuffer());
    handle.open('dossier.json', await bytesOf('dossier.json'));
    handle.resize(width, height, 1);
    for (let wanted = handle.wanted(); wanted.length > 0; wanted = handle.wanted()) {
      for (const { id, path, kind } of wanted) {
        const bytes = await bytesOf(path);
        if (kind === 'colour') handle.supply_image(id, await createImageBitmap(new Blob([bytes]), { colorSpaceConversion: 'none', premultiplyAlpha: 'none' }));
        else handle.supply(id, bytes);
      }
    }
    const [first, second] = handle.document().states;
    const base = { ...handle.view(), left: first.id, right: second.id, position: 0.5, angle_deg: 0, pin: null, region: null };
    const views = { one: { ...base, compare: 'one' }, swipe: { ...base, compare: 'swipe' } };
    /** Waits until everything asked of the device is done: what is read back was drawn last. */
    const fence = () => handle.snapshot(8, 8);
    const measure = async (view, frames) => {
      handle.set_view(view);
      handle.frame(performance.now());
      await fence();
      const start = performance.now();
      for (let index = 0; index < frames; index += 1) {
        // Another camera each time, since the same picture is not drawn twice.
        handle.set_view({ camera: { ...view.camera, azimuth_deg: view.camera.azimuth_deg + 0.001 * (index % 2 ? 1 : -1) } });
        if (!handle.frame(performance.now())) throw new Error('a frame was not drawn');
      }
      await fence();
      return performance.now() - start;
    };
    const empty = async () => {
      const start = performance.now();
      await fence();
      return performance.now() - start;
    };
    await measure(views.one, 2);
    await measure(views.swipe, 2);
    const all = [];
    for (let round = 0; round < rounds; round += 1) {
      const row = { rest: await empty() };
      for (const kind of round % 2 ? ['swipe', 'one'] : ['one', 'swipe']) row[kind] = await measure(views[kind], count);
      all.push(row);
    }
    return all;
  }, [backend, WIDTH, HEIGHT, FRAMES, ROUNDS]);
  await page.close();
  const rest = median(rounds.map((row) => row.rest));
  const [one, swipe] = ['one', 'swipe'].map((kind) => rounds.map((row) => (row[kind] - rest) / FRAMES));
  return { one: median(one), swipe: median(swipe), ratio: median(rounds.map((_, index) => swipe[index] / one[index])) };
}

const site = await serveSite({ dossier: process.env.GANOSIS_DEMO, bench: (response) => { response.writeHead(200, { 'content-type': 'text/html' }); response.end('<!doctype html><title>Bench</title>'); } });
try {
  for (const backend of Object.keys(BACKENDS)) {
    const chromium = await browser(backend);
    try {
      tell(`first picture after navigation, ${backend}`, await firstPicture(chromium, site.address('dossier/'), backend), null, 'ms');
      const { one, swipe, ratio } = await frames(chromium, site.origin, backend);
      tell(`single frame, ${backend}`, one, null, 'ms');
      tell(`swipe frame, ${backend}`, swipe, null, 'ms');
      tell(`swipe frame / single frame, ${backend}`, ratio, SWIPE_LIMIT, 'ratio');
    } finally {
      await chromium.close();
    }
  }
} finally {
  await site.stop();
}
