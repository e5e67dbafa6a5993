//! `fix`: what is written, what is refused, what is kept.

use lexer::program::Settings;
use lexer::source::Span;
use rules::finding::{Edit, Finding, Fix, FixKind, Severity};
use rules::fix::mend;

use super::*;

/// A lead of 2 where the note says 2.5, line ends of a transfer program, a comment in an old code
/// page, trailing bytes.
const WRONG_LEAD: &[u8] =
    b"\0\0%\r\nO1205 (\xd0\xe5\xe7\xfc\xe1\xe0 \x1b[31m)\r\nG21 G40 G99\r\nT0303\r\n\
    (THREAD M20X2.5-6G)\r\nG97 S900 M3\r\nG0 X24. Z9.\r\nG76 P020055 Q60 R0.03\r\n\
    G76 X16.933 Z-32. P1534 Q400 F2.\r\nG0 X100. Z100. M5\r\nM30\r\n%\r\n\x1a\x1a";

fn mended() -> Vec<u8> {
    let at = WRONG_LEAD
        .windows(3)
        .position(|window| window == b"F2.")
        .unwrap();
    let mut text = WRONG_LEAD.to_vec();
    text.splice(at..at + 3, *b"F2.5");
    text
}

#[test]
fn sound_programs_are_not_touched() {
    let shop = Shop::new();
    let path = shop.write("sound.nc", SOUND);
    let before = fs::metadata(&path).unwrap().modified().unwrap();
    let ran = shop.run(&["fix", "--allow", "motion"], &["sound.nc"]);
    assert_eq!(ran.exit, Exit::Clean);
    assert!(ran.out.is_empty());
    assert_eq!(shop.read("sound.nc"), SOUND);
    assert_eq!(fs::metadata(&path).unwrap().modified().unwrap(), before);
    let ran = flankwise(["fix", "-"], SOUND);
    assert_eq!(ran.out, SOUND);
}

#[test]
fn what_no_fix_mends_is_still_told() {
    let shop = Shop::new();
    shop.write("bad.nc", SURFACE_SPEED);
    let ran = shop.run(&["fix"], &["bad.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    assert!(ran.err.contains("left: 1 error"), "{}", ran.err);
    assert_eq!(shop.read("bad.nc"), SURFACE_SPEED);
}

#[test]
fn the_cut_changes_only_when_that_is_allowed() {
    let shop = Shop::with_only("lead-vs-designation");
    shop.write("wrong.nc", WRONG_LEAD);
    let ran = shop.run(&["fix"], &["wrong.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    assert!(!ran.err.contains("caution"), "{}", ran.err);
    assert_eq!(shop.read("wrong.nc"), WRONG_LEAD);
    let ran = shop.run(&["fix", "--allow", "motion"], &["wrong.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    assert_eq!(shop.read("wrong.nc"), mended());
    insta::assert_snapshot!(ran.shown(&shop));
    // A second time changes nothing, and says so.
    let ran = shop.run(&["fix", "--allow", "motion"], &["wrong.nc"]);
    assert_eq!((ran.exit, ran.out()), (Exit::Clean, ""));
    assert_eq!(shop.read("wrong.nc"), mended());
}

#[test]
fn cautions_stay_when_the_rest_is_quiet() {
    let shop = Shop::with_only("lead-vs-designation");
    shop.write("wrong.nc", WRONG_LEAD);
    let ran = shop.run(&["fix", "--allow", "motion", "--quiet"], &["wrong.nc"]);
    assert!(ran.err.contains("caution: "), "{}", ran.err);
    assert!(ran.out().contains("(changes the cut)"), "{}", ran.out());
    shop.write("wrong.nc", WRONG_LEAD);
    let ran = shop.run(&["check", "--quiet"], &["wrong.nc", "."]);
    assert_eq!(ran.out().matches("caution: ").count(), 1, "{}", ran.out());
    for word in [
        "without a part",
        "dry run",
        "single block",
        "feed hold",
        "safe side",
        "gauge",
    ] {
        assert!(ran.out().contains(word), "{word}");
    }
}

#[test]
fn a_diff_writes_nothing() {
    let shop = Shop::with_only("lead-vs-designation");
    shop.write("wrong.nc", WRONG_LEAD);
    let ran = shop.run(&["fix", "--diff", "--allow", "motion"], &["wrong.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    assert_eq!(shop.read("wrong.nc"), WRONG_LEAD);
    let root = format!("{}/", shop.root.path().display());
    let diff = ran.out().replace(&root, "");
    assert_eq!(
        diff,
        "--- wrong.nc\n+++ wrong.nc\n@@ -6,7 +6,7 @@\n G97 S900 M3\r\n G0 X24. Z9.\r\n \
         G76 P020055 Q60 R0.03\r\n-G76 X16.933 Z-32. P1534 Q400 F2.\r\n\
         +G76 X16.933 Z-32. P1534 Q400 F2.5\r\n G0 X100. Z100. M5\r\n M30\r\n %\r\n"
    );
    let ran = shop.run(&["fix", "--diff"], &["wrong.nc"]);
    assert_eq!((ran.exit, ran.out()), (Exit::Clean, ""));
}

#[test]
fn standard_input_comes_out_mended() {
    let shop = Shop::with_only("lead-vs-designation");
    let config = shop.path("flankwise.toml").into_os_string();
    let args = ["fix", "-", "--allow", "motion", "--config"].map(OsString::from);
    let ran = flankwise(args.into_iter().chain([config]), WRONG_LEAD);
    assert_eq!(ran.exit, Exit::Clean);
    assert_eq!(ran.out, mended());
    assert!(
        ran.err
            .contains("stdin:9: lead-vs-designation (changes the cut): ")
    );
    let ran = flankwise(["fix", "-"], WRONG_LEAD);
    assert_eq!(ran.out, WRONG_LEAD);
}

/// The old bytes live on under another name: the file was replaced, not written over.
#[test]
fn files_are_replaced_whole() {
    let shop = Shop::with_only("lead-vs-designation");
    let path = shop.write("wrong.nc", WRONG_LEAD);
    fs::hard_link(&path, shop.path("kept.old")).unwrap();
    shop.run(&["fix", "--allow", "motion"], &["."]);
    assert_eq!(shop.read("wrong.nc"), mended());
    assert_eq!(shop.read("kept.old"), WRONG_LEAD);
    let names = fs::read_dir(shop.root.path()).unwrap();
    let names = names.map(|entry| entry.unwrap().file_name());
    assert_eq!(names.filter(|name| name != "flankwise.toml").count(), 2);
}

#[test]
fn read_only_programs_are_left_alone() {
    let shop = Shop::with_only("lead-vs-designation");
    let path = shop.write("wrong.nc", WRONG_LEAD);
    let mut rights = fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&path, rights).unwrap();
    let ran = shop.run(&["fix", "--allow", "motion"], &["wrong.nc"]);
    assert_eq!(ran.exit, Exit::Unread);
    assert!(
        ran.err
            .contains("wrong.nc: it is read-only and was left alone"),
        "{}",
        ran.err
    );
    assert_eq!(shop.read("wrong.nc"), WRONG_LEAD);
    assert!(!ran.out().contains("changes the cut"), "{}", ran.out());
}

#[cfg(unix)]
#[test]
fn two_names_of_one_file_are_mended_once() {
    let shop = Shop::with_only("lead-vs-designation");
    shop.write("wrong.nc", WRONG_LEAD);
    std::os::unix::fs::symlink("wrong.nc", shop.path("link.nc")).unwrap();
    let ran = shop.run(&["fix", "--allow", "motion"], &["."]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    assert!(
        ran.err.contains("mended: 1 finding in 1 program"),
        "{}",
        ran.err
    );
    assert!(shop.path("link.nc").is_symlink());
    assert_eq!(shop.read("wrong.nc"), mended());
}

/// Every rule that offers a fix: its bad program is mended by the command line, a second time
/// changes nothing, and its finding is gone.
#[test]
fn the_fix_of_every_rule() {
    let mut seen = 0;
    for rule in rules::checks::RULES.iter().filter(|rule| rule.fixes) {
        let folder = corpus().join("rules").join(rule.name);
        let shop = Shop::new();
        shop.write("bad.nc", rule.bad);
        if let Ok(facts) = fs::read(folder.join("flankwise.toml")) {
            shop.write("flankwise.toml", facts);
        }
        shop.run(&["fix", "--allow", "motion"], &["bad.nc"]);
        let once = shop.read("bad.nc");
        assert_ne!(once, rule.bad, "{}", rule.name);
        assert_eq!(
            once,
            fs::read(folder.join("fixed.nc")).unwrap(),
            "{}",
            rule.name
        );
        shop.run(&["fix", "--allow", "motion"], &["bad.nc"]);
        assert_eq!(shop.read("bad.nc"), once, "{}", rule.name);
        let json = shop.run(&["check", "--format", "json"], &["bad.nc"]).json();
        let left = json["files"][0]["findings"].as_array().unwrap();
        assert!(
            left.iter().all(|finding| finding["rule"] != rule.name),
            "{left:?}"
        );
        seen += 1;
    }
    assert!(seen > 0);
}

/// A text fix is proven by the streams of the real reader: writing a value in another way passes,
/// changing it does not.
#[test]
fn text_fixes_are_proven_by_what_the_program_does() {
    let settings = Settings::default();
    let attempt = |wrong: &str, right: &str| {
        let judge = |text: &[u8]| {
            let at = text
                .windows(wrong.len())
                .position(|window| window == wrong.as_bytes());
            let findings = at.map(|at| Finding {
                rule: "spelling",
                severity: Severity::Advice,
                span: Span::new(at as u32, (at + wrong.len()) as u32),
                line: 1,
                section: None,
                message: "spelled otherwise".to_owned(),
                because: Vec::new(),
                source: String::new(),
                help: String::new(),
                related: Vec::new(),
                fixes: vec![Fix {
                    title: format!("write {right}"),
                    kind: FixKind::Text,
                    edits: vec![Edit {
                        span: Span::new(at as u32, (at + wrong.len()) as u32),
                        text: right.to_owned(),
                    }],
                }],
            });
            findings.into_iter().collect()
        };
        let done = mend(SOUND, false, judge, |text| lexer::effects(text, &settings));
        (done.applied.len(), done.refused.len())
    };
    assert_eq!(attempt("X27.546 ", "X27.5460 "), (1, 0));
    assert_eq!(attempt("F2.\n", "F2.000\n"), (1, 0));
    assert_eq!(attempt("G0 X34. Z8.", "G00 Z8. X34."), (1, 0));
    assert_eq!(attempt("X27.546 ", "X27.547 "), (0, 1));
    assert_eq!(attempt("P1227 ", "P1228 "), (0, 1));
    assert_eq!(attempt("S1000 ", "S1001 "), (0, 1));
    assert_eq!(attempt("T0303", "T0304"), (0, 1));
    assert_eq!(attempt(" M5", ""), (0, 1));
}
