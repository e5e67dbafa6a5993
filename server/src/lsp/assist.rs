//! What an editor may ask about a program beyond its findings: plain data, places in bytes, as in
//! [`super::analysis`].

use std::ops::Range;
use std::path::{Path, PathBuf};

use super::analysis::Analysis;

/// Answers that help while reading and typing a program. Each method has an answer that says
/// nothing, so that an analysis need not know all of them.
pub trait Assist: Analysis {
    /// The outline: programs, tools, threads, passes. Children lie within their parent.
    fn symbols(&self, _: &Self::Result) -> Vec<Symbol> {
        Vec::new()
    }

    /// What can be folded; each covers two lines or more.
    fn folds(&self, _: &Self::Result) -> Vec<Range<usize>> {
        Vec::new()
    }

    /// Short texts to show between the characters of the stretch `within`.
    fn hints(&self, _: &Self::Result, _within: Range<usize>) -> Vec<Hint> {
        Vec::new()
    }

    /// One line to show above each thread.
    fn lenses(&self, _: &Self::Result) -> Vec<Lens> {
        Vec::new()
    }

    /// What the words in the stretch `within` are, in order, none overlapping another and none
    /// longer than its line.
    fn tokens(&self, _: &Self::Result, _within: Range<usize>) -> Vec<Token> {
        Vec::new()
    }

    /// Every place of the name at `at`: program number, line number, variable.
    fn occurrences(&self, _: &Self::Result, _at: usize) -> Vec<Occurrence> {
        Vec::new()
    }

    /// What belongs together with the block at `at`: the halves of a cycle, the passes of a thread.
    fn companions(&self, _: &Self::Result, _at: usize) -> Vec<Range<usize>> {
        Vec::new()
    }

    /// The stretches around `at` that mean something, from the innermost out.
    fn around(&self, _: &Self::Result, _at: usize) -> Vec<Range<usize>> {
        Vec::new()
    }

    /// The programs of the file, with the calls in each.
    fn routines(&self, _: &Self::Result) -> Vec<Routine> {
        Vec::new()
    }

    /// Numbers of programs that are called and are not in the file.
    fn links(&self, _: &Self::Result) -> Vec<Link> {
        Vec::new()
    }

    /// What may be typed at `at`.
    fn completions(&self, _: &Self::Result, _at: usize) -> Vec<Completion> {
        Vec::new()
    }

    /// The words of the cycle at `at`, and which of them is being typed.
    fn signature(&self, _: &Self::Result, _at: usize) -> Option<Signature> {
        None
    }

    /// The thread at `at` for a panel beside the program.
    fn section(&self, _: &Self::Result, _at: usize) -> Option<View> {
        None
    }

    /// The audit of programs and folders as Markdown or as a page, with quantities from a file where
    /// one is given, and what there was to say about files that could not be read.
    fn audit(
        &self,
        _paths: &[PathBuf],
        _quantities: Option<&Path>,
        _page: bool,
    ) -> Option<(String, String)> {
        None
    }

    /// The part programs below a folder, as far as `stop` lets it look.
    fn programs(&self, _folder: &Path, _stop: &dyn Fn() -> bool) -> Vec<PathBuf> {
        Vec::new()
    }
}

/// What an entry of the outline is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SymbolKind {
    /// A program of the file.
    Program,
    /// The blocks of a tool.
    Tool,
    /// A threading section.
    Thread,
    /// A pass.
    Pass,
}

/// An entry of the outline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// Its name.
    pub name: String,
    /// More about it.
    pub detail: String,
    /// What it is.
    pub kind: SymbolKind,
    /// All of it.
    pub bytes: Range<usize>,
    /// What to select of it.
    pub select: Range<usize>,
    /// What it holds.
    pub children: Vec<Symbol>,
}

/// A short text to show in the program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// Behind which byte.
    pub at: usize,
    /// The text.
    pub text: String,
    /// More about it.
    pub tooltip: String,
}

/// A line above a thread.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lens {
    /// The block it stands above.
    pub bytes: Range<usize>,
    /// The line.
    pub title: String,
}

/// What a word is. The order is that of [`TokenKind::ALL`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TokenKind {
    /// A preparatory or auxiliary code.
    Code,
    /// The code of a threading cycle or stroke.
    ThreadCode,
    /// A word of a threading section.
    ThreadWord,
    /// The address of any other word.
    Address,
    /// A number.
    Number,
    /// A line number.
    LineNumber,
    /// A program number.
    Program,
    /// A variable.
    Variable,
    /// A named cycle or keyword.
    Name,
    /// A comment.
    Comment,
    /// A comment that states a thread, or a waiver.
    Note,
}

impl TokenKind {
    /// Every kind.
    pub const ALL: [TokenKind; 11] = [
        TokenKind::Code,
        TokenKind::ThreadCode,
        TokenKind::ThreadWord,
        TokenKind::Address,
        TokenKind::Number,
        TokenKind::LineNumber,
        TokenKind::Program,
        TokenKind::Variable,
        TokenKind::Name,
        TokenKind::Comment,
        TokenKind::Note,
    ];
}

/// A word with what it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// Where.
    pub bytes: Range<usize>,
    /// What.
    pub kind: TokenKind,
}

/// A place of a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Occurrence {
    /// Where.
    pub bytes: Range<usize>,
    /// Whether the name is given its meaning here.
    pub defines: bool,
}

/// A program of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Routine {
    /// Its number, with the letter O.
    pub name: String,
    /// All of it.
    pub bytes: Range<usize>,
    /// Its number.
    pub select: Range<usize>,
    /// The calls in it: where, and the number that is called.
    pub calls: Vec<(Range<usize>, String)>,
}

/// The number of a program in another file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Where the call says the number.
    pub bytes: Range<usize>,
    /// File names that the program may have, likeliest first.
    pub names: Vec<String>,
}

/// Something that may be typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Completion {
    /// What is shown.
    pub label: String,
    /// What it means, in a few words.
    pub detail: String,
    /// What it means, in a paragraph.
    pub documentation: String,
    /// What it replaces.
    pub bytes: Range<usize>,
    /// The text to put there.
    pub text: String,
}

/// The words of a cycle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// The cycle as it would be written.
    pub label: String,
    /// What the cycle does.
    pub documentation: String,
    /// Its words: where in the label (bytes; it is ASCII), and their meaning.
    pub words: Vec<(Range<usize>, String)>,
    /// The word being typed.
    pub active: Option<usize>,
}

/// A thread for a panel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct View {
    /// Designation and lines.
    pub title: String,
    /// A few words for a status bar.
    pub summary: String,
    /// The pass table, as plain text.
    pub text: String,
    /// The thread form with its passes: one `svg` element.
    pub svg: Option<String>,
}
