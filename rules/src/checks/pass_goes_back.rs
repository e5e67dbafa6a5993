use lexer::section::{Role, Side};

use super::stages::same_list;
use super::text::{length, quoted};
use super::{Context, Out, Rule, rule, words};

rule! {
    /// # What it checks
    ///
    /// The diameters of hand-written strokes only go deeper. Boxes in one list are looked at by
    /// wrong-side.
    ///
    /// # Why it matters
    ///
    /// A digit slipped in one X makes a pass cut air, and the next one takes the depth of both: the
    /// nose breaks there, far from the line with the slip.
    ///
    /// # The sum
    ///
    /// Diameter of the pass against the deepest before and against those behind it.
    ///
    /// # What it needs
    ///
    /// The diameters of the passes.
    ///
    /// # When it stays silent
    ///
    /// When nothing deeper follows: the thread is gone over again, to chase a burr. For other starts
    /// of the thread, other leads and ends, and steps back of less than 0.04 mm.
    ///
    /// # Mend
    ///
    /// Correct the diameter.
    ///
    /// # Source
    ///
    /// Arithmetic on the list of passes.
    "pass-goes-back", Warning,
    "a stroke lies outside the one before, and deeper ones follow",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let Some(before) = cx
        .index
        .checked_sub(1)
        .and_then(|at| cx.program.sections.get(at))
    else {
        return;
    };
    if section.chase || !same_list(cx, before, section) {
        return;
    }
    let Some(side) = section.side() else {
        return;
    };
    let (Some(last), Some(first), Some(root)) = (
        before.cut.root_x.get(),
        section.passes.first().and_then(|pass| pass.x),
        section.cut.root_x.get(),
    ) else {
        return;
    };
    let (last, first, root) = (last.abs(), first.abs(), root.abs());
    let deeper = match side {
        Side::External => root < last,
        Side::Internal => root > last,
    };
    let back = match side {
        Side::External => first.above(last),
        Side::Internal => last.above(first),
    };
    // Only the first of the run lies outside; a second list that starts over is a thread of its own.
    let next = section
        .passes
        .get(1)
        .and_then(|pass| pass.x)
        .map(|x| x.abs());
    let slip = next.is_some_and(|next| match side {
        Side::External => next < last,
        Side::Internal => next > last,
    });
    if !deeper || !slip || back.mm() < 0.02 {
        return;
    }
    let units = section.units;
    let pass = &section.passes[0];
    let word = words::at_line(section, Role::EndX, pass.line);
    out.push(
        rule.found(
            word.map_or((pass.span, pass.line), |word| (word.span, word.line)),
            format!(
                "the stroke at {} lies {} outside the one before at {}: it cuts air, and the next one \
                 takes more than planned",
                length(first.0, units),
                length(back.0, units),
                length(last.0, units)
            ),
        )
        .because(format!(
            "{} behind a stroke at {}; the next one goes to {}",
            quoted(cx.bytes, pass.span, pass.line),
            length(last.0, units),
            next.map_or_else(String::new, |x| length(x.0, units))
        ))
        .source("arithmetic on the list of passes")
        .help("correct the diameter; the passes of a list only go deeper"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "pass-goes-back";

    fn strokes(head: &str, code: &str, clear: &str, xs: &[&str]) -> String {
        let mut text = format!("{head}T0303\nG97 S800 M3\nG0 X{clear} Z8.\n");
        for x in xs {
            text.push_str(&format!("X{x}\n{code}\nG0 X{clear}\nZ8.\n"));
        }
        text + "G0 Z100.\nM30\n"
    }

    #[test]
    fn found_in_every_syntax() {
        let a = "G21\n";
        let b = "G21 G90 G95\nG92 S2000\n";
        let pairs = [
            (
                a,
                "G32 Z-30. F2.",
                "34.",
                ["29.3", "28.7", "29.3", "28.", "27.546"],
                "28.3",
            ),
            (
                b,
                "G33 Z-30. F2.",
                "34.",
                ["29.3", "28.7", "28.3", "28.9", "27.546"],
                "28.",
            ),
            (
                a,
                "G32 Z-26. F3.",
                "31.",
                ["33.6", "34.4", "33.9", "35.5", "36."],
                "34.9",
            ),
            (
                "G20\n",
                "G32 Z-1. F.1",
                ".9",
                [".72", ".69", ".76", ".64", ".6273"],
                ".66",
            ),
            (
                "G21 G18 G7 G90\n",
                "G33 Z-30 K2",
                "34",
                ["29.3", "28.7", "29.2", "28", "27.546"],
                "28.3",
            ),
        ];
        let texts: Vec<(String, String)> = pairs
            .iter()
            .map(|(head, code, clear, xs, right)| {
                let slip = if *right == "28." { 3 } else { 2 };
                let mut good = *xs;
                good[slip] = right;
                (
                    strokes(head, code, clear, xs),
                    strokes(head, code, clear, &good),
                )
            })
            .collect();
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        let a = "G21\n";
        assert_silent(
            RULE,
            &[
                // Gone over again.
                &strokes(
                    a,
                    "G32 Z-30. F2.",
                    "34.",
                    &["29.3", "28.7", "28.", "27.546", "28.", "27.546"],
                ),
                &strokes(
                    a,
                    "G32 Z-30. F2.",
                    "34.",
                    &["29.3", "28.7", "28.3", "28.3", "27.546"],
                ),
            ],
        );
    }
}
