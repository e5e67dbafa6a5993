//! The gate: which rules and programs count, waivers, baselines, git.

use std::process::Command;

use proptest::prelude::*;

use super::*;

const DAY: &str = "--today=2026-11-25";

/// Seven equal steps: advice of `equal-depth-passes`.
const EQUAL: &[u8] = b"%\nO1300 (PUMP FOOT STUD)\nG21 G40 G99\nT0303\n(THREAD M20X2.5-6G)\nG97 S900 M3\nG0 X24. Z10.\n\
    G92 X19.5 Z-42. F2.5\nX19.\nX18.5\nX18.\nX17.5\nX17.\nX16.933\nX16.933\nG0 X100. Z100. M5\nM30\n%\n";

fn rules_of(ran: &Ran) -> Vec<String> {
    let json = ran.json();
    let files = json["files"].as_array().unwrap();
    let findings = files
        .iter()
        .flat_map(|file| file["findings"].as_array().unwrap());
    findings
        .map(|one| one["rule"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn rules_are_selected_and_ignored() {
    let shop = Shop::new();
    shop.write("a.nc", SURFACE_SPEED);
    shop.write("b.nc", EQUAL);
    let check = |args: &[&str]| {
        let mut all = vec!["check", "--format=json"];
        all.extend(args);
        shop.run(&all, &["."])
    };
    assert_eq!(
        rules_of(&check(&[])),
        ["surface-speed-in-thread", "equal-depth-passes"]
    );
    let only = check(&["--select", "equal-depth-passes,wrong-side"]);
    assert_eq!(rules_of(&only), ["equal-depth-passes"]);
    assert_eq!(only.exit, Exit::Clean);
    let rest = check(&["--ignore", "equal-depth-passes"]);
    assert_eq!(rules_of(&rest), ["surface-speed-in-thread"]);
    shop.write(
        "flankwise.toml",
        "[rules]\nequal-depth-passes = \"off\"\nsurface-speed-in-thread = \"advice\"\n",
    );
    assert_eq!(
        rules_of(&check(&["--select", "equal-depth-passes"])),
        ["equal-depth-passes"]
    );
    let kept = check(&["--select", "surface-speed-in-thread"]);
    assert_eq!(kept.exit, Exit::Clean, "the configured severity stays");
    for option in ["--select", "--ignore"] {
        let typo = check(&[option, "equal-dept-passes"]);
        assert_eq!(typo.exit, Exit::Usage);
        assert!(
            typo.err.contains(&format!(
                "{option}: there is no rule equal-dept-passes: did you mean equal-depth-passes?"
            )),
            "{}",
            typo.err
        );
    }
}

#[test]
fn statistics_count_by_rule() {
    let shop = Shop::new();
    for name in ["a.nc", "b.nc"] {
        shop.write(name, SURFACE_SPEED);
    }
    shop.write("c.nc", EQUAL);
    let ran = shop.run(&["check", "--statistics"], &["."]);
    assert_eq!(ran.exit, Exit::Findings);
    let rows: Vec<Vec<&str>> = ran
        .out()
        .lines()
        .map(|line| line.split_whitespace().collect())
        .collect();
    assert_eq!(
        rows[1][..7],
        ["2", "2", "0", "0", "2", "0", "surface-speed-in-thread"]
    );
    assert_eq!(
        rows[2][..7],
        ["1", "0", "0", "1", "1", "0", "equal-depth-passes"]
    );
    assert!(!ran.out().contains("-->"));
    let json = shop
        .run(&["check", "--statistics", "--format=json"], &["."])
        .json();
    assert_eq!(json["statistics"][0]["rule"], "surface-speed-in-thread");
    assert_eq!(json["statistics"][0]["programs"], 2);
    assert_eq!(json["files"].as_array().unwrap().len(), 3);
    let sarif = shop.run(&["check", "--statistics", "--format=sarif"], &["."]);
    assert_eq!(sarif.exit, Exit::Usage);
}

#[test]
fn programs_come_from_a_list() {
    let shop = Shop::new();
    let a = shop.write("a b.nc", SURFACE_SPEED);
    let readme = shop.write("README.md", "G0 X1\n");
    let notes = shop.write("notes.txt", "M24 x 3 shaft\n");
    shop.write("c.nc", SURFACE_SPEED);
    let names = [a, readme, notes].map(|path| path.to_str().unwrap().to_owned());
    for list in [
        names.join("\n"),
        names.join("\0"),
        names.join("\r\n") + "\r\n\r\n",
    ] {
        let ran = flankwise(
            ["check", "--files-from", "-", "--format=json"],
            list.as_bytes(),
        );
        assert_eq!(ran.exit, Exit::Findings, "{}", ran.err);
        assert_eq!(ran.json()["summary"]["files"], 1, "{list:?}");
        let file = shop.write("list", list);
        let from = [
            "check",
            "--format=json",
            "--files-from",
            file.to_str().unwrap(),
        ];
        assert_eq!(flankwise(from, b"").out, ran.out);
    }
    let ran = flankwise(["check", "--files-from", "-"], b"");
    assert_eq!(
        (ran.exit, ran.err.as_str()),
        (
            Exit::Clean,
            "no program to look at: none is listed or has changed\n"
        )
    );
    let gone = flankwise(["check", "--files-from", "-"], b"gone.nc\n");
    assert_eq!(gone.exit, Exit::Unread);
    let both = flankwise(["check", "-", "--files-from", "-"], b"");
    assert_eq!(both.exit, Exit::Usage);
    let nowhere = shop.path("nowhere");
    let ran = flankwise(["check", "--files-from", nowhere.to_str().unwrap()], b"");
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("there is no such file"), "{}", ran.err);
}

/// A repository with the shop in it.
pub(super) struct Repository {
    pub(super) shop: Shop,
}

impl Repository {
    pub(super) fn new() -> Repository {
        let repository = Repository { shop: Shop::new() };
        repository.git(&["init", "-q", "-b", "main"]);
        repository
    }

    pub(super) fn git(&self, args: &[&str]) {
        let output = Command::new("git")
            .current_dir(self.shop.root.path())
            .args([
                "-c",
                "user.name=shop",
                "-c",
                "user.email=shop@example.com",
                "-c",
                "commit.gpgsign=false",
            ])
            .args(args)
            .output()
            .unwrap();
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
    }

    pub(super) fn commit(&self) {
        self.git(&["add", "-A"]);
        self.git(&["commit", "-q", "-m", "state"]);
    }
}

#[test]
fn only_what_has_changed_since_a_revision() {
    let repository = Repository::new();
    let shop = &repository.shop;
    shop.write("lathe1/a.nc", SURFACE_SPEED);
    shop.write("lathe1/b.nc", SURFACE_SPEED);
    shop.write("lathe2/W\u{e4}lle 1.nc", SOUND);
    shop.write("lathe2/gone.nc", SOUND);
    repository.commit();
    let files = |ran: &Ran| -> Vec<String> {
        let json = ran.json();
        let files = json["files"].as_array().unwrap().iter();
        files
            .map(|file| {
                file["path"]
                    .as_str()
                    .unwrap()
                    .rsplit('/')
                    .next()
                    .unwrap()
                    .to_owned()
            })
            .collect()
    };
    let check = |rev: &str| shop.run(&["check", "--format=json", "--changed-since", rev], &["."]);
    let none = check("HEAD");
    assert_eq!(none.exit, Exit::Clean);
    assert!(files(&none).is_empty() && none.err.contains("none is listed or has changed"));
    shop.write("lathe1/b.nc", SOUND);
    shop.write("lathe2/new.nc", SURFACE_SPEED);
    shop.write("lathe2/W\u{e4}lle 1.nc", EQUAL);
    fs::remove_file(shop.path("lathe2/gone.nc")).unwrap();
    assert_eq!(files(&check("HEAD")), ["b.nc", "W\u{e4}lle 1.nc", "new.nc"]);
    repository.commit();
    assert_eq!(
        files(&check("main~1")),
        ["b.nc", "W\u{e4}lle 1.nc", "new.nc"]
    );
    assert!(files(&check("main")).is_empty());
    // A configuration that has changed concerns all of its programs.
    shop.write("lathe1/flankwise.toml", "[rules]\nwrong-side = \"off\"\n");
    assert_eq!(files(&check("HEAD")), ["a.nc", "b.nc"]);
    for (rev, said) in [
        ("no-such", "git knows no revision no-such"),
        ("--output=x", "git knows no revision --output=x"),
        ("", "git knows no revision"),
    ] {
        let ran = shop.run(&["check", &format!("--changed-since={rev}")], &["."]);
        assert_eq!(ran.exit, Exit::Usage, "{rev}");
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    let outside = Shop::new();
    outside.write("a.nc", SOUND);
    let ran = outside.run(&["check", "--changed-since=HEAD"], &["."]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("is in no git repository"), "{}", ran.err);
}

#[test]
fn a_baseline_lets_only_new_findings_count() {
    let shop = Shop::new();
    shop.write("lathe/a.nc", SURFACE_SPEED);
    shop.write("lathe/b.nc", EQUAL);
    let file = shop.path("known.json");
    let file = file.to_str().unwrap();
    let written = shop.run(&["check", "--write-baseline", file], &["."]);
    assert_eq!(written.exit, Exit::Clean);
    assert!(written.out.is_empty());
    assert!(
        written.err.starts_with("2 findings written to "),
        "{}",
        written.err
    );
    let text = String::from_utf8(shop.read("known.json")).unwrap();
    assert!(
        text.contains(
            "{\"path\":\"lathe/a.nc\",\"rule\":\"surface-speed-in-thread\",\"fingerprint\":\""
        ),
        "{text}"
    );
    let check = |args: &[&str]| {
        let mut all = vec!["check", "--baseline", file];
        all.extend(args);
        shop.run(&all, &["."])
    };
    let ran = check(&[]);
    assert_eq!(ran.exit, Exit::Clean);
    assert!(
        ran.out()
            .ends_with("0 errors, 0 warnings, 0 advice; 2 known from the baseline\n"),
        "{}",
        ran.out()
    );
    let json = check(&["--format=json"]).json();
    assert_eq!(
        json["files"][0]["known"][0]["rule"],
        "surface-speed-in-thread"
    );
    assert_eq!(json["files"][0]["findings"], serde_json::json!([]));
    assert_eq!(json["summary"]["known"], 2);
    let sarif = check(&["--format=sarif"]).json();
    for result in sarif["runs"][0]["results"].as_array().unwrap() {
        assert_eq!(result["baselineState"], "unchanged");
    }
    // A copy of the fault in another program is new; a program that moved is not.
    shop.write("lathe/copy.nc", SURFACE_SPEED);
    assert_eq!(check(&[]).exit, Exit::Findings);
    fs::remove_file(shop.path("lathe/copy.nc")).unwrap();
    fs::create_dir(shop.path("mill")).unwrap();
    fs::rename(shop.path("lathe/a.nc"), shop.path("mill/moved.nc")).unwrap();
    assert_eq!(check(&[]).exit, Exit::Clean);
    // Twice the same fault where the baseline knows one.
    let twin = String::from_utf8(SURFACE_SPEED.to_vec()).unwrap();
    let twin =
        twin.replace("M30\n%\n", "") + &twin.replace("%\nO1200", "O1201").replace("T0303", "T0505");
    shop.write("mill/moved.nc", twin);
    let ran = check(&["--format=json"]);
    assert_eq!(rules_of(&ran), ["surface-speed-in-thread"]);
    assert_eq!(ran.json()["files"][1]["known"].as_array().unwrap().len(), 1);
}

#[test]
fn a_baseline_that_cannot_be_used_stops_the_run() {
    let shop = Shop::new();
    shop.write("a.nc", SOUND);
    for (text, said) in [
        (&b"{}"[..], "cannot be read"),
        (b"{\"version\":2,\"findings\":[]}", "has version 2"),
        (b"\xff\xfe", "cannot be read"),
    ] {
        let file = shop.write("known.json", text);
        let ran = shop.run(&["check", "--baseline", file.to_str().unwrap()], &["a.nc"]);
        assert_eq!(ran.exit, Exit::Usage);
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    let missing = shop.path("missing.json");
    let ran = shop.run(
        &["check", "--baseline", missing.to_str().unwrap()],
        &["a.nc"],
    );
    assert_eq!(ran.exit, Exit::Usage);
    assert!(
        ran.err
            .contains("is not there; write it with --write-baseline"),
        "{}",
        ran.err
    );
    let nowhere = shop.path("no/such/folder.json");
    let ran = shop.run(
        &["check", "--write-baseline", nowhere.to_str().unwrap()],
        &["a.nc"],
    );
    assert_eq!(ran.exit, Exit::Usage);
}

#[test]
fn the_configuration_names_baseline_and_threshold() {
    let shop = Shop::new();
    shop.write("lathe/a.nc", SURFACE_SPEED);
    shop.write(
        "flankwise.toml",
        "[ci]\nbaseline = \"known.json\"\nfail_on = \"advice\"\n",
    );
    let missing = shop.run(&["check"], &["lathe"]);
    assert_eq!(missing.exit, Exit::Usage);
    let file = shop.path("known.json");
    shop.run(
        &["check", "--write-baseline", file.to_str().unwrap()],
        &["lathe"],
    );
    assert_eq!(shop.run(&["check"], &["lathe"]).exit, Exit::Clean);
    assert_eq!(
        shop.run(&["check", "--no-baseline"], &["lathe"]).exit,
        Exit::Findings
    );
    shop.write("lathe/b.nc", EQUAL);
    assert_eq!(
        shop.run(&["check"], &["lathe"]).exit,
        Exit::Findings,
        "advice fails"
    );
    assert_eq!(
        shop.run(&["check", "--fail-on=error"], &["lathe"]).exit,
        Exit::Clean
    );
    shop.write("flankwise.toml", "[ci]\nfail_on = \"errors\"\n");
    let wrong = shop.run(&["check"], &["lathe"]);
    assert_eq!(wrong.exit, Exit::Usage);
    assert!(
        wrong
            .err
            .contains("flankwise.toml:2:11: `fail_on` cannot be \"errors\": did you mean `error`?"),
        "{}",
        wrong.err
    );
}

#[test]
fn waived_findings_do_not_fail() {
    let shop = Shop::new();
    let text = String::from_utf8(SURFACE_SPEED.to_vec()).unwrap();
    shop.write(
        "a.nc",
        text.replace(
            "G96",
            "(ALLOW SURFACE-SPEED-IN-THREAD, OLD LATHE, UNTIL 2026-11-25)\nG96",
        ),
    );
    let ran = shop.run(&["check", DAY], &["a.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.out());
    assert!(
        ran.out()
            .ends_with("0 errors, 0 warnings, 0 advice; 1 waived\n")
    );
    let later = shop.run(&["check", "--today=2026-11-26"], &["a.nc"]);
    assert_eq!(later.exit, Exit::Findings);
    assert!(later.out().contains("warning[waiver-expired]"));
    let wrong = shop.run(&["check", "--today=26-11-2026"], &["a.nc"]);
    assert_eq!(wrong.exit, Exit::Usage);
    // Without a day the clock of the machine tells it.
    let now = shop.run(&["check"], &["a.nc"]);
    assert!(matches!(now.exit, Exit::Clean | Exit::Findings));
}

#[test]
fn waivers_of_a_configuration_over_a_run() {
    let shop = Shop::new();
    shop.write("old/a.nc", SURFACE_SPEED);
    shop.write("new/b.nc", SOUND);
    let waiver = |rule: &str, more: &str| {
        format!("[[waiver]]\nrule = \"{rule}\"\nreason = \"old lathe\"\n{more}\n")
    };
    let rule = "surface-speed-in-thread";
    shop.write("flankwise.toml", waiver(rule, "files = [\"old/**\"]"));
    let json = |args: &[&str], paths: &[&str]| {
        let mut all = vec!["check", DAY, "--format=json"];
        all.extend(args);
        shop.run(&all, paths)
    };
    let ran = json(&[], &["."]);
    assert_eq!(ran.exit, Exit::Clean);
    assert_eq!(
        ran.json()["files"][1]["waived"][0]["waiver"]["reason"],
        "old lathe"
    );
    assert!(rules_of(&ran).is_empty());
    // Unused, but only a run over everything can tell.
    shop.write("old/a.nc", SOUND);
    assert!(rules_of(&json(&[], &["new"])).is_empty());
    assert!(rules_of(&json(&[], &["old/a.nc"])).is_empty());
    assert!(rules_of(&json(&["--ignore", rule], &["."])).is_empty());
    let ran = json(&[], &["."]);
    assert_eq!(rules_of(&ran), ["waiver-unused"]);
    let files = ran.json();
    let file = files["files"].as_array().unwrap().last().unwrap();
    assert!(file["path"].as_str().unwrap().ends_with("flankwise.toml"));
    assert_eq!(
        (&file["findings"][0]["line"], &file["findings"][0]["column"]),
        (&1.into(), &1.into())
    );
    let text = shop.run(&["check", DAY], &["."]);
    assert!(
        text.out().contains("advice[waiver-unused]"),
        "{}",
        text.out()
    );
    assert!(
        text.out().contains("2 programs, 2 threading sections"),
        "{}",
        text.out()
    );
    for format in ["sarif", "junit", "github", "codequality", "jsonl"] {
        let ran = shop.run(&["check", DAY, "--format", format], &["."]);
        assert!(ran.out().contains("waiver-unused"), "{format}");
    }
    // Over, whatever else is looked at.
    shop.write(
        "flankwise.toml",
        waiver(rule, "files = [\"old/**\"]\nuntil = 2026-11-24"),
    );
    assert_eq!(rules_of(&json(&[], &["old/a.nc"])), ["waiver-expired"]);
    assert!(rules_of(&json(&[], &["new/b.nc"])).is_empty());
    shop.write("old/a.nc", SURFACE_SPEED);
    assert_eq!(rules_of(&json(&[], &["old"])), [rule, "waiver-expired"]);
    shop.write(
        "flankwise.toml",
        waiver(
            rule,
            "until = 2026-11-24\n[rules]\nwaiver-expired = \"off\"",
        ),
    );
    assert_eq!(rules_of(&json(&[], &["old"])), [rule]);
    // Signed for one finding, and there are two, each in a program of its own.
    shop.write("flankwise.toml", waiver(rule, "max_uses = 1"));
    assert!(rules_of(&json(&[], &["old"])).is_empty());
    shop.write("new/b.nc", SURFACE_SPEED);
    let ran = json(&["--jobs=2"], &["."]);
    assert_eq!(rules_of(&ran), ["waiver-expired"]);
    let over = "covers 2 findings, it was signed for 1";
    assert!(ran.out().contains(over), "{}", ran.out());
}

/// The demo shop, each program renumbered with another step and spaced anew.
fn renumbered(text: &[u8], step: u32, gap: bool, blank: bool) -> Vec<u8> {
    let mut out = Vec::new();
    for (at, block) in lexer::block::blocks(text).into_iter().enumerate() {
        let plain = block.names.is_empty() && block.statement.is_none() && block.skip.is_none();
        if !plain || block.words.is_empty() || block.program.is_some() {
            out.extend_from_slice(block.span.of(text));
        } else {
            out.extend_from_slice(format!("N{} ", (at as u32 + 1) * step).as_bytes());
            for word in &block.words {
                out.extend_from_slice(word.span.of(text));
                out.extend_from_slice(if gap { b" " } else { b"" });
            }
            for comment in &block.comments {
                out.extend_from_slice(comment.of(text));
            }
        }
        out.extend_from_slice(b"\n");
        if blank && at > 2 {
            out.extend_from_slice(b"\n");
        }
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// No old finding wakes, and none is forgotten.
    #[test]
    fn a_baseline_survives_renumbering(step in 1u32..150, gap in any::<bool>(), blank in any::<bool>()) {
        let shop = Shop::new();
        let programs = fs::read_dir(corpus().join("shop")).unwrap();
        for program in programs {
            let path = program.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            shop.write(&name, fs::read(&path).unwrap());
        }
        let file = shop.path("known.json");
        shop.run(&["check", "--write-baseline", file.to_str().unwrap()], &["."]);
        let before = shop.run(&["check", "--format=json"], &["."]).json();
        for file in before["files"].as_array().unwrap() {
            let path = PathBuf::from(file["path"].as_str().unwrap());
            let text = fs::read(&path).unwrap();
            fs::write(&path, renumbered(&text, step, gap, blank)).unwrap();
        }
        let after = shop.run(&["check", "--format=json", "--baseline", file.to_str().unwrap()], &["."]);
        prop_assert_eq!(after.exit, Exit::Clean, "{}", after.out());
        let after = after.json();
        let sum = |name: &str| before["summary"][name].as_u64().unwrap();
        prop_assert_eq!(after["summary"]["known"].as_u64().unwrap(), sum("error") + sum("warning") + sum("advice"));
        prop_assert!(sum("error") > 0);
        prop_assert_eq!(rules_of(&Ran { exit: Exit::Clean, out: serde_json::to_vec(&after).unwrap(), err: String::new() }), Vec::<String>::new());
    }
}
