use super::*;
use crate::checks::testing::{assert_pairs, assert_pairs_with, assert_silent, judged};

const DAY: &str = "2026-11-25";

fn facts() -> Facts {
    Facts {
        today: Date::parse(DAY),
        ..Facts::default()
    }
}

/// Seven equal steps: `equal-depth-passes`.
fn equal(note: &str) -> String {
    format!(
        "G21 G40 G99\nT0303\n(THREAD M20X2.5-6G)\n{note}\nG97 S900 M3\nG0 X24. Z10.\nG92 X19.5 Z-42. F2.5\n\
         X19.\nX18.5\nX18.\nX17.5\nX17.\nX16.933\nX16.933\nG0 X100. Z100.\nM30\n"
    )
}

fn rules(judgement: &Judgement) -> Vec<&'static str> {
    judgement
        .findings
        .iter()
        .map(|finding| finding.rule)
        .collect()
}

#[test]
fn a_note_waives_its_rule_in_the_next_section() {
    assert_eq!(rules(&judged(&equal(""), &facts())), ["equal-depth-passes"]);
    for note in [
        "(ALLOW EQUAL-DEPTH-PASSES, OLD LATHE)",
        "(allow equal-depth-passes, old lathe, until 2026-11-25)",
        "( ALLOW EQUAL DEPTH PASSES , OLD LATHE, NO CYCLES , UNTIL 2027-03-31 )",
        "; ALLOW equal_depth_passes, old lathe (no cycles)",
        "N50 (ALLOW EQUAL-DEPTH-PASSES, OLD LATHE)",
    ] {
        let judgement = judged(&equal(note), &facts());
        assert!(
            judgement.findings.is_empty(),
            "{note}: {:?}",
            judgement.findings
        );
        let [waived] = judgement.waived.as_slice() else {
            panic!("{note}: {:?}", judgement.waived);
        };
        assert!(
            waived.reason.to_lowercase().starts_with("old lathe"),
            "{note}"
        );
        assert_eq!(waived.finding.rule, "equal-depth-passes");
        let By::Note { line, .. } = waived.by else {
            panic!("{note}")
        };
        assert_eq!(line, 4);
    }
}

#[test]
fn it_reaches_no_farther() {
    let two = format!(
        "{}{}",
        equal("(ALLOW EQUAL-DEPTH-PASSES, OLD LATHE)").replace("M30\n", ""),
        equal("")
            .replace("T0303", "T0505")
            .replace("Z-42.", "Z-30.")
    );
    let judgement = judged(&two, &facts());
    assert_eq!(rules(&judgement), ["equal-depth-passes"]);
    assert_eq!(judgement.waived.len(), 1);
    assert!(judgement.findings[0].line > judgement.waived[0].finding.line);
}

#[test]
fn a_note_that_ran_out_waives_nothing_and_says_so() {
    for (note, fix) in [
        (
            "(ALLOW EQUAL-DEPTH-PASSES, OLD LATHE, UNTIL 2026-11-24)",
            false,
        ),
        (
            "; allow equal depth passes, old lathe, until 2020-01-01",
            false,
        ),
    ] {
        let judgement = judged(&equal(note), &facts());
        assert_eq!(
            rules(&judgement),
            ["waiver-expired", "equal-depth-passes"],
            "{note}"
        );
        assert_eq!(!judgement.findings[0].fixes.is_empty(), fix, "{note}");
        assert!(judgement.waived.is_empty());
        // Nobody told the day: nothing runs out.
        let judgement = judged(&equal(note), &Facts::default());
        assert!(judgement.findings.is_empty() && judgement.waived.len() == 1);
    }
}

/// One thread in five ways of writing, with a place for a note.
fn sound(note: &str) -> [String; 5] {
    let head = "G21 G40 G99\nT0303\n(THREAD M30X2-6G)\n";
    [
        format!(
            "{head}{note}G97 S1000 M3\nG0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100.\n"
        ),
        format!(
            "{head}G97 S1000 M3\nG0 X34. Z8.\nG92 X29.2 Z-36. F2.\n{note}X28.7\nX28.3\nX28.\nX27.75\nX27.546\nG0 X100.\n"
        ),
        format!(
            "{head}G97 S1000 M3\nG0 X34. Z8.\n{note}G78 X29.2 Z-36. F2.\nX28.7\nX28.3\nX28.\nX27.75\nX27.546\nG0 X100.\n"
        ),
        format!(
            "{note}{head}G97 S1000 M3\nG0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100.\n"
        ),
        format!(
            "{head}G97 S1000 M3\nG0 X34. Z8.\nG0 X29.2\nG32 Z-36. F2.\nG0 X34.\nZ8.\nX28.7\nG32 Z-36.\nG0 X34.\nZ8.\nX28.2\n{note}G32 Z-36.\nG0 X34.\nZ8.\nX27.8\nG32 Z-36.\nG0 X34.\nZ8.\nX27.546\nG32 Z-36.\nG0 X34.\nZ8.\n"
        ),
    ]
}

#[test]
fn waivers_that_cover_nothing() {
    let good = sound("");
    for note in [
        "(ALLOW WRONG-SIDE, AS ORDERED)\n",
        "(allow wrong side, as ordered, until 2099-12-31)\n",
    ] {
        let bad = sound(note);
        let pairs: Vec<_> = bad
            .iter()
            .map(String::as_str)
            .zip(good.iter().map(String::as_str))
            .collect();
        assert_pairs("waiver-unused", &pairs);
    }
    // A last day that is over, and nothing left to waive.
    for (bad, good) in sound("(ALLOW WRONG-SIDE, AS ORDERED, UNTIL 2026-11-24)\n")
        .iter()
        .zip(&good)
    {
        let judgement = judged(bad, &facts());
        let [finding] = judgement
            .findings
            .iter()
            .filter(|f| f.rule == "waiver-expired")
            .collect::<Vec<_>>()[..]
        else {
            panic!("{bad}");
        };
        assert_eq!(&crate::checks::testing::mended(bad, finding), good);
        assert_pairs_with("waiver-expired", &facts(), &[(bad, good)]);
        assert!(!judgement.findings.iter().any(|f| f.rule == "waiver-unused"));
    }
    let at_the_end = judged("G21\nT0303 (ALLOW WRONG-SIDE, AS ORDERED)\nM30\n", &facts());
    assert_eq!(rules(&at_the_end), ["waiver-unused"]);
    assert!(at_the_end.findings[0].because[0].contains("no thread follows"));
    let edit = &at_the_end.findings[0].fixes[0].edits[0];
    assert_eq!((edit.span.start, edit.span.end), (9, 40));
}

#[test]
fn a_rule_that_is_off_tells_nothing_about_its_waiver() {
    let mut facts = facts();
    facts.rules.insert("wrong-side".to_owned(), Setting::Off);
    let judgement = judged(&sound("(ALLOW WRONG-SIDE, AS ORDERED)\n")[0], &facts);
    assert!(
        !rules(&judgement).contains(&"waiver-unused"),
        "{:?}",
        judgement.findings
    );
}

#[test]
fn notes_that_cannot_be_read() {
    for (note, why, help) in [
        ("(ALLOW WRONG-SIDE)", "no reason", "write why"),
        ("(ALLOW WRONG-SIDE, )", "no reason", "write why"),
        (
            "(ALLOW WRONG-SIDE, ..., UNTIL 2027-03-31)",
            "no reason",
            "write why",
        ),
        (
            "(ALLOW WRONG-SIDE, AS ORDERED, UNTIL 31.3.2027)",
            "`31.3.2027` is no date",
            "2027-03-31",
        ),
        (
            "(ALLOW WRONG-SIDE, AS ORDERED, UNTIL 2027-02-30)",
            "no date",
            "2027-03-31",
        ),
        (
            "(ALLOW WRONG-SIDE, AS ORDERED, UNTIL)",
            "no date",
            "2027-03-31",
        ),
        (
            "(ALLOW WRONG-SITE, AS ORDERED)",
            "no rule wrong-site",
            "did you mean wrong-side?",
        ),
        (
            "; allow everything-here, as ordered",
            "no rule everything-here",
            "explain",
        ),
        (
            "(ALLOW ALL OF IT, AS ORDERED, UNTIL 2027-03-31)",
            "no rule all-of-it",
            "explain",
        ),
    ] {
        let judgement = judged(&sound(&format!("{note}\n"))[0], &facts());
        let found: Vec<_> = judgement
            .findings
            .iter()
            .filter(|f| f.rule == "waiver-unreadable")
            .collect();
        let [finding] = found[..] else {
            panic!("{note}: {:?}", judgement.findings);
        };
        assert!(finding.message.contains(why), "{}", finding.message);
        assert!(finding.help.contains(help), "{}", finding.help);
    }
    let notes = [
        "(ALLOW WRONG-SIDE)",
        "(ALLOW WRONG-SIDE, AS ORDERED, UNTIL 31.3.2027)",
        "(ALLOW WRONG-SITE, AS ORDERED)",
        "; allow wrong-side",
        "N50 (ALLOW WRONG-SIDE, ...)",
    ];
    for (at, note) in notes.into_iter().enumerate() {
        let (bad, good) = (sound(&format!("{note}\n")), sound(""));
        assert_pairs_with("waiver-unreadable", &facts(), &[(&bad[at], &good[at])]);
    }
    assert_silent(
        "waiver-unreadable",
        &[
            "(ALLOW COOLANT TO DRAIN)\nG0 X1.\n",
            "(ALLOWANCE 0.2, TURN LATER)\nG0 X1.\n",
            "(ALLOW 5 MIN WARM UP, THEN START)\nG0 X1.\n",
            "(ALLOW)\n(ALLOW )\n; ALLOW\n(NOT ALLOW WRONG-SIDE)\n",
            "(ALLOW 0.02 MM)\nG0 X1.\n",
        ],
    );
}

#[test]
fn waivers_of_the_configuration() {
    let config = |more: &str| {
        let text = format!(
            "[[waiver]]\nrule = \"equal-depth-passes\"\nreason = \"old lathe\"\nfiles = [\"old/**\"]\n{more}"
        );
        crate::facts::Config::parse("flankwise.toml", &text, &["equal-depth-passes"])
    };
    let judge = |more: &str, file: &str| {
        let (_, mut facts) = config(more).unwrap().facts(file);
        facts.today = Date::parse(DAY);
        judged(&equal(""), &facts)
    };
    let judgement = judge("", "old/O1.nc");
    assert!(judgement.findings.is_empty());
    let By::Config {
        index: 0,
        ref source,
    } = judgement.waived[0].by
    else {
        panic!()
    };
    assert_eq!(source, "flankwise.toml: waiver 1");
    assert_eq!(rules(&judge("", "new/O1.nc")), ["equal-depth-passes"]);
    assert!(
        judge("until = 2026-11-25\n", "old/O1.nc")
            .findings
            .is_empty()
    );
    assert_eq!(
        rules(&judge("until = 2026-11-24\n", "old/O1.nc")),
        ["equal-depth-passes"]
    );
    let text = equal("");
    let program = lexer::read(text.as_bytes(), &Default::default());
    let print = fingerprint(text.as_bytes(), &program.sections[0]);
    assert!(
        judge(&format!("section = \"{print}\"\n"), "old/O1.nc")
            .findings
            .is_empty()
    );
    assert_eq!(
        rules(&judge("section = \"0123456789abcdef\"\n", "old/O1.nc")),
        ["equal-depth-passes"]
    );
    for (more, place, message) in [
        ("until = 2027-02-30\n", (5, 9), ""),
        (
            "until = \"soon\"\n",
            (5, 9),
            "`until` must be a day, such as 2027-03-31",
        ),
        (
            "section = \"abc\"\n",
            (5, 11),
            "`section` must be a fingerprint",
        ),
        (
            "sektion = \"abc\"\n",
            (5, 1),
            "unknown key `sektion` in [[waiver]]: did you mean `section`?",
        ),
    ] {
        let errors = config(more).unwrap_err();
        assert!(errors[0].message.starts_with(message), "{errors:?}");
        assert_eq!((errors[0].line, errors[0].column), place, "{errors:?}");
    }
    let without = crate::facts::Config::parse(
        "f",
        "[[waiver]]\nrule = \"equal-depth-passes\"\n",
        &["equal-depth-passes"],
    );
    assert!(without.unwrap_err()[0].message.contains("add `reason"));
}

#[test]
fn a_waiver_of_the_configuration_over_a_run() {
    let text = "\n[[waiver]]\nrule = \"wrong-side\"\nreason = \"as ordered\"\nuntil = 2026-11-24\nby = \"the foreman\"\n";
    let config = crate::facts::Config::parse("flankwise.toml", text, &["wrong-side"]).unwrap();
    let [waiver] = &config.waivers(None)[..] else {
        panic!()
    };
    assert_eq!(waiver.line, 2);
    let today = Date::parse(DAY);
    assert_eq!(
        of_config(waiver, today, 1, false).unwrap().rule,
        "waiver-expired"
    );
    assert_eq!(of_config(waiver, None, 1, true), None);
    assert_eq!(of_config(waiver, None, 0, false), None);
    let unused = of_config(waiver, None, 0, true).unwrap();
    assert_eq!(unused.rule, "waiver-unused");
    assert!(
        unused
            .because
            .iter()
            .any(|line| line.contains("the foreman"))
    );
}

/// Signed for two findings: the third is one too many, in whatever program it stands.
#[test]
fn a_waiver_covers_as_many_findings_as_it_was_signed_for() {
    let text = "[[waiver]]\nrule = \"wrong-side\"\nreason = \"as ordered\"\nmax_uses = 2\n";
    let read = |text: &str| crate::facts::Config::parse("flankwise.toml", text, &["wrong-side"]);
    let config = read(text).unwrap();
    let [waiver] = &config.waivers(None)[..] else {
        panic!()
    };
    assert_eq!(of_config(waiver, None, 2, true), None);
    let finding = of_config(waiver, None, 3, false).unwrap();
    assert_eq!(finding.rule, "waiver-expired");
    assert!(
        finding
            .message
            .contains("covers 3 findings, it was signed for 2")
    );
    let wrong = read(&text.replace("= 2", "= 0")).unwrap_err();
    assert!(wrong[0].message.contains("max_uses"), "{wrong:?}");
}
