// What people get who build nothing: the archive, unpacked where nothing else of ours is in reach, does what its
// READ-ME says.
import assert from 'node:assert/strict';
import { spawn, spawnSync } from 'node:child_process';
import { appendFileSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { browser, snapshot } from './harness.mjs';

const ARCHIVE = process.env.GANOSIS_RELEASE;

/** A comment that only the viewer in the unpacked folder has. */
const MARK = '<!-- of the unpacked folder -->';

describe('the release', { skip: !ARCHIVE && 'set GANOSIS_RELEASE to an archive of `cargo xtask release` (cargo xtask test does)' }, () => {
  let above;
  let folder;
  let chromium;
  const running = [];

  /** No variable of ours, and another home: what is found is found beside the program. */
  const environment = () => ({ PATH: '/usr/bin:/bin', HOME: above });
  const ganosis = (...args) => spawnSync('./ganosis', args, { cwd: folder, env: environment(), encoding: 'utf8' });

  async function open(path) {
    const child = spawn('./ganosis', ['open', path, '--no-browser', '--port', '0'], { cwd: folder, env: environment(), stdio: ['ignore', 'pipe', 'inherit'] });
    running.push(child);
    return new Promise((resolve, reject) => {
      createInterface({ input: child.stdout }).once('line', resolve);
      child.once('exit', (code) => reject(new Error(`ganosis open ended with ${code}`)));
    });
  }

  before(async () => {
    above = mkdtempSync(join(tmpdir(), 'ganosis-release-'));
    const { status, stderr } = spawnSync('tar', ['-xzf', ARCHIVE, '-C', above], { encoding: 'utf8' });
    assert.equal(status, 0, stderr);
    const [name, ...more] = readdirSync(above);
    assert.deepEqual(more, [], 'one folder');
    folder = join(above, name);
    appendFileSync(join(folder, 'viewer/index.html'), MARK);
    chromium = await browser('webgl2');
  });
  after(async () => {
    await chromium?.close();
    for (const child of running) child.kill('SIGTERM');
    if (above) rmSync(above, { recursive: true, force: true });
  });

  test('it holds the program, the viewer, a dossier, what to read, and licences', () => {
    assert.deepEqual(readdirSync(folder).sort(), ['LICENCES-OF-OTHERS.txt', 'LICENSE-APACHE', 'LICENSE-MIT', 'READ-ME.txt', 'demonstration', 'ganosis', 'viewer']);
    const others = readFileSync(join(folder, 'LICENCES-OF-OTHERS.txt'), 'utf8');
    const listed = others.split('\n\n')[1].split('\n');
    // Cargo's own list of what the program is made of.
    const tree = spawnSync('cargo', ['tree', '--package', 'ganosis-cli', '--edges', 'normal', '--prefix', 'none', '--format', '{p}', '--no-dedupe', '--locked'], { cwd: new URL('../..', import.meta.url).pathname, encoding: 'utf8' });
    assert.equal(tree.status, 0, tree.stderr);
    const wanted = new Set(tree.stdout.split('\n').filter((line) => line && !line.includes('(/')).map((line) => line.split(' ').slice(0, 2).join(' ').replace(' v', ' ')));
    assert.ok(wanted.size > 100, `${wanted.size} packages`);
    const names = new Set(listed.map((line) => line.split(': ')[0]));
    assert.deepEqual([...wanted].filter((name) => !names.has(name)), []);
    assert.deepEqual(listed.filter((line) => !/: \S/.test(line)), [], 'every package says its licence');
  });

  test('what the READ-ME says can be done, from a dossier to a page for a class', async () => {
    const read = readFileSync(join(folder, 'READ-ME.txt'), 'utf8');
    const checked = ganosis('check', 'demonstration');
    assert.equal(checked.status, 0, checked.stdout + checked.stderr);

    const index = await (await fetch(await open('demonstration'))).text();
    assert.ok(index.includes(MARK), 'the viewer is the one beside the program');

    assert.ok(read.includes('./ganosis publish demonstration --to class'));
    const published = ganosis('publish', 'demonstration', '--to', 'class');
    assert.equal(published.status, 0, published.stdout + published.stderr);
    // The page as the READ-ME has it.
    const page = read.slice(read.indexOf('<!doctype html>'), read.indexOf('</html>') + '</html>'.length);
    writeFileSync(join(folder, 'class/lesson.html'), page);
    const address = await open('class');
    const tab = await chromium.newPage({ viewport: { width: 900, height: 800 } });
    const failures = [];
    tab.on('pageerror', (error) => failures.push(error.message));
    await tab.goto(new URL('lesson.html', address).href);
    await tab.evaluate(() => document.querySelector('ganosis-view').ready);
    const pixels = await snapshot(tab, 120, 90);
    const colours = new Set();
    for (let at = 0; at < pixels.length; at += 4) colours.add(pixels.readUInt32BE(at));
    // Bare room has one colour.
    assert.ok(colours.size > 100, `${colours.size} colours: the object is drawn`);
    assert.deepEqual(failures, []);
    await tab.close();
  });
});
