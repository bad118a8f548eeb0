// What a page holds of a graphics device, counted where the browser is asked for it: bytes of what was made and not
// destroyed. On WebGPU what is only forgotten counts too: a browser gives it back when it collects garbage, of whose size
// on the device it knows nothing. The canvas itself is the browser's own and does not count.

/** Counts from the next page on. */
export const countHeld = (page) => page.addInitScript(() => {
  const held = { textures: 0, geometry: 0, readbacks: 0, others: 0 };
  globalThis.held_of_device = held;
  const sizes = (width, height, depth, levels, shrinks) => {
    let texels = 0;
    for (let level = 0; level < levels; level++) texels += Math.max(1, width >> level) * Math.max(1, height >> level) * (shrinks ? Math.max(1, depth >> level) : depth);
    return texels;
  };
  if ('GPUDevice' in globalThis) {
    // Bytes a texel or a sample (WebGPU, 26.1.1 "texture format capabilities"; depth24plus as four, which devices take).
    const texel = { 'rgba8unorm-srgb': 4, rgba8unorm: 4, 'bgra8unorm-srgb': 4, bgra8unorm: 4, depth24plus: 4, r8unorm: 1, r16float: 2, r16uint: 2, rgba16sint: 8, rgba32float: 16 };
    const count = (made, kind, bytes) => {
      held[kind] += bytes;
      const destroy = made.destroy.bind(made);
      let here = true;
      made.destroy = () => {
        if (here) held[kind] -= bytes;
        here = false;
        destroy();
      };
      return made;
    };
    const { createTexture, createBuffer } = GPUDevice.prototype;
    GPUDevice.prototype.createTexture = function (descriptor) {
      const { size, format, sampleCount = 1, mipLevelCount = 1, dimension } = descriptor;
      const [width, height = 1, layers = 1] = Symbol.iterator in size ? [...size] : [size.width, size.height, size.depthOrArrayLayers];
      if (!(format in texel)) throw new Error(`how large is a texel of ${format}?`);
      return count(createTexture.call(this, descriptor), 'textures', sizes(width, height, layers, mipLevelCount, dimension === '3d') * sampleCount * texel[format]);
    };
    GPUDevice.prototype.createBuffer = function (descriptor) {
      const kind = descriptor.usage & (GPUBufferUsage.VERTEX | GPUBufferUsage.INDEX) ? 'geometry' : descriptor.usage & GPUBufferUsage.MAP_READ ? 'readbacks' : 'others';
      return count(createBuffer.call(this, descriptor), kind, descriptor.size);
    };
  }
  if (!('WebGL2RenderingContext' in globalThis)) return;
  const gl = WebGL2RenderingContext.prototype;
  // Bytes a texel of sized formats (OpenGL ES 3.0, table 3.13; depth of 24 bits as four).
  const texel = new Map([[gl.RGBA8, 4], [gl.SRGB8_ALPHA8, 4], [gl.R8, 1], [gl.RG8, 2], [gl.R16F, 2], [gl.R16UI, 2], [gl.RGBA16I, 8], [gl.RGBA16F, 8], [gl.RGBA32F, 16], [gl.R32F, 4], [gl.DEPTH_COMPONENT24, 4], [gl.DEPTH24_STENCIL8, 4], [gl.DEPTH_COMPONENT32F, 4], [gl.RGB10_A2, 4], [gl.R32UI, 4], [gl.RGBA8UI, 4]]);
  const bytes_a_texel = (format) => {
    if (!texel.has(format)) throw new Error(`how large is a texel of 0x${format.toString(16)}?`);
    return texel.get(format);
  };
  /** What each object takes, by kind; made anew it takes the new size. */
  const known = new WeakMap();
  const set = (made, kind, bytes) => {
    if (!made) return;
    const before = known.get(made);
    if (before) held[before.kind] -= before.bytes;
    known.set(made, { kind, bytes });
    held[kind] += bytes;
  };
  const after = (name, then) => {
    const own = gl[name];
    gl[name] = function (...given) {
      const result = own.apply(this, given);
      then(this, ...given);
      return result;
    };
  };
  const bound = new Map([[gl.TEXTURE_2D, gl.TEXTURE_BINDING_2D], [gl.TEXTURE_2D_ARRAY, gl.TEXTURE_BINDING_2D_ARRAY], [gl.TEXTURE_3D, gl.TEXTURE_BINDING_3D], [gl.TEXTURE_CUBE_MAP, gl.TEXTURE_BINDING_CUBE_MAP]]);
  const buffers = new Map([[gl.ARRAY_BUFFER, gl.ARRAY_BUFFER_BINDING], [gl.ELEMENT_ARRAY_BUFFER, gl.ELEMENT_ARRAY_BUFFER_BINDING], [gl.UNIFORM_BUFFER, gl.UNIFORM_BUFFER_BINDING], [gl.PIXEL_PACK_BUFFER, gl.PIXEL_PACK_BUFFER_BINDING], [gl.PIXEL_UNPACK_BUFFER, gl.PIXEL_UNPACK_BUFFER_BINDING], [gl.COPY_READ_BUFFER, gl.COPY_READ_BUFFER_BINDING], [gl.COPY_WRITE_BUFFER, gl.COPY_WRITE_BUFFER_BINDING]]);
  const faces = (target) => (target === gl.TEXTURE_CUBE_MAP ? 6 : 1);
  after('texStorage2D', (context, target, levels, format, width, height) => set(context.getParameter(bound.get(target)), 'textures', faces(target) * sizes(width, height, 1, levels, false) * bytes_a_texel(format)));
  after('texStorage3D', (context, target, levels, format, width, height, depth) => set(context.getParameter(bound.get(target)), 'textures', sizes(width, height, depth, levels, target === gl.TEXTURE_3D) * bytes_a_texel(format)));
  for (const name of ['texImage2D', 'texImage3D']) after(name, () => { throw new Error(`${name} is not counted`); });
  after('renderbufferStorage', (context, target, format, width, height) => set(context.getParameter(gl.RENDERBUFFER_BINDING), 'textures', width * height * bytes_a_texel(format)));
  after('renderbufferStorageMultisample', (context, target, samples, format, width, height) => set(context.getParameter(gl.RENDERBUFFER_BINDING), 'textures', Math.max(1, samples) * width * height * bytes_a_texel(format)));
  after('bufferData', (context, target, given, usage, from, length) => {
    const bytes = typeof given === 'number' ? given : (length || (given.length ?? given.byteLength) - (from ?? 0)) * (given.BYTES_PER_ELEMENT ?? 1);
    const kind = target === gl.PIXEL_PACK_BUFFER ? 'readbacks' : target === gl.ARRAY_BUFFER || target === gl.ELEMENT_ARRAY_BUFFER ? 'geometry' : 'others';
    set(context.getParameter(buffers.get(target)), kind, bytes);
  });
  for (const name of ['deleteTexture', 'deleteBuffer', 'deleteRenderbuffer']) after(name, (context, made) => set(made, known.get(made)?.kind ?? 'others', 0));
});

/** `{textures, geometry, readbacks, others}` in bytes. */
export const heldBy = (page) => page.evaluate(() => ({ ...globalThis.held_of_device }));
