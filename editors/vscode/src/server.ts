import { existsSync } from "node:fs";
import { join } from "node:path";

/** What decides which server is started. */
export interface Choice {
  /** `flankwise.server.path`; empty when not set. */
  readonly configured: string;
  /** Folder of the extension. */
  readonly extension: string;
  /** `process.platform`. */
  readonly platform: string;
  /** Whether a file is there. */
  readonly exists?: (path: string) => boolean;
}

/** The program to start: the configured one, the one that came with the extension, the one on the path. */
export function serverPath(choice: Choice): string {
  const configured = choice.configured.trim();
  if (configured !== "") return configured;
  const name = choice.platform === "win32" ? "flankwise.exe" : "flankwise";
  const bundled = join(choice.extension, "bin", name);
  return (choice.exists ?? existsSync)(bundled) ? bundled : name;
}
