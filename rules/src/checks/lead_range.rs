use lexer::section::{LEAD_CHANGES, LeadChange, Pass, Role};

use super::text::{feed, length, length_of_mm, number, quoted, rpm};
use super::{Context, Out, Rule, rule};
use crate::finding::{Finding, Severity};

rule! {
    /// # What it checks
    ///
    /// A lead that grows or shrinks along the stroke: it stays above zero to the end, and the axis
    /// can follow where it is largest.
    ///
    /// # Why it matters
    ///
    /// The change is written for one turn and adds up over all of them. A lead that shrinks to
    /// nothing before the end of the stroke stops the control with an alarm, the tool in the cut. A
    /// lead that grows may ask more of the axis than it can feed, and only near the end.
    ///
    /// # The sum
    ///
    /// With the lead P at the start and the change K a turn the lead after the way L is
    /// √(P² + 2·K·L); it is nothing after P² / (2·|K|). Axis feed in mm/min = largest lead × speed.
    ///
    /// # What it needs
    ///
    /// The lead, its change and the stroke; for the feed the speed and `max_thread_feed_mm_min` of
    /// the machine. Without a configured machine only an axis feed above 5000 mm/min is shown, as
    /// an advice.
    ///
    /// # When it stays silent
    ///
    /// On leads that do not change, and on the feed with constant surface speed, which has its own
    /// rule.
    ///
    /// # Mend
    ///
    /// A smaller change, a shorter stroke or a lower speed. What the screw is for decides, so there
    /// is no fix.
    ///
    /// # Source
    ///
    /// The sum is derived: after n turns the lead is P + K·n and the way P·n + K·n²/2. A published
    /// manual page gives the change between two leads with the same sum. 5000 mm/min: common
    /// practice, no source.
    "lead-range", Error,
    "a changing lead reaches zero before the end, or more than the axis can feed",
    fixes: false, needs_designation: false, check
}

/// Axis feed in mm/min that most turning machines reach in a thread.
const USUAL: f64 = 5000.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let changes: Vec<(&Pass, LeadChange)> = section
        .passes
        .iter()
        .filter_map(|pass| Some((pass, pass.lead_change?)))
        .collect();
    if changes.is_empty() {
        if section.cut.lead.why() == Some(LEAD_CHANGES) {
            out.not_judged(rule, "the change of the lead is missing");
        }
        return;
    }
    if let Some((pass, change)) = changes.iter().find(|(_, change)| change.end.is_none()) {
        return out.extend(ends_early(rule, cx, pass, *change));
    }
    if changes.iter().any(|(pass, _)| pass.spindle.surface_speed()) {
        return;
    }
    let fastest = changes
        .iter()
        .filter_map(|(pass, change)| {
            let lead = pass.lead?.mm().abs().max(change.end?.mm().abs());
            Some((*pass, lead, lead * pass.spindle.rpm()?))
        })
        .max_by(|a, b| a.2.total_cmp(&b.2));
    match fastest {
        Some((pass, lead, needed)) => out.extend(too_fast(rule, cx, pass, lead, needed)),
        None => out.not_judged(rule, "the spindle speed is missing"),
    }
}

/// The lead is used up before the stroke is.
fn ends_early(rule: &Rule, cx: &Context<'_>, pass: &Pass, change: LeadChange) -> Option<Finding> {
    let units = cx.section.units;
    let lead = pass.lead?.mm().abs();
    let per_turn = change.per_turn.mm().abs();
    let reach = lead * lead / (2.0 * per_turn);
    let along_z = (pass.z_end? - pass.z_start?).mm().abs();
    let along_x = (pass.x?.0 - pass.x_start?.0).mm().abs() / 2.0;
    let way = along_z.max(along_x);
    let word = cx
        .section
        .words
        .iter()
        .find(|word| word.role == Role::LeadChange && word.line >= pass.line);
    let place = word.map_or((pass.span, pass.line), |word| (word.span, word.line));
    let mut finding = rule
        .found(
            place,
            format!(
                "the lead shrinks to nothing {} after the start, the stroke is {} long",
                length_of_mm(reach, units),
                length_of_mm(way, units)
            ),
        )
        .because(format!(
            "lead {}, {} less every turn: nothing is left after {} turns",
            length_of_mm(lead, units),
            length(change.per_turn.abs(), units),
            number(lead / per_turn, 1)
        ))
        .because(format!(
            "{}² / (2 × {}) = {}",
            number(lead, 3),
            number(per_turn, 4),
            length_of_mm(reach, units)
        ));
    if let Some(word) = word {
        finding = finding.because(format!(
            "{}: change a turn",
            quoted(cx.bytes, word.span, word.line)
        ));
    }
    Some(
        finding
            .source("derived: the lead after the way L is √(P² + 2·K·L)")
            .help(format!(
                "write a change of less than {} a turn, or a shorter stroke",
                length_of_mm(lead * lead / (2.0 * way), units)
            )),
    )
}

/// The axis cannot feed the largest lead.
fn too_fast(rule: &Rule, cx: &Context<'_>, pass: &Pass, lead: f64, needed: f64) -> Option<Finding> {
    let units = cx.section.units;
    let machine = cx.facts.machine.as_ref();
    let configured = machine.and_then(|machine| machine.max_thread_feed);
    let limit = configured.unwrap_or(USUAL);
    let speed = pass.spindle.speed.filter(|_| needed > limit)?;
    let word = quoted(cx.bytes, speed.span, speed.line);
    let mut finding = rule
        .found(
            (speed.span, speed.line),
            format!(
                "the axis has to feed {} where the lead is largest, more than {}",
                feed(needed, units),
                feed(limit, units)
            ),
        )
        .because(format!(
            "largest lead {} × {} ({word}) = {}",
            length_of_mm(lead, units),
            rpm(speed.value),
            feed(needed, units)
        ))
        .help(format!("turn {} or slower", rpm((limit / lead).floor())));
    finding = match configured {
        Some(_) => finding.source(cx.facts.cite("max_thread_feed_mm_min")),
        None => finding.severity(Severity::Advice).source(
            "5000 mm/min, common practice, no source; no max_thread_feed_mm_min is configured",
        ),
    };
    Some(finding.related((pass.span, pass.line), "the lead changes here"))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged, judged_with};
    use crate::facts::{Facts, Machine};
    use crate::finding::Severity;

    const RULE: &str = "lead-range";

    fn screw(stroke: &str) -> String {
        format!(
            "G21 G99\nT0505\nG97 S120 M3\nG0 X60. Z12.\nX48.\n{stroke}\nG0 X60.\nZ12.\nX47.\n{stroke}\nG0 X60.\nZ12.\nM30\n"
        )
    }

    /// 16² / (2 · 1.4) = 91.43 mm of 102; with 1.2 it reaches 106.67 mm.
    #[test]
    fn a_lead_that_is_used_up() {
        let (bad, good) = (screw("G34 Z-90. F16. K-1.4"), screw("G34 Z-90. F16. K-1.2"));
        let call = |k: &str| {
            format!(
                "DIAMON G90 G95\nT5 D1\nG97 S120 M3 LIMS=800\nG0 X60 Z12\nX48\nG35 Z-90 K16 F{k}\nG0 X60\nZ12\nM30\n"
            )
        };
        let inch = |k: &str| {
            format!(
                "G20 G99\nT0505\nG97S120M3\nG0X2.4Z.5\nX1.9\nG34Z-3.5F.63K-{k}\nG0X2.4\nZ.5\nM30\n"
            )
        };
        let box_family = |e: &str| {
            format!(
                "T0303\nG97 S120 M3\nG0 X28 Z6\nG71 X20.32 Z-30 B60 D0.8 H3.68 F3 M32 M75\nG0 X60 Z12\nX48\nG35 Z-90 F16 E{e}\nG0 X60\nZ12\nM2\n"
            )
        };
        let face = |k: &str| {
            format!(
                "G21 G99\nT0505\nG97 S60 M3\nG0 X200. Z5.\nZ-1.\nG34 X40. F12. K-{k}\nG0 Z5.\nX200.\nM30\n"
            )
        };
        let pairs = [
            (bad, good),
            (call("1.4"), call("1.2")),
            (inch(".06"), inch(".04")),
            (box_family("1.4"), box_family("1.2")),
            (face("1."), face("0.8")),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
        let found = findings(RULE, pairs[0].0);
        assert!(found[0].message.contains("91.429"), "{}", found[0].message);
        assert_eq!(found[0].severity, Severity::Error);
    }

    /// √(3² + 2 · 0.5 · 102) = 10.536 mm: at 500 1/min 5268 mm/min.
    #[test]
    fn the_axis_follows_the_largest_lead() {
        let text = screw("G34 Z-90. F3. K.5").replace("S120", "S500");
        let found = findings(RULE, &text);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].severity, Severity::Advice);
        assert!(found[0].message.contains("5268"), "{}", found[0].message);
        let facts = Facts {
            machine: Some(Machine {
                max_thread_feed: Some(5200.0),
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"lathe-2\"".into(),
            ..Facts::default()
        };
        let found = judged_with(RULE, &text, &facts);
        assert_eq!(found[0].severity, Severity::Error);
        assert!(judged_with(RULE, &text.replace("S500", "S490"), &facts).is_empty());
    }

    #[test]
    fn silent_or_not_judged() {
        assert_silent(
            RULE,
            &[&screw("G32 Z-90. F16."), &screw("G34 Z-90. F16. K0")],
        );
        for stroke in ["G34 Z-90. F16. K#5", "G34 Z-90. F#5 K1."] {
            let text = screw(stroke);
            let all = judged(&text, &Facts::default());
            assert!(findings(RULE, &text).is_empty());
            let mut said = all.not_judged.iter().flatten();
            assert!(said.any(|(rule, _)| *rule == RULE), "{stroke}");
        }
    }
}
