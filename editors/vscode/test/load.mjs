import { buildSync } from "esbuild";

/** A module of the extension, compiled on the way in. */
export async function load(file) {
  const built = buildSync({
    entryPoints: [new URL(`../src/${file}`, import.meta.url).pathname],
    bundle: true,
    write: false,
    format: "esm",
    platform: "node",
    external: ["vscode"],
  });
  return import(`data:text/javascript;base64,${Buffer.from(built.outputFiles[0].text).toString("base64")}`);
}
