//! A client for tests. It claims every message that the server sends: what is left at the end, or
//! comes after it, fails the test. Waiting has a bound, far above what is needed, so that a server
//! that hangs fails instead of hanging the tests.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use serde_json::{Value, json};
use server::analysis::Core;
use server::lsp::{Assist, Ended, Timing, serve};
use tokio::io::{
    AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader, DuplexStream, ReadHalf, WriteHalf,
};
use tokio::task::JoinHandle;

use super::fake::{Control, Fake};

const BOUND: Duration = Duration::from_secs(30);

/// A document that most tests use.
pub(super) const URI: &str = "file:///shop/valve.nc";

pub(super) struct Client {
    output: Option<WriteHalf<DuplexStream>>,
    input: BufReader<ReadHalf<DuplexStream>>,
    session: Option<JoinHandle<Ended>>,
    unclaimed: VecDeque<Value>,
    next_id: i64,
    version: i32,
    /// The answer to `initialize`.
    pub(super) initialized: Value,
    /// The other side of the analysis.
    pub(super) control: Arc<Control>,
}

impl Client {
    /// A session in which nothing was said yet.
    pub(super) fn silent(timing: Timing) -> Self {
        let control = Arc::new(Control::default());
        let fake = Fake(Arc::clone(&control));
        Self::with(fake, control, timing)
    }

    /// A session with the analysis of the house, that is ready to work in a folder.
    pub(super) async fn house(folder: Option<&str>, capabilities: Value) -> Self {
        let mut client = Self::with(Core::default(), Arc::default(), Timing::default());
        let folders = folder.map(|uri| json!([{"uri": uri, "name": "shop"}]));
        client
            .initialize(json!({
                "processId": null, "rootUri": null, "capabilities": capabilities,
                "workspaceFolders": folders,
            }))
            .await;
        client.notify("initialized", json!({})).await;
        client
    }

    fn with(analysis: impl Assist, control: Arc<Control>, timing: Timing) -> Self {
        let (ours, theirs) = tokio::io::duplex(1 << 14);
        let (input, output) = tokio::io::split(theirs);
        let session = tokio::spawn(serve(input, output, analysis, timing));
        let (input, output) = tokio::io::split(ours);
        Self {
            output: Some(output),
            input: BufReader::new(input),
            session: Some(session),
            unclaimed: VecDeque::new(),
            next_id: 1,
            version: 0,
            initialized: Value::Null,
            control,
        }
    }

    /// A session that is ready to work, for a client with these capabilities.
    pub(super) async fn start(capabilities: Value) -> Self {
        let mut client = Self::silent(Timing::default());
        client
            .initialize(json!({"processId": null, "rootUri": null, "capabilities": capabilities}))
            .await;
        client.notify("initialized", json!({})).await;
        client
    }

    pub(super) async fn initialize(&mut self, params: Value) {
        self.initialized = self.ask("initialize", params).await;
    }

    // What goes out.

    pub(super) async fn send_bytes(&mut self, bytes: &[u8]) {
        let output = self.output.as_mut().expect("our end is open");
        bound("the server takes what we send", output.write_all(bytes))
            .await
            .unwrap();
    }

    pub(super) async fn send(&mut self, message: &Value) {
        self.send_bytes(&frame(&message.to_string())).await;
    }

    pub(super) async fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({"jsonrpc": "2.0", "method": method, "params": params}))
            .await;
    }

    /// Sends a request and does not wait.
    pub(super) async fn request(&mut self, method: &str, params: Value) -> i64 {
        let id = self.next_id;
        self.next_id += 1;
        self.send(&json!({"jsonrpc": "2.0", "id": id, "method": method, "params": params}))
            .await;
        id
    }

    /// Answers a request of the server.
    pub(super) async fn reply(&mut self, request: &Value) {
        self.send(&json!({"jsonrpc": "2.0", "id": request["id"], "result": null}))
            .await;
    }

    // What comes in.

    /// The next message, or `None` at the end.
    async fn read(&mut self) -> Option<Value> {
        let mut length = 0;
        loop {
            let mut line = String::new();
            if bound("a message", self.input.read_line(&mut line))
                .await
                .unwrap()
                == 0
            {
                return None;
            }
            if line == "\r\n" {
                break;
            }
            let value = line
                .strip_prefix("Content-Length: ")
                .expect("the only header we send");
            length = value.trim_end().parse().expect("a length");
        }
        let mut body = vec![0; length];
        bound("a body", self.input.read_exact(&mut body))
            .await
            .unwrap();
        Some(serde_json::from_slice(&body).expect("JSON from the server"))
    }

    /// The first message that fits, leaving the others unclaimed.
    pub(super) async fn claim(&mut self, what: &str, fits: impl Fn(&Value) -> bool) -> Value {
        if let Some(at) = self.unclaimed.iter().position(&fits) {
            return self.unclaimed.remove(at).unwrap();
        }
        loop {
            let message = self
                .read()
                .await
                .unwrap_or_else(|| panic!("{what} before the end"));
            if fits(&message) {
                return message;
            }
            self.unclaimed.push_back(message);
        }
    }

    /// The answer to a request: its result, or its error.
    pub(super) async fn answer(&mut self, id: i64) -> Result<Value, Value> {
        let is_answer = |it: &Value| it["id"] == id && it.get("method").is_none();
        let mut answer = self.claim("an answer", is_answer).await;
        assert_eq!(answer["jsonrpc"], "2.0");
        match answer.get_mut("error") {
            Some(error) => Err(error.take()),
            None => Ok(answer["result"].take()),
        }
    }

    /// Whether the answer to a request was read while something else was waited for.
    pub(super) fn holds_answer(&self, id: i64) -> bool {
        let mut all = self.unclaimed.iter();
        all.any(|it| it["id"] == id && it.get("method").is_none())
    }

    /// Asks and expects a result.
    pub(super) async fn ask(&mut self, method: &str, params: Value) -> Value {
        let id = self.request(method, params).await;
        self.answer(id)
            .await
            .unwrap_or_else(|error| panic!("{method}: {error}"))
    }

    /// Asks and expects an error; gives its code.
    pub(super) async fn refused(&mut self, method: &str, params: Value) -> i64 {
        let id = self.request(method, params).await;
        let error = self.answer(id).await.expect_err("an error");
        error["code"].as_i64().expect("a code")
    }

    /// The next request or notification of the server with this method.
    pub(super) async fn expect(&mut self, method: &str) -> Value {
        self.claim(method, |it| it["method"] == method).await
    }

    // The session's everyday.

    pub(super) async fn open(&mut self, uri: &str, text: &str) {
        self.version += 1;
        let document =
            json!({"uri": uri, "languageId": "gcode", "version": self.version, "text": text});
        self.notify("textDocument/didOpen", json!({"textDocument": document}))
            .await;
    }

    pub(super) async fn change(&mut self, uri: &str, changes: Value) {
        self.version += 1;
        let document = json!({"uri": uri, "version": self.version});
        let params = json!({"textDocument": document, "contentChanges": changes});
        self.notify("textDocument/didChange", params).await;
    }

    pub(super) async fn close(&mut self, uri: &str) {
        self.notify(
            "textDocument/didClose",
            json!({"textDocument": {"uri": uri}}),
        )
        .await;
    }

    /// The version of the last open or change.
    pub(super) fn version(&self) -> i32 {
        self.version
    }

    /// The next diagnostics of a document that were sent unasked, which must be of this version.
    pub(super) async fn marks(&mut self, uri: &str, version: impl Into<Option<i32>>) -> Value {
        let is_for = |it: &Value| {
            it["method"] == "textDocument/publishDiagnostics" && it["params"]["uri"] == uri
        };
        let mut message = self.claim("diagnostics", is_for).await;
        assert_eq!(
            message["params"].get("version"),
            version.into().map(Value::from).as_ref()
        );
        message["params"]["diagnostics"].take()
    }

    /// What the server holds as the text of a document, by way of a hover.
    pub(super) async fn text(&mut self, uri: &str) -> String {
        let hover = self.ask("textDocument/hover", at(uri, 0, 0)).await;
        let value = hover["contents"]["value"]
            .as_str()
            .expect("a hover")
            .to_owned();
        value.split_once('\n').expect("the path first").1.to_owned()
    }

    // The end.

    /// Ends the session as the protocol asks, expecting that nothing is left unclaimed.
    pub(super) async fn finish(mut self) {
        let id = self.request("shutdown", Value::Null).await;
        assert_eq!(self.answer(id).await, Ok(Value::Null));
        self.send(&json!({"jsonrpc": "2.0", "method": "exit"}))
            .await;
        assert_eq!(
            self.ended().await,
            Ended::Exit {
                after_shutdown: true
            }
        );
    }

    /// Closes our end.
    pub(super) fn hang_up(&mut self) {
        let mut output = self.output.take().expect("our end is open");
        tokio::spawn(async move { output.shutdown().await });
    }

    /// How the session ended, expecting that nothing is left unclaimed.
    pub(super) async fn ended(&mut self) -> Ended {
        let (ended, unclaimed) = self.end().await;
        assert!(unclaimed.is_empty(), "unclaimed: {unclaimed:#?}");
        ended
    }

    /// How the session ended, and what was left unclaimed.
    pub(super) async fn end(&mut self) -> (Ended, VecDeque<Value>) {
        let session = self.session.take().expect("a session");
        let ended = bound("the end of the session", session)
            .await
            .expect("no panic");
        while let Some(message) = self.read().await {
            self.unclaimed.push_back(message);
        }
        (ended, std::mem::take(&mut self.unclaimed))
    }
}

impl Drop for Client {
    fn drop(&mut self) {
        self.control.release();
        let is_over = self.session.is_none() || std::thread::panicking();
        assert!(is_over, "the session was not brought to its end");
    }
}

/// A message on the wire.
pub(super) fn frame(body: &str) -> Vec<u8> {
    format!("Content-Length: {}\r\n\r\n{body}", body.len()).into_bytes()
}

/// A place in a document, as parameters.
pub(super) fn at(uri: &str, line: u32, character: u32) -> Value {
    json!({"textDocument": {"uri": uri}, "position": {"line": line, "character": character}})
}

/// A range on the wire.
pub(super) fn range(from: (u32, u32), to: (u32, u32)) -> Value {
    json!({"start": {"line": from.0, "character": from.1},
           "end": {"line": to.0, "character": to.1}})
}

/// Waits until something is true that another thread brings about.
pub(super) async fn until(what: &str, is_so: impl Fn() -> bool) {
    let wait = async {
        while !is_so() {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
    };
    bound(what, wait).await;
}

async fn bound<T>(what: &str, wait: impl Future<Output = T>) -> T {
    tokio::time::timeout(BOUND, wait)
        .await
        .unwrap_or_else(|_| panic!("waited in vain for {what}"))
}
