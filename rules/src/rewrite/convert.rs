//! The passes of a section in another syntax, with what it does not carry over.

use lexer::evidence::Family;
use lexer::law::Law;
use lexer::section::{Infeed, PullOut, Section, Syntax, Val};
use lexer::syntax::{Style, Written, write};
use lexer::units::{Length, Radial};

use super::block::{Frame, framed};
use super::lay::with_crest;
use super::place::Place;
use super::{Job, Reread};
use crate::finding::Edit;

/// What a section is converted to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Target {
    /// Another family of controls; none for the program's own. What is written for another family
    /// does not go into the program.
    pub family: Option<Family>,
    /// The pull-out, where the section leaves it to the control.
    pub pull_out: Option<PullOut>,
}

/// A section in another syntax.
#[derive(Debug, Clone)]
pub struct Converted {
    /// The blocks; with units, tool, speed and approach where they are for another family.
    pub text: String,
    /// What to change in the program; empty for another family.
    pub edits: Vec<Edit>,
    /// The program after it; none for another family.
    pub reread: Option<Reread>,
    /// Passes, which are the same in both.
    pub passes: usize,
    /// Largest distance between a pass as it was and as it is written, X as a diameter: rounding.
    pub deviation: Length,
    /// What the syntax does not say and the section had.
    pub lost: Vec<String>,
}

/// Writes a section in another syntax. Every pass is read back and compared.
///
/// # Errors
/// Why this syntax cannot say the section.
pub fn convert(job: &Job<'_>, syntax: Syntax, target: &Target) -> Result<Converted, String> {
    let section = job.section()?;
    let table = job.table()?;
    let mut assumed: Vec<String> = job.assumed(section)?.into_iter().collect();
    if section.cut.pull_out == PullOut::None && matches!(syntax, Syntax::Box | Syntax::OneBlock) {
        assumed.push(
            "that the passes end without a pull-out: this cycle pulls out as the control is set"
                .into(),
        );
    }
    let mut style = Style::of(section, job.program.family, job.bytes);
    let own = style.family;
    let family = target.family.unwrap_or(own);
    if syntax == section.syntax && family == own {
        return Err(format!("it is written as {} already", syntax.name()));
    }
    let height = section
        .side()
        .and_then(|side| table.height(side))
        .filter(|height| height.0 > Length::ZERO);
    let mut cut = with_crest(&section.cut, table.crest, height);
    if let Some(pull_out) = &target.pull_out
        && matches!(cut.pull_out, PullOut::Setting | PullOut::None)
    {
        cut.pull_out = pull_out.clone();
    }
    cut.infeed = whole_angle(section, &cut);
    let stands = cut.start_z.get();
    if matches!(cut.law, Law::List) && !matches!(syntax, Syntax::Strokes | Syntax::Box) {
        cut.start_z = Val::or_unknown(
            unshifted(section, &cut).or(stands),
            "where the passes start is not known",
        );
    }
    let mut passes = section.passes.clone();
    if section.cut.crest_x.get().is_none() {
        // Depths of a list count from the crest of the thread, where one is known.
        for (pass, row) in passes.iter_mut().zip(&table.rows) {
            pass.depth = row.depth.filter(|depth| *depth > Radial::default());
        }
    }
    let cannot = |cannot: lexer::syntax::Cannot| cannot.0;
    if family != own {
        let mut converted = for_another(job, section, &cut, &passes, syntax, family, style)?;
        converted.lost.extend(assumed);
        return Ok(converted);
    }
    let place = Place::of(job.bytes, job.program, section)?;
    if place.relied_upon() {
        return Err("the block behind it moves without a code of its own".into());
    }
    let draft = write(&cut, &passes, syntax, &style).map_err(cannot)?;
    place.numbered(&mut style, draft.text.lines().count());
    let written = write(&cut, &passes, syntax, &style).map_err(cannot)?;
    let mut edit = place.edit(&written.text, syntax, &style);
    if let Some(home) = cut.start_z.get().filter(|home| Some(*home) != stands) {
        // A cycle shifts its passes along the flank itself.
        let words = [style.code(0), style.position('Z', home)];
        let line = words.join(if style.spaced { " " } else { "" });
        let line = if style.lower {
            line.to_ascii_lowercase()
        } else {
            line
        };
        edit.text = line + style.line_end + &edit.text;
    }
    let edits = vec![edit];
    let limit = limit(&written, section);
    let reread = job.reread(&edits, syntax, &passes, limit)?;
    Ok(Converted {
        text: edits[0].text.clone() + style.line_end,
        edits,
        reread: Some(reread),
        passes: passes.len(),
        deviation: written.deviation,
        lost: written.lost.into_iter().chain(assumed).collect(),
    })
}

/// Where the strokes of a list would start without their infeed along the flank.
fn unshifted(section: &Section, cut: &lexer::section::Cut) -> Option<Length> {
    let Infeed::Flank(angle) = &cut.infeed else {
        return None;
    };
    let first = section.passes.first()?;
    let depth = cut.crest_x.get()?.above(first.x?).mm().abs();
    let along = (first.z_end? - first.z_start?).signum();
    let shift = Length::from_mm(depth * angle.to_radians().tan());
    let digit = section.units.least_increment().pm();
    let home = (first.z_start? - shift * along).pm();
    // Shops start at round places; the shift was rounded to a digit.
    Some(Length::from_pm(
        (home as f64 / digit as f64).round() as i64 * digit,
    ))
}

/// The infeed of a list is worked out from places that were rounded: the nearest half degree, where
/// the rounding explains the difference.
fn whole_angle(section: &Section, cut: &lexer::section::Cut) -> Infeed {
    let (Infeed::Flank(angle), Law::List, Some(height)) = (&cut.infeed, &cut.law, cut.height.get())
    else {
        return cut.infeed.clone();
    };
    let whole = (angle * 2.0).round() / 2.0;
    let shift = |angle: f64| height.mm() * angle.to_radians().tan();
    let digit = section.units.least_increment().mm();
    if (shift(*angle) - shift(whole)).abs() <= 3.0 * digit {
        Infeed::Flank(whole)
    } else {
        cut.infeed.clone()
    }
}

/// Distances that the writer itself has proven, and those that it names as lost.
fn limit(written: &Written, section: &Section) -> Length {
    let shift = section
        .cut
        .height
        .get()
        .map_or(Length::ZERO, |height| height.0);
    let moved = written
        .lost
        .iter()
        .any(|lost| lost.starts_with("where each pass ends"));
    written.deviation + if moved { shift } else { Length::ZERO } + Length::from_pm(2)
}

/// Blocks for another family of controls: whole, because nothing of what stands around them in the
/// program holds there.
fn for_another(
    job: &Job<'_>,
    section: &Section,
    cut: &lexer::section::Cut,
    passes: &[lexer::section::Pass],
    syntax: Syntax,
    family: Family,
    own: Style,
) -> Result<Converted, String> {
    let style = Style {
        line_end: own.line_end,
        spaced: own.spaced,
        lower: own.lower,
        two_digits: own.two_digits,
        decimals: own.decimals,
        lead_decimals: own.lead_decimals,
        ..Style::new(family, section.units)
    };
    let written = write(cut, passes, syntax, &style).map_err(|cannot| cannot.0)?;
    let start = (cut.start_x.get(), cut.start_z.get());
    let (Some(x), Some(z)) = start else {
        return Err("where the tool starts is not known".into());
    };
    let rpm = section
        .spindle
        .rpm()
        .ok_or("the speed of the thread is not known")?;
    let tool = section.tool.map(|tool| {
        let text = String::from_utf8_lossy(tool.span.of(job.bytes)).into_owned();
        text.chars().filter(char::is_ascii_alphanumeric).collect()
    });
    let left = section.spindle.turning.map(|turning| turning.value)
        == Some(lexer::section::Turning::Counterclockwise);
    let frame = Frame {
        style: &style,
        note: None,
        semicolon: matches!(family, Family::Interpreter | Family::Call),
        tool,
        rpm,
        counterclockwise: left,
        start: (x, z),
    };
    let mut lost = written.lost;
    lost.push(
        "everything else of the program: this block is for another family of controls, and is not put \
         into the program"
            .into(),
    );
    Ok(Converted {
        text: framed(&frame, &written.text),
        edits: Vec::new(),
        reread: None,
        passes: passes.len(),
        deviation: written.deviation,
        lost,
    })
}

/// Syntaxes that a section can be converted to inside its own family of controls, with the result.
#[must_use]
pub fn possible(job: &Job<'_>) -> Vec<(Syntax, Converted)> {
    let target = Target::default();
    Syntax::ALL
        .into_iter()
        .filter_map(|syntax| Some((syntax, convert(job, syntax, &target).ok()?)))
        .collect()
}
