import assert from "node:assert/strict";
import { test } from "node:test";
import { load } from "./load.mjs";

const { serverPath } = await load("server.ts");
const choice = (more) => ({ configured: "", extension: "/ext", platform: "linux", exists: () => false, ...more });

test("the configured server wins", () => {
  assert.equal(serverPath(choice({ configured: " /opt/flankwise ", exists: () => true })), "/opt/flankwise");
});

test("then the one that came with the extension", () => {
  assert.equal(serverPath(choice({ exists: (path) => path === "/ext/bin/flankwise" })), "/ext/bin/flankwise");
  assert.equal(serverPath(choice({ platform: "win32", exists: (path) => path.endsWith("flankwise.exe") })), "/ext/bin/flankwise.exe");
});

test("then the one on the path", () => {
  assert.equal(serverPath(choice({})), "flankwise");
  assert.equal(serverPath(choice({ platform: "win32" })), "flankwise.exe");
});
