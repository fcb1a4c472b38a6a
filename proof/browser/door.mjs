// Who gets in, and what: the key, the host's name, the page's origin, loopback alone, the local network by the code, and limits on what is sent.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { request } from "node:http";
import { createConnection } from "node:net";
import { networkInterfaces } from "node:os";
import { join } from "node:path";
import { demo, kill, open, root, scratch, serve, smallJob, toml } from "./stand.mjs";
import { test } from "./tests.mjs";

/** A request as it is, with any head. @returns {Promise<{status: number, head: Record<string, any>, text: string}>} */
function ask(port, path, { method = "GET", headers = {}, body = undefined, host = "127.0.0.1" } = {}) {
  return new Promise((done, fail) => {
    let answered = false;
    const sent = request({ host, port, path, method, headers: body ? { ...headers, "Content-Length": body.length } : headers, setHost: !("Host" in headers), agent: false }, (answer) => {
      answered = true;
      let text = "";
      answer.on("data", (bytes) => (text += bytes)).on("end", () => done({ status: answer.statusCode ?? 0, head: answer.headers, text }));
      answer.on("error", () => done({ status: answer.statusCode ?? 0, head: answer.headers, text }));
    });
    // Whoever is refused in the middle of a body finds the door shut behind the answer.
    sent.on("error", (error) => answered || fail(error)).on("socket", (socket) => socket.on("error", () => {}));
    // A piece after the other, so that the answer to the first is heard.
    const send = (from) => {
      if (answered || sent.destroyed) return;
      const piece = body?.subarray(from, from + (1 << 18));
      if (!piece?.length) return sent.end();
      sent.write(piece, () => setTimeout(send, from > 1 << 21 ? 2 : 0, from + piece.length));
    };
    send(0);
  });
}

/** @returns {string | undefined} this machine's own address that is not loopback */
const ownAddress = () => Object.values(networkInterfaces()).flat().find((one) => one?.family === "IPv4" && !one.internal)?.address;

/** @returns {Promise<string>} "open" or why not */
const knock = (host, port) => new Promise((done) => {
  const socket = createConnection({ host, port, timeout: 3000 });
  socket.on("connect", () => done("open")).on("error", (error) => done(error.code)).on("timeout", () => done("timeout"));
  socket.on("close", () => socket.destroy());
});

/**
 * What the code on the page says, read off a picture of the screen by Debian's zbar, or by OpenCV where that is not installed.
 * @returns {Promise<{read: string, by: string}>}
 */
async function readCode(page) {
  const file = join(scratch, "code.png");
  await page.locator("svg.code").screenshot({ path: file });
  const zbar = spawnSync("zbarimg", ["--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", file], { encoding: "utf8" });
  if (!zbar.error) {
    assert.equal(zbar.status, 0, `zbar reads no code: ${zbar.stderr}`);
    return { read: zbar.stdout.trim(), by: "zbar" };
  }
  const opencv = spawnSync(join(root, ".venv/bin/python"), ["-c", "import cv2, sys; print(cv2.QRCodeDetector().detectAndDecode(cv2.imread(sys.argv[1]))[0])", file], { encoding: "utf8" });
  assert.equal(opencv.status, 0, `neither zbar nor OpenCV is there to read the code; proof/install brings them: ${opencv.stderr}`);
  return { read: opencv.stdout.trim(), by: "OpenCV" };
}

const PATHS = [["GET", "/"], ["GET", "/bench"], ["GET", "/api/job"], ["POST", "/api/job"], ["POST", "/api/edit"], ["POST", "/api/start"], ["POST", "/api/stop"], ["POST", "/api/again"], ["POST", "/api/undo"], ["POST", "/api/redo"], ["POST", "/api/outline"], ["POST", "/api/photo?file=a.jpg"], ["POST", "/api/reading?file=a.csv"], ["GET", "/photo/chips"], ["GET", "/page/live.js"], ["GET", "/events"], ["GET", "/result.json"], ["GET", "/out/sheet.pdf"], ["GET", "/nowhere"]];

test("the door: key, host and origin on every path, loopback alone", async () => {
  const path = smallJob("door");
  const server = await serve(path);
  const { port } = server;
  const key = new URL(server.address).searchParams.get("key");
  const before = toml(path);
  for (const [method, at] of PATHS) {
    const and = at.includes("?") ? "&" : "?";
    assert.equal((await ask(port, at, { method })).status, 401, `${method} ${at} without the key`);
    assert.equal((await ask(port, `${at}${and}key=${"0".repeat(32)}`, { method })).status, 401, `${method} ${at} with another key`);
    assert.equal((await ask(port, `${at}${and}key=${key.slice(0, 31)}`, { method })).status, 401, `${method} ${at} with most of the key`);
    for (const headers of [{ Host: "evil.example" }, { Host: `evil.example:${port}` }, { Host: "127.0.0.1" }, { Host: "127.0.0.1:1" }, { Host: `192.168.1.7:${port}` }, { Origin: "http://evil.example" }, { Origin: "null" }, { Origin: `http://localhost:${port}` }, { Origin: `https://127.0.0.1:${port}` }]) {
      assert.equal((await ask(port, `${at}${and}key=${key}`, { method, headers })).status, 403, `${method} ${at} with ${JSON.stringify(headers)}`);
    }
  }
  const page = await ask(port, `/?key=${key}`);
  assert.equal(page.status, 200);
  assert.match(String(page.head["set-cookie"]), /HttpOnly; SameSite=Strict/);
  assert.match(String(page.head["content-security-policy"]), /default-src 'none'.*frame-ancestors 'none'/);
  assert.equal(page.head["access-control-allow-origin"], undefined);
  assert.equal((await ask(port, "/api/job", { headers: { Cookie: `ringer_${port}=${key}`, Host: `localhost:${port}` } })).status, 200);
  // Only this machine is listened to.
  const address = ownAddress();
  if (address) assert.equal(await knock(address, port), "ECONNREFUSED", `${address} answers without --lan`);
  // Out of the folder leads no way.
  const cookie = { Cookie: `ringer_${port}=${key}` };
  for (const at of ["/photo/..%2Fjob.toml", "/photo/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "/out/..%2Fjob.toml", "/out/%2Fetc%2Fpasswd", "/page/..%2F..%2Fjob.toml"]) {
    const told = await ask(port, at, { headers: cookie });
    assert.ok([404, 422].includes(told.status) && !told.text.includes("ringer-job"), `${at}: ${told.status}`);
  }
  assert.equal(toml(path), before, "a refused request wrote something");
  await kill(server);
});

test("the door: what is sent is limited, and lands in the folder alone", async () => {
  const path = smallJob("limits");
  const server = await serve(path);
  const { port } = server;
  const headers = { Cookie: `ringer_${port}=${new URL(server.address).searchParams.get("key")}` };
  const before = toml(path);
  const json = { ...headers, "Content-Type": "application/json" };
  const post = (at, body, head = json) => ask(port, at, { method: "POST", headers: head, body: Buffer.from(body) });
  assert.equal((await post("/api/edit", JSON.stringify({ base: "x".repeat(5 << 20), edits: [] }))).status, 413, "an edit of 5 MB");
  assert.equal((await post("/api/photo?file=a.jpg", Buffer.alloc(200 << 20), headers)).status, 413, "a photo of 200 MB");
  assert.equal((await post("/api/photo?file=a.jpg", readFileSync(join(demo, "photos/far.jpg")).subarray(0, 20_000), headers)).status, 422, "half a photo");
  assert.equal((await post("/api/reading?file=a.csv", Buffer.alloc(2 << 20, 32), headers)).status, 413, "a reading of 2 MB");
  assert.equal((await post("/api/reading?file=a.csv", Buffer.from([0xff, 0xfe, 0]), headers)).status, 422, "a reading that is no text");
  assert.equal(JSON.parse((await post(`/api/reading?file=${encodeURIComponent("../../out.csv")}`, "nm,r\n400,0.1\n", headers)).text).file, "readings/out.csv");
  assert.equal((await post("/api/edit", "{", json)).status, 400, "broken JSON");
  assert.equal((await post("/api/outline", JSON.stringify({ photo: "chips", axis: [[1e308, -1e308], [0, 0]] }))).status, 200, "wild clicks");
  assert.equal(toml(path), before);
  // A name that leads elsewhere is only a name.
  assert.equal((await post(`/api/photo?file=${encodeURIComponent("../../../outside.jpg")}`, readFileSync(join(demo, "photos/far.jpg")), headers)).status, 200);
  assert.ok(!existsSync(join(path, "../outside.jpg")) && readdirSync(join(path, "photos")).some((file) => file.includes("outside")), readdirSync(join(path, "photos")).join());
  await kill(server);
});

test("the door: with --lan the network is let in by the key of the code, and by nothing else", async () => {
  const server = await serve(smallJob("lan"), ["--lan"]);
  const { port } = server;
  const address = ownAddress();
  const page = await open(server.address);
  await page.getByText("Take the sheet to the bench by phone").click();
  const code = await readCode(page);
  const told = server.told().match(/http:\/\/([\d.]+):\d+\/bench\?key=([0-9a-f]+)/);
  assert.ok(told, "the program tells no address for the phone");
  assert.equal(told[2], new URL(server.address).searchParams.get("key"));
  // The code as another program reads it off the screen is the very address that lets the phone in.
  assert.equal(code.read, told[0], "the code on the page is not the address that was told");
  const phone = new URL(code.read);
  const by = (url) => ask(Number(url.port), url.pathname + url.search, { host: address ? url.hostname : "127.0.0.1", headers: { Host: url.host } });
  assert.equal((await by(phone)).status, 200, `${code.by} reads ${code.read}, which lets nobody in`);
  const flipped = told[2].replace(/.$/, (last) => (last === "0" ? "1" : "0"));
  for (const other of [flipped, told[2].slice(1), "0".repeat(32), ""]) assert.equal((await by(new URL(code.read.replace(told[2], other)))).status, 401, `the key ${other} lets in`);
  if (address) {
    assert.equal(await knock(address, port), "open");
    assert.equal((await ask(port, "/bench", { host: address, headers: { Host: `${address}:${port}` } })).status, 401);
    assert.equal((await ask(port, `/bench?key=${told[2]}`, { host: address, headers: { Host: `${address}:${port}` } })).status, 200);
    assert.equal((await ask(port, `/bench?key=${told[2]}`, { host: address, headers: { Host: `evil.example:${port}` } })).status, 403);
    assert.equal((await ask(port, `/bench?key=${told[2]}`, { host: address, headers: { Host: `${address}:${port}`, Origin: "http://evil.example" } })).status, 403);
  }
  await kill(server);
});
