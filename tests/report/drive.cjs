// Opens the two pages in a browser and checks them. Ends with status 1 when something does not hold.
// usage: node drive.cjs FOLDER
const { chromium } = require("playwright-core");
const assert = require("node:assert");
const path = require("node:path");

const [, , folder] = process.argv;
const say = (text) => console.log(`report: ${text}`);
const url = (name) => `file://${path.join(folder, name)}`;

(async () => {
  const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
  try {
    for (const name of ["shop", "tree"]) {
      const page = await browser.newPage({ viewport: { width: 1240, height: 1400 }, colorScheme: "light" });
      const wrong = [];
      const asked = [];
      page.on("console", (message) => wrong.push(message.text()));
      page.on("pageerror", (error) => wrong.push(String(error)));
      page.on("request", (request) => asked.push(request.url()));
      const begin = Date.now();
      await page.goto(url(`${name}.html`));
      const opened = Date.now() - begin;
      assert.ok(opened < 15000, `${name}: opened in ${opened} ms`);
      const count = (selector) => page.locator(selector).count();
      // A policy that lets nothing in, and nothing that would want to come in.
      assert.match(await page.locator('meta[http-equiv="Content-Security-Policy"]').getAttribute("content"), /^default-src 'none'; style-src 'sha256-/);
      assert.strictEqual(await count("img, iframe, object, embed, link, [src], [style]"), 0);
      assert.strictEqual(await page.evaluate(() => getComputedStyle(document.querySelector("h1")).fontSize), "26px", "the style is not applied");
      // Every drawing has its name and its words; every table its caption; heads say what they head.
      const drawings = await count("svg");
      assert.ok(drawings >= 10, `${name}: ${drawings} drawings`);
      assert.strictEqual(await count('svg[role="img"][aria-labelledby] > title'), drawings);
      assert.strictEqual(await count("svg > desc"), drawings);
      const ids = await page.evaluate(() => [...document.querySelectorAll("[id]")].map((one) => one.id));
      assert.strictEqual(new Set(ids).size, ids.length, "an id stands there twice");
      const named = await page.evaluate(() => [...document.querySelectorAll("[aria-labelledby]")].flatMap((one) => one.getAttribute("aria-labelledby").split(" ")).filter((id) => !document.getElementById(id)));
      assert.deepStrictEqual(named, [], "labels without their text");
      assert.strictEqual(await count("table:not(:has(caption))"), 0);
      assert.strictEqual(await count("th:not([scope])"), 0);
      // Sorted by the keyboard, down and up.
      const rows = await count("#threads tbody tr");
      assert.strictEqual(rows, name === "shop" ? 11 : 5000);
      const head = page.locator("#threads th", { hasText: "s a part" });
      const column = () => page.evaluate(() => {
        const heads = [...document.querySelectorAll("#threads th")];
        const at = heads.findIndex((one) => one.textContent === "s a part");
        return [...document.querySelectorAll("#threads tbody tr")].map((row) => parseFloat(row.cells[at].textContent));
      });
      for (const [order, sign] of [["descending", -1], ["ascending", 1]]) {
        await head.locator("button").focus();
        const from = Date.now();
        await page.keyboard.press("Enter");
        assert.strictEqual(await head.getAttribute("aria-sort"), order);
        assert.ok(Date.now() - from < 5000, "sorting is slow");
        const all = await column();
        const known = all.filter((value) => !Number.isNaN(value));
        assert.deepStrictEqual(known, [...known].sort((a, b) => sign * (a - b)));
        assert.deepStrictEqual(all.slice(0, known.length), known, "what is not known comes last");
      }
      await page.locator("#filter").fill("M30x2");
      const left = await count("#threads tbody tr:not([hidden])");
      assert.ok(left > 0 && left < rows, `${left} of ${rows} rows`);
      await page.locator("#filter").fill("");
      // Narrow screens scroll tables, not the page.
      await page.setViewportSize({ width: 420, height: 900 });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      assert.ok(wide <= 1, `${name}: ${wide} px wider than a narrow screen`);
      await page.setViewportSize({ width: 1240, height: 1400 });
      if (name === "shop") {
        await page.screenshot({ path: path.join(folder, "light.png"), fullPage: true });
        const ground = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
        const light = await ground();
        await page.emulateMedia({ colorScheme: "dark" });
        assert.notStrictEqual(await ground(), light);
        await page.screenshot({ path: path.join(folder, "dark.png"), fullPage: true });
        await page.emulateMedia({ media: "print", colorScheme: "dark" });
        assert.strictEqual(await ground(), light, "paper is white");
        assert.strictEqual(await page.locator("nav").isVisible(), false);
        await page.screenshot({ path: path.join(folder, "print.png"), fullPage: true });
        const pdf = await page.pdf({ path: path.join(folder, "print.pdf"), format: "A4" });
        assert.ok(pdf.length > 20000);
      }
      assert.deepStrictEqual(wrong, [], "the console is not silent");
      assert.deepStrictEqual(asked.filter((one) => one !== url(`${name}.html`)), [], "the page asks for more than itself");
      say(`${name}: opened in ${opened} ms, ${drawings} drawings, ${rows} rows, silent, sorted, filtered`);
      await page.close();
    }
  } finally {
    await browser.close();
  }
})().catch((error) => { console.error(`report: ${error.stack}`); process.exit(1); });
