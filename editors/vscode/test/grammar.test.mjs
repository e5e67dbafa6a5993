import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { test } from "node:test";

const require = createRequire(import.meta.url);
const oniguruma = require("vscode-oniguruma");
const textmate = require("vscode-textmate");

const here = (path) => new URL(path, import.meta.url);
await oniguruma.loadWASM(readFileSync(require.resolve("vscode-oniguruma/release/onig.wasm")).buffer);
const registry = new textmate.Registry({
  onigLib: Promise.resolve({
    createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
    createOnigString: (text) => new oniguruma.OnigString(text),
  }),
  loadGrammar: async () =>
    textmate.parseRawGrammar(readFileSync(here("../syntaxes/part-program.tmLanguage.json"), "utf8"), "grammar.json"),
});
const grammar = await registry.loadGrammar("source.part-program");

/** The innermost scope of the first character of `part` in `line`. */
function scope(line, part) {
  const at = line.indexOf(part);
  const { tokens } = grammar.tokenizeLine(line, textmate.INITIAL);
  return tokens.find((token) => token.startIndex <= at && at < token.endIndex).scopes.at(-1);
}

const cases = [
  ["G76 P010060 Q100 R.05", "G76", "keyword.other.thread.part-program"],
  ["G97S1600P13M03G00X.808Z.65", "G97", "keyword.other.preparatory.part-program"],
  ["G97S1600P13M03G00X.808Z.65", "M03", "support.function.auxiliary.part-program"],
  ["G97S1600P13M03G00X.808Z.65", "X", "variable.parameter.axis.part-program"],
  ["G32 Z-28. F2.5", "F", "storage.type.feed.part-program"],
  ["(THREAD M24X3-6G, NOSE 0.4)", "THREAD", "keyword.other.note.part-program"],
  ["; ALLOW depth-vs-form, tested", "ALLOW", "keyword.other.note.part-program"],
  ["(VALVE STEM G76)", "G76", "comment.block.part-program"],
  ["O1204 (STEM)", "O1204", "entity.name.section.program.part-program"],
  ["WHILE [#1 LE #2] DO1", "WHILE", "keyword.control.flow.part-program"],
  ["G0 X[20.-2.*#3*SQRT[#1/#2]]", "#3", "variable.other.numbered.part-program"],
  ["G0 X[20.-2.*#3*SQRT[#1/#2]]", "SQRT", "support.function.arithmetic.part-program"],
  ["CYCLE97(3,,0,-30)", "CYCLE97", "entity.name.function.call.part-program"],
  ["#<depth> = 1.84", "#<depth>", "variable.other.named.part-program"],
  ["M98 P2906", "M98", "keyword.control.call.part-program"],
];
for (const [line, part, wanted] of cases) {
  test(`${part} in ${line}`, () => assert.equal(scope(line, part), wanted));
}

test("an unclosed comment ends with its line", () => {
  const first = grammar.tokenizeLine("G0 X1. (NOT CLOSED", textmate.INITIAL);
  const second = grammar.tokenizeLine("G1 X2.", first.ruleStack);
  assert.ok(!second.tokens[0].scopes.some((name) => name.startsWith("comment")));
});
