//! How an activation begins: feed, hand, what synchronises it; by a code or by a call.

use super::{Active, Around, Call, Code, feed};
use crate::evidence::Family;
use crate::machine::Machine;
use crate::section::tapping::{Hand, Rigid, Tapping, Way};
use crate::section::{Turning, Val};
use crate::source::Mark;
use crate::units::{Lead, Length};

impl Active {
    /// Starts an activation. The first hole is not added yet.
    pub(crate) fn start(code: Code, rigid: Option<Rigid>, around: &Around<'_>) -> Active {
        let machine = around.machine;
        let axis = code.axis.index();
        let mut words = Vec::new();
        let mut missing = Vec::new();
        let mut unknown = Vec::new();
        let feed = match code.way {
            Way::Stroke | Way::Interpolated => feed::pitch_word(around, &mut words, &mut missing),
            _ => feed::feed(code.way, around, &mut words, &mut missing, &mut unknown),
        };
        let (hand, hand_by) = hand(code, &feed.lead, machine);
        let rpm = machine.spindle.rpm();
        let tapping = Tapping {
            way: code.way,
            code: code.code,
            axis: code.axis,
            hand,
            hand_by,
            holes: Vec::new(),
            count: 0,
            synchronised: synchronised(code, rigid.is_some(), machine.family),
            rigid,
            per_minute: feed.per_minute,
            rpm,
            retract_rpm: match (code.way, around.block.number_of(b'I'), rpm) {
                (Way::Stroke, Some(factor), Some(rpm)) if factor.value() >= 1.0 => {
                    Some(rpm * factor.value())
                }
                _ => None,
            },
            peck: None,
            size: None,
            slanted: None,
            returns: Vec::new(),
            left_active: Vec::new(),
            cancelled: None,
        };
        Active {
            tapping,
            blocks: Vec::new(),
            passes: Vec::new(),
            words,
            unknown,
            missing,
            lead: feed.lead.map(Lead::abs),
            machine: {
                let mut machine = machine.clone();
                machine.tool = around.tool;
                machine
            },
            bottom: Val::Unknown("the bottom of the hole is not written".into()),
            clear: Val::Unknown("the R plane is not written".into()),
            initial: around.space.at[axis],
            all_drilled: true,
            inside: false,
            over: false,
        }
    }

    /// Starts an activation by a call.
    pub(crate) fn of_call(call: &Call, way: Way, around: &Around<'_>) -> Active {
        let machine = around.machine;
        let code = Code {
            way,
            code: Mark {
                value: 0,
                span: call.span,
                line: around.block.line,
            },
            axis: around.space.normal(),
        };
        let mut active = Active::start(code, None, around);
        (active.words, active.unknown, active.missing) = Default::default();
        let units = machine.units;
        let pitch = call.pitch(units);
        let size = call.size();
        active.tapping.per_minute = None;
        active.lead = match (pitch, size) {
            (Some(pitch), None) => Val::Exact(Lead::per_turn(pitch).abs()),
            (Some(_), Some(_)) => Val::Unknown("the call names both a size and a pitch".into()),
            (None, Some(_)) => Val::Unknown("the call names the size, whose pitch holds".into()),
            (None, None) => Val::Unknown("the pitch of the call is not known".into()),
        };
        active.tapping.size = size.filter(|_| pitch.is_none()).map(f64::abs);
        let sign = pitch.map(Length::mm).or(size);
        active.tapping.hand = match sign {
            Some(sign) if sign < 0.0 => Val::Exact(Hand::Left),
            Some(_) => Val::Exact(Hand::Right),
            None => Val::Unknown("the sign of the pitch is not known".into()),
        };
        active.tapping.hand_by = "the sign of the pitch";
        (active.tapping.rpm, active.tapping.retract_rpm) = call.speeds();
        if active.tapping.rpm.is_none() && way == Way::FloatingCall {
            active.tapping.rpm = machine.spindle.rpm();
        }
        active.clear = Val::or_unknown(call.clear(units), "the reference plane is not known");
        active.bottom = Val::or_unknown(call.bottom(units), "the depth of the call is not known");
        if call.open() {
            active.say("an argument of the call is an expression, which is not evaluated");
        }
        active
    }
}

/// Hand of the thread, and what tells it.
fn hand(code: Code, lead: &Val<Lead>, machine: &Machine) -> (Val<Hand>, &'static str) {
    let by_spindle = || {
        let hand = match machine.spindle.turning.map(|turning| turning.value) {
            Some(Turning::Clockwise) => Some(Hand::Right),
            Some(Turning::Counterclockwise) => Some(Hand::Left),
            _ => None,
        };
        (
            Val::or_unknown(hand, "no M3 or M4 tells the direction of the spindle"),
            "the direction of the spindle",
        )
    };
    let mill = matches!(machine.family, Family::Mill | Family::Interpreter);
    match (code.way, code.code.value) {
        (Way::Cycle, 740) | (Way::RigidCycle, 843) => (Val::Exact(Hand::Left), "the code"),
        (Way::Cycle, _) if mill => (Val::Exact(Hand::Right), "the code"),
        (Way::RigidCycle, _) => (Val::Exact(Hand::Right), "the code"),
        (Way::Interpolated, _) => (
            match lead.get() {
                Some(lead) if lead.mm() < 0.0 => Val::Exact(Hand::Left),
                Some(_) => Val::Exact(Hand::Right),
                None => Val::Unknown("the sign of the lead is not known".into()),
            },
            "the sign of K",
        ),
        // On a turning machine the same code taps both hands.
        _ => by_spindle(),
    }
}

fn synchronised(code: Code, rigid: bool, family: Family) -> Val<bool> {
    match code.way {
        Way::RigidCycle | Way::Stroke | Way::Interpolated | Way::Call => Val::Exact(true),
        Way::FloatingMove | Way::FloatingCall => Val::Exact(false),
        Way::Cycle if rigid => Val::Exact(true),
        Way::Cycle if family == Family::Interpreter => Val::Exact(false),
        Way::Cycle => Val::Unknown(
            "no word says whether the feed follows the spindle; a setting of the control may"
                .into(),
        ),
    }
}
