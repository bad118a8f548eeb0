// @ts-check
/**
 * Programs of WebGL 2 that are made while the page goes on. Who asks whether a program is made waits until it is, and
 * the viewer's library asks at once. Within `patiently` it is told no the first time, while the browser goes on making
 * it; once that is done (KHR_parallel_shader_compile says so, elsewhere a fence behind the making), the same sources
 * asked for again are that program.
 */

/** Those of each canvas. @type {WeakMap<HTMLCanvasElement, Programs>} */
const known = new WeakMap();

class Programs {
  patient = false;
  /** The program under way, the texts of its shaders, and a fence behind its making. @type {{program: WebGLProgram, texts: (string | undefined)[], fence: WebGLSync | null} | null} */
  #under_way = null;
  /** What the shaders that are asked for say. @type {WeakMap<WebGLShader, string>} */
  #texts = new WeakMap();
  /** Shaders of the program that is asked for now. @type {WebGLShader[]} */
  #asked = [];
  /** The program of which nobody is told yet. @type {WebGLProgram | null} */
  #untold = null;

  /** @param {WebGL2RenderingContext} gl */
  constructor(gl) {
    this.gl = gl;
    this.extension = gl.getExtension("KHR_parallel_shader_compile");
    /** What the context does by itself. */
    this.own = {
      createProgram: gl.createProgram.bind(gl), shaderSource: gl.shaderSource.bind(gl), compileShader: gl.compileShader.bind(gl),
      attachShader: gl.attachShader.bind(gl), linkProgram: gl.linkProgram.bind(gl),
      getShaderParameter: gl.getShaderParameter.bind(gl), getProgramParameter: gl.getProgramParameter.bind(gl),
      getShaderInfoLog: gl.getShaderInfoLog.bind(gl), getProgramInfoLog: gl.getProgramInfoLog.bind(gl),
    };
    gl.createProgram = () => this.#createProgram();
    gl.shaderSource = (shader, text) => this.#shaderSource(shader, text);
    gl.compileShader = (shader) => this.#compileShader(shader);
    gl.attachShader = (program, shader) => this.#attachShader(program, shader);
    gl.linkProgram = (program) => this.#linkProgram(program);
    gl.getShaderParameter = (shader, name) => (this.patient && name === gl.COMPILE_STATUS ? true : this.own.getShaderParameter(shader, name));
    gl.getShaderInfoLog = (shader) => (this.patient ? "" : this.own.getShaderInfoLog(shader));
    gl.getProgramParameter = (program, name) => (this.#untold === program && name === gl.LINK_STATUS ? false : this.own.getProgramParameter(program, name));
    gl.getProgramInfoLog = (program) => (this.#untold === program ? "not yet" : this.own.getProgramInfoLog(program));
  }

  /** Whether a program is still being made; a lost context makes none. */
  get beingMade() {
    const made = this.#under_way;
    if (!made || this.gl.isContextLost()) return false;
    if (this.extension) return !this.own.getProgramParameter(made.program, this.extension.COMPLETION_STATUS_KHR);
    return made.fence !== null && this.gl.getSyncParameter(made.fence, this.gl.SYNC_STATUS) !== this.gl.SIGNALED;
  }

  #createProgram() {
    this.#asked = [];
    this.#untold = null;
    // What was under way is most likely what is asked for now; if not, it gets other shaders.
    return (this.patient && this.#under_way?.program) || this.own.createProgram();
  }

  /** @param {WebGLShader} shader @param {string} text */
  #shaderSource(shader, text) {
    if (this.patient) this.#texts.set(shader, text);
    else this.own.shaderSource(shader, text);
  }

  /** @param {WebGLShader} shader */
  #compileShader(shader) {
    if (!this.patient) this.own.compileShader(shader);
  }

  /** @param {WebGLProgram} program @param {WebGLShader} shader */
  #attachShader(program, shader) {
    if (this.patient) this.#asked.push(shader);
    else this.own.attachShader(program, shader);
  }

  /** @param {WebGLProgram} program */
  #linkProgram(program) {
    if (!this.patient) return this.own.linkProgram(program);
    const texts = this.#asked.map((shader) => this.#texts.get(shader));
    const made = this.#under_way;
    this.#under_way = null;
    if (made?.fence) this.gl.deleteSync(made.fence);
    if (made?.program === program) {
      if (made.texts.length === texts.length && made.texts.every((text, i) => text === texts[i])) return;
      for (const shader of this.gl.getAttachedShaders(program) ?? []) this.gl.detachShader(program, shader);
    }
    for (const shader of this.#asked) {
      this.own.shaderSource(shader, this.#texts.get(shader) ?? "");
      this.own.compileShader(shader);
      this.own.attachShader(program, shader);
    }
    this.own.linkProgram(program);
    const fence = this.extension ? null : this.gl.fenceSync(this.gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    if (fence) this.gl.flush();
    this.#under_way = { program, texts, fence };
    this.#untold = program;
  }

  /** A context that was lost knows nothing of before. */
  forget() {
    this.#under_way = null;
    this.#untold = null;
  }
}

/** From now on programs of this canvas can be made while the page goes on. @param {HTMLCanvasElement} canvas @param {WebGL2RenderingContext} gl */
export function watchPrograms(canvas, gl) {
  const before = known.get(canvas);
  if (before) return before.forget();
  known.set(canvas, new Programs(gl));
}

/** Does what may need new programs, for which it is not waited: what needs them fails, and works once they are made. @template T @param {HTMLCanvasElement} canvas @param {() => T} work */
export function patiently(canvas, work) {
  const programs = known.get(canvas);
  if (!programs) return work();
  programs.patient = true;
  try {
    return work();
  } finally {
    programs.patient = false;
  }
}

/** Whether a program is being made for which it is worth waiting. @param {HTMLCanvasElement} canvas */
export const programsAreBeingMade = (canvas) => known.get(canvas)?.beingMade ?? false;
