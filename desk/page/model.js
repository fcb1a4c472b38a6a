// The body as three.js shows it: the bundle, the mesh in its two skins, the lights it may be seen under. Body view and photo share it.
//
//   const three = await bundle();
//   const model = await modelOf(three, desk);      // { group, skins, colour(hex) }

/** Where the bundle of three.js is served; made by vendor/package.json. @type {string} */
const BUNDLE = "/page/three.js";

/** @type {Promise<any> | null} */
let loading = null;

/** @returns {Promise<any>} the bundle, loaded once */
export function bundle() {
  loading ??= import(BUNDLE);
  return loading;
}

/** Tells one body in one state from another. @param {import("./desk.js").Desk} desk */
export function stateOf(desk) {
  return `${desk.known["result.body"] ?? ""} ${desk.known["result.profile"] ?? ""}`;
}

/**
 * Lights that the wanted colour can be seen under, the first as it is read.
 * @param {import("./desk.js").Desk} desk
 * @returns {{light: string, words: string, srgb: string}[]}
 */
export function lightsOf(desk) {
  const colour = desk.standing?.result?.colour;
  const lights = /** @type {any[]} */ (colour?.lights ?? []).map(({ light, words, srgb }) => ({ light, words, srgb }));
  return lights.length > 0 ? lights : [{ light: "", words: "as read", srgb: colour?.srgb ?? "#9a9a94" }];
}

/**
 * The body with its skin outside and, seen where it is cut open, hatched inside.
 * @param {any} three
 */
export async function modelOf(three) {
  const loaded = await new three.GLTFLoader().loadAsync("/out/part.glb");
  const group = loaded.scene;
  const front = new three.MeshStandardMaterial({ color: "#9a9a94", roughness: 0.55, metalness: 0 });
  const back = cutFace(three);
  const meshes = /** @type {any[]} */ ([]);
  group.traverse((/** @type {any} */ node) => node.isMesh && meshes.push(node));
  for (const mesh of meshes) {
    const inside = mesh.clone();
    mesh.material = front;
    inside.material = back;
    mesh.parent.add(inside);
  }
  return { group, skins: [front, back], colour: (/** @type {string} */ hex) => front.color.set(hex) };
}

/** The cut face: paper's shade, so that it reads as a section and not as a surface. */
const CUT = "#e6dcc4";

/**
 * Seen through the cut, the inside of a solid is the back of its skin: drawn flat and hatched at 45 degrees (ISO 128-3), it is the cut face.
 * @param {any} three
 */
function cutFace(three) {
  const face = new three.MeshBasicMaterial({ color: CUT, side: three.BackSide });
  face.onBeforeCompile = (/** @type {any} */ shader) => {
    const hatch = `float across = mod(gl_FragCoord.x - gl_FragCoord.y, 16.0 * ${devicePixelRatio.toFixed(2)});
      if (across < 1.8 * ${devicePixelRatio.toFixed(2)}) gl_FragColor.rgb = vec3(0.1, 0.09, 0.08);
      #include <dithering_fragment>`;
    shader.fragmentShader = shader.fragmentShader.replace("#include <dithering_fragment>", hatch);
  };
  return face;
}
