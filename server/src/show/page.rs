//! The page of a rule and the index of all rules, as text and as Markdown. What they say comes
//! from the rules themselves.

use std::fmt::Write as _;

use rules::checks::{Check, RULES, Rule};

/// What kinds of thread a rule looks at.
fn looks_at(rule: &Rule) -> String {
    match rule.check {
        Check::Section(_) => {
            let kinds: Vec<_> = rule.kinds.iter().map(|kind| kind.name()).collect();
            format!("{} threads", kinds.join(", "))
        }
        Check::Program(_) => "the whole file".to_owned(),
        Check::Waivers => "waivers".to_owned(),
    }
}

/// The page without its headings' marks: a doc comment's lines begin with the blank behind its
/// slashes.
fn lines(rule: &Rule) -> impl Iterator<Item = &'static str> {
    let lines = rule.page.lines();
    lines.map(|line| line.strip_prefix(' ').unwrap_or(line).trim_end())
}

/// An example with its line ends as LF.
fn example(text: &[u8]) -> String {
    super::visible::lines(text)
}

/// The page for a terminal: what the rule says of itself, then its two programs.
pub(crate) fn text(rule: &Rule) -> String {
    let fixes = if rule.fixes { ", offers a fix" } else { "" };
    let mut page = format!("{}: {}\n", rule.name, rule.summary);
    let _ = writeln!(
        page,
        "({}{fixes}; looks at {})\n",
        rule.severity.name(),
        looks_at(rule)
    );
    for line in lines(rule) {
        let _ = writeln!(page, "{line}");
    }
    for (title, text) in [
        ("A program with the fault", rule.bad),
        ("A sound program", rule.good),
    ] {
        let _ = writeln!(page, "\n# {title}\n");
        for line in example(text).lines() {
            let _ = writeln!(page, "    {line}");
        }
    }
    page
}

/// The page as Markdown, its headings below `level` hashes.
pub(crate) fn markdown(rule: &Rule, level: usize) -> String {
    let mut page = String::new();
    let hashes = "#".repeat(level);
    for line in lines(rule) {
        match line.strip_prefix("# ") {
            Some(title) => {
                let _ = writeln!(page, "{hashes} {title}");
            }
            None => {
                let _ = writeln!(page, "{line}");
            }
        }
    }
    for (title, text) in [
        ("A program with the fault", rule.bad),
        ("A sound program", rule.good),
    ] {
        let _ = write!(
            page,
            "\n{hashes} {title}\n\n```gcode\n{}```\n",
            example(text)
        );
    }
    page
}

/// The list of rules, one a line.
pub(crate) fn list() -> String {
    let width = RULES.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
    let mut list = String::new();
    for rule in RULES {
        let fix = if rule.fixes { " (fix)" } else { "" };
        let severity = rule.severity.name();
        let _ = writeln!(
            list,
            "{:width$}  {severity:7}  {}{fix}",
            rule.name, rule.summary
        );
    }
    list
}

/// Every rule on one page, `rules/README.md` of the project: a table and the pages.
#[must_use]
pub fn index() -> String {
    let mut page = "# Rules\n\nMade by `flankwise explain --format markdown`; a test compares it. \
                    The severity is that of a finding where no fact is missing and no configuration \
                    sets another.\n\n| rule | severity | fix | looks at | finds |\n| --- | --- | --- | --- | --- |\n"
        .to_owned();
    for rule in RULES {
        let fix = if rule.fixes { "yes" } else { "" };
        let _ = writeln!(
            page,
            "| [{0}](#{0}) | {1} | {fix} | {2} | {3} |",
            rule.name,
            rule.severity.name(),
            looks_at(rule),
            rule.summary.replace('|', "\\|"),
        );
    }
    for rule in RULES {
        let _ = write!(
            page,
            "\n## {}\n\n{}\n\n{}",
            rule.name,
            sentence(rule.summary),
            markdown(rule, 3)
        );
    }
    page
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .map(|c| c.to_uppercase().collect())
        .unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}
