// The live sheet in a browser: each flow as a person does it, by mouse, by keyboard, by phone, in two windows, over a kill; then what axe-core
// says of every state, and how long a drag takes. Prints "N passed, N failed" last.
//
//   node live.mjs [--binary FILE] [--from-disk] [--only WORDS] [--shots FOLDER]
//
// --from-disk takes the page's modules from desk/page instead of those built into the binary; --shots keeps a picture of each state.

import assert from "node:assert/strict";
import { rmSync } from "node:fs";
import { join } from "node:path";
import { browser, option, pageErrors, scratch, servers, shared, shots, stop } from "./stand.mjs";
import { tests } from "./tests.mjs";
import "./flows.mjs";
import "./together.mjs";
import "./door.mjs";
import "./looks.mjs";
import "./states.mjs";
import "./speed.mjs";

let passed = 0;
let failed = 0;
const only = option("--only");
for (const [name, work] of tests.filter(([name]) => !only || name.includes(only))) {
  pageErrors.length = 0;
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
