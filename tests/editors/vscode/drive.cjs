// Drives the hosted editor: opens the program, waits for the finding, reads hover, lens, panel, applies
// the quick fix. Ends with status 1 when any of it does not happen.
// usage: node drive.cjs URL PICTURES FILE
const { chromium } = require("playwright-core");
const fs = require("node:fs");
const os = require("node:os");
const path = require("node:path");

const [, , url, out, file] = process.argv;
const say = (text) => console.log(`vscode: ${text}`);
const fail = (text) => { throw new Error(text); };

(async () => {
  const profile = fs.mkdtempSync(path.join(os.tmpdir(), "browser-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: "/usr/bin/chromium",
    headless: true,
    viewport: { width: 1400, height: 900 },
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  try {
    const page = context.pages()[0] ?? (await context.newPage());
    const picture = (name) => page.screenshot({ path: path.join(out, `${name}.png`) });
    await page.goto(url);
    await page.waitForSelector(".monaco-workbench", { timeout: 90000 });
    const entry = page.locator(".explorer-folders-view .monaco-list-row", { hasText: path.basename(file) }).first();
    await entry.waitFor({ timeout: 90000 });
    await entry.dblclick();
    await page.waitForSelector(".monaco-editor .view-line", { timeout: 30000 });
    const language = page.locator('[id="status.editor.mode"]');
    await language.filter({ hasText: "Part program" }).waitFor({ timeout: 30000 });
    say("a program without an extension is a part program");
    const squiggle = page.locator(".squiggly-warning, .squiggly-error").first();
    await squiggle.waitFor({ timeout: 60000 });
    await page.locator(".codelens-decoration", { hasText: "M30x2-6g" }).first().waitFor({ timeout: 30000 });
    say("a finding and the lens of the thread are shown");
    await picture("1-finding");

    await page.keyboard.press("Control+Shift+M");
    await page.waitForSelector(".markers-panel .monaco-list-row", { timeout: 20000 });
    const rows = await page.$$eval(".markers-panel .monaco-list-row", (all) => all.map((row) => row.getAttribute("aria-label") ?? row.innerText));
    if (!rows.some((row) => row.includes("decimal comma"))) fail(`the list of findings is ${JSON.stringify(rows)}`);
    await picture("2-list");

    const box = await squiggle.boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2 - 4];
    await page.mouse.move(x - 3, y);
    await page.mouse.move(x, y);
    const hover = page.locator(".monaco-hover:not(.hidden) .hover-contents", { hasText: "M30x2-6g" }).first();
    await hover.waitFor({ timeout: 20000 });
    say("the hover names the thread");
    await page.waitForTimeout(500);
    await picture("3-hover");
    await page.keyboard.press("Escape");

    await page.mouse.click(x, y);
    await page.locator(".statusbar-item", { hasText: "M30x2-6g" }).first().waitFor({ timeout: 20000 });
    say("the status bar names the thread under the cursor");
    await page.keyboard.press("F1");
    await page.keyboard.type("flankwise: Show the passes");
    await page.locator(".quick-input-list .monaco-list-row", { hasText: "Show the passes" }).first().click();
    const panel = page.frameLocator("iframe.webview.ready").frameLocator("iframe#active-frame");
    await panel.locator("pre", { hasText: "rough" }).waitFor({ timeout: 30000 });
    say("the panel shows the passes");
    await page.waitForTimeout(500);
    await picture("4-panel");

    const place = await squiggle.boundingBox();
    await page.mouse.click(place.x + place.width / 2, place.y + place.height / 2 - 4);
    await page.waitForTimeout(500);
    await page.keyboard.press("Control+.");
    const action = page.locator(".action-widget .monaco-list-row.action", { hasText: "write the character that was meant" }).first();
    await action.waitFor({ timeout: 20000 });
    await picture("5-actions");
    await page.keyboard.press("Enter");
    await page.waitForFunction(() => document.querySelector(".view-lines").textContent.includes("X27.546"), null, { timeout: 20000 });
    await page.waitForFunction(() => document.querySelectorAll(".squiggly-warning, .squiggly-error").length === 0, null, { timeout: 30000 });
    say("the quick fix mends the word and the finding is gone");
    await picture("6-mended");
  } catch (error) {
    const page = context.pages()[0];
    if (page) await page.screenshot({ path: path.join(out, "failed.png") }).catch(() => {});
    throw error;
  } finally {
    await context.close();
    fs.rmSync(profile, { recursive: true, force: true });
  }
})().catch((error) => {
  console.error(`vscode: ${String(error).slice(0, 800)}`);
  process.exit(1);
});
