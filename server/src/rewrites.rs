//! Rewrites that an editor offers at a thread: a better split, another syntax, a block from a note.

mod rotating;

use std::ops::Range;

use lexer::block::{Block, Blocks};
use lexer::evidence::Family;
use lexer::section::{Note, Section, Side, Syntax};
use lexer::source::Span;
use lexer::syntax::Style;
use lexer::units::Units;
use rules::rewrite::block::{Order, Speed, block};
use rules::rewrite::convert::{Converted, possible};
use rules::rewrite::plan::{State, Wish, plan};
use rules::rewrite::{Job, note};

use crate::analysis::Judged;
use crate::lsp::{Action, ActionKind, Edit};
use crate::show::CAUTION_SHORT;

/// Most passes of a section that is rewritten while somebody types.
const MOST_PASSES: usize = 500;
/// Farthest in front of a note that the speed in force is looked for, in bytes.
const BEFORE: usize = 2000;

/// The rewrites at a place. They belong to one thread: a range over several offers none, so that
/// "fix all" does not work them all out.
pub(crate) fn offers(judged: &Judged, at: &Range<usize>) -> Vec<Action> {
    let meets = |span: Span| span.start as usize <= at.end && at.start <= span.end as usize;
    let mut touched = judged
        .program
        .sections
        .iter()
        .enumerate()
        .filter(|(_, section)| meets(section.span));
    let (first, second) = (touched.next(), touched.next());
    if second.is_some() {
        return Vec::new();
    }
    if let Some((index, section)) = first {
        if section.passes.len() > MOST_PASSES {
            return Vec::new();
        }
        let cached = judged.rewrites.get(index);
        return cached.map_or_else(Vec::new, |cached| {
            cached.get_or_init(|| of_section(judged, index)).clone()
        });
    }
    let mut notes = judged.program.notes.iter();
    let note = notes.find(|note| meets(note.span));
    note.map_or_else(Vec::new, |note| from_note(judged, note))
}

fn of_section(judged: &Judged, index: usize) -> Vec<Action> {
    let job = Job {
        bytes: &judged.bytes,
        program: &judged.program,
        settings: &judged.settings,
        facts: &judged.facts,
        judgement: &judged.judgement,
        index,
    };
    let mut all = Vec::new();
    if let Ok(planned) = plan(&job, &Wish::default())
        && let Some(better) = &planned.better
    {
        let title = format!(
            "Split the depth better, changes the cut: {} -> {}",
            state(&planned.before),
            state(&better.after)
        );
        all.push(action(title, &better.edits, CAUTION_SHORT.to_owned()));
    }
    for (syntax, converted) in possible(&job) {
        all.push(conversion(syntax, &converted));
    }
    all
}

/// `12 passes, 20.8 s`.
fn state(state: &State) -> String {
    let seconds = state
        .seconds
        .map_or_else(String::new, |seconds| format!(", {seconds:.1} s"));
    format!("{} passes{seconds}", state.passes)
}

fn conversion(syntax: Syntax, converted: &Converted) -> Action {
    let title = format!(
        "Write the same {} passes as {}",
        converted.passes,
        syntax.name()
    );
    let mut caution = CAUTION_SHORT.to_owned();
    for lost in &converted.lost {
        caution.push_str(" Not carried over: ");
        caution.push_str(lost);
        caution.push('.');
    }
    action(title, &converted.edits, caution)
}

fn action(title: String, edits: &[rules::finding::Edit], caution: String) -> Action {
    Action {
        title,
        kind: ActionKind::Motion,
        edits: edits
            .iter()
            .map(|edit| Edit {
                bytes: edit.span.start as usize..edit.span.end as usize,
                text: edit.text.clone(),
            })
            .collect(),
        is_preferred: false,
        diagnostic: None,
        caution: Some(caution),
    }
}

/// Blocks behind a `THREAD` note that no thread uses yet, one for every syntax of the program's family
/// of controls. The note says how long the thread is; the speed is its own or the one in force.
fn from_note(judged: &Judged, note: &Note) -> Vec<Action> {
    let program = &judged.program;
    let used = program
        .sections
        .iter()
        .any(|section| section.notes.contains(note));
    let units = program.units.map_or(Units::Millimetre, |units| units.value);
    let asked = note::read(&judged.bytes, note, units);
    let (false, Some(asked)) = (used, asked) else {
        return Vec::new();
    };
    let rpm = asked
        .rpm
        .or_else(|| speed_before(&judged.bytes, note.span.start));
    let (Some(length), Some(rpm)) = (asked.length, rpm) else {
        return Vec::new();
    };
    let side = asked.side.unwrap_or(Side::External);
    let family = match program.family {
        Family::Undecided => Family::SystemA,
        family => family,
    };
    let style = style(judged, family, units);
    let line = program.lines.span(note.line);
    let semicolon = note.span.of(&judged.bytes).first() == Some(&b';');
    let syntaxes: &[Syntax] = match family {
        Family::Mill => &[],
        Family::Interpreter => &[Syntax::DriveLine, Syntax::Strokes],
        Family::SystemC => &[Syntax::TwoBlock, Syntax::Box, Syntax::Strokes],
        _ => &[
            Syntax::TwoBlock,
            Syntax::OneBlock,
            Syntax::Box,
            Syntax::Strokes,
        ],
    };
    // Such a note names its tool: the thread is not turned.
    if asked.chamfer.is_some() || asked.cutter.is_some() {
        let wish = rotating::Wish {
            asked: &asked,
            style: &style,
            length,
            rpm,
            semicolon,
        };
        let blocks = rotating::blocks(&wish, &judged.facts).into_iter();
        return blocks
            .map(|(side, syntax, block)| {
                let name = asked.thread.on(side).designation();
                let title = format!("Write {name} as {syntax} at {rpm} 1/min");
                behind(judged, line, style.line_end, &block.text, title)
            })
            .collect();
    }
    let written = |syntax: Syntax| {
        let order = Order {
            thread: asked.thread.on(side),
            side,
            syntax,
            style: style.clone(),
            length,
            start: None,
            clearance: None,
            speed: Speed::Rpm(rpm),
            nose: asked.nose,
            tool: None,
            infeed: None,
            first: None,
            peak: None,
            least: None,
            finish: None,
            springs: None,
            pull_out: None,
            semicolon,
        };
        let block = block(&order, &judged.facts).ok()?;
        // The note itself stands already.
        let has_note = note::text(&order).is_some();
        let own = block.text.split_once(style.line_end).filter(|_| has_note);
        let text = own.map_or(block.text.as_str(), |(_, rest)| rest);
        let title = format!(
            "Write {} as {}: {} passes at {rpm} 1/min",
            order.thread.designation(),
            syntax.name(),
            block.depths.len()
        );
        Some(behind(judged, line, style.line_end, text, title))
    };
    syntaxes.iter().copied().filter_map(written).collect()
}

/// Puts blocks behind the line of a note.
fn behind(judged: &Judged, line: Span, new_line: &str, text: &str, title: String) -> Action {
    let (end, ended) = line_end(&judged.bytes, line);
    let text = if ended {
        text.to_owned()
    } else {
        format!("{new_line}{text}")
    };
    let at = Span::new(end, end);
    action(
        title,
        &[rules::finding::Edit { span: at, text }],
        CAUTION_SHORT.to_owned(),
    )
}

/// The end of a line behind its line end, and whether it has one.
fn line_end(bytes: &[u8], line: Span) -> (u32, bool) {
    let mut end = line.end;
    let rest = bytes.get(end as usize..).unwrap_or_default();
    let inside = line
        .of(bytes)
        .last()
        .is_some_and(|byte| b"\r\n".contains(byte));
    if inside {
        return (end, true);
    }
    let ends = match rest {
        [b'\r', b'\n', ..] => 2,
        [b'\r' | b'\n', ..] => 1,
        _ => 0,
    };
    end += ends;
    (end, ends > 0)
}

/// The way of writing of the program's first thread, or a plain one.
fn style(judged: &Judged, family: Family, units: Units) -> Style {
    let sections = &judged.program.sections;
    let like: Option<&Section> = sections.first().filter(|section| section.units == units);
    let mut style = match like {
        Some(section) => Style::of(section, family, &judged.bytes),
        None => {
            let crlf = judged.bytes.windows(2).any(|pair| pair == b"\r\n");
            Style {
                line_end: if crlf { "\r\n" } else { "\n" },
                ..Style::new(family, units)
            }
        }
    };
    style.numbers = None;
    style.incremental = false;
    style.mirrored = false;
    style
}

/// The last speed in turns per minute that is written shortly before a place.
fn speed_before(bytes: &[u8], at: u32) -> Option<f64> {
    let from = (at as usize).saturating_sub(BEFORE);
    let text = bytes.get(from..at as usize)?;
    let mut reader = Blocks::new(text);
    let mut block = Block::default();
    let (mut speed, mut surface) = (None, false);
    while reader.read(&mut block) {
        if block.has_g(960) {
            surface = true;
        }
        if block.has_g(970) {
            surface = false;
        }
        // With G92 or G50 the word is a clamp.
        if block.has_g(920) || block.has_g(500) {
            continue;
        }
        if block.has(b'S') {
            speed = block.number_of(b'S').map(lexer::number::Number::value);
        }
    }
    speed.filter(|speed| !surface && *speed > 0.0)
}
