//! What the rules about passes and speeds share: the section before that cut the same thread, and
//! how a section splits the depth.

use lexer::section::{Pass, Role, RoleWord, Section};
use lexer::source::Mark;
use lexer::units::Length;

use super::{Context, Out, Rule, slip, stages};
use crate::cut::area::groove;
use crate::standards::form::Flanks;
use crate::table::table;

/// The section right before, where it cut the same thread and this one goes over it again: same
/// program, tool, side and lead, ends at the same place, and the roots lie within the depth of a
/// thread.
pub(super) fn earlier<'a>(cx: &Context<'a>) -> Option<&'a Section> {
    let (now, before) = (
        cx.section,
        cx.program.sections.get(cx.index.checked_sub(1)?)?,
    );
    let same_part = !cx
        .program
        .parts
        .iter()
        .any(|part| before.last_line < part.first_line && part.first_line <= now.first_line);
    let tool = |section: &Section| section.tool.map(|tool| tool.value);
    let lead = now.cut.lead.get()?;
    let near = |a: Length, b: Length, limit: f64| (a.mm() - b.mm()).abs() <= limit;
    let pitch = lead.mm().abs();
    (same_part
        && tool(now) == tool(before)
        && now.side().is_some()
        && now.side() == before.side()
        && before.cut.lead.get() == Some(lead)
        && near(now.cut.end_z.get()?, before.cut.end_z.get()?, 1.5 * pitch)
        && near(
            now.cut.root_x.get()?.0,
            before.cut.root_x.get()?.0,
            1.3 * pitch,
        ))
    .then_some(before)
}

/// Whether the section chases the one before with the same S word, so that what is wrong with the
/// speed was said there.
pub(super) fn repeats(cx: &Context<'_>, speed: Mark<f64>) -> bool {
    let before = cx
        .index
        .checked_sub(1)
        .and_then(|index| cx.program.sections.get(index));
    cx.section.chase
        && before.is_some_and(|before| {
            let mut passes = before.passes.iter();
            passes.any(|pass| pass.spindle.speed == Some(speed))
        })
}

/// A pass that takes depth.
#[derive(Debug, Clone, Copy)]
pub(super) struct CutPass<'a> {
    /// The pass.
    pub pass: &'a Pass,
    /// Its number in the section, from 1.
    pub number: usize,
    /// Depth in mm that it takes; none for the first pass where the crest is not known.
    pub step: Option<f64>,
    /// Chip area in mm², where the depth is known and the flanks are straight and steep enough
    /// for the tip not to matter.
    pub area: Option<f64>,
}

impl CutPass<'_> {
    /// The end diameter, where it is written in the pass's own block.
    pub(super) fn word<'a>(&self, cx: &Context<'a>) -> Option<&'a RoleWord> {
        let mut words = cx.section.words.iter();
        words.find(|word| word.role == Role::EndX && word.line == self.pass.line)
    }
}

/// How a section splits the depth.
#[derive(Debug)]
pub(super) struct Split<'a> {
    /// Pitch in mm.
    pub pitch: f64,
    /// Depth of the thread below the crest in mm, where the crest is known.
    pub height: Option<f64>,
    /// Where the crest comes from, in words.
    pub crest: String,
    /// The passes that take depth, start by start.
    pub starts: Vec<Vec<CutPass<'a>>>,
}

/// Steps in mm below this are no cut: the rounding of inch diameters.
const NO_CUT: f64 = 2e-4;

impl<'a> Split<'a> {
    /// The split of a section; none where its passes say nothing about a split of a thread: a
    /// second cut over the same thread, an oil groove, a height that is off by a factor, a single
    /// plunge. A missing fact is told to `out`.
    pub(super) fn of(rule: &Rule, cx: &Context<'a>, out: &mut Out) -> Option<Split<'a>> {
        let section = cx.section;
        if section.chase
            || cx.is_groove()
            || earlier(cx).is_some()
            || stages::earlier(cx).is_some()
            || stages::is_approach(cx)
            || slip::height(cx).is_some()
        {
            return None;
        }
        let Some(pitch) = cx.pitch_mm().filter(|pitch| *pitch > 0.0) else {
            out.not_judged(rule, "the lead is missing");
            return None;
        };
        if section.passes.is_empty() || section.passes.iter().any(|pass| pass.x.is_none()) {
            out.not_judged(rule, "the diameter of every pass is missing");
            return None;
        }
        let (depths, crest) = depths(cx);
        let flanks = flanks(cx);
        let mut starts: Vec<Vec<CutPass<'a>>> = Vec::new();
        let mut deepest: Vec<f64> = Vec::new();
        for (row, pass) in cx.table.rows.iter().zip(&section.passes) {
            if row.start >= starts.len() {
                starts.resize_with(row.start + 1, Vec::new);
                deepest.resize(row.start + 1, 0.0);
            }
            let before = deepest[row.start];
            let depth = depths.as_ref().map(|depths| depths[row.pass]);
            let step = match depth {
                Some(depth) => Some((depth - before).max(0.0)),
                None if starts[row.start].is_empty() => None,
                None => pass.step.map(|step| step.mm().max(0.0)),
            };
            if step.is_some_and(|step| step < NO_CUT) {
                continue;
            }
            let area = depth.zip(flanks).map(|(depth, flanks)| {
                groove(flanks, cx.table.nose_mm, depth) - groove(flanks, cx.table.nose_mm, before)
            });
            deepest[row.start] = depth.unwrap_or(0.0).max(before);
            starts[row.start].push(CutPass {
                pass,
                number: row.pass + 1,
                step,
                area,
            });
        }
        starts.retain(|start| !start.is_empty());
        Some(Split {
            pitch,
            height: depths.map(|depths| depths.into_iter().fold(0.0, f64::max)),
            crest,
            starts,
        })
    }

    /// Whether a changed section still has what `fault` finds in its split.
    pub(super) fn still(
        rule: &Rule,
        cx: &Context<'_>,
        after: &Section,
        fault: impl Fn(&Split<'_>) -> bool,
    ) -> bool {
        let mended = Context {
            section: after,
            table: &table(after, cx.identified, cx.facts),
            ..*cx
        };
        Split::of(rule, &mended, &mut Out::default()).is_none_or(|split| fault(&split))
    }

    /// Why depths below the crest are not known.
    pub(super) const NO_CREST: &'static str =
        "the crest diameter is missing: neither a designation nor a height from the crest is known";
}

/// The depth of every pass below the crest, and where the crest comes from. A height that was
/// taken from the start diameter does not tell the crest, nor does the nominal diameter that of
/// the far end of a taper.
fn depths(cx: &Context<'_>) -> (Option<Vec<f64>>, String) {
    let section = cx.section;
    let parallel = section.cut.taper.get().is_some_and(Length::is_zero);
    if cx.thread().is_some() && parallel {
        let rows = cx.table.rows.iter();
        let all = rows.map(|row| row.depth.map(|depth| depth.mm())).collect();
        return (all, cx.table.crest_from.clone());
    }
    let all = if slip::from_start(section) {
        None
    } else {
        let passes = section.passes.iter();
        passes
            .map(|pass| pass.depth.map(|depth| depth.mm()))
            .collect()
    };
    (all, "end diameter and height of the cycle".into())
}

/// The flanks of the thread where its chips are near enough those of a V; 60° where no thread is
/// known.
fn flanks(cx: &Context<'_>) -> Option<Flanks> {
    match cx.thread() {
        None => Some(Flanks::symmetric(30.0)),
        Some(thread) => {
            let v = |flanks: &Flanks| (50.0..=61.0).contains(&flanks.included_deg());
            thread.form().flanks.filter(v)
        }
    }
}

/// Whether the books' table of first steps holds for the thread: 55° and 60° forms.
pub(super) fn is_v(cx: &Context<'_>) -> bool {
    flanks(cx).is_some()
}

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use lexer::section::Side;

    use crate::checks::testing::{judged, mended};
    use crate::cut::passes::{even_steps, first_step, plain_split};
    use crate::facts::Facts;
    use crate::finding::Finding;
    use crate::standards::FAMILIES;
    use crate::standards::thread::Thread;

    const ABOUT_PASSES: [&str; 10] = [
        "axis-feed-limit",
        "equal-depth-passes",
        "first-pass-heavy",
        "last-pass-heaviest",
        "pass-under-minimum",
        "rpm-changes-between-passes",
        "run-in-short",
        "speed-above-clamp",
        "spindle-not-running",
        "too-many-passes",
    ];

    /// An even split of every third listed parallel thread of 55° and 60°, as boxes, as a two-block
    /// cycle and as a drive-line cycle, gives the rules about passes and speeds nothing to say.
    #[test]
    fn even_splits_of_many_sizes_are_silent() {
        let mut count = 0;
        for family in FAMILIES {
            for size in family.sizes().iter().step_by(3) {
                let thread = Thread::of_size(family, size);
                for side in [Side::External, Side::Internal] {
                    for text in programs(&thread, side).into_iter().flatten() {
                        let mut found = about_passes(&text);
                        // What a cycle happens to leave for its last cut is evened out by the fix.
                        if let [rest] = found.as_slice()
                            && rest.rule == "pass-under-minimum"
                        {
                            assert!(!rest.fixes.is_empty(), "{text}{rest:?}");
                            found = about_passes(&mended(&text, rest));
                        }
                        assert!(found.is_empty(), "{text}{found:?}");
                        count += 1;
                    }
                }
            }
        }
        assert!(count > 1000, "{count}");
    }

    fn about_passes(text: &str) -> Vec<Finding> {
        let mut found = judged(text, &Facts::default()).findings;
        found.retain(|finding| ABOUT_PASSES.contains(&finding.rule));
        found
    }

    fn programs(thread: &Thread, side: Side) -> Option<[String; 3]> {
        let form = thread.form();
        let v = form.flanks?.included_deg();
        if !(50.0..=61.0).contains(&v) || thread.gauge_planes(side).is_some() {
            return None;
        }
        let pitch = thread.pitch.mm();
        let height = form.design_depth(side, pitch);
        let (crest, inward) = match side {
            Side::External => (thread.major.mm(), -2.0),
            Side::Internal => (thread.basic().minor, 2.0),
        };
        let start = (crest - inward).max(crest / 2.0);
        let (lead, z) = (thread.lead().mm(), 5.0 * thread.lead().mm());
        let head = format!(
            "G21 G18 G90\n(THREAD {})\nT0303\nG97 S300 M3\n",
            thread.designation()
        );
        let at = format!("G0 X{start:.3} Z{z:.3}\n");
        let mut boxes = format!("{head}{at}G92 Z-{z:.3} F{lead:.5} ");
        let mut depth = 0.0;
        for step in even_steps(height, plain_split(pitch, height).len() - 1) {
            depth += step;
            let _ = writeln!(boxes, "X{:.3}", crest + inward * depth);
        }
        let first = first_step(pitch).min(0.35 * height);
        let cycle = format!(
            "{head}{at}G76 P020060 Q{:.0} R{:.3}\nG76 X{:.3} Z-{z:.3} P{:.0} Q{:.0} F{lead:.5}\n",
            50.0 * pitch.min(1.0),
            0.04 * pitch.min(1.0),
            crest + inward * height,
            1000.0 * height,
            1000.0 * first
        );
        // A degression of 2 with a whole number of passes.
        let passes = (height / first).powi(2).ceil();
        let line = format!(
            "{head}G7 G0 X{start:.3} Z{z:.3}\nG76 P{lead:.5} Z-{z:.3} I{:.3} J{:.4} R2 K{:.4} H1\n",
            crest - start,
            2.0 * height / passes.sqrt(),
            2.0 * height
        );
        Some([boxes + "G0 Z100.\n", cycle, line])
    }
}
