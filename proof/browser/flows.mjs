// From an empty folder to a printed sheet, by mouse and by keys; sizes, undo, errors, long work.

import assert from "node:assert/strict";
import { readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { SLOW, clickPhoto, demo, demoJob, field, fill, fold, folder, kill, noViolation, open, photoReady, serve, settled, sharedDemo, shot, smallJob, tabTo, toml, written } from "./stand.mjs";
import { test } from "./tests.mjs";

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
