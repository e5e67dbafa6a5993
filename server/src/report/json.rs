//! The audit as JSON, version 1: keys are only ever added. Lengths in mm, areas in mm², times of one
//! part in seconds, hours where the key says so; what is not known is `null`.

use rules::audit::cluster::Cluster;
use rules::audit::group::{Missing, Reason, Wrong};
use rules::audit::program::{Found, Planned, ThreadAudit};
use rules::audit::sum::Row;
use rules::rewrite::plan::State;
use rules::table::Seconds;
use serde_json::{Value, json};

use super::Report;
use super::words::{ASSUMPTIONS, CAUTIONS, confidence, sources, verdict};
use crate::show::json::{VERSION, print, round};

/// The document; ends with a line end.
pub(crate) fn document(report: &Report) -> String {
    let audit = &report.audit;
    let (summed, totals) = (&audit.summed, &audit.totals);
    let [errors, warnings, advice] = totals.findings;
    let file = |(path, hash): &(String, String)| json!({"path": path, "sha256": hash});
    print(&json!({
        "version": VERSION,
        "date": report.date,
        "verdict": verdict(audit),
        "confidence": confidence(audit),
        "totals": {
            "programs": totals.programs,
            "programs_with_threads": totals.with_threads,
            "programs_with_hours": totals.with_hours,
            "programs_with_quantity": totals.with_quantity,
            "threads": totals.threads,
            "timed": totals.timed,
            "planned": totals.planned,
            "faster": totals.faster,
            "lighter": totals.lighter,
            "calibrated": totals.calibrated,
            "seconds": round(totals.seconds, 3),
            "seconds_after": round(totals.seconds_after, 3),
            "hours_batch": round(totals.hours_batch, 4),
            "saved_hours_batch": round(totals.saved_batch, 4),
            "hours_year": round(totals.hours_year, 4),
            "saved_hours_year": round(totals.saved_year, 4),
            "saved_on_bottleneck_h": round(totals.bottleneck_hours, 4),
            "saved_capacity_h": round(totals.capacity_hours, 4),
            "saved_unsaid_h": round(totals.unsaid_hours, 4),
            "saved_unpriced_h": round(totals.unpriced_hours, 4),
            "money_year": totals.money.iter().map(|(currency, money)| json!({
                "currency": currency,
                "money": round(*money, 2),
            })).collect::<Vec<_>>(),
            "error": errors,
            "warning": warnings,
            "advice": advice,
            "unread": report.unread.len(),
        },
        "threads": summed.rows.iter().map(|row| thread(report, row)).collect::<Vec<_>>(),
        "clusters": audit.clusters.iter().map(|one| cluster(report, one)).collect::<Vec<_>>(),
        "wrong": audit.wrong.iter().map(wrong).collect::<Vec<_>>(),
        "missing": audit.missing.iter().map(missing).collect::<Vec<_>>(),
        "not_planned": audit.not_planned.iter().map(reason).collect::<Vec<_>>(),
        "assumed": audit.assumed.iter().map(reason).collect::<Vec<_>>(),
        "assumptions": ASSUMPTIONS,
        "cautions": CAUTIONS,
        "sources": sources(audit),
        "stray_quantities": audit.stray_quantities,
        "unused_columns": report.unused_columns,
        "unread": report.unread.iter().map(|(path, why)| json!({"path": path, "why": why})).collect::<Vec<_>>(),
        "programs": report.programs.iter().map(file).collect::<Vec<_>>(),
        "facts": report.facts.iter().map(file).collect::<Vec<_>>(),
    })) + "\n"
}

fn thread(report: &Report, row: &Row) -> Value {
    let summed = &report.audit.summed;
    let one: &ThreadAudit = summed.thread(row);
    let program = &summed.programs[row.program];
    let quantity = &summed.quantities[row.program];
    let number = |value: Option<f64>, digits: i32| value.map(|value| round(value, digits));
    let findings = program.findings.iter();
    let findings = findings.filter(|found| found.thread == Some(row.thread));
    json!({
        "path": program.path,
        "lines": [one.lines.0, one.lines.1],
        "fingerprint": one.fingerprint,
        "designation": one.designation.as_ref().map(|(name, from)| json!({
            "text": name,
            "from": from.name(),
        })),
        "side": one.side.map_or("unknown", |side| side.name()),
        "kind": one.kind.name(),
        "syntax": one.syntax.name(),
        "lead_mm": number(one.lead_mm, 9),
        "starts": one.starts,
        "tool": one.tool,
        "rpm": one.rpm,
        "passes": one.passes,
        "peak_mm2": number(one.peak_mm2, 6),
        "seconds": one.seconds.as_ref().ok().map(seconds),
        "seconds_missing": one.seconds.as_ref().err(),
        "time_basis": one.time_basis,
        "saved_s": number(one.saved(), 3),
        "plan": planned(&one.planned),
        "quantity": {
            "parts_per_batch": quantity.parts_per_batch,
            "batches_per_year": quantity.batches_per_year,
            "parts_per_year": quantity.parts_per_year,
            "rate_per_hour": quantity.rate_per_hour,
            "bottleneck": quantity.bottleneck,
            "from": quantity.from,
        },
        "hours_batch": number(row.hours_batch, 4),
        "saved_hours_batch": number(row.saved_batch, 4),
        "hours_year": number(row.hours_year, 4),
        "saved_hours_year": number(row.saved_year, 4),
        "money_year": number(row.money_year, 2),
        "findings": findings.map(found).collect::<Vec<_>>(),
        "not_judged": one.not_judged.iter().map(|(rule, why)| json!({
            "rule": rule,
            "why": why,
        })).collect::<Vec<_>>(),
    })
}

fn seconds(seconds: &Seconds) -> Value {
    json!({
        "cut": round(seconds.cut, 3),
        "air": round(seconds.air, 3),
        "back": round(seconds.back, 3),
        "total": round(seconds.total(), 3),
    })
}

fn planned(planned: &Planned) -> Value {
    match planned {
        Planned::Better(split) => json!({
            "result": "better",
            "before": state(&split.before),
            "after": state(&split.after),
            "seconds": split.seconds.as_ref().map(seconds),
            "limits": split.limits,
            "notes": split.notes,
            "new_findings": split.new_findings,
        }),
        Planned::Same(notes) => json!({"result": "same", "notes": notes}),
        Planned::Not(why) => json!({"result": "not planned", "why": why}),
    }
}

fn state(state: &State) -> Value {
    json!({
        "passes": state.passes,
        "springs": state.springs,
        "first_mm": round(state.first_mm, 6),
        "last_mm": round(state.last_mm, 6),
        "peak_mm2": round(state.peak_mm2, 6),
        "seconds": state.seconds.map(|seconds| round(seconds, 3)),
    })
}

fn found(found: &Found) -> Value {
    json!({
        "rule": found.rule,
        "severity": found.severity.name(),
        "line": found.line,
        "message": found.message,
        "source": found.source,
        "fix": found.fix.map(|kind| kind.name()),
    })
}

fn cluster(report: &Report, one: &Cluster) -> Value {
    let summed = &report.audit.summed;
    let places = one.rows.iter().map(|at| summed.place(&summed.rows[*at]));
    json!({
        "name": one.name,
        "side": one.side,
        "kind": one.kind.name(),
        "lead_mm": round(one.lead_mm, 6),
        "programs": one.programs,
        "passes": [one.passes.0, one.passes.1],
        "ways": one.ways,
        "seconds": round(one.seconds, 3),
        "saved_s": round(one.saved_seconds, 3),
        "hours_year": one.hours.map(|hours| round(hours, 4)),
        "saved_hours_year": one.saved_hours.map(|hours| round(hours, 4)),
        "places": places.collect::<Vec<_>>(),
    })
}

fn wrong(one: &Wrong) -> Value {
    let [errors, warnings, advice] = one.counts;
    json!({
        "rule": one.rule,
        "worst": one.worst.name(),
        "error": errors,
        "warning": warnings,
        "advice": advice,
        "programs": one.programs,
        "hours_year": round(one.hours, 4),
        "with_fix": one.fixes,
        "first": {"place": one.first.0, "message": one.first.1},
    })
}

fn missing(one: &Missing) -> Value {
    json!({
        "what": one.what,
        "settled_by": one.settle,
        "threads": one.threads,
        "programs": one.programs,
        "hours_year": round(one.hours, 4),
        "rules": one.rules,
        "first": one.first,
    })
}

fn reason(one: &Reason) -> Value {
    json!({"text": one.text, "threads": one.threads, "first": one.first})
}
