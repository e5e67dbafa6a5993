//! The seam between the language server and the core: plain data, places in bytes. No type of the
//! protocol crosses it, and what stands behind it may block, for it only runs on worker threads.

use std::ops::Range;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use ropey::Rope;

/// What the language server needs to know about a program.
pub trait Analysis: Send + Sync + 'static {
    /// What one program was found to be. It answers every later question about that text, so it
    /// holds whatever those answers need (a clone of the rope costs nothing).
    type Result: Send + Sync + 'static;

    /// Reads and judges one program. `None` gives up because `input.cancelled` was set; nothing is
    /// shown for it. A panic is caught and shown as an internal error.
    fn analyse(&self, input: Input<'_, Self::Result>) -> Option<Self::Result>;

    /// Everything to mark in the editor. Called more than once for a result; the order must stay.
    fn diagnostics(&self, result: &Self::Result) -> Vec<Diagnostic>;

    /// What to say about the byte at `at`, if anything.
    fn hover(&self, result: &Self::Result, at: usize) -> Option<Hover>;

    /// A picture for the hover at a byte, as the text of an SVG file. Asked only for an editor that
    /// shows pictures.
    fn picture(&self, _result: &Self::Result, _at: usize) -> Option<Picture> {
        None
    }

    /// The actions that concern the bytes `at`; an empty range is a cursor. The range of the whole
    /// text must give every action. The editor asks at every move of the cursor.
    fn actions(&self, result: &Self::Result, at: Range<usize>) -> Vec<Action>;

    /// A configuration file or a setting changed: forget what was read. Every open program is
    /// analysed again afterwards, without a previous result.
    fn config_changed(&self);
}

/// One program to analyse.
#[derive(Debug)]
pub struct Input<'a, R> {
    /// Where the program lies; `None` when it lies in no file (an unsaved buffer, a remote scheme).
    pub path: Option<&'a Path>,
    /// The text, as the editor holds it. Line ends and characters are untouched.
    pub text: &'a Rope,
    /// The newest finished result of this document, and what has changed since.
    pub previous: Option<Previous<'a, R>>,
    /// Look at it now and then: once set, nobody waits for this result any more.
    pub cancelled: &'a Cancel,
}

impl<R> Input<'_, R> {
    /// The whole text in one piece.
    pub fn bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(self.text.len_bytes());
        for chunk in self.text.chunks() {
            bytes.extend_from_slice(chunk.as_bytes());
        }
        bytes
    }
}

/// An older result of the same document, to start from.
#[derive(Debug)]
pub struct Previous<'a, R> {
    /// The older result.
    pub result: &'a R,
    /// Where its text differs from the text now.
    pub changed: Changed,
}

/// Two texts that agree outside one stretch: `old` bytes of the one became `new` bytes of the
/// other. Both start at the same byte; what stands before and behind is equal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changed {
    /// The stretch in the older text.
    pub old: Range<usize>,
    /// The stretch in the newer text.
    pub new: Range<usize>,
}

/// A flag that says "nobody waits for this any more". Clones share it.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// Sets the flag for every clone, for good.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was set.
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// Scrap, crash or alarm.
    Error,
    /// A published or configured limit is broken.
    Warning,
    /// Time, tool life or a missing fact.
    Advice,
}

/// How an editor may draw a finding besides its severity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tag {
    /// It has no effect.
    Unnecessary,
    /// It should no longer be written.
    Deprecated,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Where, in bytes of the text.
    pub bytes: Range<usize>,
    /// How bad.
    pub severity: Severity,
    /// The name of the rule.
    pub code: String,
    /// An address of the rule's page.
    pub href: Option<String>,
    /// What is wrong and the sum behind it. It must stand alone: the first line says what is wrong.
    pub message: String,
    /// Other places that belong to it. Appended to the message for a client that cannot show them.
    pub related: Vec<Related>,
    /// Anything that should come back with a request for actions; `Null` for nothing.
    pub data: serde_json::Value,
    /// How to draw it.
    pub tags: Vec<Tag>,
}

/// Another place that belongs to a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Related {
    /// Where, in bytes of the same text.
    pub bytes: Range<usize>,
    /// What is there.
    pub message: String,
}

/// What to show under the mouse.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hover {
    /// The text, in Markdown that reads well as plain text too.
    pub markdown: String,
    /// What it is about, in bytes of the text.
    pub bytes: Range<usize>,
}

/// A picture beside a hover.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// What it shows, for those who cannot see it.
    pub words: String,
    /// The text of an SVG file.
    pub svg: String,
}

/// What applying an action does to the cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActionKind {
    /// Nothing: the traced motion, speed and tool stream is the same before and after. These, and
    /// only these, join "fix all".
    Text,
    /// The cut changes. Never preferred, never part of "fix all"; the editor is asked to have it
    /// confirmed where it can.
    Motion,
    /// Nothing, but it is one person's decision (a waiver): offered singly, never part of "fix all".
    Comment,
}

/// Something that can be done about the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Action {
    /// What it does, in one line. For `Motion` it says that the cut changes.
    pub title: String,
    /// What it does to the cut.
    pub kind: ActionKind,
    /// The replacements, in bytes of the text, none overlapping another. All or nothing.
    pub edits: Vec<Edit>,
    /// Whether it is the obvious thing to do.
    pub is_preferred: bool,
    /// Which of `diagnostics` it mends, by index. `None`: nothing was wrong, it is a rewrite.
    pub diagnostic: Option<usize>,
    /// The caution to show before it is applied, for an action that changes the cut.
    pub caution: Option<String>,
}

/// One replacement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// The bytes to replace; empty to insert. Neither end splits a character or a CR LF.
    pub bytes: Range<usize>,
    /// What to put there.
    pub text: String,
}
