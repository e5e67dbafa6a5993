use lexer::section::tapping::Way;
use lexer::section::{Role, RoleWord};
use lexer::units::{Lead, Length, Units};

use super::text::{lead as lead_text, number, quoted, rpm};
use super::words::{append, is_own, text_of};
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::standards::FAMILIES;

rule! {
    /// # What it checks
    ///
    /// The advance per turn that feed and speed of a tapping cycle make, or the lead that it writes,
    /// against the pitch of the tap.
    ///
    /// # Why it matters
    ///
    /// The tap pulls itself into the hole with its own pitch. A feed that does not go with it strips
    /// the thread or breaks the tap; a holder with length compensation only bears a feed that is a
    /// little slow. Usual slips: the feed of another speed or another size, the pitch written where a
    /// feed per minute is in force (G94, G98) or the other way round, millimetres for inches.
    ///
    /// # The sum
    ///
    /// lead = F / S with a feed per minute (also where both are multiples of one variable that has no
    /// known value: `S#102`, `F[1.25*#102]`), lead = F with a feed per turn. The lead must be the
    /// pitch to 0.1 %, or as near as F with its decimals can be (at most 1.2 %). Where the tap is not
    /// known to be synchronised, down to 95 % of the pitch passes: so a floating holder is fed.
    ///
    /// # What it needs
    ///
    /// The tap's name: a comment near its tool change (`(M8 TAP)`), a note or the configuration.
    /// Without one, only a lead that no listed thread has is reported. A word for the units.
    ///
    /// # When it stays silent
    ///
    /// Feeds rounded to their last decimal, the slower feed of a floating holder, metric pitches in
    /// inch programs, peck tapping, another speed on the way out.
    ///
    /// # Mend
    ///
    /// Writes F as speed times pitch, or as the pitch, whichever feed mode is in force; or the pitch
    /// for K. The speed stays.
    ///
    /// # Source
    ///
    /// F = S · P: the documentation of the RS274/NGC codes G84 and G33.1 and handbook arithmetic
    /// (M10x1.5 at 500 1/min: 750 mm/min; 1/4-20 at 600 1/min: 30 in/min). 0.1 % and the 95 % of a
    /// floating holder are common practice, no source.
    "tap-feed", Error,
    "feed and speed of a tap do not make its pitch",
    fixes: true, needs_designation: true, kinds: [Tapped], check
}

/// The part of the pitch down to which a floating holder is fed.
const FLOATING: f64 = 0.95;
/// Synchronised taps (common practice).
const RIGID: f64 = 0.001;
/// Leads that no tap has, mm.
const SANE: std::ops::RangeInclusive<f64> = 0.05..=13.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    if let Some(why) = cx.section.cut.lead.why() {
        if tapping.size.is_none() {
            out.not_judged(rule, why);
        }
        return;
    }
    let Some(lead) = cx.section.cut.lead.get().map(Lead::abs) else {
        return;
    };
    let word = word(cx);
    if let Some(thread) = cx.thread().filter(|_| cx.stated()) {
        let wanted = thread.lead();
        if fits(cx, lead.mm(), wanted.mm(), word) {
            return;
        }
        if cx.program.units.is_none() {
            return out.not_judged(rule, "a word for the units (G20, G21) is missing");
        }
        return out.push(wrong(rule, cx, lead, wanted, word));
    }
    if !SANE.contains(&lead.mm()) || !listed(cx, lead.mm(), word) {
        if cx.program.units.is_none() {
            return out.not_judged(rule, "a word for the units (G20, G21) is missing");
        }
        let impossible = !SANE.contains(&lead.mm());
        let mut finding = rule.found(
            word.map_or_else(|| cx.place(), |word| (word.span, word.line)),
            format!(
                "the tap would advance {} a turn, which {}",
                lead_text(lead, cx.section.units),
                if impossible {
                    "no tap does"
                } else {
                    "no listed thread has"
                }
            ),
        );
        finding = sum(finding, cx, lead, word);
        if !impossible {
            finding = finding.severity(Severity::Warning);
        }
        return out.push(
            finding
                .source("F = S · P (RS274/NGC documentation of G84; arithmetic)")
                .help("write the tap's name in a comment at its tool change, and F as speed times pitch"),
        );
    }
    out.not_judged(rule, "the name of the tap is missing");
}

/// The word that carries feed or lead.
fn word<'a>(cx: &Context<'a>) -> Option<&'a RoleWord> {
    cx.section.word(Role::Feed).or(cx.section.word(Role::Lead))
}

/// Whether a lead goes with a pitch, in mm.
fn fits(cx: &Context<'_>, lead: f64, wanted: f64, word: Option<&RoleWord>) -> bool {
    let off = (lead - wanted) / wanted;
    let rounding = word.map_or(0.0, |word| rounding(cx, word) / wanted);
    if off.abs() <= RIGID.max(rounding.min(0.012)) + 1e-9 {
        return true;
    }
    let floats = cx
        .section
        .tapping
        .as_ref()
        .is_some_and(|tapping| tapping.synchronised.get() != Some(true));
    floats && (FLOATING - 1.0..=0.0).contains(&off)
}

/// Half a unit of the last decimal of the word, as a lead in mm.
fn rounding(cx: &Context<'_>, word: &RoleWord) -> f64 {
    let units = cx.section.units;
    let half = units
        .length(0.5 * 10f64.powi(-i32::from(word.number.decimals)))
        .mm();
    match (word.role, cx.section.tapping.as_ref().and_then(|t| t.rpm)) {
        (Role::Feed, Some(rpm)) if rpm > 0.0 => half / rpm,
        (Role::Feed, _) => 0.0,
        // A lead without decimals is meant to the letter.
        _ if word.number.decimals < 2 => 0.0,
        _ => half,
    }
}

/// Whether any listed thread has this pitch, or one that a floating holder is fed slowly for.
fn listed(cx: &Context<'_>, lead: f64, word: Option<&RoleWord>) -> bool {
    FAMILIES
        .iter()
        .flat_map(|family| family.sizes())
        .any(|size| fits(cx, lead, size.pitch.mm(), word))
}

/// How the lead comes about.
fn sum(finding: Finding, cx: &Context<'_>, lead: Lead, word: Option<&RoleWord>) -> Finding {
    let units = cx.section.units;
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return finding;
    };
    match (word, tapping.rpm) {
        (Some(word), Some(speed)) if word.role == Role::Feed => finding.because(format!(
            "lead = F / S: {} over {} = {}",
            quoted(cx.bytes, word.span, word.line),
            rpm(speed),
            lead_text(lead, units)
        )),
        (Some(word), _) => finding.because(format!(
            "the lead is {} in {}",
            lead_text(lead, units),
            quoted(cx.bytes, word.span, word.line)
        )),
        _ if matches!(tapping.way, Way::Call | Way::FloatingCall) => {
            finding.because(format!("the call has the lead {}", lead_text(lead, units)))
        }
        _ => finding.because(format!(
            "lead = F / S: both are multiples of one variable, which cancels out: {}",
            lead_text(lead, units)
        )),
    }
}

fn wrong(
    rule: &Rule,
    cx: &Context<'_>,
    lead: Lead,
    wanted: Lead,
    word: Option<&RoleWord>,
) -> Finding {
    let units = cx.section.units;
    let name = cx
        .thread()
        .map(|thread| thread.designation())
        .unwrap_or_default();
    let at = word.map_or_else(|| cx.place(), |word| (word.span, word.line));
    let per_cent = (lead.mm() / wanted.mm() - 1.0) * 100.0;
    let mut finding = rule.found(
        at,
        format!(
            "the tap is fed {} a turn, {name} has the pitch {} ({}{} %)",
            lead_text(lead, units),
            lead_text(wanted, units),
            if per_cent > 0.0 { "+" } else { "" },
            number(per_cent, 1)
        ),
    );
    finding = sum(finding, cx, lead, word).because(cx.identified.why.clone());
    if let Some(slip) = slip(cx, lead, wanted, word) {
        finding = finding.because(slip);
    }
    finding = finding
        .source("F = S · P (RS274/NGC documentation of G84 and G33.1; handbook arithmetic)")
        .help("write speed times pitch for a feed per minute, the pitch for a feed per turn");
    if let Some(place) = cx.identified.place {
        finding = finding.related(place, "the tap is named here");
    }
    match fix(cx, lead, wanted, word) {
        Some(fix) => finding.fix(fix),
        None => finding,
    }
}

/// What slip it looks like.
fn slip(cx: &Context<'_>, lead: Lead, wanted: Lead, word: Option<&RoleWord>) -> Option<String> {
    let word = word?;
    let units = cx.section.units;
    let value = word.number.real(units)?.mm();
    let speed = cx.section.tapping.as_ref()?.rpm;
    let near = |a: f64, b: f64| (a - b).abs() <= 0.012 * b;
    if word.role == Role::Feed && near(value, wanted.mm()) {
        return Some("F is the pitch, but the feed counts per minute here".into());
    }
    if let (Role::Lead, Some(speed)) = (word.role, speed)
        && near(value, wanted.mm() * speed)
    {
        return Some("F is speed times pitch, but the feed counts per turn here".into());
    }
    for (factor, what) in [
        (25.4, "it would be right in millimetres"),
        (1.0 / 25.4, "it would be right in inches"),
        (10.0, "it is ten times too large"),
        (0.1, "it is ten times too small"),
        (2.0, "it is twice the pitch"),
        (0.5, "it is half the pitch"),
    ] {
        if near(lead.mm(), wanted.mm() * factor) {
            return Some(what.into());
        }
    }
    let thread = cx.thread()?;
    let other = thread.family.sizes().iter().find(|size| {
        size.major == thread.major && size.pitch != thread.pitch && near(lead.mm(), size.pitch.mm())
    });
    if other.is_some() {
        return Some("it is another pitch of the same size".into());
    }
    if word.role == Role::Feed && !is_own(cx.section, word) {
        return Some(format!(
            "the tapping writes no feed of its own, {} is still in force",
            quoted(cx.bytes, word.span, word.line)
        ));
    }
    None
}

fn fix(cx: &Context<'_>, lead: Lead, wanted: Lead, word: Option<&RoleWord>) -> Option<Fix> {
    let word = word?;
    let section = cx.section;
    let tapping = section.tapping.as_deref()?;
    let (units, rate) = (section.units, word.role == Role::Feed);
    let target = if rate {
        wanted.mm() * tapping.rpm?
    } else {
        wanted.mm()
    };
    let decimals = match (rate, units) {
        (true, Units::Millimetre) => 2,
        (true, Units::Inch) => 3,
        (false, Units::Millimetre) => 4,
        (false, Units::Inch) => 6,
    };
    let spell = |word: &RoleWord| spell(word, target, decimals, units);
    let new = format!("{}{}", char::from(word.letter), spell(word));
    let edits: Vec<Edit> = if is_own(section, word) {
        let mut edits: Vec<Edit> = section
            .words
            .iter()
            .filter(|other| other.role == word.role && is_own(section, other))
            .map(|other| Edit {
                span: other.value_span,
                text: spell(other),
            })
            .collect();
        edits.sort_by_key(|edit| edit.span.start);
        edits.dedup_by_key(|edit| edit.span);
        edits
    } else {
        let block = section.blocks.first()?;
        vec![append(cx.bytes, block.span, std::slice::from_ref(&new))?]
    };
    if tapping.way == Way::Call || edits.is_empty() {
        return None;
    }
    let holes = tapping.count;
    Some(Fix {
        title: format!(
            "write {new} for {}: lead {} -> {} in {holes} {}",
            text_of(cx.bytes, word.span),
            lead_text(lead, units),
            lead_text(wanted, units),
            if holes == 1 { "hole" } else { "holes" }
        ),
        kind: FixKind::Motion,
        edits,
    })
}

/// The value in mm in the style of a word, its sign kept, with a point where it needs one.
fn spell(word: &RoleWord, mm: f64, decimals: u8, units: Units) -> String {
    let sign = if word.number.digits < 0 { -1.0 } else { 1.0 };
    let value = sign * units.value_of(Length::from_mm(mm));
    let whole = (value - value.round()).abs() < 0.5 * 10f64.powi(-i32::from(decimals));
    if word.number.point || whole {
        return word.number.restyle(value, decimals);
    }
    let text = format!("{value:.*}", usize::from(decimals));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "tap-feed";

    fn mill(comment: &str, speed: &str, words: &str) -> String {
        format!(
            "O1\nG21 G90 G17 G94\nT5 M6 {comment}\nG0 X0 Y0\nG43 H5 Z10.\n{speed}\n{words}\nG80\nM30\n"
        )
    }

    #[test]
    fn found_and_mended_in_every_way() {
        let wide = |words: &str| mill("(M8 TAP)", "S300 M3\nM29 S300", words);
        let pairs = [
            (
                wide("G84 X10. Y5. Z-20. R3. F300.\nX30."),
                wide("G84 X10. Y5. Z-20. R3. F375.\nX30."),
            ),
            // Per turn, the pitch of the fine thread.
            (
                wide("G95\nG84 X10. Y5. Z-20. R3. F1.\nX30."),
                wide("G95\nG84 X10. Y5. Z-20. R3. F1.25\nX30."),
            ),
            // Without spaces, inches, the feed of another speed.
            (
                "G20G90G94G17\nT5M6(1/4-20 TAP)\nS600M3\nG0X0Y0\nG43H5Z1.\nM29S600\nG84X1.Y0.Z-.75R.1F40.\nG80\nM30\n"
                    .to_owned(),
                "G20G90G94G17\nT5M6(1/4-20 TAP)\nS600M3\nG0X0Y0\nG43H5Z1.\nM29S600\nG84X1.Y0.Z-.75R.1F30.\nG80\nM30\n"
                    .to_owned(),
            ),
            // A turning machine: the pitch in a feed per minute.
            (
                "G21\nG50 S3000\nT0505 (TAP M6)\nG97 S400 M3\nG98\nG0 X0 Z5.\nM29 S400\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n"
                    .to_owned(),
                "G21\nG50 S3000\nT0505 (TAP M6)\nG97 S400 M3\nG98\nG0 X0 Z5.\nM29 S400\nG84 Z-15. F400.\nG80\nG0 Z100.\nM30\n"
                    .to_owned(),
            ),
            // Strokes of the interpreter.
            (
                "(M8 TAP)\nG21 G17 G90\nG97 S300 M3\nG0 X10 Y10 Z5\nG33.1 Z-20 K1\nG0 X20\nG33.1 Z-20 K1\nG0 Z20\nM2\n"
                    .to_owned(),
                "(M8 TAP)\nG21 G17 G90\nG97 S300 M3\nG0 X10 Y10 Z5\nG33.1 Z-20 K1.25\nG0 X20\nG33.1 Z-20 K1.25\nG0 Z20\nM2\n"
                    .to_owned(),
            ),
            // Left hand, both strokes.
            (
                "G21 G90 G17\nT5 M6 (TAP M10 LH)\nG0 X20 Y30 Z5\nG331 Z-25 K-1.25 S350\nG332 Z5 K-1.25\nG0 Z50\nM30\n"
                    .to_owned(),
                "G21 G90 G17\nT5 M6 (TAP M10 LH)\nG0 X20 Y30 Z5\nG331 Z-25 K-1.50 S350\nG332 Z5 K-1.50\nG0 Z50\nM30\n"
                    .to_owned(),
            ),
            // The drill's feed is still in force.
            (
                "G21 G90 G17 G94\nT4 M6 (DRILL 6.8)\nS1200 M3\nG0 X0 Y0\nG81 X10. Y5. Z-25. R3. F120.\nG80\nT5 M6 (M8 TAP)\nS300 M3\nM29 S300\nG84 X10. Y5. Z-20. R3.\nG80\nM30\n"
                    .to_owned(),
                "G21 G90 G17 G94\nT4 M6 (DRILL 6.8)\nS1200 M3\nG0 X0 Y0\nG81 X10. Y5. Z-25. R3. F120.\nG80\nT5 M6 (M8 TAP)\nS300 M3\nM29 S300\nG84 X10. Y5. Z-20. R3. F375.\nG80\nM30\n"
                    .to_owned(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    /// F and S are multiples of one variable: 1.5 and 1.25 mm a turn, whatever the speed.
    #[test]
    fn a_feed_that_goes_with_an_unknown_speed_is_judged() {
        let tap = |feed: &str| {
            mill(
                "(M8 TAP)",
                "S#102 M3",
                &format!("G84 X10. Y5. Z-20. R3. {feed}"),
            )
        };
        let found = findings(RULE, &tap("F[1.5*#102]"));
        assert_eq!(found.len(), 1);
        assert!(found[0].message.contains("fed 1.5 mm a turn"), "{found:?}");
        assert!(found[0].fixes.is_empty());
        assert_silent(RULE, &[&tap("F[1.25*#102]"), &tap("F[1.5*#103]")]);
    }

    /// Published sums: M10x1.5 at 500 1/min is fed 750 mm/min, 1/4-20 at 600 1/min 30 in/min
    /// (handbook arithmetic, F = n · P).
    #[test]
    fn handbook_feeds_pass() {
        assert_silent(
            RULE,
            &[
                &mill(
                    "(M10X1.5 TAP)",
                    "S500 M3\nM29 S500",
                    "G84 X1. Y5. Z-20. R3. F750",
                ),
                "G20 G90 G94\nT5 M6 (1/4-20 TAP)\nS600 M3\nM29 S600\nG0 X0 Y0\nG43 H5 Z1.\nG84 X1. Y0 Z-.75 R.1 F30\nG80\nM30\n",
            ],
        );
    }

    #[test]
    fn silent_on_sound_feeds() {
        assert_silent(
            RULE,
            &[
                // Rounded to the last decimal: 18 per inch at 350 1/min is 19.444 in/min.
                "G20 G90 G94\nT5 M6 (5/16-18 TAP)\nS350 M3\nM29 S350\nG0 X0 Y0\nG43 H5 Z1.\nG84 X1. Y0 Z-.75 R.1 F19.4\nG80\nM30\n",
                // A floating holder, 3 % slow.
                &mill("(M8 TAP)", "S300 M3", "G84 X10. Y5. Z-20. R3. F364."),
                // A metric tap in an inch program.
                "G20 G90 G94\nT5 M6 (M8X1.25 TAP)\nS300 M3\nM29 S300\nG0 X0 Y0\nG43 H5 Z1.\nG84 X1. Y0 Z-.75 R.1 F14.764\nG80\nM30\n",
                // No name: a usual pitch.
                &mill("", "S300 M3", "G84 X10. Y5. Z-20. R3. F375."),
                // The speed on the way out is another.
                "G90 G17\nT5 M6 (M8 TAP)\nS500 M3\nG0 X7 Y8 Z50\nCYCLE84(50,0,2,-18,,0,3,,1.25,0,400,600)\nG0 Z100\nM30\n",
            ],
        );
    }

    #[test]
    fn without_a_name_only_what_no_tap_has() {
        let found = findings(
            RULE,
            &mill("", "S300 M3\nM29 S300", "G84 X1. Y5. Z-20. R3. F1.25"),
        );
        assert_eq!(found[0].severity, Severity::Error, "{found:?}");
        let odd = findings(
            RULE,
            &mill("", "S300 M3\nM29 S300", "G84 X1. Y5. Z-20. R3. F411."),
        );
        assert_eq!(odd[0].severity, Severity::Warning, "{odd:?}");
    }

    #[test]
    fn a_call_is_judged_and_not_mended() {
        let found = findings(
            RULE,
            "G21 G90 G17\nT5 M6 (M8 TAP)\nS500 M3\nG0 X7 Y8 Z50\nCYCLE84(50,0,2,-18,,0,3,,1.5,0,400,600)\nG0 Z100\nM30\n",
        );
        assert_eq!(found.len(), 1);
        assert!(found[0].fixes.is_empty());
    }

    #[test]
    fn not_judged_without_units_speed_or_name() {
        let judged = |text: &str| {
            let judgement = judged(text, &Facts::default());
            assert!(judgement.findings.iter().all(|f| f.rule != RULE), "{text}");
            judgement
                .not_judged
                .iter()
                .flatten()
                .any(|(rule, _)| *rule == RULE)
        };
        let text = mill("(M8 TAP)", "S300 M3", "G84 X10. Y5. Z-20. R3. F300.");
        assert!(judged(&text.replace("G21 ", "")));
        assert!(judged(&text.replace("S300 M3", "M3")));
        assert!(judged(&text.replace("F300.", "F#1")));
        assert!(judged(&text.replace("(M8 TAP)", "")));
    }
}
