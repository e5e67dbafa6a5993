//! Arguments, exit statuses, and the pages of rules.

use super::*;

#[test]
fn exit_statuses() {
    let shop = Shop::new();
    shop.write("sound.nc", SOUND);
    shop.write("bad.nc", SURFACE_SPEED);
    let status = |args: &[&str], paths: &[&str]| shop.run(args, paths).exit.status();
    assert_eq!(status(&["check"], &["sound.nc"]), 0);
    assert_eq!(status(&["check"], &["bad.nc"]), 1);
    assert_eq!(status(&["check", "--fail-on", "never"], &["bad.nc"]), 0);
    assert_eq!(status(&["check", "--fail-on", "advice"], &["bad.nc"]), 1);
    assert_eq!(status(&["check", "--fail-on", "worse"], &["bad.nc"]), 2);
    assert_eq!(status(&["check"], &[]), 2);
    assert_eq!(status(&["check"], &["missing.nc"]), 3);
    assert_eq!(status(&["check"], &["missing.nc", "bad.nc"]), 3);
    assert_eq!(status(&["passes"], &["bad.nc"]), 0);
    assert_eq!(status(&["passes"], &["missing.nc"]), 3);
    assert_eq!(status(&["fix", "--diff"], &["sound.nc"]), 0);
    assert_eq!(status(&["fix"], &["missing.nc"]), 3);
    assert_eq!(status(&["--help"], &[]), 0);
    assert_eq!(status(&["--version"], &[]), 0);
    assert_eq!(status(&["chekc"], &[]), 2);
}

#[test]
fn the_threshold_counts_severities() {
    let shop = Shop::new();
    shop.write("bad.nc", SURFACE_SPEED);
    shop.write(
        "flankwise.toml",
        "[rules]\nsurface-speed-in-thread = \"warning\"\n",
    );
    let status = |threshold| {
        let ran = shop.run(&["check", "--fail-on", threshold], &["bad.nc"]);
        assert!(ran.out().contains("warning[surface-speed-in-thread]: "));
        ran.exit.status()
    };
    assert_eq!(status("error"), 0);
    assert_eq!(status("warning"), 1);
    assert_eq!(status("advice"), 1);
}

#[test]
fn standard_input() {
    let check = |args: &[&str], text: &[u8]| flankwise(args.iter().copied(), text);
    let ran = check(&["check", "-"], SURFACE_SPEED);
    assert_eq!(ran.exit, Exit::Findings);
    assert!(ran.out().contains("--> stdin:9:1\n"), "{}", ran.out());
    let named = ["check", "-", "--stdin-filename", "turning/O1200"];
    let ran = check(&named, SURFACE_SPEED);
    assert!(ran.out().contains("--> turning/O1200:9:1\n"));
    let ran = check(&["check", "x.nc", "--stdin-filename", "O1200"], b"");
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("give the path - too"));
    let ran = check(&["passes", "--", "-:9"], SOUND);
    assert_eq!(ran.exit, Exit::Clean);
    assert!(
        ran.out().starts_with("stdin:8-9  M30x2-6g\n"),
        "{}",
        ran.out()
    );
}

#[test]
fn passes_of_one_line() {
    let shop = Shop::new();
    let mut two = SOUND[..SOUND.len() - 6].to_vec();
    two.extend_from_slice(b"T0505\nG97 S800 M3\nG0 X28. Z6.\nG92 X23.2 Z-20. F1.5\nX22.16\nM30\n");
    shop.write("two.nc", &two);
    let heads = |path: &str| {
        let ran = shop.run(&["passes"], &[path]);
        assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
        let heads: Vec<String> = ran
            .out()
            .lines()
            .filter_map(|line| line.rsplit_once("two.nc:"))
            .map(|(_, head)| head.split(' ').next().unwrap_or_default().to_owned())
            .collect();
        heads
    };
    assert_eq!(heads("two.nc"), ["8-9", "14-15"]);
    assert_eq!(heads("two.nc:9"), ["8-9"]);
    assert_eq!(heads("two.nc:14"), ["14-15"]);
    let ran = shop.run(&["passes"], &["two.nc:2"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(
        ran.err.contains("there are sections at lines 8-9, 14-15"),
        "{}",
        ran.err
    );
}

#[test]
fn rules_are_explained() {
    let all = flankwise(["explain"], b"");
    assert_eq!(all.exit, Exit::Clean);
    assert_eq!(all.out().lines().count(), rules::checks::RULES.len());
    for rule in rules::checks::RULES {
        assert!(all.out().contains(rule.name));
        let page = flankwise(["explain", rule.name], b"");
        assert_eq!(page.exit, Exit::Clean);
        assert!(page.out().starts_with(&format!("{}: ", rule.name)));
        assert!(page.out().contains("# What it checks\n"), "{}", page.out());
    }
    let typo = flankwise(["explain", "surface-sped-in-thread"], b"");
    assert_eq!(typo.exit, Exit::Usage);
    assert!(typo.err.contains("did you mean surface-speed-in-thread?"));
}
