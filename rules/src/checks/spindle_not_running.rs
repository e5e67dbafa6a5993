use lexer::block::Block;
use lexer::section::{Spindle, Turning};
use lexer::source::Span;

use super::lines::{part, states};
use super::text::quoted;
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// The spindle turns, with a speed above 0, when the first pass of a thread starts.
    ///
    /// # Why it matters
    ///
    /// A synchronised stroke waits for the turning spindle. With the spindle stopped the control
    /// waits without end or gives an alarm; some start the stroke when somebody starts the spindle.
    ///
    /// # The sum
    ///
    /// None: the last of M3, M4 and M5 before the pass, and the last S word.
    ///
    /// # What it needs
    ///
    /// A whole program: a T word before the thread and M30 or M2 at its end. A subprogram (M99) or
    /// a fragment is not judged, because the program around it may start the spindle; nor is one
    /// in which a call, a variable or an M code that we do not know stands where M3 or M4 would
    /// have to stand.
    ///
    /// # When it stays silent
    ///
    /// When M3 or M4 is in force. A missing S word is an advice only: the speed may be left in the
    /// control.
    ///
    /// # Mend
    ///
    /// Write M3 or M4 with a speed before the thread. Which of the two makes the right hand
    /// depends on the tool, so no fix is offered.
    ///
    /// # Source
    ///
    /// The documentation of the open RS274/NGC interpreter names a stopped spindle as an error of
    /// its threading codes; for other controls common practice, from memory.
    "spindle-not-running", Error,
    "the spindle is not running when the thread starts",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let place = |pass: &lexer::section::Pass| (pass.spindle, (pass.span, pass.line));
    let caught = section
        .passes
        .iter()
        .map(place)
        .find(|(spindle, _)| fault(spindle).is_some());
    let (spindle, at) = match caught {
        Some(caught) => caught,
        None if section.passes.is_empty() => (section.spindle, cx.place()),
        None => return,
    };
    let Some(now) = fault(&spindle) else {
        return;
    };
    let lines = part(cx);
    if reported(cx, now, &spindle, *lines.start()) {
        return;
    }
    let from = match (now, spindle.turning, spindle.speed) {
        (Fault::Stopped, Some(stop), _) => stop.line,
        (Fault::Zero, _, Some(speed)) => speed.line,
        _ => *lines.start(),
    };
    if let Some(why) = open(cx, from, at.1) {
        out.not_judged(rule, why);
        return;
    }
    let finding = match (now, spindle.turning, spindle.speed) {
        (Fault::Stopped, Some(stop), _) => rule
            .found(at, "the thread is cut with the spindle stopped by M5")
            .because(format!(
                "{}; no M3 or M4 follows before the pass in line {}",
                quoted(cx.bytes, stop.span, stop.line),
                at.1
            ))
            .related((stop.span, stop.line), "the spindle stops here"),
        (Fault::Zero, _, Some(speed)) => rule
            .found(at, "the thread is cut at 0 1/min")
            .because(format!(
                "{} is the last speed before the pass in line {}",
                quoted(cx.bytes, speed.span, speed.line),
                at.1
            ))
            .related((speed.span, speed.line), "the speed is set here"),
        (Fault::NoSpeed, _, _) => rule
            .found(at, "no spindle speed is written before the thread")
            .because(format!("no S word stands in lines {from} to {}", at.1))
            .severity(Severity::Advice),
        _ => rule
            .found(at, "the spindle is not started before the thread")
            .because(format!("no M3 or M4 stands in lines {from} to {}", at.1)),
    };
    out.push(
        finding
            .source(
                "a synchronised stroke needs the turning spindle: documentation of the open \
                 RS274/NGC interpreter; other controls from memory",
            )
            .help("write G97 with a speed and M3 or M4 before the first pass"),
    );
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Fault {
    Stopped,
    Never,
    Zero,
    NoSpeed,
}

fn fault(spindle: &Spindle) -> Option<Fault> {
    match (spindle.turning.map(|turning| turning.value), spindle.speed) {
        (None, _) => Some(Fault::Never),
        (Some(Turning::Stopped), _) => Some(Fault::Stopped),
        (_, Some(speed)) if speed.value <= 0.0 => Some(Fault::Zero),
        (_, None) => Some(Fault::NoSpeed),
        _ => None,
    }
}

/// Whether the section before, of the same program, has the same fault from the same word.
fn reported(cx: &Context<'_>, now: Fault, spindle: &Spindle, part_start: u32) -> bool {
    let before = cx
        .index
        .checked_sub(1)
        .and_then(|index| cx.program.sections.get(index))
        .filter(|before| before.first_line >= part_start);
    let Some(before) = before else {
        return false;
    };
    let last = before
        .passes
        .last()
        .map_or(before.spindle, |pass| pass.spindle);
    let same_word = match now {
        Fault::Never | Fault::NoSpeed => true,
        Fault::Stopped => last.turning == spindle.turning,
        Fault::Zero => last.speed == spindle.speed,
    };
    same_word && fault(&last) == Some(now)
}

/// Why a start of the spindle may have been missed; none where the program is whole and every
/// block from line `from` to line `to` is understood.
fn open(cx: &Context<'_>, from: u32, to: u32) -> Option<String> {
    let lines = part(cx);
    let Some(tool) = cx.section.tool else {
        return Some("a tool change before the thread is missing: this may be a fragment".into());
    };
    if tool.line < *lines.start() {
        return Some("a tool change before the thread is missing: this may be a fragment".into());
    }
    match ending(cx, *lines.start(), *lines.end()) {
        Some(false) => {}
        Some(true) => {
            return Some("the program that calls this subprogram (M99) is missing".into());
        }
        None => return Some("the end of the program (M30, M2) is missing".into()),
    }
    let mut why = None;
    states(cx, from..=to, |block| {
        why = may_start(block).map(|span| {
            format!(
                "what {} does is missing: it may start the spindle",
                quoted(cx.bytes, span, block.line)
            )
        });
        why.is_none()
    });
    why
}

/// Whether the last lines of the program say M99 (`true`) or M30 or M2 (`false`).
fn ending(cx: &Context<'_>, first: u32, last: u32) -> Option<bool> {
    let mut end = None;
    states(cx, last.saturating_sub(40).max(first)..=last, |block| {
        for (code, _) in block.m_codes() {
            match code {
                990 => end = Some(true),
                20 | 300 => end = Some(false),
                _ => {}
            }
        }
        true
    });
    end
}

/// What in a block may start the spindle without M3 or M4 or set its speed without S: a call, a
/// statement, or an M code that is not one of the usual harmless ones.
fn may_start(block: &Block) -> Option<Span> {
    if let Some(statement) = block.statement {
        return Some(statement);
    }
    if let Some(name) = block.names.first() {
        return Some(name.span);
    }
    let macro_call = |code: i32| matches!(code, 650 | 660 | 661 | 670);
    if let Some((_, word)) = block.g_codes().find(|(code, _)| macro_call(*code)) {
        return Some(word.span);
    }
    let unread = |letter: &[u8]| {
        block
            .words
            .iter()
            .find(|word| letter.contains(&word.letter) && word.number().is_none())
    };
    if let Some(word) = unread(b"GMS") {
        return Some(word.span);
    }
    let known = |code: i32| {
        code % 10 == 0
            && matches!(
                code / 10,
                0..=11 | 23..=26 | 30 | 40..=44 | 48 | 49 | 68 | 69
            )
    };
    block
        .m_codes()
        .find(|(code, _)| !known(*code))
        .map(|(_, word)| word.span)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "spindle-not-running";

    fn not_judged(text: &str) -> bool {
        judged(text, &Facts::default())
            .not_judged
            .iter()
            .flatten()
            .any(|(rule, _)| *rule == RULE)
    }

    const WHOLE: [&str; 6] = [
        "O1\nG21\nT0303\nG97 S500 M5\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nM30\n%\n",
        "%\nO1\nG21\nT0101\nG97 S900 M3\nG0 X100. M5\nT0303\nS900\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50. M05\nM02\n%\n",
        "G21 G90 G95\nT0303\ng97s900\ng0x34.z8.\ng78x29.z-36.f2.\nx28.\nx27.546\ng0x50.\nm30\n",
        "G20\nT0303 (THREAD)\nG97 S400\nG0 X1.3 Z.3\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.3\nX1.1\nG32 Z-1. F.0833\nM30\n",
        "G20\nT0505\nG97 S0 M3\nG0X.9Z.4\nG76X.62Z-1.75K.0613D0150A60F.1\nM30\n",
        "G21 G18 G8 G90\nT3 M6\nG97 S100\nM8\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\nM2\n",
    ];

    #[test]
    fn found_in_every_syntax() {
        for text in WHOLE {
            let found = findings(RULE, text);
            assert_eq!(found.len(), 1, "{text}");
            assert_eq!(found[0].severity, Severity::Error, "{text}");
        }
    }

    #[test]
    fn silent_when_started() {
        for text in WHOLE {
            let mended = text
                .replace("S500 M5", "S500 M3")
                .replace("S0 M3", "S700 M3")
                .replace("\nS900\n", "\nS900 M3\n")
                .replace("s900\n", "s900m04\n")
                .replace("S400\n", "S400 M03\n")
                .replace("S100\n", "S100 M4\n");
            assert_ne!(mended, text);
            assert!(findings(RULE, &mended).is_empty(), "{mended}");
            assert!(!not_judged(&mended), "{mended}");
            assert_pairs(RULE, &[(text, &mended)]);
        }
    }

    #[test]
    fn not_judged_where_something_else_may_start_it() {
        let whole = WHOLE[0].replace(" M5", "");
        assert_eq!(findings(RULE, &whole).len(), 1);
        for text in [
            // A fragment, a subprogram, a program without its head.
            whole.replace("M30\n", ""),
            whole.replace("M30", "M99"),
            whole.replace("T0303\n", ""),
            // A call, a macro, a variable, spindle with coolant, the other spindle.
            whole.replace("G97 S500", "M98 P900\nG97 S500"),
            whole.replace("G97 S500", "G65 P9100 S500"),
            whole.replace("G97 S500", "IF[#1EQ2]GOTO10\nG97 S500"),
            whole.replace("G97 S500", "G97 S500 M13"),
            whole.replace("G97 S500", "G97 S500 M203"),
            whole.replace("G97 S500", "G97 S500 M#3"),
        ] {
            assert!(findings(RULE, &text).is_empty(), "{text}");
            assert!(not_judged(&text), "{text}");
        }
    }

    #[test]
    fn a_missing_speed_is_an_advice() {
        let text = WHOLE[0].replace("S500 M5", "M3");
        assert_eq!(findings(RULE, &text)[0].severity, Severity::Advice);
    }

    #[test]
    fn said_once_for_one_cause() {
        let text = "O1\nG21\nT0303\nG97 S500\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X34. Z-40.\nG92 X29. Z-60. F2.\nX27.546\nG0 X99.\nM30\n";
        assert_eq!(findings(RULE, text).len(), 1);
    }
}
