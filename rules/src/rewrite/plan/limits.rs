//! The limits of a plan: what the caller asks for, what tool, material and shop state, and what the
//! program itself does.

use lexer::law::Law;
use lexer::section::Section;
use lexer::units::{Length, Radial};

use super::State;
use super::words::rpm_for;
use crate::cut::load::ESTIMATE;
use crate::cut::passes::{BOOK, first_step, least_step};
use crate::facts::{CutLimits, ToolFact};
use crate::rewrite::Job;
use crate::table::Table;

/// What is asked of a plan; lengths radial, in mm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Wish {
    /// Largest depth of the first pass.
    pub first_mm: Option<f64>,
    /// Largest chip area of a pass, mm².
    pub peak_mm2: Option<f64>,
    /// Largest cutting force of a pass by the model, N.
    pub force_n: Option<f64>,
    /// Whether passes of equal force are wanted instead of equal chips.
    pub even_force: bool,
    /// Smallest step of a roughing pass.
    pub least_mm: Option<f64>,
    /// Last cut.
    pub finish_mm: Option<f64>,
    /// Passes without new depth.
    pub springs: Option<u32>,
    /// Passes of one start, spring passes included, instead of the fewest.
    pub passes: Option<usize>,
    /// A table of steps, instead of a split worked out here.
    pub steps: Option<Vec<f64>>,
    /// Another speed, 1/min.
    pub rpm: Option<f64>,
    /// Whether the front of time against load is wanted.
    pub front: bool,
}

/// What a limit bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitKind {
    /// Depth of the first pass, mm.
    First,
    /// Chip area of a pass, mm².
    Peak,
    /// Cutting force of a pass by the model, N.
    Force,
    /// Step of a roughing pass, mm.
    Least,
    /// The last cut, mm.
    Finish,
    /// Passes without new depth.
    Springs,
    /// Spindle speed, 1/min.
    Speed,
    /// Axis feed, mm/min.
    Feed,
}

impl LimitKind {
    /// The key used in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            LimitKind::First => "first_pass_max_mm",
            LimitKind::Peak => "max_area_mm2",
            LimitKind::Force => "max_force_n",
            LimitKind::Least => "min_pass_mm",
            LimitKind::Finish => "finish_mm",
            LimitKind::Springs => "spring_passes",
            LimitKind::Speed => "max_rpm",
            LimitKind::Feed => "max_thread_feed_mm_min",
        }
    }
}

/// A limit with its source.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What it bounds.
    pub kind: LimitKind,
    /// The bound.
    pub value: f64,
    /// Who says so.
    pub from: String,
}

impl Limit {
    /// `first pass at most 0.45 mm: flankwise.toml: limits first_pass_max_mm`.
    #[must_use]
    pub fn text(&self) -> String {
        let number = |decimals| crate::checks::text::number(self.value, decimals);
        let what = match self.kind {
            LimitKind::First => format!("first pass at most {} mm", number(3)),
            LimitKind::Peak => format!("chip area of a pass at most {} mm²", number(4)),
            LimitKind::Force => format!("force of a pass at most {} N ({ESTIMATE})", number(0)),
            LimitKind::Least => format!("no roughing step below {} mm", number(4)),
            LimitKind::Finish if self.value == 0.0 => "no finishing cut of its own".to_owned(),
            LimitKind::Finish => format!("finishing cut {} mm", number(4)),
            LimitKind::Springs => format!("passes without new depth: {}", number(0)),
            LimitKind::Speed => format!("speed at most {} 1/min", number(0)),
            LimitKind::Feed => format!("axis feed at most {} mm/min", number(0)),
        };
        format!("{what}: {}", self.from)
    }
}

/// The limits that hold for a section.
pub(super) struct Limits {
    pub(super) first: f64,
    pub(super) peak: f64,
    /// Largest force in N; none where forces do not matter.
    pub(super) force: Option<f64>,
    pub(super) least: f64,
    pub(super) finish: f64,
    pub(super) springs: u32,
    pub(super) said: Vec<Limit>,
    pub(super) notes: Vec<String>,
}

const ASKED: &str = "as asked for";
/// Largest last step that counts as a finishing cut, mm (common practice, no source).
const FINISHING: f64 = 0.1;

impl Limits {
    pub(super) fn of(
        job: &Job<'_>,
        section: &Section,
        table: &Table,
        wish: &Wish,
        own: &State,
    ) -> Result<Limits, String> {
        let mut limits = Limits {
            first: f64::INFINITY,
            peak: f64::INFINITY,
            force: None,
            least: 0.0,
            finish: 0.0,
            springs: 0,
            said: Vec::new(),
            notes: Vec::new(),
        };
        let pitch = job
            .identified()?
            .thread
            .as_ref()
            .map(|(thread, _)| thread.pitch.mm());
        let pitch = pitch.ok_or("the pitch is not known")?;
        let tool = job.identified()?.tool.as_ref();
        limits.first(job, tool, wish, own, pitch);
        limits.force(job, wish, own)?;
        limits.peak(job, tool, wish, own);
        limits.finish(section, table, wish);
        limits.least(job, table, wish, pitch);
        limits.springs(job, wish, own);
        limits.speed(job, section, wish)?;
        Ok(limits)
    }

    fn say(&mut self, kind: LimitKind, value: f64, from: impl Into<String>) -> f64 {
        let from = from.into();
        self.said.push(Limit { kind, value, from });
        value
    }

    fn first(
        &mut self,
        job: &Job<'_>,
        tool: Option<&ToolFact>,
        wish: &Wish,
        own: &State,
        pitch: f64,
    ) {
        let key = "first_pass_max_mm";
        let of_tool = tool.and_then(|tool| Some((tool.first_pass_max_mm?, tool.cite(key))));
        let stated = wish.first_mm.map(|mm| (mm, ASKED.to_owned())).or(of_tool);
        let stated = stated.or_else(|| job.facts.cut_limit(|limits| limits.first_pass_max_mm, key));
        let book = first_step(pitch);
        let (value, from) = stated.unwrap_or_else(|| {
            if own.first_mm > book {
                (own.first_mm, "the program's own first pass".to_owned())
            } else {
                (book, format!("first step for this pitch in a {BOOK}"))
            }
        });
        self.first = self.say(LimitKind::First, value, from);
    }

    fn force(&mut self, job: &Job<'_>, wish: &Wish, own: &State) -> Result<(), String> {
        let asked = wish.force_n.map(|force| (force, ASKED.to_owned()));
        let stated = asked.or_else(|| {
            job.facts
                .cut_limit(|limits| limits.max_force_n, "max_force_n")
        });
        if stated.is_none() && !wish.even_force {
            return Ok(());
        }
        let missing = "forces need the constants of the material, which are missing: kc11_n_mm2 and mc, or \
                       a name that the table knows, in [material]";
        let own = own.peak_n.ok_or(missing)?;
        let (value, from) =
            stated.unwrap_or_else(|| (own, "the heaviest pass of the program as it stands".into()));
        self.force = Some(self.say(LimitKind::Force, value, from));
        Ok(())
    }

    fn peak(&mut self, job: &Job<'_>, tool: Option<&ToolFact>, wish: &Wish, own: &State) {
        let key = "max_area_mm2";
        let of_tool = tool.and_then(|tool| Some((tool.max_area_mm2?, tool.cite(key))));
        let stated = wish
            .peak_mm2
            .map(|area| (area, ASKED.to_owned()))
            .or(of_tool);
        let stated = stated.or_else(|| job.facts.cut_limit(|limits| limits.max_area_mm2, key));
        if stated.is_none() && self.force.is_some() {
            return;
        }
        let (value, from) = stated.unwrap_or_else(|| {
            self.notes.push(
                "no limit for the load is stated (max_area_mm2 of the tool, the material or the \
                 shop): no pass is made heavier than the heaviest that the program makes now"
                    .into(),
            );
            (
                own.peak_mm2,
                "the heaviest pass of the program as it stands".to_owned(),
            )
        });
        self.peak = self.say(LimitKind::Peak, value, from);
    }

    fn finish(&mut self, section: &Section, table: &Table, wish: &Wish) {
        let (value, from) = match wish.finish_mm {
            Some(finish) => (finish, ASKED),
            None => (own_finish(section, table), "as the program has it"),
        };
        self.finish = self.say(LimitKind::Finish, value, from);
    }

    fn least(&mut self, job: &Job<'_>, table: &Table, wish: &Wish, pitch: f64) {
        let asked = wish.least_mm.map(|mm| (mm, ASKED.to_owned()));
        let limit = |limits: &CutLimits| limits.min_pass_mm;
        let stated = asked.or_else(|| job.facts.cut_limit(limit, "min_pass_mm"));
        let usual = least_step(pitch);
        let (value, from) = stated.unwrap_or_else(|| match smallest(table) {
            Some(own) if own < usual => (own, "the program's own smallest step".to_owned()),
            _ => (usual, "common practice, no source".to_owned()),
        });
        self.least = self.say(LimitKind::Least, value, from);
    }

    fn springs(&mut self, job: &Job<'_>, wish: &Wish, own: &State) {
        let most = job
            .facts
            .cut_limit(|limits| limits.spring_passes_max, "spring_passes_max");
        let own = u32::try_from(own.springs).unwrap_or(u32::MAX);
        let (value, from) = match (wish.springs, most) {
            (Some(springs), _) => (springs, ASKED.to_owned()),
            (None, Some((most, from))) if most < own => (most, from),
            _ => (own, "as the program has them".to_owned()),
        };
        self.springs = value;
        self.say(LimitKind::Springs, f64::from(value), from);
    }

    /// Speed and axis feed hold for the speed that is asked for, or for the program's own.
    fn speed(&mut self, job: &Job<'_>, section: &Section, wish: &Wish) -> Result<(), String> {
        let Some(machine) = &job.facts.machine else {
            return Ok(());
        };
        let rpm = wish.rpm.or(section.spindle.rpm());
        let lead = section.cut.lead.get().map(|lead| lead.length().abs());
        if let Some(most) = machine.max_rpm {
            self.say(LimitKind::Speed, most, job.facts.cite("max_rpm"));
            if rpm.is_some_and(|rpm| rpm > most) {
                return Err(format!(
                    "the speed is above {most} 1/min, the most that is allowed"
                ));
            }
        }
        if let (Some(most), Some(lead)) = (machine.max_thread_feed, lead) {
            let cite = job.facts.cite("max_thread_feed_mm_min");
            self.say(LimitKind::Feed, most, cite);
            let highest = rpm_for(most, lead);
            if lead > Length::ZERO && rpm.is_some_and(|rpm| rpm > highest) {
                return Err(format!(
                    "at this speed the axis feed is above {most} mm/min; {highest:.0} 1/min is the \
                     most for this lead"
                ));
            }
        }
        Ok(())
    }
}

/// The finishing cut of a section: the allowance of a cycle, or a small last step of a list.
fn own_finish(section: &Section, table: &Table) -> f64 {
    match &section.cut.law {
        Law::SquareRoot { finish, .. } => finish.get().map_or(0.0, Radial::mm),
        Law::List => {
            let steps = steps(table);
            match steps.as_slice() {
                [.., before, last] if *last <= FINISHING && *last < 0.75 * before => *last,
                _ => 0.0,
            }
        }
        _ => 0.0,
    }
}

/// Steps of the first start that take depth, mm.
fn steps(table: &Table) -> Vec<f64> {
    let own = table.rows.iter().filter(|row| row.start == 0);
    own.filter_map(|row| Some(row.step?.mm()))
        .filter(|step| *step > 0.0)
        .collect()
}

/// The smallest step between the first pass and the last, which may be a finishing cut.
fn smallest(table: &Table) -> Option<f64> {
    let steps = steps(table);
    let between = steps.get(..steps.len().saturating_sub(1))?;
    between.iter().copied().min_by(f64::total_cmp)
}
