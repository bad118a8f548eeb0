// A published site below a path of a common web server, and from a stick: used end to end.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { browser, getView, serve, setView, snapshot, violations } from './harness.mjs';

const NGINX = ['/usr/sbin/nginx', '/usr/bin/nginx'].find((path) => existsSync(path));
const BELOW = '/some/sub/path/';
const BACKEND = 'webgl2';
/** Drawn in software beside another test, a first picture may take so long. */
const PATIENCE_MS = 150_000;

/** A port that was free a moment ago. */
const freePort = () => new Promise((done) => {
  const server = createServer();
  server.listen(0, '127.0.0.1', () => {
    const { port } = server.address();
    server.close(() => done(port));
  });
});

/** Runs nginx over a folder, which it gives below a path, as Debian sets it up but for ports and places. */
async function startNginx(folder, work) {
  assert.ok(NGINX, 'nginx is not installed: `cargo xtask test` installs it (apt-get install nginx-light)');
  const port = await freePort();
  const config = join(work, 'nginx.conf');
  writeFileSync(config, `
daemon off; master_process off; pid ${join(work, 'pid')}; error_log ${join(work, 'error.log')};
events { worker_connections 64; }
http {
  include /etc/nginx/mime.types; default_type application/octet-stream; access_log ${join(work, 'access.log')};
  client_body_temp_path ${work}; proxy_temp_path ${work}; fastcgi_temp_path ${work}; uwsgi_temp_path ${work}; scgi_temp_path ${work};
  server { listen 127.0.0.1:${port}; location ${BELOW} { alias ${folder}/; } location / { return 404; } }
}
`);
  const child = spawn(NGINX, ['-c', config, '-p', work], { stdio: 'inherit' });
  const origin = `http://127.0.0.1:${port}`;
  for (let tries = 0; ; tries += 1) {
    try {
      await fetch(`${origin}${BELOW}published.json`);
      break;
    } catch (error) {
      if (tries > 100 || child.exitCode !== null) throw new Error(`nginx does not answer: ${error.message}`);
      await new Promise((done) => { setTimeout(done, 100); });
    }
  }
  return { origin, stop: () => child.kill('SIGTERM') };
}

function publish(...more) {
  const viewer = process.env.GANOSIS_VIEWER ? ['--viewer', process.env.GANOSIS_VIEWER] : [];
  return execFileSync(process.env.GANOSIS, ['publish', ...more, '--without-pictures', ...viewer], { encoding: 'utf8' });
}

/** Opens a page and waits until the object is drawn. */
async function openPage(page, address) {
  await page.goto(address);
  await page.waitForFunction(() => document.querySelector('ganosis-view')?.ready, null, { timeout: PATIENCE_MS });
  await page.evaluate(() => document.querySelector('ganosis-view').ready);
}

describe('a published site', () => {
  const work = mkdtempSync(join(tmpdir(), 'ganosis-published-'));
  const site = join(work, 'site');
  const many = join(work, 'many');
  const failures = [];
  let chromium;
  let nginx;
  let catalogue;
  const served = [];

  before(async () => {
    // The demonstration with something withheld, and once more under another name.
    const dossier = join(work, 'boss');
    cpSync(process.env.GANOSIS_DEMO, dossier, { recursive: true });
    const document = JSON.parse(readFileSync(join(dossier, 'dossier.json'), 'utf8'));
    document.layers.find(({ id }) => id === 'uvl').public = false;
    writeFileSync(join(dossier, 'dossier.json'), JSON.stringify(document));
    const second = join(work, 'second');
    cpSync(dossier, second, { recursive: true });
    writeFileSync(join(second, 'dossier.json'), JSON.stringify({ ...document, id: 'second', title: 'Another boss' }));
    const said = publish(dossier, '--to', site, '--despite-mentions');
    assert.match(said, /left out: layer:uvl: not cleared/);
    publish(dossier, second, '--to', many, '--despite-mentions', '--title', 'Two bosses');
    for (const folder of ['a', 'b']) mkdirSync(join(work, folder));
    nginx = await startNginx(site, join(work, 'a'));
    catalogue = await startNginx(many, join(work, 'b'));
    chromium = await browser(BACKEND, { coarse: true });
  });
  after(async () => {
    await chromium?.close();
    nginx?.stop();
    catalogue?.stop();
    served.forEach(({ stop }) => stop());
    rmSync(work, { recursive: true, force: true });
  });

  const newPage = async () => {
    const page = await chromium.newPage({ viewport: { width: 640, height: 480 } });
    page.on('pageerror', (error) => failures.push(`${page.url()}: ${error.message}`));
    // The element asks its server whether it takes changes; a server of plain files has no answer.
    page.on('response', (response) => {
      if (response.status() >= 400 && !response.url().endsWith('/dossier/edit')) failures.push(`${response.status()} ${response.url()}`);
    });
    page.on('console', (message) => {
      if (message.type() === 'error' && !message.text().startsWith('Failed to load resource')) failures.push(`${page.url()}: ${message.text()}`);
    });
    return page;
  };

  test('below a path of nginx the object is drawn, compared, and its pins are read', async () => {
    const page = await newPage();
    const outside = [];
    page.on('request', (request) => { if (!request.url().startsWith(`${nginx.origin}${BELOW}`) && !/^(data|blob):/.test(request.url())) outside.push(request.url()); });
    const missing = [];
    page.on('response', (response) => { if (response.status() >= 400) missing.push(response.url()); });
    await openPage(page, `${nginx.origin}${BELOW}?backend=${BACKEND}`);
    assert.equal(await page.title(), 'The Sallowmere boss');
    const shown = await page.evaluate(() => document.querySelector('ganosis-view').dossier);
    assert.ok(!shown.layers.some(({ id }) => id === 'uvl'), 'a withheld layer is shown');
    assert.ok(shown.states.length >= 4);
    const { left, right } = await getView(page);
    assert.ok(left && right);
    const pixels = new Set(new Uint32Array(new Uint8Array(await snapshot(page, 160, 120)).buffer));
    assert.ok(pixels.size > 500, `the picture has only ${pixels.size} colours`);
    await setView(page, { left: 'as-found', right: 'evidence-based', compare: 'swipe', position: 0.3, pin: shown.pins[0].id });
    await page.locator('ganosis-view .wall').getByText(shown.pins[0].title).first().waitFor({ timeout: PATIENCE_MS });
    // The address holds the view, as anywhere.
    await page.waitForFunction(() => location.hash.includes('pin'), null, { timeout: PATIENCE_MS });
    const again = await newPage();
    await openPage(again, page.url());
    assert.equal((await getView(again)).pin, shown.pins[0].id);
    // A src in the address does not lead the page elsewhere.
    await openPage(again, `${nginx.origin}${BELOW}?backend=${BACKEND}&src=https://elsewhere.invalid/`);
    assert.equal((await again.evaluate(() => document.querySelector('ganosis-view').dossier)).id, 'sallowmere-boss');
    assert.deepEqual(outside, []);
    assert.deepEqual(missing, [], 'asked for, and not there');
    assert.deepEqual(failures.splice(0), []);
    await again.close();
    await page.close();
  });

  test('nothing withheld can be had from it', async () => {
    for (const path of ['dossier/layers/uvl/crown.png', 'dossier/layers/uvl/flank.png']) {
      assert.equal((await fetch(`${nginx.origin}${BELOW}${path}`)).status, 404);
    }
    const document = await (await fetch(`${nginx.origin}${BELOW}dossier/dossier.json`)).json();
    assert.ok(!document.layers.some(({ id }) => id === 'uvl'));
  });

  test('the report, the page for frames and what machines read are there', async () => {
    const page = await newPage();
    await page.goto(`${nginx.origin}${BELOW}report.html`);
    assert.match(await page.locator('h1').first().textContent(), /Sallowmere/);
    await page.goto(`${nginx.origin}${BELOW}index.html`);
    const about = JSON.parse(await page.locator('script[type="application/ld+json"]').textContent());
    assert.equal(about['@type'], '3DModel');
    const model = new URL(about.contentUrl, page.url());
    assert.equal((await fetch(model)).status, 200);
    // In a frame of another page.
    await page.setContent(`<iframe src="${nginx.origin}${BELOW}embed.html" width="700" height="500"></iframe>`);
    const frame = await (await page.waitForSelector('iframe')).contentFrame();
    await frame.waitForSelector('ganosis-view', { timeout: PATIENCE_MS });
    await frame.evaluate(() => document.querySelector('ganosis-view').ready);
    assert.deepEqual(failures.splice(0), []);
    await page.close();
  });

  test('the catalogue leads to each object, without script too, and has no barriers', async () => {
    const bare = await chromium.newPage({ javaScriptEnabled: false });
    await bare.goto(`${catalogue.origin}${BELOW}index.html`);
    assert.equal(await bare.locator('li h2').count(), 2);
    await bare.close();
    const page = await newPage();
    for (const width of [360, 2560]) {
      await page.setViewportSize({ width, height: 800 });
      await page.goto(`${catalogue.origin}${BELOW}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(wide <= 0, `it scrolls sideways by ${wide} px at ${width} px`);
      const [box] = await page.locator('.more a').evaluateAll((links) => links.map((link) => link.getBoundingClientRect().height));
      assert.ok(box >= 44, `a link is ${box} px high`);
    }
    await page.getByRole('link', { name: 'Another boss' }).first().click();
    await page.waitForFunction(() => document.querySelector('ganosis-view')?.dossier?.id === 'second', null, { timeout: PATIENCE_MS });
    assert.deepEqual(failures.splice(0), []);
    await page.close();
    // The policy of the page keeps axe out of it; as a copy it is looked at.
    const copy = await chromium.newPage();
    const html = readFileSync(join(many, 'index.html'), 'utf8').replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, '');
    const style = readFileSync(join(many, 'styles/catalogue.css'), 'utf8');
    await copy.setContent(html.replace('</head>', `<style>${style}</style></head>`));
    assert.deepEqual(await violations(copy), []);
    await copy.close();
  });

  test('from a stick: ganosis open shows the folder as it is, report included', async () => {
    const stick = await serve(site);
    served.push(stick);
    const page = await newPage();
    await openPage(page, `${stick.address}?backend=${BACKEND}`);
    assert.equal((await page.evaluate(() => document.querySelector('ganosis-view').dossier)).id, 'sallowmere-boss');
    await page.goto(`${stick.address}report.html`);
    // Styled within, which the server's usual policy forbids.
    assert.match(await page.evaluate(() => getComputedStyle(document.body).fontFamily), /Georgia/);
    assert.deepEqual(failures.splice(0), []);
    await page.close();
    const objects = await serve(many);
    served.push(objects);
    assert.match(await (await fetch(`${objects.address}objects/second/`)).text(), /<title>Another boss<\/title>/);
  });
});
