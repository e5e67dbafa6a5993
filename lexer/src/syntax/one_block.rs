//! The one-block multi-pass cycle: `G76 X Z I K D A F P Q`.
//!
//! I taper (radius at the start minus radius at the end), K height, D first cut, A included tool
//! angle, F lead, P method 1 to 4, Q start angle in thousandths of a degree. Depths are radial.
//! Methods from memory (method 1 also on a published manual page).

use super::strokes::UNREAD_ANGLE;
use super::write::{Cannot, Run, Style, Text, Words, need};
use super::{
    Draft, Origin, Required, crest_of, depth_scale, end_x, end_z, lead, mirror, note_limit,
    note_unknown, passes_of, role_word, side_of, start, taper,
};
use crate::block::Block;
use crate::law::Law;
use crate::machine::Machine;
use crate::number::Number;
use crate::section::{Cut, Infeed, PullOut, Role, RoleWord, Scale, Syntax, Val};
use crate::units::Radial;

/// Whether a multi-pass block is written this way.
#[must_use]
pub fn is_one_block(block: &Block) -> bool {
    block.has_any(b"XZUW") && block.has(b'K') && block.has_any(b"DA") && !block.has_any(b"JY")
}

/// Reads the block.
#[must_use]
pub fn read(machine: &Machine, block: &Block) -> Draft {
    let mut words: Vec<RoleWord> = Vec::new();
    let mut unknown = Vec::new();
    let mut missing = Vec::new();
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
    let height = depth("K", Role::Height, "the thread height K");
    let first = depth("D", Role::FirstCut, "the first cut D");
    let taper = taper(machine, block, b'I', &mut words);
    let angle = role_word(block, b'A', Role::ToolAngle, Scale::Plain);
    words.extend(angle);
    let method_word = role_word(block, b'P', Role::Method, Scale::Plain);
    words.extend(method_word);
    let method = match method_word.map(|word| word.number.integer()) {
        None if block.has(b'P') => Err("the method P is a variable or an expression"),
        None => Ok(1),
        Some(Some(method @ 1..=4)) => Ok(method as u8),
        Some(_) => Err("P is no cutting method from 1 to 4"),
    };
    let start_angle = role_word(block, b'Q', Role::StartAngle, Scale::Plain);
    words.extend(start_angle);
    let half_angle = angle.map_or(0.0, |word| word.number.value() / 2.0);
    let infeed = match method {
        _ if block.has(b'A') && angle.is_none() => {
            Infeed::Unknown("the tool angle A is a variable or an expression".into())
        }
        Err(why) => Infeed::Unknown(why.into()),
        _ if half_angle == 0.0 => Infeed::Radial,
        Ok(2 | 4) => Infeed::Alternating(half_angle),
        Ok(_) => Infeed::Flank(half_angle),
    };
    // Without a method there is no law, and so no list of passes.
    let (first, method) = match method {
        Ok(method) => (first, method),
        Err(why) => (Val::Unknown(why.into()), 1),
    };
    unknown.push(
        "minimum cut, finishing allowance and pull-out are settings of the control in this \
         cycle; the passes are those of the words alone"
            .into(),
    );
    if block.has(b'Q') && start_angle.is_none() {
        unknown.push(UNREAD_ANGLE.into());
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
        start_angle: start_angle.and_then(|word| word.number.integer()),
        law: Law::Method { first, method },
        infeed,
        pull_out: PullOut::Setting,
    };
    mirror(&mut cut, &mut unknown);
    cut.crest_x = crest_of(&cut);
    let passes = passes_of(&cut, &Origin::of(machine, block));
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    if let Law::Method { first, .. } = &cut.law
        && let Some(why) = first.why()
    {
        unknown.push(why.to_owned());
    }
    Draft {
        syntax: Syntax::OneBlock,
        cut,
        passes,
        passes_certain: false,
        words,
        unknown,
        missing,
        span: block.span,
        line: block.line,
    }
}

/// The angle word's value in degrees, where it is a literal.
#[must_use]
pub fn included_angle(block: &Block) -> Option<f64> {
    block.number_of(b'A').map(Number::value)
}

/// Writes a cut: one block a start.
pub(super) fn write(cut: &Cut, law: &Law, runs: &[Run], style: &Style) -> Result<String, Cannot> {
    let Law::Method { first, method } = law else {
        return Cannot::because("the depths follow no law of this cycle");
    };
    let root_x = need(&cut.root_x, "the end diameter")?;
    let end_z = need(&cut.end_z, "the end")?;
    let lead = need(&cut.lead, "the lead")?;
    let height = need(&cut.height, "the thread height")?;
    let first = need(first, "the first cut")?;
    let taper = need(&cut.taper, "the taper")?;
    let half_angle = match &cut.infeed {
        Infeed::Radial => 0.0,
        Infeed::Flank(angle) | Infeed::Alternating(angle) => *angle,
        Infeed::Unknown(why) => return Cannot::because(format!("the infeed: {why}")),
    };
    let mut text = Text::new(style);
    let mut at = cut.start_z.get();
    for run in runs {
        text.skip = run.skip;
        if run.z != at
            && let Some(z) = run.z
        {
            text.rapid_z(z);
            at = run.z;
        }
        let mut words = Words::new(style, Syntax::OneBlock);
        words.add(Role::EndX, style.x(root_x));
        words.add(Role::EndZ, style.position('Z', end_z));
        let written = if style.mirrored { -taper } else { taper };
        words.add_unless(taper.is_zero(), Role::Taper, style.position('I', written));
        let short = words.in_increments(Role::Height, false);
        words.add(Role::Height, style.depth('K', height, short));
        let short = words.in_increments(Role::FirstCut, false);
        words.add(Role::FirstCut, style.depth('D', first, short));
        words.add_unless(
            half_angle == 0.0,
            Role::ToolAngle,
            style.plain('A', half_angle * 2.0),
        );
        words.add_unless(
            *method == 1,
            Role::Method,
            style.plain('P', f64::from(*method)),
        );
        if let Some(angle) = run.angle {
            words.add(Role::StartAngle, format!("Q{angle}"));
        }
        words.add(Role::Lead, style.lead_word(Syntax::OneBlock, lead));
        text.line(&words.line(style.code(760)));
    }
    Ok(text.finish())
}
