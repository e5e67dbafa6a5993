use lexer::block::Block;
use lexer::section::{Pass, Side, Syntax};
use lexer::source::Span;
use lexer::units::{Diameter, Length};

use super::lines::blocks;
use super::surroundings::{SAME, at_z};
use super::text::{length, length_of_mm, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// The tool leaves the thread away from the material: outwards from a bolt, towards the axis in
    /// a bore, and out of a bore along the axis before it goes away.
    ///
    /// # Why it matters
    ///
    /// A retract in the wrong direction drives the tool deeper into the groove at rapid. An internal
    /// tool that goes to its change position straight from the bottom of the bore takes the part
    /// along.
    ///
    /// # The sum
    ///
    /// First X behind the pass against the diameter of the pass. Behind the last pass in a bore: an
    /// X outside the thread while Z is still inside.
    ///
    /// # What it needs
    ///
    /// The moves behind hand-written strokes. For the drive-line cycle, which ends at the far end of
    /// the thread, and for cycles that start inside the bore the block behind them.
    ///
    /// # When it stays silent
    ///
    /// For moves with variables, and where it is not known whether bolt or nut is cut.
    ///
    /// # Mend
    ///
    /// Retract to a diameter outside the crest, or inside the bore, and leave a bore along Z first.
    ///
    /// # Source
    ///
    /// Plane geometry on the programmed moves; that the drive-line cycle ends at the far end of the
    /// drive line: documentation of the open RS274/NGC interpreter.
    "retract-wrong-side", Error,
    "the tool retracts into the material",
    fixes: false, needs_designation: false, check
}

/// Blocks behind a section in which its retract is looked for.
const BEHIND: usize = 8;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(side) = cx.side() else {
        return;
    };
    if let Some(finding) = stroke(rule, cx, side) {
        out.push(finding);
    } else if side == Side::Internal
        && let Some(finding) = leaves_bore(rule, cx)
    {
        out.push(finding);
    }
}

/// A retract behind a stroke that goes deeper.
fn stroke(rule: &Rule, cx: &Context<'_>, side: Side) -> Option<Finding> {
    let section = cx.section;
    if section.syntax != Syntax::Strokes {
        return None;
    }
    let deeper = |from: Diameter, to: Diameter| match side {
        Side::External => from.above(to).mm(),
        Side::Internal => to.above(from).mm(),
    };
    let ends = |pass: &Pass| {
        pass.legs
            .last()
            .map(|leg| leg.x.abs())
            .or(pass.x.map(Diameter::abs))
    };
    let (pass, way, by) = section.passes.iter().enumerate().find_map(|(at, pass)| {
        let mut behind = section.moves.iter().filter(|m| m.after_pass == at + 1);
        // The first move across the axis, before any along it.
        let way = behind.next()?;
        let (from, to) = (way.from.0?.abs(), way.to.0?.abs());
        let own = ends(pass)?;
        let by = deeper(from, to);
        (way.rapid && by > SAME && (from.0 - own.0).abs().mm() <= SAME && way.from.1 == way.to.1)
            .then_some((pass, way, by))
    })?;
    let units = section.units;
    let to = way.to.0?.abs();
    Some(
        rule.found(
            (way.span, way.line),
            format!(
                "the retract goes to {}, {} deeper than the pass it leaves",
                length(to.0, units),
                length_of_mm(by, units)
            ),
        )
        .because(format!(
            "{} behind the pass of line {} at {}",
            quoted(cx.bytes, way.span, way.line),
            pass.line,
            ends(pass).map_or_else(String::new, |x| length(x.0, units))
        ))
        .source("plane geometry on the programmed moves")
        .help(help(side)),
    )
}

const fn help(side: Side) -> &'static str {
    match side {
        Side::External => "retract outwards, clear of the crest",
        Side::Internal => "retract towards the axis, clear of the bore",
    }
}

/// The first blocks behind a cycle that ends inside a bore.
fn leaves_bore(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    let cut = &section.cut;
    let (start, end, root) = (
        cut.start_z.get()?,
        cut.end_z.get()?,
        cut.root_x.get()?.abs(),
    );
    // Where the tool stands behind the section.
    let z = match section.syntax {
        Syntax::DriveLine => end,
        Syntax::Strokes => return None,
        _ => start,
    };
    let inside = match section.syntax {
        // At the end of its drive line, which is inside unless the thread goes through.
        Syntax::DriveLine => true,
        _ => section.feed_direction() == Some(-1) && z < Length::ZERO,
    };
    if !inside {
        return None;
    }
    let next = cx
        .program
        .sections
        .get(cx.index + 1)
        .map_or(u32::MAX, |next| next.first_line);
    let last = super::lines::part(cx);
    let to = (*last.end()).min(next.saturating_sub(1));
    let mut found: Option<(Span, u32, Diameter)> = None;
    let mut looked = 0;
    blocks(cx, section.last_line + 1..=to, |block| {
        looked += usize::from(!block.words.is_empty());
        if looked > BEHIND {
            return false;
        }
        if let Some(leaves) = way_out(cx, block) {
            found = match leaves {
                Some(x) if x.abs() > root => Some((block.span, block.line, x)),
                _ => None,
            };
            return false;
        }
        true
    });
    let (span, line, x) = found?;
    let units = section.units;
    Some(
        rule.found(
            (span, line),
            format!(
                "the tool goes to {} while it stands inside the bore at {}",
                length(x.0, units),
                at_z(z, cx)
            ),
        )
        .because(format!(
            "the cycle of line {} ends at {}, the thread at {}",
            section.last_line,
            at_z(z, cx),
            length(root.0, units)
        ))
        .source(match section.syntax {
            Syntax::DriveLine => {
                "the cycle ends at the far end of the drive line: documentation of the open \
                 RS274/NGC interpreter"
            }
            _ => "a cycle returns to its start point: common practice of controls",
        })
        .help("leave the bore along Z first"),
    )
}

/// What a block does to the position: none where it moves nothing; the X it goes to, where that is
/// known and Z does not move before it.
fn way_out(cx: &Context<'_>, block: &Block) -> Option<Option<Diameter>> {
    if block.has_any(b"ZWU") || block.statement.is_some() || !block.names.is_empty() {
        // A block with both moves them together: out of the bore, or not; it is not judged unless
        // X alone moves.
        return Some(None);
    }
    // To a reference point: how is not in the program.
    if block.has_g(280) || block.has_g(300) || block.has_g(530) || block.has_g(910) {
        return Some(None);
    }
    let number = block.number_of(b'X')?;
    let settings = cx.section;
    let x = number.real(settings.units)?;
    let x = if settings.radius_mode { x.double() } else { x };
    // Whole numbers may be least increments: only what has a point, or is small, is sure.
    let sure = number.point || x.abs().mm() < 2000.0;
    Some(sure.then_some(Diameter(x)))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "retract-wrong-side";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X24.\nG0 X34.\nZ8.\n",
                    "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\nG0 X34.\nZ8.\n",
                ),
                // A bore whose retract was copied from a bolt.
                (
                    "G21 G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X31. Z8.\nX33.6\nG33 Z-26. F3.\nG0 X31.\nZ8.\nX36.\nG33 Z-26. F3.\nG0 X40.\nZ8.\n",
                    "G21 G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X31. Z8.\nX33.6\nG33 Z-26. F3.\nG0 X31.\nZ8.\nX36.\nG33 Z-26. F3.\nG0 X31.\nZ8.\n",
                ),
                // The drive line ends in the bore.
                (
                    "G21 G18 G7 G90\nS800 M3\nG0 X34 Z8\nG76 P2 Z-30 I1 J0.35 R2 K1.08 Q27\nG0 X80\nZ50\nM2\n",
                    "G21 G18 G7 G90\nS800 M3\nG0 X34 Z8\nG76 P2 Z-30 I1 J0.35 R2 K1.08 Q27\nG0 Z50\nX80\nM2\n",
                ),
                (
                    "G20 G18 G8 G90\nS800 M3\nG0 X.45 Z.4\nG76 P.05 Z-1 I.04 J.012 R2 K.03 Q29.5\nG4 P1\nG0 X2\nZ2\nM2\n",
                    "G20 G18 G8 G90\nS800 M3\nG0 X.45 Z.4\nG76 P.05 Z-1 I.04 J.012 R2 K.03 Q29.5\nG4 P1\nG0 Z2\nX2\nM2\n",
                ),
                // A thread deep in a bore: the cycle returns to a start inside it.
                (
                    "G21\nT0404\nG97 S500 M3\nG0 X31. Z10.\nZ-20.\nG76 P010055 Q70 R0.03\nG76 X36. Z-47. P1624 Q460 F3.\nG0 X150.\nZ150.\nM30\n",
                    "G21\nT0404\nG97 S500 M3\nG0 X31. Z10.\nZ-20.\nG76 P010055 Q70 R0.03\nG76 X36. Z-47. P1624 Q460 F3.\nG0 Z150.\nX150.\nM30\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // From a start in front of the bore.
                "G21\nT0404\nG97 S500 M3\nG0 X31. Z10.\nG76 P010055 Q70 R0.03\nG76 X36. Z-27. P1624 Q460 F3.\nG0 X150.\nZ150.\nM30\n",
                // An external drive line.
                "G21 G18 G7 G90\nS800 M3\nG0 X34 Z8\nG76 P2 Z-30 I-4 J0.35 R2 K1.227 Q27\nG0 X80\nZ50\nM2\n",
                // Home, both together, a variable.
                "G21\nT0404\nG97 S500 M3\nG0 X31. Z10.\nZ-20.\nG76 P010055 Q70 R0.03\nG76 X36. Z-47. P1624 Q460 F3.\nG28 U0. W0.\nM30\n",
                "G21\nT0404\nG97 S500 M3\nG0 X31. Z10.\nZ-20.\nG76 P010055 Q70 R0.03\nG76 X36. Z-47. P1624 Q460 F3.\nG0 X#5\nM30\n",
                // The next pass needs no retract where the strokes go in from the free.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX20.\n",
            ],
        );
    }
}
