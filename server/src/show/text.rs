//! Findings for a person at a terminal. The only file that knows the renderer.

use std::fmt::Write as _;

use annotate_snippets::renderer::DEFAULT_LINE_NUM_STYLE;
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Renderer, Snippet};
use lexer::source::{Lines, Span};
use rules::finding::{Finding, FixKind, Severity};

use super::visible;

/// Most characters of a program line that are shown.
const WIDTH: usize = 110;

/// A program text and how messages call it.
#[derive(Clone, Copy)]
pub(crate) struct Text<'a> {
    /// The path as shown.
    pub(crate) path: &'a str,
    /// The text.
    pub(crate) bytes: &'a [u8],
    /// Its lines.
    pub(crate) lines: &'a Lines,
}

impl<'a> Text<'a> {
    /// A line (from 1) without its line end, and where it begins.
    pub(crate) fn line(&self, line: u32) -> (&'a [u8], u32) {
        let span = self.lines.span(line);
        let mut text = span.of(self.bytes);
        while let [rest @ .., b'\r' | b'\n'] = text {
            text = rest;
        }
        (text, span.start)
    }

    /// Line and column of an offset, both from 1, the column in characters.
    pub(crate) fn place(&self, offset: u32) -> (u32, u32) {
        let line = self.lines.line(offset);
        let span = self.lines.span(line);
        let text = span.of(self.bytes);
        let column = visible::column(text, offset.saturating_sub(span.start) as usize);
        (line, column)
    }
}

/// One finding with its code window, sum, source, help and fixes; ends with an empty line.
pub(crate) fn finding(text: Text<'_>, finding: &Finding, colour: bool) -> String {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Advice => Level::INFO.with_name("advice"),
    };
    let title = level
        .primary_title(visible::text(&finding.message))
        .id(finding.rule);
    let code = Code::of(text, finding);
    let mut group = Group::with_title(title).element(code.snippet);
    let mut note = |name: &'static str, lines: &[String]| {
        let lines: Vec<_> = lines.iter().map(|line| visible::text(line)).collect();
        let text = lines.join("\n");
        if !text.is_empty() {
            let message = Level::NOTE.with_name(name).message(text);
            group = std::mem::replace(&mut group, Group::with_level(Level::NOTE)).element(message);
        }
    };
    note("because", &finding.because);
    note("source", std::slice::from_ref(&finding.source));
    note("see", &code.far);
    note("help", std::slice::from_ref(&finding.help));
    for fix in &finding.fixes {
        let name = match fix.kind {
            FixKind::Text => "fix",
            FixKind::Motion => "fix that changes the cut",
        };
        note(name, std::slice::from_ref(&fix.title));
    }
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let shown = renderer.render(&[group]);
    // The renderer counts columns in the window, where lines are cut and characters replaced: the
    // place is written here.
    let (title, rest) = shown.split_once('\n').unwrap_or((&shown, ""));
    let (line, column) = text.place(finding.span.start);
    let arrow = if colour {
        format!("{DEFAULT_LINE_NUM_STYLE}-->{DEFAULT_LINE_NUM_STYLE:#}")
    } else {
        "-->".to_owned()
    };
    let width = code.last_line.to_string().len();
    format!(
        "{title}\n{:width$}{arrow} {}:{line}:{column}\n{rest}\n\n",
        "", text.path
    )
}

/// The lines to show around a finding.
struct Code {
    snippet: Snippet<'static, Annotation<'static>>,
    last_line: u32,
    /// Related places too far away to be shown, in words.
    far: Vec<String>,
}

/// Most lines from the guilty line to a related one that is shown with it.
const NEAR: u32 = 200;

impl Code {
    fn of(text: Text<'_>, finding: &Finding) -> Code {
        let guilty = text.lines.line(finding.span.start);
        let mut marks = vec![(guilty, finding.span, None)];
        let mut far = Vec::new();
        for related in finding.related.iter().take(4) {
            let line = text.lines.line(related.span.start);
            let label = visible::text(&related.text).into_owned();
            if line.abs_diff(guilty) > NEAR {
                far.push(format!("line {line}: {label}"));
            } else {
                marks.push((line, related.span, Some(label)));
            }
        }
        let context = |line: u32| line.abs_diff(guilty) <= 1;
        let first = marks.iter().map(|mark| mark.0).min().unwrap_or(guilty);
        let last = marks.iter().map(|mark| mark.0).max().unwrap_or(guilty);
        let first = first.min(guilty.saturating_sub(1)).max(1);
        let last = last.max(guilty + 1).min(text.lines.count());
        let mut source = String::new();
        let mut annotations = Vec::new();
        let mut last_line = guilty;
        for line in first..=last {
            if line > first {
                source.push('\n');
            }
            // Lines that the renderer folds away need no text.
            if !marks.iter().any(|mark| mark.0.abs_diff(line) <= 2) {
                continue;
            }
            let (bytes, start) = text.line(line);
            let here: Vec<_> = marks.iter().filter(|mark| mark.0 == line).collect();
            let spans: Vec<Span> = here
                .iter()
                .map(|(_, span, _)| in_line(*span, start, bytes.len()))
                .collect();
            let shown = visible::window(bytes, &spans, WIDTH);
            let base = source.len();
            source.push_str(&shown.text);
            let whole = base..source.len();
            for ((.., label), range) in here.into_iter().zip(shown.marks) {
                let range = base + range.start..base + range.end;
                last_line = last_line.max(line);
                annotations.push(match label {
                    None => AnnotationKind::Primary.span(range),
                    Some(label) => AnnotationKind::Context.span(range).label(label.clone()),
                });
            }
            if spans.is_empty() && context(line) && !whole.is_empty() {
                last_line = last_line.max(line);
                annotations.push(AnnotationKind::Visible.span(whole));
            }
        }
        let snippet = Snippet::source(source)
            .line_start(first as usize)
            .annotations(annotations);
        Code {
            snippet,
            last_line,
            far,
        }
    }
}

/// The part of a span that lies in its first line, counted from the line's start.
fn in_line(span: Span, start: u32, length: usize) -> Span {
    let length = length as u32;
    Span::new(
        span.start.saturating_sub(start).min(length),
        span.end.saturating_sub(start).min(length),
    )
}

/// `1 error`, `2 errors`.
pub(crate) fn plural(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What a run has seen.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Tally {
    pub(crate) files: usize,
    pub(crate) sections: usize,
    pub(crate) errors: usize,
    pub(crate) warnings: usize,
    pub(crate) advice: usize,
    pub(crate) unread: usize,
    /// Findings that the baseline knows.
    pub(crate) known: usize,
    /// Findings that a waiver covers.
    pub(crate) waived: usize,
}

impl Tally {
    /// Counts findings.
    pub(crate) fn count(&mut self, findings: &[Finding]) {
        for finding in findings {
            match finding.severity {
                Severity::Error => self.errors += 1,
                Severity::Warning => self.warnings += 1,
                Severity::Advice => self.advice += 1,
            }
        }
    }

    /// Adds another tally.
    pub(crate) fn add(&mut self, other: Tally) {
        self.files += other.files;
        self.sections += other.sections;
        self.errors += other.errors;
        self.warnings += other.warnings;
        self.advice += other.advice;
        self.unread += other.unread;
        self.known += other.known;
        self.waived += other.waived;
    }

    /// The worst severity that was counted.
    pub(crate) fn worst(&self) -> Option<Severity> {
        match self {
            Tally { errors: 1.., .. } => Some(Severity::Error),
            Tally { warnings: 1.., .. } => Some(Severity::Warning),
            Tally { advice: 1.., .. } => Some(Severity::Advice),
            _ => None,
        }
    }

    /// The line at the end.
    pub(crate) fn summary(&self) -> String {
        let mut line = format!(
            "{}, {}: {}, {}, {} advice",
            plural(self.files, "program", "programs"),
            plural(self.sections, "threading section", "threading sections"),
            plural(self.errors, "error", "errors"),
            plural(self.warnings, "warning", "warnings"),
            self.advice,
        );
        if self.known > 0 {
            let _ = write!(line, "; {} known from the baseline", self.known);
        }
        if self.waived > 0 {
            let _ = write!(line, "; {} waived", self.waived);
        }
        if self.unread > 0 {
            let unread = plural(self.unread, "input", "inputs");
            let _ = write!(line, "; {unread} could not be read");
        }
        line.push('\n');
        line
    }
}

#[cfg(test)]
mod tests {
    use rules::finding::{Edit, Fix, Related};

    use super::*;

    fn show(bytes: &[u8], finding: &Finding) -> String {
        let lines = Lines::new(bytes);
        let text = Text {
            path: "turning/O1200.nc",
            bytes,
            lines: &lines,
        };
        super::finding(text, finding, false)
    }

    fn find(bytes: &[u8], word: &str) -> Span {
        let at = bytes
            .windows(word.len())
            .position(|window| window == word.as_bytes())
            .unwrap() as u32;
        Span::new(at, at + word.len() as u32)
    }

    fn example(bytes: &[u8], word: &str) -> Finding {
        Finding {
            rule: "axis-feed-limit",
            severity: Severity::Error,
            span: find(bytes, word),
            line: 1,
            section: Some(0),
            message: "the pass needs 6000 mm/min, the machine threads at 4500 at most".to_owned(),
            because: vec![
                "2000 1/min × 3 mm = 6000 mm/min".to_owned(),
                "4500 / 3 = 1500 1/min".to_owned(),
            ],
            source: "flankwise.toml: machine \"lathe-2\" max_thread_feed_mm_min".to_owned(),
            help: "lower the speed to 1500 1/min".to_owned(),
            related: vec![],
            fixes: vec![],
        }
    }

    #[test]
    fn a_finding_with_everything() {
        let bytes = "%\r\nO1200 (Pumpenwelle)\r\nG97 S2000 M3\r\n(Gänge \u{1b}[31m\u{202e})\r\nT0303\r\nG0 X28. Z6.\r\n\
                      G76 P021060 Q100 R0.05\r\n(ä) G76 X20.319 Z-30. P1840 Q300 F3.\r\nG0 X100.\r\n"
            .as_bytes();
        let mut finding = example(bytes, "F3.");
        finding.related.push(Related {
            span: find(bytes, "S2000"),
            line: 3,
            text: "speed".to_owned(),
        });
        finding.fixes.push(Fix {
            title: "write S1500: 9 passes, 16.9 s before, 21.2 s after".to_owned(),
            kind: FixKind::Motion,
            edits: vec![Edit {
                span: find(bytes, "S2000"),
                text: "S1500".to_owned(),
            }],
        });
        insta::assert_snapshot!(show(bytes, &finding));
    }

    #[test]
    fn lines_that_are_long_hostile_or_missing() {
        let mut bytes = b"G0 X1.\tZ2. ".repeat(40);
        bytes.extend_from_slice(b"(\x1b]0;x\x07::error::x<script>\xe2\x80\xae) F3.");
        let mut finding = example(&bytes, "F3.");
        finding.because.clear();
        finding.help = "::error::\u{1b}[0m\nsecond".to_owned();
        finding.severity = Severity::Advice;
        insta::assert_snapshot!(show(&bytes, &finding));
        finding.span = Span::new(900, 950);
        assert!(show(b"", &finding).contains("turning/O1200.nc:1:1"));
        assert!(show(b"G0\n", &finding).contains("turning/O1200.nc:2:1"));
    }

    #[test]
    fn counts_in_words() {
        let mut tally = Tally {
            files: 1,
            sections: 2,
            ..Tally::default()
        };
        tally.count(&[example(b"F3.", "F3.")]);
        assert_eq!(
            tally.summary(),
            "1 program, 2 threading sections: 1 error, 0 warnings, 0 advice\n"
        );
        assert_eq!(tally.worst(), Some(Severity::Error));
        tally.unread = 1;
        assert!(tally.summary().contains("; 1 input could not be read\n"));
    }
}
