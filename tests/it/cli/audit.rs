//! `audit`: its figures are those of `passes` and `plan`, its forms can be read again, and nothing in a
//! program gets out of its cell.

use std::collections::BTreeSet;

use html5ever::tendril::TendrilSink as _;
use html5ever::tokenizer::TokenizerOpts;
use html5ever::{ParseOpts, parse_document};
use markup5ever_rcdom::{Handle, NodeData, RcDom};

use super::{Exit, Shop, flankwise};

const SHOP: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../corpus/shop");
const PARTS: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../corpus/shop/parts-per-year.csv"
);

/// A stud in many light passes.
const STUD: &str = "%\nO0450 (GLAND STUD)\n(THREAD M16X2-6G)\nG21 G40 G99\nT0303\nG97 S900 M3\n\
    G0 X20. Z8.\nG76 P011060 Q50 R0.05\nG76 X13.546 Z-42. P1227 Q350 F2.\nG0 X100. Z100. M5\nM30\n%\n";

fn audited(format: &str) -> super::Ran {
    flankwise(
        ["audit", "--quantities", PARTS, "--format", format, SHOP],
        b"",
    )
}

#[test]
fn the_shop_as_text() {
    let ran = audited("text");
    assert_eq!((ran.exit, ran.err.as_str()), (Exit::Clean, ""));
    insta::assert_snapshot!(ran.out().replace(&format!("{SHOP}/"), ""));
}

#[test]
fn the_shop_as_markdown() {
    let ran = audited("markdown");
    assert_eq!(ran.exit, Exit::Clean);
    insta::assert_snapshot!(ran.out().replace(&format!("{SHOP}/"), ""));
}

/// Seconds as `passes` prints them, plans as `plan` does.
#[test]
fn figures_are_those_of_passes_and_plan() {
    let audit = audited("json").json();
    let threads = audit["threads"].as_array().unwrap();
    assert_eq!(threads.len(), 11);
    let mut better = 0;
    for thread in threads {
        let place = format!(
            "{}:{}",
            thread["path"].as_str().unwrap(),
            thread["lines"][0]
        );
        let passes = flankwise(["passes", "--format", "json", &place], b"").json();
        let section = &passes["files"][0]["sections"][0];
        for key in [
            "fingerprint",
            "side",
            "kind",
            "syntax",
            "starts",
            "tool",
            "lines",
            "lead_mm",
        ] {
            assert_eq!(thread[key], section[key], "{place} {key}");
        }
        assert_eq!(
            thread["designation"]["text"], section["designation"]["text"],
            "{place}"
        );
        for key in ["cut", "air", "total"] {
            assert_eq!(
                thread["seconds"][key], section["seconds"][key],
                "{place} {key}"
            );
        }
        assert_eq!(
            thread["passes"].as_u64().unwrap() as usize,
            section["passes"].as_array().unwrap().len()
        );
        if thread["plan"]["result"] == "better" {
            better += 1;
            let plan = flankwise(["plan", "--format", "json", &place], b"").json();
            for (state, keys) in [("before", 6), ("after", 6)] {
                let ours = thread["plan"][state].as_object().unwrap();
                assert_eq!(ours.len(), keys);
                for (key, value) in ours {
                    assert_eq!(*value, plan[state][key], "{place} {state} {key}");
                }
            }
            assert_eq!(thread["saved_s"], plan["saved_s"], "{place}");
            assert!(thread["saved_s"].as_f64().unwrap() >= 0.0);
        }
    }
    assert!(better >= 3, "{better}");
    // The sums are those of the rows.
    let sum = |key: &str| {
        threads
            .iter()
            .filter_map(|one| one[key].as_f64())
            .sum::<f64>()
    };
    // Each row is rounded to its last digit.
    let near = |got: &serde_json::Value, want: f64| {
        assert!((got.as_f64().unwrap() - want).abs() < 0.05, "{got} {want}");
    };
    near(&audit["totals"]["hours_year"], sum("hours_year"));
    near(
        &audit["totals"]["saved_hours_year"],
        sum("saved_hours_year"),
    );
    near(
        &audit["totals"]["money_year"][0]["money"],
        sum("money_year"),
    );
}

/// A batch of 1000 with an insert that is rated for twice the chip area: near half the passes and half
/// the time at the same speed (common practice in the trade), hours by hand from the seconds.
#[test]
fn deeper_passes_halve_the_time_of_a_batch() {
    let shop = Shop::new();
    shop.write("stud.nc", STUD);
    shop.write(
        "flankwise.toml",
        "[[tool]]\nnumber = 3\nnose_radius_mm = 0.2\nfirst_pass_max_mm = 0.6\nmax_area_mm2 = 0.295\n\
         price_per_edge = 4\nparts_per_edge = 40\nindex_time_s = 90\n\
         [production]\nrate_per_hour = 60\nbottleneck = true\ncurrency = \"EUR\"\n",
    );
    shop.write(
        "parts.csv",
        "program,parts_per_batch,batches_per_year\nstud,1000,3\n",
    );
    let quantities = shop.path("parts.csv");
    let args = [
        "audit",
        "--format",
        "json",
        "--quantities",
        quantities.to_str().unwrap(),
    ];
    let ran = shop.run(&args, &["stud.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    let json = ran.json();
    let thread = &json["threads"][0];
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let (before, after) = (&thread["plan"]["before"], &thread["plan"]["after"]);
    let part = number(&after["seconds"]) / number(&before["seconds"]);
    assert!((0.4..0.6).contains(&part), "{part} {before} {after}");
    let saved = number(&thread["saved_s"]);
    assert!((number(&thread["saved_hours_batch"]) - saved * 1000.0 / 3600.0).abs() < 1e-3);
    assert!((number(&thread["saved_hours_year"]) - saved * 3000.0 / 3600.0).abs() < 2e-3);
    assert!((number(&thread["money_year"]) - saved * 3000.0 / 60.0).abs() < 0.5);
    // The page says how long an edge must last for the change to pay: the sum of the rules' own test.
    let html = shop.run(
        &[
            "audit",
            "--format",
            "html",
            "--quantities",
            quantities.to_str().unwrap(),
        ],
        &["stud.nc"],
    );
    let least = (1.0f64 / (1.0 / 40.0 + saved / 60.0 / 5.5)).ceil();
    let said = format!("at least {least} for the change to pay");
    assert!(html.out().contains(&said), "{said}");
}

#[test]
fn csv_reads_again() {
    let ran = audited("csv");
    let mut reader = csv::Reader::from_reader(&ran.out[..]);
    let head = reader.headers().unwrap().clone();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 11);
    let json = audited("json").json();
    let at = |name: &str| head.iter().position(|one| one == name).unwrap();
    for (row, thread) in rows.iter().zip(json["threads"].as_array().unwrap()) {
        assert_eq!(&row[at("program")], thread["path"].as_str().unwrap());
        let cell = |name: &str| row[at(name)].parse::<f64>().ok();
        for (column, value) in [
            ("seconds", &thread["seconds"]["total"]),
            ("saved_s", &thread["saved_s"]),
            ("hours_year", &thread["hours_year"]),
            ("peak_mm2", &thread["peak_mm2"]),
        ] {
            assert_eq!(cell(column), value.as_f64(), "{column}");
        }
    }
}

/// The nodes of a tree, depth first.
fn walk(node: &Handle, visit: &mut dyn FnMut(&Handle)) {
    visit(node);
    for child in node.children.borrow().iter() {
        walk(child, visit);
    }
}

/// The page read by a parser that says every departure from the standard.
fn page(html: &str) -> RcDom {
    let strict = ParseOpts {
        tokenizer: TokenizerOpts {
            exact_errors: true,
            ..TokenizerOpts::default()
        },
        ..ParseOpts::default()
    };
    let page = parse_document(RcDom::default(), strict).one(html);
    assert!(
        page.errors.borrow().is_empty(),
        "{:?}",
        page.errors.borrow()
    );
    page
}

fn names(page: &RcDom) -> Vec<String> {
    let mut all = Vec::new();
    walk(&page.document, &mut |node| {
        if let NodeData::Element { name, attrs, .. } = &node.data {
            for attribute in attrs.borrow().iter() {
                let attribute = attribute.name.local.to_string();
                assert!(!attribute.starts_with("on"), "{attribute}");
                assert!(
                    !["src", "style"].contains(&attribute.as_str()),
                    "{attribute}"
                );
            }
            all.push(name.local.to_string());
        }
    });
    all
}

#[test]
fn the_page_is_sound_html_and_holds_what_it_should() {
    let ran = audited("html");
    let names = names(&page(ran.out()));
    let count = |name: &str| names.iter().filter(|one| *one == name).count();
    assert_eq!((count("script"), count("style"), count("h1")), (1, 1, 1));
    assert!(count("svg") > 20, "{}", count("svg"));
    assert_eq!(count("table"), count("caption"));
    for part in [
        "Prove every changed program out",
        "feed hold",
        "approval",
        "qualified staff",
    ] {
        assert!(ran.out().contains(part), "{part}");
    }
    let hash = "f289a7c847738b8c461cc851b6c13452b4658f6ccff65f4bdb7f91a1ac674319";
    assert!(ran.out().contains(hash), "the SHA-256 of pump-shaft.nc");
    // Nothing that would leave the page.
    let outside: BTreeSet<&str> = ran
        .out()
        .match_indices("http")
        .map(|(at, _)| ran.out()[at..].split(['"', ' ']).next().unwrap())
        .collect();
    let only = ["http-equiv=", "http://www.w3.org/2000/svg"];
    assert_eq!(outside.into_iter().collect::<Vec<_>>(), only);
}

/// Names, comments and quantities that want to be more than text.
#[cfg(unix)]
#[test]
fn hostile_programs_stay_text() {
    let shop = Shop::new();
    let hostile = "=cmd|'</script><img src=x onerror=alert(1)>`[a](b)&.nc";
    let hostile = hostile.replace('/', "\u{2215}");
    let text = STUD
        .replace(
            "(GLAND STUD)",
            "(</script><img src=x onerror=1>|`*\u{1b}[2J\u{202e})",
        )
        .replace("(THREAD M16X2-6G)", "(THREAD <b>M16X2|-6G</b>)(M20X1.5)");
    shop.write(&hostile, text);
    shop.write(
        "parts.csv",
        "program,parts_per_year,\"<i>|\"\n*,1,2\n\"</script>\",3,4\n",
    );
    let quantities = shop.path("parts.csv");
    for format in ["text", "csv", "json", "markdown", "html"] {
        let args = [
            "audit",
            "--format",
            format,
            "--quantities",
            quantities.to_str().unwrap(),
        ];
        let ran = shop.run(&args, &["."]);
        assert_eq!(ran.exit, Exit::Unread, "{}", ran.err);
        let sane = |c: char| !c.is_control() || matches!(c, '\n' | '\r');
        assert!(
            ran.out().chars().all(sane) && ran.err.chars().all(sane),
            "{format}"
        );
        assert!(!ran.out().contains('\u{202e}'), "{format}");
        match format {
            "html" => {
                let names = names(&page(ran.out()));
                assert!(
                    !names
                        .iter()
                        .any(|name| ["img", "b", "i"].contains(&name.as_str()))
                );
                assert_eq!(names.iter().filter(|name| *name == "script").count(), 1);
            }
            "markdown" => {
                assert!(!ran.out().contains("<img") && !ran.out().contains("</"));
                let tables = ran.out().lines().filter(|line| line.starts_with('|'));
                let bars = |line: &str| line.replace("\\|", "").matches('|').count();
                let counts: BTreeSet<usize> = tables.map(bars).collect();
                assert!(
                    counts.iter().all(|count| [3, 4, 6, 8, 9].contains(count)),
                    "{counts:?}"
                );
            }
            "csv" => {
                let mut reader = csv::Reader::from_reader(&ran.out[..]);
                let row = reader.records().next().unwrap().unwrap();
                assert!(
                    row[1].ends_with("&.nc") && !row[1].starts_with('='),
                    "{}",
                    &row[1]
                );
            }
            _ => {}
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for format in ["text", "csv", "json", "markdown", "html"] {
        let run = |jobs| {
            let args = [
                "audit",
                "--format",
                format,
                "--quantities",
                PARTS,
                "--jobs",
                jobs,
                SHOP,
            ];
            flankwise(args, b"").out
        };
        assert_eq!(run("1"), run("3"), "{format}");
    }
}

#[test]
fn wrong_quantities_stop_before_anything_is_read() {
    let shop = Shop::new();
    shop.write("stud.nc", STUD);
    shop.write("parts.csv", "program,parts_per_year\nstud,many\n,3\n");
    let quantities = shop.path("parts.csv");
    let args = ["audit", "--quantities", quantities.to_str().unwrap()];
    let ran = shop.run(&args, &["stud.nc"]);
    assert_eq!(ran.exit, Exit::Usage);
    let said: Vec<&str> = ran.err.lines().collect();
    assert_eq!(said.len(), 2, "{}", ran.err);
    assert!(
        said[0].contains("parts.csv:2: parts_per_year `many` is no number"),
        "{}",
        said[0]
    );
    assert!(
        said[1].ends_with("parts.csv:3: the program is missing"),
        "{}",
        said[1]
    );
    assert!(ran.out.is_empty());
    shop.write("parts.csv", "program,parts_per_year\nstut,3\n");
    let ran = shop.run(&args, &["stud.nc"]);
    assert_eq!(ran.exit, Exit::Unread);
    assert!(
        ran.err
            .contains("parts.csv:2: no program `stut` is among those audited"),
        "{}",
        ran.err
    );
    assert!(ran.out().contains("a row of the quantities is not used"));
    let missing = shop.path("none.csv");
    let ran = shop.run(
        &["audit", "--quantities", missing.to_str().unwrap()],
        &["stud.nc"],
    );
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("there is no such file"), "{}", ran.err);
}

#[test]
fn the_output_is_whole_or_not_there() {
    let shop = Shop::new();
    shop.write("shop/stud.nc", STUD);
    shop.write("report.html", "old");
    let output = shop.path("report.html");
    let args = [
        "audit",
        "--format",
        "html",
        "--date",
        "2027-03-31",
        "-o",
        output.to_str().unwrap(),
    ];
    let ran = shop.run(&args, &["shop"]);
    assert_eq!((ran.exit, ran.out().len()), (Exit::Clean, 0));
    let written = String::from_utf8(shop.read("report.html")).unwrap();
    assert!(written.starts_with("<!DOCTYPE html>") && written.contains("2027-03-31"));
    assert_eq!(std::fs::read_dir(shop.path(".")).unwrap().count(), 2);
    let folder = shop.path("shop");
    let ran = shop.run(&["audit", "-o", folder.to_str().unwrap()], &["shop"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("it is not a file"), "{}", ran.err);
    let ran = shop.run(&["audit", "--date", "soon"], &["shop"]);
    assert_eq!(ran.exit, Exit::Usage);
}

#[test]
fn a_tree_without_threads_and_one_without_programs() {
    let shop = Shop::new();
    shop.write("plain.nc", "%\nO1\nG0 X1.\nM30\n%\n");
    for format in ["text", "csv", "json", "markdown", "html"] {
        let ran = shop.run(&["audit", "--format", format], &["plain.nc"]);
        assert_eq!(ran.exit, Exit::Clean, "{format}");
        assert!(format == "csv" || ran.out().contains("No threading section in 1 program."));
    }
    let empty = Shop::new();
    let ran = empty.run(&["audit"], &["."]);
    assert_eq!(ran.exit, Exit::Unread);
    assert!(ran.err.contains("no program found"), "{}", ran.err);
}
