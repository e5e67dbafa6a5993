use lexer::law::Law;
use lexer::section::{PullOut, Role, RoleWord, Section, Side, Syntax, Val};
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, length_of_mm, mm, number, quoted};
use super::words::{append, at_line, is_own, spell_length, text_of};
use super::{Context, Out, Rule, restate, rule, stages};
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// The taper that the program cuts against the form of the thread: its size over the whole
    /// stroke, run-in and run-out included, its sign, a tapered thread cut straight, and a parallel
    /// thread cut on a taper.
    ///
    /// # Why it matters
    ///
    /// The taper word of a cycle is the difference of the radii at the two ends of the stroke. Worked
    /// out from the length of the thread alone it is too small, because the stroke is longer by the
    /// run-in; written on the diameter it is twice too large; with the wrong sign the cone opens to
    /// the wrong side. The gauge then rocks or bears at one end, and the joint leaks.
    ///
    /// # The sum
    ///
    /// R = stroke · taper / 2, at 1:16 stroke / 32. The end of the stroke that lies outside the part,
    /// the one nearer to Z0 where the stroke crosses it, has the smaller radius on a bolt and the
    /// larger on a nut. Up to 2 % off is rounding. More than 8 % is an error: the taper of NPT may
    /// lie between 11/16 and 7/8 inch a foot, 8 % less and 17 % more (ASME B1.20.1, from memory).
    ///
    /// # What it needs
    ///
    /// A stated designation, both ends of the stroke and the taper word, or the diameters at both
    /// ends.
    ///
    /// # When it stays silent
    ///
    /// Up to 1:200 on a parallel thread, against a part that bends. The sign where the stroke does
    /// not cross Z0.
    ///
    /// # Mend
    ///
    /// Writes the taper word for the whole stroke, in the style of the word. The end diameter stays,
    /// the start diameter of each pass follows.
    ///
    /// # Source
    ///
    /// The taper of the thread's standard, named in the finding. The sum is plane geometry; 2 % is
    /// our own choice.
    "taper-word", Error,
    "the taper does not fit the form of the thread over the whole stroke",
    fixes: true, needs_designation: true, check
}

/// A part of the taper that is rounding.
const ROUNDING: f64 = 0.02;
/// A part of the taper beyond which the thread is no more the one meant.
const BEYOND: f64 = 0.08;
/// Taper on the diameter per length with which a parallel thread may be cut.
const STRAIGHT: f64 = 0.005;

/// The stroke with what it cuts and should cut, in mm.
struct Stroke {
    /// Along the axis.
    length: f64,
    /// Radius at the start minus radius at the end.
    cut: f64,
    /// The same as the form wants it, by the sign that is judged.
    wanted: f64,
    /// Whether the sign of `wanted` is known to be right.
    sign_sure: bool,
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || stages::is_approach(cx) {
        return;
    }
    let Some(thread) = cx.thread().filter(|_| cx.stated()) else {
        return out.not_judged(rule, "no designation is stated");
    };
    let taper = thread.form().taper;
    let cut = match &section.cut.taper {
        Val::Exact(cut) | Val::Approx(cut, _) => cut.mm(),
        Val::Unknown(why) => return out.not_judged(rule, format!("the taper is not known: {why}")),
    };
    if taper == 0.0 && cut == 0.0 {
        return;
    }
    // The taper of a list is that of its last stroke, whose start a flank infeed may have moved.
    let last = section
        .passes
        .last()
        .filter(|_| matches!(section.cut.law, Law::List));
    let start = last
        .and_then(|pass| pass.z_start)
        .or(section.cut.start_z.get());
    let (Some(start), Some(end)) = (start, section.cut.end_z.get()) else {
        return out.not_judged(rule, "an end of the stroke is not known");
    };
    let length = (start - end).abs().mm();
    if length <= 0.0 {
        return;
    }
    if taper == 0.0 {
        if 2.0 * cut.abs() > STRAIGHT * length {
            out.push(on_a_parallel_thread(rule, cx, thread, cut, length));
        }
        return;
    }
    let Some(side) = cx.side() else {
        return out.not_judged(rule, "bolt or nut is not known");
    };
    let size = taper * length / 2.0;
    let sign = small_start(start, end, side);
    let stroke = Stroke {
        length,
        cut,
        wanted: size * sign.unwrap_or(if cut < 0.0 { -1.0 } else { 1.0 }),
        sign_sure: sign.is_some(),
    };
    if sign.is_none() && cut == 0.0 {
        return out.push(straight(rule, cx, thread, &stroke));
    }
    let word = section.word(Role::Taper);
    let slack = word.map_or(0.002, half_a_digit).min(0.1 * size);
    let off = (stroke.cut - stroke.wanted).abs();
    if off <= (ROUNDING * size).max(slack) {
        return;
    }
    if cut == 0.0 {
        return out.push(straight(rule, cx, thread, &stroke));
    }
    out.push(wrong(rule, cx, thread, &stroke, word));
}

/// -1 where the stroke starts at the smaller radius, 1 where it starts at the larger, by the end
/// that lies outside the part; none where the stroke does not cross Z0.
fn small_start(start: Length, end: Length, side: Side) -> Option<f64> {
    if start.signum() * end.signum() > 0 || start.abs() == end.abs() {
        return None;
    }
    let starts_outside = start.abs() < end.abs();
    Some(match (side, starts_outside) {
        (Side::External, true) | (Side::Internal, false) => -1.0,
        (Side::External, false) | (Side::Internal, true) => 1.0,
    })
}

/// Half a unit of the last decimal of a word, mm.
fn half_a_digit(word: &RoleWord) -> f64 {
    match word.scale {
        lexer::section::Scale::Real(units) => {
            let unit = 0.5 * 10f64.powi(-i32::from(word.number.decimals));
            units.length(unit).mm()
        }
        lexer::section::Scale::Increments(units) => units.least_increment().mm() / 2.0,
        lexer::section::Scale::Plain => 0.0,
    }
}

fn place(cx: &Context<'_>) -> (Span, u32) {
    let section = cx.section;
    let word = section
        .word(Role::Taper)
        .filter(|word| is_own(section, word))
        .or_else(|| at_line(section, Role::EndX, section.last_line));
    word.map_or_else(|| cx.place(), |word| (word.span, word.line))
}

/// What is said beneath every finding of a tapered thread.
fn sum(finding: Finding, cx: &Context<'_>, thread: &Thread, stroke: &Stroke) -> Finding {
    let (form, units) = (thread.form(), cx.section.units);
    let (start, end) = (cx.section.cut.start_z.get(), cx.section.cut.end_z.get());
    let text = |z: Option<Length>| z.map_or_else(String::new, |z| length(z, units));
    let mut finding = finding.because(format!(
        "{} ({}): taper 1:{} on the diameter",
        thread.designation(),
        cx.identified.why,
        number(1.0 / form.taper, 2)
    ));
    finding = finding.because(format!(
        "stroke from Z {} to Z {}, run-in included: {}; the radii at its ends differ by {} · {} / 2 \
         = {}",
        text(start),
        text(end),
        length_of_mm(stroke.length, units),
        mm(stroke.length),
        number(form.taper, 5),
        length_of_mm(stroke.wanted.abs(), units)
    ));
    if let Some((span, line)) = cx.identified.place {
        finding = finding.related((span, line), "the thread is named here");
    }
    finding.source(format!("{}; plane geometry", form.source))
}

/// A tapered thread without a taper.
fn straight(rule: &Rule, cx: &Context<'_>, thread: &Thread, stroke: &Stroke) -> Finding {
    let finding = rule.found(
        place(cx),
        format!(
            "{} is tapered 1:{}, the program cuts it straight",
            thread.designation(),
            number(1.0 / thread.form().taper, 2)
        ),
    );
    let finding = sum(finding, cx, thread, stroke);
    let letter = match cx.section.syntax {
        Syntax::TwoBlock | Syntax::Box => 'R',
        Syntax::OneBlock => 'I',
        Syntax::DriveLine => {
            return finding.help(
                "this cycle cuts no taper: write the passes as single strokes from one diameter to \
                 the other",
            );
        }
        _ => {
            return finding.help(format!(
                "end each stroke at a diameter that differs by {} from that at its start",
                length_of_mm(2.0 * stroke.wanted.abs(), cx.section.units)
            ));
        }
    };
    if !stroke.sign_sure {
        return finding.help(format!(
            "add the taper word {letter} of {}, with the sign that your control's manual gives it",
            length_of_mm(stroke.wanted.abs(), cx.section.units)
        ));
    }
    let value = cx.section.units.value_of(Length::from_mm(stroke.wanted));
    let decimals = if cx.section.units == lexer::units::Units::Inch {
        4
    } else {
        3
    };
    let word = format!("{letter}{value:.decimals$}");
    let finding = finding.help(format!(
        "add {word}; the end diameter is then the one at the end of the stroke"
    ));
    match added(cx, stroke, &word) {
        Some(fix) => finding.fix(fix),
        None => finding,
    }
}

/// A taper word for a cycle of one block (or the second of two) that has none.
fn added(cx: &Context<'_>, stroke: &Stroke, word: &str) -> Option<Fix> {
    let section = cx.section;
    if !matches!(section.syntax, Syntax::TwoBlock | Syntax::OneBlock) {
        return None;
    }
    let block = section.blocks.last()?;
    let edit = append(cx.bytes, block.span, &[word.to_owned()])?;
    Some(fix(cx, stroke, format!("add {word}"), vec![edit]))
}

fn fix(cx: &Context<'_>, stroke: &Stroke, what: String, edits: Vec<Edit>) -> Fix {
    let after = with_taper(cx.section, stroke.wanted);
    let units = cx.section.units;
    Fix {
        title: format!(
            "{what}: radii at the ends differ by {} -> {}; {}",
            length_of_mm(stroke.cut, units),
            length_of_mm(stroke.wanted, units),
            restate::before_after(cx, &after)
        ),
        kind: FixKind::Motion,
        edits,
    }
}

fn with_taper(section: &Section, taper: f64) -> Section {
    restate::changed(section, |cut| {
        cut.taper = Val::Exact(Length::from_mm(taper));
    })
}

/// A taper of the wrong size or sign.
fn wrong(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    stroke: &Stroke,
    word: Option<&RoleWord>,
) -> Finding {
    let units = cx.section.units;
    let (cut, wanted) = (stroke.cut, stroke.wanted);
    let ratio = cut.abs() / wanted.abs();
    let near = |value: f64| (ratio - value).abs() <= ROUNDING;
    let other_sign = cut * wanted < 0.0;
    let one_in = stroke.length / (2.0 * cut.abs());
    let message = if other_sign && near(1.0) {
        format!(
            "the taper has the wrong sign: {} gets {} towards the part",
            thread.designation(),
            if (wanted < 0.0) == (cx.side() == Some(Side::External)) {
                "larger"
            } else {
                "smaller"
            }
        )
    } else {
        format!(
            "the taper over the whole stroke is {}1:{}, {} has 1:{}",
            if other_sign {
                "to the wrong side and "
            } else {
                ""
            },
            number(one_in, 2),
            thread.designation(),
            number(1.0 / thread.form().taper, 2)
        )
    };
    let mut finding = rule.found(place(cx), message);
    finding = match word {
        Some(word) => finding.because(format!(
            "{}: the radius at the start is {} {} than at the end",
            quoted(cx.bytes, word.span, word.line),
            length_of_mm(cut.abs(), units),
            if cut < 0.0 { "smaller" } else { "larger" }
        )),
        None => finding.because(format!(
            "the diameters at the ends of the stroke differ by {}",
            length_of_mm(2.0 * cut.abs(), units)
        )),
    };
    finding = sum(finding, cx, thread, stroke);
    if let Some(slip) = slip(cx, thread, stroke, ratio) {
        finding = finding.because(slip);
    }
    let beyond = other_sign || (ratio - 1.0).abs() > BEYOND;
    if !beyond {
        finding = finding.severity(Severity::Warning);
    }
    let Some(word) = word else {
        return finding.help(format!(
            "let the radii at the ends of each stroke differ by {}",
            length_of_mm(wanted.abs(), units)
        ));
    };
    let Some((text, edits)) = rewritten(cx, word, stroke) else {
        return finding.help(format!(
            "the taper word for this stroke is {}",
            length_of_mm(wanted.abs(), units)
        ));
    };
    let (old, new) = (
        text_of(cx.bytes, word.span),
        format!("{}{text}", char::from(word.letter)),
    );
    finding.help(format!("write {new}")).fix(fix(
        cx,
        stroke,
        format!("write {new} for {old}"),
        edits,
    ))
}

/// How the slip may have come about.
fn slip(cx: &Context<'_>, thread: &Thread, stroke: &Stroke, ratio: f64) -> Option<String> {
    let taper = thread.form().taper;
    let near = |value: f64| (ratio - value).abs() <= 0.01;
    if near(2.0) {
        return Some("it is the difference of the diameters, twice that of the radii".to_owned());
    }
    if near(0.5) {
        return Some("it is half of what the stroke needs".to_owned());
    }
    let units = cx.section.units;
    let covers = 2.0 * stroke.cut.abs() / taper;
    if covers >= stroke.length {
        return None;
    }
    let end = cx.section.cut.end_z.get()?.abs().mm();
    let from_face = (covers - end).abs() <= 0.02 * end;
    let what = if from_face {
        "the length from Z0 to the end: the run-in is left out"
    } else if cx
        .identified
        .length_mm
        .is_some_and(|l| (l - covers).abs() <= 0.02 * l)
    {
        "the length of the thread: run-in and run-out are left out"
    } else {
        return None;
    };
    let pull_out = match cx.section.cut.pull_out {
        PullOut::None => "",
        _ => " (the pull-out belongs to the stroke too)",
    };
    Some(format!(
        "the taper word is right for {}, {what}{pull_out}",
        length_of_mm(covers, units)
    ))
}

/// The edits of every taper word of the section, where they all say the same.
fn rewritten(cx: &Context<'_>, word: &RoleWord, stroke: &Stroke) -> Option<(String, Vec<Edit>)> {
    let section = cx.section;
    let written = word.length()?;
    // Words may stand mirrored, or count from another place.
    let same_sign = written.signum() == Length::from_mm(stroke.cut).signum();
    let value = if same_sign {
        stroke.wanted
    } else {
        -stroke.wanted
    };
    let mut edits: Vec<Edit> = Vec::new();
    let mut text = None;
    for other in section.words.iter().filter(|w| w.role == Role::Taper) {
        if other.length() != Some(written) || !is_own(section, other) {
            return None;
        }
        if edits.iter().any(|edit| edit.span == other.value_span) {
            continue;
        }
        let spelled = spell_length(other, Length::from_mm(value));
        text.get_or_insert_with(|| spelled.clone());
        edits.push(Edit {
            span: other.value_span,
            text: spelled,
        });
    }
    edits.sort_by_key(|edit| edit.span.start);
    Some((text?, edits))
}

fn on_a_parallel_thread(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    cut: f64,
    stroke: f64,
) -> Finding {
    let units = cx.section.units;
    let one_in = stroke / (2.0 * cut.abs());
    let mut finding = rule.found(
        place(cx),
        format!(
            "{} is parallel, the program cuts it on a taper of 1:{}",
            thread.designation(),
            number(one_in, 1)
        ),
    );
    if let Some(word) = cx.section.word(Role::Taper) {
        finding = finding.because(quoted(cx.bytes, word.span, word.line));
    }
    finding = finding
        .because(format!(
            "over the stroke of {} the diameters differ by {}",
            length_of_mm(stroke, units),
            length_of_mm(2.0 * cut.abs(), units)
        ))
        .because(format!(
            "{}: {} has no taper",
            cx.identified.why,
            thread.designation()
        ));
    if let Some((span, line)) = cx.identified.place {
        finding = finding.related((span, line), "the thread is named here");
    }
    finding
        .source(format!("{}; plane geometry", thread.form().source))
        .help("take the taper out, or name the tapered thread that is meant")
}

#[cfg(test)]
mod tests;
