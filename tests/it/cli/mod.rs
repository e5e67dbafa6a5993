//! The command line, run in process: exit statuses, configuration, discovery, output, fixes.

mod any_bytes;
mod audit;
mod beside;
mod compare;
mod config;
mod cut;
mod discovery;
mod fix;
mod fix_scale;
mod formats;
mod gate;
mod handbook;
mod help;
mod init;
mod output;
mod pages;
mod rewrites;
mod schema;
mod shop;
mod thread;
mod usage;

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use rules::standards::Side;
use server::cli::{Exit, Streams, run};
use tempfile::TempDir;

/// A run and what it wrote.
struct Ran {
    exit: Exit,
    out: Vec<u8>,
    err: String,
}

impl Ran {
    fn out(&self) -> &str {
        std::str::from_utf8(&self.out).unwrap()
    }

    /// The output as JSON.
    fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.out).unwrap()
    }

    /// Output and messages without the folder of the test.
    fn shown(&self, shop: &Shop) -> String {
        let root = format!("{}/", shop.root.path().display());
        format!(
            "{:?}\n--- out\n{}--- err\n{}",
            self.exit,
            self.out().replace(&root, ""),
            self.err.replace(&root, "")
        )
    }
}

fn flankwise<S: Into<OsString>>(args: impl IntoIterator<Item = S>, stdin: &[u8]) -> Ran {
    let mut all = vec![OsString::from("flankwise")];
    all.extend(args.into_iter().map(Into::into));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = run(
        all,
        Streams {
            input: &mut &*stdin,
            out: &mut out,
            err: &mut err,
            colour: false,
            colour_err: false,
        },
    );
    Ran {
        exit,
        out,
        err: String::from_utf8(err).unwrap(),
    }
}

/// A folder with the programs of a repair shop.
struct Shop {
    root: TempDir,
}

impl Shop {
    fn new() -> Shop {
        Shop {
            root: tempfile::tempdir().unwrap(),
        }
    }

    /// A shop where this rule alone is on, so that a test stays about its subject.
    fn with_only(rule: &str) -> Shop {
        let shop = Shop::new();
        let mut config = String::from("[rules]\n");
        for other in rules::checks::RULES.iter().filter(|one| one.name != rule) {
            config.push_str(&format!("{} = \"off\"\n", other.name));
        }
        shop.write("flankwise.toml", config);
        shop
    }

    fn path(&self, name: &str) -> PathBuf {
        if name == "." {
            return self.root.path().to_owned();
        }
        self.root.path().join(name)
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        path
    }

    fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap()
    }

    /// Runs with the paths (relative to the shop) behind the arguments.
    fn run(&self, args: &[&str], paths: &[&str]) -> Ran {
        let paths = paths.iter().map(|path| self.path(path).into_os_string());
        let args = args.iter().map(OsString::from);
        flankwise(args.chain(paths), b"")
    }
}

/// A sound thread.
const SOUND: &[u8] = b"%\nO1200 (PUMP SHAFT)\nG21 G40 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\n\
    G0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100. Z100. M5\nM30\n%\n";

/// The same with constant surface speed left on: an error.
const SURFACE_SPEED: &[u8] = b"%\nO1200 (PUMP SHAFT)\nG21 G40 G99\nT0303\n(THREAD M30X2-6G)\nG96 S180 M3\n\
    G0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100. Z100. M5\nM30\n%\n";

/// The demo shop of the project.
fn corpus() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../corpus"))
}
