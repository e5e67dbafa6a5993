//! One file per rule. The doc comment of its `RULE` is its page: what it checks, why it matters,
//! the sum, and the source; its examples are the programs in `corpus/rules/<name>/`.

mod axis_feed_limit;
mod blank_diameter;
mod bore_diameter;
mod callout_missing;
mod centre_feed;
mod climb_or_conventional;
mod coating_unaccounted;
mod code_damaged;
mod constants;
pub mod copy_drift;
mod crest_diameter;
mod cycle_left_active;
mod cycle_word_missing;
mod depth_fit;
mod depth_scale;
mod depth_vs_form;
mod designation_conflict;
mod equal_depth_passes;
mod feed_mode;
mod first_pass_heavy;
mod hand_mismatch;
mod helix_coverage;
mod helix_entry;
mod helix_hand;
mod helix_pitch;
mod helix_uneven;
mod hole_facts;
mod infeed_angle_over_flank;
mod last_pass_heaviest;
mod lead_drift;
mod lead_fix;
mod lead_left_as_feed;
mod lead_range;
mod lead_rounding;
mod lead_unusual;
mod lead_vs_designation;
mod lines;
mod load_spike;
mod long_approach;
mod loop_never_ends;
mod meant;
mod multi_start_lead;
mod no_chamfer;
mod nose_too_big;
mod outside_shop_limits;
mod pass_goes_back;
mod pass_under_minimum;
mod pitch_diameter_out;
mod profile_distortion;
mod profile_pitch_mismatch;
mod pull_out_vs_relief;
mod radial_on_coarse;
mod relief_after_thread;
mod relief_shallow;
mod restate;
mod retract_wrong_side;
mod return_in_material;
mod rpm_changes_between_passes;
mod run_in_short;
mod run_out_short;
pub(crate) mod seen;
mod skipped_pass;
mod slip;
#[cfg(test)]
mod sound;
mod speed_above_clamp;
mod speed_not_settled;
mod spindle_changes_in_thread;
mod spindle_not_running;
mod split;
mod stages;
mod stale_cycle_word;
mod start_in_material;
mod start_inconsistent;
mod start_inside_crest;
mod surface_speed_in_thread;
mod surroundings;
mod tap_depth;
mod tap_drill;
mod tap_feed;
mod tap_hand;
mod tap_mode;
mod tap_speed;
mod taper_direction;
mod taper_word;
#[cfg(test)]
pub(crate) mod testing;
pub mod text;
mod thread_into_shoulder;
mod thread_length;
mod too_many_passes;
mod unit_mode_conflict;
mod unknown_code_in_section;
mod waiver_expired;
mod waiver_unreadable;
mod waiver_unused;
mod words;
mod wrong_side;

use lexer::contour::Contour;
use lexer::program::{Program, Settings};
use lexer::section::{Kind, Section, Side};
use lexer::source::Span;

use crate::facts::{Facts, Machine};
use crate::finding::{Finding, Fix, Related, Severity};
use crate::identify::{From, Identified, diameters_sure};
use crate::standards::thread::Thread;
use crate::table::Table;
use seen::Seen;

/// Every rule, in the order of the index. A test compares it with the folder.
#[rustfmt::skip]
pub static RULES: &[&Rule] = &[
    &axis_feed_limit::RULE,
    &blank_diameter::RULE,
    &bore_diameter::RULE,
    &callout_missing::RULE,
    &centre_feed::RULE,
    &climb_or_conventional::RULE,
    &coating_unaccounted::RULE,
    &code_damaged::RULE,
    &copy_drift::RULE,
    &cycle_left_active::RULE,
    &cycle_word_missing::RULE,
    &depth_scale::RULE,
    &depth_vs_form::RULE,
    &designation_conflict::RULE,
    &equal_depth_passes::RULE,
    &feed_mode::RULE,
    &first_pass_heavy::RULE,
    &hand_mismatch::RULE,
    &helix_coverage::RULE,
    &helix_entry::RULE,
    &helix_hand::RULE,
    &helix_pitch::RULE,
    &helix_uneven::RULE,
    &infeed_angle_over_flank::RULE,
    &last_pass_heaviest::RULE,
    &lead_left_as_feed::RULE,
    &lead_range::RULE,
    &lead_rounding::RULE,
    &lead_unusual::RULE,
    &lead_vs_designation::RULE,
    &load_spike::RULE,
    &long_approach::RULE,
    &loop_never_ends::RULE,
    &multi_start_lead::RULE,
    &no_chamfer::RULE,
    &nose_too_big::RULE,
    &outside_shop_limits::RULE,
    &pass_goes_back::RULE,
    &pass_under_minimum::RULE,
    &pitch_diameter_out::RULE,
    &profile_distortion::RULE,
    &profile_pitch_mismatch::RULE,
    &pull_out_vs_relief::RULE,
    &radial_on_coarse::RULE,
    &relief_after_thread::RULE,
    &relief_shallow::RULE,
    &retract_wrong_side::RULE,
    &return_in_material::RULE,
    &rpm_changes_between_passes::RULE,
    &run_in_short::RULE,
    &run_out_short::RULE,
    &skipped_pass::RULE,
    &speed_above_clamp::RULE,
    &speed_not_settled::RULE,
    &spindle_changes_in_thread::RULE,
    &spindle_not_running::RULE,
    &stale_cycle_word::RULE,
    &start_in_material::RULE,
    &start_inconsistent::RULE,
    &start_inside_crest::RULE,
    &surface_speed_in_thread::RULE,
    &tap_depth::RULE,
    &tap_drill::RULE,
    &tap_feed::RULE,
    &tap_hand::RULE,
    &tap_mode::RULE,
    &tap_speed::RULE,
    &taper_direction::RULE,
    &taper_word::RULE,
    &thread_into_shoulder::RULE,
    &thread_length::RULE,
    &too_many_passes::RULE,
    &unit_mode_conflict::RULE,
    &unknown_code_in_section::RULE,
    &waiver_expired::RULE,
    &waiver_unreadable::RULE,
    &waiver_unused::RULE,
    &wrong_side::RULE,
];

/// What a check may look at.
pub struct Context<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// The whole file.
    pub program: &'a Program,
    /// How it was read.
    pub settings: &'a Settings,
    /// The section at hand.
    pub section: &'a Section,
    /// Its index in the program.
    pub index: usize,
    /// Which thread it is.
    pub identified: &'a Identified,
    /// Its passes with depth, area and time.
    pub table: &'a Table,
    /// Facts that hold for the file.
    pub facts: &'a Facts,
    /// Takes down what the checks look at beside the section and those next to it.
    pub seen: &'a Seen,
}

/// What a check puts out.
#[derive(Debug, Default)]
pub struct Out {
    /// Findings.
    pub findings: Vec<Finding>,
    /// Rules that could not judge, with the reason (`… is missing`).
    pub not_judged: Vec<(&'static str, String)>,
}

/// A rule.
pub struct Rule {
    /// Name, kebab case.
    pub name: &'static str,
    /// One line for the index.
    pub summary: &'static str,
    /// Its page.
    pub page: &'static str,
    /// Severity of its findings where nothing lowers it.
    pub severity: Severity,
    /// Whether it can offer a fix.
    pub fixes: bool,
    /// Whether it rests on the designation, so that one inferred from numbers alone makes no error
    /// of it.
    pub needs_designation: bool,
    /// A program with the fault.
    pub bad: &'static [u8],
    /// A sound program.
    pub good: &'static [u8],
    /// The kinds of section that it judges; what it says of others would be wrong.
    pub kinds: &'static [Kind],
    /// How it looks at a program.
    pub check: Check,
}

/// How a rule looks at a program.
#[derive(Clone, Copy)]
pub enum Check {
    /// At one section at a time.
    Section(fn(&Rule, &Context<'_>, &mut Out)),
    /// At the file as a whole, with or without sections.
    Program(fn(&Rule, &Whole<'_>, &mut Out)),
    /// At the waivers, when everything else is judged: [`crate::waive`].
    Waivers,
}

/// The rules that [`crate::waive`] reports.
pub(crate) mod waivers {
    pub(crate) use super::waiver_expired::RULE as EXPIRED;
    pub(crate) use super::waiver_unreadable::RULE as UNREADABLE;
    pub(crate) use super::waiver_unused::RULE as UNUSED;
}

/// What a check of the whole file may look at.
pub struct Whole<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// The file.
    pub program: &'a Program,
    /// How it was read.
    pub settings: &'a Settings,
    /// Which thread each section cuts.
    pub threads: &'a [Identified],
    /// Facts that hold for the file.
    pub facts: &'a Facts,
}

/// Declares the `RULE` of a file from its doc comment and its examples. A rule judges turned
/// sections; `kinds: [Tapped]` names others, `program` before the function makes it one of the
/// whole file.
macro_rules! rule {
    (
        $(#[doc = $page:literal])+
        $name:literal, $severity:ident, $summary:literal, fixes: $fixes:literal, waivers
    ) => {
        rule! {
            @ $(#[doc = $page])+ $name, $severity, $summary, $fixes, false,
            [], $crate::checks::Check::Waivers
        }
    };
    (
        $(#[doc = $page:literal])+
        $name:literal, $severity:ident, $summary:literal,
        fixes: $fixes:literal, needs_designation: $designation:literal, program $check:path
    ) => {
        rule! {
            @ $(#[doc = $page])+ $name, $severity, $summary, $fixes, $designation,
            [], $crate::checks::Check::Program($check)
        }
    };
    (
        $(#[doc = $page:literal])+
        $name:literal, $severity:ident, $summary:literal,
        fixes: $fixes:literal, needs_designation: $designation:literal,
        kinds: [$($kind:ident),+], $check:path
    ) => {
        rule! {
            @ $(#[doc = $page])+ $name, $severity, $summary, $fixes, $designation,
            [$($kind),+], $crate::checks::Check::Section($check)
        }
    };
    (
        $(#[doc = $page:literal])+
        $name:literal, $severity:ident, $summary:literal,
        fixes: $fixes:literal, needs_designation: $designation:literal, $check:path
    ) => {
        rule! {
            @ $(#[doc = $page])+ $name, $severity, $summary, $fixes, $designation,
            [Turned], $crate::checks::Check::Section($check)
        }
    };
    (
        @ $(#[doc = $page:literal])+
        $name:literal, $severity:ident, $summary:literal, $fixes:literal, $designation:literal,
        [$($kind:ident),*], $check:expr
    ) => {
        $(#[doc = $page])+
        pub(crate) static RULE: $crate::checks::Rule = $crate::checks::Rule {
            name: $name,
            summary: $summary,
            page: concat!($($page, "\n"),+),
            severity: $crate::finding::Severity::$severity,
            fixes: $fixes,
            needs_designation: $designation,
            bad: include_bytes!(concat!(
                env!("CARGO_MANIFEST_DIR"), "/../corpus/rules/", $name, "/bad.nc"
            )),
            good: include_bytes!(concat!(
                env!("CARGO_MANIFEST_DIR"), "/../corpus/rules/", $name, "/good.nc"
            )),
            kinds: &[$(lexer::section::Kind::$kind),*],
            check: $check,
        };
    };
}
pub(crate) use rule;

impl Rule {
    /// A finding of this rule at a place, to be completed by its builder methods.
    #[must_use]
    pub fn found(&self, at: (Span, u32), message: impl Into<String>) -> Finding {
        Finding {
            rule: self.name,
            severity: self.severity,
            span: at.0,
            line: at.1,
            section: None,
            message: message.into(),
            because: Vec::new(),
            source: String::new(),
            help: String::new(),
            related: Vec::new(),
            fixes: Vec::new(),
        }
    }

    /// The rule of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Rule> {
        RULES.iter().copied().find(|rule| rule.name == name)
    }
}

impl Finding {
    /// Adds a line of the sum.
    #[must_use]
    pub fn because(mut self, line: impl Into<String>) -> Self {
        self.because.push(line.into());
        self
    }

    /// Says where the limit comes from.
    #[must_use]
    pub fn source(mut self, source: impl Into<String>) -> Self {
        self.source = source.into();
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    /// Lowers (or raises) the severity.
    #[must_use]
    pub fn severity(mut self, severity: Severity) -> Self {
        self.severity = severity;
        self
    }

    /// Points at another place.
    #[must_use]
    pub fn related(mut self, at: (Span, u32), text: impl Into<String>) -> Self {
        self.related.push(Related {
            span: at.0,
            line: at.1,
            text: text.into(),
        });
        self
    }

    /// Offers a fix.
    #[must_use]
    pub fn fix(mut self, fix: Fix) -> Self {
        self.fixes.push(fix);
        self
    }
}

impl<'a> Context<'a> {
    /// The thread, where it is known.
    #[must_use]
    pub fn thread(&self) -> Option<&Thread> {
        self.identified.thread.as_ref().map(|(thread, _)| thread)
    }

    /// Whether the designation was stated (note, configuration, comment) rather than inferred.
    #[must_use]
    pub fn stated(&self) -> bool {
        self.identified
            .thread
            .as_ref()
            .is_some_and(|(_, from)| *from != From::Numbers)
    }

    /// Bolt or nut.
    #[must_use]
    pub fn side(&self) -> Option<Side> {
        self.section.side()
    }

    /// A fact of the machine with the place that states it, or a default that is named as one.
    #[must_use]
    pub fn fact(
        &self,
        fact: impl Fn(&Machine) -> Option<f64>,
        key: &str,
        default: f64,
    ) -> (f64, String) {
        match self.facts.machine.as_ref().and_then(fact) {
            Some(value) => (value, self.facts.cite(key)),
            None => (default, format!("default, no {key} is configured")),
        }
    }

    /// What was turned around the section.
    #[must_use]
    pub fn contour(&self) -> Contour<'a> {
        self.seen.contour();
        self.program.contour(self.index)
    }

    /// Whether X is known to be a radius or a diameter, see [`diameters_sure`].
    #[must_use]
    pub fn diameters_sure(&self) -> bool {
        diameters_sure(self.program, self.section)
    }

    /// Pitch in mm: the designation's, or the lead over the starts seen in the program.
    #[must_use]
    pub fn pitch_mm(&self) -> Option<f64> {
        match self.thread() {
            Some(thread) => Some(thread.pitch.mm()),
            None => self
                .section
                .cut
                .lead
                .get()
                .map(|lead| lead.divided(self.section.cut.starts).mm().abs()),
        }
    }

    /// The block that causes the cut: the last block of the section.
    #[must_use]
    pub fn place(&self) -> (Span, u32) {
        let section = self.section;
        section
            .blocks
            .last()
            .map_or((section.span, section.first_line), |block| {
                (block.span, block.line)
            })
    }

    /// An oil groove or the like: one start, a lead of more than a quarter of the diameter, and a
    /// depth of less than a third of the lead. No fastener thread; form and depth rules do not
    /// apply (common practice, no source).
    #[must_use]
    pub fn is_groove(&self) -> bool {
        let cut = &self.section.cut;
        let (Some(lead), Some(root)) = (cut.lead.get(), self.table.root) else {
            return false;
        };
        if self.stated() || cut.starts > 1 || self.thread().is_some() {
            return false;
        }
        let lead = lead.mm().abs();
        let depth = cut.height.get().map_or_else(
            || {
                self.section
                    .passes
                    .iter()
                    .filter_map(|pass| pass.step)
                    .map(|step| step.mm())
                    .sum()
            },
            |height| height.mm(),
        );
        lead > 0.25 * root.abs().mm() && depth < lead / 3.0
    }
}

impl Out {
    /// A finding.
    pub fn push(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// A finding where there is one.
    pub fn extend(&mut self, finding: Option<Finding>) {
        self.findings.extend(finding);
    }

    /// The rule could not judge.
    pub fn not_judged(&mut self, rule: &Rule, why: impl Into<String>) {
        self.not_judged.push((rule.name, why.into()));
    }
}
