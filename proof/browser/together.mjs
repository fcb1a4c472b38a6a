// More than one hand on a job: two windows, the file edited outside, a phone at the bench.

import assert from "node:assert/strict";
import { readFileSync, readdirSync, renameSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { SLOW, demo, field, fill, fits, fold, kill, noViolation, onScreen, open, photoReady, serve, settled, shot, smallJob, toml, written } from "./stand.mjs";
import { test } from "./tests.mjs";

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

test("changed elsewhere while a handle is dragged or a field is written in: nothing is lost, a clash is shown", async () => {
  const path = smallJob("drag");
  const server = await serve(path);
  const [one, two] = [await open(server.address), await open(server.address)];
  await Promise.all([settled(one), settled(two)]);
  const corner = () => JSON.parse(toml(path).match(/neutral = \{ ?polygon = (\[\[.*?\]\])/)[1]);
  const [before] = corner();
  await one.getByText("Photo chips: marks, edges, likeness").click();
  await photoReady(one);
  await one.locator(".photo-window").scrollIntoViewIfNeeded();
  const drag = async (during) => {
    const [x, y] = await onScreen(one, corner()[0]);
    await one.mouse.move(x, y);
    await one.mouse.down();
    await one.mouse.move(x + 12, y + 9, { steps: 4 });
    await during();
    // The news comes while the hand holds on.
    await one.waitForTimeout(900);
    await one.mouse.move(x + 15, y + 9, { steps: 3 });
    await one.mouse.up();
  };
  await fold(two, "run").click();
  await drag(async () => {
    await fill(two, "run-run-wanted", "44");
    await written(path, /wanted = 44/);
    writeFileSync(join(path, "job.toml"), `# by hand\n${toml(path).replace(/title = .*/, 'title = "By hand"')}`);
  });
  await written(path, /By hand/);
  for (let n = 0; n < 100 && String(corner()[0]) === String(before); n++) await one.waitForTimeout(50);
  assert.notDeepEqual(corner()[0], before, "the drag was lost");
  assert.match(toml(path), /# by hand[^]*wanted = 44/, "what others wrote during the drag was lost");
  await settled(one);
  // The very corner that is dragged is changed by hand.
  const theirs = [[1, 2], [300, 3], [300, 200], [2, 200]];
  await drag(async () => writeFileSync(join(path, "job.toml"), toml(path).replace(/polygon = \[\[.*?\]\], reflectance/, `polygon = ${JSON.stringify(theirs)}, reflectance`)));
  await one.locator("#news.trouble").filter({ hasText: "polygon" }).waitFor();
  assert.deepEqual(corner(), theirs, "the other's corner was written over");
  // A field that is being written in hears of the other's line, and keeps what was typed.
  await settled(one);
  await fold(one, "run").click();
  await field(one, "run-run-wanted").fill("45");
  await fill(two, "run-run-wanted", "46");
  await one.locator("#news.trouble").filter({ hasText: "46" }).waitFor();
  assert.equal(await field(one, "run-run-wanted").inputValue(), "45");
  await field(one, "run-run-wanted").press("Escape");
  assert.equal(await field(one, "run-run-wanted").inputValue(), "46", "Escape does not take the other's line");
  assert.match(toml(path), /wanted = 46/);
  await kill(server);
});

test("two windows and an editor for a quarter of a minute: all that was acknowledged is there", async () => {
  const path = smallJob("busy");
  const server = await serve(path);
  const [one, two] = [await open(server.address), await open(server.address)];
  await Promise.all([settled(one), settled(two)]);
  await fold(one, "run").click();
  await fold(two, "evidence").click();
  const until = Date.now() + 15_000;
  const comments = [];
  // The editor looks and saves in two steps, as editors do: it may take a change away that came in between, and the next one is then refused as a clash.
  const acknowledged = [];
  one.on("response", (answer) => {
    if (answer.url().endsWith("/api/edit") && answer.ok()) acknowledged.push(JSON.parse(answer.request().postData() ?? "{}").edits[0].value);
  });
  let [wanted, maker] = [0, 0];
  const window = async (page, id, next) => {
    while (Date.now() < until) {
      await fill(page, id, next());
      await page.waitForTimeout(40 + 200 * Math.random());
    }
  };
  const editor = async () => {
    for (let n = 0; Date.now() < until; n++) {
      // An editor saves whole files, by a rename as most do.
      const text = toml(path);
      comments.push(`# note ${n}`);
      writeFileSync(join(path, "job.toml.new"), `${text.trimEnd()}\n# note ${n}\n`);
      if (toml(path) === text) renameSync(join(path, "job.toml.new"), join(path, "job.toml"));
      else comments.pop();
      await one.waitForTimeout(150 + 400 * Math.random());
    }
  };
  await Promise.all([window(one, "run-run-wanted", () => String(100 + (wanted += 1))), window(two, "evidence--maker", () => `bench ${(maker += 1)}`), editor()]);
  await Promise.all([settled(one), settled(two)]);
  await written(path, new RegExp(`wanted = ${100 + wanted}\\b`), "the last number of window one");
  await written(path, new RegExp(`maker = "bench ${maker}"`), "the last maker of window two");
  for (const comment of comments) assert.ok(toml(path).includes(`${comment}\n`), `${comment} of the editor is gone`);
  assert.ok(wanted > 10 && maker > 10 && comments.length > 10, `${wanted}, ${maker}, ${comments.length}`);
  // Each version that was in force can be gone back to.
  const versions = readdirSync(join(path, "history")).filter((file) => file.endsWith(".toml")).map((file) => readFileSync(join(path, "history", file), "utf8"));
  assert.ok(acknowledged.length > 0.8 * wanted, `${acknowledged.length} of ${wanted} changes were taken`);
  for (const n of acknowledged) assert.ok(versions.some((text) => new RegExp(`wanted = ${n}\\b`).test(text)), `wanted = ${n} is in no version`);
  await kill(server);
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
  await page.reload();
  await tap.waitFor();
  assert.match(await tap.textContent(), /1 too many/, "a drop too many is forgotten after a reload");
  await field(page, "bench-photo").setInputFiles(join(demo, "photos/far.jpg"));
  await written(path, /file = "photos\/far.jpg"/, "photo taken at the bench");
  await fits(page, "bench");
  await noViolation(page, "bench");
  await shot(page, "bench-390");
  await kill(server);
});
