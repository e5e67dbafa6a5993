//! The words of each threading cycle and stroke, in the order in which they are usually written,
//! with their meaning and unit. Facts as in the readers of `lexer::syntax`.

use lexer::block::Block;
use lexer::codes::{Meaning, meaning};
use lexer::evidence::Family;
use lexer::syntax::{one_block, two_block};

/// A cycle that a block may be.
#[derive(Debug)]
pub(super) struct Cycle {
    /// What it does.
    pub(super) about: &'static str,
    /// Letter and meaning.
    pub(super) words: &'static [(u8, &'static str)],
}

const STROKE: Cycle = Cycle {
    about: "One synchronised stroke from where the tool stands. The feed word is the lead.",
    words: &[
        (
            b'X',
            "X: end diameter; without it the stroke is parallel to the axis",
        ),
        (b'Z', "Z: end along the axis"),
        (b'F', "F: lead, per turn along the longer travel"),
        (
            b'Q',
            "Q: start angle in thousandths of a degree, without a point; not kept for the next block",
        ),
    ],
};

const STROKE_K: Cycle = Cycle {
    about: "One synchronised stroke from where the tool stands. K is measured along the path.",
    words: &[
        (b'X', "X: end diameter (G7) or radius (G8)"),
        (b'Z', "Z: end along the axis"),
        (b'K', "K: distance per turn along the path"),
    ],
};

const BOX: Cycle = Cycle {
    about: "One pass: rapid to X, thread to Z, rapid out and back. The next block needs only its X.",
    words: &[
        (b'X', "X: diameter of this pass"),
        (b'Z', "Z: end along the axis"),
        (
            b'R',
            "R: radius at the start minus radius at the end, over the whole stroke",
        ),
        (b'F', "F: lead"),
        (
            b'Q',
            "Q: start angle in thousandths of a degree, without a point",
        ),
    ],
};

const SETUP: Cycle = Cycle {
    about: "First block of the cycle in two blocks. What is left out stays as it was last set.",
    words: &[
        (
            b'P',
            "P: six digits: finishing passes, pull-out in tenths of a lead, included angle of the tool",
        ),
        (
            b'Q',
            "Q: minimum depth of cut, radial, in least increments without a point",
        ),
        (b'R', "R: finishing allowance, radial, with a point"),
    ],
};

const MAIN: Cycle = Cycle {
    about: "Second block of the cycle in two blocks: the depth of pass n is Q times the square root of n.",
    words: &[
        (
            b'X',
            "X: root diameter of an external, major diameter of an internal thread",
        ),
        (b'Z', "Z: end along the axis"),
        (
            b'R',
            "R: radius at the start minus radius at the end, over the whole stroke",
        ),
        (
            b'P',
            "P: thread height, radial, in least increments without a point",
        ),
        (
            b'Q',
            "Q: first depth of cut, radial, in least increments without a point",
        ),
        (b'F', "F: lead"),
    ],
};

const ONE_BLOCK: Cycle = Cycle {
    about: "The cycle in one block: K and D give the passes.",
    words: &[
        (
            b'X',
            "X: root diameter of an external, major diameter of an internal thread",
        ),
        (b'Z', "Z: end along the axis"),
        (b'I', "I: radius at the start minus radius at the end"),
        (b'K', "K: thread height, radial"),
        (b'D', "D: first depth of cut, radial"),
        (b'F', "F: lead"),
        (b'A', "A: included angle of the tool in degrees; 0 plunges"),
        (
            b'P',
            "P: method (from memory): 1 one flank, 2 alternating, both with equal areas; 3 and 4 with equal depths",
        ),
    ],
};

const DRIVE_LINE: Cycle = Cycle {
    about: "The cycle of the open RS274/NGC interpreter. The drive line is where the tool stands.",
    words: &[
        (b'P', "P: lead"),
        (b'Z', "Z: end of the drive line"),
        (
            b'I',
            "I: from the drive line to the crest; negative for an external thread",
        ),
        (b'J', "J: first depth of cut below the crest"),
        (b'K', "K: full depth below the crest"),
        (b'R', "R: degression: 1 equal depths, 2 equal areas"),
        (b'Q', "Q: infeed angle in degrees"),
        (b'H', "H: spring passes"),
        (b'E', "E: length of the entry or exit taper"),
        (b'L', "L: tapers: 0 none, 1 entry, 2 exit, 3 both"),
    ],
};

const TAP: Cycle = Cycle {
    about: "Tapping: feed is speed times pitch per minute, or the pitch per turn. Stays in force until cancelled.",
    words: &[
        (b'X', "X: place of the hole"),
        (b'Y', "Y: place of the hole"),
        (b'Z', "Z: bottom"),
        (b'R', "R: retract plane"),
        (b'P', "P: dwell"),
        (b'Q', "Q: depth of one peck"),
        (b'F', "F: feed"),
    ],
};

/// The cycle that a block is, with its code as written (`G76`); none where the code may stand for
/// something else.
pub(super) fn of(family: Family, block: &Block) -> Option<(String, &'static Cycle)> {
    let bare = !block.has_any(b"XZUW");
    block.g_codes().find_map(|(code, word)| {
        let cycle = match meaning(family, code, false) {
            Meaning::Stroke if family == Family::Interpreter => &STROKE_K,
            Meaning::Stroke => &STROKE,
            // Without an end it is a speed clamp, or nothing yet.
            Meaning::BoxThread if !bare => &BOX,
            Meaning::MultiPass => multi_pass(family, block)?,
            // Elsewhere the same codes drill and groove.
            Meaning::HoleCycle
                if matches!(family, Family::Mill | Family::Interpreter)
                    && matches!(code, 740 | 840) =>
            {
                &TAP
            }
            _ => return None,
        };
        let number = word.number()?;
        Some((format!("G{}", number.value()), cycle))
    })
}

/// Which of the multi-pass cycles. Where the control is not known the words have to tell it from
/// fine boring.
fn multi_pass(family: Family, block: &Block) -> Option<&'static Cycle> {
    match family {
        Family::Mill => None,
        Family::Interpreter => Some(&DRIVE_LINE),
        _ if one_block::is_one_block(block) => Some(&ONE_BLOCK),
        _ if two_block::is_setup(block) => Some(&SETUP),
        _ if two_block::is_main(block, &two_block::Setup::default()) => Some(&MAIN),
        Family::Undecided => None,
        _ if block.has_any(b"KDA") => Some(&ONE_BLOCK),
        _ if block.has_any(b"XZUW") => Some(&MAIN),
        _ => Some(&SETUP),
    }
}
