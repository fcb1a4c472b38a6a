// What every test of the live sheet stands on: programs and pages that are opened, small jobs, and waiting for what a person would wait for.
//
//   const server = await serve(demoJob("mine"), ["--lan"]);
//   const page = await open(server.address);
//   await settled(page);

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";


const here = dirname(fileURLToPath(import.meta.url));
export const root = resolve(here, "../..");
export const option = (name) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : undefined);
export const binary = option("--binary") ?? join(root, "target/release/ringer");
export const shots = option("--shots");
const fromDisk = process.argv.includes("--from-disk");
const axe = readFileSync(join(here, "node_modules/axe-core/axe.min.js"), "utf8");
export const demo = join(root, "cases/demo");
export const scratch = mkdtempSync(join(tmpdir(), "ringer-browser-"));
/** The first fit of three photos takes seconds, on a busy machine many. */
export const SLOW = 60_000;

/** Servers that run; stopped by their own process at the end. */
export const servers = new Set();

export function serve(folder, words = []) {
  const child = spawn(binary, ["open", folder, ...words], { stdio: ["ignore", "ignore", "pipe"] });
  servers.add(child);
  return new Promise((done, fail) => {
    let told = "";
    child.stderr.on("data", (bytes) => {
      told += bytes;
      const address = told.match(/http:\/\/127\.0\.0\.1:\d+\/\?key=[0-9a-f]+/)?.[0];
      if (address) done({ child, address, port: Number(new URL(address).port), told: () => told });
    });
    child.on("exit", (code) => fail(new Error(`the program ended with ${code}: ${told}`)));
  });
}

export function stop(child) {
  child.removeAllListeners("exit");
  child.kill("SIGKILL");
  servers.delete(child);
}

/** As a crash would. */
export async function kill(server) {
  server.child.removeAllListeners("exit");
  const gone = new Promise((done) => server.child.once("exit", done));
  server.child.kill("SIGKILL");
  await gone;
  servers.delete(server.child);
}

export function folder(name) {
  const path = join(scratch, name);
  mkdirSync(path, { recursive: true });
  return path;
}

/** A small job that is made in no time: one chip photo for its colour, chips read otherwise, a run. */
export function smallJob(name) {
  const path = folder(name);
  mkdirSync(join(path, "photos"), { recursive: true });
  copyFileSync(join(demo, "photos/chips.jpg"), join(path, "photos/chips.jpg"));
  const text = readFileSync(join(demo, "job.toml"), "utf8");
  const parts = text.split(/\n(?=\[|# Trial)/).filter((part) => !/name = "(front|side|far)"/.test(part));
  writeFileSync(join(path, "job.toml"), parts.join("\n"));
  return path;
}

/** The demo job, whole. */
export function demoJob(name) {
  const path = folder(name);
  mkdirSync(join(path, "photos"), { recursive: true });
  for (const file of readdirSync(join(demo, "photos"))) copyFileSync(join(demo, "photos", file), join(path, "photos", file));
  copyFileSync(join(demo, "job.toml"), join(path, "job.toml"));
  return path;
}

/** The demo job made once, for the tests that look at it; each leaves the document as it was or says so. */
export let shared;
export async function sharedDemo() {
  if (!shared) {
    const path = demoJob("demo");
    shared = { path, server: await serve(path, ["--lan"]) };
  }
  return shared;
}

export const toml = (path) => readFileSync(join(path, "job.toml"), "utf8");
/** Waits for the document on disk, not for the page: what a person did must be there. */
export async function written(path, pattern, what = String(pattern)) {
  for (let n = 0; n < 200; n++) {
    if (pattern.test(existsSync(join(path, "job.toml")) ? toml(path) : "")) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  assert.fail(`job.toml has no ${what}:\n${existsSync(join(path, "job.toml")) ? toml(path) : "(no document)"}`);
}

export const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--enable-unsafe-swiftshader", "--use-angle=swiftshader", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"] });
/** Errors of any page; a test that leaves one fails. */
export const pageErrors = [];

export async function open(address, { width = 1440, height = 1000, phone = false, dark = false, offline = false } = {}) {
  const context = await browser.newContext({ viewport: { width, height }, hasTouch: phone, isMobile: phone, colorScheme: dark ? "dark" : "light", reducedMotion: "reduce" });
  const page = await context.newPage();
  page.setDefaultTimeout(15_000);
  page.on("pageerror", (error) => pageErrors.push(error.message));
  page.on("console", (message) => message.type() === "error" && !/Failed to load resource|net::ERR/.test(message.text()) && pageErrors.push(message.text()));
  page.on("request", (request) => new URL(request.url()).hostname.match(/^(127\.0\.0\.1|localhost)$/) || /^(data|blob):/.test(request.url()) || offline || pageErrors.push(`asked elsewhere: ${request.url()}`));
  if (fromDisk) await page.route("**/page/*", (route) => {
    const file = new URL(route.request().url()).pathname.slice(6);
    return route.fulfill({ path: join(root, "desk/page", file === "three.js" ? "vendor/three.js" : file) });
  });
  await page.goto(address);
  return page;
}

/** The sheet of what is on disk is there. */
export async function settled(page, timeout = SLOW) {
  await page.waitForFunction(() => !document.querySelector("#strip[data-busy]") && document.querySelector("#sheet > *") !== null && document.querySelector("#sheet > .first") === null, null, { timeout });
}

export async function shot(page, name) {
  if (!shots) return;
  mkdirSync(shots, { recursive: true });
  await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
}

/** WCAG 2.2 AA and axe-core's own advice. */
export async function noViolation(page, state, { pictures = true } = {}) {
  await page.evaluate(axe);
  // The pictures are the same at every width and many; looking into each of their lines once is enough.
  const found = await page.evaluate((pictures) => /** @type {any} */ (window).axe.run(pictures ? document : { exclude: ["figure svg"] }, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }), pictures);
  const words = found.violations.map((violation) => `${violation.id}: ${violation.help}\n      ${violation.nodes.slice(0, 3).map((node) => `${node.target} ${node.failureSummary?.split("\n")[1] ?? ""}`).join("\n      ")}`);
  assert.equal(words.length, 0, `${state}: axe-core finds\n    ${words.join("\n    ")}`);
}

/** Nothing is cut off sideways. */
export async function fits(page, state) {
  const over = await page.evaluate(() => {
    const wide = document.documentElement.clientWidth;
    const cut = [...document.querySelectorAll("body a, body button, body p, body li")].filter((e) => e.getClientRects().length && e.getBoundingClientRect().left < -1 && !e.closest(".skip, .large")).slice(0, 4).map((e) => `cut at the left: ${e.tagName} ${e.textContent}`);
    if (document.documentElement.scrollWidth <= wide) return cut;
    return [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > wide + 1 && !e.closest(".large, .photo-window, .skip, pre")).slice(0, 4).map((e) => `${e.tagName}.${e.getAttribute("class")} ${Math.round(e.getBoundingClientRect().right)}`);
  });
  assert.deepEqual(over, [], `${state}: wider than the window`);
}

export const fold = (page, station) => page.locator(`section#${station} details.slips > summary`).filter({ hasText: "Write on this section" });
export const field = (page, id) => page.locator(`#${id}`);

/** Writes into a field as a person does, and leaves it. */
export async function fill(page, id, text) {
  await field(page, id).fill(text);
  await field(page, id).press("Enter");
}

/** The picture is read, and the window has taken its shape. */
export async function photoReady(page) {
  await page.waitForFunction(() => document.querySelector(".photo-window")?.style.aspectRatio && document.querySelector(".photo-window img")?.style.width);
  await page.waitForTimeout(150);
}

/** Where a place of the photo is on the screen, by the picture's own transform. */
export async function onScreen(page, at) {
  const box = await page.locator(".photo-window").first().boundingBox();
  const seen = await page.locator(".photo-window img").first().evaluate((img) => {
    const matrix = new DOMMatrix(getComputedStyle(img).transform);
    return { left: matrix.e, top: matrix.f, scale: img.getBoundingClientRect().width / img.naturalWidth };
  });
  return [box.x + seen.left + at[0] * seen.scale, box.y + seen.top + at[1] * seen.scale];
}

export async function clickPhoto(page, at) {
  await page.locator(".photo-window").first().scrollIntoViewIfNeeded();
  const [x, y] = await onScreen(page, at);
  await page.mouse.click(x, y);
}

/** Tab until the focus is where it should be, as a person without a mouse. */
export async function tabTo(page, wanted, most = 400) {
  for (let n = 0; n < most; n++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate((selector) => document.activeElement?.matches(selector), wanted)) return;
  }
  assert.fail(`Tab never came to ${wanted}`);
}
