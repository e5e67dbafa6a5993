//! Which thread is this: from a note, the configuration, a comment, or the numbers, with the
//! reasons.

mod note;
mod rotating;

use lexer::evidence::Family;
use lexer::program::Program;
use lexer::section::{Kind, Note, Role, RoleWord, Scale, Section, Side};
use lexer::source::{Span, decode};

use crate::facts::{CoatingLimits, Facts, ToolFact};
use crate::measure::coating::Coating;
use crate::measure::tool::Nose;
use crate::standards::find::{Confidence, find_in_text};
use crate::standards::nearest::{Candidate, Measured, nearest_with};
use crate::standards::thread::Thread;

/// Where a designation comes from, strongest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum From {
    /// A `(THREAD …)` note in the program.
    Annotation,
    /// The configuration.
    Config,
    /// A free comment.
    Comment,
    /// The numbers of the section.
    Numbers,
}

impl From {
    /// The name used in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            From::Annotation => "annotation",
            From::Config => "config",
            From::Comment => "comment",
            From::Numbers => "numbers",
        }
    }
}

/// The thread of a section.
#[derive(Debug, Clone, Default)]
pub struct Identified {
    /// The thread and where it comes from; none when nothing fits.
    pub thread: Option<(Thread, From)>,
    /// The place of the note or comment.
    pub place: Option<(Span, u32)>,
    /// The reasons, or why there is none.
    pub why: String,
    /// The next best, with its distance.
    pub runner_up: Option<String>,
    /// A comment that names another thread than the numbers do.
    pub conflict: Option<Conflict>,
    /// A `THREAD` note whose designation could not be read: what is wrong, and its place.
    pub unreadable: Option<(String, (Span, u32))>,
    /// Candidates from the numbers, nearest first, for messages.
    pub candidates: Vec<Candidate>,
    /// Tool nose radius, mm, from the note or the tool's facts; `None` for a flat nose too.
    pub nose_radius_mm: Option<f64>,
    /// The tip of the tool with the place that states it, in words and in the program.
    pub nose: Option<Stated<Nose>>,
    /// What the configuration knows of the tool.
    pub tool: Option<ToolFact>,
    /// The layer that is put on the thread.
    pub layer: Option<Stated<Layer>>,
    /// A comment that speaks of a coating without telling how thick it is.
    pub layer_unknown: Option<(Span, u32)>,
    /// Threaded length from the note or the configuration, mm.
    pub length_mm: Option<f64>,
    /// Z of the face that the planes of a tapered thread count from, mm, and what states it: the
    /// end face, or the shoulder of a shouldered connection.
    pub face_z_mm: Option<Stated<f64>>,
    /// Whether the other sections of the program were looked at.
    pub(crate) asked_others: bool,
}

/// A fact with what states it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated<T> {
    /// The fact.
    pub value: T,
    /// What states it, for messages: `note in line 3`, `flankwise.toml: tool 2 nose_radius_mm`.
    pub from: String,
    /// The note or comment, where it is one.
    pub place: Option<(Span, u32)>,
}

/// A layer on the thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// How thick it is.
    pub coating: Coating,
    /// Whether the limits hold before or after it is put on, where that is said.
    pub limits: Option<CoatingLimits>,
}

/// A comment that names another thread than the numbers do.
#[derive(Debug, Clone)]
pub struct Conflict {
    /// Designation in the comment.
    pub named: Thread,
    /// Where.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
    /// What disagrees, with the numbers.
    pub disagrees: String,
}

/// Farthest distance at which numbers alone name a thread: the diameters lie in the form's band
/// or within a tenth of a pitch of it (our own choice).
const NEAR_ENOUGH: f64 = 0.15;
/// How much nearer than the runner-up the best must be to be named.
const CLEARLY_NEARER: f64 = 0.03;

/// Identifies the thread of a section.
#[must_use]
pub fn identify(bytes: &[u8], program: &Program, section: &Section, facts: &Facts) -> Identified {
    if section.kind != Kind::Turned {
        return rotating::identify(bytes, program, section, facts);
    }
    let sure = diameters_sure(program, section);
    let mut identified = Identified {
        candidates: if sure {
            candidates(section, facts)
        } else {
            Vec::new()
        },
        ..Identified::default()
    };
    note::stated(&mut identified, bytes, section, facts);
    if identified.thread.is_none() {
        from_comments(&mut identified, bytes, program, section);
    }
    if identified.thread.is_none() {
        from_numbers(&mut identified, section);
        if !sure {
            identified.why = format!("not identified: {X_MODE}");
        }
    }
    identified
}

/// Why diameters are not judged in a program for the open RS274/NGC interpreter without G7 and G8.
pub const X_MODE: &str = "neither G7 nor G8 is written, so X may be a radius or a diameter";

/// Whether X is known to be a radius or a diameter. The open RS274/NGC interpreter starts in radius
/// mode, unless its configuration says otherwise.
#[must_use]
pub fn diameters_sure(program: &Program, section: &Section) -> bool {
    let written = || {
        program
            .reasons
            .iter()
            .any(|reason| reason.seen == "G7 or G8")
    };
    program.family != Family::Interpreter || !section.radius_mode || written()
}

fn settle(thread: Thread, side: Option<Side>) -> Thread {
    side.map_or(thread.clone(), |side| thread.on(side))
}

/// Most comments that are looked at on each side of a section.
const MOST_NOTES: usize = 100;
/// Most other sections that are asked whether a comment speaks of them.
const MOST_SECTIONS: usize = 200;

/// Designations in free comments: those near the tool first, then those before it, then those at
/// the head of the program. The numbers decide between them.
fn from_comments(identified: &mut Identified, bytes: &[u8], program: &Program, section: &Section) {
    let part = Part::of(program, section);
    // A program of so many sections is not about one thread.
    let alone = part.sections.len() <= MOST_SECTIONS
        && part.sections.iter().filter(|s| !s.chase).take(2).count() == 1;
    let own_from = section.notes.first().map_or(section.first_line, |n| n.line);
    let before = part.notes_before(own_from).iter().rev().take(MOST_NOTES);
    let near = section.notes.iter().rev().take(MOST_NOTES);
    let mut contradicting: Vec<Conflict> = Vec::new();
    for (note, near) in near.map(|n| (n, true)).chain(before.map(|n| (n, false))) {
        let text = decode(note.span.of(bytes));
        for found in find_in_text(&text) {
            let thread = settle(found.thread, section.side());
            let disagrees = disagreement(&thread, program, section);
            identified.asked_others |= disagrees.is_some();
            match disagrees {
                None if identified.thread.is_none() => {
                    identified.why = format!(
                        "comment in line {} ({}), borne out by the numbers",
                        note.line, found.because
                    );
                    identified.place = Some((note.span, note.line));
                    identified.thread = Some((thread, From::Comment));
                }
                None => {}
                Some(disagrees)
                    if found.confidence == Confidence::Strong
                        && (near || alone && part.heads(note))
                        && !speaks_of_another(&text) =>
                {
                    contradicting.push(Conflict {
                        named: thread,
                        span: note.span,
                        line: note.line,
                        disagrees,
                    });
                }
                Some(_) => {}
            }
        }
    }
    let agreed = identified.thread.as_ref().map(|(thread, _)| thread);
    identified.conflict = contradicting.into_iter().find(|conflict| {
        // Beside a comment that goes with the numbers, only another pitch of the same size
        // speaks of the same thread.
        agreed.is_none_or(|agreed| {
            agreed.family == conflict.named.family && agreed.major == conflict.named.major
        }) && !part.cuts(&conflict.named, section)
    });
}

/// Words that say that a comment speaks of another tool or of the mating part.
const ANOTHER: [&str; 8] = [
    "TAP",
    "DRILL",
    "BOHR",
    "MATES",
    "MATING",
    "FITS",
    "МЕТЧИК",
    "СВЕРЛ",
];

fn speaks_of_another(text: &str) -> bool {
    text.to_uppercase()
        .split(|c: char| !c.is_alphabetic())
        .any(|word| ANOTHER.iter().any(|stem| word.starts_with(stem)))
}

/// The O-program of a file that a section stands in.
struct Part<'p> {
    program: &'p Program,
    first_line: u32,
    notes: &'p [Note],
    sections: &'p [Section],
}

impl<'p> Part<'p> {
    fn of(program: &'p Program, section: &Section) -> Self {
        let parts = &program.parts;
        let next = parts.partition_point(|part| part.first_line <= section.first_line);
        let first_line = match next.checked_sub(1) {
            Some(at) => parts[at].first_line,
            None => 1,
        };
        let end = parts.get(next).map_or(u32::MAX, |part| part.first_line);
        let notes = &program.notes;
        let (from, to) = (
            notes.partition_point(|note| note.line < first_line),
            notes.partition_point(|note| note.line < end),
        );
        let sections = &program.sections;
        let (first, last) = (
            sections.partition_point(|section| section.first_line < first_line),
            sections.partition_point(|section| section.first_line < end),
        );
        Part {
            program,
            first_line,
            notes: &notes[from..to],
            sections: &sections[first..last],
        }
    }

    fn notes_before(&self, line: u32) -> &'p [Note] {
        &self.notes[..self.notes.partition_point(|note| note.line < line)]
    }

    /// Whether a comment stands in the head of the program: nothing but comments between it and
    /// the program's first line.
    fn heads(&self, note: &Note) -> bool {
        let mut line = self.first_line;
        for head in self.notes {
            if head.line > line + 1 {
                return false;
            }
            if head == note {
                return true;
            }
            line = head.line;
        }
        false
    }

    /// Whether another section of the part goes with a thread.
    fn cuts(&self, thread: &Thread, section: &Section) -> bool {
        let mut others = self.sections.iter().take(MOST_SECTIONS);
        others.any(|other| {
            other.first_line != section.first_line
                && other.cut.lead.get().is_some()
                && disagreement(&settle(thread.clone(), other.side()), self.program, other)
                    .is_none()
        })
    }
}

/// What in the numbers contradicts a thread; none when lead and diameters go with it, or when
/// there are no numbers to compare.
fn disagreement(thread: &Thread, program: &Program, section: &Section) -> Option<String> {
    if let Some(lead) = section.cut.lead.get() {
        let lead = lead.mm().abs();
        let wanted = thread.lead().mm();
        let tolerance = lead_tolerance(section).max(0.005 * wanted);
        // One start of several is cut in one section; a single-start name may be cut as several.
        let several = wanted * f64::from(section.cut.starts);
        if (lead - wanted).abs() > tolerance && (lead - several).abs() > tolerance {
            return Some(format!(
                "the lead is {} mm, {} has {}",
                short(lead),
                thread.designation(),
                short(wanted)
            ));
        }
    }
    if !diameters_sure(program, section) {
        return None;
    }
    let root = section.cut.root_x.get()?.abs().mm();
    let side = section.side()?;
    let band = |side: Side| root_band(thread, side);
    let (low, high) = band(side);
    let (other_low, other_high) = band(side.other());
    // A root that fits the other side is the right thread coded on the wrong side.
    let fits = (low..=high).contains(&root) || (other_low..=other_high).contains(&root);
    (!fits).then(|| {
        format!(
            "the deepest pass ends at {} mm, {} needs it between {} and {}",
            short(root),
            thread.designation(),
            short(low),
            short(high)
        )
    })
}

/// Diameters at which the deepest pass of a thread can end, mm; of a tapered thread at any place
/// along it.
fn root_band(thread: &Thread, side: Side) -> (f64, f64) {
    let (major, pitch) = (thread.basic().major, thread.pitch.mm());
    let planes = thread.gauge_planes(side);
    if planes.is_none() && thread.form().taper > 0.0 {
        // Where along the cone the diameters hold is not known.
        return (0.0, f64::INFINITY);
    }
    let (low, high) = planes.map_or((0.0, 0.0), |planes| planes.reach_of_stroke(pitch));
    match side {
        // From a full sharp V with room for a fine nose, to barely a thread.
        Side::External => (major - 2.2 * pitch + low, major - 0.5 * pitch + high),
        Side::Internal => (major - 0.35 * pitch + low, major + 0.5 * pitch + high),
    }
}

fn short(mm: f64) -> String {
    let text = format!("{mm:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Most that a lead may be off by rounding, as a part of it: 32 threads per inch to three decimals,
/// .031, are 0.8 % off. `F2.` is no rounded 2.5 (our own choice).
pub const ROUNDED: f64 = 0.012;

/// How far the section's lead word may lie from the exact lead, in mm: see [`word_tolerance`].
#[must_use]
pub fn lead_tolerance(section: &Section) -> f64 {
    section.word(Role::Lead).map_or(1e-6, word_tolerance)
}

/// Half a unit of the last decimal of a lead word, in mm; no more than [`ROUNDED`] of the lead.
#[must_use]
pub fn word_tolerance(word: &RoleWord) -> f64 {
    match word.scale {
        Scale::Real(units) => {
            let unit = units.length(0.5 * 10f64.powi(-i32::from(word.number.decimals)));
            let most = word
                .length()
                .map_or(f64::INFINITY, |lead| ROUNDED * lead.mm().abs());
            unit.mm().min(most)
        }
        _ => 1e-6,
    }
}

fn measured(section: &Section) -> Option<Measured> {
    let starts = section.cut.starts;
    Some(Measured {
        side: section.side()?,
        crest_mm: section.cut.crest_x.get().map(|x| x.abs().mm()),
        root_mm: section.cut.root_x.get().map(|x| x.abs().mm()),
        lead_mm: section.cut.lead.get()?.divided(starts).mm().abs(),
        lead_tolerance_mm: lead_tolerance(section) / f64::from(starts.max(1)),
        taper: taper(section),
    })
}

/// Taper on the diameter per length along the axis: the radii at the two ends of the stroke differ
/// by the taper word.
fn taper(section: &Section) -> Option<f64> {
    let radii = section.cut.taper.get()?.mm();
    if radii == 0.0 {
        return Some(0.0);
    }
    let stroke = section.cut.start_z.get()?.mm() - section.cut.end_z.get()?.mm();
    (stroke != 0.0).then(|| (2.0 * radii / stroke).abs())
}

/// Candidates from root and lead; the crest of a cycle counts only where it speaks for a size,
/// because a height is often taken from the start diameter. Starts that the program shows are not
/// guessed again.
fn candidates(section: &Section, facts: &Facts) -> Vec<Candidate> {
    let Some(measured) = measured(section) else {
        return Vec::new();
    };
    let with_crest = nearest_with(&measured, &facts.forms);
    let without = nearest_with(
        &Measured {
            crest_mm: None,
            ..measured
        },
        &facts.forms,
    );
    let best = |all: &[Candidate]| all.first().map_or(f64::INFINITY, |c| c.distance);
    // There the crest is a word of its own.
    let own_crest = section.syntax.counts_from_crest() && measured.crest_mm.is_some();
    let mut candidates = if own_crest || best(&with_crest) <= NEAR_ENOUGH || without.is_empty() {
        with_crest
    } else {
        without
    };
    if section.cut.starts > 1 {
        candidates.retain(|candidate| candidate.thread.starts == 1);
        for candidate in &mut candidates {
            candidate.thread.starts = section.cut.starts;
        }
    }
    candidates
}

fn from_numbers(identified: &mut Identified, section: &Section) {
    let Some(best) = identified.candidates.first().cloned() else {
        identified.why = match section.side() {
            None => "not identified: bolt or nut, or a diameter, is not known".into(),
            Some(_) => "not identified: no listed thread comes near the numbers".into(),
        };
        return;
    };
    let second = identified.candidates.get(1);
    identified.runner_up = second.map(|next| {
        format!(
            "{} (distance {:.2})",
            next.thread.designation(),
            next.distance
        )
    });
    // That a thread is common does not outweigh that a rarer one fits and it does not.
    let others = identified.candidates.iter().skip(1);
    let mut near = others.filter(|next| next.distance <= NEAR_ENOUGH);
    let clear = second.is_none_or(|next| next.distance - best.distance >= CLEARLY_NEARER)
        && (best.fits || !near.any(|next| next.fits));
    if best.distance <= NEAR_ENOUGH && clear {
        identified.why = format!(
            "inferred from the numbers, distance {:.2}: {}",
            best.distance,
            best.reasons.join("; ")
        );
        identified.thread = Some((best.thread, From::Numbers));
    } else {
        identified.why = format!(
            "not identified: nearest is {} (distance {:.2}){}",
            best.thread.designation(),
            best.distance,
            if clear {
                ", which is too far"
            } else {
                ", but another fits as well"
            }
        );
    }
}
