//! Applies fixes to a text, round by round, and proves what it can: a text fix leaves the stream
//! of effects as it was, no fix brings a new error, and every fix mends its own finding.

use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use lexer::program::Settings;

use crate::facts::Facts;
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::judge::judge;

/// Most rounds of mending and judging again.
const ROUNDS: usize = 10;

/// A fix that was applied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Applied {
    /// Rule of the finding.
    pub rule: &'static str,
    /// What the fix does.
    pub title: String,
    /// What it changes.
    pub kind: FixKind,
    /// Line of the finding when it was applied, from 1.
    pub line: u32,
}

/// A fix that was not applied although its kind is allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Rule of the finding.
    pub rule: &'static str,
    /// What the fix would do.
    pub title: String,
    /// Line of the finding, from 1.
    pub line: u32,
    /// Why not.
    pub why: String,
}

/// A mended text.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mended {
    /// The text after all fixes; the same bytes as before when none was applied.
    pub bytes: Vec<u8>,
    /// What was done, in order.
    pub applied: Vec<Applied>,
    /// What was refused.
    pub refused: Vec<Refused>,
    /// What was offered and is no longer wrong, because a fix that came before took care of it.
    pub overtaken: Vec<Refused>,
    /// Rules that undo each other's fixes, where the text does not come to rest; their fixes are
    /// not applied.
    pub fighting: Vec<&'static str>,
    /// What is still wrong with [`Mended::bytes`].
    pub left: Vec<Finding>,
}

/// Mends a program: text fixes, and where `motion` is set those that change the cut.
#[must_use]
pub fn fix(bytes: &[u8], settings: &Settings, facts: &Facts, motion: bool) -> Mended {
    let judge = |text: &[u8]| {
        let program = lexer::read(text, settings);
        judge(text, &program, settings, facts).findings
    };
    mend(bytes, motion, judge, |text| lexer::effects(text, settings))
}

/// [`fix`] with its two questions as parameters: what is wrong with a text, and what it does.
pub fn mend<E: PartialEq>(
    bytes: &[u8],
    motion: bool,
    judge: impl FnMut(&[u8]) -> Vec<Finding>,
    effects: impl FnMut(&[u8]) -> E,
) -> Mended {
    let mut bench = Bench { judge, effects };
    let findings = (bench.judge)(bytes);
    let offered = offered(&findings, motion);
    let mut now = State {
        text: bytes.to_vec(),
        findings,
        applied: Vec::new(),
    };
    let mut refused = Vec::new();
    let mut states = vec![hash(&now.text)];
    let mut past = Vec::new();
    for round in 0.. {
        refused.clear();
        let next = bench.round(&now, motion, &mut refused);
        let Some(next) = next else { break };
        let seen = hash(&next.text);
        let rest = match states.iter().position(|&state| state == seen) {
            // The fixes lead back to an earlier text: what came before the circle is sound.
            Some(at) => Some(at),
            // Nor does it rest: nothing is sure.
            None if round == ROUNDS => Some(0),
            None => None,
        };
        if let Some(at) = rest {
            let sound = past.get(at).cloned().unwrap_or_else(|| now.clone());
            return give_up(sound, &next);
        }
        states.push(seen);
        past.push(std::mem::replace(&mut now, next));
    }
    Mended {
        overtaken: overtaken(offered, &now),
        bytes: now.text,
        applied: now.applied,
        refused,
        fighting: Vec::new(),
        left: now.findings,
    }
}

/// What can be asked for at first, in order of place.
fn offered(findings: &[Finding], motion: bool) -> Vec<Refused> {
    let mut offered = Vec::new();
    for finding in findings {
        let allowed = |fix: &&Fix| motion || fix.kind == FixKind::Text;
        if let Some(fix) = finding.fixes.iter().find(allowed) {
            offered.push(Offer { finding, fix }.refuse("an earlier fix took care of it"));
        }
    }
    offered
}

/// Those of the offers that were neither applied nor are left to be mended. A fix that waited for
/// another may have been applied with other numbers: then its rule counts.
fn overtaken(mut offered: Vec<Refused>, end: &State) -> Vec<Refused> {
    let mut applied: Vec<&Applied> = end.applied.iter().collect();
    let mut take = |rule: &str, title: Option<&str>| {
        let same =
            |one: &&Applied| one.rule == rule && title.is_none_or(|title| one.title == title);
        let at = applied.iter().position(same);
        at.map(|at| applied.remove(at)).is_some()
    };
    offered.retain(|offer| !take(offer.rule, Some(&offer.title)));
    offered.retain(|offer| !take(offer.rule, None));
    let mut left: Vec<&str> = end.findings.iter().map(|finding| finding.rule).collect();
    offered.retain(|offer| {
        let at = left.iter().position(|rule| *rule == offer.rule);
        at.map(|at| left.remove(at)).is_none()
    });
    offered
}

/// A text with what is wrong and what was done.
#[derive(Clone)]
struct State {
    text: Vec<u8>,
    findings: Vec<Finding>,
    applied: Vec<Applied>,
}

/// A fix with the finding that offers it.
#[derive(Clone, Copy)]
struct Offer<'a> {
    finding: &'a Finding,
    fix: &'a Fix,
}

impl Offer<'_> {
    fn refuse(&self, why: &str) -> Refused {
        Refused {
            rule: self.finding.rule,
            title: self.fix.title.clone(),
            line: self.finding.line,
            why: why.to_owned(),
        }
    }

    /// First and last byte that the fix touches.
    fn reach(&self) -> (u32, u32) {
        let first = self.fix.edits.first().map_or(0, |edit| edit.span.start);
        let last = self.fix.edits.last().map_or(0, |edit| edit.span.end);
        (first, last)
    }
}

struct Bench<J, F> {
    judge: J,
    effects: F,
}

impl<J, F, E> Bench<J, F>
where
    J: FnMut(&[u8]) -> Vec<Finding>,
    F: FnMut(&[u8]) -> E,
    E: PartialEq,
{
    /// Applies what can be applied at once; text fixes before motion fixes. None when there is
    /// nothing to apply.
    fn round(&mut self, now: &State, motion: bool, refused: &mut Vec<Refused>) -> Option<State> {
        let kinds = if motion {
            &[FixKind::Text, FixKind::Motion][..]
        } else {
            &[FixKind::Text]
        };
        for &kind in kinds {
            let offers = choose(now, kind, refused);
            if offers.is_empty() {
                continue;
            }
            let before = (kind == FixKind::Text).then(|| (self.effects)(&now.text));
            let mut taken = Vec::new();
            let mut best = None;
            self.take(
                now,
                before.as_ref(),
                &offers,
                &mut taken,
                &mut best,
                refused,
            );
            if let Some((text, findings)) = best {
                let mut applied = now.applied.clone();
                applied.extend(taken.iter().map(|offer| Applied {
                    rule: offer.finding.rule,
                    title: offer.fix.title.clone(),
                    kind,
                    line: offer.finding.line,
                }));
                return Some(State {
                    text,
                    findings,
                    applied,
                });
            }
        }
        None
    }

    /// Takes all offers that stand the proof, halving the group where one does not.
    fn take<'a>(
        &mut self,
        now: &State,
        before: Option<&E>,
        offers: &[Offer<'a>],
        taken: &mut Vec<Offer<'a>>,
        best: &mut Option<(Vec<u8>, Vec<Finding>)>,
        refused: &mut Vec<Refused>,
    ) {
        if offers.is_empty() {
            return;
        }
        let mut group = taken.clone();
        group.extend_from_slice(offers);
        let text = apply(&now.text, &group);
        match self.prove(now, before, &group, &text) {
            Ok(findings) => {
                *taken = group;
                *best = Some((text, findings));
            }
            Err(why) if offers.len() == 1 => refused.push(offers[0].refuse(&why)),
            Err(_) => {
                let (first, second) = offers.split_at(offers.len() / 2);
                self.take(now, before, first, taken, best, refused);
                self.take(now, before, second, taken, best, refused);
            }
        }
    }

    /// What is wrong with the new text, or why it must not be.
    fn prove(
        &mut self,
        now: &State,
        before: Option<&E>,
        group: &[Offer<'_>],
        text: &[u8],
    ) -> Result<Vec<Finding>, String> {
        if before.is_some_and(|before| *before != (self.effects)(text)) {
            return Err("it would change what the machine does".to_owned());
        }
        let findings = (self.judge)(text);
        let (old, new) = (errors(&now.findings), errors(&findings));
        for (rule, count) in &new {
            if old.get(rule).unwrap_or(&0) < count {
                return Err(format!("it would bring a new error: {rule}"));
            }
        }
        for offer in group {
            let same = |finding: &&Finding| same_finding(finding, offer.finding);
            let mended = group.iter().map(|offer| offer.finding).filter(same).count();
            let had = now.findings.iter().filter(same).count();
            if findings.iter().filter(same).count() + mended > had {
                return Err("it does not mend its finding".to_owned());
            }
        }
        Ok(findings)
    }
}

fn same_finding(one: &Finding, other: &Finding) -> bool {
    (one.rule, one.section, &one.message) == (other.rule, other.section, &other.message)
}

fn errors(findings: &[Finding]) -> BTreeMap<&'static str, usize> {
    let mut counts = BTreeMap::new();
    for finding in findings {
        if finding.severity == Severity::Error {
            *counts.entry(finding.rule).or_default() += 1;
        }
    }
    counts
}

/// The first fix of this kind of each finding, in order of place, without those that come too
/// near to another: they wait for the next round. One motion fix a section, because each was
/// worked out for the section as it is.
fn choose<'a>(now: &'a State, kind: FixKind, refused: &mut Vec<Refused>) -> Vec<Offer<'a>> {
    let mut offers = Vec::new();
    for finding in &now.findings {
        let Some(fix) = finding.fixes.iter().find(|fix| fix.kind == kind) else {
            continue;
        };
        let offer = Offer { finding, fix };
        match check(&now.text, &fix.edits) {
            Ok(()) => offers.push(offer),
            Err(why) => refused.push(offer.refuse(why)),
        }
    }
    offers.sort_by_key(Offer::reach);
    let mut chosen: Vec<Offer<'a>> = Vec::new();
    for offer in offers {
        let last = chosen.last();
        let apart = last.is_none_or(|last| offer.reach().0 > last.reach().1);
        let alone = kind == FixKind::Text
            || offer.finding.section.is_none()
            || last.is_none_or(|last| last.finding.section != offer.finding.section);
        if apart && alone {
            chosen.push(offer);
        }
    }
    chosen
}

fn check(text: &[u8], edits: &[Edit]) -> Result<(), &'static str> {
    let mut at = 0;
    for edit in edits {
        let (start, end) = (edit.span.start, edit.span.end);
        if start < at || end < start || end as usize > text.len() {
            return Err("its edits do not fit the text");
        }
        if !edit.text.is_ascii() {
            return Err("it would write characters that a control may not read");
        }
        at = end;
    }
    let changes = |edit: &Edit| edit.span.of(text) != edit.text.as_bytes();
    if edits.iter().any(changes) {
        Ok(())
    } else {
        Err("it changes nothing")
    }
}

/// The text with one fix applied; none when its edits do not fit the text.
#[must_use]
pub fn edited(text: &[u8], fix: &Fix) -> Option<Vec<u8>> {
    check(text, &fix.edits).ok()?;
    let mut mended = Vec::with_capacity(text.len() + 64);
    splice(&mut mended, text, fix.edits.iter());
    Some(mended)
}

/// The text with the edits of all offers, which are in order and apart.
fn apply(text: &[u8], offers: &[Offer<'_>]) -> Vec<u8> {
    let mut mended = Vec::with_capacity(text.len() + 64);
    splice(
        &mut mended,
        text,
        offers.iter().flat_map(|offer| &offer.fix.edits),
    );
    mended
}

fn splice<'a>(mended: &mut Vec<u8>, text: &[u8], edits: impl Iterator<Item = &'a Edit>) {
    let mut at = 0;
    for edit in edits {
        mended.extend_from_slice(&text[at..edit.span.start as usize]);
        mended.extend_from_slice(edit.text.as_bytes());
        at = edit.span.end as usize;
    }
    mended.extend_from_slice(&text[at..]);
}

/// The rules that were at work since `sound`, and the text as it was then.
fn give_up(sound: State, last: &State) -> Mended {
    let mut fighting: Vec<&'static str> = last.applied[sound.applied.len()..]
        .iter()
        .map(|applied| applied.rule)
        .collect();
    fighting.sort_unstable();
    fighting.dedup();
    Mended {
        bytes: sound.text,
        applied: sound.applied,
        refused: Vec::new(),
        overtaken: Vec::new(),
        fighting,
        left: sound.findings,
    }
}

fn hash(text: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    hasher.finish()
}

#[cfg(test)]
mod tests;
