// What the page's body view uses of three.js (MIT). `npm ci && npm run bundle` writes three.js beside this file; the bundle is kept, so that
// nobody needs npm to build the program.
export { BackSide, Box3, DirectionalLight, HemisphereLight, MeshBasicMaterial, MeshStandardMaterial, PerspectiveCamera, Plane, Scene, Vector3, WebGLRenderer } from "three";
export { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
