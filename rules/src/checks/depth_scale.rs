use lexer::law::Law;
use lexer::section::{Cut, Role, RoleWord, Scale, Section, Syntax, Val};
use lexer::source::Mark;
use lexer::units::{Length, Radial};

use super::slip::{self, Factor, HeightSlip, How, into_range, respell};
use super::text::{length, number, quoted};
use super::words::text_of;
use super::{Context, Out, Rule, restate, rule};
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::identify::X_MODE;

rule! {
    /// # What it checks
    ///
    /// The depth words of a cycle (thread height, first cut, minimum cut, finishing allowance)
    /// against the pitch and against each other: a slip by a factor of 10, 100 or 1000, by the
    /// unit, or by 2 because a diameter was written for a radius.
    ///
    /// # Why it matters
    ///
    /// Depth words are the only ones that most controls read in thousandths without a point, and
    /// the only radial ones among diameters. P92 instead of P920 tells the cycle that the crest lies
    /// just above the root: the first pass takes the whole thread and tears the insert out.
    ///
    /// # The sum
    ///
    /// height / pitch is 0.54 to 0.65 for 60° threads and 0.64 for 55° ones. Below 0.3 or above 1.3
    /// the height cannot be meant, and the factor that brings it back is named. Twice or half is
    /// reported only when a known thread settles it: height against (nominal crest - root) / 2. The
    /// first cut must be less than the height; a minimum cut or a finishing allowance of the height
    /// or more cuts everything in one pass.
    ///
    /// # What it needs
    ///
    /// The lead, and for a factor of two the thread. Where height and lead are multiples of one
    /// variable without a known value, their ratio is enough for a power of ten.
    ///
    /// # When it stays silent
    ///
    /// A height of half of start minus root, whatever its size: the first passes cut air and the
    /// root decides. A second call of the cycle to chase a burr, a second cycle that goes on where
    /// the first left off, oil grooves, and threads not higher than 0.35 mm cut at once.
    ///
    /// # Mend
    ///
    /// Writes the word with the factor, in its own style. In the drive-line cycle I, J and K are
    /// diameter values under G7 and radial ones under G8.
    ///
    /// # Source
    ///
    /// Heights: ISO 68-1, ASME B1.1, BS 84. The limits 0.3 and 1.3 are common practice, no source.
    "depth-scale", Error,
    "a depth word of the cycle is off by a factor",
    fixes: true, needs_designation: false, check
}

/// Threads no higher than this are cut at once on purpose (common practice, no source), mm.
const AT_ONCE: f64 = 0.35;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if matches!(section.cut.law, Law::List) || section.chase || cx.is_groove() {
        return;
    }
    if let Some(why) = section.cut.height.why() {
        if let Some(ratio) = section.height_over_lead {
            return proportion(rule, cx, ratio, out);
        }
        return out.not_judged(rule, format!("the height is not known: {why}"));
    }
    if cx.pitch_mm().is_none() {
        let why = section.cut.lead.why().unwrap_or_default();
        return out.not_judged(rule, format!("the lead is not known: {why}"));
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
    }
    if let Some(slip) = slip::height(cx) {
        return out.push(height(rule, cx, &slip));
    }
    let (first, min, finish) = match &section.cut.law {
        Law::SquareRoot {
            first, min, finish, ..
        } => (Some(first), Some(min), Some(finish)),
        Law::Method { first, .. } | Law::Power { first, .. } => (Some(first), None, None),
        Law::Counted { finish, .. } => (None, None, Some(finish)),
        Law::List => return,
    };
    for (role, value, name) in [
        (Role::FirstCut, first, "the first cut"),
        (Role::MinCut, min, "the minimum cut"),
        (Role::FinishAllowance, finish, "the finishing allowance"),
    ] {
        if let Some(value) = value.and_then(Val::get)
            && let Some(word) = section.word(role)
            && let Some(finding) = part(rule, cx, word, value, name)
        {
            out.push(finding);
        }
    }
}

/// Height and lead that are multiples of one value that the program does not give: their ratio is
/// judged, by powers of ten alone.
fn proportion(rule: &Rule, cx: &Context<'_>, ratio: Mark<f64>, out: &mut Out) {
    let written = text_of(cx.bytes, ratio.span);
    let value = number(ratio.value, 3);
    // With several starts the lead is that many pitches.
    let starts = cx.section.cut.start_angle.is_some() || cx.section.cut.starts > 1;
    let factor = (!starts && !(0.3..=1.3).contains(&ratio.value))
        .then(|| {
            let fits = |factor: &&Factor| (0.5..=0.75).contains(&(ratio.value * factor.value));
            slip::TENS.iter().find(fits)
        })
        .flatten();
    let Some(factor) = factor else {
        return out.not_judged(
            rule,
            format!("the height is not known, only that {written} is {value} of the lead"),
        );
    };
    out.push(
        rule.found(
            (ratio.span, ratio.line),
            format!(
                "{written} makes the thread {value} of the lead high, whatever the variable is; {} \
                 would fit",
                factor.what
            ),
        )
        .because(format!("height / lead = {value}: the variable cancels out"))
        .because(format!(
            "{}: {} of the lead",
            factor.what,
            number(ratio.value * factor.value, 3)
        ))
        .source(
            "height of 60° threads 0.541 to 0.650 of the pitch (ISO 68-1, ASME B1.1), of 55° \
             threads 0.640 (BS 84)",
        )
        .help("correct the factor of the variable, and prove the cycle out with a printed value"),
    );
}

/// A height that does not go with the pitch.
fn height(rule: &Rule, cx: &Context<'_>, slip: &HeightSlip<'_>) -> Finding {
    let units = cx.section.units;
    let HeightSlip { word, pitch, .. } = *slip;
    let written = text_of(cx.bytes, word.span);
    let h = slip.height;
    let ratio = |h: f64| number(h / pitch, 3);
    let height_words = length(h.0, units);
    let pitch_words = length(Length::from_mm(pitch), units);
    let by_two = matches!(slip.how, How::By(factor) if factor.value == 2.0 || factor.value == 0.5);
    let message = match slip.how {
        How::By(factor) => format!(
            "{written} makes the thread {height_words} high, {} of the pitch; {} would fit",
            ratio(h.mm()),
            factor.what
        ),
        How::Unexplained => format!(
            "{written} makes the thread {height_words} high, {} of the pitch: the first pass takes \
             most of the depth",
            ratio(h.mm())
        ),
    };
    let mut finding = rule
        .found((word.span, word.line), message)
        .because(format!(
            "{}: height {height_words}{}",
            quoted(cx.bytes, word.span, word.line),
            reading(cx, word)
        ))
        .because(format!(
            "height / pitch = {height_words} / {pitch_words} = {}",
            ratio(h.mm())
        ));
    if let (Some(real), Some(thread)) = (slip.real, cx.thread()) {
        finding = finding.because(format!(
            "from the crest of {} to the last diameter it is {}",
            thread.designation(),
            length(Length::from_mm(real), units)
        ));
    }
    finding = finding.because(first_bite(cx));
    // With twice the height the cut is only slow; half, and any power of ten, is a crash.
    let harmless = matches!(slip.how, How::By(factor) if factor.value == 0.5)
        && !cx.section.syntax.counts_from_crest();
    let unsure = slip.how == How::Unexplained || by_two && !cx.stated();
    if harmless || unsure {
        finding = finding.severity(Severity::Warning);
    }
    finding = finding.source(
        "height of 60° threads 0.541 to 0.650 of the pitch (ISO 68-1, ASME B1.1), of 55° threads \
         0.640 (BS 84)",
    );
    let How::By(factor) = slip.how else {
        return finding.help("write the height from the crest to the root");
    };
    let wanted = Radial(exact(slip, times(h.0, factor), factor));
    let text = respell(word, wanted.0, factor);
    let after = restate::changed(cx.section, |cut| {
        restate::set_height(cut, wanted, cx.section.syntax);
    });
    let finding = finding.because(format!(
        "{}: {}, {} of the pitch",
        factor.what,
        length(wanted.0, units),
        ratio(wanted.mm())
    ));
    if factor.is_units() && !root_agrees(cx, slip) {
        return finding.help(format!(
            "check whether the program is in millimetres or inches (it is read in {}), then this \
             word",
            units.name()
        ));
    }
    finding
        .help(format!("write {}{text}", word.address()))
        .fix(rewrite(cx, word, text, &after))
}

/// Whether the diameters fit the thread in the units in force, so that one word alone is off.
fn root_agrees(cx: &Context<'_>, slip: &HeightSlip<'_>) -> bool {
    if !cx.section.syntax.counts_from_crest() {
        return slip.real.is_some();
    }
    let crest = cx.section.cut.crest_x.get().map(|crest| crest.abs().mm());
    crest
        .zip(cx.thread())
        .is_some_and(|(crest, thread)| (crest - thread.major.mm()).abs() < 0.3 * slip.pitch)
}

/// The height times the factor. Where the depth to the root is known, that depth: for a factor of
/// two, and where only the last digits were left out (P77 for P773).
fn exact(slip: &HeightSlip<'_>, wanted: Length, factor: Factor) -> Length {
    let (Some(real), Scale::Increments(units)) = (slip.real, slip.word.scale) else {
        return wanted;
    };
    let unit = units.least_increment();
    let real = unit * (real * 1e9 / unit.pm() as f64).round() as i64;
    let by_two = factor.value == 2.0 || factor.value == 0.5;
    let digits_lost = factor.value >= 10.0 && real >= wanted && real < wanted + times(unit, factor);
    if by_two || digits_lost { real } else { wanted }
}

/// What the height leaves to the first pass.
fn first_bite(cx: &Context<'_>) -> String {
    let first = cx.table.rows.first().and_then(|row| row.depth);
    let units = cx.section.units;
    match (first, cx.thread()) {
        (Some(depth), Some(_)) if depth.0 > Length::ZERO => format!(
            "the first pass goes {} deep below the crest",
            length(depth.0, units)
        ),
        (Some(_), Some(_)) => {
            let air = cx.table.rows.iter().filter_map(|row| row.depth);
            let count = air.filter(|depth| depth.0 <= Length::ZERO).count();
            format!("{count} of {} passes cut air", cx.table.rows.len())
        }
        _ => format!("the cycle makes {} passes of it", cx.section.passes.len()),
    }
}

/// How the word was read, where that is a usual cause.
fn reading(cx: &Context<'_>, word: &RoleWord) -> &'static str {
    match (cx.section.syntax, word.divisor) {
        (Syntax::DriveLine, 2) => " (under G7 the word is a diameter value and is halved)",
        (Syntax::DriveLine, _) => " (under G8 the word is radial)",
        (Syntax::Call, _) => " (radial)",
        (Syntax::Compound, _) => " (the word is a diameter value and is halved)",
        (_, _) if word.number.point => " (with a point: real units)",
        _ => " (without a point: least increments)",
    }
}

/// A first cut, minimum cut or finishing allowance of the whole height or more.
fn part(
    rule: &Rule,
    cx: &Context<'_>,
    word: &RoleWord,
    value: Radial,
    name: &str,
) -> Option<Finding> {
    let units = cx.section.units;
    let height = cx.section.cut.height.get()?;
    let h = height.mm();
    let allowed = if h <= AT_ONCE && word.role == Role::FirstCut {
        2.0 * h
    } else {
        h
    };
    if value.mm() < allowed || h <= 0.0 {
        return None;
    }
    let (low, high) = match word.role {
        Role::FirstCut => (0.08 * h, 0.5 * h),
        _ => (0.005, 0.25_f64.min(0.4 * h)),
    };
    // Against a height that is no thread's, nothing can be told of the other words.
    let ratio = h / cx.pitch_mm()?;
    let sound = (0.3..=1.3).contains(&ratio) || slip::from_start(cx.section);
    let factor = into_range(word, value.mm(), low, high).filter(|_| sound);
    let written = text_of(cx.bytes, word.span);
    let mut finding = rule
        .found(
            (word.span, word.line),
            format!(
                "{written} makes {name} {}, the whole thread is {} high: it is cut in one pass",
                length(value.0, units),
                length(height.0, units)
            ),
        )
        .because(format!(
            "{}: {name} {}{}",
            quoted(cx.bytes, word.span, word.line),
            length(value.0, units),
            reading(cx, word)
        ));
    if let Some(word) = cx.section.word(Role::Height) {
        finding = finding.because(format!(
            "{}: height {}",
            quoted(cx.bytes, word.span, word.line),
            length(height.0, units)
        ));
    }
    finding = finding.source("arithmetic on the words of the cycle");
    let Some(factor) = factor else {
        return Some(finding.help(format!("write {name} smaller than the height")));
    };
    let wanted = Radial(times(value.0, factor));
    let text = respell(word, wanted.0, factor);
    let after = restate::changed(cx.section, |cut| set_part(cut, word.role, wanted));
    Some(
        finding
            .because(format!("{}: {}", factor.what, length(wanted.0, units)))
            .help(format!("write {}{text}", word.address()))
            .fix(rewrite(cx, word, text, &after)),
    )
}

fn set_part(cut: &mut Cut, role: Role, value: Radial) {
    let value = Val::Exact(value);
    match (&mut cut.law, role) {
        (
            Law::SquareRoot { first, .. } | Law::Method { first, .. } | Law::Power { first, .. },
            Role::FirstCut,
        ) => *first = value,
        (Law::SquareRoot { min, .. }, Role::MinCut) => *min = value,
        (Law::SquareRoot { finish, .. } | Law::Counted { finish, .. }, Role::FinishAllowance) => {
            *finish = value
        }
        _ => {}
    }
}

fn times(value: Length, factor: Factor) -> Length {
    Length::from_pm((value.pm() as f64 * factor.value).round() as i64)
}

fn rewrite(cx: &Context<'_>, word: &RoleWord, text: String, after: &Section) -> Fix {
    Fix {
        title: format!(
            "write {}{text} for {}: {}",
            word.address(),
            text_of(cx.bytes, word.span),
            restate::before_after(cx, after)
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: word.value_span,
            text,
        }],
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "depth-scale";

    #[test]
    fn found_and_mended_in_every_syntax() {
        let two =
            |words: &str| format!("G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X36. Z8.\n{words}\n");
        let pairs = [
            // Height: a digit lost, a digit too many, a point that does not belong there.
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P122 Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P12270 Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227. Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            // Half and twice the height, settled by the note.
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P613 Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P2454 Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            // First cut, minimum cut and finishing allowance.
            (
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q3500 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            (
                two("G76 P020055 Q80. R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
                two("G76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            (
                two("G76 P020055 Q80 R50.\nG76 X27.546 Z-36. P1227 Q350 F2."),
                two("G76 P020055 Q80 R50\nG76 X27.546 Z-36. P1227 Q350 F2."),
            ),
            // One block, inch: K in millimetres; a point that is slipped.
            (
                "G20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K1.558D0150A60F.1\n".into(),
                "G20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K0.0613D0150A60F.1\n".into(),
            ),
            (
                "G20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.613D0150A60F.1\n".into(),
                "G20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n".into(),
            ),
            // Drive line: a radial K under G7, a diameter K under G8, a first cut of ten times.
            (
                "; THREAD M24x2-6g\nG21 G18 G7 G90\nG97 S800 M3\nG0 X28 Z8\nG76 P2 Z-30 I-4 J0.7 R2 K1.227 Q27\n".into(),
                "; THREAD M24x2-6g\nG21 G18 G7 G90\nG97 S800 M3\nG0 X28 Z8\nG76 P2 Z-30 I-4 J0.7 R2 K2.454 Q27\n".into(),
            ),
            (
                "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K2.454 Q27\n".into(),
                "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n".into(),
            ),
            (
                "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J3.5 R2 K1.227 Q27\n".into(),
                "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n".into(),
            ),
        ];
        for (bad, good) in &pairs {
            assert_pairs(RULE, &[(bad, good)]);
        }
    }

    /// 0.6134 of the lead by ISO 68-1 (17/24 H), whatever the variable is.
    #[test]
    fn multiples_of_an_unknown_are_judged_by_their_ratio() {
        let two = |p: &str| {
            format!(
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X#102 Z-36. {p} Q350 F#101\nG0 X100.\n"
            )
        };
        let one = |k: &str| {
            format!("G20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75{k}D0150A60F#101\nG0X4.\n")
        };
        let line = |k: &str| {
            format!(
                "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P#<_lead> Z-30 I-2 J0.35 R2 {k} Q27\n"
            )
        };
        let fine = |text: &str| format!("{}M30\n", text.replace("S800", "S900"));
        let pairs = [
            (two("P[6134.*#101]"), two("P[613.4*#101]")),
            (fine(&two("P[#101*6134]")), fine(&two("P[#101*613]"))),
            (one("K[.06134*#101]"), one("K[.6134*#101]")),
            (one("K[#101*6134/1000]"), one("K[#101*6134/10000]")),
            (line("K[0.06134*#<_lead>]"), line("K[0.6134*#<_lead>]")),
        ];
        for (bad, good) in &pairs {
            assert_pairs(RULE, &[(bad, good)]);
        }
        // Ten starts, another variable, a summand: nothing is told.
        let many = one("K[.06134*#101]").replace("F#101", "F#101Q36000");
        let other = two("P[6134*#103]");
        let summand = two("P[6134*#101+10]");
        assert_silent(RULE, &[&many, &other, &summand]);
    }

    #[test]
    fn only_what_crashes_is_an_error() {
        let worst = |height: &str, note: &str| {
            let text = format!(
                "G21\n{note}\nG97 S800 M3\nG0 X36. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P{height} Q350 F2.\n"
            );
            findings(RULE, &text)
                .first()
                .map(|finding| finding.severity)
        };
        let note = "(THREAD M30X2-6G)";
        assert_eq!(worst("122", note), Some(Severity::Error));
        assert_eq!(worst("613", note), Some(Severity::Error));
        assert_eq!(worst("2454", note), Some(Severity::Warning));
        // Without a designation the factor of two is inferred.
        assert_eq!(worst("613", ""), Some(Severity::Warning));
        assert_eq!(worst("122", ""), Some(Severity::Error));
    }

    #[test]
    fn silent_on_habits() {
        assert_silent(
            RULE,
            &[
                // The height taken from the start diameter: 1.95 of the pitch.
                "G21\n(THREAD M20X1.5-6G)\nG97 S800 M3\nG0 X24. Z8.\nG76 P020055 Q80 R0.05\nG76 X18.16 Z-36. P2920 Q350 F1.5\n",
                "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.1363D0150A60F.1\n",
                // A crest with topping stock: 0.95 of the pitch.
                "G21\n(THREAD M20X1.5-6G)\nG97 S800 M3\nG0 X24. Z8.\nG76 P020055 Q80 R0.05\nG76 X18.16 Z-36. P1425 Q350 F1.5\n",
                // A burr chase: a second call with large cuts.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG76 P010055 Q1250 R0.05\nG76 X27.546 Z-36. P200 Q200 F2.\n",
                // Finished by a second cycle with a small height.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.946 Z-36. P1027 Q350 F2.\nG76 P010055 Q50 R0.02\nG76 X27.546 Z-36. P200 Q80 F2.\n",
                // A finishing allowance in least increments.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q80 R50\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // A fine thread cut at once.
                "G21\n(THREAD M8X0.5-6G)\nG97 S800 M3\nG0 X10. Z4.\nG76 P010060 Q20 R0.02\nG76 X7.387 Z-6. P307 Q307 F0.5\n",
                // An oil groove by a cycle.
                "G21\nG97 S60 M3\nG0 X84. Z2.\nG76 P010000 Q100 R0.05\nG76 X86. Z-40. P600 Q200 F40.\n",
            ],
        );
    }
}
