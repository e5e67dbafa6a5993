//! The box cycle: one pass a block, `G92 X Z R F` (system A), G78 (B), G21 (C). A block with X
//! alone repeats the box with the new diameter; Z, R and F stay in force.

use super::strokes::Stroke;
use super::{end_x, end_z, lead, position_scale, role_word};
use crate::block::Block;
use crate::machine::Machine;
use crate::section::{Role, RoleWord, Scale, Syntax, Val};
use crate::source::Mark;
use crate::units::Length;

/// What stays in force from box to box.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Modal {
    z: Option<(Val<Length>, Option<RoleWord>)>,
    taper: Option<RoleWord>,
    taper_unknown: bool,
    start_angle: Option<RoleWord>,
}

/// Reads one box. `fresh` says that the block writes the cycle's code.
#[must_use]
pub fn read(machine: &Machine, block: &Block, modal: &mut Modal, fresh: bool) -> Stroke {
    if fresh {
        *modal = Modal::default();
    }
    let mut words: Vec<RoleWord> = Vec::new();
    let x = end_x(machine, block, &mut words);
    if block.has_any(b"ZW") || modal.z.is_none() {
        let mut z_words = Vec::new();
        let z = end_z(machine, block, &mut z_words);
        modal.z = Some((z, z_words.pop()));
    }
    let (z, z_word) = modal
        .z
        .clone()
        .unwrap_or((Val::Unknown(String::new()), None));
    words.extend(z_word);
    for letter in [b'R', b'I'] {
        if block.has(letter) {
            let scale = position_scale(machine, block, letter);
            modal.taper = role_word(block, letter, Role::Taper, scale);
            modal.taper_unknown = modal.taper.is_none();
        }
    }
    words.extend(modal.taper);
    if block.has(b'Q') {
        modal.start_angle = role_word(block, b'Q', Role::StartAngle, Scale::Plain);
    }
    words.extend(modal.start_angle);
    let lead = lead(machine, block, &mut words);
    let taper = if modal.taper_unknown {
        Val::Unknown("the taper is a variable or an expression".into())
    } else {
        Val::Exact(
            modal
                .taper
                .and_then(|word| word.length())
                .unwrap_or(Length::ZERO),
        )
    };
    Stroke {
        syntax: Syntax::Box,
        block: Mark {
            value: (),
            span: block.span,
            line: block.line,
        },
        from: machine.at,
        clear_x: machine.at.x,
        x: x.get().map(|x| x.0),
        z: z.get(),
        taper,
        lead,
        start_angle: modal.start_angle.and_then(|word| word.number.integer()),
        words,
        skip: block.skip,
        spindle: machine.spindle,
        tool: machine.tool,
        why: [x.why(), z.why()]
            .into_iter()
            .flatten()
            .map(str::to_owned)
            .collect(),
        legs: Vec::new(),
        chained: false,
    }
}
