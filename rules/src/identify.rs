//! Which thread is this: from a note, a comment, the configuration, or the numbers, with the
//! reasons.

use lexer::source::Span;

/// Where a designation comes from, strongest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum From {
    /// A `(THREAD …)` note in the program.
    Annotation,
    /// The configuration.
    Config,
    /// A free comment.
    Comment,
    /// The numbers of the section.
    Numbers,
}

impl From {
    /// The name used in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            From::Annotation => "annotation",
            From::Config => "config",
            From::Comment => "comment",
            From::Numbers => "numbers",
        }
    }
}

/// The thread of a section.
#[derive(Debug, Clone, Default)]
pub struct Identified {
    /// The thread and where it comes from; none when nothing fits.
    pub thread: Option<(crate::standards::Thread, From)>,
    /// The place of the note or comment.
    pub place: Option<(Span, u32)>,
    /// The reasons, or why there is none.
    pub why: String,
    /// The next best, with its reason.
    pub runner_up: Option<String>,
    /// A designation in a free comment that the numbers contradict: the text, its place, what
    /// disagrees.
    pub conflict: Option<Conflict>,
    /// Tool nose radius from the note, mm.
    pub nose_radius_mm: Option<f64>,
    /// Threaded length from the note, mm.
    pub length_mm: Option<f64>,
}

/// A comment that names another thread than the numbers do.
#[derive(Debug, Clone)]
pub struct Conflict {
    /// Designation in the comment.
    pub named: crate::standards::Thread,
    /// Where.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
    /// What disagrees, with the numbers.
    pub disagrees: String,
}
