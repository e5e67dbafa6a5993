use lexer::section::{Role, RoleWord, Side};
use lexer::units::Length;

use super::surroundings::{cut_by, place};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Finding, Fix, FixKind};

rule! {
    /// # What it checks
    ///
    /// A tapered thread slopes the way of the cone that was turned for it, and all its passes slope
    /// the same way.
    ///
    /// # Why it matters
    ///
    /// With the wrong sign of the taper word the thread runs against the cone: too deep at one end,
    /// in the air at the other, and the tool dives into the large end.
    ///
    /// # The sum
    ///
    /// Slope = change of diameter over the change of Z between a quarter and three quarters of the
    /// stroke, for the cone and for the thread; their signs are compared.
    ///
    /// # What it needs
    ///
    /// The cone turned in the same program, and the taper of the thread.
    ///
    /// # When it stays silent
    ///
    /// For a tapered thread on a cylinder: the thread itself may make the cone. Size and reach of
    /// the taper word have their own rule.
    ///
    /// # Mend
    ///
    /// Turn the sign of the taper word round; the fix does it where there is one. Strokes that slope
    /// by their end diameters have none.
    ///
    /// # Source
    ///
    /// Plane geometry on the programmed contour. That the taper word is the radius at the start less
    /// the radius at the end: common to control manuals, from memory.
    "taper-direction", Error,
    "the thread slopes against the cone that was turned for it",
    fixes: true, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if let Some(finding) = flips(rule, cx) {
        return out.push(finding);
    }
    let Some(taper) = section.cut.taper.get().filter(|taper| !taper.is_zero()) else {
        return;
    };
    let (Some(side), Some(start), Some(end)) = (
        cx.side(),
        section.cut.start_z.get(),
        section.cut.end_z.get(),
    ) else {
        return;
    };
    let contour = cx.contour();
    if let Some(doubt) = contour.doubt {
        return out.not_judged(rule, format!("{} (line {})", doubt.value, doubt.line));
    }
    let travel = end - start;
    let points: Vec<_> = (3..8)
        .filter_map(|eighth| {
            let z = start + Length::from_pm(travel.pm() / 8 * eighth);
            Some((z, contour.at(side, z)?))
        })
        .collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return;
    };
    let dz = (last.0 - first.0).mm();
    if dz.abs() < 1.0 {
        return;
    }
    // Change of the diameter for each mm along the stroke.
    let cone = (last.1.x.mm() - first.1.x.mm()) / dz.abs();
    let thread = -2.0 * taper.mm() / travel.mm().abs();
    // A step of the shaft is no cone.
    let straight = points
        .windows(2)
        .all(|pair| pair[0].1.by.line == pair[1].1.by.line);
    if !straight || cone.abs() < 0.005 || thread.abs() < 0.005 || (cone > 0.0) == (thread > 0.0) {
        return;
    }
    let word = section
        .word(Role::Taper)
        .or_else(|| section.word(Role::EndX));
    let way = |slope: f64| if slope > 0.0 { "larger" } else { "smaller" };
    let name = match side {
        Side::External => "cone",
        Side::Internal => "conical bore",
    };
    let mut finding = rule
        .found(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            format!(
                "the thread gets {} along the stroke, the {name} gets {}",
                way(thread),
                way(cone)
            ),
        )
        .because(format!(
            "thread: radius at the start − radius at the end = {}, over {} of stroke: {} on the diameter for each mm",
            length_of_mm(taper.mm(), section.units),
            length_of_mm(travel.mm().abs(), section.units),
            number(thread, 4)
        ))
        .because(format!(
            "{}: {} on the diameter for each mm",
            cut_by(cx, first.1.by),
            number(cone, 4)
        ))
        .related(place(first.1.by), "the cone is turned here")
        .source("plane geometry on the contour that the program turns; the sign of the taper word as in control manuals, from memory")
        .help("turn the sign of the taper word round, or see which end is the large one");
    if let Some(fix) = section.word(Role::Taper).and_then(|word| turned(cx, word)) {
        finding = finding.fix(fix);
    }
    out.push(finding);
}

/// Passes of one list that slope to both sides.
fn flips(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    let slopes: Vec<(i64, Length, &lexer::section::Pass)> = section
        .passes
        .iter()
        .filter(|pass| pass.legs.is_empty())
        .filter_map(|pass| {
            let slope = (pass.x_start?.0 - pass.x?.0).half();
            (slope.abs().mm() > 0.01).then_some((slope.signum(), slope, pass))
        })
        .collect();
    let first = slopes.first()?;
    let other = slopes.iter().find(|slope| slope.0 != first.0)?;
    let pass = other.2;
    let word = section
        .words
        .iter()
        .find(|word| word.role == Role::Taper && word.line == pass.line);
    let mut finding = rule
        .found(
            word.map_or((pass.span, pass.line), |word| (word.span, word.line)),
            format!(
                "the pass of line {} slopes by {}, the first one by {}: the other way round",
                pass.line,
                length_of_mm(other.1.mm(), section.units),
                length_of_mm(first.1.mm(), section.units)
            ),
        )
        .because(format!(
            "radius at the start − radius at the end: {} in line {}, {} in line {}",
            length_of_mm(first.1.mm(), section.units),
            first.2.line,
            length_of_mm(other.1.mm(), section.units),
            pass.line
        ))
        .source("arithmetic on the passes of one thread")
        .help("write the taper with the same sign in all passes");
    if let Some(fix) = word.and_then(|word| turned(cx, word)) {
        finding = finding.fix(fix);
    }
    Some(finding)
}

/// The taper word with the other sign.
fn turned(cx: &Context<'_>, word: &RoleWord) -> Option<Fix> {
    let written = String::from_utf8_lossy(word.value_span.of(cx.bytes)).into_owned();
    let text = match written.strip_prefix('-') {
        Some(rest) => rest.to_owned(),
        None => format!("-{}", written.strip_prefix('+').unwrap_or(&written)),
    };
    let plain = written
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b"+-.".contains(&byte));
    plain.then(|| Fix {
        title: format!(
            "write {}{text} for {}{written}: the thread slopes the other way, its end diameters stay",
            char::from(word.letter),
            char::from(word.letter)
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: word.value_span,
            text,
        }],
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "taper-direction";
    const CONE: &str =
        "G21\nT0101\nG97 S800 M3\nG0 X20. Z2.\nG1 Z0. F0.2\nX22. Z-32.\nX40.\nG0 X60. Z100.\n";

    #[test]
    fn found_in_every_syntax() {
        let twins = |body: &str, bad: &str, good: &str| {
            (
                format!("{CONE}T0303\nG0 X30. Z8.\n{}", body.replace('@', bad)),
                format!("{CONE}T0303\nG0 X30. Z8.\n{}", body.replace('@', good)),
            )
        };
        let mut pairs = vec![
            twins(
                "G92 X21.2 Z-24. R@ F1.814\nX20.\nX19.2\nG0 X90.\n",
                "1.",
                "-1.",
            ),
            twins(
                "G76 P020060 Q60 R0.03\nG76 X19.2 Z-24. R@ P1480 Q350 F1.814\nG0 X90.\n",
                "1.",
                "-1.",
            ),
            twins("X@\nG32 X21. Z-24. F1.814\nG0 X30.\nZ8.\n", "23.", "19."),
            twins(
                "G76 X19.2 Z-24. I@ K1.48 D0350 A60 F1.814\nG0 X90.\n",
                "1.",
                "-1.",
            ),
        ];
        // One pass of the list with the other sign, without a contour.
        pairs.push((
            "G21\nT0303\nG97 S800 M3\nG0 X30. Z8.\nG92 X21.2 Z-24. R-1. F1.814\nX20.6\nG92 X20. Z-24. R1. F1.814\nX19.5\nG0 X90.\n".into(),
            "G21\nT0303\nG97 S800 M3\nG0 X30. Z8.\nG92 X21.2 Z-24. R-1. F1.814\nX20.6\nG92 X20. Z-24. R-1. F1.814\nX19.5\nG0 X90.\n".into(),
        ));
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // On a cylinder the thread makes the cone.
                "G21\nT0101\nG97 S800 M3\nG0 X22. Z2.\nG1 Z-32. F0.2\nX40.\nG0 X60. Z100.\nT0303\nG0 X30. Z8.\nG92 X21.2 Z-24. R-1. F1.814\nX19.2\nG0 X90.\n",
                "G21\nT0303\nG97 S800 M3\nG0 X30. Z8.\nG92 X21.2 Z-24. R1. F1.814\nX19.2\nG0 X90.\n",
            ],
        );
    }
}
