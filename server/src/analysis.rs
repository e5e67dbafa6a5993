//! The core behind the language server: reads and judges the text of one document and answers
//! what the editor asks about it.

use std::ops::Range;
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use lexer::moved::Moved;
use lexer::program::{Program, Settings};
use lexer::source::Span;
use lexer::{Again, Reading};
use ropey::Rope;
use rules::facts::Facts;
use rules::finding::{Finding, FixKind, Severity};
use rules::judge::{Before, Judgement, judge_unless};
use rules::measure::sheet::{Sheet, Wish};

use crate::beside::Beside;
use crate::config::Resolver;
use crate::lsp::{
    self as protocol, Action, ActionKind, Analysis, Changed, Diagnostic, Edit, Hover, Input,
    Picture, Previous, Related,
};
use crate::rewrites;
use crate::show::{CAUTION_SHORT, form_svg, hover, passes_svg};

/// Largest drawing of passes in bytes that a hover carries; beyond it the form is drawn alone.
const LARGEST_PICTURE: usize = 20_000;

/// The real analysis. Configurations are remembered until one changes.
#[derive(Debug, Default)]
pub struct Core {
    resolver: Mutex<Arc<Resolver>>,
}

/// One judged text.
#[derive(Debug)]
pub struct Judged {
    pub(crate) bytes: Vec<u8>,
    pub(crate) program: Program,
    /// What is kept to read the text again after an edit.
    reading: Reading,
    pub(crate) settings: Settings,
    pub(crate) facts: Facts,
    pub(crate) judgement: Judgement,
    /// Rewrites of each section, worked out when they are first asked for.
    pub(crate) rewrites: Vec<OnceLock<Vec<Action>>>,
    /// What is wrong with the configuration, when it cannot be used.
    refused: Option<String>,
}

impl Core {
    fn facts(&self, path: Option<&Path>) -> (Settings, Facts, Option<String>) {
        let resolver = self
            .resolver
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        match path.map(|path| resolver.facts(path)) {
            None => (Settings::default(), Facts::default(), None),
            Some(Ok((settings, facts))) => (settings, facts, None),
            Some(Err(refused)) => (
                Settings::default(),
                Facts::default(),
                Some(refused.to_string()),
            ),
        }
    }
}

impl Analysis for Core {
    type Result = Judged;

    fn analyse(&self, input: Input<'_, Judged>) -> Option<Judged> {
        let (settings, facts, refused) = self.facts(input.path);
        let beside = Beside::of(input.path);
        let stopped = || input.cancelled.is_set();
        let previous = input.previous.as_ref().filter(|previous| {
            // Facts are those of the same files: a change of these makes every result void.
            previous.result.settings == settings && previous.result.refused == refused
        });
        let (bytes, program, reading, moved) = match previous {
            None => {
                let bytes = input.bytes();
                let (program, reading) = Reading::new(&bytes, &settings, &beside);
                (bytes, program, reading, None)
            }
            Some(Previous { result, changed }) => {
                let bytes = spliced(&result.bytes, input.text, changed);
                let again = Again {
                    program: &result.program,
                    old: changed.old.clone(),
                    new: changed.new.clone(),
                };
                let (program, reading) = result.reading.again(&bytes, &settings, &beside, &again);
                let edit = narrow(&changed.old).zip(narrow(&changed.new));
                let moved = edit.map(|(old, new)| {
                    Moved::new(&old, &new, &result.program.lines, &program.lines)
                });
                (bytes, program, reading, moved)
            }
        };
        let before = previous.zip(moved).map(|(previous, moved)| Before {
            bytes: &previous.result.bytes,
            program: &previous.result.program,
            judgement: &previous.result.judgement,
            moved,
        });
        let text = (bytes.as_slice(), &program);
        let judgement = judge_unless(&stopped, text, (&settings, &facts), before.as_ref())?;
        let rewrites = program.sections.iter().map(|_| OnceLock::new()).collect();
        Some(Judged {
            bytes,
            program,
            reading,
            settings,
            facts,
            judgement,
            rewrites,
            refused,
        })
    }

    fn diagnostics(&self, judged: &Judged) -> Vec<Diagnostic> {
        let mut all: Vec<Diagnostic> = judged.judgement.findings.iter().map(diagnostic).collect();
        if let Some(refused) = &judged.refused {
            all.push(Diagnostic {
                bytes: 0..0,
                severity: protocol::Severity::Error,
                code: "configuration".into(),
                href: None,
                message: format!("the configuration is not used: {refused}"),
                related: Vec::new(),
                data: serde_json::Value::Null,
                tags: Vec::new(),
            });
        }
        all
    }

    fn hover(&self, judged: &Judged, at: usize) -> Option<Hover> {
        let index = judged.section_at(at)?;
        let at = u32::try_from(at).ok()?;
        let section = &judged.program.sections[index];
        let block = section.blocks.iter().find(|block| block.span.touches(at))?;
        Some(Hover {
            markdown: hover::section(
                section,
                &judged.judgement.threads[index],
                &judged.judgement.tables[index],
                &judged.judgement.not_judged[index],
            ),
            bytes: range(block.span),
        })
    }

    /// The passes in the form of the thread, or the form alone, where they are known.
    fn picture(&self, judged: &Judged, at: usize) -> Option<Picture> {
        let index = judged.section_at(at)?;
        let side = judged.program.sections[index].side()?;
        let identified = judged.judgement.threads.get(index)?;
        let (thread, _) = identified.thread.as_ref()?;
        let passes = passes_svg::Passes {
            section: &judged.program.sections[index],
            identified,
            table: judged.judgement.tables.get(index)?,
        };
        let drawn = passes_svg::drawing(passes, "Passes", "passes", true);
        if let Some(drawn) = drawn.filter(|drawn| drawn.svg.len() < LARGEST_PICTURE) {
            return Some(Picture {
                words: format!("passes of {}", thread.designation_for(side)),
                svg: drawn.svg,
            });
        }
        let sheet = Sheet::of(thread, side, &Wish::default());
        Some(Picture {
            words: format!("form of {}", thread.designation_for(side)),
            svg: form_svg::drawing(&sheet, None)?,
        })
    }

    fn actions(&self, judged: &Judged, at: Range<usize>) -> Vec<Action> {
        let mut all = Vec::new();
        for (index, finding) in judged.judgement.findings.iter().enumerate() {
            if !concerns(judged, finding, &at) {
                continue;
            }
            for (place, fix) in finding.fixes.iter().enumerate() {
                // A text fix is offered only when it is proven to leave the cut as it is.
                if fix.kind == FixKind::Text && !self.keeps_the_cut(judged, fix) {
                    continue;
                }
                let motion = fix.kind == FixKind::Motion;
                all.push(Action {
                    title: fix.title.clone(),
                    kind: if motion {
                        ActionKind::Motion
                    } else {
                        ActionKind::Text
                    },
                    edits: fix
                        .edits
                        .iter()
                        .map(|edit| Edit {
                            bytes: range(edit.span),
                            text: edit.text.clone(),
                        })
                        .collect(),
                    is_preferred: place == 0 && !motion,
                    diagnostic: Some(index),
                    caution: motion.then(|| CAUTION_SHORT.to_owned()),
                });
            }
        }
        all.extend(rewrites::offers(judged, &at));
        all
    }

    fn config_changed(&self) {
        let fresh = Arc::new(Resolver::new());
        *self.resolver.lock().unwrap_or_else(PoisonError::into_inner) = fresh;
    }
}

fn narrow(range: &Range<usize>) -> Option<Range<u32>> {
    Some(u32::try_from(range.start).ok()?..u32::try_from(range.end).ok()?)
}

/// The text after an edit: of the older text what stands before and behind, and what came between.
fn spliced(old: &[u8], text: &Rope, changed: &Changed) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(text.len_bytes());
    let behind = old.get(changed.old.end..).unwrap_or_default();
    bytes.extend_from_slice(old.get(..changed.old.start).unwrap_or_default());
    let put = text.get_byte_slice(changed.new.clone());
    for chunk in put.into_iter().flat_map(|put| put.chunks()) {
        bytes.extend_from_slice(chunk.as_bytes());
    }
    bytes.extend_from_slice(behind);
    debug_assert_eq!(bytes.len(), text.len_bytes());
    bytes
}

impl Judged {
    /// The section that a byte stands in.
    fn section_at(&self, at: usize) -> Option<usize> {
        let at = u32::try_from(at).ok()?;
        let mut sections = self.program.sections.iter();
        sections.position(|section| section.blocks.iter().any(|block| block.span.touches(at)))
    }
}

impl Core {
    fn keeps_the_cut(&self, judged: &Judged, fix: &rules::finding::Fix) -> bool {
        rules::fix::edited(&judged.bytes, fix).is_some_and(|mended| {
            lexer::effects(&judged.bytes, &judged.settings)
                == lexer::effects(&mended, &judged.settings)
        })
    }
}

/// Whether a finding lies in the range, or its section does: a fix for the cut is wanted anywhere
/// in the thread.
fn concerns(judged: &Judged, finding: &Finding, at: &Range<usize>) -> bool {
    let meets = |span: Span| span.start as usize <= at.end && at.start <= span.end as usize;
    let line = judged.program.lines.span(finding.line);
    meets(finding.span) || meets(line)
}

fn diagnostic(finding: &Finding) -> Diagnostic {
    let mut message = finding.message.clone();
    for line in &finding.because {
        message.push_str("\n  ");
        message.push_str(line);
    }
    if !finding.help.is_empty() {
        message.push_str("\nhelp: ");
        message.push_str(&finding.help);
    }
    if !finding.source.is_empty() {
        message.push_str("\nsource: ");
        message.push_str(&finding.source);
    }
    Diagnostic {
        bytes: range(finding.span),
        severity: match finding.severity {
            Severity::Error => protocol::Severity::Error,
            Severity::Warning => protocol::Severity::Warning,
            Severity::Advice => protocol::Severity::Advice,
        },
        code: finding.rule.to_owned(),
        href: None,
        message,
        related: finding
            .related
            .iter()
            .map(|related| Related {
                bytes: range(related.span),
                message: related.text.clone(),
            })
            .collect(),
        data: serde_json::json!({
            "section": finding.section,
            "source": finding.source,
            "fixes": finding.fixes.iter().map(|fix| fix.kind.name()).collect::<Vec<_>>(),
        }),
        tags: Vec::new(),
    }
}

fn range(span: Span) -> Range<usize> {
    span.start as usize..span.end as usize
}
