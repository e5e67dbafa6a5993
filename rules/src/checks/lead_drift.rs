//! The leads of a section against the thread's, and rounding that adds up from turn to turn.

use lexer::section::{Role, RoleWord};
use lexer::units::Lead;

use super::lead_fix::{edits, fix};
use super::text::{lead as lead_text, mm, number, quoted};
use super::words::{at_line, spell_lead, text_of};
use super::{Context, Out, Rule};
use crate::identify::word_tolerance;
use crate::standards::thread::Thread;

/// Per cent of the pitch diameter tolerance that rounding of the lead may use up, where the shop
/// says nothing.
const DRIFT_PERCENT: f64 = 10.0;

/// The leads of a section against the thread's.
pub(super) enum Leads<'a> {
    /// As the thread has it.
    Right,
    /// The first that is right to the decimals of its word, and no farther.
    Rounded(Lead, Option<&'a RoleWord>),
    /// The first that is off by more, with the line of its pass.
    Wrong(Lead, Option<&'a RoleWord>, u32),
}

/// Compares the lead of every pass with the thread's.
pub(super) fn leads<'a>(cx: &Context<'a>, thread: &Thread) -> Leads<'a> {
    let section = cx.section;
    let mut leads: Vec<(Lead, u32)> = section
        .passes
        .iter()
        .filter_map(|pass| Some((pass.lead?, pass.line)))
        .collect();
    if leads.is_empty() {
        leads.extend(section.cut.lead.get().map(|lead| (lead, section.last_line)));
    }
    let wanted = thread.lead();
    let mut rounded = None;
    for (lead, line) in leads {
        let lead = lead.abs();
        let word = at_line(section, Role::Lead, line);
        let off = (lead.mm() - wanted.mm()).abs();
        if off > word.map_or(1e-6, word_tolerance) * (1.0 + 1e-9) {
            return Leads::Wrong(lead, word, line);
        }
        if off > 1e-8 {
            rounded.get_or_insert((lead, word));
        }
    }
    rounded.map_or(Leads::Right, |(lead, word)| Leads::Rounded(lead, word))
}

/// A lead that is right to the decimals written, but whose rounding adds up.
pub(super) fn drift(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    lead: Lead,
    word: &RoleWord,
    out: &mut Out,
) {
    let units = cx.section.units;
    let wanted = thread.lead();
    let Some(side) = cx.side() else {
        return out.not_judged(rule, "bolt or nut is not known, so the drift is not judged");
    };
    let (Some(cut), Some(flanks)) = (threaded_mm(cx), thread.form().flanks) else {
        return out.not_judged(rule, "the length of the thread is not known");
    };
    let limits = thread.limits(side);
    let (Some(least), Some(most)) = (limits.pitch.min, limits.pitch.max) else {
        return out.not_judged(
            rule,
            format!(
                "the pitch diameter tolerance of {} is not known",
                limits.class
            ),
        );
    };
    let engaged = cut.min(thread.major.mm());
    let turns = engaged / wanted.mm();
    let off = (lead.mm() - wanted.mm()).abs();
    let drift = turns * off;
    let cotangent =
        2.0 / (flanks.leading_deg.to_radians().tan() + flanks.trailing_deg.to_radians().tan());
    let equivalent = cotangent * drift;
    let tolerance = most - least;
    let (percent, from) = match cx.facts.limits.lead_drift_percent {
        Some(percent) => (
            percent,
            format!("{} lead_drift_percent", cx.facts.limits.source),
        ),
        None => (DRIFT_PERCENT, "common practice, no source".to_owned()),
    };
    let allowed = tolerance * percent / 100.0;
    if !equivalent.is_finite() || equivalent <= allowed {
        return;
    }
    let text = spell_lead(word, wanted);
    let new = format!("{}{text}", word.address());
    let old = text_of(cx.bytes, word.span);
    let mut finding = rule
        .found(
            (word.span, word.line),
            format!(
                "rounded lead: {old} is off by {} mm a turn, over {} turns like {} mm of pitch \
                 diameter",
                number(off, 6),
                number(turns, 1),
                mm(equivalent)
            ),
        )
        .because(format!(
            "{}: lead {}; {} has {}",
            quoted(cx.bytes, word.span, word.line),
            lead_text(lead, units),
            thread.designation(),
            lead_text(wanted, units)
        ))
        .because(format!(
            "{} mm screwed together (the thread length, at most one diameter) / {} mm = {} turns; \
             {} · {} mm = {} mm drift",
            mm(engaged),
            number(wanted.mm(), 5),
            number(turns, 1),
            number(turns, 1),
            number(off, 6),
            number(drift, 5)
        ))
        .because(format!(
            "{} · {} mm = {} mm of pitch diameter; the tolerance of {} is {} mm, {} % of it {}",
            number(cotangent, 3),
            number(drift, 5),
            number(equivalent, 4),
            limits.class,
            mm(tolerance),
            number(percent, 2),
            number(allowed, 4)
        ))
        .source(format!(
            "{}; the drift is geometry; {} % of the tolerance: {from}",
            limits.sources.join(", "),
            number(percent, 2)
        ))
        .help(format!("write {new}"));
    let better =
        text.trim_end_matches('0') != text_of(cx.bytes, word.value_span).trim_end_matches('0');
    if better && let Some(edits) = edits(cx, word, &text, word.line) {
        finding = finding.fix(fix(cx, &new, &old, lead, wanted, edits));
    }
    out.push(finding);
}

/// Length of the thread, mm: the note's, or the stroke inside Z0.
fn threaded_mm(cx: &Context<'_>) -> Option<f64> {
    if let Some(length) = cx.identified.length_mm {
        return Some(length);
    }
    let (start, end) = (
        cx.section.cut.start_z.get()?.mm(),
        cx.section.cut.end_z.get()?.mm(),
    );
    let from = if start > 0.0 && end < 0.0 { 0.0 } else { start };
    Some((from - end).abs())
}
