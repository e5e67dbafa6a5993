//! The two-block multi-pass cycle: `G76 P(m r a) Q R`, then `G76 X Z R P Q F`; G78 in system C.
//!
//! Block 1: P six digits (finishing repeats, pull-out in tenths of a lead, included tool angle),
//! Q minimum cut, R finishing allowance. Block 2: R taper (radius at the start minus radius at the
//! end), P height, Q first cut, F lead. Depths are radial. Word meanings and the expansion follow
//! the usual description of the cycle (from memory, compared with published manual pages).

use super::write::{Cannot, Run, Style, Text, Words, need};
use super::{
    Draft, Origin, Required, crest_of, depth_scale, end_x, end_z, lead, mirror, note_limit,
    note_unknown, passes_of, role_word, side_of, start, taper,
};
use crate::block::Block;
use crate::evidence::Family;
use crate::law::Law;
use crate::machine::Machine;
use crate::moved::places;
use crate::number::Number;
use crate::program::Settings;
use crate::section::{Cut, Infeed, Missing, PullOut, Role, RoleWord, Scale, Syntax, Val};
use crate::source::{Mark, Span};
use crate::units::{Lead, Radial};

/// What the first block wrote, in force until another first block changes it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Setup {
    /// P: six digits.
    pub packed: Option<RoleWord>,
    /// Q: minimum cut.
    pub min_cut: Option<RoleWord>,
    /// R: finishing allowance.
    pub finish: Option<RoleWord>,
    /// Whether the latest P, Q and R are expressions, which are not evaluated.
    pub expressions: [bool; 3],
    /// The latest first block.
    pub block: Option<Mark<()>>,
}

places!(Setup { in packed, min_cut, finish, block; other expressions; });

/// Whether a multi-pass block is a first block.
#[must_use]
pub fn is_setup(block: &Block) -> bool {
    !block.has_any(b"XZUW") && block.has_any(b"PQR") && !block.has_any(b"YIJKDA")
}

/// Whether a multi-pass block is a second block: P or Q, or behind a first block an end diameter
/// and a lead, both P and Q being forgotten.
#[must_use]
pub fn is_main(block: &Block, setup: &Setup) -> bool {
    let words = block.has_any(b"PQ")
        || setup.block.is_some() && block.has_any(b"XU") && block.has_any(b"FE");
    block.has_any(b"XZUW") && words && !block.has_any(b"YJKDA")
}

/// Reads a first block.
pub fn read_setup(machine: &Machine, block: &Block, setup: &mut Setup) {
    setup.block = Some(Mark {
        value: (),
        span: block.span,
        line: block.line,
    });
    let words = [
        (b'P', Role::Packed, Scale::Plain, &mut setup.packed),
        (
            b'Q',
            Role::MinCut,
            depth_scale(machine, block, b'Q'),
            &mut setup.min_cut,
        ),
        (
            b'R',
            Role::FinishAllowance,
            depth_scale(machine, block, b'R'),
            &mut setup.finish,
        ),
    ];
    for (index, (letter, role, scale, kept)) in words.into_iter().enumerate() {
        if block.has(letter) {
            *kept = role_word(block, letter, role, scale);
            setup.expressions[index] = kept.is_none();
        }
    }
}

/// The six digits of P as finishing repeats, tenths of a lead, included angle in degrees. `None`
/// when it is no whole number of at most six digits.
#[must_use]
pub fn unpack(number: Number) -> Option<(u32, u32, u32)> {
    let digits = u32::try_from(number.integer()?)
        .ok()
        .filter(|&digits| digits <= 999_999)?;
    Some((digits / 10_000, digits / 100 % 100, digits % 100))
}

/// Reads a second block with the first block in force.
#[must_use]
pub fn read(machine: &Machine, block: &Block, setup: &Setup, settings: &Settings) -> Draft {
    let mut words: Vec<RoleWord> = Vec::new();
    let mut unknown = Vec::new();
    let mut missing = Vec::new();
    let fresh = setup.block.map(|mark| mark.line);
    let mut inherited = |word: Option<RoleWord>, role: Role, letters, words: &mut Vec<RoleWord>| {
        let in_first_block = word.filter(|word| Some(word.line) == fresh);
        if let Some(word) = in_first_block {
            words.push(word);
        } else {
            missing.push(Missing {
                role,
                letters,
                block: setup.block.map_or(block.span, |mark| mark.span),
                line: setup.block.map_or(block.line, |mark| mark.line),
                in_force: word.map(|word| Mark {
                    value: word.span,
                    span: word.value_span,
                    line: word.line,
                }),
            });
        }
        word
    };
    let packed = inherited(setup.packed, Role::Packed, "P", &mut words);
    let min_word = inherited(setup.min_cut, Role::MinCut, "Q", &mut words);
    let finish_word = inherited(setup.finish, Role::FinishAllowance, "R", &mut words);

    let root_x = end_x(machine, block, &mut words);
    let end_z = end_z(machine, block, &mut words);
    let lead = lead(machine, block, &mut words);
    let mut depth = |letter: &'static str, role, name| {
        let required = Required {
            role,
            letter,
            name,
            scale: depth_scale(machine, block, letter.as_bytes()[0]),
            divisor: 1,
        };
        required.read(block, &mut words, &mut missing).map(Radial)
    };
    let height = depth("P", Role::Height, "the thread height P");
    let first = depth("Q", Role::FirstCut, "the first cut Q");
    let taper = taper(machine, block, b'R', &mut words);

    let from_setting = |index: usize, word: Option<RoleWord>, fact, name: &str| match word {
        Some(word) => Val::or_unknown(
            word.length().map(Radial),
            format!("{name} is too long a number"),
        ),
        None if setup.expressions[index] => Val::Unknown(format!(
            "{name} is a variable or an expression without a known value"
        )),
        None => Val::or_unknown(
            fact,
            format!("{name} is not written in the first block; the control's own setting holds"),
        ),
    };
    let min = from_setting(1, min_word, settings.min_cut, "the minimum depth of cut Q");
    let finish = from_setting(
        2,
        finish_word,
        settings.finish_allowance,
        "the finishing allowance R",
    );
    let digits = packed.and_then(|word| unpack(word.number));
    let no_digits = match packed {
        Some(_) => "P of the first block is not six digits",
        None if setup.expressions[0] => {
            "P of the first block is a variable or an expression without a known value"
        }
        None => "P of the first block is not written; the control's own setting holds",
    };
    let (repeats, pull_out, infeed) = match digits {
        Some((repeats, pull_out, angle)) => (
            Val::Exact(repeats),
            if pull_out == 0 {
                PullOut::None
            } else {
                PullOut::TenthsOfLead(pull_out)
            },
            if angle == 0 {
                Infeed::Radial
            } else {
                Infeed::Flank(f64::from(angle) / 2.0)
            },
        ),
        None => (
            Val::Unknown(no_digits.to_owned()),
            PullOut::Setting,
            Infeed::Unknown(no_digits.to_owned()),
        ),
    };
    let certain = min.get().is_some() && finish.get().is_some() && repeats.get().is_some();
    for why in [min.why(), finish.why(), repeats.why()]
        .into_iter()
        .flatten()
    {
        unknown.push(why.to_owned());
    }
    let (start_x, start_z) = start(machine);
    let mut cut = Cut {
        side: side_of(&start_x, &root_x),
        start_x,
        start_z,
        root_x,
        end_z,
        crest_x: Val::Unknown(String::new()),
        height,
        taper,
        lead,
        starts: 1,
        start_angle: None,
        law: Law::SquareRoot {
            first,
            min,
            finish,
            repeats,
        },
        infeed,
        pull_out,
    };
    mirror(&mut cut, &mut unknown);
    cut.crest_x = crest_of(&cut);
    let passes = passes_of(&cut, &Origin::of(machine, block));
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    if let Law::SquareRoot { first, .. } = &cut.law
        && let Some(why) = first.why()
    {
        unknown.push(why.to_owned());
    }
    let span = setup
        .block
        .filter(|_| !words.is_empty())
        .map_or(block.span, |_| block.span);
    Draft {
        syntax: Syntax::TwoBlock,
        cut,
        passes,
        passes_certain: certain,
        words,
        unknown,
        missing,
        span,
        line: block.line,
    }
}

/// Spans of the first block, when it directly belongs to a second block read now.
#[must_use]
pub fn setup_span(setup: &Setup) -> Option<(Span, u32)> {
    setup.block.map(|mark| (mark.span, mark.line))
}

/// Writes a cut: both blocks for each start.
pub(super) fn write(cut: &Cut, law: &Law, runs: &[Run], style: &Style) -> Result<String, Cannot> {
    let Law::SquareRoot {
        first,
        min,
        finish,
        repeats,
    } = law
    else {
        return Cannot::because("the depths follow no law of this cycle");
    };
    let root_x = need(&cut.root_x, "the end diameter")?;
    let end_z = need(&cut.end_z, "the end")?;
    let lead = need(&cut.lead, "the lead")?;
    let height = need(&cut.height, "the thread height")?;
    let first = need(first, "the first cut")?;
    let taper = need(&cut.taper, "the taper")?;
    let packed = pack(repeats.get(), &cut.pull_out, &cut.infeed, lead)?;
    let code = style.code(if style.family == Family::SystemC {
        780
    } else {
        760
    });
    let mut text = Text::new(style);
    let mut at = cut.start_z.get();
    for run in runs {
        if run.angle.is_some_and(|angle| angle != 0) {
            return Cannot::because("this cycle has no word for a start angle");
        }
        text.skip = run.skip;
        if run.z != at
            && let Some(z) = run.z
        {
            text.rapid_z(z);
            at = run.z;
        }
        let mut words = Words::new(style, Syntax::TwoBlock);
        if let Some(packed) = packed {
            words.add(Role::Packed, format!("P{packed:06}"));
        }
        if let Some(min) = min.get() {
            let short = words.in_increments(Role::MinCut, true);
            words.add(Role::MinCut, style.depth('Q', min, short));
        }
        if let Some(finish) = finish.get() {
            let short = words.in_increments(Role::FinishAllowance, false);
            words.add(Role::FinishAllowance, style.depth('R', finish, short));
        }
        let line = words.line(code.clone());
        if line.len() > 1 {
            text.line(&line);
        }
        let mut words = Words::new(style, Syntax::TwoBlock);
        words.add(Role::EndX, style.x(root_x));
        words.add(Role::EndZ, style.position('Z', end_z));
        let written = if style.mirrored { -taper } else { taper };
        words.add_unless(taper.is_zero(), Role::Taper, style.position('R', written));
        let short = words.in_increments(Role::Height, true);
        words.add(Role::Height, style.depth('P', height, short));
        let short = words.in_increments(Role::FirstCut, true);
        words.add(Role::FirstCut, style.depth('Q', first, short));
        words.add(Role::Lead, style.lead_word(Syntax::TwoBlock, lead));
        text.line(&words.line(code.clone()));
    }
    Ok(text.finish())
}

/// The six digits of P; none when none of their three parts is known, which leaves them to the
/// control as a program without the word does.
fn pack(
    repeats: Option<u32>,
    pull_out: &PullOut,
    infeed: &Infeed,
    lead: Lead,
) -> Result<Option<u32>, Cannot> {
    let tenths = match pull_out {
        PullOut::None => Some(0),
        PullOut::TenthsOfLead(tenths) => Some(*tenths),
        PullOut::Axial(length) => Some((length.mm().abs() * 10.0 / lead.mm().abs()).round() as u32),
        PullOut::Setting => None,
    };
    let half_angle = match infeed {
        Infeed::Radial => Some(0.0),
        Infeed::Flank(angle) => Some(*angle),
        Infeed::Alternating(_) => {
            return Cannot::because("this cycle does not change from flank to flank");
        }
        Infeed::Unknown(_) => None,
    };
    match (repeats, tenths, half_angle) {
        (None, None, None) => Ok(None),
        (Some(repeats), Some(tenths), Some(half_angle)) => {
            let angle = (2.0 * half_angle).round();
            if (2.0 * half_angle - angle).abs() > 1e-9 || !(0.0..100.0).contains(&angle) {
                return Cannot::because(format!(
                    "the tool angle of {} degrees is not two digits",
                    2.0 * half_angle
                ));
            }
            if repeats > 99 || tenths > 99 {
                return Cannot::because(
                    "more than 99 finishing passes or 9.9 leads of pull-out do not fit P",
                );
            }
            Ok(Some(repeats * 10_000 + tenths * 100 + angle as u32))
        }
        _ => Cannot::because(
            "P of the first block needs finishing passes, pull-out and tool angle together, and \
             one of them is not known",
        ),
    }
}
