//! The words of a cycle changed where they stand: the least text that says another split.

use lexer::law::Law;
use lexer::section::{Role, RoleWord, Section, Val};
use lexer::units::{Length, Radial};

use super::Wish;
use crate::checks::text::speed_word;
use crate::finding::Edit;
use crate::rewrite::Job;

/// The edits that make the section's law another one of its kind; none where a word for it is
/// missing.
pub(super) fn edits(bytes: &[u8], section: &Section, law: &Law) -> Option<Vec<Edit>> {
    let mut change = Change {
        bytes,
        section,
        edits: Vec::new(),
    };
    match (&section.cut.law, law) {
        (
            Law::SquareRoot {
                first: first0,
                min: min0,
                finish: finish0,
                repeats: repeats0,
            },
            Law::SquareRoot {
                first,
                min,
                finish,
                repeats,
            },
        ) => {
            change.depth(Role::FirstCut, first0, first)?;
            change.depth(Role::MinCut, min0, min)?;
            change.depth(Role::FinishAllowance, finish0, finish)?;
            // 0 repeats count as 1.
            let times = |repeats: &Val<u32>| repeats.get().map(|times| times.max(1));
            if times(repeats0) != times(repeats) {
                let times = i64::from(times(repeats)?);
                change.each(Role::Packed, |word| {
                    let packed = word.number.integer()?;
                    Some(format!("{:06}", times * 10_000 + packed % 10_000))
                })?;
            }
        }
        (
            Law::Method {
                first: first0,
                method: method0,
            },
            Law::Method { first, method },
        ) => {
            change.depth(Role::FirstCut, first0, first)?;
            if method0 != method {
                change.plain(Role::Method, f64::from(*method))?;
            }
        }
        (
            Law::Power {
                first: first0,
                degression: degression0,
                springs: springs0,
            },
            Law::Power {
                first,
                degression,
                springs,
            },
        ) => {
            change.depth(Role::FirstCut, first0, first)?;
            if degression0 != degression {
                change.plain(Role::Degression, *degression)?;
            }
            if springs0 != springs {
                change.plain(Role::SpringPasses, *springs as f64)?;
            }
        }
        (
            Law::Counted {
                rough: rough0,
                equal_areas: equal0,
                finish: finish0,
                springs: springs0,
            },
            Law::Counted {
                rough,
                equal_areas,
                finish,
                springs,
            },
        ) => {
            change.depth(Role::FinishAllowance, finish0, finish)?;
            if rough0 != rough {
                change.plain(Role::RoughPasses, f64::from(rough.get()?))?;
            }
            if springs0 != springs {
                change.plain(Role::SpringPasses, f64::from(springs.get()?))?;
            }
            if equal0 != equal_areas {
                // The last digit of the kind: 1 and 2 equal depths, 3 and 4 equal chips.
                let moved = if *equal_areas { 2 } else { -2 };
                change.each(Role::Method, |word| {
                    Some((word.number.integer()? + moved).to_string())
                })?;
            }
        }
        _ => return None,
    }
    (!change.edits.is_empty()).then_some(change.edits)
}

struct Change<'a> {
    bytes: &'a [u8],
    section: &'a Section,
    edits: Vec<Edit>,
}

impl Change<'_> {
    fn depth(&mut self, role: Role, old: &Val<Radial>, new: &Val<Radial>) -> Option<()> {
        if old.get() == new.get() {
            return Some(());
        }
        let depth = new.get()?;
        self.each(role, |word| Some(word.spell(depth.0)))
    }

    fn plain(&mut self, role: Role, value: f64) -> Option<()> {
        self.each(role, |word| Some(word.number.restyle(value, 3)))
    }

    /// Spells every word with this role anew; each start of a thread may have its own.
    fn each(&mut self, role: Role, spell: impl Fn(&RoleWord) -> Option<String>) -> Option<()> {
        let own = |word: &&RoleWord| {
            let mut blocks = self.section.blocks.iter();
            word.role == role
                && blocks.any(|block| {
                    block.span.start <= word.span.start && word.span.end <= block.span.end
                })
        };
        let words: Vec<&RoleWord> = self.section.words.iter().filter(own).collect();
        if words.is_empty() {
            return None;
        }
        for word in words {
            let text = spell(word)?;
            if word.value_span.of(self.bytes) != text.as_bytes()
                && !self.edits.iter().any(|edit| edit.span == word.value_span)
            {
                self.edits.push(Edit {
                    span: word.value_span,
                    text,
                });
            }
        }
        Some(())
    }
}

/// The edit that sets another speed, where one was asked for.
pub(super) fn speed(job: &Job<'_>, section: &Section, wish: &Wish) -> Result<Option<Edit>, String> {
    let Some(rpm) = wish.rpm else {
        return Ok(None);
    };
    if section.spindle.surface_speed() {
        return Err("the spindle runs at a constant surface speed; mend that first".into());
    }
    let word = section
        .spindle
        .speed
        .ok_or("no speed is written for the thread")?;
    let another = |other: &Section| {
        let passes = other.passes.iter();
        passes
            .filter_map(|pass| pass.spindle.speed)
            .any(|speed| speed.span == word.span)
    };
    let shared = job
        .program
        .sections
        .iter()
        .enumerate()
        .any(|(index, other)| index != job.index && another(other));
    let one = section.passes.iter().all(|pass| {
        pass.spindle
            .speed
            .is_some_and(|speed| speed.span == word.span)
    });
    if shared || !one {
        return Err(format!(
            "the speed in line {} is not that of this thread alone",
            word.line
        ));
    }
    let text = speed_word(job.bytes, word.span, rpm).ok_or("the speed is not a plain number")?;
    Ok(Some(Edit {
        span: word.span,
        text,
    }))
}

/// Highest speed in 1/min at which the thread's feed stays within `feed` mm/min.
pub(super) fn rpm_for(feed: f64, lead: Length) -> f64 {
    feed / lead.mm().abs()
}
