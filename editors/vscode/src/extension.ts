import * as vscode from "vscode";
import {
  ExecuteCommandRequest,
  LanguageClient,
  State,
  type LanguageClientOptions,
  type ServerOptions,
} from "vscode-languageclient/node";
import { page, type Section } from "./panel";
import { serverPath } from "./server";

const LANGUAGE = "part-program";

let client: LanguageClient | undefined;
let panel: vscode.WebviewPanel | undefined;
let status: vscode.StatusBarItem;
let asked = 0;

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  status = vscode.window.createStatusBarItem("flankwise.section", vscode.StatusBarAlignment.Right, 100);
  status.name = "flankwise: thread under the cursor";
  status.command = "flankwise.showPasses";
  context.subscriptions.push(
    status,
    vscode.commands.registerCommand("flankwise.restart", () => restart(context)),
    vscode.commands.registerCommand("flankwise.output", () => client?.outputChannel.show()),
    vscode.commands.registerCommand("flankwise.showPasses", () => showPasses(context)),
    vscode.window.onDidChangeTextEditorSelection((event) => follow(event.textEditor)),
    vscode.window.onDidChangeActiveTextEditor((editor) => follow(editor)),
    vscode.languages.onDidChangeDiagnostics(() => follow(vscode.window.activeTextEditor)),
    vscode.workspace.onDidChangeConfiguration((event) => {
      if (event.affectsConfiguration("flankwise.server")) void restart(context);
    }),
  );
  await start(context);
}

export async function deactivate(): Promise<void> {
  await client?.stop();
}

async function start(context: vscode.ExtensionContext): Promise<void> {
  const settings = vscode.workspace.getConfiguration("flankwise");
  const command = serverPath({
    configured: settings.get<string>("server.path", ""),
    extension: context.extensionPath,
    platform: process.platform,
  });
  const log = settings.get<string>("server.log", "warn");
  const server: ServerOptions = {
    command,
    args: ["lsp"],
    options: { env: { ...process.env, FLANKWISE_LOG: log } },
  };
  const options: LanguageClientOptions = {
    documentSelector: [{ language: LANGUAGE }],
    outputChannelName: "flankwise",
  };
  client = new LanguageClient("flankwise", "flankwise", server, options);
  client.onDidChangeState((event) => {
    if (event.newState === State.Running) void follow(vscode.window.activeTextEditor);
  });
  try {
    await client.start();
  } catch (error) {
    const choice = await vscode.window.showErrorMessage(
      `flankwise did not start (${command}): ${error instanceof Error ? error.message : String(error)}. ` +
        "Install it with `cargo install --path server`, or set flankwise.server.path.",
      "Open settings",
    );
    if (choice !== undefined) {
      await vscode.commands.executeCommand("workbench.action.openSettings", "flankwise.server.path");
    }
  }
}

async function restart(context: vscode.ExtensionContext): Promise<void> {
  const old = client;
  client = undefined;
  await old?.dispose();
  await start(context);
}

/** The section at the cursor, or nothing while the server is not there or knows none. */
async function section(editor: vscode.TextEditor): Promise<Section | undefined> {
  if (client?.state !== State.Running) return undefined;
  const answer: unknown = await client.sendRequest(ExecuteCommandRequest.type, {
    command: "flankwise.section",
    arguments: [client.code2ProtocolConverter.asUri(editor.document.uri), client.code2ProtocolConverter.asPosition(editor.selection.active)],
  });
  return (answer as Section | null) ?? undefined;
}

/** Keeps status item and panel at the thread under the cursor; an answer that comes late is dropped. */
async function follow(editor: vscode.TextEditor | undefined): Promise<void> {
  const turn = ++asked;
  if (editor?.document.languageId !== LANGUAGE) {
    status.hide();
    return;
  }
  const found = await section(editor).catch(() => undefined);
  if (turn !== asked) return;
  if (found === undefined) {
    status.hide();
  } else {
    status.text = `$(graph) ${found.summary}`;
    status.tooltip = found.title;
    status.show();
  }
  if (panel !== undefined) panel.webview.html = page(found);
}

async function showPasses(context: vscode.ExtensionContext): Promise<void> {
  if (panel === undefined) {
    panel = vscode.window.createWebviewPanel(
      "flankwise.passes",
      "Passes of the thread",
      { viewColumn: vscode.ViewColumn.Beside, preserveFocus: true },
      { enableScripts: false, localResourceRoots: [] },
    );
    panel.onDidDispose(() => (panel = undefined), undefined, context.subscriptions);
  }
  await follow(vscode.window.activeTextEditor ?? vscode.window.visibleTextEditors.find((e) => e.document.languageId === LANGUAGE));
}
