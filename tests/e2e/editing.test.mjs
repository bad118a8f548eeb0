// Editing as a person does it: by mouse, by touch and by keyboard alone; what goes into the dossier, and that text stays text.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { mountsWithDesk, openDossier } from './desk.mjs';
import { writeDossier } from './fixture.mjs';
import { browser, facing, getView, onScreen, violations } from './harness.mjs';
import { serveSite } from './site.mjs';

const CAMERA = facing(2.6, 30);
/** Strings that would run if they were read as markup, an address or code. */
const INJECTIONS = [
  '<img src=x onerror="globalThis.pwned=1">', '"><script>globalThis.pwned=1</script>', 'javascript:globalThis.pwned=1',
  '</textarea><svg onload="globalThis.pwned=1">', "'-globalThis.pwned=1-'", '{{constructor.constructor("globalThis.pwned=1")()}}',
];

describe('editing', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-editing-'));
  let site;
  let chromium;
  const failures = [];

  before(async () => {
    const document = writeDossier(folder);
    document.people.push({ id: 'om', name: 'O. M.' });
    document.evidence[0].instrument = 'portable spectrometer';
    document.evidence[0].settings = '40 kV';
    writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
    site = await serveSite(mountsWithDesk(folder));
    chromium = await browser('webgl2', { coarse: true });
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  /** A page with editing begun. */
  const editing = async ({ options = '', begin = true, route, ...context } = {}) => {
    const room = await chromium.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce', ...context });
    await route?.(room);
    const page = await room.newPage();
    page.on('pageerror', (error) => failures.push(error.message));
    page.on('dialog', (dialog) => { failures.push(`a dialog: ${dialog.message()}`); void dialog.dismiss(); });
    await page.addInitScript(() => {
      globalThis.drawn = [];
      new BroadcastChannel('drawn').onmessage = ({ data }) => globalThis.drawn.push(data);
    });
    const view = await openDossier(page, site, `${options}#edit`);
    await page.evaluate((camera) => { document.querySelector('ganosis-view').view = { camera, compare: 'one', left: 'evidence' }; }, CAMERA);
    if (begin) {
      await view.locator('[data-page="editing"]').click();
      await view.locator('.edit-bar').waitFor();
    }
    return { page, view };
  };
  const spot = (view, x_m, y_m) => onScreen(view, CAMERA, x_m, y_m);
  const keep = (view) => view.locator('.content form button[type=submit]').click();
  const undoLabel = (view) => view.locator('[data-do="undo"]').getAttribute('aria-label');
  const drawn = (page) => page.evaluate(() => globalThis.drawn);
  const dossier = (page) => page.evaluate(() => document.querySelector('ganosis-view').dossier);

  test('a new XRF spot in four steps, a claim from it in three, a review in three', async () => {
    const { page, view } = await editing();
    let steps = 0;
    const step = async (work) => { steps += 1; await work; };
    await step(view.locator('.edit-bar [data-add="evidence"]').click());
    const [x, y] = await spot(view, 0.1, 0.2);
    await step(page.mouse.click(x, y));
    await view.locator('.place [role="status"]', { hasText: 'Set on' }).waitFor();
    const [, x_mm, y_mm] = /: ([\d.]+) \/ ([\d.]+) \/ 0 mm/.exec(await view.locator('.place [role="status"]').innerText()).map(Number);
    // A pixel is 2 mm here.
    assert.ok(Math.abs(x_mm - 100) < 2.5 && Math.abs(y_mm - 200) < 2.5, `${x_mm}, ${y_mm}`);
    await step(page.keyboard.type('cu pb'));
    await step(page.keyboard.press('Enter'));
    await view.locator('.card .evidence[open]').waitFor();
    assert.equal(steps, 4);
    const text = (await view.locator('.card').innerText()).replaceAll('\u00a0', ' ');
    // The column that the point lies in: 0.6 of a metre from the left edge of six columns.
    for (const words of ['Column 4', 'Cu and Pb', 'portable spectrometer', '40 kV', 'E. K.']) assert.ok(text.includes(words), words);
    assert.match(await undoLabel(view), /Undo: observation Column 4 added/);

    steps = 0;
    await step(view.locator('[data-begin="claim"]').click());
    await step(view.locator('.suggestions [data-pigment="azurite"]').click());
    await step(keep(view));
    await view.locator('.claim[data-certainty="measured"]').waitFor();
    assert.equal(steps, 3);
    assert.match(await view.locator('.claim').innerText(), /Measured[\s\S]*Azurite[\s\S]*E\.\sK\.[\s\S]*shown in Evidence-based/);

    steps = 0;
    await step(view.locator('[data-verdict="dispute"]').click());
    await step(page.keyboard.type('The spot lies on a repair.'));
    await step(page.keyboard.press('Control+Enter'));
    await view.locator('.review[data-verdict="dispute"]', { hasText: 'repair' }).waitFor();
    assert.equal(steps, 3);
    await view.locator('.review .quiet').click();
    await page.keyboard.type('It does not.');
    await view.locator('.inline-form button[type=submit]').click();
    await view.locator('.answer', { hasText: 'It does not.' }).waitFor();
    await page.context().close();
  });

  test('two findings of the audit are settled in three steps each, and the list is there again', async () => {
    const { page, view } = await editing();
    await view.locator('.pages [data-page="audit"]').click();
    await view.locator('.finding').first().waitFor();
    // One is let stand: press, say why, keep.
    await view.locator('.finding', { hasText: 'Finding 0' }).getByText('Let it stand').click();
    await page.keyboard.type('Known since the last campaign.');
    await page.keyboard.press('Control+Enter');
    await view.locator('.findings > .more', { hasText: '1 let stand' }).waitFor();
    assert.equal(await view.locator('.long .finding', { hasText: 'Finding 0' }).count(), 0);
    // One is mended: to the form, change, keep.
    await view.locator('.finding', { hasText: 'Finding 1' }).getByText('Change this claim').click();
    await view.locator('.entry-form input[value="observed"]').check();
    await keep(view);
    await view.locator('.finding').first().waitFor();
    assert.match(await undoLabel(view), /claim Column 3 changed/);
    await page.context().close();
  });

  test('every screen of editing satisfies axe, and nothing is cut off at 360 px', async () => {
    for (const { width, colorScheme, language } of [{ width: 1280, colorScheme: 'light', language: 'en' }, { width: 360, colorScheme: 'dark', language: 'ar' }]) {
      const { page, view } = await editing({ viewport: { width, height: 800 }, colorScheme, options: `&language=${language}` });
      for (const screen of ['workbench', 'drawing', 'evidence', 'claim', 'pin', 'pigment', 'person', 'region']) {
        if (screen === 'workbench' || screen === 'drawing') await view.locator(`.edit-bar [data-page="${screen}"]`).click();
        else {
          await view.locator('.edit-bar [data-page="workbench"]').click();
          await view.locator(`details[data-group="${screen}"] summary`).click();
          await view.locator(`[data-group="${screen}"] [data-add]`).click();
        }
        await page.waitForTimeout(150);
        assert.deepEqual(await violations(page), [], `${screen}, ${width} px`);
        const wide = await page.evaluate(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.wall button, .wall input, .wall select, .wall textarea, .edit-bar button')].filter((one) => {
          const box = one.getBoundingClientRect();
          return one.checkVisibility() && box.width > 1 && (box.right > innerWidth + 1 || box.left < -1);
        }).map((one) => one.outerHTML.slice(0, 90)));
        assert.deepEqual(wide, [], `${screen}, ${width} px`);
      }
      await page.context().close();
    }
  });

  test('by keyboard alone: a pin by the crosshair, and undo and redo', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-add="pin"]').focus();
    await page.keyboard.press('Enter');
    const focused = () => page.evaluate(() => { const one = document.querySelector('ganosis-view').shadowRoot.activeElement; return `${one?.className} ${one?.tagName} ${one?.closest('.entry')?.textContent ?? ''}`; });
    const tabTo = async (pattern, key = 'Tab') => {
      for (let step = 0; step < 60; step += 1) {
        if (pattern.test(await focused())) return;
        await page.keyboard.press(key);
      }
      assert.fail(`${key} never reaches ${pattern}, but ${await focused()}`);
    };
    await tabTo(/crosshair/, 'Shift+Tab');
    for (let step = 0; step < 5; step += 1) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Enter');
    const [, , scale] = await spot(view, 0, 0);
    const mm = ((5 * 24) / scale) * 1000;
    await view.locator('.place [role="status"]', { hasText: /Set on/ }).waitFor();
    const said = await view.locator('.place [role="status"]').innerText();
    assert.ok(Math.abs(Number(/: ([\d.]+) \//.exec(said)[1]) - mm) < 1, `${said}, wanted ${mm.toFixed(1)} mm`);
    await tabTo(/INPUT.*Title/);
    await page.keyboard.type('By keys');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('ganosis-view').dossier.pins.length === 2);
    assert.match(await undoLabel(view), /pin By keys added/);
    await view.locator('h2').focus();
    await page.keyboard.press('Control+z');
    await page.waitForFunction(() => document.querySelector('ganosis-view').dossier.pins.length === 1);
    await page.keyboard.press('Control+Shift+z');
    await page.waitForFunction(() => document.querySelector('ganosis-view').dossier.pins.length === 2);
    await page.context().close();
  });

  test('a pin goes where it is dragged', async () => {
    const { page, view } = await editing();
    const [x, y] = await spot(view, 0, 0);
    const [to_x, to_y] = await spot(view, -0.2, 0.1);
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move((x + to_x) / 2, y, { steps: 4 });
    await page.mouse.move(to_x, to_y, { steps: 4 });
    await page.mouse.up();
    await view.locator('[data-do="undo"]:not([disabled])').waitFor();
    assert.match(await undoLabel(view), /pin The spot moved/);
    assert.equal(await view.locator('.wall:not([hidden])').count(), 0, 'a drag is no click');
    await page.context().close();
  });

  test('the brush paints what it passes over, in mm; other buttons and the space bar move the view', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-page="drawing"]').click();
    await view.locator('.size input[type="number"]').fill('40');
    const before_that = (await getView(page)).camera;
    const [from_x, from_y, scale] = await spot(view, -0.3, 0);
    const [to_x, to_y] = await spot(view, 0.3, 0);
    await page.mouse.move(from_x, from_y);
    // The ring is as large on the screen as 40 mm are.
    const ring = await view.locator('.sketch path.line').evaluate((path) => { const { width, height } = path.getBBox(); return { width, height }; });
    assert.ok(Math.abs(ring.width - 0.04 * scale) < 1.5 && Math.abs(ring.height - 0.04 * scale) < 1.5, `${ring.width} px for ${0.04 * scale}`);
    await page.mouse.down();
    await page.mouse.move(to_x, to_y, { steps: 30 });
    await page.mouse.up();
    await page.waitForFunction(() => globalThis.drawn.length > 0);
    await page.waitForTimeout(200);
    const strokes = await drawn(page);
    assert.deepEqual([...new Set(strokes.map(({ method }) => method))], ['stroke']);
    assert.equal(strokes[0].values.radius_mm, 20);
    assert.deepEqual(strokes.map(({ values }) => values.continues), [false, ...strokes.slice(1).map(() => true)], 'one stroke is one step');
    const points = strokes.flatMap(({ values }) => values.points.map(({ position }) => position));
    assert.ok(Math.abs(points[0][0] + 0.3) < 2e-3 && Math.abs(points.at(-1)[0] - 0.3) < 0.01 && points.every(([, py, pz]) => Math.abs(py) < 2e-3 && Math.abs(pz) < 1e-6));
    for (let at = 1; at < points.length; at += 1) assert.ok(Math.hypot(...points[at].map((value, axis) => value - points[at - 1][axis])) < 0.03, 'no gap between points');
    assert.deepEqual((await getView(page)).camera, before_that, 'drawing does not turn the object');
    assert.match(await undoLabel(view), /Brush on/);

    const count = (await drawn(page)).length;
    await page.mouse.move(from_x, from_y);
    await page.mouse.down({ button: 'right' });
    await page.mouse.move(from_x + 60, from_y, { steps: 5 });
    await page.mouse.up({ button: 'right' });
    const panned = (await getView(page)).camera;
    assert.notDeepEqual(panned.target_m, before_that.target_m);
    await view.locator('.stage canvas').focus();
    await page.keyboard.down(' ');
    await page.mouse.down();
    await page.mouse.move(from_x + 120, from_y, { steps: 5 });
    await page.mouse.up();
    await page.keyboard.up(' ');
    assert.notEqual((await getView(page)).camera.azimuth_deg, panned.azimuth_deg);
    assert.equal((await drawn(page)).length, count, 'and nothing is drawn');
    await page.context().close();
  });

  test('lasso, fills, taking away, growing and the crosshair ask the desk for what they say', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-page="drawing"]').click();
    const tool = (name) => view.locator(`.drawing input[value="${name}"]`).check();
    const last = async (count) => {
      await page.waitForFunction((wanted) => globalThis.drawn.length >= wanted, count);
      return (await drawn(page)).at(-1);
    };
    const at = async (x, y) => (await spot(view, x, y)).slice(0, 2);
    await tool('lasso');
    const corners = [[-0.2, -0.2], [0.2, -0.2], [0.2, 0.2], [-0.2, 0.2]];
    await page.mouse.move(...await at(...corners[0]));
    await page.mouse.down();
    for (const corner of corners.slice(1)) await page.mouse.move(...await at(...corner), { steps: 8 });
    await page.mouse.up();
    const enclosed = await last(1);
    assert.equal(enclosed.method, 'lasso');
    assert.deepEqual(enclosed.values.states, ['evidence']);
    const [, , scale] = await spot(view, 0, 0);
    const xs = enclosed.values.polygon.map(([x]) => x);
    assert.ok(Math.abs(Math.max(...xs) - Math.min(...xs) - 0.4 * scale) < 2);

    await tool('colour');
    await tool('take');
    await page.mouse.click(...await at(0.05, 0.05));
    const filled = await last(2);
    assert.deepEqual([filled.method, filled.values.by, filled.values.number, filled.values.over], ['fill', 'colour', 0, [6]]);
    await tool('add');
    await tool('all');
    await tool('band');
    await page.mouse.click(...await at(0.05, 0.05));
    const banded = await last(3);
    assert.deepEqual([banded.values.by, banded.values.layer, banded.values.number, banded.values.over], ['band', 'irr', 6, 'all']);
    assert.ok(banded.values.to > banded.values.from);
    await view.locator('[data-size="grow"]').click();
    assert.deepEqual((({ method, values }) => [method, values.mm, values.number])(await last(4)), ['grow', 1, 6]);

    await tool('brush');
    await view.locator('.crosshair').focus();
    await page.keyboard.press('Enter');
    const dab = await last(5);
    assert.equal(dab.values.points.length, 1);
    for (let step = 0; step < 4; step += 1) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+Enter');
    const line = await last(6);
    const length = line.values.points.at(-1).position[0] - dab.values.points[0].position[0];
    assert.ok(Math.abs(length - 96 / scale) < 2e-3 && line.values.points.length > 5, `${length} m`);
    await page.keyboard.press('Escape');
    assert.ok(await view.locator('.drawing input[value="look"]').isChecked());
    await view.locator('.content').evaluate((room) => { room.scrollTop = room.scrollHeight; });
    await view.locator('.drawing [data-number="6"]').waitFor();
    assert.match(await view.locator('.drawing .list').innerText(), /Column 6\s+6\.0 cm²/);
    await page.context().close();
  });

  test('one finger draws, two fingers move the view and draw nothing', async () => {
    const { page, view } = await editing({ hasTouch: true });
    await view.locator('.edit-bar [data-page="drawing"]').click();
    const client = await page.context().newCDPSession(page);
    const touch = (type, ...points) => client.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
    const [x, y] = await spot(view, -0.1, 0);
    const before_that = (await getView(page)).camera;
    await touch('touchStart', [x, y]);
    await touch('touchStart', [x, y], [x + 80, y]);
    for (let step = 1; step <= 6; step += 1) await touch('touchMove', [x - step * 8, y], [x + 80 + step * 8, y]);
    await touch('touchEnd');
    await page.waitForTimeout(300);
    assert.ok((await getView(page)).camera.distance_m < before_that.distance_m);
    assert.equal((await drawn(page)).length, 0);
    await touch('touchStart', [x, y]);
    for (let step = 1; step <= 6; step += 1) await touch('touchMove', [x + step * 10, y]);
    await touch('touchEnd');
    await page.waitForFunction(() => globalThis.drawn.length > 0);
    await page.context().close();
  });

  test('a drag of a pin that is broken off leaves the pin, and the next click its own', async () => {
    const { page, view } = await editing({ hasTouch: true });
    const client = await page.context().newCDPSession(page);
    const touch = (type, ...touchPoints) => client.send('Input.dispatchTouchEvent', { type, touchPoints });
    const pin = view.locator('.pin:visible').first();
    const box = await pin.boundingBox();
    const [x, y] = [box.x + 22, box.y + 22];
    await touch('touchStart', { x, y });
    for (let step = 1; step <= 4; step += 1) await touch('touchMove', { x: x + step * 15, y });
    await touch('touchCancel');
    await page.waitForTimeout(300);
    assert.ok(await view.locator('[data-do="undo"]').isDisabled(), 'nothing was moved');
    await pin.tap();
    await view.locator('.wall .card').waitFor({ timeout: 5000 });
    await page.context().close();
  });

  test('the brush leaves no gap between its messages, and joins nothing over a gap in its way', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-page="drawing"]').click();
    await view.locator('.size input[type="number"]').fill('20');
    // Over the edge of the square, through empty space, and back onto it: all in one breath, as a busy page hears it.
    const way = [];
    for (let step = 0; step <= 60; step += 1) way.push(await spot(view, 0.3 + 0.005 * step, 0.2));
    for (let step = 60; step >= 0; step -= 1) way.push(await spot(view, 0.3 + 0.005 * step, -0.2));
    await page.mouse.move(...way[0].slice(0, 2));
    await page.mouse.down();
    await view.locator('.stage canvas').evaluate(async (canvas, points) => {
      for (const [index, [clientX, clientY]] of points.entries()) {
        canvas.dispatchEvent(new PointerEvent('pointermove', { pointerId: 1, pointerType: 'mouse', buttons: 1, clientX, clientY }));
        // A pause on the object, so that what follows goes into another message.
        if (index === 20) await new Promise((done) => { setTimeout(done, 100); });
      }
    }, way);
    await page.mouse.up();
    await page.waitForTimeout(300);
    const strokes = (await drawn(page)).map(({ values }) => ({ ...values, points: values.points.map(({ position }) => position) }));
    const apart = (a, b) => Math.hypot(...a.map((value, axis) => value - b[axis]));
    for (const { points } of strokes) for (let at = 1; at < points.length; at += 1) assert.ok(apart(points[at], points[at - 1]) < 0.03, 'nothing is joined over the gap');
    const began = strokes.filter(({ points }, index) => index === 0 || apart(points[0], strokes[index - 1].points.at(-1)) > 1e-9);
    assert.deepEqual(began.map(({ points }) => Math.sign(points[0][1])), [1, -1], 'only the gap begins anew');
    assert.ok(strokes.length > 2, `${strokes.length} messages`);
    assert.deepEqual(strokes.map(({ continues }) => continues), strokes.map((_, index) => index > 0), 'and all of it is one step');
    await page.context().close();
  });

  test('who only looks fetches nothing of the forms, the tools and the desk', async () => {
    const fetched = [];
    const { page, view } = await editing({ begin: false, route: async (context) => { context.on('request', (request) => fetched.push(new URL(request.url()).pathname)); } });
    // Parts are called after the module that they begin with.
    const parts = ['parts/all-', 'parts/session-', 'parts/desk-', 'internal/desk/worker.js'];
    const ofEditing = () => parts.filter((name) => fetched.some((path) => path.includes(name)));
    assert.deepEqual(ofEditing(), []);
    await view.locator('.pages [data-page="editing"]').click();
    await view.locator('.edit-bar').waitFor();
    assert.deepEqual(ofEditing(), parts, 'and all of it when editing begins');
    await page.context().close();
  });

  test('editing that is asked for twice begins once, and is left by one press', async () => {
    const { page, view } = await editing({ begin: false });
    await view.evaluate((element) => {
      const button = element.shadowRoot.querySelector('.pages [data-page="editing"]');
      button.click();
      button.click();
    });
    await view.locator('.edit-bar').waitFor();
    await page.waitForTimeout(300);
    // Every sitting holds the lock of its draft.
    assert.equal(await page.evaluate(async () => (await navigator.locks.query()).held.length), 1);
    await view.locator('[data-do="leave"]').click();
    await view.locator('.edit-bar').waitFor({ state: 'detached' });
    await page.context().close();
  });

  test('a desk that cannot be had is told, and asked for again', async () => {
    let broken = true;
    const { page, view } = await editing({ begin: false, route: async (context) => {
      await context.route('**/internal/desk/worker.js', (route) => (broken ? route.fulfill({ status: 500, contentType: 'text/javascript', body: '' }) : route.continue()));
    } });
    await view.locator('.pages [data-page="editing"]').click();
    await view.locator('.notice', { hasText: 'Editing could not begin' }).waitFor({ state: 'attached' });
    await assert.rejects(view.evaluate((element) => element.edit()), /worker/, 'and the page around it is told too');
    broken = false;
    await view.locator('.pages [data-page="editing"]').click();
    await view.locator('.edit-bar').waitFor();
    await page.context().close();
  });

  test('a tolerance that is no number is told at the tool', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-page="drawing"]').click();
    await view.locator('.drawing input[value="colour"]').check();
    await view.locator('.drawing input[type="number"]:visible').first().fill('500');
    await page.mouse.click(...(await spot(view, 0.1, 0.2)).slice(0, 2));
    await view.locator('.drawing [role="status"]', { hasText: 'Not kept' }).waitFor();
    assert.deepEqual(failures, [], 'and breaks no script');
    await page.context().close();
  });

  test('a form that is left in the middle is there when it is opened again', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-page="workbench"]').click();
    await view.locator('details[data-group="person"] summary').click();
    await view.locator('[data-group="person"] [data-add]').click();
    await view.locator('.entry-form input').first().fill('N. N.');
    await view.locator('.edit-bar [data-add="claim"]').click();
    await view.locator('.edit-bar [data-page="workbench"]').click();
    await view.locator('details[data-group="person"] summary').click();
    await view.locator('[data-group="person"] [data-add]').click();
    assert.equal(await view.locator('.entry-form input').first().inputValue(), 'N. N.');
    await keep(view);
    await view.locator('details[data-group="person"]', { hasText: '3' }).waitFor();
    await page.context().close();
  });

  test('an entry is kept from the public, and cleared again, in its form', async () => {
    const { page, view } = await editing();
    const first = (list) => page.evaluate(async (name) => (await document.querySelector('ganosis-view').edit()).document[name][0], list);
    for (const kind of ['person', 'region', 'pigment', 'state', 'layer']) {
      const list = { person: 'people', region: 'regions', pigment: 'palette', state: 'states', layer: 'layers' }[kind];
      const open = async () => {
        await view.locator('.edit-bar [data-page="workbench"]').click();
        const group = view.locator(`details[data-group="${kind}"]`);
        if (!(await group.evaluate((one) => one.open))) await group.locator('summary').click();
        await group.locator('li button').first().click();
        return view.locator('.entry-form .entry', { hasText: 'Not for the public' }).locator('input');
      };
      const before = await first(list);
      assert.equal('public' in before, false);
      await (await open()).check();
      await keep(view);
      await page.waitForTimeout(200);
      assert.deepEqual(await first(list), { ...before, public: false }, kind);
      const box = await open();
      assert.equal(await box.isChecked(), true);
      await box.uncheck();
      await keep(view);
      await page.waitForTimeout(200);
      assert.deepEqual(await first(list), before, kind);
    }
    assert.equal(await view.locator('details[data-group="state"] [data-add]').count(), 0, 'states come with their files');
    await page.context().close();
  });

  test('a file and a review are kept from the public by themselves', async () => {
    const { page, view } = await editing();
    const document = () => page.evaluate(async () => (await document.querySelector('ganosis-view').edit()).document);
    await view.locator('.edit-bar [data-page="workbench"]').click();
    await view.locator('details[data-group="evidence"] summary').click();
    await view.locator('details[data-group="evidence"] li button').last().click();
    const file = { name: 'spot.txt', mimeType: 'text/plain', buffer: Buffer.from('40 kV') };
    await view.locator('.entry-form input[type=file]').setInputFiles([file, { ...file, name: 'seen.txt' }]);
    await view.getByRole('checkbox', { name: 'Not for the public: spot.txt' }).check();
    await keep(view);
    await view.locator('.card .evidence[open]').waitFor();
    const added = (await document()).evidence[0].attachments.slice(-2);
    assert.deepEqual(added.map(({ title, public: cleared }) => [title, cleared]), [['spot.txt', false], ['seen.txt', undefined]]);

    await page.evaluate(() => { document.querySelector('ganosis-view').view = { pin: 'p1' }; });
    await view.locator('[data-verdict="agree"]').first().click();
    const form = view.locator('.inline-form[data-review="agree"]');
    await form.locator('select').last().selectOption('om');
    await form.locator('.entry', { hasText: 'Not for the public' }).locator('input').check();
    await form.locator('button[type=submit]').click();
    const box = view.getByRole('checkbox', { name: 'Not for the public: O. M.' });
    await box.waitFor();
    assert.equal(await box.isChecked(), true);
    assert.equal((await document()).claims[0].reviews.at(-1).public, false);
    assert.deepEqual(await violations(page), []);
    await box.uncheck();
    await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-do="undo"]').getAttribute('aria-label').includes('clearance of a review'));
    assert.equal('public' in (await document()).claims[0].reviews.at(-1), false);
    await page.context().close();
  });

  test('symbols that are no elements, colours with two numbers and empty titles are told, and kept from the dossier', async () => {
    const { page, view } = await editing();
    await view.locator('.edit-bar [data-add="evidence"]').click();
    await view.locator('.entry', { hasText: 'Elements' }).locator('input').fill('Cu Xq');
    await keep(view);
    assert.match(await view.locator('.fault.summary').innerText(), /Xq/);
    await view.locator('.edit-bar [data-add="pin"]').click();
    await keep(view);
    assert.match(await view.locator('.fault.summary').innerText(), /place on the surface/);
    assert.equal((await dossier(page)).pins.length, 1);
    assert.ok(await view.locator('[data-do="undo"]').isDisabled());
    await page.context().close();
  });

  test('text is text: strings that would run if read as markup stand in every field and run nowhere', async () => {
    const { page, view } = await editing();
    let turn = 0;
    for (const kind of ['person', 'pigment', 'region', 'pin', 'evidence', 'claim']) {
      await view.locator('.edit-bar [data-page="workbench"]').click();
      await view.locator(`details[data-group="${kind}"] summary`).click();
      await view.locator(`[data-group="${kind}"] [data-add]`).click();
      if (kind === 'pin' || kind === 'evidence') {
        await page.mouse.click(...(await spot(view, 0.1, 0.1)).slice(0, 2));
        await view.locator('.place [role="status"]', { hasText: 'Set on' }).waitFor();
      }
      for (const field of await view.locator('.entry-form .text-row :is(input, textarea)').all()) {
        await field.fill(INJECTIONS[turn % INJECTIONS.length]);
        turn += 1;
      }
      if (kind === 'claim') {
        await view.locator('.entry', { hasText: 'Regions' }).locator('input').first().fill('column-1');
        await page.keyboard.press('Enter');
      }
      await keep(view);
      await page.waitForTimeout(150);
      assert.equal(await view.locator('.fault.summary:not(:empty)').count(), 0, kind);
    }
    await view.locator('[data-verdict="ask"]').first().click();
    await page.keyboard.type(INJECTIONS[0]);
    await view.locator('.inline-form button[type=submit]').click();
    for (const name of ['label', 'audit', 'partings', 'about']) {
      await view.locator(`.pages [data-page="${name}"]`).click();
      await page.waitForTimeout(200);
    }
    assert.ok(turn > 12);
    assert.equal(await page.evaluate(() => globalThis.pwned), undefined);
    assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelectorAll('img[src="x"], script, svg[onload], [onerror]').length), 0);
    await page.context().close();
  });

  test('no script on the page failed', () => assert.deepEqual(failures, []));
});
