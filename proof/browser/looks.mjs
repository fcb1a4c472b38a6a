// How it looks and whether it can be reached: every state by axe-core, the body, photos, fingers, the likeness, all fields.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { binary, clickPhoto, demo, field, fill, fits, fold, kill, noViolation, onScreen, open, photoReady, root, serve, settled, sharedDemo, shot, shots, smallJob, toml, written } from "./stand.mjs";
import { test } from "./tests.mjs";

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
  await page.getByLabel("Seen under", { exact: true }).selectOption("A");
  await page.waitForTimeout(200);
  assert.ok(!looks[2].equals(await canvas.screenshot()), "another light shows the same colour");
  assert.equal(await page.locator("section#body .told").first().textContent(), "");
});

test("the chips are seen under another light; their small neighbours, which show the doubt, are not", async () => {
  const { server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  const fills = (id) => page.locator(`section#${id} figure`).first().evaluate((figure) => [...figure.querySelectorAll(".wide svg path[fill]")].map((shape) => getComputedStyle(shape).fill));
  const before = { pot: await fills("pot"), colour: await fills("colour") };
  await page.locator("#pot-light").selectOption("A");
  const result = await (await page.request.get(new URL("/result.json", server.address).href)).json();
  const pair = result.pot.lights.find((one) => one.light === "A");
  const rgb = (hex) => `rgb(${[1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16)).join(", ")})`;
  const after = { pot: await fills("pot"), colour: await fills("colour") };
  for (const hex of pair.srgb) assert.equal(after.pot.filter((fill) => fill === rgb(hex)).length, 2, `${hex} is not on both greys`);
  assert.equal(after.colour.filter((fill, n) => fill !== before.colour[n]).length, 2, "more or fewer than the two chips changed");
  assert.equal(await page.locator("#colour-light").inputValue(), "A", "one light for the whole sheet");
  await page.locator("section#pot .seen-under").getByText("The numbers in the picture are those under D65").waitFor();
  await noViolation(page, "chips under another light", { pictures: false });
  await page.locator("#colour-light").selectOption("D65");
  assert.deepEqual({ pot: await fills("pot"), colour: await fills("colour") }, before);
});

test("a file of the instrument is brought into the folder; the numbers of a known colour are corrected", async () => {
  const path = smallJob("readings");
  const server = await serve(path);
  const page = await open(server.address);
  await settled(page);
  await fold(page, "colour").click();
  const spectrum = `nm,reflectance\n${Array.from({ length: 31 }, (_, n) => `${400 + 10 * n},${(0.3 + 0.005 * n).toFixed(3)}`).join("\n")}\n`;
  await fill(page, "colour-reading-new-name", "knob");
  await field(page, "colour-reading-new-spectrum-file").setInputFiles({ name: "knob 1.csv", mimeType: "text/csv", buffer: Buffer.from(spectrum) });
  await page.waitForFunction(() => document.querySelector("#colour-reading-new-spectrum")?.value === "readings/knob-1.csv");
  await field(page, "colour-reading-new-name").fill("knob");
  await page.getByRole("button", { name: "Add a reading" }).click();
  await written(path, /spectrum = "readings\/knob-1.csv"/);
  assert.equal(readFileSync(join(path, "readings/knob-1.csv"), "utf8"), spectrum);
  await settled(page);
  assert.ok(await page.locator("#problems").isHidden(), await page.locator("#problems").textContent());
  await page.getByText("Photo chips: marks, edges, likeness").click();
  await photoReady(page);
  await page.getByLabel("L*, a*, b* of a known colour").fill("40, 50, 20");
  await page.getByRole("button", { name: "Mark a known colour" }).click();
  for (const at of [[300, 200], [340, 200], [340, 240], [300, 240]]) await clickPhoto(page, at);
  await written(path, /lab = \[40, 50, 20\]/);
  await settled(page);
  await page.getByLabel("known colour 1", { exact: true }).fill("41, 50, 20");
  await page.getByLabel("known colour 1", { exact: true }).press("Enter");
  await written(path, /lab = \[41, 50, 20\]/);
  await kill(server);
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
  await page.getByLabel("Flat part:").fill("50 mm");
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

test("everything in the document can be written on the page", async () => {
  const { SLIPS } = await import(join(root, "desk/page/fields.js"));
  const schema = JSON.parse(await new Promise((done) => {
    const child = spawn(binary, ["schema"]);
    let text = "";
    child.stdout.on("data", (bytes) => (text += bytes)).on("end", () => done(text));
  }));
  // Placed on the picture rather than written, or not the person's to change.
  const elsewhere = new Set(["format", "photo.file", "photo.axis", "photo.outline", "photo.neutral.polygon", "photo.patch.polygon", "photo.square.rectangle", "photo.square.circle", "photo.square.ruler", "flat.within", "flat.hole", "photo.colour_region", "sample.region.photo", "sample.region.polygon"]);
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
  // A known colour's numbers stand beside the picture, see #knownColours.
  slips.add("photo.patch.lab");
  const missing = leaves.filter((leaf) => !slips.has(leaf) && !elsewhere.has(leaf));
  assert.deepEqual(missing, [], "these keys of job.toml can't be written on the page");
});

test("an outline drawn in mm is read as it was written", async () => {
  const { read, written } = await import(join(root, "desk/page/fields.js"));
  const field = { key: "drawn", label: "", kind: "pieces" };
  const drawn = [
    [{ to: [40, 0] }, { to: [40, 20], centre: [40, 10] }, { to: [0, 20], controls: [[30, 24], [10, 24.5]] }, { to: [0, 0] }],
    [{ to: [18, 10], centre: [20, 10], clockwise: true }, { to: [22, 10], centre: [20, 10], clockwise: true }],
  ];
  const text = written(field, drawn);
  assert.equal(text, "40 0; 40 20 round 40 10; 0 20 by 30 24 10 24.5; 0 0 | 18 10 round 20 10 clockwise; 22 10 round 20 10 clockwise");
  assert.deepEqual(read(field, text), drawn);
  assert.deepEqual(read(field, "0,0; -1.5, 2"), [[{ to: [0, 0] }, { to: [-1.5, 2] }]]);
  for (const wrong of ["40", "40 0 round 3", "1 2 by 3 4", "1 2 clockwise", "a b", "1 2 | ", "1 2 by 1 2 3 4 clockwise"]) assert.equal(read(field, wrong), wrong.trim(), wrong);
});
