//! What a change of a program does to each of its threads, in machining terms: passes, depth,
//! root, lead, speed, start and end, seconds, load, and which findings came and went.

use std::collections::HashMap;

use lexer::law::Law;
use lexer::program::Program;
use lexer::section::{Infeed, Purpose, Section};
use lexer::units::{Diameter, Lead, Length, Radial};

use crate::finding::Finding;
use crate::fingerprint::{fingerprint, of_findings};
use crate::identify::From;
use crate::judge::Judgement;

/// One state of a program.
#[derive(Clone, Copy)]
pub struct State<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// What was read from it.
    pub program: &'a Program,
    /// What was judged.
    pub judgement: &'a Judgement,
}

/// The figures of a thread; lengths in mm, X as a diameter, none where not known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figures {
    /// Name of the thread, where it was found.
    pub designation: Option<String>,
    /// Way of writing.
    pub syntax: &'static str,
    /// First and last line.
    pub lines: (u32, u32),
    /// Tool station.
    pub tool: Option<u32>,
    /// Number of passes.
    pub passes: usize,
    /// Those of them that take no new depth.
    pub spring: usize,
    /// Radial depth below the crest.
    pub depth_mm: Option<f64>,
    /// Diameter of the crest.
    pub crest_mm: Option<f64>,
    /// Diameter of the deepest pass.
    pub root_mm: Option<f64>,
    /// Advance per turn.
    pub lead_mm: Option<f64>,
    /// Starts.
    pub starts: u32,
    /// Speed, 1/min.
    pub rpm: Option<f64>,
    /// How the tool goes deeper.
    pub infeed: String,
    /// Radial step of the first pass.
    pub first_step_mm: Option<f64>,
    /// Radial step of the last pass that takes depth.
    pub last_step_mm: Option<f64>,
    /// Largest chip area of a pass, mm².
    pub peak_area_mm2: Option<f64>,
    /// Start of the stroke along the axis.
    pub z_start_mm: Option<f64>,
    /// End of the stroke along the axis.
    pub z_end_mm: Option<f64>,
    /// Seconds of all passes with their returns.
    pub seconds: Option<f64>,
}

/// What became of a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It cuts and finds the same as before.
    Same,
    /// It has changed.
    Changed,
    /// It is new.
    Added,
    /// It is gone.
    Removed,
}

impl Fate {
    /// The name used in JSON and text.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Fate::Same => "same",
            Fate::Changed => "changed",
            Fate::Added => "added",
            Fate::Removed => "removed",
        }
    }
}

/// A thread before and after.
#[derive(Debug, Clone)]
pub struct ThreadChange {
    /// What became of it.
    pub fate: Fate,
    /// Its figures before.
    pub before: Option<Figures>,
    /// Its figures after.
    pub after: Option<Figures>,
    /// Findings that came.
    pub new: Vec<Finding>,
    /// Findings that went.
    pub cured: Vec<Finding>,
}

/// A program before and after.
#[derive(Debug, Clone, Default)]
pub struct Comparison {
    /// Its threads: those of now in order, then those that are gone.
    pub threads: Vec<ThreadChange>,
    /// Findings of the file as a whole that came.
    pub new: Vec<Finding>,
    /// Findings of the file as a whole that went.
    pub cured: Vec<Finding>,
}

/// Seconds that a change adds to a part, or why they are not known.
pub type Added = Result<f64, String>;

impl Comparison {
    /// Seconds added to one part by all threads; negative when it is faster. Threads that are the
    /// same add nothing, whether their time is known or not.
    ///
    /// # Errors
    /// Which thread has no known time.
    pub fn added_seconds(&self) -> Added {
        let mut sum = 0.0;
        for thread in self
            .threads
            .iter()
            .filter(|thread| thread.fate != Fate::Same)
        {
            for (figures, sign) in [(&thread.before, -1.0), (&thread.after, 1.0)] {
                let Some(figures) = figures else { continue };
                let when = if sign < 0.0 { "old" } else { "new" };
                match figures.seconds {
                    Some(seconds) => sum += sign * seconds,
                    None => {
                        return Err(format!(
                            "the time of the thread in lines {} to {} of the {when} program is not \
                             known",
                            figures.lines.0, figures.lines.1
                        ));
                    }
                }
            }
        }
        Ok(sum)
    }

    /// Whether nothing has changed for the machine.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.threads.iter().all(|thread| thread.fate == Fate::Same)
            && self.new.is_empty()
            && self.cured.is_empty()
    }

    /// Every finding that came.
    pub fn all_new(&self) -> impl Iterator<Item = &Finding> {
        self.threads
            .iter()
            .flat_map(|thread| &thread.new)
            .chain(&self.new)
    }

    /// Every finding that went.
    pub fn all_cured(&self) -> impl Iterator<Item = &Finding> {
        self.threads
            .iter()
            .flat_map(|thread| &thread.cured)
            .chain(&self.cured)
    }
}

/// Compares two states of a program; none for a program that was not there or is gone.
#[must_use]
pub fn compare(old: Option<State<'_>>, new: Option<State<'_>>) -> Comparison {
    let olds = old.map(figures_of).unwrap_or_default();
    let news = new.map(figures_of).unwrap_or_default();
    let pairs = matched(&olds, &news);
    let findings = |state: Option<State<'_>>, section: Option<usize>| -> Vec<Finding> {
        let all = state
            .map(|state| state.judgement.findings.as_slice())
            .unwrap_or_default();
        all.iter()
            .filter(|finding| finding.section == section)
            .cloned()
            .collect()
    };
    let mut comparison = Comparison::default();
    let mut left: Vec<bool> = vec![true; olds.len()];
    for (index, now) in news.iter().enumerate() {
        let before = pairs
            .iter()
            .find(|(_, new)| *new == index)
            .map(|(old, _)| *old);
        let found = findings(new, Some(index));
        let thread = match before {
            None => ThreadChange {
                fate: Fate::Added,
                before: None,
                after: Some(now.figures.clone()),
                new: found,
                cured: Vec::new(),
            },
            Some(at) => {
                left[at] = false;
                let (came, went) =
                    difference(findings(old, Some(at)), found, |finding| finding.rule);
                let same =
                    same_cut(&olds[at].figures, &now.figures) && came.is_empty() && went.is_empty();
                ThreadChange {
                    fate: if same { Fate::Same } else { Fate::Changed },
                    before: Some(olds[at].figures.clone()),
                    after: Some(now.figures.clone()),
                    new: came,
                    cured: went,
                }
            }
        };
        comparison.threads.push(thread);
    }
    for (at, _) in left.iter().enumerate().filter(|(_, left)| **left) {
        comparison.threads.push(ThreadChange {
            fate: Fate::Removed,
            before: Some(olds[at].figures.clone()),
            after: None,
            new: Vec::new(),
            cured: findings(old, Some(at)),
        });
    }
    let named = |state: Option<State<'_>>| -> Vec<(Finding, String)> {
        let own = findings(state, None);
        let prints = state.map(|state| of_findings(state.bytes, state.program, &own));
        let prints = prints
            .unwrap_or_default()
            .into_iter()
            .map(|print| print.hash);
        own.into_iter().zip(prints).collect()
    };
    let (came, went) = difference(named(old), named(new), |(_, print)| print.clone());
    comparison.new = came.into_iter().map(|(finding, _)| finding).collect();
    comparison.cured = went.into_iter().map(|(finding, _)| finding).collect();
    comparison
}

/// What of `after` is not in `before`, and the other way round, counting equal keys.
fn difference<T, K: Eq + std::hash::Hash>(
    before: Vec<T>,
    after: Vec<T>,
    key: impl Fn(&T) -> K,
) -> (Vec<T>, Vec<T>) {
    let count = |all: &[T]| {
        let mut counts: HashMap<K, usize> = HashMap::new();
        for one in all {
            *counts.entry(key(one)).or_default() += 1;
        }
        counts
    };
    let beyond = |all: Vec<T>, mut known: HashMap<K, usize>| -> Vec<T> {
        let new = |one: &T| match known.get_mut(&key(one)) {
            Some(left @ 1..) => {
                *left -= 1;
                false
            }
            _ => true,
        };
        all.into_iter().filter(new).collect()
    };
    let (olds, news) = (count(&before), count(&after));
    (beyond(after, olds), beyond(before, news))
}

/// Everything but the place in the text.
fn same_cut(one: &Figures, other: &Figures) -> bool {
    let placeless = |figures: &Figures| Figures {
        lines: (0, 0),
        ..figures.clone()
    };
    placeless(one) == placeless(other)
}

/// A thread to be matched.
struct Known {
    print: String,
    /// Whether its name was written rather than found from the numbers.
    stated: bool,
    side: Option<lexer::section::Side>,
    figures: Figures,
}

fn figures_of(state: State<'_>) -> Vec<Known> {
    let sections = state.program.sections.iter().enumerate();
    sections
        .map(|(index, section)| {
            let identified = state.judgement.threads.get(index);
            let named = identified.and_then(|one| one.thread.as_ref());
            Known {
                print: fingerprint(state.bytes, section),
                stated: named.is_some_and(|(_, from)| *from != From::Numbers),
                side: section.side(),
                figures: figures(section, state.judgement, index),
            }
        })
        .collect()
}

fn figures(section: &Section, judgement: &Judgement, index: usize) -> Figures {
    let identified = judgement.threads.get(index);
    let table = judgement.tables.get(index);
    let thread = identified
        .and_then(|one| one.thread.as_ref())
        .map(|(thread, _)| thread);
    let rows = table.map(|table| table.rows.as_slice()).unwrap_or_default();
    let cutting = rows
        .iter()
        .filter(|row| row.step.is_some_and(|step| step.mm() > 0.0));
    let steps: Vec<f64> = cutting.filter_map(|row| row.step).map(Radial::mm).collect();
    let depth = section
        .side()
        .zip(table)
        .and_then(|(side, table)| table.height(side));
    let areas = rows.iter().filter_map(|row| row.area_mm2);
    let passes = &section.passes;
    let spring = passes
        .iter()
        .filter(|pass| pass.purpose == Purpose::Spring)
        .count();
    Figures {
        designation: thread.map(|thread| thread.designation()),
        syntax: section.syntax.name(),
        lines: (section.first_line, section.last_line),
        tool: section
            .tool
            .map(|tool| lexer::machine::Machine::station(tool.value)),
        passes: passes.len(),
        spring,
        depth_mm: depth.map(Radial::mm),
        crest_mm: table.and_then(|table| table.crest).map(Diameter::mm),
        root_mm: table.and_then(|table| table.root).map(Diameter::mm),
        lead_mm: section.cut.lead.get().map(Lead::mm),
        starts: thread
            .map_or(section.cut.starts, |thread| thread.starts)
            .max(1),
        rpm: section.spindle.rpm(),
        infeed: infeed(section),
        first_step_mm: steps.first().copied(),
        last_step_mm: steps.last().copied(),
        peak_area_mm2: areas.fold(None, |most: Option<f64>, area| {
            Some(most.map_or(area, |most| most.max(area)))
        }),
        z_start_mm: section.cut.start_z.get().map(Length::mm),
        z_end_mm: section.cut.end_z.get().map(Length::mm),
        seconds: table
            .and_then(|table| table.seconds)
            .map(|seconds| seconds.total()),
    }
}

fn infeed(section: &Section) -> String {
    match (&section.cut.infeed, &section.cut.law) {
        // Where each pass is written, its starts tell the infeed: the words do not.
        (_, Law::List) => "as written".to_owned(),
        (Infeed::Radial, _) => "radial".to_owned(),
        (Infeed::Flank(angle), _) => format!("flank {angle}°"),
        (Infeed::Alternating(angle), _) => format!("alternating {angle}°"),
        (Infeed::Unknown(_), _) => "not known".to_owned(),
    }
}

/// Most pairs that are weighed; beyond that threads are matched by their words and order only.
const MOST_PAIRS: usize = 4_000_000;
/// Least likeness of two threads that are taken for one: the tool and the side, or the name.
const ALIKE: u32 = 4;

/// Index pairs old, new: first those whose words are the same, then the most alike, then the only
/// ones left.
fn matched(olds: &[Known], news: &[Known]) -> Vec<(usize, usize)> {
    let mut by_print: HashMap<&str, Vec<usize>> = HashMap::new();
    for (index, new) in news.iter().enumerate().rev() {
        by_print.entry(&new.print).or_default().push(index);
    }
    let mut pairs = Vec::new();
    let mut old_left = Vec::new();
    for (at, old) in olds.iter().enumerate() {
        match by_print.get_mut(old.print.as_str()).and_then(Vec::pop) {
            Some(index) => pairs.push((at, index)),
            None => old_left.push(at),
        }
    }
    let mut taken = vec![false; news.len()];
    for (_, index) in &pairs {
        taken[*index] = true;
    }
    let mut new_left: Vec<usize> = (0..news.len()).filter(|index| !taken[*index]).collect();
    if old_left.len().saturating_mul(new_left.len()) <= MOST_PAIRS {
        let mut weighed: Vec<(u32, usize, usize, usize)> = Vec::new();
        for (order_old, &old) in old_left.iter().enumerate() {
            for (order_new, &new) in new_left.iter().enumerate() {
                let likeness = likeness(&olds[old], &news[new]);
                if likeness >= ALIKE {
                    weighed.push((likeness, order_old.abs_diff(order_new), old, new));
                }
            }
        }
        weighed.sort_by_key(|&(likeness, apart, old, new)| {
            (std::cmp::Reverse(likeness), apart, old, new)
        });
        for (_, _, old, new) in weighed {
            if old_left.contains(&old) && new_left.contains(&new) {
                pairs.push((old, new));
                old_left.retain(|left| *left != old);
                new_left.retain(|left| *left != new);
            }
        }
    }
    if let ([old], [new]) = (old_left.as_slice(), new_left.as_slice())
        && olds[*old].side == news[*new].side
    {
        pairs.push((*old, *new));
    }
    pairs
}

fn likeness(old: &Known, new: &Known) -> u32 {
    let (a, b) = (&old.figures, &new.figures);
    let near = |a: Option<f64>, b: Option<f64>, within: f64| matches!((a, b), (Some(a), Some(b)) if (a - b).abs() <= within);
    let name =
        old.stated && new.stated && a.designation.is_some() && a.designation == b.designation;
    let tool = a.tool.is_some() && a.tool == b.tool;
    let side = old.side.is_some() && old.side == new.side;
    if old.side.is_some() && new.side.is_some() && !side {
        return 0;
    }
    4 * u32::from(name)
        + 3 * u32::from(tool)
        + u32::from(side)
        + u32::from(near(a.lead_mm, b.lead_mm, 1e-6))
        + u32::from(near(a.root_mm, b.root_mm, 1.0))
        + u32::from(near(a.z_end_mm, b.z_end_mm, 0.5))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Facts;
    use crate::judge::judge;

    fn of(old: &str, new: &str) -> Comparison {
        let read = |text: &str| {
            let program = lexer::read(text.as_bytes(), &Default::default());
            let judgement = judge(
                text.as_bytes(),
                &program,
                &Default::default(),
                &Facts::default(),
            );
            (program, judgement)
        };
        let ((old_program, old_judgement), (new_program, new_judgement)) = (read(old), read(new));
        compare(
            Some(State {
                bytes: old.as_bytes(),
                program: &old_program,
                judgement: &old_judgement,
            }),
            Some(State {
                bytes: new.as_bytes(),
                program: &new_program,
                judgement: &new_judgement,
            }),
        )
    }

    fn fates(comparison: &Comparison) -> Vec<Fate> {
        comparison
            .threads
            .iter()
            .map(|thread| thread.fate)
            .collect()
    }

    const SHAFT: &str = "G21 G40 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\n\
        G76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100. Z100.\n";
    const STUD: &str = "T0505\n(THREAD M20X2.5-6G)\nG97 S900 M3\nG0 X24. Z10.\nG92 X19.5 Z-42. F2.5\n\
        X19.\nX18.5\nX18.\nX17.5\nX17.\nX16.933\nX16.933\nG0 X100. Z100.\n";

    #[test]
    fn renumbered_and_moved_threads_are_the_same() {
        let old = format!("{SHAFT}{STUD}M30\n");
        let new = format!(
            "(REVISED)\n{}{STUD}M30\n",
            SHAFT.replace("G76 X", "N100 G76  X")
        );
        let comparison = of(&old, &new);
        assert_eq!(fates(&comparison), [Fate::Same, Fate::Same]);
        assert!(comparison.is_same());
        assert_eq!(comparison.added_seconds(), Ok(0.0));
        let swapped = of(
            &format!("G21 G99\n{STUD}{SHAFT}"),
            &format!("G21 G99\n{SHAFT}{STUD}"),
        );
        assert_eq!(fates(&swapped), [Fate::Same, Fate::Same]);
    }

    #[test]
    fn a_changed_thread_keeps_its_partner() {
        let comparison = of(
            &format!("{SHAFT}{STUD}"),
            &format!(
                "{}{STUD}",
                SHAFT.replace("S1000", "S500").replace("P021055", "P041055")
            ),
        );
        assert_eq!(fates(&comparison), [Fate::Changed, Fate::Same]);
        let thread = &comparison.threads[0];
        let (before, after) = (
            thread.before.as_ref().unwrap(),
            thread.after.as_ref().unwrap(),
        );
        assert_eq!((before.passes, after.passes), (12, 14));
        assert_eq!((before.rpm, after.rpm), (Some(1000.0), Some(500.0)));
        assert_eq!(before.root_mm, after.root_mm);
        // Half the speed and more passes: more than twice the seconds.
        let added = comparison.added_seconds().unwrap();
        let was = before.seconds.unwrap();
        assert!(added > 0.9 * was && added < 2.0 * was, "{added} {was}");
        assert!((added - (after.seconds.unwrap() - was)).abs() < 1e-9);
    }

    #[test]
    fn threads_come_and_go() {
        let comparison = of(&format!("{SHAFT}{STUD}"), SHAFT);
        assert_eq!(fates(&comparison), [Fate::Same, Fate::Removed]);
        assert_eq!(
            comparison.threads[1].cured.len(),
            1,
            "equal-depth-passes went with it"
        );
        let comparison = of(SHAFT, &format!("{STUD}{SHAFT}"));
        assert_eq!(fates(&comparison), [Fate::Added, Fate::Same]);
        assert_eq!(
            comparison
                .all_new()
                .map(|finding| finding.rule)
                .collect::<Vec<_>>(),
            ["equal-depth-passes"]
        );
        assert!(comparison.added_seconds().unwrap() > 0.0);
    }

    #[test]
    fn findings_come_and_go_with_their_thread() {
        let better = STUD.replace("X19.5 Z", "X18.9 Z").replace(
            "\nX19.\nX18.5\nX18.\nX17.5\nX17.",
            "\nX18.35\nX17.95\nX17.6\nX17.3\nX17.02",
        );
        let comparison = of(&format!("G21 G99\n{STUD}"), &format!("G21 G99\n{better}"));
        assert_eq!(fates(&comparison), [Fate::Changed]);
        assert_eq!(
            comparison
                .all_cured()
                .map(|finding| finding.rule)
                .collect::<Vec<_>>(),
            ["equal-depth-passes"]
        );
        assert_eq!(comparison.all_new().count(), 0);
    }

    #[test]
    fn unknown_seconds_stay_unknown() {
        let comparison = of(SHAFT, &SHAFT.replace("G97 S1000", "G96 S180"));
        let why = comparison.added_seconds().unwrap_err();
        assert!(
            why.contains("lines 6 to 7 of the new program is not known"),
            "{why}"
        );
        assert_eq!(
            comparison
                .all_new()
                .map(|finding| finding.rule)
                .collect::<Vec<_>>(),
            ["surface-speed-in-thread"]
        );
    }
}
