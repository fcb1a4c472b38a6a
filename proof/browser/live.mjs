// The live sheet in a browser: each flow as a person does it, by mouse, by keyboard, by phone, in two windows, over a kill; then what axe-core
// says of every state, and how long a drag takes. Prints "N passed, N failed" last.
//
//   node live.mjs [--binary FILE] [--from-disk] [--only WORDS] [--shots FOLDER]
//
// --from-disk takes the page's modules from desk/page instead of those built into the binary; --shots keeps a picture of each state.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const here = dirname(fileURLToPath(import.meta.url));
const root = resolve(here, "../..");
const option = (name) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : undefined);
const binary = option("--binary") ?? join(root, "target/release/ringer");
const shots = option("--shots");
const fromDisk = process.argv.includes("--from-disk");
const axe = readFileSync(join(here, "node_modules/axe-core/axe.min.js"), "utf8");
const demo = join(root, "cases/demo");
const scratch = mkdtempSync(join(tmpdir(), "ringer-browser-"));
/** The first fit of three photos takes seconds, on a busy machine many. */
const SLOW = 60_000;

/** Servers that run; stopped by their own process at the end. */
const servers = new Set();

function serve(folder, words = []) {
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

function stop(child) {
  child.removeAllListeners("exit");
  child.kill("SIGKILL");
  servers.delete(child);
}

/** As a crash would. */
async function kill(server) {
  server.child.removeAllListeners("exit");
  const gone = new Promise((done) => server.child.once("exit", done));
  server.child.kill("SIGKILL");
  await gone;
  servers.delete(server.child);
}

function folder(name) {
  const path = join(scratch, name);
  mkdirSync(path, { recursive: true });
  return path;
}

/** A small job that is made in no time: one chip photo for its colour, chips read otherwise, a run. */
function smallJob(name) {
  const path = folder(name);
  mkdirSync(join(path, "photos"), { recursive: true });
  copyFileSync(join(demo, "photos/chips.jpg"), join(path, "photos/chips.jpg"));
  const text = readFileSync(join(demo, "job.toml"), "utf8");
  const parts = text.split(/\n(?=\[|# Trial)/).filter((part) => !/name = "(front|side|far)"/.test(part));
  writeFileSync(join(path, "job.toml"), parts.join("\n"));
  return path;
}

/** The demo job, whole. */
function demoJob(name) {
  const path = folder(name);
  mkdirSync(join(path, "photos"), { recursive: true });
  for (const file of readdirSync(join(demo, "photos"))) copyFileSync(join(demo, "photos", file), join(path, "photos", file));
  copyFileSync(join(demo, "job.toml"), join(path, "job.toml"));
  return path;
}

/** The demo job made once, for the tests that look at it; each leaves the document as it was or says so. */
let shared;
async function sharedDemo() {
  if (!shared) {
    const path = demoJob("demo");
    shared = { path, server: await serve(path, ["--lan"]) };
  }
  return shared;
}

const toml = (path) => readFileSync(join(path, "job.toml"), "utf8");
/** Waits for the document on disk, not for the page: what a person did must be there. */
async function written(path, pattern, what = String(pattern)) {
  for (let n = 0; n < 200; n++) {
    if (pattern.test(existsSync(join(path, "job.toml")) ? toml(path) : "")) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  assert.fail(`job.toml has no ${what}:\n${existsSync(join(path, "job.toml")) ? toml(path) : "(no document)"}`);
}

const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--enable-unsafe-swiftshader", "--use-angle=swiftshader", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"] });
/** Errors of any page; a test that leaves one fails. */
let pageErrors = [];

async function open(address, { width = 1440, height = 1000, phone = false, dark = false, offline = false } = {}) {
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
async function settled(page, timeout = SLOW) {
  await page.waitForFunction(() => !document.querySelector("#strip[data-busy]") && document.querySelector("#sheet > *") !== null && document.querySelector("#sheet > .first") === null, null, { timeout });
}

async function shot(page, name) {
  if (!shots) return;
  mkdirSync(shots, { recursive: true });
  await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
}

/** WCAG 2.2 AA and axe-core's own advice. */
async function noViolation(page, state, { pictures = true } = {}) {
  await page.evaluate(axe);
  // The pictures are the same at every width and many; looking into each of their lines once is enough.
  const found = await page.evaluate((pictures) => /** @type {any} */ (window).axe.run(pictures ? document : { exclude: ["figure svg"] }, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }), pictures);
  const words = found.violations.map((violation) => `${violation.id}: ${violation.help}\n      ${violation.nodes.slice(0, 3).map((node) => `${node.target} ${node.failureSummary?.split("\n")[1] ?? ""}`).join("\n      ")}`);
  assert.equal(words.length, 0, `${state}: axe-core finds\n    ${words.join("\n    ")}`);
}

/** Nothing is cut off sideways. */
async function fits(page, state) {
  const over = await page.evaluate(() => {
    const wide = document.documentElement.clientWidth;
    const cut = [...document.querySelectorAll("body a, body button, body p, body li")].filter((e) => e.getClientRects().length && e.getBoundingClientRect().left < -1 && !e.closest(".skip, .large")).slice(0, 4).map((e) => `cut at the left: ${e.tagName} ${e.textContent}`);
    if (document.documentElement.scrollWidth <= wide) return cut;
    return [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > wide + 1 && !e.closest(".large, .photo-window, .skip, pre")).slice(0, 4).map((e) => `${e.tagName}.${e.getAttribute("class")} ${Math.round(e.getBoundingClientRect().right)}`);
  });
  assert.deepEqual(over, [], `${state}: wider than the window`);
}

const fold = (page, station) => page.locator(`section#${station} details.slips > summary`).filter({ hasText: "Write on this section" });
const field = (page, id) => page.locator(`#${id}`);

/** Writes into a field as a person does, and leaves it. */
async function fill(page, id, text) {
  await field(page, id).fill(text);
  await field(page, id).press("Enter");
}

const tests = [];
const test = (name, work) => tests.push([name, work]);

test("an empty folder offers to start; nothing is written before", async () => {
  const path = folder("empty");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByRole("heading", { name: "Nothing is on this sheet yet" }).waitFor();
  await noViolation(page, "empty");
  await shot(page, "empty-1440");
  // The demo job's sheet comes as an example; the folder stays empty.
  await page.locator("section#sizes figure").first().waitFor({ timeout: SLOW });
  await noViolation(page, "empty, with the example", { pictures: false });
  await shot(page, "example-1440");
  assert.deepEqual(readdirSync(path), []);
  await page.getByRole("button", { name: "Start this job" }).click();
  await page.getByText("A job needs a name").waitFor();
  assert.deepEqual(readdirSync(path), []);
  await kill(server);
});

test("from an empty folder to a printed job sheet, by mouse", async () => {
  const path = folder("mouse");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByLabel("What is made, for which machine?").fill("Focus knob");
  await page.getByLabel("The rod it sits on").fill("6 mm");
  await page.getByRole("button", { name: "Start this job" }).click();
  await written(path, /title = "Focus knob"/);
  await settled(page);
  await shot(page, "started-1440");
  await noViolation(page, "started");
  await fold(page, "evidence").click();
  await fill(page, "evidence-known-0-value", "1/4 in");
  await written(path, /value = "1\/4 in"/);
  await field(page, "photo-file").setInputFiles(join(demo, "photos/front.jpg"));
  await written(path, /file = "photos\/front.jpg"/);
  await written(path, /shaft = "shaft"/);
  await settled(page);
  // Two clicks on the picture: the pixel of the photo is where the window's transform puts it.
  await page.getByText("Photo front: marks, edges, likeness").click();
  await photoReady(page);
  await page.getByRole("button", { name: "Mark axis", exact: true }).click();
  await clickPhoto(page, [550, 840]);
  await clickPhoto(page, [1130, 700]);
  await written(path, /axis = \[\[5[45]\d(\.\d)?, 8[34]\d(\.\d)?\], \[11[23]\d(\.\d)?, (69|70)\d(\.\d)?\]\]/, "axis where it was clicked");
  await page.getByRole("button", { name: "Mark grey patch" }).click();
  for (const at of [[552, 195], [158, 261], [134, 148], [525, 87]]) await clickPhoto(page, at);
  await written(path, /neutral = \{ ?polygon = \[\[55\d/, "grey patch");
  await settled(page);
  assert.match(await page.locator("section#outline .head .answer").textContent(), /1 photo/);
  assert.ok((await page.locator("section#sizes figure").count()) > 0, "no ruler was drawn");
  await page.getByText("Print or take files").click();
  const pdf = await page.request.get(new URL(await page.getByRole("link", { name: "Job sheet: A4" }).getAttribute("href"), server.address).href);
  const bytes = await pdf.body();
  assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
  assert.ok(bytes.length > 20_000, `the printed sheet has only ${bytes.length} bytes`);
  await shot(page, "mouse-1440");
  await kill(server);
});

/** The picture is read, and the window has taken its shape. */
async function photoReady(page) {
  await page.waitForFunction(() => document.querySelector(".photo-window")?.style.aspectRatio && document.querySelector(".photo-window img")?.style.width);
  await page.waitForTimeout(150);
}

/** Where a place of the photo is on the screen, by the picture's own transform. */
async function onScreen(page, at) {
  const box = await page.locator(".photo-window").first().boundingBox();
  const seen = await page.locator(".photo-window img").first().evaluate((img) => {
    const matrix = new DOMMatrix(getComputedStyle(img).transform);
    return { left: matrix.e, top: matrix.f, scale: img.getBoundingClientRect().width / img.naturalWidth };
  });
  return [box.x + seen.left + at[0] * seen.scale, box.y + seen.top + at[1] * seen.scale];
}

async function clickPhoto(page, at) {
  await page.locator(".photo-window").first().scrollIntoViewIfNeeded();
  const [x, y] = await onScreen(page, at);
  await page.mouse.click(x, y);
}

/** Tab until the focus is where it should be, as a person without a mouse. */
async function tabTo(page, wanted, most = 400) {
  for (let n = 0; n < most; n++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate((selector) => document.activeElement?.matches(selector), wanted)) return;
  }
  assert.fail(`Tab never came to ${wanted}`);
}

test("the same by keyboard alone", async () => {
  const path = folder("keys");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByRole("heading", { name: "Nothing is on this sheet yet" }).waitFor();
  await tabTo(page, "#start-title");
  const seen = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  assert.notEqual(seen, "none", "focus is not seen");
  await page.keyboard.type("Knob by keys");
  await tabTo(page, "#start-rod");
  await page.keyboard.type("6 mm");
  await page.keyboard.press("Enter");
  await written(path, /title = "Knob by keys"/);
  await settled(page);
  await tabTo(page, "section#evidence details.slips > summary");
  await page.keyboard.press("Enter");
  await tabTo(page, "#evidence-known-0-value");
  await page.keyboard.press("Control+A");
  await page.keyboard.type("1/4 in");
  await page.keyboard.press("Enter");
  await written(path, /value = "1\/4 in"/);
  // The system's file dialog is out of a page's hands; its outcome is put in.
  await tabTo(page, "#photo-file");
  await field(page, "photo-file").setInputFiles(join(demo, "photos/front.jpg"));
  await written(path, /file = "photos\/front.jpg"/);
  await settled(page);
  await tabTo(page, "section#outline .photo-tables summary");
  await page.keyboard.press("Enter");
  await photoReady(page);
  for (let n = 0; n < 40 && !(await page.evaluate(() => document.activeElement?.textContent === "Mark axis")); n++) await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  // Two places by arrows and Enter: from the middle of the picture (800, 600), steps of 2 screen px.
  const scale = await page.locator(".photo-window img").evaluate((img) => img.getBoundingClientRect().width / img.naturalWidth);
  const go = async (from, to) => {
    for (const [key, by] of [[to[0] > from[0] ? "ArrowRight" : "ArrowLeft", Math.abs(to[0] - from[0])], [to[1] > from[1] ? "ArrowDown" : "ArrowUp", Math.abs(to[1] - from[1])]]) {
      for (let n = Math.round((by * scale) / 20); n > 0; n--) await page.keyboard.press(`Shift+${key}`);
    }
    await page.keyboard.press("Enter");
  };
  await go([800, 600], [550, 840]);
  await go([550, 840], [1130, 700]);
  await written(path, /axis = \[\[5[3-6]\d/, "axis");
  await settled(page);
  // A handle is moved by arrow keys, and that is one step of undo.
  const before = toml(path).match(/^axis = .*$/m)[0];
  await page.locator("[data-handle='0']").focus();
  for (let n = 0; n < 3; n++) await page.keyboard.press("ArrowRight");
  await page.waitForTimeout(800);
  await settled(page);
  assert.notEqual(toml(path).match(/^axis = .*$/m)[0], before);
  await page.keyboard.press("Control+z");
  await written(path, new RegExp(before.replace(/[[\].]/g, "\\$&")), "the axis as it was");
  await settled(page);
  assert.match(await page.locator("section#outline .head .answer").textContent(), /1 photo/);
  await page.keyboard.press("Control+Home");
  await page.locator("body").press("Home");
  await page.evaluate(() => /** @type {HTMLElement} */ (document.activeElement)?.blur());
  await tabTo(page, "#prints > summary");
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  const printed = await page.evaluate(() => document.activeElement?.getAttribute("href"));
  assert.equal(printed, "/out/sheet.pdf");
  const bytes = await (await page.request.get(new URL(printed, server.address).href)).body();
  assert.equal(bytes.subarray(0, 5).toString(), "%PDF-");
  await kill(server);
});

test("a size is taken on the ruler and given back, by button and by blade", async () => {
  const { path, server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  await shot(page, "demo-1440");
  // A size with a runner-up: taking what the odds take already would show nothing.
  const name = await page.evaluate(() => [...document.querySelectorAll(".candidates")].find((group) => group.querySelectorAll("button").length > 1)?.getAttribute("aria-label").replace("Round sizes for ", ""));
  assert.ok(name, "no size has a runner-up");
  const group = page.getByRole("group", { name: `Round sizes for ${name}`, exact: true });
  const second = group.getByRole("button").nth(1);
  const label = (await second.textContent()).replace(/\s*(under|over)?\s*\d+ %$/, "").trim();
  await second.click();
  await written(path, new RegExp(`name = "${name}"\\s+choose = "${label.replace("/", "\\/")}"`), `choose ${label}`);
  await settled(page);
  await group.getByRole("button", { pressed: true }).filter({ hasText: label }).waitFor();
  await shot(page, "taken-1440");
  await group.getByRole("button", { pressed: true }).click();
  await page.waitForFunction(() => !document.querySelector(".candidates [aria-pressed=true]"));
  assert.doesNotMatch(toml(path), /choose/);
  await settled(page);
  // The tallest blade: the ruler's own drawing says where it is.
  const figure = page.locator("section#sizes figure").filter({ has: group });
  const blade = figure.locator("div.wide svg path[stroke-width='0.9']").first();
  const at = await blade.boundingBox();
  await page.mouse.click(at.x + at.width / 2, at.y + at.height / 2);
  await written(path, /choose = /, "a size taken by its blade");
  await page.locator("#undo").click();
  await settled(page);
  assert.doesNotMatch(toml(path), /choose/);
});

test("undo and redo, over a kill in mid-edit", async () => {
  const path = smallJob("undo");
  let server = await serve(path);
  let page = await open(server.address);
  await settled(page);
  const before = toml(path);
  await fold(page, "run").click();
  await fill(page, "run-run-wanted", "31");
  await written(path, /wanted = 31/);
  await page.locator("#undo").click();
  await written(path, /wanted = 24/);
  assert.equal(toml(path), before, "undo did not bring back the very text");
  await page.locator("#redo").click();
  await written(path, /wanted = 31/);
  // The kill comes while the next change is on its way: it is there whole, or not at all.
  await field(page, "run-run-wanted").fill("32");
  const sent = page.waitForRequest("**/api/edit");
  await field(page, "run-run-wanted").press("Enter");
  await sent;
  await kill(server);
  assert.match(toml(path).match(/^wanted.*$/m)?.[0] ?? "no line", /wanted = 3[12]$/);
  await page.getByText("The program does not answer").waitFor();
  await shot(page, "gone-1440");
  server = await serve(path);
  page = await open(server.address);
  await settled(page);
  for (let n = 0; n < 3 && !/wanted = 24/.test(toml(path)); n++) {
    await page.locator("#undo").click();
    await page.waitForTimeout(300);
  }
  assert.equal(toml(path), before, "undo over a restart did not bring back the very text");
  await kill(server);
});

test("two windows: changes merge, a clash is shown, nothing is lost", async () => {
  const path = smallJob("windows");
  const server = await serve(path);
  const [one, two] = [await open(server.address), await open(server.address)];
  await Promise.all([settled(one), settled(two)]);
  await fold(one, "run").click();
  await fold(two, "evidence").click();
  await fill(one, "run-run-wanted", "40");
  await fill(two, "evidence--title", "Second window");
  await written(path, /title = "Second window"/);
  await written(path, /wanted = 40/);
  // Each window hears of the other.
  await one.getByRole("heading", { name: "Second window" }).waitFor();
  await two.waitForFunction(() => document.querySelector("section#run .head")?.textContent?.includes("start"));
  // What is being typed outlives news from the other window.
  await field(one, "run-run-wanted").fill("41");
  await fill(two, "evidence--maker", "bench 2");
  await one.getByText("made by bench 2").waitFor();
  assert.equal(await field(one, "run-run-wanted").inputValue(), "41", "typing was lost to a redraw");
  // The same line changed by hand while this window still shows the old one.
  let letGo = () => {};
  const held = new Promise((done) => (letGo = done));
  await one.route("**/api/job", async (route) => {
    await held;
    await route.continue();
  });
  writeFileSync(join(path, "job.toml"), toml(path).replace("wanted = 40", "wanted = 50"));
  const answered = one.waitForResponse("**/api/edit");
  await field(one, "run-run-wanted").press("Enter");
  await answered;
  letGo();
  await one.locator("#news.trouble").filter({ hasText: "50" }).waitFor();
  assert.match(toml(path), /wanted = 50/, "the other's change was written over");
  await settled(one);
  await shot(one, "clash-1440");
  // Having seen both, the person may insist.
  assert.equal(await field(one, "run-run-wanted").inputValue(), "41", "the clash took away what was typed");
  await field(one, "run-run-wanted").press("Enter");
  await written(path, /wanted = 41/);
  await kill(server);
});

test("a wrong line is refused beside its field, a broken document is told and recovers", async () => {
  const path = smallJob("wrong");
  const server = await serve(path);
  const page = await open(server.address);
  await settled(page);
  const before = toml(path);
  await fold(page, "run").click();
  await fill(page, "run-run-wanted", "many");
  await page.locator("#news.trouble").waitFor();
  assert.equal(await field(page, "run-run-wanted").getAttribute("aria-invalid"), "true");
  assert.equal(toml(path), before);
  writeFileSync(join(path, "job.toml"), `${before}\n[nonsense`);
  await page.locator("#problems:not([hidden])").waitFor();
  assert.match(await page.locator("#problems").textContent(), /job\.toml:\d+:\d+/);
  await noViolation(page, "error");
  await shot(page, "error-1440");
  writeFileSync(join(path, "job.toml"), before);
  await page.locator("#problems[hidden]").waitFor({ state: "attached" });
  await kill(server);
});

test("long work is told, stopped and taken up again", async () => {
  const path = demoJob("stop");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByRole("status").filter({ hasText: "Working it out:" }).waitFor();
  await page.getByText("The sheet is being made for the first time").waitFor();
  await noViolation(page, "busy");
  await shot(page, "busy-1440");
  await page.getByRole("button", { name: "Stop" }).click();
  await page.getByText("Stopped before the first sheet was made").waitFor();
  await shot(page, "stopped-1440");
  await page.getByRole("button", { name: "Make it" }).click();
  await settled(page);
  assert.ok((await page.locator("section.station").count()) >= 8);
  await kill(server);
});

test("every state passes axe-core, by day, at night, at 200 %, on a phone; nothing is cut", async () => {
  const { server } = await sharedDemo();
  for (const [name, options] of [["1440", { width: 1440 }], ["1024", { width: 1024, height: 768 }], ["720-as-200", { width: 720 }], ["390", { width: 390, height: 844, phone: true }], ["night-1440", { width: 1440, dark: true }]]) {
    const page = await open(server.address, options);
    await settled(page);
    await shot(page, `finished-${name}`);
    await fits(page, name);
    for (const summary of await page.locator("details > summary").all()) if (await summary.isVisible()) await summary.evaluate((element) => element.parentElement.setAttribute("open", ""));
    await page.waitForTimeout(400);
    await fits(page, `${name}, all open`);
    // Everything open is everything to be looked at; pictures, the same at every width, once.
    if (/1440|390/.test(name)) await noViolation(page, `all open ${name}`, { pictures: name === "1440" });
    await shot(page, `open-${name}`);
    await page.context().close();
  }
});

test("the bench view: off unless asked for, then by the key alone; drops are counted", async () => {
  const path = smallJob("bench");
  let server = await serve(path);
  let page = await open(server.address);
  assert.equal((await page.request.get(`http://127.0.0.1:${server.port}/bench`)).status(), 404);
  await settled(page);
  assert.equal(await page.locator("#phone").count(), 0, "a code for phones is shown though none is let in");
  await kill(server);
  server = await serve(path, ["--lan"]);
  assert.equal((await fetch(`http://127.0.0.1:${server.port}/bench`)).status, 401);
  page = await open(server.address);
  await page.getByText("Take the sheet to the bench by phone").click();
  await page.getByRole("img", { name: "Code that opens the bench view" }).waitFor();
  page = await open(server.address.replace("/?", "/bench?"), { width: 390, height: 844, phone: true });
  const tap = page.locator(".tap").first();
  await tap.waitFor({ timeout: SLOW });
  const wanted = Number((await tap.textContent()).match(/of (\d+)/)[1]);
  for (let n = 0; n < wanted; n++) await tap.tap();
  assert.match(await tap.textContent(), new RegExp(`^${wanted} of ${wanted}$`));
  assert.equal(await page.locator("li:has(.tap) input").first().isChecked(), true);
  await page.reload();
  await page.locator("li:has(.tap) input").first().waitFor();
  assert.equal(await page.locator("li:has(.tap) input").first().isChecked(), true, "ticks are gone after a reload");
  await tap.tap();
  assert.match(await tap.textContent(), /1 too many/);
  await field(page, "bench-photo").setInputFiles(join(demo, "photos/far.jpg"));
  await written(path, /file = "photos\/far.jpg"/, "photo taken at the bench");
  await fits(page, "bench");
  await noViolation(page, "bench");
  await shot(page, "bench-390");
  await kill(server);
});

test("the body is turned, cut open and seen under another light, by keys", async () => {
  const { server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  await page.getByText("Turn the body").click();
  const canvas = page.locator("canvas.body-view");
  await canvas.scrollIntoViewIfNeeded();
  await page.waitForTimeout(1500);
  const looks = [await canvas.screenshot()];
  await canvas.focus();
  for (const key of ["ArrowLeft", "c"]) {
    await page.keyboard.press(key);
    await page.waitForTimeout(200);
    looks.push(await canvas.screenshot(shots ? { path: join(shots, `body-${key}.png`) } : {}));
  }
  assert.ok(!looks[0].equals(looks[1]) && !looks[1].equals(looks[2]), "the body does not move");
  await page.getByLabel("Seen under").selectOption("A");
  await page.waitForTimeout(200);
  assert.ok(!looks[2].equals(await canvas.screenshot()), "another light shows the same colour");
  assert.equal(await page.locator("section#body .told").first().textContent(), "");
});

test("photos are dropped on the sheet; what is no photo is refused", async () => {
  const path = smallJob("drop");
  const server = await serve(path);
  const page = await open(server.address);
  await settled(page);
  const drop = async (name, type, bytes) => {
    const files = await page.evaluateHandle(([name, type, text]) => {
      const data = new DataTransfer();
      data.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], name, { type }));
      return data;
    }, [name, type, bytes.toString("base64")]);
    await page.dispatchEvent("#sheet", "dragover", { dataTransfer: files });
    assert.ok(await page.locator("#sheet.over").count(), "nothing shows where a photo may be dropped");
    await page.dispatchEvent("#sheet", "drop", { dataTransfer: files });
  };
  await drop("far.jpg", "image/jpeg", readFileSync(join(demo, "photos/far.jpg")));
  await written(path, /file = "photos\/far.jpg"/);
  await page.getByText("Photo far: marks, edges, likeness").waitFor();
  assert.deepEqual(readFileSync(join(path, "photos/far.jpg")), readFileSync(join(demo, "photos/far.jpg")), "the photo was changed");
  // A flat part's photo is squared up by a length on a ruler: its size is written, its ends are clicked.
  await settled(page);
  await page.getByText("Photo far: marks, edges, likeness").click();
  await photoReady(page);
  await page.getByLabel("For a flat part").fill("50 mm");
  await page.getByRole("button", { name: "Mark a known ruler" }).click();
  for (const at of [[300, 200], [900, 240]]) await clickPhoto(page, at);
  await written(path, /square = \{ ?ruler = \[\[\d+/, "a ruler on the photo");
  await settled(page);
  const before = toml(path);
  await drop("notes.jpg", "image/jpeg", Buffer.from("not a picture"));
  await page.locator("#news.trouble").filter({ hasText: "notes.jpg" }).waitFor();
  assert.equal(toml(path), before);
  await kill(server);
});

test("two fingers zoom the photo, one pans it, nothing is written", async () => {
  const { path, server } = await sharedDemo();
  const before = toml(path);
  const page = await open(server.address, { width: 390, height: 844, phone: true });
  await settled(page);
  await page.getByText("Photo side: marks, edges, likeness").click();
  await photoReady(page);
  await page.locator(".photo-window").evaluate((window) => window.scrollIntoView({ block: "center" }));
  // Fingers are put down where the picture is, not where it was before it was scrolled to.
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  const box = await page.locator(".photo-window").boundingBox();
  const seen = () => page.locator(".photo-window img").evaluate((img) => {
    const { width, left } = img.getBoundingClientRect();
    return { width, left: left - img.parentElement.getBoundingClientRect().left };
  });
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const cdp = await page.context().newCDPSession(page);
  const touch = (type, ...places) => cdp.send("Input.dispatchTouchEvent", { type, touchPoints: places.map(([x, y], id) => ({ x, y, id })) });
  const first = await seen();
  await touch("touchStart", [x - 30, y], [x + 30, y]);
  for (let n = 1; n <= 6; n++) await touch("touchMove", [x - 30 - 10 * n, y], [x + 30 + 10 * n, y]);
  await touch("touchEnd");
  await page.waitForFunction((width) => document.querySelector(".photo-window img").getBoundingClientRect().width > 2 * width, first.width);
  const near = await seen();
  assert.ok(Math.abs(near.width / first.width - 3) < 0.3, `fingers three times as far apart made the photo ${(near.width / first.width).toFixed(2)} times as large`);
  await touch("touchStart", [x, y]);
  for (let n = 1; n <= 5; n++) await touch("touchMove", [x - 8 * n, y]);
  await touch("touchEnd");
  await page.waitForFunction((left) => {
    const img = document.querySelector(".photo-window img");
    return img.getBoundingClientRect().left - img.parentElement.getBoundingClientRect().left < left - 25;
  }, near.left);
  assert.equal(toml(path), before);
  // Last: a picture of the whole page moves what fingers were meant for.
  await shot(page, "pinch-390");
});

test("the body lies over the photo where the fit says", async () => {
  const { server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  await page.getByText("Photo front: marks, edges, likeness").click();
  await photoReady(page);
  const frame = page.locator(".photo-window");
  await frame.evaluate((window) => window.scrollIntoView({ block: "center" }));
  const slide = (value) => page.locator(".sliders input").first().evaluate((input, value) => {
    input.value = value;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }, value);
  const bare = await frame.screenshot();
  await slide("1");
  await page.locator("canvas.likeness-body:not([hidden])[width]").waitFor();
  let over = bare;
  for (let n = 0; n < 40 && over.equals(bare); n++) {
    await page.waitForTimeout(100);
    over = await frame.screenshot(shots ? { path: join(shots, "likeness-1440.png") } : {});
  }
  const painted = await page.evaluate(async (pictures) => {
    const [a, b] = await Promise.all(pictures.map(async (text) => {
      const img = new Image();
      img.src = `data:image/png;base64,${text}`;
      await img.decode();
      const canvas = new OffscreenCanvas(img.width, img.height).getContext("2d");
      canvas.drawImage(img, 0, 0);
      return canvas.getImageData(0, 0, img.width, img.height);
    }));
    // Rows and columns in which more changed than the edges of lines that are drawn anew.
    const rows = new Array(a.height).fill(0);
    const columns = new Array(a.width).fill(0);
    for (let k = 0; k < a.data.length; k += 4) {
      if (Math.abs(a.data[k] - b.data[k]) + Math.abs(a.data[k + 1] - b.data[k + 1]) + Math.abs(a.data[k + 2] - b.data[k + 2]) < 12) continue;
      rows[Math.floor(k / 4 / a.width)] += 1;
      columns[(k / 4) % a.width] += 1;
    }
    const ends = (counts) => [counts.findIndex((n) => n > 14), counts.findLastIndex((n) => n > 14)];
    return [...ends(columns), ...ends(rows)];
  }, [bare.toString("base64"), over.toString("base64")]);
  const result = await (await page.request.get(new URL("/result.json", server.address).href)).json();
  const { model } = result.photos.find((photo) => photo.name === "front");
  const box = await frame.boundingBox();
  const places = await Promise.all([...model.left, ...model.right].map((at) => onScreen(page, at)));
  const [xs, ys] = [places.map(([x]) => x - box.x), places.map(([, y]) => y - box.y)];
  const wanted = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  // The body has the chosen sizes, the model the measured ones: half a per cent of some 300 px, and a pixel for the lens.
  painted.forEach((at, n) => assert.ok(Math.abs(at - wanted[n]) < 5, `the body lies at ${painted}, the fit at ${wanted.map(Math.round)}`));
});

test("how long changes take", async () => {
  const { path, server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  const before = toml(path);
  const json = async () => (await page.request.get(new URL("/result.json", server.address).href)).text();
  const first = await json();
  /** @type {Record<string, number[]>} */
  const runs = {};
  runs["size chosen to sheet redrawn"] = await redraws(page, "sizes", 12, (n) => document.querySelector(n % 2 ? "section#sizes .candidates [aria-pressed=true]" : "section#sizes .candidates button:nth-of-type(2)").click());
  await fold(page, "pot").click();
  runs["recipe changed to sheet redrawn"] = await redraws(page, "pot", 12, (n) => {
    const input = document.getElementById("pot-target-sample_ml");
    input.value = String(21 + (n % 5));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  runs["chip read anew to sheet redrawn"] = await redraws(page, "pot", 12, (n) => {
    const input = document.getElementById("pot-sample-1-lab");
    input.value = `${(69 + 0.1 * (n % 7)).toFixed(1)}, -1.1, -4.8`;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  writeFileSync(join(path, "job.toml"), before);
  await page.getByText("Photo front: marks, edges, likeness").click();
  await photoReady(page);
  await page.locator(".photo-window").scrollIntoViewIfNeeded();
  const [x, y] = await onScreen(page, [550, 840]);
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let n = 0; n < 90; n++) {
    await page.mouse.move(x + 14 * Math.sin(n / 9), y + 10 * Math.cos(n / 7));
    await page.waitForTimeout(16);
  }
  for (const name of ["handle while dragging", "outline while dragging"]) runs[name] = await page.evaluate((name) => performance.getEntriesByName(name).map((entry) => entry.duration), name);
  await shot(page, "drag-1440");
  // Escape in mid-drag leaves no trace.
  await page.keyboard.press("Escape");
  await page.mouse.up();
  await settled(page);
  assert.equal(toml(path), before, "a cancelled drag left a trace");
  assert.ok((await json()) === first, "what is remembered of earlier changes is in the result");
  for (const [name, all] of Object.entries(runs)) {
    const sorted = all.sort((a, b) => a - b);
    const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
    console.log(`    ${name}: median ${at(0.5).toFixed(0)} ms, 95 in 100 below ${at(0.95).toFixed(0)} ms (${all.length} times)`);
    assert.ok(all.length >= 5, `${name} was seen only ${all.length} times`);
    // The aims are 100 ms, and 300 ms for the outline, on a machine that does nothing else; tests share theirs.
    assert.ok(at(0.5) < ({ "handle while dragging": 50, "outline while dragging": 600 }[name] ?? 300), `${name} takes too long`);
  }
});

/** From a change to the frame that shows it, ms, several times. @param {string} id of the piece that it changes */
async function redraws(page, id, times, change) {
  const all = [];
  for (let n = 0; n < times; n++) {
    all.push(await page.evaluate(async ([id, n, change]) => {
      const piece = document.querySelector(`[data-piece="${id}"]`);
      const redrawn = new Promise((done) => new MutationObserver((_, watch) => {
        watch.disconnect();
        // The observer runs before the frame, the message after it.
        requestAnimationFrame(() => {
          const { port1, port2 } = new MessageChannel();
          port1.onmessage = done;
          port2.postMessage(0);
        });
      }).observe(piece, { attributes: true, attributeFilter: ["data-stamp"] }));
      const begun = performance.now();
      new Function("n", `(${change})(n)`)(n);
      await Promise.race([redrawn, new Promise((_, fail) => setTimeout(() => fail(new Error(`${id} was not redrawn`)), 5000))]);
      return performance.now() - begun;
    }, [id, n, change.toString()]));
    await settled(page);
  }
  return all;
}

test("everything in the document can be written on the page", async () => {
  const { SLIPS } = await import(join(root, "desk/page/fields.js"));
  const schema = JSON.parse(await new Promise((done) => {
    const child = spawn(binary, ["schema"]);
    let text = "";
    child.stdout.on("data", (bytes) => (text += bytes)).on("end", () => done(text));
  }));
  // Placed on the picture rather than written, or not the person's to change.
  const elsewhere = new Set(["format", "photo.file", "photo.axis", "photo.outline", "photo.neutral.polygon", "photo.patch.polygon", "photo.square.rectangle", "photo.square.circle", "photo.square.ruler", "flat.within", "flat.hole", "photo.patch.lab", "photo.colour_region", "sample.region.photo", "sample.region.polygon"]);
  const slips = new Set(Object.values(SLIPS).flat().flatMap((slip) => slip.fields.map((one) => (slip.table ? `${slip.table}.${one.key}` : one.key))));
  const leaves = [];
  const walk = (node, path) => {
    const target = node.$ref ? schema.$defs[node.$ref.split("/").pop()] : node;
    const inner = target.anyOf?.find((one) => one.$ref || one.properties) ?? target;
    const real = inner.$ref ? schema.$defs[inner.$ref.split("/").pop()] : inner;
    if (real.items && (real.items.$ref ? schema.$defs[real.items.$ref.split("/").pop()] : real.items).properties) return walk(real.items, path);
    if (!real.properties) return leaves.push(path);
    for (const [key, value] of Object.entries(real.properties)) walk(value, path ? `${path}.${key}` : key);
  };
  walk(schema, "");
  const missing = leaves.filter((leaf) => !slips.has(leaf) && !elsewhere.has(leaf));
  assert.deepEqual(missing, [], "these keys of job.toml can't be written on the page");
});

let passed = 0;
let failed = 0;
const only = option("--only");
for (const [name, work] of tests.filter(([name]) => !only || name.includes(only))) {
  pageErrors = [];
  const begun = Date.now();
  try {
    await work();
    assert.deepEqual(pageErrors, [], "the page had errors");
    passed += 1;
    console.log(`  passed  ${name} (${((Date.now() - begun) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    console.log(`  FAILED  ${name}\n    ${String(error.message).split("\n").slice(0, 40).join("\n    ")}${pageErrors.length ? `\n    page: ${pageErrors.slice(0, 3).join("; ")}` : ""}`);
    if (shots) for (const [n, page] of browser.contexts().flatMap((context) => context.pages()).entries()) await page.screenshot({ path: join(shots, `failed-${name.slice(0, 30).replace(/\W+/g, "-")}-${n}.png`) }).catch(() => {});
  }
  for (const context of browser.contexts()) await context.close();
  for (const child of [...servers].filter((child) => child !== shared?.server.child)) stop(child);
}
for (const child of servers) stop(child);
await browser.close();
rmSync(scratch, { recursive: true, force: true });
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
