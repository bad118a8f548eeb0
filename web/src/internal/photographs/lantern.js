// @ts-check
/**
 * Throws the photograph onto the surface, over the viewer's picture: each place that the camera saw gets
 * its pixel, by the lens as it was found, distortion and all. What lay hidden from the camera gets none;
 * that is told by a picture of depths from where it stood. Seen through its own lens, the whole photograph
 * is there, with its distortion taken out.
 */
import { html } from "../dom.js";
import { sentenceOf } from "../errors.js";
import { shownIn } from "../looks.js";
import { roomsIn } from "../panes.js";
import { basisOf, inverse, isThere } from "./seeing.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../tripod/types.d.ts").Geometry} Geometry */
/** @typedef {import("./shot.js").Shot} Shot */
/** @typedef {{photo: WebGLTexture, depths: WebGLTexture, frame: WebGLFramebuffer, vertices: WebGLVertexArrayObject, range: [number, number]}} Made */

/** Side of the picture of depths. */
const DEPTHS_PX = 2048;
/** Depths nearer than this share of the farthest are cut: 24 bits then keep steps far below a texel. */
const NEAREST = 0.01;
/** The eye is in the camera where it is nearer than this share of the distance to the object. */
const SAME_PLACE = 2e-4;

const DEPTH_VERTEX = `#version 300 es
in vec3 place;
uniform mat3 turn; uniform vec3 shift; uniform vec2 low; uniform vec2 high; uniform vec2 range;
void main() {
  vec3 c = turn * place + shift;
  vec2 at = (c.xy - low * c.z) / (high - low) * 2.0 - c.z;
  float deep = ((range.y + range.x) * c.z - 2.0 * range.y * range.x) / (range.y - range.x);
  gl_Position = vec4(at, deep, c.z);
}`;
const DEPTH_FRAGMENT = `#version 300 es
precision highp float;
void main() {}`;

/** Pixel of a direction by D. C. Brown and A. E. Conrady, as crates/imaging/src/lens.rs has it; and the light there. */
const LENS = `
uniform mat3 turn; uniform vec3 shift;
uniform vec2 focal; uniform vec2 centre; uniform vec2 size; uniform float fold_r2;
uniform vec3 radial; uniform vec3 below; uniform vec2 decentring;
uniform sampler2D photo; uniform float opacity;
vec2 pixel_of(vec2 n) {
  float r2 = dot(n, n);
  float above = 1.0 + r2 * (radial.x + r2 * (radial.y + r2 * radial.z));
  float under = 1.0 + r2 * (below.x + r2 * (below.y + r2 * below.z));
  vec2 aside = vec2(2.0 * decentring.x * n.x * n.y + decentring.y * (r2 + 2.0 * n.x * n.x),
                    decentring.x * (r2 + 2.0 * n.y * n.y) + 2.0 * decentring.y * n.x * n.y);
  return (n * above / under + aside) * focal + centre;
}
vec3 encoded(vec3 light) {
  return mix(1.055 * pow(light, vec3(1.0 / 2.4)) - 0.055, light * 12.92, vec3(lessThanEqual(light, vec3(0.0031308))));
}
bool seen(vec3 c, out vec2 at) {
  at = vec2(0.0);
  if (c.z <= 0.0) return false;
  vec2 n = c.xy / c.z;
  if (dot(n, n) >= fold_r2) return false;
  at = pixel_of(n) / size;
  return all(greaterThanEqual(at, vec2(0.0))) && all(lessThanEqual(at, vec2(1.0)));
}
vec4 shown(vec2 at) { return vec4(encoded(texture(photo, at).rgb), 1.0) * opacity; }`;

const THROW_VERTEX = `#version 300 es
in vec3 place;
uniform mat4 clip;
out vec3 here;
void main() {
  here = place;
  vec4 p = clip * vec4(place, 1.0);
  gl_Position = vec4(p.xy, 2.0 * p.z - p.w, p.w);
}`;
const THROW_FRAGMENT = `#version 300 es
precision highp float;
in vec3 here;
out vec4 colour;
uniform vec3 eye; uniform vec3 stand; uniform vec2 low; uniform vec2 high; uniform vec2 range;
uniform vec4 cut;
uniform highp sampler2D depths;
${LENS}
void main() {
  if (dot(cut.xyz, here) > cut.w) discard;
  colour = vec4(0.0);
  vec3 c = turn * here + shift;
  vec2 at;
  if (!seen(c, at)) return;
  vec3 normal = normalize(cross(dFdx(here), dFdy(here)));
  if (dot(normal, eye - here) < 0.0) normal = -normal;
  float facing = dot(normal, normalize(stand - here));
  if (facing <= 0.01) return;
  // A texel of depths stands for a place of its own size, which on a slope is a depth.
  float texel = c.z * max(high.x - low.x, high.y - low.y) / ${DEPTHS_PX}.0;
  float slack = texel * (1.0 + 1.5 * sqrt(1.0 - facing * facing) / facing) + 1e-4 * c.z;
  vec2 on = (c.xy / c.z - low) / (high - low);
  float told = texture(depths, on).r * 2.0 - 1.0;
  float nearest = 2.0 * range.y * range.x / (range.y + range.x - told * (range.y - range.x));
  if (nearest < c.z - slack) return;
  colour = shown(at);
}`;

const WHOLE_VERTEX = `#version 300 es
uniform mat4 unclip; uniform vec3 eye;
out vec3 ray;
void main() {
  vec2 p = vec2(float((gl_VertexID << 1) & 2), float(gl_VertexID & 2)) * 2.0 - 1.0;
  vec4 far = unclip * vec4(p, 1.0, 1.0);
  ray = far.xyz / far.w - eye;
  gl_Position = vec4(p, 0.0, 1.0);
}`;
const WHOLE_FRAGMENT = `#version 300 es
precision highp float;
in vec3 ray;
out vec4 colour;
${LENS}
void main() {
  vec2 at;
  if (!seen(turn * ray, at)) discard;
  colour = shown(at);
}`;

/** @type {WeakMap<object, Lantern>} */
const lanterns = new WeakMap();

/** Throws what the shot holds from now on. @param {Context} ctx @param {Shot} shot @param {() => Promise<Geometry>} geometry */
export function lantern(ctx, shot, geometry) {
  const known = lanterns.get(ctx.stage);
  const made = known ?? new Lantern(ctx, shot, geometry);
  made.ctx = ctx;
  lanterns.set(ctx.stage, made);
  ctx.stage.thrown = shot;
  made.refresh();
  return made;
}

class Lantern {
  canvas = html("canvas", { class: "lantern", "aria-hidden": "true", hidden: true });
  /** Why nothing is thrown, in a sentence. */
  trouble = "";
  /** @type {WebGL2RenderingContext | null} */
  #gl = null;
  /** @type {Geometry | null} */
  #geometry = null;
  #asked = false;
  /** @type {ReturnType<typeof programsOf> | null} */
  #programs = null;
  /** @type {Made | null} */
  #made = null;
  /** What the photograph's texture and the depths are of. */
  #image = /** @type {ImageBitmap | null} */ (null);
  #depths_of = "";
  #drawn = "";

  /** @param {Context} ctx @param {Shot} shot @param {() => Promise<Geometry>} geometry */
  constructor(ctx, shot, geometry) {
    this.ctx = ctx;
    this.shot = shot;
    this.fetch = geometry;
    const { stage } = ctx;
    stage.captions.element.before(this.canvas);
    shot.changed.add(() => this.refresh());
    stage.framed.add((panes) => {
      try {
        this.#draw(panes);
      } catch (error) {
        this.#fail(sentenceOf(error));
      }
    });
    this.canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.#forget();
    });
    this.canvas.addEventListener("webglcontextrestored", () => this.refresh());
    ctx.signal.addEventListener("abort", () => this.#gl?.getExtension("WEBGL_lose_context")?.loseContext(), { once: true });
  }

  #forget() {
    this.#programs = null;
    this.#made = null;
    this.#image = null;
    this.#depths_of = "";
    this.#drawn = "";
  }

  refresh() {
    const { placed, shows } = this.shot;
    this.canvas.hidden = !(placed && shows.photo && shows.opacity > 0 && this.trouble === "");
    if (this.canvas.hidden) return;
    if (!this.#geometry && !this.#asked) {
      this.#asked = true;
      void this.fetch().then((geometry) => {
        this.#geometry = geometry;
        this.refresh();
      }, () => { this.#asked = false; });
    }
    this.#drawn = "";
    // A frame of the viewer's that shows nothing new still calls.
    this.ctx.stage.schedule();
  }

  /** The whole photograph is seen: the eye is where the camera was. @param {ArrayLike<number>} eye */
  #is_through(eye) {
    const stand = this.shot.placed?.frame.centre_m ?? [0, 0, 0];
    const { target_m } = this.ctx.view().camera;
    const from = (/** @type {ArrayLike<number>} */ other) => Math.hypot(...stand.map((one, axis) => one - (other[axis] ?? 0)));
    return from(eye) < SAME_PLACE * from(target_m);
  }

  /** @param {import("../panes.js").Pane[]} panes */
  #draw(panes) {
    const { placed, picture, shows } = this.shot;
    const { ctx } = this;
    if (this.canvas.hidden || !placed || !picture || !this.#geometry || ctx.signal.aborted) return;
    const view = ctx.view();
    const projection = ctx.handle.projection();
    const { width, height } = ctx.stage.size;
    if (!view || !projection || width === 0 || height === 0) return;
    const ratio = window.devicePixelRatio;
    const now = JSON.stringify([width, height, ratio, panes, Array.from(projection.view_projection), shows, view.section, shownIn(view)]);
    if (now === this.#drawn) return;
    const gl = this.#gl ?? this.#begin();
    if (!gl) return;
    this.#programs ??= programsOf(gl);
    const programs = this.#programs;
    this.#prepare(gl, view);
    const made = this.#made;
    if (!programs || !made) return;
    const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (this.canvas.width !== w || this.canvas.height !== h) Object.assign(this.canvas, { width: w, height: h });
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.disable(gl.SCISSOR_TEST);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.SCISSOR_TEST);
    const through = this.#is_through(projection.eye);
    for (const [x, y, across, down] of roomsIn(panes, ctx.stage.size)) {
      const room = /** @type {[number, number, number, number]} */ ([x * ratio, h - (y + down) * ratio, across * ratio, down * ratio].map(Math.round));
      gl.viewport(...room);
      gl.scissor(...room);
      if (through) this.#whole(gl, programs.whole, made, projection);
      else this.#surface(gl, programs.thrown, made, projection, view);
    }
    this.canvas.toggleAttribute("data-through", through);
    this.#drawn = now;
  }

  #begin() {
    this.#gl = this.canvas.getContext("webgl2", { antialias: true, premultipliedAlpha: true });
    if (!this.#gl) this.#fail(this.ctx.t("photographs.no_lantern"));
    return this.#gl;
  }

  /** The rest goes on without. @param {string} why */
  #fail(why) {
    this.trouble = why;
    this.canvas.hidden = true;
    this.shot.tell();
  }

  /** Uploads what is new, and draws the depths where the pose is. @param {WebGL2RenderingContext} gl @param {import("../../types.d.ts").View} view */
  #prepare(gl, view) {
    const { picture, placed } = this.shot;
    const geometry = this.#geometry;
    if (!picture || !placed || !geometry || !this.#programs) return;
    const made = this.#made ??= allocate(gl, geometry);
    if (this.#image !== picture.image) {
      this.#image = picture.image;
      gl.bindTexture(gl.TEXTURE_2D, made.photo);
      gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, false);
      gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.SRGB8_ALPHA8, gl.RGBA, gl.UNSIGNED_BYTE, picture.image);
      gl.generateMipmap(gl.TEXTURE_2D);
    }
    const there = this.#spans(view);
    const { pose } = placed.posed;
    const of = JSON.stringify([pose, placed.frame.min, placed.frame.max, there]);
    if (of === this.#depths_of) return;
    this.#depths_of = of;
    made.range = rangeOf(geometry, pose);
    const program = this.#programs.depth;
    gl.useProgram(program.program);
    gl.bindFramebuffer(gl.FRAMEBUFFER, made.frame);
    gl.disable(gl.SCISSOR_TEST);
    gl.viewport(0, 0, DEPTHS_PX, DEPTHS_PX);
    gl.enable(gl.DEPTH_TEST);
    gl.clear(gl.DEPTH_BUFFER_BIT);
    this.#pose(gl, program, made);
    gl.bindVertexArray(made.vertices);
    for (const [first, count] of there) gl.drawElements(gl.TRIANGLES, count, gl.UNSIGNED_INT, first * 4);
  }

  /** First corner and number of corners of what is there in the view. @param {import("../../types.d.ts").View} view @returns {[number, number][]} */
  #spans(view) {
    const { document, states } = this.ctx.dossier;
    const shown = shownIn(view).filter((id) => states.has(id));
    return (this.#geometry?.spans ?? []).filter(({ nodes, count }) => count > 0 && isThere(nodes, document, shown)).map(({ first, count }) => [first, count]);
  }

  /** Where the camera stood. @param {WebGL2RenderingContext} gl @param {Program} program @param {Made} made */
  #pose(gl, { at }, made) {
    const { posed, frame } = /** @type {NonNullable<Shot["placed"]>} */ (this.shot.placed);
    const { rotation: r, translation_m } = posed.pose;
    // Column-major.
    gl.uniformMatrix3fv(at("turn"), false, [0, 1, 2].flatMap((column) => [0, 1, 2].map((row) => r[row]?.[column] ?? 0)));
    gl.uniform3fv(at("shift"), translation_m);
    gl.uniform2fv(at("low"), frame.min);
    gl.uniform2fv(at("high"), frame.max);
    gl.uniform2fv(at("range"), made.range);
  }

  /** @param {WebGL2RenderingContext} gl @param {Program} program @param {Made} made */
  #lens(gl, program, made) {
    const { at } = program;
    const { posed: { lens }, frame } = /** @type {NonNullable<Shot["placed"]>} */ (this.shot.placed);
    const { picture, shows } = this.shot;
    const d = lens.distortion;
    this.#pose(gl, program, made);
    gl.uniform2fv(at("focal"), lens.focal_px);
    gl.uniform2fv(at("centre"), lens.centre_px);
    // What is left over where it was shrunk is not in the picture.
    const { shrunk = 1, shown_width = 1, shown_height = 1 } = picture ?? {};
    gl.uniform2f(at("size"), shown_width * shrunk, shown_height * shrunk);
    gl.uniform1f(at("fold_r2"), frame.fold_r2 ?? 1e30);
    gl.uniform3f(at("radial"), d?.k1 ?? 0, d?.k2 ?? 0, d?.k3 ?? 0);
    gl.uniform3f(at("below"), d?.k4 ?? 0, d?.k5 ?? 0, d?.k6 ?? 0);
    gl.uniform2f(at("decentring"), d?.p1 ?? 0, d?.p2 ?? 0);
    gl.uniform1f(at("opacity"), shows.opacity);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, made.photo);
    gl.uniform1i(at("photo"), 0);
  }

  /** @param {WebGL2RenderingContext} gl @param {Program} program @param {Made} made @param {import("../projecting.js").Projection} projection @param {import("../../types.d.ts").View} view */
  #surface(gl, program, made, projection, view) {
    const { at } = program;
    gl.useProgram(program.program);
    this.#lens(gl, program, made);
    gl.uniformMatrix4fv(at("clip"), false, Float32Array.from(projection.view_projection));
    gl.uniform3fv(at("eye"), Float32Array.from(projection.eye));
    gl.uniform3fv(at("stand"), this.shot.placed?.frame.centre_m ?? [0, 0, 0]);
    gl.uniform4fv(at("cut"), this.#cut(view));
    gl.activeTexture(gl.TEXTURE1);
    gl.bindTexture(gl.TEXTURE_2D, made.depths);
    gl.uniform1i(at("depths"), 1);
    gl.activeTexture(gl.TEXTURE0);
    gl.enable(gl.DEPTH_TEST);
    gl.disable(gl.BLEND);
    gl.bindVertexArray(made.vertices);
    for (const [first, count] of this.#spans(view)) gl.drawElements(gl.TRIANGLES, count, gl.UNSIGNED_INT, first * 4);
  }

  /** @param {WebGL2RenderingContext} gl @param {Program} program @param {Made} made @param {import("../projecting.js").Projection} projection */
  #whole(gl, program, made, projection) {
    const back = inverse(projection.view_projection);
    if (!back) return;
    gl.useProgram(program.program);
    this.#lens(gl, program, made);
    gl.uniformMatrix4fv(program.at("unclip"), false, Float32Array.from(back));
    gl.uniform3fv(program.at("eye"), Float32Array.from(projection.eye));
    gl.disable(gl.DEPTH_TEST);
    gl.disable(gl.BLEND);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  /** The plane that cuts the object open, as the viewer has it: normal, and how far along it things are kept. @param {import("../../types.d.ts").View} view */
  #cut({ section }) {
    const middle = this.ctx.first_camera()?.target_m;
    if (!section || !middle) return [0, 0, 0, 1];
    const { up = [0, 1, 0], front = [0, 0, 1] } = this.ctx.dossier.document.object?.orientation ?? {};
    const basis = basisOf({ up, front });
    const [azimuth, elevation] = [section.azimuth_deg, section.elevation_deg].map((angle) => (angle * Math.PI) / 180);
    const [a, e] = [azimuth ?? 0, elevation ?? 0];
    const normal = [0, 1, 2].map((axis) => ((basis.right[axis] ?? 0) * Math.sin(a) + (basis.front[axis] ?? 0) * Math.cos(a)) * Math.cos(e) + (basis.up[axis] ?? 0) * Math.sin(e));
    const offset = section.position * this.ctx.handle.radius_m() + normal.reduce((sum, one, axis) => sum + one * (middle[axis] ?? 0), 0);
    return [...normal, offset];
  }
}

/** @typedef {{program: WebGLProgram, at: (name: string) => WebGLUniformLocation | null}} Program */

/** @param {WebGL2RenderingContext} gl */
function programsOf(gl) {
  return {
    depth: linked(gl, DEPTH_VERTEX, DEPTH_FRAGMENT), thrown: linked(gl, THROW_VERTEX, THROW_FRAGMENT), whole: linked(gl, WHOLE_VERTEX, WHOLE_FRAGMENT),
  };
}

/** @param {WebGL2RenderingContext} gl @param {string} vertex @param {string} fragment @returns {Program} */
function linked(gl, vertex, fragment) {
  const program = gl.createProgram();
  for (const [kind, text] of /** @type {[number, string][]} */ ([[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]])) {
    const shader = gl.createShader(kind);
    if (!shader) continue;
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) throw new Error(gl.getShaderInfoLog(shader) ?? "a shader does not compile");
    gl.attachShader(program, shader);
  }
  gl.bindAttribLocation(program, 0, "place");
  gl.linkProgram(program);
  /** @type {Map<string, WebGLUniformLocation | null>} */
  const places = new Map();
  const at = (/** @type {string} */ name) => {
    const known = places.get(name);
    if (known !== undefined) return known;
    const place = gl.getUniformLocation(program, name);
    places.set(name, place);
    return place;
  };
  return { program, at };
}

/** @param {WebGL2RenderingContext} gl @param {Geometry} geometry */
function allocate(gl, { positions, corners }) {
  const photo = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, photo);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_LINEAR);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  const depths = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, depths);
  gl.texStorage2D(gl.TEXTURE_2D, 1, gl.DEPTH_COMPONENT24, DEPTHS_PX, DEPTHS_PX);
  for (const [name, value] of /** @type {[number, number][]} */ ([[gl.TEXTURE_MIN_FILTER, gl.NEAREST], [gl.TEXTURE_MAG_FILTER, gl.NEAREST], [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE]])) gl.texParameteri(gl.TEXTURE_2D, name, value);
  const frame = gl.createFramebuffer();
  gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.TEXTURE_2D, depths, 0);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  const vertices = gl.createVertexArray();
  gl.bindVertexArray(vertices);
  gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ARRAY_BUFFER, positions, gl.STATIC_DRAW);
  gl.enableVertexAttribArray(0);
  gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, corners, gl.STATIC_DRAW);
  return { photo, depths, frame, vertices, range: /** @type {[number, number]} */ ([0.01, 1]) };
}

/** Nearest and farthest depth before the camera, with room. @param {Geometry} geometry @param {import("../tripod/types.d.ts").Pose} pose @returns {[number, number]} */
function rangeOf({ positions }, { rotation, translation_m }) {
  const [a = 0, b = 0, c = 0] = rotation[2] ?? [];
  const d = translation_m[2];
  let [least, most] = [Infinity, 0];
  for (let at = 0; at < positions.length; at += 3) {
    const z = a * (positions[at] ?? 0) + b * (positions[at + 1] ?? 0) + c * (positions[at + 2] ?? 0) + d;
    if (z > most) most = z;
    if (z > 0 && z < least) least = z;
  }
  const far = 1.01 * (most || 1);
  return [Math.max(0.99 * (Number.isFinite(least) ? least : 0), NEAREST * far), far];
}
