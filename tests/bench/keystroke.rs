//! From a keystroke to the diagnostics, through the whole language server: message in, message out.
//! Prints median and 99th percentile for programs of 10,000 and 1,000,000 lines, and how often a
//! keystroke fits into a fresh read and judgement of the same text, timed in the same run.
//!
//! `cargo bench -p flankwise-tests --bench keystroke`; behind `--` the names of the programs to run
//! (`turning`, `milling`) and the numbers of lines. Not a test: it asserts nothing about time.

#![allow(clippy::print_stdout)] // the figures are its result

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use lexer::program::Settings;
use rules::facts::Facts;
use serde_json::{Value, json};
use server::analysis::Core;
use server::lsp::{Timing, serve};
use tokio::io::{
    AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader, DuplexStream, ReadHalf, WriteHalf,
};

const URI: &str = "untitled:bench.nc";

fn main() {
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|it| it != "--bench")
        .collect();
    let any = |names: &[&str]| wanted.iter().any(|it| names.contains(&it.as_str()));
    let kinds = ["turning", "milling"];
    let sizes = ["10000", "1000000"];
    println!(
        "program           lines  threads   open ms  fresh ms  keystroke ms: median      p99   fresh / median"
    );
    for kind in kinds.iter().filter(|kind| !any(&kinds) || any(&[kind])) {
        for size in sizes.iter().filter(|size| !any(&sizes) || any(&[size])) {
            let lines: u32 = size.parse().expect("a number of our own");
            measure(kind, lines);
        }
    }
}

fn measure(kind: &str, lines: u32) {
    let text = match kind {
        "turning" => turning(lines),
        _ => milling(lines),
    };
    let (settings, facts) = (Settings::default(), Facts::default());
    let mut threads = 0;
    let fresh = median((0..if lines > 100_000 { 1 } else { 3 }).map(|_| {
        let begin = Instant::now();
        let program = lexer::read(text.as_bytes(), &settings);
        let judgement = rules::judge::judge(text.as_bytes(), &program, &settings, &facts);
        threads = judgement.threads.len();
        begin.elapsed()
    }));
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    let (open, mut strokes) = runtime.block_on(type_into(&text, lines));
    strokes.sort();
    let p99 = strokes[(strokes.len() * 99).div_ceil(100) - 1];
    let middle = strokes[strokes.len() / 2];
    println!(
        "{kind:12} {lines:>10} {threads:>8} {:>9.1} {:>9.1} {:>21.2} {:>8.2} {:>16.1}",
        ms(open),
        ms(fresh),
        ms(middle),
        ms(p99),
        ms(fresh) / ms(middle),
    );
}

/// Opens the text and types: three characters at a place and their removal, now and then a line
/// break and its removal, at places all over the text.
async fn type_into(text: &str, lines: u32) -> (Duration, Vec<Duration>) {
    let mut client = Client::start().await;
    let begin = Instant::now();
    client.open(text).await;
    let open = begin.elapsed();
    let mut times = Vec::new();
    let mut place = 12_345_u64;
    for round in 0..60 {
        // Numbers all over the range, the same in every run.
        place = place
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let line = ((place >> 33) % u64::from(lines - 2)) as u32 + 1;
        let put: &[&str] = if round % 4 == 3 {
            &["\n"]
        } else {
            &["(", "a", ")"]
        };
        for (column, put) in put.iter().enumerate() {
            let at = json!({"line": line, "character": column});
            times.push(client.change(json!({"start": at, "end": at}), put).await);
        }
        let (start, end) = if round % 4 == 3 {
            (
                json!({"line": line, "character": 0}),
                json!({"line": line + 1, "character": 0}),
            )
        } else {
            (
                json!({"line": line, "character": 0}),
                json!({"line": line, "character": 3}),
            )
        };
        times.push(client.change(json!({"start": start, "end": end}), "").await);
    }
    client.end().await;
    (open, times)
}

/// A client that does no more than is needed.
struct Client {
    output: WriteHalf<DuplexStream>,
    input: BufReader<ReadHalf<DuplexStream>>,
    version: i32,
}

impl Client {
    async fn start() -> Self {
        let (ours, theirs) = tokio::io::duplex(1 << 16);
        let (input, output) = tokio::io::split(theirs);
        tokio::spawn(serve(input, output, Core::default(), Timing::default()));
        let (input, output) = tokio::io::split(ours);
        let mut client = Self {
            output,
            input: BufReader::new(input),
            version: 0,
        };
        let params = json!({"processId": null, "rootUri": null, "capabilities": {}});
        client
            .send(json!({"jsonrpc": "2.0", "id": 1, "method": "initialize", "params": params}))
            .await;
        client.read().await;
        client
            .send(json!({"jsonrpc": "2.0", "method": "initialized", "params": {}}))
            .await;
        client
    }

    async fn send(&mut self, message: Value) {
        let body = message.to_string();
        let head = format!("Content-Length: {}\r\n\r\n", body.len());
        self.output
            .write_all(head.as_bytes())
            .await
            .expect("the server reads");
        self.output
            .write_all(body.as_bytes())
            .await
            .expect("the server reads");
    }

    async fn read(&mut self) -> Vec<u8> {
        let mut length = 0;
        loop {
            let mut line = String::new();
            self.input.read_line(&mut line).await.expect("a header");
            if line == "\r\n" {
                break;
            }
            let value = line
                .strip_prefix("Content-Length: ")
                .expect("the only header");
            length = value.trim_end().parse().expect("a length");
        }
        let mut body = vec![0; length];
        self.input.read_exact(&mut body).await.expect("a body");
        body
    }

    /// Waits for the diagnostics of the present version; they name it near their end or their start.
    async fn marks(&mut self) {
        let wanted = format!("\"version\":{}", self.version);
        loop {
            let body = self.read().await;
            let body = String::from_utf8_lossy(&body);
            if body.contains("publishDiagnostics") && body.contains(&wanted) {
                return;
            }
        }
    }

    async fn open(&mut self, text: &str) {
        self.version += 1;
        let document =
            json!({"uri": URI, "languageId": "gcode", "version": self.version, "text": text});
        self.send(json!({"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": {"textDocument": document}}))
            .await;
        self.marks().await;
    }

    async fn change(&mut self, range: Value, text: &str) -> Duration {
        self.version += 1;
        let params = json!({
            "textDocument": {"uri": URI, "version": self.version},
            "contentChanges": [{"range": range, "text": text}],
        });
        let begin = Instant::now();
        self.send(json!({"jsonrpc": "2.0", "method": "textDocument/didChange", "params": params}))
            .await;
        self.marks().await;
        begin.elapsed()
    }

    async fn end(&mut self) {
        self.send(json!({"jsonrpc": "2.0", "id": 2, "method": "shutdown"}))
            .await;
        self.read().await;
        self.send(json!({"jsonrpc": "2.0", "method": "exit"})).await;
    }
}

/// Shafts one after the other: turned by feed moves, with a thread every 200 lines.
fn turning(lines: u32) -> String {
    let mut text = String::from("%\nO1200 (SPINDLES FOR VALVES)\nG21 G18 G40 G99\n");
    let mut line = 3;
    while line < lines {
        match line % 200 {
            3 => text.push_str("T0101 (TURNING TOOL)\n"),
            4 => text.push_str("G96 S180 M3\n"),
            150 => text.push_str("T0303 (THREAD M24X3-6G, NOSE 0.4)\n"),
            151 => text.push_str("G97 S500 M3\n"),
            152 => text.push_str("G0 X28. Z9.\n"),
            153 => text.push_str("G76 P020060 Q100 R0.05\n"),
            154 => text.push_str("G76 X20.319 Z-30. P1840 Q420 F3.\n"),
            155 => text.push_str("G0 X200. Z100.\n"),
            156 => text.push_str("T0101\n"),
            157 => text.push_str("G96 S180 M3\n"),
            n if n % 5 == 0 => text.push_str("G0 X60. Z2.\n"),
            n => {
                let _ = writeln!(
                    text,
                    "G1 X{}.{:03} Z-{}.{} F.2",
                    40 + n % 20,
                    line % 1000,
                    n % 90,
                    n % 10
                );
            }
        }
        line += 1;
    }
    text
}

/// A long milled surface, with four tapped holes every 100,000 lines and at the end.
fn milling(lines: u32) -> String {
    let mut text = String::from(
        "%\nO1300 (PUMP HOUSING)\nG21 G17 G40 G90 G94\nT1 M6 (BALL END 6)\nS8000 M3\nG43 H1\n",
    );
    let mut line = 6;
    while line < lines {
        let end = line + 16 == lines;
        if line % 100_000 == 99_000 || end {
            text.push_str(
                "G0 Z50.\nT5 M6 (DRILL 8.5)\nS1500 M3\nG43 H5\nG81 X10. Y10. Z-30. R2. F200\nX90.\nG80\n\
                 T6 M6 (TAP M10)\nS300 M3\nG43 H6\nM29 S300\nG84 X10. Y10. Z-20. R5. F450\nX90.\nG80\n\
                 T1 M6\nS8000 M3\n",
            );
            line += 16;
            continue;
        }
        let _ = writeln!(
            text,
            "X{}.{:03} Y{}.{:03} Z-{}.{:03}",
            line / 97 % 100,
            line * 7 % 1000,
            line % 80,
            line * 13 % 1000,
            line % 9,
            line * 3 % 1000
        );
        line += 1;
    }
    text
}

fn median(times: impl Iterator<Item = Duration>) -> Duration {
    let mut times: Vec<Duration> = times.collect();
    times.sort();
    times[times.len() / 2]
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
