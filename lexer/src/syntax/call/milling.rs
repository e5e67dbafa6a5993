//! `CYCLE90(RTP,RFP,SDIS,DP,DPR,DIATH,KDIAM,PIT,FFR,CDIR,TYPTH,CPA,CPO)`: a thread is milled on a
//! helix from the reference plane RFP to the depth DP, or DPR deep. DIATH is the nominal diameter,
//! KDIAM the core diameter; CDIR 2 goes clockwise and 3 counterclockwise, TYPTH 0 is a hole and 1 a
//! bolt. Order and numbers from memory. Which way the tool gets onto the helix is the control's.

use super::arguments::{Argument, Arguments};
use crate::block::Block;
use crate::law::Law;
use crate::machine::Machine;
use crate::section::milling::{Compensation, Milling};
use crate::section::tapping::{Axis, Hand};
use crate::section::{Cut, Infeed, Pass, PullOut, Purpose, Role, Scale, Side, Syntax, Val};
use crate::syntax::helix::climb;
use crate::syntax::{Draft, note_unknown};
use crate::units::{Diameter, Lead, Length, Radial, Units};

/// Reads the call, or says why it is not read.
pub(super) fn read(
    machine: &Machine,
    block: &Block,
    all: &Arguments,
) -> Result<(Draft, Milling), &'static str> {
    let units = machine.units;
    if all.len() > 13 {
        return Err("the call has more arguments than are known");
    }
    let at = |place, name| all.at(place, name);
    let counterclockwise = match at(9, "CDIR").number().and_then(|cdir| cdir.integer()) {
        Some(2) => false,
        Some(3) => true,
        _ => return Err("CDIR of a thread-milling cycle is neither 2 nor 3"),
    };
    let (pitch, depth, by) = (at(7, "PIT"), at(3, "DP"), at(4, "DPR"));
    let start_z = at(1, "RFP").length(units);
    let end_z = match (depth.is_empty(), start_z.get()) {
        (false, _) => depth.length(units),
        (true, Some(start)) => by.length(units).map(|by| start - by.abs()),
        (true, None) => start_z.clone(),
    };
    let side = side(at(10, "TYPTH"));
    let (major, core) = (
        diameter(at(5, "DIATH"), units),
        diameter(at(6, "KDIAM"), units),
    );
    let (crest_x, root_x) = match side.get() {
        Some(Side::External) => (major, core),
        Some(Side::Internal) => (core, major),
        None => (undecided(), undecided()),
    };
    let lead = Val::or_unknown(
        pitch
            .number()
            .and_then(|number| number.real(units))
            .filter(|lead| !lead.is_zero())
            .map(|lead| Lead::per_turn(lead.abs())),
        "PIT, the lead, is not a number above 0",
    );
    let hand = match (start_z.get(), end_z.get()) {
        (Some(start), Some(end)) if start != end => {
            Val::Exact(if counterclockwise == (end > start) {
                Hand::Right
            } else {
                Hand::Left
            })
        }
        _ => Val::Unknown("which way the helix goes along its axis is not known".into()),
    };
    let cut = Cut {
        height: height(&crest_x, &root_x),
        side: side.clone(),
        start_x: Val::Unknown("the way onto the helix is the control's".into()),
        start_z: start_z.clone(),
        root_x,
        end_z: end_z.clone(),
        crest_x,
        taper: Val::Exact(Length::ZERO),
        lead,
        starts: 1,
        start_angle: None,
        law: Law::List,
        infeed: Infeed::Radial,
        pull_out: PullOut::None,
    };
    let pass = Pass {
        line: block.line,
        span: block.span,
        purpose: Purpose::Rough,
        x_start: None,
        x: None,
        depth: None,
        step: None,
        z_start: start_z.get(),
        z_end: end_z.get(),
        lead: cut.lead.get(),
        lead_change: None,
        start_angle: None,
        spindle: machine.spindle,
        skip: block.skip,
        legs: Vec::new(),
    };
    let mut unknown =
        vec!["the helix is the control's own; its entry, exit and turns are not listed".to_owned()];
    note_unknown(&cut, &mut unknown);
    let milling = Milling {
        axis: Axis::Z,
        counterclockwise,
        hand,
        climb: climb(&side, counterclockwise, machine),
        compensation: (Compensation::Off, None),
        helices: Vec::new(),
        evidence: vec!["a thread-milling cycle is called by its name"],
        stated: true,
    };
    unknown.extend(milling.climb.why().map(str::to_owned));
    let mut words = Vec::new();
    words.extend(pitch.word(block, Role::Lead, Scale::Real(units)));
    words.extend(depth.word(block, Role::EndZ, Scale::Real(units)));
    words.sort_by_key(|word| word.span.start);
    Ok((
        Draft {
            syntax: Syntax::Call,
            cut,
            passes: vec![pass],
            passes_certain: false,
            words,
            unknown,
            missing: Vec::new(),
            span: block.span,
            line: block.line,
        },
        milling,
    ))
}

fn side(kind: Argument) -> Val<Side> {
    match kind.number().and_then(|kind| kind.integer()) {
        Some(0) => Val::Exact(Side::Internal),
        Some(1) => Val::Exact(Side::External),
        _ => Val::Unknown("TYPTH is neither 0 for a hole nor 1 for a bolt".into()),
    }
}

fn undecided() -> Val<Diameter> {
    Val::Unknown("whether a hole or a bolt is milled is not known".into())
}

fn diameter(argument: Argument, units: Units) -> Val<Diameter> {
    argument.length(units).map(|d| Diameter(d.abs()))
}

fn height(crest: &Val<Diameter>, root: &Val<Diameter>) -> Val<Radial> {
    Val::or_unknown(
        crest
            .get()
            .zip(root.get())
            .map(|(crest, root)| Radial((crest.0 - root.0).abs().half())),
        "DIATH or KDIAM is not known",
    )
}
