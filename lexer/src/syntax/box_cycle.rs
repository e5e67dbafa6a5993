//! The box cycle: one pass a block, `G92 X Z R F` (system A), G78 (B), G21 (C), G31 or G33 in the
//! family of the compound cycle, G82 in another. A block with X
//! alone repeats the box with the new diameter; Z, R and F stay in force.

use super::strokes::{Stroke, UNREAD_ANGLE};
use super::write::{Cannot, Style, Text, Words, ends_only, need};
use super::{compound, end_x, end_z, lead, position_scale, role_word};
use crate::block::Block;
use crate::evidence::Family;
use crate::machine::Machine;
use crate::moved::{Moved, Places};
use crate::section::{Cut, Pass, Role, RoleWord, Scale, Syntax, Val};
use crate::source::Mark;
use crate::units::{Lead, Length};

/// What stays in force from box to box.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Modal {
    z: Option<(Val<Length>, Option<RoleWord>)>,
    taper: Option<RoleWord>,
    taper_unknown: bool,
    start_angle: Option<RoleWord>,
    /// A lead written with E, or over a number of threads; F is modal by itself.
    lead: Option<(Val<Lead>, Vec<RoleWord>)>,
    /// What is in doubt.
    why: Vec<String>,
}

impl Places for Modal {
    fn follow(&mut self, moved: &mut Moved) {
        let Modal {
            z,
            taper,
            taper_unknown: _,
            start_angle,
            lead,
            why: _,
        } = self;
        if let Some((_, word)) = z {
            word.follow(moved);
        }
        taper.follow(moved);
        start_angle.follow(moved);
        if let Some((_, words)) = lead {
            words.follow(moved);
        }
    }
}

/// Reads one box. `fresh` says that no box is in force.
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
    // In two families R is a pull-out or nothing, and Q no start angle.
    let own = matches!(machine.family, Family::Compound | Family::BoxG82);
    let tapers: &[u8] = if own { b"I" } else { b"RI" };
    for &letter in tapers {
        if block.has(letter) {
            let scale = position_scale(machine, block, letter);
            modal.taper = role_word(block, letter, Role::Taper, scale);
            modal.taper_unknown = modal.taper.is_none();
        }
    }
    words.extend(modal.taper);
    if block.has(b'Q') && !own {
        modal.start_angle = role_word(block, b'Q', Role::StartAngle, Scale::Plain);
    }
    words.extend(modal.start_angle);
    if block.has_any(b"EF") && machine.family != Family::Compound {
        modal.lead = None;
    }
    match machine.family {
        Family::Compound if block.has_any(b"FJ") || modal.lead.is_none() => {
            let mut lead_words = Vec::new();
            let (lead, why) = compound::box_words(machine, block, &mut lead_words);
            modal.lead = Some((lead, lead_words));
            modal.why.extend(why);
        }
        Family::BoxG82 => {
            if block.has_any(b"EF") && !block.has(b'F') {
                modal.why.push("E without F in a box by G82".into());
            }
            for letter in *b"CPQ" {
                if block.has(letter) {
                    modal.why.push(format!(
                        "how {} turns the starts of this box is not worked out",
                        letter as char
                    ));
                }
            }
        }
        _ => {}
    }
    let lead = match &modal.lead {
        Some((lead, lead_words)) => {
            words.extend(lead_words);
            lead.clone()
        }
        None => {
            let mut lead_words = Vec::new();
            let lead = lead(machine, block, &mut lead_words);
            words.extend(&lead_words);
            if block.has(b'E') && !block.has(b'F') {
                modal.lead = Some((lead.clone(), lead_words));
            }
            lead
        }
    };
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
    let angle_unread = block.has(b'Q') && block.number_of(b'Q').is_none();
    let angle = angle_unread.then_some(UNREAD_ANGLE);
    let why = [x.why(), z.why(), taper.why(), angle];
    let mut why: Vec<String> = why.into_iter().flatten().map(str::to_owned).collect();
    why.extend(modal.why.iter().cloned());
    Stroke {
        syntax: Syntax::Box,
        block: Mark {
            value: (),
            span: block.span,
            line: block.line,
        },
        last_line: block.line,
        from: machine.at,
        clear_x: machine.at.x,
        retract_x: machine.at.x,
        side: None,
        x: x.get().map(|x| x.0),
        z: z.get(),
        taper,
        lead,
        lead_change: None,
        start_angle: modal.start_angle.and_then(|word| word.number.integer()),
        words,
        skip: block.skip,
        spindle: machine.spindle,
        tool: machine.tool,
        why,
        legs: Vec::new(),
        chained: false,
    }
}

/// Writes passes: a block with all words, then X alone while nothing else changes, and the rapid
/// code that ends the cycle.
pub(super) fn write(cut: &Cut, passes: &[Pass], style: &Style) -> Result<String, Cannot> {
    if passes.iter().any(|pass| !pass.legs.is_empty()) && !ends_only(passes, &cut.pull_out) {
        return Cannot::because("a pass is made of several pieces");
    }
    let habit = style.habits_of(Syntax::Box).and_then(|habits| habits.code);
    let code = style.code(match style.family {
        Family::Compound if habit == Some(310) => 310,
        Family::SystemB => 780,
        Family::SystemC => 210,
        Family::Compound => 330,
        Family::BoxG82 => 820,
        _ => 920,
    });
    let mut text = Text::new(style);
    let mut at = cut.start_z.get();
    let mut in_force: Option<Vec<String>> = None;
    for pass in passes {
        let (Some(x), Some(z), Some(lead)) = (pass.x, pass.z_end, pass.lead) else {
            return Cannot::because("a pass has no known diameter, end or lead");
        };
        text.skip = pass.skip;
        if pass.z_start != at
            && let Some(start) = pass.z_start
        {
            text.rapid_z(start);
            at = Some(start);
            in_force = None;
        }
        let taper = match pass.x_start {
            Some(start) => start.above(x).0,
            None => need(&cut.taper, "the taper")?,
        };
        let mut words = Words::new(style, Syntax::Box);
        words.add(Role::EndX, style.x(x));
        words.add(Role::EndZ, style.position('Z', z));
        let letter = style
            .habits_of(Syntax::Box)
            .map_or('R', |habits| habits.taper_letter as char);
        let letter = match style.family {
            Family::Compound | Family::BoxG82 => 'I',
            _ => letter,
        };
        let written = if style.mirrored { -taper } else { taper };
        words.add_unless(
            taper.is_zero(),
            Role::Taper,
            style.position(letter, written),
        );
        if let Some(angle) = pass.start_angle {
            if matches!(style.family, Family::Compound | Family::BoxG82) {
                return Cannot::because("this box has no known word for a start angle");
            }
            words.add(Role::StartAngle, format!("Q{angle}"));
        }
        words.add(Role::Lead, style.lead_word(Syntax::Box, lead));
        let line = words.line(code.clone());
        let x_word = style.x(x);
        let rest: Vec<String> = line
            .iter()
            .filter(|word| **word != x_word)
            .cloned()
            .collect();
        if in_force.as_ref() == Some(&rest) {
            let mut short = vec![x_word];
            // Controls differ in whether the start angle stays in force.
            short.extend(pass.start_angle.map(|angle| format!("Q{angle}")));
            text.line(&short);
        } else {
            text.line(&line);
            // A block that may be skipped leaves nothing in force for certain.
            in_force = Some(rest).filter(|_| pass.skip.is_none());
        }
    }
    text.skip = None;
    text.line(&[style.code(0)]);
    Ok(text.finish())
}
