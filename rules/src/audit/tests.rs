use std::path::Path;

use lexer::program::Settings;

use super::missing::{FACTS, settles};
use super::program::{Planned, ProgramAudit, Source, audit};
use super::quantities::{Named, Quantities, Quantity};
use super::sum::{Audit, sum};
use crate::facts::{Config, Facts};
use crate::judge::judge;

/// A stud cut in twelve light passes: a plan halves them.
const LIGHT: &str = "%\nO0450\n(THREAD M16X2-6G)\nG21 G40 G99\nT0303\nG97 S900 M3\nG0 X20. Z8.\n\
    G76 P021060 Q50 R0.05\nG76 X13.546 Z-42. P1227 Q200 F2.\nG0 X100. Z100. M5\nM30\n%\n";
/// The speed follows the diameter: no seconds.
const UNTIMED: &str = "%\nO0451\n(THREAD M16X2-6G)\nG21 G40 G99\nT0303\nG96 S100 M3\nG0 X20. Z8.\n\
    G76 P021060 Q50 R0.05\nG76 X13.546 Z-42. P1227 Q200 F2.\nG0 X100. Z100. M5\nM30\n%\n";

fn one(path: &str, text: &str, facts: &Facts) -> ProgramAudit {
    let settings = Settings::default();
    let program = lexer::read(text.as_bytes(), &settings);
    let judgement = judge(text.as_bytes(), &program, &settings, facts);
    audit(Source {
        path,
        bytes: text.as_bytes(),
        program: &program,
        settings: &settings,
        facts,
        judgement: &judgement,
    })
}

fn facts(config: &str) -> Facts {
    Config::parse("flankwise.toml", config, &[])
        .expect("sound")
        .facts("a.nc")
        .1
}

fn tree(config: &str, quantities: Option<&str>) -> Audit {
    let facts = facts(config);
    let programs = vec![
        one("shop/gland-stud.nc", LIGHT, &facts),
        one("shop/old/gland-stud-2.nc", LIGHT, &facts),
        one("shop/untimed.nc", UNTIMED, &facts),
    ];
    let file = quantities.map(|text| Quantities::read("parts.csv", text.as_bytes()).unwrap());
    sum(programs, file.as_ref())
}

#[test]
fn any_separator_and_any_order() {
    for text in [
        "program,parts_per_batch,batches_per_year\na.nc,500,12\n\nb.nc,,4\n",
        "\u{feff}batches_per_year;program;parts_per_batch\r\n12; a.nc ;500\r\n4;b.nc;\r\n",
        "Program\tParts_Per_Batch\tBatches_Per_Year\na.nc\t500\t12\nb.nc\t\t4\n",
    ] {
        let read = Quantities::read("parts.csv", text.as_bytes()).unwrap();
        assert_eq!(read.rows.len(), 2, "{text}");
        let first = read.rows[0].quantity.over(&Quantity::default());
        assert_eq!(first.parts_per_year, Some(6000.0));
        assert_eq!(read.rows[1].quantity.parts_per_batch, None);
        assert_eq!(read.rows[1].quantity.batches_per_year, Some(4.0));
    }
}

#[test]
fn every_wrong_row_is_said_with_its_line() {
    let text = "program,parts_per_batch,batches_per_year,parts_per_year,bottleneck\n\
        a.nc,12.5,2,25,true\n\
        ,1,1,1,\n\
        b.nc,five,-1,1e30,maybe\n\
        c.nc,10,2,21,\n\
        d.nc,1\n\
        e.nc,nan,inf,,no\n";
    let wrong = Quantities::read("parts.csv", text.as_bytes()).unwrap_err();
    let starts = [
        "parts.csv:3: the program is missing",
        "parts.csv:4: parts_per_batch `five`",
        "parts.csv:4: batches_per_year `-1`",
        "parts.csv:4: parts_per_year `1e30`",
        "parts.csv:4: bottleneck `maybe`",
        "parts.csv:5: 10 parts a batch and 2 batches a year are 20, not 21",
        "parts.csv:6: the row has 2 cells, the first line 5",
        "parts.csv:7: parts_per_batch `nan`",
        "parts.csv:7: batches_per_year `inf`",
    ];
    assert_eq!(wrong.len(), starts.len(), "{wrong:#?}");
    for (wrong, start) in wrong.iter().zip(starts) {
        assert!(wrong.starts_with(start), "{wrong}");
    }
}

#[test]
fn slips_in_the_first_line() {
    let wrong = |text: &str| {
        Quantities::read("p.csv", text.as_bytes())
            .unwrap_err()
            .join("; ")
    };
    assert!(wrong("program,part_per_year\n").contains("did you mean `parts_per_year`?"));
    assert!(wrong("programme_name,parts_per_year\n").contains("no column `program`"));
    assert!(wrong("program,customer\n").contains("no column with a quantity"));
    assert!(wrong("program,parts_per_year,parts_per_year\n").contains("twice"));
    assert!(wrong("").contains("no column `program`"));
    let read = Quantities::read("p.csv", b"program,parts_per_year,customer\na,1,x\n").unwrap();
    assert_eq!(read.unused, ["customer"]);
}

#[test]
fn a_row_names_a_program_by_path_name_or_number() {
    let programs = [
        Named {
            path: "shop/a/stud.nc",
            numbers: &[450],
        },
        Named {
            path: "shop/b/stud.nc",
            numbers: &[451],
        },
        Named {
            path: "shop/b/O1204",
            numbers: &[1204],
        },
    ];
    let rows = |keys: &str| {
        let text = format!("program,parts_per_year\n{keys}");
        Quantities::read("p.csv", text.as_bytes())
            .unwrap()
            .assign(&programs)
    };
    let (found, wrong) = rows("a/stud.nc,1\nO0451,2\nO1204,3\n");
    assert_eq!(found, [Some(0), Some(1), Some(2)]);
    assert!(wrong.is_empty());
    let (found, wrong) = rows(".\\shop\\a\\stud.nc,1\n:451,2\n1204,3\n");
    assert_eq!(found, [Some(0), Some(1), Some(2)]);
    assert!(wrong.is_empty());
    let (found, wrong) = rows("stud.nc,1\nd/stud.nc,1\nO1205,1\nO1204,1\n1204,1\n");
    // The row of line 5 is the fourth.
    assert_eq!(found, [None, None, Some(3)]);
    assert_eq!(wrong.len(), 4);
    assert!(
        wrong[0].starts_with("p.csv:2: `stud.nc` names 2 programs"),
        "{}",
        wrong[0]
    );
    assert!(
        wrong[1].starts_with("p.csv:3: no program `d/stud.nc`"),
        "{}",
        wrong[1]
    );
    assert!(wrong[2].contains("did you mean `O1204`?"), "{}", wrong[2]);
    assert!(
        wrong[3].contains("which line 5 has already"),
        "{}",
        wrong[3]
    );
}

#[test]
fn any_bytes_are_read_or_refused() {
    for bytes in [
        &b"\xff\xfe\x00"[..],
        b"program\n\"",
        b"program,parts_per_year\n\"a\nb,1\n",
        b"\0",
    ] {
        let _ = Quantities::read("p.csv", bytes);
    }
}

/// Hours and money from the seconds of the table, by hand: s · parts / 3600.
#[test]
fn hours_money_and_ranking() {
    let parts = "program,parts_per_batch,batches_per_year,rate_per_hour,bottleneck\n\
        gland-stud,500,12,60,true\ngland-stud-2,100,1,60,false\nuntimed,9,9,60,true\n";
    let audit = tree("", Some(parts));
    assert!(audit.stray_quantities.is_empty());
    let rows = &audit.summed.rows;
    assert_eq!(
        audit.summed.programs[rows[0].program].path,
        "shop/gland-stud.nc"
    );
    let thread = audit.summed.thread(&rows[0]);
    let (before, after) = (thread.total().unwrap(), thread.total_after().unwrap());
    assert!(after < before, "{before} {after}");
    let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-9 * want, "{got} {want}");
    near(rows[0].hours_year.unwrap(), before * 6000.0 / 3600.0);
    near(
        rows[0].saved_batch.unwrap(),
        (before - after) * 500.0 / 3600.0,
    );
    near(
        rows[0].money_year.unwrap(),
        (before - after) * 6000.0 / 3600.0 * 60.0,
    );
    // The machine waits for others: hours, no money.
    assert_eq!(rows[1].money_year, None);
    near(
        audit.totals.capacity_hours,
        (before - after) * 100.0 / 3600.0,
    );
    near(audit.totals.saved_year, (before - after) * 6100.0 / 3600.0);
    near(audit.totals.money[""], rows[0].money_year.unwrap());
    // Without a time there is nothing to rank, and the fact that settles it is said.
    assert_eq!((audit.totals.threads, audit.totals.timed), (3, 2));
    let missing = audit
        .missing
        .iter()
        .find(|one| one.rules.contains("time"))
        .unwrap();
    assert!(
        missing.settle.as_ref().unwrap().contains("G97"),
        "{missing:?}"
    );
    // The same thread three times, cut in one way.
    assert_eq!(audit.clusters.len(), 1);
    let cluster = &audit.clusters[0];
    assert_eq!(
        (cluster.programs, cluster.ways, cluster.rows.len()),
        (3, 1, 3)
    );
}

#[test]
fn without_quantities_there_are_seconds_only() {
    let audit = tree("", None);
    assert_eq!(
        (audit.totals.with_quantity, audit.totals.hours_year),
        (0, 0.0)
    );
    assert!(audit.totals.money.is_empty() && audit.totals.seconds > 0.0);
    let production = "[production]\nparts_per_batch = 10\nbatches_per_year = 2\n";
    let audit = tree(
        production,
        Some("program,parts_per_year\nuntimed,7\ngland-stud,40\n"),
    );
    let year: Vec<_> = audit
        .summed
        .quantities
        .iter()
        .map(|q| q.parts_per_year)
        .collect();
    // The row holds before the configuration, which holds for the others.
    assert_eq!(year, [Some(40.0), Some(20.0), Some(7.0)]);
    assert_eq!(audit.summed.quantities[0].batches_per_year, Some(4.0));
}

/// A better split of a wrong thread would be no saving.
#[test]
fn a_thread_with_an_error_is_not_planned() {
    let text = LIGHT.replace("P1227", "P122");
    let program = one("a.nc", &text, &Facts::default());
    let error = program
        .findings
        .iter()
        .any(|f| f.severity == crate::finding::Severity::Error);
    assert!(error, "{:?}", program.findings);
    let Planned::Not(why) = &program.threads[0].planned else {
        panic!("{:?}", program.threads[0].planned);
    };
    assert!(why.contains("error"), "{why}");
}

/// Every key that is named can be written, and every reason is one that the sources give.
#[test]
fn facts_that_settle_are_real() {
    for fact in &FACTS {
        let (table, key) = fact.key;
        if key.is_empty() {
            continue;
        }
        let value = match key {
            "designation" if table == "[[tool]]" => "\"M8\"\nnumber = 1\nkind = \"tap\"",
            "designation" => "\"M8\"",
            "kind" => "\"tap\"\nnumber = 1",
            "number" => "3",
            "mill_diameter_mm" => "16\nnumber = 3\nkind = \"mill\"",
            "tap_chamfer_threads" => "3\nnumber = 3\nkind = \"tap\"",
            "pitch_mm" => "2\nnumber = 3",
            "nose_radius_mm" => "0.2\nnumber = 3",
            "length_mm" => "30\ndesignation = \"M30x2\"",
            "units" => "\"mm\"\nid = \"lathe\"",
            "diameter_mode" => "true\nid = \"lathe\"",
            _ => "0.05\nid = \"lathe\"",
        };
        let text = format!("{table}\n{key} = {value}\n");
        assert!(
            Config::parse("flankwise.toml", &text, &[]).is_ok(),
            "{text}"
        );
    }
    let mut sources = String::new();
    let mut folders = vec![
        Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../lexer/src"),
    ];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if !path.ends_with("missing.rs") {
                sources.push_str(&std::fs::read_to_string(path).unwrap());
            }
        }
    }
    let squeezed: String = sources.split_whitespace().collect::<Vec<_>>().join(" ");
    let squeezed = squeezed.replace("\\ ", "");
    for fact in &FACTS {
        assert!(squeezed.contains(fact.reason()), "{}", fact.reason());
        assert_eq!(settles(fact.reason()).map(|f| f.name), Some(fact.name));
    }
}
