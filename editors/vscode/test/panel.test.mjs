import assert from "node:assert/strict";
import { test } from "node:test";
import { load } from "./load.mjs";

const { page, escaped } = await load("panel.ts");

test("text of a program never becomes part of the page", () => {
  const hostile = `</pre><script>alert("1")</script>&amp;'`;
  const html = page({ title: hostile, summary: hostile, text: hostile, svg: "<svg onload='x()'></svg>" });
  assert.ok(!html.includes("<script"), html);
  assert.ok(!html.includes("onload"), html);
  assert.ok(html.includes(escaped(hostile)));
  assert.match(html, /default-src 'none'/);
});

test("the picture is shown as an image that holds the drawing as it came", () => {
  const svg = "<svg xmlns='http://www.w3.org/2000/svg'/>";
  const html = page({ title: "M24x3", summary: "", text: "1 rough", svg });
  const data = /data:image\/svg\+xml;base64,([^"]+)"/.exec(html)[1];
  assert.equal(Buffer.from(data, "base64").toString("utf8"), svg);
});

test("no thread under the cursor says so", () => {
  assert.match(page(undefined), /No threading section here/);
});
