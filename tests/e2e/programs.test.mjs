// Programs of WebGL 2 made while the page goes on: what the browser itself says of them, and what they draw.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { writeDossier } from './fixture.mjs';
import { browser } from './harness.mjs';
import { MODULES, serveSite } from './site.mjs';

describe('programs of WebGL 2', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-programs-'));
  let site, chromium, page;

  before(async () => {
    writeDossier(folder);
    site = await serveSite({ dossier: folder, modules: MODULES });
    chromium = await browser('webgl2');
    page = await chromium.newPage();
    await page.goto(site.address('dossier/'));
    await page.evaluate(async () => {
      const { watchPrograms, patiently, programsAreBeingMade } = await import('/modules/programs.js');
      const canvas = document.createElement('canvas');
      const gl = canvas.getContext('webgl2', { preserveDrawingBuffer: true });
      /** What the browser was asked in earnest. */
      const asked = [];
      for (const name of ['compileShader', 'linkProgram', 'getProgramParameter', 'getShaderParameter']) {
        const own = gl[name].bind(gl);
        gl[name] = (...given) => {
          if (given[1] !== 0x91b1) asked.push(name);
          return own(...given);
        };
      }
      watchPrograms(canvas, gl);
      const vertex = '#version 300 es\nvoid main() { gl_Position = vec4(vec2(gl_VertexID & 1, gl_VertexID >> 1) * 4.0 - 1.0, 0.0, 1.0); }';
      const fragment = (colour) => `#version 300 es\nprecision highp float; out vec4 seen; void main() { seen = vec4(${colour}, 1.0); }`;
      /** As a library makes a program and asks at once; the program, or why there is none. */
      const make = (text) => {
        const program = gl.createProgram();
        const shaders = [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, text]].map(([kind, source]) => {
          const shader = gl.createShader(kind);
          gl.shaderSource(shader, source);
          gl.compileShader(shader);
          if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
          return shader;
        });
        for (const shader of shaders) gl.attachShader(program, shader);
        gl.linkProgram(program);
        for (const shader of shaders) gl.deleteShader(shader);
        return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : gl.getProgramInfoLog(program);
      };
      const drawn = (program) => {
        gl.useProgram(program);
        gl.drawArrays(gl.TRIANGLES, 0, 3);
        const pixel = new Uint8Array(4);
        gl.readPixels(10, 10, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
        return [...pixel];
      };
      const made = async () => {
        while (programsAreBeingMade(canvas)) await new Promise(requestAnimationFrame);
      };
      const patient = (text) => patiently(canvas, () => make(text));
      Object.assign(globalThis, { gl, canvas, asked, fragment, make, drawn, made, patient, programsAreBeingMade });
    });
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  test('nobody waits for one, and the same asked for again is that one', async () => {
    const found = await page.evaluate(async () => {
      const first = patient(fragment('1.0, 0.0, 0.0'));
      const asked_first = asked.splice(0);
      await made();
      const program = patient(fragment('1.0, 0.0, 0.0'));
      return { first, asked_first, asked_then: asked.splice(0), pixel: drawn(program), error: gl.getError() };
    });
    assert.equal(found.first, 'not yet');
    assert.deepEqual(found.asked_first.toSorted(), ['compileShader', 'compileShader', 'linkProgram'], 'nothing is asked that waits');
    assert.deepEqual(found.asked_then, ['getProgramParameter'], 'it is not made twice');
    assert.deepEqual([found.pixel, found.error], [[255, 0, 0, 255], 0]);
  });

  test('another one asked for meanwhile takes its place', async () => {
    const found = await page.evaluate(async () => {
      const told = [patient(fragment('0.0, 1.0, 0.0')), patient(fragment('0.0, 0.0, 1.0'))];
      await made();
      const pixel = drawn(patient(fragment('0.0, 0.0, 1.0')));
      const green = patient(fragment('0.0, 1.0, 0.0'));
      await made();
      return { told, pixel, green, again: drawn(patient(fragment('0.0, 1.0, 0.0'))), error: gl.getError() };
    });
    assert.deepEqual(found, { told: ['not yet', 'not yet'], pixel: [0, 0, 255, 255], green: 'not yet', again: [0, 255, 0, 255], error: 0 });
  });

  test('who does not ask patiently gets it at once, even while another is being made', async () => {
    const found = await page.evaluate(async () => {
      const told = patient(fragment('1.0, 1.0, 0.0'));
      const at_once = drawn(make(fragment('1.0, 0.0, 1.0')));
      await made();
      return { told, at_once, then: drawn(patient(fragment('1.0, 1.0, 0.0'))), error: gl.getError() };
    });
    assert.deepEqual(found, { told: 'not yet', at_once: [255, 0, 255, 255], then: [255, 255, 0, 255], error: 0 });
  });

  test('one that cannot be made says why, and a lost context makes none', async () => {
    const found = await page.evaluate(async () => {
      const told = patient(fragment('nonsense'));
      await made();
      const why = patient(fragment('nonsense'));
      patient(fragment('0.5, 0.5, 0.5'));
      gl.getExtension('WEBGL_lose_context').loseContext();
      return { told, why: typeof why, made: !programsAreBeingMade(canvas) };
    });
    assert.deepEqual(found, { told: 'not yet', why: 'string', made: true });
  });
});
