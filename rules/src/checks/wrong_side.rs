use lexer::law::Law;
use lexer::section::{Role, Section, Side, Syntax};
use lexer::units::Length;

use super::lines::words_between;
use super::text::{length, quoted};
use super::{Context, Out, Rule, rule, slip, stages, words};
use crate::finding::{Finding, Severity};
use crate::identify::X_MODE;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// Whether the tool starts on the side of the material from which the stated thread is cut: from
    /// outside inwards for a bolt, from the bore outwards for a nut. And in a list of boxes, whether
    /// a pass jumps back out of what was cut already.
    ///
    /// # Why it matters
    ///
    /// A cycle takes bolt or nut from the start diameter alone. Start a bolt's cycle from inside and
    /// it cuts outwards through the blank; start a nut's from outside and it threads the wrong
    /// surface or plain air. Most often a block was copied from the mating part.
    ///
    /// # The sum
    ///
    /// Start above the last diameter: bolt; below: nut. A bolt ends about 1.23 pitches below the
    /// nominal diameter, a nut at the nominal diameter. When the last diameter is that of the other
    /// side, the start is wrong.
    ///
    /// # What it needs
    ///
    /// A stated designation, best with its class (6g and 2A are bolts, 6H and 2B are nuts), the
    /// start diameter and the last diameter.
    ///
    /// # When it stays silent
    ///
    /// A class in capitals that both sides have (6G, 6H) is read by the side being cut. Threads
    /// known from their numbers alone, tools behind the centre line (negative X), the first plunge
    /// of hand-written strokes that comes from the other side.
    ///
    /// # Mend
    ///
    /// Correct the start diameter before the cycle or the last diameter in it; which of them is
    /// wrong is not in the program.
    ///
    /// # Source
    ///
    /// The form of the thread's standard; how cycles choose the side is common practice of controls,
    /// from memory.
    "wrong-side", Error,
    "the tool starts on the wrong side of the material for the stated thread",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if let Some(finding) = jump(rule, cx) {
        out.push(finding);
    }
    let Some(thread) = cx.thread() else {
        if !cx.is_groove() {
            out.not_judged(rule, "no designation is stated");
        }
        return;
    };
    // In the drive-line cycle a slipped height moves the last diameter.
    let slipped = section.syntax.counts_from_crest() && slip::height(cx).is_some();
    if !cx.stated() || stages::is_approach(cx) || slipped {
        return;
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
    }
    let (Some(side), Some(root)) = (cx.side(), cx.table.root) else {
        let why = section.cut.side.why().unwrap_or("a diameter is not known");
        return out.not_judged(rule, why);
    };
    let ends_like = ends_like(thread, root.mm());
    let stated = thread.side.filter(|_| thread.written.class);
    if ends_like == Some(side.other()) {
        out.push(wrong_start(rule, cx, thread, side));
    } else if stated == Some(side.other()) {
        let finding = wrong_class(rule, cx, thread, side);
        // The diameters are right for what is cut: the note is wrong, not the part.
        out.push(if ends_like == Some(side) {
            finding.severity(Severity::Warning)
        } else {
            finding
        });
    }
}

/// The side that a last diameter speaks for, where it does.
fn ends_like(thread: &Thread, root: f64) -> Option<Side> {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    if ends_as_nut(d, p, root) {
        Some(Side::Internal)
    } else if ends_as_bolt(d, p, root) {
        Some(Side::External)
    } else {
        None
    }
}

/// Whether a last diameter in mm is that of the mating part.
pub(super) fn is_other_side(thread: &Thread, side: Side, root: f64) -> bool {
    ends_like(thread, root) == Some(side.other())
}

/// From a little below the nominal diameter to a sharp tool's full depth beyond it.
fn ends_as_nut(d: f64, p: f64, root: f64) -> bool {
    (d - 0.1 * p..=d + 0.5 * p).contains(&root)
}

/// Around 17/24 H and 3/4 H below the nominal diameter; nearer to it a bore could be meant.
fn ends_as_bolt(d: f64, p: f64, root: f64) -> bool {
    (d - 1.40 * p..=d - 1.17 * p).contains(&root)
}

const fn name(side: Side) -> &'static str {
    match side {
        Side::External => "bolt",
        Side::Internal => "nut",
    }
}

/// The designation without a class, which in capitals is read by the side in question.
fn plain(thread: &Thread) -> String {
    let mut thread = thread.clone();
    (thread.external, thread.internal) = (None, None);
    thread.designation()
}

fn described(cx: &Context<'_>, finding: Finding) -> Finding {
    let mut finding = finding;
    let units = cx.section.units;
    if let Some(start) = cx.section.cut.start_x.get() {
        finding = finding.because(format!(
            "the tool starts at {}",
            length(start.abs().0, units)
        ));
    }
    if let Some(word) = words::at_line(cx.section, Role::EndX, cx.section.last_line) {
        finding = finding.because(format!(
            "{}: the last diameter",
            quoted(cx.bytes, word.span, word.line)
        ));
    }
    finding = finding.because(cx.identified.why.clone());
    if let Some((span, line)) = cx.identified.place {
        finding = finding.related((span, line), "the thread is named here");
    }
    finding
}

fn wrong_start(rule: &Rule, cx: &Context<'_>, thread: &Thread, side: Side) -> Finding {
    let units = cx.section.units;
    let root = cx.table.root.map_or(Length::ZERO, |root| root.0);
    let (from, towards) = match side {
        Side::External => ("outside", "inwards"),
        Side::Internal => ("inside", "outwards"),
    };
    let finding = rule.found(
        stages::start_place(cx),
        format!(
            "the tool starts {from} and cuts {towards} to {}, where a {} of {} ends",
            length(root, units),
            name(side.other()),
            plain(thread)
        ),
    );
    let expected = match side.other() {
        Side::External => format!(
            "a bolt ends near {}",
            length(Length::from_mm(thread.basic().root), units)
        ),
        Side::Internal => format!(
            "a nut ends near {}",
            length(Length::from_mm(thread.major.mm()), units)
        ),
    };
    described(cx, finding)
        .because(expected)
        .source(thread.form().source)
        .help(format!(
            "for a {} start {}; for a {} write its last diameter",
            name(side.other()),
            match side.other() {
                Side::External => "outside the blank",
                Side::Internal => "inside the bore",
            },
            name(side)
        ))
}

fn wrong_class(rule: &Rule, cx: &Context<'_>, thread: &Thread, side: Side) -> Finding {
    let class = thread.written_class(side.other()).unwrap_or_default();
    let finding = rule.found(
        stages::start_place(cx),
        format!(
            "{} {class} is a {}, but the tool starts {} and cuts a {}",
            plain(thread),
            name(side.other()),
            match side {
                Side::External => "outside",
                Side::Internal => "inside",
            },
            name(side)
        ),
    );
    described(cx, finding)
        .source(thread.family.standard().standards)
        .help("correct the start and the last diameter, or the class in the note")
}

/// A box outside of the one before, in one list.
fn jump(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    let before = cx.program.sections.get(cx.index.checked_sub(1)?)?;
    let listed = |s: &Section| s.syntax == Syntax::Box && matches!(s.cut.law, Law::List);
    let moved = section.moves.iter().any(|m| m.after_pass == 0);
    if !listed(section) || !listed(before) || section.chase || moved {
        return None;
    }
    if words_between(cx, before.last_line, section.first_line, 1) > 0
        || section.side() != before.side()
        || section.cut.lead.get() != before.cut.lead.get()
        || section.cut.start_z.get() != before.cut.start_z.get()
    {
        return None;
    }
    let side = section.side()?;
    let first = section.passes.first()?;
    let (last, x) = (before.cut.root_x.get()?.abs(), first.x?.abs());
    let back = match side {
        Side::External => x.above(last),
        Side::Internal => last.above(x),
    };
    // The list must go deeper again behind the jump; otherwise it is a chase of another kind.
    let root = section.cut.root_x.get()?.abs();
    let deeper = match side {
        Side::External => root < last,
        Side::Internal => root > last,
    };
    if back.mm() < 0.02 || !deeper {
        return None;
    }
    let units = section.units;
    let word = words::at_line(section, Role::EndX, first.line)?;
    Some(
        rule.found(
            (word.span, word.line),
            format!(
                "the pass at {} lies {} outside the pass before at {}: it cuts air, and the next \
                 one takes more than planned",
                length(x.0, units),
                length(back.0, units),
                length(last.0, units)
            ),
        )
        .severity(Severity::Warning)
        .because(format!(
            "{} behind a pass at {}",
            quoted(cx.bytes, word.span, word.line),
            length(last.0, units)
        ))
        .source("arithmetic on the list of passes")
        .help("correct the diameter; the passes of a list only go deeper"),
    )
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "wrong-side";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // A nut started outside the bore.
                (
                    "G21\nT0404 (M36X3 INT THREAD)\nG97 S700 M3\nG0 X40. Z10.\nG92 X37.5 Z-27. F3.\nX36.5\nX36.\n",
                    "G21\nT0404 (M36X3 INT THREAD)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.5 Z-27. F3.\nX35.\nX36.\n",
                ),
                // A bolt started inside, with classes that say so and without.
                (
                    "G21\n(THREAD M20X2.5-6G)\nG97 S700 M3\nG0 X12. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                    "G21\n(THREAD M20X2.5-6G)\nG97 S700 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.5Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                // The sign of I in the drive line.
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X10 Z8\nG76 P2 Z-30 I2 J0.35 R2 K1.227 Q27\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                (
                    "G21\n(THREAD 1/2-13 UNC-2B)\nG97 S700 M3\nG0 X16. Z8.\nX13.5\nG32 Z-20. F1.9538\nG0 X16.\nZ8.\nX12.7\nG32 Z-20. F1.9538\n",
                    "G21\n(THREAD 1/2-13 UNC-2B)\nG97 S700 M3\nG0 X10. Z8.\nX11.5\nG32 Z-20. F1.9538\nG0 X10.\nZ8.\nX12.7\nG32 Z-20. F1.9538\n",
                ),
                // A box that jumps back out: 29.35 for 28.35.
                (
                    "G21 G90 G95\nT0707\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z8.\nG78 X29.3 Z-24. F2.\nX28.75\nX29.35\nX27.9\nX27.546\nG0 X90.\n",
                    "G21 G90 G95\nT0707\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z8.\nG78 X29.3 Z-24. F2.\nX28.75\nX28.35\nX27.9\nX27.546\nG0 X90.\n",
                ),
            ],
        );
    }

    #[test]
    fn a_wrong_class_over_right_diameters_is_a_warning() {
        let text = "G20\n(THREAD 3/4-10 UNC-2B)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n";
        let found = findings(RULE, text);
        assert_eq!(found[0].severity, Severity::Warning, "{found:?}");
        assert!(found[0].message.contains("2B is a nut"), "{found:?}");
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Capitals: 6H may be 6h.
                "G21\n(THREAD M20X2.5-6H)\nG97 S700 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                // Behind the centre line.
                "G21\n(THREAD M50X2-6G)\nG97 S700 M3\nG0 X-54. Z8.\nG92 X-49. Z-24. F2.\nX-48.\nX-47.546\nG0 X-90.\n",
                // A nut that ends at its bore is too small, not on the wrong side.
                "G21\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X32.9 Z-27. F3.\nX33.\n",
                // The first plunge of the strokes comes from the centre.
                "G21\n(THREAD M20X2.5-6G)\nG97 S700 M3\nG0 X0. Z8.\nX19.4\nG32 Z-30. F2.5\nG0 X24.\nZ8.\nX18.\nG32 Z-30. F2.5\nG0 X24.\nZ8.\nX16.933\nG32 Z-30. F2.5\nG0 X24.\n",
                // Chased again, box by box.
                "G21 G90 G95\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z8.\nG78 X29. Z-24. F2.\nX28.05\nX27.546\nX28.5\nX27.546\nG0 X90.\n",
                // Nothing stated.
                "G21\nG97 S700 M3\nG0 X12. Z8.\nG92 X16. Z-24. F2.5\nX16.933\nG0 X9.\n",
            ],
        );
    }
}
