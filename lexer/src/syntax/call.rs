//! Threading cycles called by their name, with arguments by their place: `CYCLE97(1.5,,0,-30,…)`.
//!
//! Places, meanings and the two laws of depths from memory, compared with published manual pages
//! where these say them: run-in and run-out extend the thread at both ends, the depth is radial,
//! the infeed angle is the one to the flank, negative from flank to flank, and the diameters are
//! those of the crest.

mod arguments;
mod chain;
mod coarse;
mod milling;
mod turning;
mod write;

pub(super) use write::write;

pub use coarse::coarse_pitch;

use self::arguments::Arguments;
use super::Draft;
use crate::block::{Block, Name};
use crate::machine::Machine;
use crate::section::milling::Milling;

/// A threading cycle that is called by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Call {
    /// Turning: CYCLE97 or CYCLE99.
    Turning(Order),
    /// Turning, up to three threads on end: CYCLE98.
    Chain,
    /// Milling: CYCLE90.
    Milling,
    /// Milling with arguments in an order that is not known here: CYCLE70.
    NotKnown,
}

/// The two orders of the arguments of a thread-turning call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Order {
    /// Lead first, then both ends, then both diameters: CYCLE97.
    LeadFirst,
    /// Each end with its diameter, the lead in the thirteenth place: CYCLE99.
    EndsFirst,
}

impl Order {
    pub(super) const fn other(self) -> Order {
        match self {
            Order::LeadFirst => Order::EndsFirst,
            Order::EndsFirst => Order::LeadFirst,
        }
    }

    /// The name of the cycle with this order.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Order::LeadFirst => "CYCLE97",
            Order::EndsFirst => "CYCLE99",
        }
    }
}

impl Call {
    fn named(name: &[u8]) -> Option<Call> {
        Some(match name.to_ascii_uppercase().as_slice() {
            b"CYCLE97" => Call::Turning(Order::LeadFirst),
            b"CYCLE99" => Call::Turning(Order::EndsFirst),
            b"CYCLE98" => Call::Chain,
            b"CYCLE90" => Call::Milling,
            b"CYCLE70" => Call::NotKnown,
            _ => return None,
        })
    }
}

/// The call in a block, and whether it stays in force for the blocks behind.
pub(crate) fn found<'a>(block: &'a Block, bytes: &[u8]) -> Option<(Call, &'a Name, bool)> {
    let mut modal = false;
    for name in &block.names {
        let text = name.span.of(bytes);
        modal |= text.eq_ignore_ascii_case(b"MCALL");
        if name.arguments.is_some()
            && let Some(call) = Call::named(text)
        {
            return Some((call, name, modal));
        }
    }
    None
}

/// Whether a block is a bare MCALL, which ends the modal call.
pub(crate) fn ends_modal(block: &Block, bytes: &[u8]) -> bool {
    let mut names = block.names.iter();
    names.any(|name| name.span.of(bytes).eq_ignore_ascii_case(b"MCALL"))
        && block.names.iter().all(|name| name.arguments.is_none())
}

/// Reads a call, with what only a milled thread has, or says why it is not read.
pub(crate) fn read(
    machine: &Machine,
    block: &Block,
    bytes: &[u8],
    call: Call,
    name: &Name,
) -> Result<(Draft, Option<Milling>), &'static str> {
    let Some(span) = name.arguments else {
        return Err("a threading cycle is called without its arguments");
    };
    if span.of(bytes).last() != Some(&b')') {
        return Err("the bracket of a threading cycle's arguments is not closed");
    }
    let arguments = Arguments::split(span, bytes);
    match call {
        Call::Turning(order) => Ok((turning::read(machine, block, &arguments, order)?, None)),
        Call::Chain => Ok((chain::read(machine, block, &arguments)?, None)),
        Call::Milling => {
            let (draft, milling) = milling::read(machine, block, &arguments)?;
            Ok((draft, Some(milling)))
        }
        Call::NotKnown => {
            Err("the order of the arguments of this thread-milling cycle is not known")
        }
    }
}
