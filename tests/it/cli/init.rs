//! `init`: a first run over programs that nobody has judged.

use super::*;

fn tree() -> Shop {
    let shop = Shop::new();
    shop.write("lathe1/a.nc", SURFACE_SPEED);
    shop.write("lathe1/deep/b.nc", SOUND);
    shop.write("old [2]/c.nc", SURFACE_SPEED);
    shop.write(
        "mill/plain.nc",
        b"%\nO1 (PLATE)\nG21 G90 G54\nG0 X10. Y10.\nG1 Z-1. F200.\nM30\n%\n",
    );
    shop.write("README.md", "no program");
    shop
}

#[test]
fn a_gate_can_be_switched_on_at_once() {
    let shop = tree();
    assert_eq!(shop.run(&["check"], &["."]).exit, Exit::Findings);
    let ran = shop.run(&["init"], &["."]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    assert!(
        ran.out()
            .contains("flankwise.toml written: 4 programs in 3 folders"),
        "{}",
        ran.out()
    );
    assert!(
        ran.out()
            .contains("flankwise-baseline.json written: 2 findings known"),
        "{}",
        ran.out()
    );
    let text = String::from_utf8(shop.read("flankwise.toml")).unwrap();
    for line in [
        "# 2 programs, 2 threading sections: 2 two-block\n[[machine]]\nid = \"lathe1\"\nfiles = [\"lathe1/**\"]\n",
        "id = \"old [2]\"\nfiles = [\"old [[]2[]]/**\"]\n",
        "baseline = \"flankwise-baseline.json\"",
        "# max_rpm = 3000",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    // Now only new findings count.
    let ran = shop.run(&["check"], &["."]);
    assert_eq!(ran.exit, Exit::Clean, "{}{}", ran.out(), ran.err);
    assert!(ran.out().contains("2 known from the baseline"));
    shop.write("lathe1/new.nc", SURFACE_SPEED);
    assert_eq!(shop.run(&["check"], &["."]).exit, Exit::Findings);
    // The patterns are those of the folders they name.
    let old = shop.run(&["passes", "--format=json"], &["old [2]/c.nc"]);
    assert_eq!(old.exit, Exit::Clean);
    // Nothing is written twice.
    let again = shop.run(&["init"], &["."]);
    assert_eq!(again.exit, Exit::Usage);
    assert!(
        again
            .err
            .contains("flankwise.toml is there already and was left alone"),
        "{}",
        again.err
    );
    assert_eq!(
        String::from_utf8(shop.read("flankwise.toml")).unwrap(),
        text
    );
}

/// Every proposal is right when its marks are taken away.
#[test]
fn the_proposals_are_keys_that_the_reader_knows() {
    let shop = tree();
    let ran = shop.run(&["init", "--print"], &["."]);
    assert_eq!(ran.exit, Exit::Clean);
    assert!(
        !shop.path("flankwise.toml").exists() && !shop.path("flankwise-baseline.json").exists()
    );
    let whole: Vec<&str> = ran
        .out()
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.contains(" = ") => rest,
            _ => line,
        })
        .collect();
    let rules: Vec<&str> = rules::checks::RULES.iter().map(|rule| rule.name).collect();
    let read = rules::facts::Config::parse("flankwise.toml", &whole.join("\n"), &rules);
    assert!(read.is_ok(), "{read:?}\n{}", whole.join("\n"));
    let config = rules::facts::Config::parse("flankwise.toml", ran.out(), &rules).unwrap();
    let machine = |file: &str| config.facts(file).1.machine.map(|machine| machine.id);
    assert_eq!(machine("old [2]/x.nc").as_deref(), Some("old [2]"));
    assert_eq!(machine("lathe1/deep/x.nc").as_deref(), Some("lathe1"));
    assert_eq!(machine("elsewhere/x.nc"), None);
}

#[test]
fn a_baseline_that_is_there_is_kept() {
    let shop = tree();
    shop.write("flankwise-baseline.json", "mine");
    let ran = shop.run(&["init"], &["."]);
    assert_eq!(ran.exit, Exit::Usage);
    assert_eq!(shop.read("flankwise-baseline.json"), b"mine");
    assert!(!shop.path("flankwise.toml").exists(), "all or nothing");
}
