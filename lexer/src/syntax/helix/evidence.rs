//! What the comments near a tool say it does.

use super::gather::Run;
use crate::section::Note;
use crate::source::decode;
use crate::units::Length;

/// What comments say of a helix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Says {
    /// Nothing.
    Nothing,
    /// Another tool or work: a helix is a ramp or a bore.
    Other,
    /// A thread is spoken of.
    Thread,
    /// The tool is a thread mill.
    ThreadMill,
}

const THREAD: [&str; 9] = [
    "THREAD",
    "THD",
    "THRD",
    "GEWINDE",
    "FILET",
    "ROSCA",
    "GWINT",
    "РЕЗЬБ",
    "TARAUD",
];
const MILL: [&str; 5] = ["MILL", "FRÄS", "FRAES", "FRES", "ФРЕЗ"];
const OTHER: [&str; 15] = [
    "ENDMILL", "END MILL", "DRILL", "BORE", "BORING", "BALL", "POCKET", "FACE", "RAMP", "ROUGH",
    "REAM", "CHAMFER", "SLOT", "CONTOUR", "RELIEF",
];
/// Most comments that are looked at, the nearest.
const MOST: usize = 24;

/// What the comments say, the nearest that says something.
pub(crate) fn says(notes: &[Note], bytes: &[u8]) -> Says {
    let near = notes.iter().rev().take(MOST);
    near.map(|note| one(&decode(note.span.of(bytes)).to_uppercase()))
        .find(|says| *says != Says::Nothing)
        .unwrap_or(Says::Nothing)
}

fn one(text: &str) -> Says {
    let words: Vec<&str> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let threads = |word: &str| THREAD.iter().any(|stem| word.contains(stem));
    if words.iter().any(|word| threads(word)) {
        if names_a_thread_mill(&words, threads) {
            return Says::ThreadMill;
        }
        if OTHER.iter().any(|other| text.contains(other)) {
            return Says::Other;
        }
        return Says::Thread;
    }
    if OTHER.iter().any(|other| text.contains(other)) {
        return Says::Other;
    }
    Says::Nothing
}

/// `THREADMILL`, `THREAD MILL`, `MILL M30 THREAD`; the mill of an `END MILL` is another.
fn names_a_thread_mill(words: &[&str], threads: impl Fn(&str) -> bool) -> bool {
    let kind_before = |at: usize| {
        at.checked_sub(1)
            .is_some_and(|at| matches!(words[at], "END" | "BALL" | "FACE" | "SLOT"))
    };
    words.iter().enumerate().any(|(at, word)| {
        if !threads(word) {
            return false;
        }
        if MILL.iter().any(|mill| word.contains(mill)) {
            return true;
        }
        let from = at.saturating_sub(2);
        let near = words.iter().enumerate().skip(from).take(at + 3 - from);
        near.filter(|(other, _)| *other != at).any(|(other, word)| {
            MILL.iter().any(|mill| word.starts_with(mill)) && !kind_before(other)
        })
    })
}

/// What a helix is taken for.
pub(crate) enum Verdict {
    /// A thread, with what speaks for it, and whether a comment says so.
    Thread {
        evidence: Vec<&'static str>,
        stated: bool,
    },
    /// A thread or a ramp: nothing says which.
    Either,
    /// No thread.
    None,
}

/// Why a helix is not judged.
pub(crate) const EITHER: &str = "a helix of constant advance that may be a thread or a ramp: no comment near the tool says \
     which, so it is not judged";

/// Advances per turn of milled threads, mm (our own choice: beyond them no comment is doubted,
/// but nothing is guessed).
const ADVANCE: std::ops::RangeInclusive<f64> = 0.2..=8.0;

/// What a helix is, by its shape and the comments near its tool.
pub(crate) fn judge(run: &Run, says: Says) -> Verdict {
    let helix = &run.helix;
    let turns = helix.turns();
    match says {
        Says::ThreadMill if turns >= 0.74 => Verdict::Thread {
            evidence: vec!["a comment calls the tool a thread mill"],
            stated: true,
        },
        Says::Thread if turns >= 0.95 && !run.flat_after => Verdict::Thread {
            evidence: vec!["a comment near the tool speaks of a thread"],
            stated: true,
        },
        Says::Nothing if turns >= 0.95 && !run.flat_after => by_shape(run),
        _ => Verdict::None,
    }
}

fn by_shape(run: &Run) -> Verdict {
    let helix = &run.helix;
    let (Some(entry), Some(exit)) = (helix.entry, helix.exit) else {
        return Verdict::None;
    };
    if !ADVANCE.contains(&helix.pitch_mm().abs()) {
        return Verdict::None;
    }
    let inner = |radius: f64| radius < 0.7 * helix.radius_mm;
    let from_the_middle = inner(entry.radius_mm) && inner(exit.radius_mm);
    if from_the_middle && helix.rise() > Length::ZERO {
        return Verdict::Thread {
            evidence: vec![
                "the tool goes from the middle of the hole onto the helix and back to it",
                "the helix leads out of the work, as no ramp does",
            ],
            stated: false,
        };
    }
    let even = helix.pieces.iter().all(|piece| {
        let own = piece.rise.mm() / piece.degrees * 360.0;
        (own - helix.pitch_mm()).abs() < 0.01 * helix.pitch_mm().abs()
    });
    if turns_twice(run) && even && (from_the_middle || entry.radius_mm > 1.1 * helix.radius_mm) {
        return Verdict::Either;
    }
    Verdict::None
}

fn turns_twice(run: &Run) -> bool {
    run.helix.turns() >= 1.9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_name_their_tool() {
        for (text, wanted) in [
            ("(THREAD MILL 16)", Says::ThreadMill),
            ("(T5 M24X3 THREADMILL D16)", Says::ThreadMill),
            ("(G3 HELIX THREAD MILLING PITCH 1.5)", Says::ThreadMill),
            ("(GEWINDEFRÄSER D8)", Says::ThreadMill),
            ("(MILL THREAD M30)", Says::ThreadMill),
            ("(12 ENDMILL, THREAD RELIEF)", Says::Other),
            ("(END MILL FOR THREAD BORE)", Says::Other),
            ("(DRILL 6.8)", Says::Other),
            ("(THREAD M24X3-6H)", Says::Thread),
            ("(T5 H5)", Says::Nothing),
        ] {
            assert_eq!(one(text), wanted, "{text}");
        }
    }
}
