//! Text and JSON: the contract of the document, and hostile programs.

use std::collections::BTreeSet;

use serde_json::Value;

use super::*;

/// A program whose comments try to drive a terminal, a build server, a page and a reader's eye.
pub(super) const HOSTILE: &[u8] = b"%\r\nO1200 (\x1b[2J\x1b]0;owned\x07 \x9b31m)\r\n(::error file=x::owned)\r\n\
    (##vso[task.complete result=Failed])\r\n(<script>alert(1)</script>)\r\n(\xe2\x80\xaeG6-2X03M DAERHT\xe2\x80\xac)\r\n\
    G21 G99\r\nT0303 (\xd0\xe5\xe7\xfc\xe1\xe0 \xcc30x2)\r\nG96 S180 M3\r\n\
    G0 X34. Z8.\r\nG76 P021055 Q80 R0.05\r\nG76 X27.546 Z-36. P1227 Q350 F2. (\x1b[31m\t\x00\x7f\xe2\x80\x8b)\r\n\
    (::error::line two)\r\nM30\r\n%\r\n";

fn harmless(text: &str) {
    for c in text.chars() {
        let bad = c.is_control() && c != '\n'
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        assert!(!bad, "{c:?} in {text}");
    }
    for line in text.lines() {
        assert!(!line.trim_start().starts_with("::"), "{line}");
        assert!(!line.trim_start().starts_with("##"), "{line}");
    }
}

#[test]
fn hostile_programs_are_shown_and_do_nothing() {
    let shop = Shop::with_only("surface-speed-in-thread");
    shop.write("::error::x.nc", HOSTILE);
    for args in [
        &["check"][..],
        &["check", "--format", "json"],
        &["passes"],
        &["passes", "--format", "json"],
        &["fix", "--diff"],
    ] {
        let ran = shop.run(args, &["."]);
        assert!(matches!(ran.exit, Exit::Clean | Exit::Findings), "{args:?}");
        harmless(&ran.err);
        harmless(ran.out());
    }
    let ran = shop.run(&["check"], &["::error::x.nc"]);
    insta::assert_snapshot!(ran.shown(&shop));
    let ran = flankwise(["check", "-", "--stdin-filename", "::error::x"], HOSTILE);
    harmless(ran.out());
    let json = flankwise(["check", "-", "--format", "json"], HOSTILE).json();
    let findings = json["files"][0]["findings"].as_array().unwrap();
    let lines: Vec<_> = findings
        .iter()
        .filter(|finding| finding["rule"] == "surface-speed-in-thread")
        .map(|finding| &finding["line"])
        .collect();
    assert_eq!(lines, [12]);
}

fn keys(value: &Value) -> BTreeSet<&str> {
    let object = value.as_object().unwrap();
    object.keys().map(String::as_str).collect()
}

fn has(value: &Value, wanted: &str) {
    let found = keys(value);
    for key in wanted.split_whitespace() {
        assert!(found.contains(key), "{key} is missing in {found:?}");
    }
}

/// Version 1: these keys are there for good.
#[test]
fn the_document_has_every_key_of_its_contract() {
    let shop = Shop::new();
    shop.write("bad.nc", SURFACE_SPEED);
    shop.write("plain.nc", b"G21\nG0 X1.\nM30\n");
    let json = shop.run(&["check", "--format", "json"], &["."]).json();
    has(&json, "version files summary");
    assert_eq!(json["version"], 1);
    has(
        &json["summary"],
        "files sections error warning advice unread",
    );
    let file = &json["files"][0];
    has(file, "path syntax sections findings");
    assert_eq!(file["syntax"], "two-block");
    assert_eq!(json["files"][1]["syntax"], Value::Null);
    let section = &file["sections"][0];
    has(
        section,
        "fingerprint kind syntax lines side hand lead_mm pitch_mm starts tool rpm spindle designation \
         start_x_mm crest_x_mm root_x_mm z_start_mm z_end_mm passes seconds unknown",
    );
    has(&section["designation"], "text from why");
    let pass = &section["passes"][0];
    has(
        pass,
        "line purpose x_mm depth_mm step_mm area_mm2 z_start_mm z_end_mm lead_mm",
    );
    let finding = &file["findings"][0];
    has(
        finding,
        "rule severity line column end_line end_column bytes section message because source fixes",
    );
    // The word at the place is the word of the finding.
    assert_eq!(finding["line"], 9);
    assert_eq!(finding["column"], 1);
    let bytes = finding["bytes"].as_array().unwrap();
    let at = |n: usize| bytes[n].as_u64().unwrap() as usize;
    assert!(SURFACE_SPEED[at(0)..at(1)].starts_with(b"G76 X27.546"));
    assert_eq!(
        finding["end_column"].as_u64().unwrap() - 1,
        (at(1) - at(0)) as u64
    );
    let sound = shop.write("sound.nc", SOUND);
    let json = flankwise(
        [
            "passes".into(),
            "--format=json".into(),
            sound.into_os_string(),
        ],
        b"",
    )
    .json();
    assert_eq!(json["files"][0]["findings"].as_array().unwrap().len(), 0);
    has(
        &json["files"][0]["sections"][0]["seconds"],
        "cut air return total",
    );
}

/// The numbers of a pass table, worked by hand: √n steps of 0.35 under M30, height 1.227.
#[test]
fn the_numbers_are_those_of_the_program() {
    let json = flankwise(["passes", "-", "--format", "json"], SOUND).json();
    let section = &json["files"][0]["sections"][0];
    for (key, wanted) in [
        ("lead_mm", 2.0),
        ("pitch_mm", 2.0),
        ("rpm", 1000.0),
        ("start_x_mm", 34.0),
        ("root_x_mm", 27.546),
        ("crest_x_mm", 30.0),
        ("z_start_mm", 8.0),
        ("z_end_mm", -36.0),
    ] {
        assert_eq!(section[key].as_f64(), Some(wanted), "{key}");
    }
    assert_eq!(section["lines"], serde_json::json!([8, 9]));
    assert_eq!(section["tool"], "T0303");
    assert_eq!(section["designation"]["text"], "M30x2-6g");
    assert_eq!(section["designation"]["from"], "annotation");
    let passes = section["passes"].as_array().unwrap();
    assert_eq!(passes[0]["depth_mm"].as_f64(), Some(0.35));
    assert_eq!(passes[0]["x_mm"].as_f64(), Some(29.3));
    // 0.35·√2
    assert_eq!(passes[1]["depth_mm"].as_f64(), Some(0.494974747));
    assert_eq!(passes.last().unwrap()["purpose"], "spring");
}

#[test]
fn a_table_for_a_person() {
    let shop = Shop::with_only("surface-speed-in-thread");
    shop.write("sound.nc", SOUND);
    insta::assert_snapshot!(shop.run(&["passes"], &["sound.nc"]).shown(&shop));
}

#[test]
fn a_finding_for_a_person() {
    let shop = Shop::with_only("surface-speed-in-thread");
    shop.write("bad.nc", SURFACE_SPEED);
    insta::assert_snapshot!(shop.run(&["check"], &["bad.nc"]).shown(&shop));
    let quiet = shop.run(&["check", "--quiet"], &["bad.nc"]);
    assert!(!quiet.out().contains("1 program"));
}

/// A rule that lacks a fact says which, in every format; it never passes for clean.
#[test]
fn missing_facts_are_told() {
    let shop = Shop::with_only("pitch-diameter-out");
    shop.write("sound.nc", SOUND);
    let ran = shop.run(&["check"], &["sound.nc"]);
    assert_eq!(ran.exit, Exit::Clean);
    let told = "not judged: pitch-diameter-out in 1 section: the nose of the tool is missing";
    assert!(ran.out().contains(told), "{}", ran.out());
    let quiet = shop.run(&["check", "--quiet"], &["sound.nc"]);
    assert_eq!(quiet.out(), "");
    let table = shop.run(&["passes"], &["sound.nc"]);
    assert!(
        table
            .out()
            .contains("  not judged: pitch-diameter-out: the nose of the tool")
    );
    let json = shop
        .run(&["check", "--format", "json"], &["sound.nc"])
        .json();
    let all = json["files"][0]["sections"][0]["not_judged"]
        .as_array()
        .unwrap();
    let one = all
        .iter()
        .find(|one| one["rule"] == "pitch-diameter-out")
        .unwrap();
    assert!(
        one["why"]
            .as_str()
            .unwrap()
            .contains("the nose of the tool is missing")
    );
    // The lines to add are told once a program as data, and once a run for a person.
    let missing = &json["files"][0]["missing"];
    assert_eq!(missing.as_array().unwrap().len(), 1, "{missing}");
    assert_eq!(
        missing[0]["rules"],
        serde_json::json!(["pitch-diameter-out"])
    );
    let add = ["[[tool]]", "number = 3", "nose_radius_mm = \u{2026}"];
    assert_eq!(missing[0]["add"], serde_json::json!(add));
    shop.write("other.nc", SOUND);
    let ran = shop.run(&["check"], &["."]);
    let advice = format!(
        "advice: the nose of the tool is missing in 2 programs for pitch-diameter-out; add to \
         flankwise.toml:\n    {}\n    {}\n    {}\n",
        add[0], add[1], add[2]
    );
    assert_eq!(ran.out().matches(&advice).count(), 1, "{}", ran.out());
    let lines = shop.run(&["check", "--format", "jsonl"], &["."]);
    assert_eq!(lines.out().matches("\"type\":\"missing-fact\"").count(), 2);
}

/// The whole demo shop parses as JSON and is judged alike from its text.
#[test]
fn the_demo_shop_in_both_formats() {
    let path = corpus().join("shop").into_os_string();
    let text = flankwise(["check".into(), path.clone()], b"");
    let json = flankwise(["check".into(), "--format=json".into(), path], b"");
    assert_eq!(text.exit, json.exit);
    let json = json.json();
    let summary = &json["summary"];
    let count = |key: &str| summary[key].as_u64().unwrap();
    assert!(count("files") >= 10 && count("sections") >= 10);
    let shown = |severity: &str| {
        text.out().matches(&format!("\n{severity}[")).count() as u64
            + u64::from(text.out().starts_with(&format!("{severity}[")))
    };
    for severity in ["error", "warning", "advice"] {
        assert_eq!(shown(severity), count(severity), "{severity}");
    }
}
