// The sheet in each of its states at three widths, by night, in grey: nothing is wider than its window, and a picture of each is kept for looking at
// (--shots FOLDER).

import assert from "node:assert/strict";
import { mkdirSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { SLOW, demoJob, field, fill, fits, fold, folder, kill, open, photoReady, serve, settled, sharedDemo, shot, shots, smallJob, toml, written } from "./stand.mjs";
import { test } from "./tests.mjs";

/** Desk, tablet or small window, hand. */
const WIDTHS = [[1440, 1000], [1024, 768], [390, 844]];

/** A picture of the page; of a long one a picture of each piece, since browsers paint no page of any length. @param {any} page @param {string} name */
async function kept(page, name) {
  if (!shots) return;
  const tall = await page.evaluate(() => document.documentElement.scrollHeight);
  if (tall < 12_000) return shot(page, name);
  mkdirSync(shots, { recursive: true });
  for (const piece of await page.locator("[data-piece]").all()) {
    const box = await piece.boundingBox();
    if (box && box.height > 20) await piece.screenshot({ path: join(shots, `${name}-${await piece.getAttribute("data-piece")}.png`) });
  }
}

/** @param {any} page @param {string} state @param {{grey?: boolean, night?: boolean}} [also] */
async function looks(page, state, also = {}) {
  if (shots) mkdirSync(shots, { recursive: true });
  for (const [width, height] of WIDTHS) {
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(250);
    await fits(page, `${state} at ${width}`);
    if (shots) await page.screenshot({ path: join(shots, `window-${state}-${width}.png`) });
    await kept(page, `state-${state}-${width}`);
  }
  if (also.night) {
    await page.emulateMedia({ colorScheme: "dark" });
    await kept(page, `state-${state}-night`);
    await page.emulateMedia({ colorScheme: "light" });
  }
  if (also.grey) {
    const cdp = await page.context().newCDPSession(page);
    await page.setViewportSize({ width: 1440, height: 1000 });
    await cdp.send("Emulation.setEmulatedVisionDeficiency", { type: "achromatopsia" });
    await kept(page, `state-${state}-grey`);
    await cdp.send("Emulation.setEmulatedVisionDeficiency", { type: "none" });
  }
}

test("states: empty, with the example, started", async () => {
  const path = folder("state-empty");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByRole("heading", { name: "Nothing is on this sheet yet" }).waitFor();
  await looks(page, "empty");
  await page.locator("section#sizes figure").first().waitFor({ timeout: SLOW });
  await looks(page, "example", { night: true });
  await page.getByLabel("What is made, for which machine?").fill("Focus knob");
  await page.getByRole("button", { name: "Start this job" }).click();
  await written(path, /title = "Focus knob"/);
  await settled(page);
  await looks(page, "started", { night: true, grey: true });
  await kill(server);
});

test("states: busy, stopped, finished, gone", async () => {
  const path = demoJob("state-busy");
  const server = await serve(path);
  const page = await open(server.address);
  await page.getByText("The sheet is being made for the first time").waitFor();
  await page.locator("#stop").waitFor();
  await page.locator("#stop").click();
  await page.getByText("Stopped before the first sheet was made").waitFor();
  await looks(page, "stopped-first", { night: true });
  await page.getByRole("button", { name: "Make it" }).click();
  await page.getByText("The sheet is being made for the first time").waitFor();
  await shot(page, "state-busy-first-390");
  await settled(page);
  // Older than what is written: long work on a sheet that is there.
  await page.setViewportSize({ width: 1440, height: 1000 });
  writeFileSync(join(path, "job.toml"), toml(path).replace(/axis = \[\[550/, "axis = [[551"));
  await page.getByText("Grey is the sheet as it was").waitFor();
  await page.locator("#stop").click();
  await page.getByText("Stopped: the sheet below is older").waitFor();
  await looks(page, "stopped-later");
  await page.getByRole("button", { name: "Make it" }).click();
  await settled(page);
  await kill(server);
  await page.getByText("The program does not answer").waitFor();
  await looks(page, "gone", { night: true });
});

test("states: an error, a clash of two windows, a photo that is gone, the folder gone", async () => {
  const path = smallJob("state-error");
  const server = await serve(path);
  const page = await open(server.address);
  await settled(page);
  const before = toml(path);
  writeFileSync(join(path, "job.toml"), `${before}\n[nonsense`);
  await page.locator("#problems:not([hidden])").waitFor();
  await looks(page, "error", { night: true, grey: true });
  writeFileSync(join(path, "job.toml"), before);
  await page.locator("#problems[hidden]").waitFor({ state: "attached" });
  await page.setViewportSize({ width: 1440, height: 1000 });
  await fold(page, "run").click();
  let letGo = () => {};
  const held = new Promise((done) => (letGo = () => done(undefined)));
  await page.route("**/api/job", async (route) => {
    await held;
    await route.continue();
  });
  writeFileSync(join(path, "job.toml"), before.replace("wanted = 24", "wanted = 50"));
  await field(page, "run-run-wanted").fill("41");
  const answered = page.waitForResponse("**/api/edit");
  await field(page, "run-run-wanted").press("Enter");
  await answered;
  letGo();
  await page.locator("#news.trouble").filter({ hasText: "50" }).waitFor();
  await settled(page);
  await looks(page, "clash");
  await field(page, "run-run-wanted").press("Escape");
  renameSync(join(path, "photos/chips.jpg"), join(path, "photos/away.jpg"));
  await fill(page, "run-run-wanted", "26");
  await page.locator("#problems:not([hidden])").waitFor();
  await page.getByText("Photo chips: marks, edges, likeness").click();
  await looks(page, "photo-gone");
  renameSync(join(path, "photos/away.jpg"), join(path, "photos/chips.jpg"));
  rmSync(path, { recursive: true });
  await fill(page, "run-run-wanted", "27");
  await page.locator("#news.trouble").filter({ hasText: "any more, so nothing was written" }).waitFor();
  await looks(page, "folder-gone");
  await kill(server);
});

test("states: finished, section by section, as it is and with everything open", async () => {
  const { server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  await looks(page, "finished", { night: true, grey: true });
  for (const summary of await page.locator("details > summary").all()) if (await summary.isVisible()) await summary.evaluate((element) => element.parentElement.setAttribute("open", ""));
  await photoReady(page);
  await page.waitForTimeout(1500);
  await looks(page, "open", { night: true, grey: true });
  assert.ok((await page.locator("section.station").count()) >= 8);
});

test("states: the bench view", async () => {
  const { server } = await sharedDemo();
  const page = await open(server.address.replace("/?", "/bench?"), { width: 390, height: 844, phone: true });
  await page.locator(".tap").first().waitFor({ timeout: SLOW });
  await looks(page, "bench", { night: true, grey: true });
});
