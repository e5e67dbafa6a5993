//! Ways of writing a thread. Each file reads its blocks into a [`Draft`] and writes a cut back as
//! blocks; the passes of a draft come from its law.

pub mod box_cycle;
pub mod call;
pub mod compound;
pub mod drive_line;
pub mod helix;
pub mod one_block;
pub mod strokes;
pub mod tap;
pub mod two_block;
pub mod variable;
mod write;

pub use write::{Cannot, Habits, Numbering, Style, Whole, Written, write};

use crate::block::Block;
use crate::law::{Law, PASS_LIMIT, depths};
use crate::machine::Machine;
use crate::number::DecimalRule;
use crate::section::{
    Cut, Infeed, Missing, Pass, PullOut, Role, RoleWord, Scale, Side, Spindle, Syntax, Val,
};
use crate::source::Span;
use crate::units::{Diameter, Lead, Length, Radial};

/// What one threading block (or pair of blocks) says.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Way of writing.
    pub syntax: Syntax,
    /// Geometry.
    pub cut: Cut,
    /// Passes in order.
    pub passes: Vec<Pass>,
    /// See [`crate::section::Section::passes_certain`].
    pub passes_certain: bool,
    /// Words with their meaning.
    pub words: Vec<RoleWord>,
    /// What is not known.
    pub unknown: Vec<String>,
    /// Words that are needed and missing.
    pub missing: Vec<Missing>,
    /// The block that causes the cut.
    pub span: Span,
    /// Its line.
    pub line: u32,
}

/// The block's word with a letter as a role word, when its value is a literal.
fn role_word(block: &Block, letter: u8, role: Role, scale: Scale) -> Option<RoleWord> {
    let word = block.word(letter)?;
    Some(RoleWord {
        role,
        letter,
        number: word.number()?,
        span: word.span,
        value_span: word.value_span,
        line: block.line,
        scale,
        factor: 1,
        divisor: 1,
        base: Length::ZERO,
    })
}

/// A word without which a cycle cannot run.
struct Required {
    role: Role,
    /// Its address.
    letter: &'static str,
    /// What messages call it.
    name: &'static str,
    scale: Scale,
    /// See [`RoleWord::divisor`].
    divisor: i64,
}

impl Required {
    /// Its quantity, with the word added to `words`; or why there is none, and where it is not
    /// written at all a note in `missing`.
    fn read(
        self,
        block: &Block,
        words: &mut Vec<RoleWord>,
        missing: &mut Vec<Missing>,
    ) -> Val<Length> {
        let Required {
            role,
            letter,
            name,
            scale,
            divisor,
        } = self;
        let address = letter.as_bytes()[0];
        if let Some(mut word) = role_word(block, address, role, scale) {
            word.divisor = divisor;
            words.push(word);
            return Val::or_unknown(word.length(), format!("{name} is too long a number"));
        }
        if block.has(address) {
            return Val::Unknown(format!(
                "{name} is a variable or an expression without a known value"
            ));
        }
        missing.push(Missing {
            role,
            letters: letter,
            block: block.span,
            line: block.line,
            in_force: None,
        });
        Val::Unknown(format!("{name} is not written"))
    }
}

/// Real units with a point, least increments without: the depth words of the turning cycles.
fn depth_scale(machine: &Machine, block: &Block, letter: u8) -> Scale {
    match block.number_of(letter) {
        Some(number) if !number.point => Scale::Increments(machine.units),
        _ => Scale::Real(machine.units),
    }
}

/// Positions: by the decimal rule in force.
fn position_scale(machine: &Machine, block: &Block, letter: u8) -> Scale {
    match (machine.decimal, block.number_of(letter)) {
        (DecimalRule::LeastIncrement, Some(number)) if !number.point => {
            Scale::Increments(machine.units)
        }
        _ => Scale::Real(machine.units),
    }
}

/// X or U as role word (quantity: diameter at the end) and the target diameter.
fn end_x(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Val<Diameter> {
    let factor = if machine.radius_mode { 2 } else { 1 };
    for letter in [b'X', b'U'] {
        if block.has(letter) {
            let scale = position_scale(machine, block, letter);
            if let Some(mut word) = role_word(block, letter, Role::EndX, scale) {
                word.factor = factor;
                if letter == b'U' || machine.incremental {
                    word.base = machine.at.x.unwrap_or(Length::ZERO);
                }
                words.push(word);
            }
            return Val::or_unknown(
                machine.target(block).x.map(Diameter),
                not_literal(block, letter, machine.at.x.is_none()),
            );
        }
    }
    Val::or_unknown(
        machine.at.x.map(Diameter),
        "the diameter of the tool is not known here: X was not written before, or as an expression",
    )
}

/// Z or W as role word and the end of the stroke.
fn end_z(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Val<Length> {
    for letter in [b'Z', b'W'] {
        if block.has(letter) {
            let scale = position_scale(machine, block, letter);
            if let Some(mut word) = role_word(block, letter, Role::EndZ, scale) {
                if letter == b'W' || machine.incremental {
                    word.base = machine.at.z.unwrap_or(Length::ZERO);
                }
                words.push(word);
            }
            return Val::or_unknown(
                machine.target(block).z,
                not_literal(block, letter, machine.at.z.is_none()),
            );
        }
    }
    Val::or_unknown(
        machine.at.z,
        "the tool's Z is not known here: it was not written before, or as an expression",
    )
}

fn not_literal(block: &Block, letter: u8, start_unknown: bool) -> String {
    let letter_text = letter as char;
    if block.number_of(letter).is_none() {
        format!("{letter_text} is a variable or an expression without a known value")
    } else if start_unknown {
        format!("{letter_text} counts from a position that is not known")
    } else {
        format!("{letter_text} is too long a number")
    }
}

/// F or E as a lead per turn; F is modal.
fn lead(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Val<Lead> {
    if block.has(b'E') && !block.has(b'F') {
        return fine_lead(machine, block, words);
    }
    let Some(feed) = machine.feed else {
        return Val::Unknown("the lead is not written".into());
    };
    let Some(number) = feed.value.number() else {
        return Val::Unknown("F is a variable or an expression without a known value".into());
    };
    words.push(RoleWord {
        role: Role::Lead,
        letter: b'F',
        number,
        span: feed.value.span,
        value_span: feed.value.value_span,
        line: feed.line,
        scale: Scale::Real(machine.units),
        factor: 1,
        divisor: 1,
        base: Length::ZERO,
    });
    if number.digits < 0 {
        return Val::Unknown("F is negative, which controls read in different ways".into());
    }
    if machine.decimal == DecimalRule::LeastIncrement && !number.point && number.digits != 0 {
        return Val::Unknown(
            "F has no point in a program that counts in least increments; what one stands for \
             differs between controls"
                .into(),
        );
    }
    Val::or_unknown(
        number.real(machine.units).map(Lead::per_turn),
        "F is too long a number",
    )
}

/// E: a lead with more digits on some controls, threads per inch on others. Below 1 it can only be
/// a lead, at 2 and more in an inch program only threads per inch; between them nothing decides.
fn fine_lead(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Val<Lead> {
    use crate::units::Units;
    let Some(number) = block.number_of(b'E') else {
        return Val::Unknown("E is a variable or an expression without a known value".into());
    };
    let value = number.value();
    if value > 0.0 && value < 1.0 {
        words.extend(role_word(
            block,
            b'E',
            Role::Lead,
            Scale::Real(machine.units),
        ));
        return Val::or_unknown(
            number.real(machine.units).map(Lead::per_turn),
            "E is too long",
        );
    }
    if value >= 2.0 && machine.units == Units::Inch {
        words.extend(role_word(block, b'E', Role::Lead, Scale::Plain));
        return Val::or_unknown(Lead::per_inch(number.ten_thousandths()), "E is too large");
    }
    Val::Unknown("E is a lead on some controls and threads per inch on others".into())
}

/// The taper (radius at the start minus radius at the end) by R or I; none written is none.
fn taper(machine: &Machine, block: &Block, letter: u8, words: &mut Vec<RoleWord>) -> Val<Length> {
    let name = letter as char;
    let scale = position_scale(machine, block, letter);
    match role_word(block, letter, Role::Taper, scale) {
        Some(word) => {
            words.push(word);
            Val::or_unknown(
                word.length(),
                format!("the taper {name} is too long a number"),
            )
        }
        None if block.has(letter) => Val::Unknown(format!(
            "the taper {name} is a variable or an expression without a known value"
        )),
        None => Val::Exact(Length::ZERO),
    }
}

/// A tool behind the centre line programs negative diameters: they are read as positive, which
/// is said.
fn mirror(cut: &mut Cut, unknown: &mut Vec<String>) {
    let negative = |x: &Val<Diameter>| x.get().is_some_and(|x| x.0 < Length::ZERO);
    if !negative(&cut.root_x) || cut.start_x.get().is_some() && !negative(&cut.start_x) {
        return;
    }
    let flip = |x: &Val<Diameter>| x.clone().map(|x| Diameter(-x.0));
    cut.root_x = flip(&cut.root_x);
    cut.start_x = flip(&cut.start_x);
    cut.taper = cut.taper.clone().map(|taper| -taper);
    unknown.push(MIRRORED.into());
}

/// What is said of a section whose diameters are negative.
pub(crate) const MIRRORED: &str =
    "X is negative (the tool works behind the centre line); read as positive";

/// Bolt or nut by the start diameter against the end diameter.
fn side_of(start: &Val<Diameter>, end: &Val<Diameter>) -> Val<Side> {
    match (start.get(), end.get()) {
        (Some(start), Some(end)) if start.abs() > end.abs() => Val::Exact(Side::External),
        (Some(start), Some(end)) if start.abs() < end.abs() => Val::Exact(Side::Internal),
        (Some(_), Some(_)) => Val::Unknown(
            "the tool starts at the diameter it cuts to, so bolt or nut cannot be told".into(),
        ),
        (None, _) => Val::Unknown("the start diameter is not known".into()),
        (_, None) => Val::Unknown("the end diameter is not known".into()),
    }
}

/// Crest diameter implied by root and height.
fn crest_of(cut: &Cut) -> Val<Diameter> {
    match (cut.side.get(), cut.root_x.get(), cut.height.get()) {
        (Some(Side::External), Some(root), Some(height)) => Val::Exact(root.out_by(height)),
        (Some(Side::Internal), Some(root), Some(height)) => Val::Exact(root.in_by(height)),
        (_, _, None) => Val::Unknown("the thread height is not known".into()),
        (_, None, _) => Val::Unknown("the end diameter is not known".into()),
        (None, _, _) => Val::Unknown("bolt or nut is not known".into()),
    }
}

/// What passes take from the block that causes them.
#[derive(Debug, Clone, Copy, Default)]
struct Origin {
    line: u32,
    span: Span,
    spindle: Spindle,
    skip: Option<u8>,
}

impl Origin {
    fn of(machine: &Machine, block: &Block) -> Origin {
        Origin {
            line: block.line,
            span: block.span,
            spindle: machine.spindle,
            skip: block.skip,
        }
    }
}

/// The passes that a cut's own law makes in a syntax: one start, lines and spindle left empty.
/// None for [`Law::List`], and where height or first cut is unknown.
#[must_use]
pub fn passes(cut: &Cut, syntax: Syntax) -> Vec<Pass> {
    match (syntax, &cut.pull_out) {
        (Syntax::DriveLine, PullOut::Axial(length)) => {
            drive_line::expand(cut, None, Some(*length), &Origin::default())
        }
        (Syntax::DriveLine, _) => drive_line::expand(cut, None, None, &Origin::default()),
        _ => passes_of(cut, &Origin::default()),
    }
}

/// The passes of a cut whose law is not [`Law::List`]. Empty when height or first cut is unknown.
fn passes_of(cut: &Cut, origin: &Origin) -> Vec<Pass> {
    let Some(height) = cut.height.get() else {
        return Vec::new();
    };
    let travel = match (cut.start_z.get(), cut.end_z.get()) {
        (Some(start), Some(end)) => (end - start).signum(),
        _ => 0,
    };
    let mut before = Radial(Length::ZERO);
    depths(&cut.law, height)
        .into_iter()
        .map(|(depth, purpose)| {
            let x = match (cut.side.get(), cut.crest_x.get()) {
                (Some(Side::External), Some(crest)) => Some(crest.in_by(depth)),
                (Some(Side::Internal), Some(crest)) => Some(crest.out_by(depth)),
                _ => None,
            };
            let shift = match &cut.infeed {
                Infeed::Flank(angle) => depth.mm() * angle.to_radians().tan(),
                _ => 0.0,
            };
            let step = Radial(depth.0 - before.0);
            before = depth;
            Pass {
                line: origin.line,
                span: origin.span,
                purpose,
                x_start: x
                    .zip(cut.taper.get())
                    .map(|(x, taper)| Diameter(x.0 + taper.double())),
                x,
                depth: Some(depth),
                step: Some(step),
                z_start: cut
                    .start_z
                    .get()
                    .map(|z| z + Length::from_mm(shift) * travel),
                z_end: cut.end_z.get(),
                lead: cut.lead.get(),
                lead_change: None,
                start_angle: cut.start_angle,
                spindle: origin.spindle,
                skip: origin.skip,
                legs: Vec::new(),
            }
        })
        .collect()
}

/// Says so when the list of passes was cut off.
fn note_limit(passes: &[Pass], unknown: &mut Vec<String>) {
    if passes.len() >= PASS_LIMIT {
        unknown.push(format!(
            "the cycle makes {PASS_LIMIT} passes or more; the list ends there"
        ));
    }
}

/// Adds the reasons of unknown values to the list.
fn note_unknown(cut: &Cut, unknown: &mut Vec<String>) {
    let mut add = |why: Option<&str>| {
        if let Some(why) = why
            && !unknown.iter().any(|known| known == why)
        {
            unknown.push(why.to_owned());
        }
    };
    add(cut.start_x.why());
    add(cut.start_z.why());
    add(cut.root_x.why());
    add(cut.end_z.why());
    add(cut.lead.why());
    add(cut.side.why());
    if !matches!(cut.law, Law::List) {
        add(cut.height.why());
    }
    add(cut.taper.why());
    match &cut.infeed {
        Infeed::Unknown(why) => add(Some(why)),
        Infeed::Alternating(_) => {
            add(Some(
                "where each pass starts along the axis is the control's own in this method",
            ));
        }
        Infeed::Radial | Infeed::Flank(_) => {}
    }
}

/// Start of the cut where the tool stands.
fn start(machine: &Machine) -> (Val<Diameter>, Val<Length>) {
    (
        Val::or_unknown(
            machine.at.x.map(Diameter),
            "the diameter where the tool starts is not written in this program",
        ),
        Val::or_unknown(
            machine.at.z,
            "the Z where the tool starts is not written in this program",
        ),
    )
}
