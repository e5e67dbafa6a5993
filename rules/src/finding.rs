//! A finding: what is wrong, where, the sum behind it, the source of the limit, and what mends it.

use lexer::source::Span;

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Time, tool life, or a fact that is missing.
    Advice,
    /// A published or configured limit is broken.
    Warning,
    /// Arithmetic on supplied facts says scrap, crash or alarm.
    Error,
}

impl Severity {
    /// The name used in JSON, configuration and text.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Severity::Advice => "advice",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }

    /// The severity of a name.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        [Severity::Advice, Severity::Warning, Severity::Error]
            .into_iter()
            .find(|severity| severity.name() == name)
    }
}

/// Replaces the bytes of a span.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// What is replaced; empty to insert.
    pub span: Span,
    /// The new text.
    pub text: String,
}

/// What a fix changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FixKind {
    /// The text only: motion, speed and tool stream stay the same.
    Text,
    /// The cut.
    Motion,
}

impl FixKind {
    /// The name used in JSON and on the command line.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            FixKind::Text => "text",
            FixKind::Motion => "motion",
        }
    }
}

/// A way to mend a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fix {
    /// What it does; for [`FixKind::Motion`] with the depth and passes before and after.
    pub title: String,
    /// What it changes.
    pub kind: FixKind,
    /// Edits that belong together, in order, not overlapping.
    pub edits: Vec<Edit>,
}

/// A place that belongs to the finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Related {
    /// Where.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
    /// What stands there.
    pub text: String,
}

/// A finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Rule name.
    pub rule: &'static str,
    /// How bad.
    pub severity: Severity,
    /// The guilty word or block.
    pub span: Span,
    /// Line of its start, from 1.
    pub line: u32,
    /// Index of the section.
    pub section: Option<usize>,
    /// What is wrong, one sentence with the numbers.
    pub message: String,
    /// The sum, line by line.
    pub because: Vec<String>,
    /// Where the limit comes from.
    pub source: String,
    /// What to do.
    pub help: String,
    /// Other places.
    pub related: Vec<Related>,
    /// Ways to mend it, best first.
    pub fixes: Vec<Fix>,
}
