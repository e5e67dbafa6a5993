use lexer::section::Role;
use lexer::units::Units;

use super::text::{lead, length, number, quoted};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The numbers of a thread make sense in the units that the program sets.
    ///
    /// # Why it matters
    ///
    /// G21 over a program in inches makes the part 25 times too small: the tool runs into the middle
    /// of the blank. G20 over one in millimetres makes the axes run to their ends.
    ///
    /// # The sum
    ///
    /// In G21: a lead below 0.2 mm that is a whole number of threads per inch, on a diameter of at
    /// least 3.5 leads. In G20: a lead of 0.25 in and more that is a pitch of ISO 261, on a diameter
    /// of more than 8 in and at least 3.5 leads.
    ///
    /// # What it needs
    ///
    /// A units word in the program, the lead and the last diameter.
    ///
    /// # When it stays silent
    ///
    /// Without a units word, for a thread that is stated or listed as it is written, for metric leads
    /// in inch programs and the other way round, for oil grooves.
    ///
    /// # Mend
    ///
    /// Write the units word that the numbers were written for. It changes every move of the program,
    /// so nothing is written for you.
    ///
    /// # Source
    ///
    /// The pitches of ISO 261 and the threads per inch of ASME B1.1; the limits are our own choice,
    /// common practice, no source.
    "unit-mode-conflict", Warning,
    "the numbers of the thread belong to the other system of units",
    fixes: false, needs_designation: false, check
}

/// Pitches of ISO 261 from 0.25 mm.
const PITCHES: [f64; 25] = [
    0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6, 0.7, 0.75, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5,
    4.0, 4.5, 5.0, 5.5, 6.0, 8.0, 7.0,
];
/// Diameters below this many leads are no fastener thread.
const LEADS: f64 = 3.5;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if cx.stated() || cx.is_groove() || section.chase || section.cut.starts > 1 {
        return;
    }
    // As written they are a listed thread, down to the miniature screws.
    let listed = cx.identified.candidates.first();
    if cx.thread().is_some() || listed.is_some_and(|best| best.distance <= 1.0) {
        return;
    }
    let Some(units) = cx.program.units else {
        return;
    };
    let (Some(written), Some(root)) = (section.cut.lead.get(), cx.table.root) else {
        return;
    };
    let mm = written.mm().abs();
    let (value, across) = match units.value {
        Units::Millimetre => (mm, root.abs().mm()),
        Units::Inch => (mm / 25.4, root.abs().mm() / 25.4),
    };
    if value <= 0.0 || across < LEADS * value || section.units != units.value {
        return;
    }
    let (fits, other, what) = match units.value {
        Units::Millimetre => {
            let per_inch = 1.0 / value;
            let whole = (per_inch * 2.0 - (per_inch * 2.0).round()).abs() < 0.02;
            let fits = value < 0.2 && whole && (3.0..=80.0).contains(&per_inch);
            (
                fits,
                "inches",
                format!(
                    "{} in are {} threads per inch",
                    number(value, 6),
                    number(per_inch, 1)
                ),
            )
        }
        Units::Inch => {
            let fits = value >= 0.25
                && across > 8.0
                && PITCHES.iter().any(|pitch| (pitch - value).abs() < 1e-6);
            (
                fits,
                "millimetres",
                format!("{} mm is a pitch of ISO 261", number(value, 3)),
            )
        }
    };
    if !fits {
        return;
    }
    let word = section.word(Role::Lead);
    let place = word.map_or(cx.place(), |word| (word.span, word.line));
    out.push(
        rule.found(
            place,
            format!(
                "a lead of {} on {} makes no sense; read in {other} it does",
                lead(written, section.units),
                length(root.abs().0, section.units)
            ),
        )
        .because(what)
        .because(format!(
            "{} sets {}",
            quoted(cx.bytes, units.span, units.line),
            match units.value {
                Units::Millimetre => "millimetres",
                Units::Inch => "inches",
            }
        ))
        .related((units.span, units.line), "the units are set here")
        .source("the pitches of ISO 261, the threads per inch of ASME B1.1; the limits: common practice, no source")
        .help("write the units word that the numbers were written for, and prove the whole program out again"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "unit-mode-conflict";

    #[test]
    fn found_in_every_syntax() {
        let inch = [
            "@\nT0303\nG97 S800 M3\nG0X.9Z.4\nG76X.6273Z-1.5K.0613D0150A60F.1\nG0X4.\n",
            "@\nT0303\nG97 S800 M3\nG0 X.4 Z.4\nG92 X.24 Z-.8 F.05\nX.2\nX.1887\nG0 X4.\n",
        ];
        let metric = [
            "@\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
            "@\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F1.5\nG0 X34.\nZ8.\nX28.16\nG32 Z-30. F1.5\nG0 X34.\n",
            "@ G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29. Z-30. F2.\nX28.\nX27.546\nG0 X100.\n",
        ];
        let mut texts: Vec<(String, String)> = inch
            .iter()
            .map(|text| (text.replace('@', "G21"), text.replace('@', "G20")))
            .collect();
        texts.extend(
            metric
                .iter()
                .map(|text| (text.replace('@', "G20"), text.replace('@', "G21"))),
        );
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // A miniature screw, a metric lead in an inch program, a large worm in inches.
                "G21\nT0303\nG97 S800 M3\nG0 X1.2 Z1.\nG92 X.75 Z-2. F.175\nX.69\nG0 X4.\n",
                "G20\nT0303\nG97 S800 M3\nG0 X1.3 Z.4\nG92 X1.15 Z-1.2 F.07874\nX1.0845\nG0 X4.\n",
                "G20\nT0303\nG97 S80 M3\nG0 X7. Z2.\nG92 X5.9 Z-4. F.5\nX5.4\nG0 X9.\n",
            ],
        );
    }
}
