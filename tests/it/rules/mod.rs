//! Every rule against its programs in `corpus/rules/<rule>/`: `bad.nc` has the fault, `good.nc` has
//! none, `fixed.nc` is the bad program after the first fix. A `flankwise.toml` beside them holds.

mod fingerprint;
mod mend;
mod mirrored;
mod quiet;
mod show;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use ::rules::checks::{RULES, Rule};
use ::rules::date::Date;
use ::rules::facts::{Config, FILE_NAME, Facts};
use ::rules::finding::{Finding, Fix, FixKind, Severity};
use ::rules::judge::judge;
use lexer::program::Settings;

/// Findings of other rules that a bad program cannot avoid, with the reason.
const ALSO: &[(&str, &str, &str)] = &[
    (
        "feed-mode",
        "axis-feed-limit",
        "a feed per minute read as a lead is beyond every axis",
    ),
    (
        "unit-mode-conflict",
        "lead-unusual",
        "in the wrong units no thread of any series comes near",
    ),
];

/// The headings of a rule's page, in order.
const HEADINGS: [&str; 7] = [
    "# What it checks",
    "# Why it matters",
    "# The sum",
    "# What it needs",
    "# When it stays silent",
    "# Mend",
    "# Source",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A folder of `corpus/rules/`.
struct Case {
    rule: &'static Rule,
    folder: PathBuf,
    settings: Settings,
    facts: Facts,
}

impl Case {
    fn of(rule: &'static Rule) -> Case {
        let folder = root().join("corpus/rules").join(rule.name);
        let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
        let (settings, mut facts) = match std::fs::read_to_string(folder.join(FILE_NAME)) {
            Ok(text) => Config::parse(FILE_NAME, &text, &names)
                .unwrap_or_else(|errors| panic!("{}: {errors:?}", rule.name))
                .facts("bad.nc"),
            Err(_) => Default::default(),
        };
        facts.today = Date::parse("2026-11-25");
        Case {
            rule,
            folder,
            settings,
            facts,
        }
    }

    fn text(&self, name: &str) -> Vec<u8> {
        let path = self.folder.join(name);
        std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    fn judge(&self, text: &[u8]) -> Vec<Finding> {
        let program = lexer::read(text, &self.settings);
        judge(text, &program, &self.settings, &self.facts).findings
    }

    /// The one finding of the rule in its bad program.
    fn finding(&self) -> Finding {
        let mut own = self.judge(&self.text("bad.nc"));
        own.retain(|finding| finding.rule == self.rule.name);
        assert_eq!(own.len(), 1, "{}: findings in bad.nc", self.rule.name);
        own.remove(0)
    }
}

fn cases() -> impl Iterator<Item = Case> {
    RULES.iter().map(|rule| Case::of(rule))
}

fn errors(findings: &[Finding]) -> BTreeMap<&'static str, usize> {
    let mut count = BTreeMap::new();
    for finding in findings {
        if finding.severity == Severity::Error {
            *count.entry(finding.rule).or_default() += 1;
        }
    }
    count
}

#[test]
fn list_of_rules_is_the_list_of_files_and_of_examples() {
    let names: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
    let sorted: BTreeSet<&str> = names.iter().copied().collect();
    assert_eq!(names, sorted.iter().copied().collect::<Vec<_>>());

    let mut files = BTreeSet::new();
    for entry in std::fs::read_dir(root().join("rules/src/checks")).unwrap() {
        let path = entry.unwrap().path();
        let is_rust = path.extension().is_some_and(|extension| extension == "rs");
        if is_rust
            && std::fs::read_to_string(&path)
                .unwrap()
                .contains("\nrule! {")
        {
            files.insert(
                path.file_stem()
                    .unwrap()
                    .to_str()
                    .unwrap()
                    .replace('_', "-"),
            );
        }
    }
    let examples: BTreeSet<String> = std::fs::read_dir(root().join("corpus/rules"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let names: BTreeSet<String> = names.into_iter().map(str::to_owned).collect();
    assert_eq!(names, files, "RULES and rules/src/checks");
    assert_eq!(names, examples, "RULES and corpus/rules");
}

#[test]
fn pages_have_their_headings_in_order() {
    for rule in RULES {
        let found: Vec<&str> = rule
            .page
            .lines()
            .map(str::trim)
            .filter(|line| line.starts_with("# "))
            .collect();
        assert_eq!(found, HEADINGS, "{}", rule.name);
        assert!(!rule.summary.ends_with('.') && rule.summary.len() < 100);
    }
}

#[test]
fn bad_programs_show_their_rule() {
    for case in cases() {
        let text = case.text("bad.nc");
        assert_eq!(text, case.rule.bad, "{}", case.rule.name);
        let finding = case.finding();
        assert!(finding.severity <= case.rule.severity, "{}", case.rule.name);
        assert!(!finding.because.is_empty() && !finding.source.is_empty());
        assert!(!finding.help.is_empty(), "{}", case.rule.name);
        let findings = case.judge(&text);
        for other in findings.iter().filter(|f| f.rule != case.rule.name) {
            assert!(
                ALSO.iter()
                    .any(|(rule, also, _)| *rule == case.rule.name && *also == other.rule),
                "{}: {} also speaks: {}",
                case.rule.name,
                other.rule,
                other.message
            );
        }
        let shown: Vec<String> = findings
            .iter()
            .map(|finding| show::finding(finding, &text))
            .collect();
        insta::with_settings!({
            prepend_module_to_snapshot => false,
            omit_expression => true,
        }, {
            insta::assert_snapshot!(case.rule.name, shown.join("\n"));
        });
    }
}

#[test]
fn good_programs_are_silent() {
    for case in cases() {
        let text = case.text("good.nc");
        assert_eq!(text, case.rule.good, "{}", case.rule.name);
        let program = lexer::read(&text, &case.settings);
        assert!(!program.sections.is_empty(), "{}", case.rule.name);
        let shown: Vec<String> = case
            .judge(&text)
            .iter()
            .map(|finding| show::finding(finding, &text))
            .collect();
        assert!(
            shown.is_empty(),
            "{}/good.nc:\n{}",
            case.rule.name,
            shown.join("\n")
        );
    }
}

#[test]
fn fixes_mend() {
    for case in cases() {
        let name = case.rule.name;
        let bad = case.text("bad.nc");
        let finding = case.finding();
        assert_eq!(case.rule.fixes, !finding.fixes.is_empty(), "{name}");
        assert_eq!(
            case.rule.fixes,
            case.folder.join("fixed.nc").exists(),
            "{name}"
        );
        for (at, fix) in finding.fixes.iter().enumerate() {
            let mended = mend::apply(&bad, fix);
            if at == 0 {
                let wanted = String::from_utf8(case.text("fixed.nc")).unwrap();
                assert_eq!(String::from_utf8(mended.clone()).unwrap(), wanted, "{name}");
            }
            mends(&case, &bad, &mended, fix);
        }
        // The way the command line mends it, again and again.
        let done = ::rules::fix::fix(&bad, &case.settings, &case.facts, true);
        let again = ::rules::fix::fix(&done.bytes, &case.settings, &case.facts, true);
        assert!(
            done.fighting.is_empty() && done.refused.is_empty(),
            "{name}"
        );
        assert!(
            again.applied.is_empty() && again.bytes == done.bytes,
            "{name}"
        );
        if case.rule.fixes {
            assert!(done.left.iter().all(|finding| finding.rule != name));
        }
    }
}

/// The finding is gone (so that mending again changes nothing), no error came, and the kind says
/// what changed.
fn mends(case: &Case, bad: &[u8], mended: &[u8], fix: &Fix) {
    let name = case.rule.name;
    let after = case.judge(mended);
    assert!(
        after.iter().all(|finding| finding.rule != name),
        "{name}: `{}` leaves the finding",
        fix.title
    );
    let before = errors(&case.judge(bad));
    for (rule, count) in errors(&after) {
        let known = before.get(rule).copied().unwrap_or(0);
        assert!(count <= known, "{name}: `{}` brings {rule}", fix.title);
    }
    let effects = |text: &[u8]| lexer::effects(text, &case.settings);
    assert_eq!(
        effects(bad) == effects(mended),
        fix.kind == FixKind::Text,
        "{name}: kind of `{}`",
        fix.title
    );
}
