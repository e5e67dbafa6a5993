//! The findings of one program sorted by what they mean for a gate: those that count, those that
//! the baseline knows, and those that are waived; each with its name.

use std::collections::HashMap;

use lexer::program::Program;
use rules::finding::Finding;
use rules::fingerprint::{Print, of_findings};
use rules::judge::Judgement;

/// How many findings of a rule and a fingerprint are known.
pub(crate) type Known = HashMap<(String, String), usize>;

/// Names and what the baseline knows. The lists run along those of the judgement.
#[derive(Debug, Default)]
pub(crate) struct Verdict {
    /// Name of each finding that counts.
    pub(crate) prints: Vec<Print>,
    /// Findings that the baseline knows, by place.
    pub(crate) known: Vec<(Finding, Print)>,
    /// Name of each waived finding.
    pub(crate) waived: Vec<Print>,
}

/// Names the findings and takes those that are known out of the judgement: of findings that share
/// a fingerprint the first ones.
pub(crate) fn verdict(
    bytes: &[u8],
    program: &Program,
    judgement: &mut Judgement,
    mut known: Option<Known>,
) -> Verdict {
    if judgement.findings.is_empty() && judgement.waived.is_empty() {
        return Verdict::default();
    }
    let findings = std::mem::take(&mut judgement.findings);
    let waived = judgement.waived.iter().map(|waived| &waived.finding);
    // In order of place, so that a waiver changes no name.
    let mut all: Vec<(usize, &Finding)> = findings.iter().chain(waived).enumerate().collect();
    all.sort_by_key(|(at, finding)| (finding.span, finding.rule, *at));
    let named = of_findings(bytes, program, all.iter().map(|(_, finding)| *finding));
    let mut prints = vec![None; all.len()];
    for ((at, _), print) in all.iter().zip(named) {
        prints[*at] = Some(print);
    }
    let mut prints = prints.into_iter().flatten();
    let mut verdict = Verdict::default();
    for (finding, print) in findings.into_iter().zip(prints.by_ref()) {
        let key = || (finding.rule.to_owned(), print.hash.clone());
        let left = known.as_mut().and_then(|known| known.get_mut(&key()));
        match left {
            Some(left) if *left > 0 => {
                *left -= 1;
                verdict.known.push((finding, print));
            }
            _ => {
                judgement.findings.push(finding);
                verdict.prints.push(print);
            }
        }
    }
    verdict.waived = prints.collect();
    verdict
}
