//! The formats for machines, each against its published schema or a reader that is not ours.
//!
//! - SARIF 2.1.0: `tests/data/schema/sarif-2.1.0.json` is the schema of the OASIS standard as the
//!   package serde-sarif 0.8.0 carries it.
//! - JUnit XML: read by roxmltree; the elements and attributes are those of `junit-10.xsd`, which
//!   the source distribution of pytest on PyPI carries. The files were also validated with it by
//!   hand.
//! - Code quality JSON and workflow commands: the fields that the hosts document (from memory).

use std::collections::HashSet;

use serde_json::Value;

use super::output::HOSTILE;
use super::*;

/// A shop with one of everything: an error, a note that waives, a file that cannot be read, a
/// rule that cannot judge, text that is not read, umlauts in an old code page.
fn mixed() -> Shop {
    let shop = Shop::new();
    shop.write("turning/bad, worse: 50%.nc", SURFACE_SPEED);
    shop.write("turning/hostile.nc", HOSTILE);
    shop.write("turning/sound.nc", SOUND);
    let waived = String::from_utf8(SURFACE_SPEED.to_vec()).unwrap();
    let note = "(ALLOW SURFACE-SPEED-IN-THREAD, BRACKETS [A](B) AND {0}, UNTIL 2027-03-31)\nG96";
    shop.write("waived.nc", waived.replace("G96", note));
    let unused = String::from_utf8(SOUND.to_vec()).unwrap();
    shop.write(
        "unused.nc",
        unused.replace("G97", "(\u{e4}) (ALLOW WRONG-SIDE, AS ORDERED)\nG97"),
    );
    shop.write("utf16.nc", b"\xff\xfeG\x000\x00");
    shop
}

const DAY: [&str; 2] = ["--today", "2026-11-25"];

fn run(shop: &Shop, format: &str) -> Ran {
    shop.run(&["check", "--format", format, DAY[0], DAY[1]], &["."])
}

/// Every text of a document.
fn texts<'a>(value: &'a Value, all: &mut Vec<&'a str>) {
    match value {
        Value::String(text) => all.push(text),
        Value::Array(items) => items.iter().for_each(|item| texts(item, all)),
        Value::Object(map) => map.values().for_each(|item| texts(item, all)),
        _ => {}
    }
}

fn sarif_schema() -> jsonschema::Validator {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/data/schema/sarif-2.1.0.json");
    let mut schema: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    // The published pattern has a stray bracket that strict readers of patterns refuse.
    for definition in ["run", "toolComponent"] {
        let language = &mut schema["definitions"][definition]["properties"]["language"]["pattern"];
        assert_eq!(*language, "^[a-zA-Z]{2}|^[a-zA-Z]{2}-[a-zA-Z]{2}]?$");
        *language = "^[a-zA-Z]{2}(-[a-zA-Z]{2})?$".into();
    }
    jsonschema::draft7::new(&schema).unwrap()
}

fn assert_sarif(log: &Value) {
    let schema = sarif_schema();
    let errors: Vec<String> = schema
        .iter_errors(log)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{}", errors.join("\n"));
}

#[test]
fn sarif_is_what_the_standard_wants() {
    let shop = mixed();
    let ran = run(&shop, "sarif");
    assert_eq!(ran.exit, Exit::Unread);
    let log = ran.json();
    assert_sarif(&log);
    let run = &log["runs"][0];
    assert_eq!(run["columnKind"], "unicodeCodePoints");
    let rules = run["tool"]["driver"]["rules"].as_array().unwrap();
    assert_eq!(rules.len(), rules::checks::RULES.len());
    for rule in rules {
        let markdown = rule["help"]["markdown"].as_str().unwrap();
        assert!(markdown.contains("## Source\n") && markdown.contains("```gcode\n"));
    }
    let results = run["results"].as_array().unwrap();
    let of = |rule: &str| -> Vec<&Value> {
        results
            .iter()
            .filter(|result| result["ruleId"] == rule)
            .collect()
    };
    let speed = of("surface-speed-in-thread");
    assert_eq!(speed.len(), 3);
    let waived: Vec<_> = speed
        .iter()
        .filter(|result| result["suppressions"].is_array())
        .collect();
    assert_eq!(waived.len(), 1);
    assert_eq!(waived[0]["suppressions"][0]["kind"], "inSource");
    assert_eq!(
        waived[0]["suppressions"][0]["justification"],
        "BRACKETS [A](B) AND {0} (until 2027-03-31)"
    );
    for result in results {
        let index = result["ruleIndex"].as_u64().unwrap() as usize;
        assert_eq!(rules[index]["id"], result["ruleId"]);
        assert_eq!(
            result["partialFingerprints"]["threadSection/v1"]
                .as_str()
                .unwrap()
                .len(),
            16
        );
    }
    // The fix takes the note out: region and text, and a column in characters behind an umlaut.
    let unused = of("waiver-unused");
    let region = &unused[0]["locations"][0]["physicalLocation"]["region"];
    assert_eq!(
        (&region["startLine"], &region["startColumn"]),
        (&6.into(), &5.into())
    );
    let change = &unused[0]["fixes"][0]["artifactChanges"][0];
    assert_eq!(change["replacements"][0]["insertedContent"]["text"], "");
    // Fixes that change the cut are told, not offered.
    assert!(results.iter().all(|result| {
        let message = result["message"]["text"].as_str().unwrap();
        !message.contains("changes the cut") || result["fixes"].is_null()
    }));
    let uris: HashSet<&str> = results
        .iter()
        .map(|result| {
            result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
                .as_str()
                .unwrap()
        })
        .collect();
    assert!(
        uris.iter()
            .any(|uri| uri.ends_with("/turning/bad%2C%20worse%3A%2050%25.nc")),
        "{uris:?}"
    );
    let invocation = &run["invocations"][0];
    assert_eq!(invocation["executionSuccessful"], false);
    assert_eq!(invocation["exitCode"], 3);
    let notes = invocation["toolExecutionNotifications"].as_array().unwrap();
    let ids: HashSet<&str> = notes
        .iter()
        .map(|note| note["descriptor"]["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, HashSet::from(["unread", "not-judged"]));
}

/// The errors of the schema are really looked for.
#[test]
fn the_schema_catches_a_wrong_document() {
    let mut log = run(&mixed(), "sarif").json();
    log["runs"][0]["results"][0]["level"] = "advice".into();
    assert!(!sarif_schema().is_valid(&log));
    let mut log = run(&mixed(), "sarif").json();
    log["runs"][0]["columnKind"] = "bytes".into();
    assert!(!sarif_schema().is_valid(&log));
}

#[test]
fn sarif_of_nothing_and_of_standard_input() {
    let shop = Shop::new();
    shop.write("plain.nc", b"G0 X1.\nM30\n");
    let ran = run(&shop, "sarif");
    assert_eq!(ran.exit, Exit::Clean);
    assert_sarif(&ran.json());
    assert_eq!(ran.json()["runs"][0]["results"], serde_json::json!([]));
    let ran = flankwise(
        [
            "check",
            "-",
            "--format",
            "sarif",
            "--stdin-filename",
            "turning/O1200",
        ],
        SURFACE_SPEED,
    );
    assert_sarif(&ran.json());
    let place = &ran.json()["runs"][0]["results"][0]["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "turning/O1200");
    assert_eq!(place["artifactLocation"]["uriBaseId"], "SRCROOT");
    assert_eq!(place["region"]["startLine"], 9);
}

#[test]
fn junit_is_read_by_an_xml_reader() {
    let shop = mixed();
    let ran = run(&shop, "junit");
    let text = ran.out();
    let document =
        roxmltree::Document::parse(text).unwrap_or_else(|error| panic!("{error}\n{text}"));
    let root = document.root_element();
    assert_eq!(root.tag_name().name(), "testsuites");
    let count = |node: roxmltree::Node<'_, '_>, name: &str| {
        node.attribute(name).unwrap().parse::<usize>().unwrap()
    };
    let suites: Vec<_> = root
        .children()
        .filter(roxmltree::Node::is_element)
        .collect();
    assert_eq!(
        suites.len(),
        6,
        "a suite for each program and each input that could not be read"
    );
    let mut sums = [0; 4];
    for suite in &suites {
        assert_eq!(suite.tag_name().name(), "testsuite");
        let cases: Vec<_> = suite
            .children()
            .filter(roxmltree::Node::is_element)
            .collect();
        let with = |kind: &str| {
            cases
                .iter()
                .filter(|case| case.children().any(|child| child.has_tag_name(kind)))
                .count()
        };
        assert_eq!(count(*suite, "tests"), cases.len());
        assert_eq!(count(*suite, "failures"), with("failure"));
        assert_eq!(count(*suite, "errors"), with("error"));
        for case in &cases {
            assert_eq!(case.tag_name().name(), "testcase");
            assert_eq!(case.attribute("classname"), suite.attribute("name"));
            for child in case.children().filter(roxmltree::Node::is_element) {
                let name = child.tag_name().name();
                assert!(
                    ["failure", "error", "skipped", "system-out"].contains(&name),
                    "{name}"
                );
            }
        }
        for (sum, kind) in sums
            .iter_mut()
            .zip(["failure", "error", "skipped", "system-out"])
        {
            *sum += with(kind);
        }
    }
    let attributes: HashSet<&str> = root
        .attributes()
        .map(|attribute| attribute.name())
        .collect();
    assert_eq!(
        attributes,
        HashSet::from(["name", "tests", "failures", "errors"])
    );
    assert_eq!(count(root, "failures"), sums[0]);
    assert_eq!(count(root, "errors"), 1);
    assert_eq!((sums[0], sums[1]), (2, 1), "{text}");
    let waived = document.descendants().find(|node| {
        node.attribute("message")
            .is_some_and(|text| text.starts_with("waived: "))
    });
    assert_eq!(
        waived.unwrap().attribute("message"),
        Some("waived: BRACKETS [A](B) AND {0}")
    );
    // What fails follows the threshold.
    let never = shop.run(
        &["check", "--format", "junit", "--fail-on", "never"],
        &["."],
    );
    assert!(!never.out().contains("<failure"));
}

#[test]
fn code_quality_has_the_fields_of_the_host() {
    let shop = mixed();
    let problems = run(&shop, "codequality").json();
    let problems = problems.as_array().unwrap();
    let mut prints = HashSet::new();
    for problem in problems {
        assert!(!problem["description"].as_str().unwrap().is_empty());
        assert!(!problem["check_name"].as_str().unwrap().is_empty());
        assert!(
            prints.insert(problem["fingerprint"].as_str().unwrap()),
            "{problem}"
        );
        let severity = problem["severity"].as_str().unwrap();
        assert!(["info", "minor", "major", "critical", "blocker"].contains(&severity));
        let path = problem["location"]["path"].as_str().unwrap();
        assert!(!path.starts_with("./"));
        assert!(problem["location"]["lines"]["begin"].as_u64().unwrap() >= 1);
    }
    let count = |name: &str| {
        problems
            .iter()
            .filter(|one| one["check_name"] == name)
            .count()
    };
    assert_eq!(
        count("surface-speed-in-thread"),
        2,
        "the waived one is left out"
    );
    assert_eq!(count("unread"), 1);
    let none = flankwise(["check", "-", "--format", "codequality"], b"G0 X1.\n");
    assert_eq!(none.json(), serde_json::json!([]));
}

#[test]
fn workflow_commands_are_one_a_line() {
    let shop = mixed();
    let ran = run(&shop, "github");
    let root = format!("{}/", shop.root.path().display());
    let out = ran.out().replace(&root, "");
    let mut kinds = Vec::new();
    for line in out.lines().filter(|line| line.starts_with("::")) {
        let (head, text) = line[2..].split_once("::").unwrap();
        let (kind, properties) = head.split_once(' ').unwrap();
        kinds.push(kind);
        for property in properties.split(',') {
            let (name, value) = property.split_once('=').unwrap();
            assert!(
                ["file", "line", "endLine", "col", "endColumn", "title"].contains(&name),
                "{line}"
            );
            assert!(!value.contains(':') && !value.is_empty(), "{line}");
        }
        assert!(!text.is_empty());
    }
    let rank = |kind: &&str| {
        ["error", "warning", "notice"]
            .iter()
            .position(|one| one == kind)
            .unwrap()
    };
    assert!(kinds.is_sorted_by_key(rank), "{kinds:?}");
    assert!(out.contains("::error file=turning/bad%2C worse%3A 50%25.nc,line=9,col=1,endColumn=33,title=surface-speed-in-thread::the thread "), "{out}");
    assert!(out.contains("::error file=utf16.nc,title=not read::it is UTF-16 text"));
    // A program cannot issue a command of its own.
    assert!(
        !out.lines()
            .any(|line| line.starts_with("::error file=x") || line.starts_with("##"))
    );
    assert!(out.ends_with("1 input could not be read\n"), "{out}");
}

#[test]
fn json_lines_are_objects() {
    let shop = mixed();
    let ran = run(&shop, "jsonl");
    let lines: Vec<Value> = ran
        .out()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let count = |kind: &str| lines.iter().filter(|line| line["type"] == kind).count();
    assert_eq!(count("waived"), 1);
    assert_eq!(count("unread"), 1);
    assert_eq!(count("summary"), 1);
    assert!(count("not-judged") > 0 && count("finding") >= 3);
    let summary = lines.last().unwrap();
    assert_eq!(summary["waived"], 1);
    assert_eq!(summary["error"], 2);
    assert_eq!(summary["unread"], 1);
    let waived = lines.iter().find(|line| line["type"] == "waived").unwrap();
    assert_eq!(waived["waiver"]["until"], "2027-03-31");
    assert_eq!(waived["waiver"]["line"], 6);
    // The same findings as in the one document.
    let document = run(&shop, "json").json();
    let files = document["files"].as_array().unwrap();
    let found: usize = files
        .iter()
        .map(|file| file["findings"].as_array().unwrap().len())
        .sum();
    assert_eq!(found, count("finding"));
    assert_eq!(document["summary"]["waived"], 1);
}

#[test]
fn every_format_is_the_same_again_and_drives_nothing() {
    let shop = mixed();
    for format in [
        "text",
        "json",
        "jsonl",
        "sarif",
        "junit",
        "github",
        "codequality",
    ] {
        let (one, other) = (run(&shop, format), run(&shop, format));
        assert_eq!(one.out, other.out, "{format}");
        assert_eq!(
            (one.exit, other.exit),
            (Exit::Unread, Exit::Unread),
            "{format}"
        );
        for c in one.out().chars() {
            let bad = c.is_control() && c != '\n'
                || matches!(c, '\u{202a}'..='\u{202e}' | '\u{200b}'..='\u{200f}');
            assert!(!bad, "{format}: {c:?}");
        }
        let single = shop.run(
            &["check", "--jobs", "1", "--format", format, DAY[0], DAY[1]],
            &["."],
        );
        assert_eq!(single.out, one.out, "{format}");
        // One program on standard input.
        let ran = flankwise(["check", "-", "--format", format], SURFACE_SPEED);
        assert_eq!(ran.exit, Exit::Findings, "{format}");
        assert!(
            ran.out().contains("surface-speed-in-thread") && ran.out().contains("stdin"),
            "{format}"
        );
    }
    for format in ["json", "sarif", "codequality"] {
        let document = run(&shop, format).json();
        let mut all = Vec::new();
        texts(&document, &mut all);
        assert!(all.len() > 10, "{format}");
    }
}
