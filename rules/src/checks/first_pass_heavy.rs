use lexer::law::Law;
use lexer::section::{Role, RoleWord, Syntax, Val};
use lexer::units::{Length, Radial};

use super::split::{CutPass, Split, is_v};
use super::text::{length, length_of_mm, number, quoted};
use super::words::spell_length;
use super::{Context, Out, Rule, restate, rule};
use crate::cut::passes::{BOOK, first_step};
use crate::finding::{Edit, Fix, FixKind, Severity};

rule! {
    /// # What it checks
    ///
    /// The first pass that reaches the material does not take far more depth than books give for
    /// the pitch, nor most of the thread at once.
    ///
    /// # Why it matters
    ///
    /// The first pass cuts with the bare tip of the insert, its weakest part. When it is too deep
    /// the nose breaks, or the insert is torn out of its seat and the part with it.
    ///
    /// # The sum
    ///
    /// Depth of the first cut below the crest of the material: half of the difference of the
    /// diameters; passes through air do not count. It is compared with the first step of a textbook
    /// table (0.35 mm for a pitch of 1 mm, 0.45 for 2, 0.6 for 3, 0.75 for 4): more than 1.6 times
    /// that and more than 0.35 of the height is an advice; more than 0.75 of the height in one cut,
    /// and deeper than 0.35 mm, a warning.
    ///
    /// # What it needs
    ///
    /// The crest: a designation, or a cycle whose height counts from the crest. Without one it does
    /// not judge; nor where the form is not one of 55° or 60°, for which the table does not hold.
    ///
    /// # When it stays silent
    ///
    /// For oil grooves, for a second cut over the same thread, for a height that is off by a factor
    /// (which has its own rule), and for whatever the first step of a finer split is.
    ///
    /// # Mend
    ///
    /// A smaller first cut. In a cycle the fix writes the table's first step; it is an orientation
    /// for steel, so look at insert and material. In a list of passes the split has to be redone.
    ///
    /// # Source
    ///
    /// A table that many vocational textbooks print, from memory; the factors are our own choice,
    /// common practice, no source.
    "first-pass-heavy", Warning,
    "the first pass takes far more depth than usual for the pitch",
    fixes: true, needs_designation: false, check
}

const OVER_BOOK: f64 = 1.6;
const OF_HEIGHT: f64 = 0.35;
const AT_ONCE: f64 = 0.75;
/// A cut of this depth in mm is the first step of the finest pitch in the table: never too much.
const ALWAYS_FINE: f64 = 0.35;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    if !is_v(cx) {
        out.not_judged(rule, "a table of first steps for this form is missing");
        return;
    }
    let Some(height) = split.height.filter(|height| *height > 0.0) else {
        out.not_judged(rule, Split::NO_CREST);
        return;
    };
    let book = first_step(split.pitch);
    let heaviest = split
        .starts
        .iter()
        .filter_map(|start| Some((start.first()?, start.first()?.step?)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((first, depth)) = heaviest else {
        return;
    };
    let at_once = depth > AT_ONCE * height && depth > ALWAYS_FINE;
    if !at_once && (depth <= OVER_BOOK * book || depth <= OF_HEIGHT * height) {
        return;
    }
    let units = cx.section.units;
    let word = guilty(cx, first, depth);
    let place = word.map_or((first.pass.span, first.pass.line), |word| {
        (word.span, word.line)
    });
    let mut finding = rule
        .found(
            place,
            format!(
                "the first pass cuts {} deep, {} of the thread height and {} times the usual first \
                 step for this pitch",
                length_of_mm(depth, units),
                number(depth / height, 2),
                number(depth / book, 1)
            ),
        )
        .because(match word {
            Some(word) if word.role == Role::FirstCut => format!(
                "{}: first cut {}",
                quoted(cx.bytes, word.span, word.line),
                length_of_mm(depth, units)
            ),
            _ => {
                let x = first.pass.x.map_or(0.0, |x| x.abs().mm());
                format!(
                    "pass {} in line {} goes to diameter {}, {} below the crest ({})",
                    first.number,
                    first.pass.line,
                    length_of_mm(x, units),
                    length_of_mm(depth, units),
                    split.crest
                )
            }
        })
        .because(format!(
            "usual first step for a pitch of {}: {}; reported above {} × that = {} and {} × the \
             height {} = {}",
            length_of_mm(split.pitch, units),
            length_of_mm(book, units),
            number(OVER_BOOK, 1),
            length_of_mm(OVER_BOOK * book, units),
            number(OF_HEIGHT, 2),
            length_of_mm(height, units),
            length_of_mm(OF_HEIGHT * height, units)
        ))
        .source(BOOK)
        .help(format!(
            "take about {} in the first pass; insert and material decide",
            length_of_mm(book, units)
        ));
    if let Some(area) = first.area {
        finding = finding.because(format!(
            "chip area of the first pass: {} mm²",
            number(area, 3)
        ));
    }
    if at_once {
        finding = finding.because(format!(
            "more than {} × the height = {} in one cut",
            number(AT_ONCE, 2),
            length_of_mm(AT_ONCE * height, units)
        ));
    } else {
        finding = finding.severity(Severity::Advice);
    }
    if let Some(word) = word
        && let Some(fix) = smaller(cx, word, first, book)
    {
        finding = finding.fix(fix);
    }
    out.push(finding);
}

/// The word that makes the first cut: the cycle's, where the cut is as deep as it says, or the end
/// diameter in the pass's own block.
fn guilty<'a>(cx: &Context<'a>, first: &CutPass<'_>, depth: f64) -> Option<&'a RoleWord> {
    let section = cx.section;
    if let Some(word) = section.word(Role::FirstCut) {
        let says = word.length()?.mm();
        return (first.number == 1 && (says - depth).abs() < 0.1 * says).then_some(word);
    }
    first.word(cx)
}

/// The fix: the table's step as the first cut of a cycle.
fn smaller(cx: &Context<'_>, word: &RoleWord, first: &CutPass<'_>, book: f64) -> Option<Fix> {
    if word.role != Role::FirstCut || first.number != 1 {
        return None;
    }
    let text = spell_length(word, round(cx, book));
    let written = RoleWord {
        number: lexer::number::Number::parse(text.as_bytes())?,
        ..*word
    };
    let cut = Radial(written.length()?);
    if cut.0 <= Length::ZERO || Some(cut.0) >= word.length() {
        return None;
    }
    let after = restate::changed(cx.section, |all| match &mut all.law {
        Law::SquareRoot { first, .. } | Law::Method { first, .. } | Law::Power { first, .. } => {
            *first = Val::Exact(cut);
        }
        Law::List | Law::Counted { .. } => {}
    });
    let certain = match cx.section.syntax {
        Syntax::OneBlock => " (by the words alone)",
        _ => "",
    };
    Some(Fix {
        title: format!(
            "write {}{text} for {}: first cut {} -> {}; {}{certain}",
            word.address(),
            quoted(cx.bytes, word.span, word.line),
            length(word.length()?, cx.section.units),
            length(cut.0, cx.section.units),
            restate::before_after(cx, &after)
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: word.value_span,
            text,
        }],
    })
}

/// Down to a hundredth of a millimetre or half a thousandth of an inch.
fn round(cx: &Context<'_>, step: f64) -> Length {
    let grid = match cx.section.units {
        lexer::units::Units::Millimetre => 0.01,
        lexer::units::Units::Inch => 0.0127,
    };
    Length::from_mm((step / grid + 1e-9).floor() * grid)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "first-pass-heavy";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q800 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q450 F2.\n",
                ),
                (
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0500A60F.1\n",
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0200A60F.1\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.9 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.45 R2 K1.227 Q27\n",
                ),
                (
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P020060 Q50 R0.05\nG78 X57.546 Z-18. P1227 Q1100 F2.\n",
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P020060 Q50 R0.05\nG78 X57.546 Z-18. P1227 Q450 F2.\n",
                ),
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX14.2\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-42. F2.\nG0 X20.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.2\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-42. F2.\nG0 X20.\n",
                ),
                (
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X35. Z-27. F3.\nX35.6\nX36.\nG0 Z50.\n",
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.9 Z-27. F3.\nX35.6\nX36.\nG0 Z50.\n",
                ),
            ],
        );
    }

    #[test]
    fn most_of_the_thread_at_once_is_a_warning() {
        let text = |first| {
            format!(
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q{first} F2.\n"
            )
        };
        assert_eq!(findings(RULE, &text(1000))[0].severity, Severity::Warning);
        assert_eq!(findings(RULE, &text(800))[0].severity, Severity::Advice);
        assert!(findings(RULE, &text(720)).is_empty());
    }

    #[test]
    fn silent_on_what_a_shop_does() {
        assert_silent(
            RULE,
            &[
                // The height counts from the start diameter: the first cuts are air.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P3227 Q900 F2.\n",
                // The burr chased in one cut.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG76 X27.546 Z-36. P1227 Q1227 F2.\n",
                // The second call goes on where the first left off.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.946 Z-36. P1027 Q350 F2.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P300 Q100 F2.\n",
                // A fine thread in two cuts.
                "G21\nT0303\n(THREAD M8X0.75-6G)\nG97 S900 M3\nG0 X10. Z5.\nG92 X7.35 Z-12. F0.75\nX7.08\nG0 X20.\n",
                // An oil groove.
                "G21\nT0505 (OIL GROOVE)\nG97 S60 M3\nG0 X84. Z2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX88.4\nG32 Z-14. F32.\nG0 X84.\n",
            ],
        );
    }

    #[test]
    fn not_judged_without_a_crest() {
        let text = "G21\nT0303\nG97 S900 M3\nG0 X21.3 Z8.\nX17.2\nG32 Z-42. F2.2\nG0 X21.3\nZ8.\nX16.2\nG32 Z-42. F2.2\nG0 X20.\n";
        let judgement = judged(text, &Facts::default());
        assert!(
            judgement
                .findings
                .iter()
                .all(|finding| finding.rule != RULE)
        );
        let mut not = judgement.not_judged.iter().flatten();
        assert!(not.any(|(rule, why)| *rule == RULE && why.contains("crest")));
    }
}
