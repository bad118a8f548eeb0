// A bare page on three.js, a general-purpose library: the mesh of a dossier, its colour images whole, and two states
// swiped by a shader, unlit. What the viewer is measured against, so it is written as its users would write it: no
// more is loaded before the first picture than that shows, images are decoded off the main thread, nothing is drawn
// that has not changed. The address says what is seen:
// `?dossier=/whole/&left=…&right=…&width=…&height=…&camera=x,y,z,azimuth,elevation,distance,fov`.
import {
  Color, Group, ImageBitmapLoader, LinearFilter, LinearMipmapLinearFilter, MathUtils, PerspectiveCamera, Raycaster, Scene, ShaderMaterial, SRGBColorSpace,
  Texture, Vector2, Vector3, WebGLRenderer,
} from 'three';
import { GLTFLoader } from 'three/addons/loaders/GLTFLoader.js';

/** More taps along the longer side of a slanted footprint: as sharp as graphics devices commonly go. */
const ANISOTROPY = 16;

const VERTEX = `
varying vec2 place;
void main() {
  place = uv;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;

/** Sampled in linear light (the textures are sRGB to the device), encoded once at the end. */
const FRAGMENT = `
uniform sampler2D left;
uniform sampler2D right;
uniform float divider_px;
varying vec2 place;
void main() {
  vec4 here = texture2D(left, place);
  vec4 there = texture2D(right, place);
  gl_FragColor = vec4(mix(here.rgb, there.rgb, clamp(gl_FragCoord.x - divider_px + 0.5, 0.0, 1.0)), 1.0);
  #include <colorspace_fragment>
}`;

const asked = new URLSearchParams(location.search);
const folder = new URL(asked.get('dossier') ?? '/whole/', location.href);
const canvas = document.querySelector('canvas');
const renderer = new WebGLRenderer({ canvas, antialias: true, powerPreference: 'high-performance' });
const [width, height] = [Number(asked.get('width')) || innerWidth, Number(asked.get('height')) || innerHeight];
renderer.setPixelRatio(devicePixelRatio);
renderer.setSize(width, height);
renderer.setClearColor(new Color(0x777777));

const scene = new Scene();
const camera = new PerspectiveCamera(27, width / height, 0.01, 10);
const orbit = { target: new Vector3(), azimuth_deg: 0, elevation_deg: 0, distance: 1 };

function place() {
  const [azimuth, elevation] = [MathUtils.degToRad(orbit.azimuth_deg), MathUtils.degToRad(orbit.elevation_deg)];
  const away = new Vector3(Math.sin(azimuth) * Math.cos(elevation), Math.sin(elevation), Math.cos(azimuth) * Math.cos(elevation));
  camera.position.copy(orbit.target).addScaledVector(away, orbit.distance);
  camera.near = orbit.distance / 100;
  camera.far = orbit.distance * 4;
  camera.lookAt(orbit.target);
  camera.updateProjectionMatrix();
}

let drawing = 0;
function draw() {
  drawing = 0;
  renderer.render(scene, camera);
}
function schedule() {
  if (drawing === 0) drawing = requestAnimationFrame(draw);
}

/** The material of each sheet, by the name of the material in the file. @type {Map<string, ShaderMaterial>} */
const materials = new Map();
function materialOf(sheet) {
  const known = materials.get(sheet);
  if (known) return known;
  const made = new ShaderMaterial({
    name: sheet, vertexShader: VERTEX, fragmentShader: FRAGMENT,
    uniforms: { left: { value: null }, right: { value: null }, divider_px: { value: 0 } },
  });
  materials.set(sheet, made);
  return made;
}

function setDivider(share) {
  for (const { uniforms } of materials.values()) uniforms.divider_px.value = share * width * devicePixelRatio;
}

const images = new ImageBitmapLoader();
// Code values as they are in the file.
images.setOptions({ colorSpaceConversion: 'none', premultiplyAlpha: 'none' });

/** @type {Map<string, Promise<Texture>>} */
const textures = new Map();
function textureOf(file) {
  let texture = textures.get(file);
  if (!texture) {
    texture = images.loadAsync(new URL(file, folder).href).then((image) => {
      const made = new Texture(image);
      // As glTF has it: the first row is the top one.
      made.flipY = false;
      made.colorSpace = SRGBColorSpace;
      made.generateMipmaps = true;
      made.minFilter = LinearMipmapLinearFilter;
      made.magFilter = LinearFilter;
      made.anisotropy = Math.min(ANISOTROPY, renderer.capabilities.getMaxAnisotropy());
      made.needsUpdate = true;
      return made;
    });
    textures.set(file, texture);
  }
  return texture;
}

const dossier = await (await fetch(new URL('dossier.json', folder))).json();
const imagesOf = (state) => dossier.layers.find(({ id }) => id === dossier.states.find((one) => one.id === state).layers[0]).images;
const sheets = new Map(dossier.surface.sheets.map(({ id, material }) => [id, material]));

/** Everything of a state on one side. */
async function show(state, side) {
  await Promise.all(imagesOf(state).map(async ({ sheet, file }) => {
    materialOf(sheets.get(sheet)).uniforms[side].value = await textureOf(file);
    schedule();
  }));
}

const [left, right] = [asked.get('left') ?? dossier.states[0].id, asked.get('right') ?? dossier.states[1].id];
const hidden = new Set((dossier.surface.parts ?? []).map(({ node }) => node));
const surface = new GLTFLoader().loadAsync(new URL(dossier.surface.file, folder).href).then((gltf) => {
  const object = new Group();
  object.add(gltf.scene);
  gltf.scene.traverse((node) => {
    // Parts belong to states of their own, none of which is shown here.
    if (hidden.has(node.name)) node.visible = false;
    if (node.isMesh) node.material = materialOf(node.material.name);
  });
  scene.add(object);
  const given = asked.get('camera')?.split(',').map(Number);
  if (given?.length === 7 && given.every(Number.isFinite)) {
    orbit.target.fromArray(given);
    [orbit.azimuth_deg, orbit.elevation_deg, orbit.distance, camera.fov] = given.slice(3);
  } else orbit.distance = 1;
  place();
  setDivider(Number(asked.get('position') ?? 0.5));
  schedule();
});

await Promise.all([surface, show(left, 'left'), show(right, 'right')]);
/** The other states, once the two that are seen are here: one after the other, ready to be turned to. */
const others = (async () => {
  for (const { id } of dossier.states) for (const { file } of imagesOf(id)) renderer.initTexture(await textureOf(file));
})();

/** For a script that measures. */
globalThis.bare = {
  settled: others.then(() => {}),
  /** Draws now. @param {{divider?: number, azimuth_deg?: number}} change */
  frame({ divider, azimuth_deg }) {
    if (divider !== undefined) setDivider(divider);
    if (azimuth_deg !== undefined) {
      orbit.azimuth_deg = azimuth_deg;
      place();
    }
    renderer.render(scene, camera);
  },
  /** Waits until it is drawn: reading needs the finished picture. */
  finished() {
    const gl = renderer.getContext();
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  },
  get azimuth_deg() { return orbit.azimuth_deg; },
  /** What a ray through a point of the picture meets: the material and the place on its sheet. @param {number} x @param {number} y CSS pixels */
  met(x, y) {
    const ray = new Raycaster();
    ray.setFromCamera(new Vector2((2 * x) / width - 1, 1 - (2 * y) / height), camera);
    const [first] = ray.intersectObjects(scene.children, true).filter(({ object }) => !hidden.has(object.name));
    return first?.uv ? { sheet: first.object.material.name, uv: first.uv.toArray() } : null;
  },
};
