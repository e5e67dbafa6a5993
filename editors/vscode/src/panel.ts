/** What the server says about the threading section at a place (command `flankwise.section`). */
export interface Section {
  /** Designation or lead, and the lines. */
  readonly title: string;
  /** One short line for the status bar. */
  readonly summary: string;
  /** The pass table and what else there is to say, as plain text. */
  readonly text: string;
  /** The thread form with the passes drawn in it: one `<svg>` element. */
  readonly svg?: string;
}

/** Text made harmless for a page. */
export function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`);
}

/**
 * The page of the panel. The picture is shown as an image, where nothing in it can run; the rest is
 * escaped text.
 */
export function page(section: Section | undefined): string {
  const policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";
  const body =
    section === undefined
      ? "<p>No threading section here. Put the cursor on a block that cuts a thread.</p>"
      : `<h1>${escaped(section.title)}</h1>` +
        (section.svg === undefined
          ? ""
          : `<img alt="Thread form with its passes" src="data:image/svg+xml;base64,${Buffer.from(section.svg, "utf8").toString("base64")}">`) +
        `<pre>${escaped(section.text)}</pre>`;
  return `<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<style>
body { font-family: var(--vscode-font-family); padding: 0 1em; }
h1 { font-size: 1.2em; }
img { background: #fff; max-width: 100%; border: 1px solid var(--vscode-panel-border); }
pre { font-family: var(--vscode-editor-font-family); overflow-x: auto; }
</style></head><body>${body}</body></html>`;
}
