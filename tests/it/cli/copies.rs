//! Copies of a program in several files: `copy-drift` over the inputs of one run.

use super::*;

/// The same program with another end, in another folder.
fn drifted() -> Shop {
    let shop = Shop::with_only("copy-drift");
    shop.write("new/shaft.nc", SOUND);
    let old = String::from_utf8(SOUND.to_vec()).unwrap();
    shop.write("old/pump.nc", old.replace("Z-36.", "Z-35."));
    shop.write("same/shaft.nc", SOUND);
    shop
}

/// Path of the file and message of every finding.
fn found(ran: &Ran) -> Vec<(String, String)> {
    let json = ran.json();
    let files = json["files"].as_array().unwrap().iter();
    let of = |file: &serde_json::Value| {
        let path = file["path"].as_str().unwrap().to_owned();
        let findings = file["findings"].as_array().unwrap().iter();
        let messages = findings.map(|one| one["message"].as_str().unwrap().to_owned());
        messages
            .map(|text| (path.clone(), text))
            .collect::<Vec<_>>()
    };
    files.flat_map(of).collect()
}

#[test]
fn a_later_copy_that_differs_is_found() {
    let shop = drifted();
    let ran = shop.run(&["check", "--format=json"], &["."]);
    assert_eq!(ran.exit, Exit::Clean, "a warning");
    let all = found(&ran);
    assert_eq!(all.len(), 1, "{all:?}");
    assert!(all[0].0.ends_with("old/pump.nc"), "{all:?}");
    let first = shop.path("new/shaft.nc");
    let wanted = format!(
        "O1200 stands here and in {}:2, and thread 1 differs: end Z -35 mm against -36 mm",
        first.display()
    );
    assert_eq!(all[0].1, wanted);
    assert_eq!(
        ran.json()["summary"]["files"],
        3,
        "read again, counted once"
    );
    let strict = shop.run(&["check", "--fail-on=warning"], &["."]);
    assert_eq!(strict.exit, Exit::Findings);
}

#[test]
fn the_order_of_the_inputs_makes_no_difference() {
    let shop = drifted();
    let names = ["new/shaft.nc", "old/pump.nc", "same/shaft.nc"];
    let run = |order: [usize; 3], jobs: &str| {
        let order = order.map(|at| names[at]);
        let mut all = found(&shop.run(&["check", "--format=json", "--jobs", jobs], &order));
        all.sort();
        all
    };
    let wanted = run([0, 1, 2], "1");
    assert_eq!(wanted.len(), 1);
    for order in [[2, 1, 0], [1, 0, 2], [1, 2, 0], [0, 2, 1]] {
        for jobs in ["1", "3"] {
            assert_eq!(run(order, jobs), wanted, "{order:?} {jobs}");
        }
    }
    let alone = shop.run(&["check", "--format=json"], &["old/pump.nc"]);
    assert!(found(&alone).is_empty());
}

#[test]
fn standard_input_is_a_copy_too() {
    let shop = drifted();
    let first = shop.path("new/shaft.nc");
    let typed = String::from_utf8(SOUND.to_vec())
        .unwrap()
        .replace("F2.", "F1.5");
    let name = shop.path("new/typed.nc");
    let args = [
        "check".into(),
        "--format=json".into(),
        "--stdin-filename".into(),
        name.into_os_string(),
        first.into_os_string(),
        "-".into(),
    ];
    let all = found(&flankwise(args, typed.as_bytes()));
    assert_eq!(all.len(), 1, "{all:?}");
    assert!(all[0].1.contains("lead 1.5 mm against 2 mm"), "{all:?}");
}

#[test]
fn every_format_tells_it() {
    let shop = drifted();
    for format in [
        "text",
        "json",
        "jsonl",
        "sarif",
        "junit",
        "github",
        "codequality",
    ] {
        let ran = shop.run(&["check", "--format", format], &["."]);
        let out = ran.out();
        let told = out.matches("end Z -35 mm against -36 mm").count();
        assert!(told >= 1, "{format}: {out}");
        assert!(out.contains("copy-drift"), "{format}: {out}");
        assert!(out.contains("new/shaft.nc"), "{format}: {out}");
    }
}

#[test]
fn it_is_switched_off_waived_and_known_like_any_other() {
    let shop = drifted();
    let ignored = shop.run(&["check", "--format=json", "--ignore=copy-drift"], &["."]);
    assert!(found(&ignored).is_empty());
    let baseline = shop.path("known.json").display().to_string();
    let written = shop.run(&["check", "--write-baseline", &baseline], &["."]);
    assert_eq!(written.exit, Exit::Clean, "{}", written.err);
    let known = shop.run(&["check", "--format=json", "--baseline", &baseline], &["."]);
    assert!(found(&known).is_empty());
    let note = "(ALLOW COPY-DRIFT, SHORTER ON THE SECOND MACHINE)\n";
    let text = String::from_utf8(shop.read("old/pump.nc")).unwrap();
    shop.write(
        "old/pump.nc",
        text.replace("O1200", &format!("{note}O1200")),
    );
    let waived = shop.run(&["check", "--format=json"], &["."]);
    assert!(found(&waived).is_empty(), "{:?}", found(&waived));
    // By itself the program shows no need of the note, and no lack of it.
    let config = fs::read_to_string(shop.path("flankwise.toml")).unwrap();
    shop.write(
        "flankwise.toml",
        config.replace("waiver-unused = \"off\"\n", ""),
    );
    let alone = shop.run(&["check", "--format=json"], &["old/pump.nc"]);
    assert!(found(&alone).is_empty(), "{:?}", found(&alone));
}

/// Shops number every job from 1: a number alone makes no copies.
#[test]
fn other_parts_with_the_number_are_silent() {
    let shop = Shop::with_only("copy-drift");
    for (job, part, end) in [("a", "GLAND NUT", "-20."), ("b", "SEAT RING", "-30.")] {
        let text = String::from_utf8(SOUND.to_vec()).unwrap();
        let text = text.replace("PUMP SHAFT", part).replace("-36.", end);
        shop.write(&format!("{job}/O1200.nc"), text);
    }
    let ran = shop.run(&["check", "--format=json"], &["."]);
    assert_eq!(ran.json()["summary"]["sections"], 2);
    assert!(found(&ran).is_empty());
}
