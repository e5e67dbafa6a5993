//! Generated pages of the repository: the same as what the program prints.

use super::*;

/// Compares a page of the repository with what generates it; `INSTA_UPDATE=always` writes it.
pub(super) fn assert_page(name: &str, wanted: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(name);
    if std::env::var("INSTA_UPDATE").as_deref() == Ok("always") {
        fs::write(&path, wanted).unwrap();
    }
    let found = fs::read_to_string(&path)
        .unwrap_or_default()
        .replace("\r\n", "\n");
    assert!(
        found == wanted,
        "{name} is out of date: run the tests with INSTA_UPDATE=always"
    );
}

#[test]
fn the_index_of_rules() {
    let ran = flankwise(["explain", "--format", "markdown"], b"");
    assert_eq!(ran.exit, Exit::Clean);
    for rule in rules::checks::RULES {
        assert!(ran.out().contains(&format!("\n## {}\n", rule.name)));
        assert!(ran.out().contains(&format!("| [{0}](#{0}) |", rule.name)));
    }
    assert_page("rules/README.md", ran.out());
}

#[test]
fn a_page_has_its_examples_and_says_what_it_needs() {
    for rule in rules::checks::RULES {
        let page = flankwise(["explain", rule.name], b"");
        for heading in [
            "# What it needs\n",
            "# Source\n",
            "# A program with the fault\n",
            "# A sound program\n",
        ] {
            assert!(page.out().contains(heading), "{}: {heading}", rule.name);
        }
        let bad = String::from_utf8_lossy(rule.bad);
        let block = bad
            .lines()
            .map(str::trim_end)
            .find(|line| line.len() > 4)
            .unwrap();
        assert!(
            page.out().contains(&format!("    {block}")),
            "{}",
            rule.name
        );
    }
}
