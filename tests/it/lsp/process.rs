//! The server as a real process on real pipes: how it ends, and what it writes where.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use serde_json::{Value, json};

use super::client::{URI, frame};

const BOUND: Duration = Duration::from_secs(30);

struct Process {
    child: Child,
    input: Option<ChildStdin>,
    /// What comes out; after the end, what is left that is no message.
    output: Receiver<Result<Value, String>>,
}

impl Process {
    fn start(log: &str) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_test-language-server"))
            .env("FLANKWISE_LOG", log)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the server of the tests");
        let input = child.stdin.take();
        let mut stdout = BufReader::new(child.stdout.take().expect("piped"));
        let (sender, output) = mpsc::channel();
        std::thread::spawn(move || {
            loop {
                let message = message(&mut stdout);
                let is_last = message.is_err();
                if sender.send(message).is_err() || is_last {
                    return;
                }
            }
        });
        let mut process = Self {
            child,
            input,
            output,
        };
        let params = json!({"processId": std::process::id(), "capabilities": {}});
        process.send(json!({"jsonrpc": "2.0", "id": 1, "method": "initialize", "params": params}));
        assert_eq!(process.read()["id"], 1);
        process.send(json!({"jsonrpc": "2.0", "method": "initialized", "params": {}}));
        process
    }

    fn send(&mut self, message: Value) {
        let input = self.input.as_mut().expect("our end is open");
        input
            .write_all(&frame(&message.to_string()))
            .expect("the server reads");
        input.flush().expect("the server reads");
    }

    fn read(&mut self) -> Value {
        self.output
            .recv_timeout(BOUND)
            .expect("a message in time")
            .expect("a message")
    }

    fn open(&mut self, text: &str) {
        let document = json!({"uri": URI, "languageId": "gcode", "version": 1, "text": text});
        let params = json!({"textDocument": document});
        self.send(json!({"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": params}));
        assert_eq!(self.read()["params"]["version"], 1);
    }

    /// The exit status, the rest of the output, and the log.
    fn ended(mut self) -> (ExitStatus, String, String) {
        let rest = self.output.recv_timeout(BOUND).expect("an end in time");
        let rest = rest.map_or_else(|rest| rest, |message| message.to_string());
        let status = self.child.wait().expect("our own child");
        let mut log = String::new();
        self.child
            .stderr
            .take()
            .expect("piped")
            .read_to_string(&mut log)
            .expect("text");
        (status, rest, log)
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill(); // it has ended already, unless the test fails
        let _ = self.child.wait();
    }
}

/// The next message, or what stands there instead, to the end.
fn message(output: &mut impl BufRead) -> Result<Value, String> {
    let mut header = String::new();
    output.read_line(&mut header).expect("text");
    let length = header
        .trim_end()
        .strip_prefix("Content-Length: ")
        .map(str::parse::<usize>);
    let Some(Ok(length)) = length else {
        output.read_to_string(&mut header).expect("text");
        return Err(header);
    };
    let mut body = vec![0; length + 2];
    output.read_exact(&mut body).expect("a body");
    serde_json::from_slice(&body).map_err(|error| error.to_string())
}

#[test]
fn exit_ends_the_process_although_the_input_stays_open() {
    let mut polite = Process::start("warn");
    polite.open("G76");
    polite.send(json!({"jsonrpc": "2.0", "id": 2, "method": "shutdown", "params": null}));
    assert_eq!(
        polite.read(),
        json!({"jsonrpc": "2.0", "id": 2, "result": null})
    );
    polite.send(json!({"jsonrpc": "2.0", "method": "exit"}));
    let (status, rest, log) = polite.ended();
    assert_eq!(
        (status.code(), rest.as_str(), log.as_str()),
        (Some(0), "", "")
    );

    let mut rude = Process::start("warn");
    rude.send(json!({"jsonrpc": "2.0", "method": "exit"}));
    assert_eq!(
        rude.ended().0.code(),
        Some(1),
        "the protocol asks for 1 without shutdown"
    );
}

#[test]
fn the_end_of_the_input_ends_the_process() {
    let mut process = Process::start("warn");
    process.open("G76");
    process.input = None;
    assert_eq!(process.ended().0.code(), Some(0));
}

#[test]
fn an_analysis_that_hangs_does_not_keep_the_process() {
    let mut process = Process::start("warn");
    process.open("STICKY");
    let params = super::client::at(URI, 0, 0);
    process
        .send(json!({"jsonrpc": "2.0", "id": 2, "method": "textDocument/hover", "params": params}));
    process.input = None;
    assert_eq!(process.ended().0.code(), Some(0));
}

/// At the loudest level, and through a panic: not a word of the program, and nothing on the standard
/// output but messages.
#[test]
fn the_log_holds_no_program_text() {
    let mut process = Process::start("trace");
    process.open("SECRETPART G76 PANIC");
    process
        .send(json!({"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": "SECRETPART"}));
    process
        .input
        .as_mut()
        .expect("open")
        .write_all(b"SECRETPART\n")
        .expect("the server reads");
    let change = json!({"textDocument": {"uri": URI, "version": 0},
                        "contentChanges": [{"text": "SECRETPART"}]});
    process.send(json!({"jsonrpc": "2.0", "method": "textDocument/didChange", "params": change}));
    process.read();
    process.input = None;
    let (status, rest, log) = process.ended();
    assert_eq!((status.code(), rest.as_str()), (Some(0), ""));
    assert!(
        log.contains("panic") && log.contains("a version did not rise"),
        "{log}"
    );
    assert!(!log.contains("SECRETPART"), "{log}");
}
