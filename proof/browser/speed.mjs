// How long changes take, from the act to the frame that shows it.

import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { loadavg } from "node:os";
import { join } from "node:path";
import { field, fold, onScreen, open, photoReady, settled, sharedDemo, shot, toml, written } from "./stand.mjs";
import { test } from "./tests.mjs";

test("how long changes take", async () => {
  const { path, server } = await sharedDemo();
  const page = await open(server.address);
  await settled(page);
  const before = toml(path);
  const json = async () => (await page.request.get(new URL("/result.json", server.address).href)).text();
  const first = await json();
  /** @type {Record<string, number[]>} */
  const runs = {};
  runs["size chosen to sheet redrawn"] = await redraws(page, "size chosen to sheet redrawn", "sizes", 12, (n) => document.querySelector(n % 2 ? "section#sizes .candidates [aria-pressed=true]" : "section#sizes .candidates button:nth-of-type(2)").click());
  // Each time a size that was never asked for before: nothing of its odds is remembered.
  await fold(page, "sizes").click();
  await field(page, "sizes-size-new-name").waitFor();
  const write = (id, values) => new Function("n", `const input = document.getElementById("${id}"); input.value = ${values}; input.dispatchEvent(new Event("change", { bubbles: true }));`);
  await page.locator("section#sizes .candidates button").nth(1).click();
  await settled(page);
  await field(page, "sizes-size-0-choose").waitFor();
  const taken = Number.parseFloat(await page.evaluate(() => String(document.querySelector("section#sizes .candidates")?.dataset.from.match(/"value_mm":([\d.]+)/)?.[1])));
  runs["new size written to sheet redrawn"] = await redraws(page, "new size written to sheet redrawn", "sizes", 20, write("sizes-size-0-choose", `(${taken.toFixed(2)} + 0.01 * (n + 1)).toFixed(2) + " mm"`));
  await fold(page, "body").click();
  runs["bore made deeper to sheet redrawn"] = await redraws(page, "bore made deeper to sheet redrawn", "body", 12, write("body-body-bore_depth", `(10 + 0.2 * n).toFixed(1) + " mm"`));
  await fold(page, "pot").click();
  runs["recipe changed to sheet redrawn"] = await redraws(page, "recipe changed to sheet redrawn", "pot", 12, (n) => {
    const input = document.getElementById("pot-target-sample_ml");
    input.value = String(21 + (n % 5));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  runs["chip read anew to sheet redrawn"] = await redraws(page, "chip read anew to sheet redrawn", "pot", 12, (n) => {
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
  console.log(`    load of the machine, 1 and 5 minutes: ${loadavg().slice(0, 2).map((load) => load.toFixed(1)).join(", ")}`);
  for (const [name, all] of Object.entries(runs)) {
    const sorted = all.sort((a, b) => a - b);
    const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
    console.log(`    ${name}: median ${at(0.5).toFixed(0)} ms, 95 in 100 below ${at(0.95).toFixed(0)} ms (${all.length} times)${whole[name] ? `; whole sheet: median ${median(whole[name]).toFixed(0)} ms` : ""}`);
    assert.ok(all.length >= 5, `${name} was seen only ${all.length} times`);
    // The aims are 100 ms, and 300 ms for the outline, on a machine that does nothing else; tests share theirs.
    assert.ok(at(0.5) < ({ "handle while dragging": 50, "outline while dragging": 600 }[name] ?? 300), `${name} takes too long`);
  }
});

/** @param {number[]} all */
function median(all) {
  return all.toSorted((a, b) => a - b)[Math.floor(all.length / 2)];
}

/** Of each kind of change: until the whole sheet had followed, ms. @type {Record<string, number[]>} */
const whole = {};

/**
 * From a change to the frame that shows it in the section that it was made in (style, layout and paint done; what a program without a graphics card then
 * takes to bring the picture on the screen is not in it), ms, several times.
 * @param {string} id of the piece that it changes
 */
async function redraws(page, name, id, times, change) {
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
      const took = performance.now() - begun;
      // The rest of the sheet follows, off the screen.
      while (document.querySelector("#strip[data-busy]")) await new Promise(requestAnimationFrame);
      return [took, performance.now() - begun];
    }, [id, n, change.toString()]));
    await settled(page);
  }
  whole[name] = all.map(([, followed]) => followed);
  return all.map(([took]) => took);
}
