"""A long session with the language server. Every message that it sends is read as the type that the
protocol's model gives to its method, and written again: nothing may be refused, and nothing may get
lost on the way. Every request that the server announces is asked at least once.

usage: session.py FLANKWISE WORK CORPUS
"""

import json
import pathlib
import queue
import shutil
import subprocess
import sys
import threading

import cattrs
from lsprotocol import converters, types

CONVERTER = converters.get_converter()
FAULTS = []
COUNTS = {}

TURNED = """%
O4711 (GLAND STUD Ø30 🔩)
(THREAD M30X2-6G)
G21 G40 G99
T0303
G97 S1000 M3
G0 X34. Z10.
G76 P021055 Q80 R0.05
G76 X27,546 Z-36. P1227 Q350 F2.
G0 X100. Z100. M5
M98 P1204
M30
O1204
#1=5.
N10 G0 X#1
GOTO 10
M99
%
"""


def fault(method, text, message):
    FAULTS.append(f"{method}: {text}\n    {json.dumps(message)[:600]}")


def lost(before, after, where=""):
    """What of a value is not there any more after it was read and written; nulls may go."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key, value in before.items():
            if value is not None and key not in after:
                yield f"{where}.{key} is not in the model"
            elif value is not None:
                yield from lost(value, after[key], f"{where}.{key}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for at, (one, other) in enumerate(zip(before, after)):
            yield from lost(one, other, f"{where}[{at}]")
    elif before != after:
        yield f"{where} became {after!r}"


def check(method, kind, message):
    COUNTS[method] = COUNTS.get(method, 0) + 1
    try:
        read = CONVERTER.structure(message, kind)
    except Exception as error:  # whatever it is, the message is not of its type
        reasons = cattrs.transform_error(error) if isinstance(error, cattrs.BaseValidationError) else [error]
        fault(method, f"refused: {reasons}", message)
        return
    for text in lost(message, CONVERTER.unstructure(read, kind)):
        fault(method, text, message)


class Session:
    def __init__(self, server, work):
        self.process = subprocess.Popen(
            [server, "lsp"], cwd=work, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        self.next = 1
        self.asked = {}
        self.answers = {}
        self.unasked = queue.Queue()
        self.waiting = threading.Condition()
        self.methods = set()
        threading.Thread(target=self.listen, daemon=True).start()

    def listen(self):
        output = self.process.stdout
        while True:
            length = None
            while (line := output.readline()) not in (b"\r\n", b""):
                name, value = line.decode("ascii").split(":")
                if name.lower() == "content-length":
                    length = int(value)
            if length is None:
                break
            self.take(json.loads(output.read(length)))

    def take(self, message):
        if message.get("jsonrpc") != "2.0":
            fault("message", "is not JSON-RPC 2.0", message)
        method = message.get("method")
        if method is None:
            method = self.asked[message["id"]]
            kind = types.ResponseErrorMessage if "error" in message else types.METHOD_TO_TYPES[method][1]
            if "error" not in message and "result" not in message:
                fault(method, "has neither a result nor an error", message)
            check(method, kind, message)
            with self.waiting:
                self.answers[message["id"]] = message
                self.waiting.notify_all()
            return
        if method not in types.METHOD_TO_TYPES:
            fault(method, "is no method of the protocol", message)
            return
        check(method, types.METHOD_TO_TYPES[method][0], message)
        if "id" in message:
            self.send({"jsonrpc": "2.0", "id": message["id"], "result": None})
        self.unasked.put(message)

    def send(self, message):
        body = json.dumps(message).encode()
        self.process.stdin.write(b"Content-Length: %d\r\n\r\n" % len(body) + body)
        self.process.stdin.flush()

    def notify(self, method, params):
        self.send({"jsonrpc": "2.0", "method": method, "params": params})

    def begin(self, method, params):
        number, self.next = self.next, self.next + 1
        self.asked[number] = method
        self.methods.add(method)
        self.send({"jsonrpc": "2.0", "id": number, "method": method, "params": params})
        return number

    def answer(self, number):
        with self.waiting:
            if not self.waiting.wait_for(lambda: number in self.answers, timeout=30):
                raise SystemExit(f"no answer to {self.asked[number]}")
            return self.answers.pop(number)

    def ask(self, method, params, may_fail=False):
        answer = self.answer(self.begin(method, params))
        if "error" in answer and not may_fail:
            fault(method, "was refused", answer)
        return answer.get("result")

    def expect(self, method):
        while True:
            message = self.unasked.get(timeout=30)
            if message["method"] == method:
                return message["params"]


def everything():
    """A client that can do all that the protocol knows and the server may look at."""
    text = {
        "synchronization": {"dynamicRegistration": True, "didSave": True},
        "publishDiagnostics": {
            "relatedInformation": True, "versionSupport": True, "codeDescriptionSupport": True,
            "dataSupport": True, "tagSupport": {"valueSet": [1, 2]},
        },
        "hover": {"contentFormat": ["markdown", "plaintext"]},
        "codeAction": {
            "codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["quickfix", "refactor", "source"]}},
            "isPreferredSupport": True, "disabledSupport": True, "dataSupport": True,
        },
        "completion": {
            "completionItem": {"snippetSupport": True, "documentationFormat": ["markdown"], "insertReplaceSupport": True},
            "contextSupport": True,
        },
        "signatureHelp": {
            "signatureInformation": {
                "documentationFormat": ["markdown"], "activeParameterSupport": True,
                "parameterInformation": {"labelOffsetSupport": True},
            }
        },
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": True},
        "documentLink": {"tooltipSupport": True},
        "semanticTokens": {
            "requests": {"full": True, "range": True},
            "tokenTypes": ["keyword", "number", "comment", "variable", "function", "macro", "operator", "parameter", "type", "label", "string"],
            "tokenModifiers": [], "formats": ["relative"],
        },
    }
    for name in ("foldingRange", "selectionRange", "inlayHint", "codeLens", "definition", "references",
                 "documentHighlight", "callHierarchy"):
        text[name] = {"dynamicRegistration": False}
    return {
        "general": {"positionEncodings": ["utf-16", "utf-8"]},
        "window": {"workDoneProgress": True, "showMessage": {}},
        "workspace": {
            "applyEdit": True, "workspaceFolders": True, "configuration": True,
            "workspaceEdit": {"documentChanges": True, "changeAnnotationSupport": {"groupsOnLabel": True}},
            "didChangeWatchedFiles": {"dynamicRegistration": True},
            "didChangeConfiguration": {"dynamicRegistration": True},
            "symbol": {}, "executeCommand": {}, "diagnostics": {"refreshSupport": True},
        },
        "textDocument": text,
    }


# The request that stands for each announcement in the answer to `initialize`.
ANNOUNCED = {
    "hoverProvider": "textDocument/hover",
    "codeActionProvider": "textDocument/codeAction",
    "diagnosticProvider": "textDocument/diagnostic",
    "documentSymbolProvider": "textDocument/documentSymbol",
    "foldingRangeProvider": "textDocument/foldingRange",
    "selectionRangeProvider": "textDocument/selectionRange",
    "inlayHintProvider": "textDocument/inlayHint",
    "codeLensProvider": "textDocument/codeLens",
    "semanticTokensProvider": "textDocument/semanticTokens/full",
    "definitionProvider": "textDocument/definition",
    "referencesProvider": "textDocument/references",
    "documentHighlightProvider": "textDocument/documentHighlight",
    "documentLinkProvider": "textDocument/documentLink",
    "callHierarchyProvider": "textDocument/prepareCallHierarchy",
    "completionProvider": "textDocument/completion",
    "signatureHelpProvider": "textDocument/signatureHelp",
    "workspaceSymbolProvider": "workspace/symbol",
    "executeCommandProvider": "workspace/executeCommand",
}
NO_REQUEST = {"positionEncoding", "textDocumentSync", "workspace"}


def ask_all(session, uri, text):
    """Every request about a document, at every few places of it."""
    document = {"textDocument": {"uri": uri}}
    lines = text.split("\n")
    end = {"line": len(lines), "character": 0}
    whole = {"start": {"line": 0, "character": 0}, "end": end}
    for method in ("documentSymbol", "foldingRange", "codeLens", "documentLink", "semanticTokens/full"):
        session.ask(f"textDocument/{method}", document)
    session.ask("textDocument/semanticTokens/range", {**document, "range": whole})
    session.ask("textDocument/inlayHint", {**document, "range": whole})
    session.ask("textDocument/codeAction", {**document, "range": whole, "context": {"diagnostics": []}})
    for number, line in enumerate(lines):
        for character in sorted({0, 1, len(line) // 2, len(line), len(line) + 9}):
            at = {**document, "position": {"line": number, "character": character}}
            for method in ("hover", "definition", "documentHighlight", "completion", "signatureHelp"):
                session.ask(f"textDocument/{method}", at)
            session.ask("textDocument/references", {**at, "context": {"includeDeclaration": number % 2 == 0}})
            session.ask("textDocument/selectionRange", {**document, "positions": [at["position"]]})
            place = {"start": at["position"], "end": at["position"]}
            session.ask("textDocument/codeAction", {**document, "range": place, "context": {"diagnostics": []}})
            for item in session.ask("textDocument/prepareCallHierarchy", at) or []:
                session.ask("callHierarchy/incomingCalls", {"item": item})
                session.ask("callHierarchy/outgoingCalls", {"item": item})


def run(server, work, corpus, pulls):
    shop = work / ("pulls" if pulls else "pushes")
    shutil.copytree(corpus / "shop", shop)
    (shop / "O4711").write_text(TURNED)
    root = shop.as_uri()
    session = Session(server, work)
    capabilities = everything()
    if pulls:
        capabilities["textDocument"]["diagnostic"] = {"relatedDocumentSupport": True}
    answer = session.ask("initialize", {
        "processId": None, "rootUri": root, "capabilities": capabilities,
        "workspaceFolders": [{"uri": root, "name": "shop"}],
    })
    session.notify("initialized", {})
    session.expect("client/registerCapability")

    announced = {name for name, value in answer["capabilities"].items() if value not in (None, False)}
    for name in announced - NO_REQUEST - ANNOUNCED.keys():
        fault("initialize", f"announces {name}, which this session does not ask for", {})

    texts = {f"{root}/O4711": TURNED, "untitled:Untitled-1": TURNED.replace("\n", "\r\n")}
    for file in sorted(corpus.glob("constructs/*"))[:12]:
        if file.suffix == ".nc":
            texts[file.as_uri()] = file.read_bytes().decode("latin-1")
    for uri, text in texts.items():
        document = {"uri": uri, "languageId": "gcode", "version": 1, "text": text}
        session.notify("textDocument/didOpen", {"textDocument": document})
        if pulls:
            known = session.ask("textDocument/diagnostic", {"textDocument": {"uri": uri}})
            session.ask("textDocument/diagnostic", {
                "textDocument": {"uri": uri}, "previousResultId": known["resultId"], "identifier": "flankwise",
            })
        else:
            session.expect("textDocument/publishDiagnostics")
        ask_all(session, uri, text if len(text) < 600 else "\n".join(text.split("\n")[:12]))

    # Typing, with requests that the next letter makes void.
    uri = f"{root}/O4711"
    for version, letter in enumerate("(CHASED BY HAND)\n", 2):
        at = {"line": 4, "character": version - 2}
        change = {"range": {"start": at, "end": at}, "text": letter}
        session.notify("textDocument/didChange", {
            "textDocument": {"uri": uri, "version": version}, "contentChanges": [change],
        })
        hover = session.begin("textDocument/hover", {"textDocument": {"uri": uri}, "position": at})
        if version % 3 == 0:
            session.notify("$/cancelRequest", {"id": hover})
    session.ask("textDocument/hover", {"textDocument": {"uri": uri}, "position": {"line": 9, "character": 3}})
    session.notify("textDocument/didSave", {"textDocument": {"uri": uri}})
    session.notify("workspace/didChangeConfiguration", {"settings": None})
    session.notify("workspace/didChangeWatchedFiles", {"changes": [{"uri": f"{root}/flankwise.toml", "type": 2}]})

    session.ask("workspace/symbol", {"query": ""})
    session.ask("workspace/symbol", {"query": "M30"})
    if pulls:
        report = session.ask("workspace/diagnostic", {"previousResultIds": [], "workDoneToken": "judging"})
        session.expect("$/progress")
        known = [
            {"uri": item["uri"], "value": item["resultId"]} for item in report["items"] if item.get("resultId")
        ]
        waiting = session.begin("workspace/diagnostic", {"previousResultIds": known[:1]})
        session.answer(waiting)
    for command in answer["capabilities"]["executeCommandProvider"]["commands"]:
        arguments = [{"uri": uri, "line": 9, "character": 3}]
        for given in (arguments, [uri, 9, 3], [uri, {"line": 9, "character": 3}], []):
            session.ask("workspace/executeCommand", {"command": command, "arguments": given}, may_fail=True)
    session.ask("workspace/executeCommand", {"command": "no.such", "arguments": []}, may_fail=True)
    session.ask("textDocument/hover", {"textDocument": {"uri": "file:///none.nc"}, "position": {"line": 0, "character": 0}})
    other = work / "other"
    other.mkdir(exist_ok=True)
    folders = {"added": [{"uri": other.as_uri(), "name": "other"}], "removed": [{"uri": root, "name": "shop"}]}
    session.notify("workspace/didChangeWorkspaceFolders", {"event": folders})
    session.ask("workspace/symbol", {"query": ""})
    for uri in texts:
        session.notify("textDocument/didClose", {"textDocument": {"uri": uri}})
    missing = {ANNOUNCED[name] for name in announced & ANNOUNCED.keys()} - session.methods
    for method in missing:
        fault(method, "is announced and was not asked", {})
    session.ask("shutdown", None)
    session.ask("textDocument/hover", {"textDocument": {"uri": root}, "position": {"line": 0, "character": 0}}, may_fail=True)
    session.notify("exit", None)
    code = session.process.wait(timeout=30)
    if code != 0:
        fault("exit", f"the process ended with {code}", {})
    log = session.process.stderr.read().decode()
    if "panic" in log:
        fault("log", log, {})


def main():
    server, work, corpus = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
    for pulls in (False, True):
        run(server, work, corpus, pulls)
    print(f"protocol: {sum(COUNTS.values())} messages of {len(COUNTS)} methods")
    for text in FAULTS[:40]:
        print(text)
    if FAULTS:
        sys.exit(f"{len(FAULTS)} faults")


main()
