// What a page holds of a WebGPU device, counted where the browser is asked for it: bytes of what was made and
// not destroyed. What is only forgotten counts too: a browser gives it back when it collects garbage, of whose
// size on the device it knows nothing.

/** Counts from the next page on. */
export const countHeld = (page) => page.addInitScript(() => {
  if (!('GPUDevice' in globalThis)) return;
  // Bytes a texel or a sample (WebGPU, 26.1.1 "texture format capabilities"; depth24plus as four, which devices take).
  const texel = { 'rgba8unorm-srgb': 4, rgba8unorm: 4, 'bgra8unorm-srgb': 4, bgra8unorm: 4, depth24plus: 4, r8unorm: 1, r16float: 2, r16uint: 2, rgba16sint: 8, rgba32float: 16 };
  const held = { textures: 0, geometry: 0, readbacks: 0 };
  globalThis.held = held;
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
    const { size, format, sampleCount = 1, mipLevelCount = 1 } = descriptor;
    const [width, height = 1, layers = 1] = Symbol.iterator in size ? [...size] : [size.width, size.height, size.depthOrArrayLayers];
    let bytes = 0;
    for (let level = 0; level < mipLevelCount; level++) bytes += Math.max(1, width >> level) * Math.max(1, height >> level);
    if (!(format in texel)) throw new Error(`how large is a texel of ${format}?`);
    return count(createTexture.call(this, descriptor), 'textures', bytes * layers * sampleCount * texel[format]);
  };
  GPUDevice.prototype.createBuffer = function (descriptor) {
    const made = createBuffer.call(this, descriptor);
    if (descriptor.usage & (GPUBufferUsage.VERTEX | GPUBufferUsage.INDEX)) return count(made, 'geometry', descriptor.size);
    if (descriptor.usage & GPUBufferUsage.MAP_READ) return count(made, 'readbacks', descriptor.size);
    return made;
  };
});

/** `{textures, geometry, readbacks}` in bytes. */
export const heldBy = (page) => page.evaluate(() => ({ ...globalThis.held }));
