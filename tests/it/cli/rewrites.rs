//! `plan`, `convert` and `write`: what they print, what they write, and that `check` reads it back.

use super::*;

/// A first cut of 0.15 mm: far too many passes.
const SLOW: &str = "%\nO1200 (PUMP SHAFT)\nG21 G40 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\n\
    G76 P021055 Q20 R0.05 (FIRST)\nG76 X27.546 Z-36. P1227 Q150 F2.\nG0 X100. Z100. M5\nM30\n%\n";

/// A tool whose insert is rated for deeper cuts.
const TOOL: &str = "[[tool]]\nnumber = 3\nfirst_pass_max_mm = 0.45\nmax_area_mm2 = 0.12\n";

#[test]
fn a_plan_for_a_person() {
    let shop = Shop::new();
    shop.write("O1200.nc", SLOW);
    let ran = shop.run(&["plan", "--front", "--batch", "1000"], &["O1200.nc:9"]);
    assert_eq!(ran.exit, Exit::Clean);
    insta::assert_snapshot!(ran.shown(&shop));
    assert_eq!(shop.read("O1200.nc"), SLOW.as_bytes());
}

/// Half the passes at the same speed: close to half the time (common practice: 50 to 60 % less with
/// deeper passes), and a batch of 1000 parts is 1000 times a part.
#[test]
fn a_batch_of_a_thousand_parts() {
    let shop = Shop::new();
    shop.write("flankwise.toml", TOOL);
    let slow = SLOW
        .replace("P021055 Q20 R0.05 (FIRST)", "P011055 Q20 R0")
        .replace("Q150", "Q300");
    shop.write("O1200.nc", &slow);
    let ran = shop.run(
        &["plan", "--format", "json", "--batch", "1000"],
        &["O1200.nc"],
    );
    let json = ran.json();
    let number = |pointer: &str| json.pointer(pointer).unwrap().as_f64().unwrap();
    assert_eq!(
        (number("/before/passes"), number("/after/passes")),
        (18.0, 9.0)
    );
    let (before, after) = (number("/before/seconds"), number("/after/seconds"));
    let part = (before - after) / before;
    assert!((0.45..=0.6).contains(&part), "{part}");
    assert!((number("/saved_s") - (before - after)).abs() < 2e-3);
    for (hours, seconds) in [
        ("/batch/before_h", before),
        ("/batch/after_h", after),
        ("/batch/saved_h", before - after),
    ] {
        assert!(
            (number(hours) - seconds * 1000.0 / 3600.0).abs() < 1e-3,
            "{hours}"
        );
    }
    let limits = json["limits"].as_array().unwrap();
    let peak = limits
        .iter()
        .find(|limit| limit["limit"] == "max_area_mm2")
        .unwrap();
    let from = peak["from"].as_str().unwrap();
    assert!(
        from.ends_with("flankwise.toml: tool 1 max_area_mm2"),
        "{from}"
    );
    assert!(json["caution"].as_str().unwrap().contains("prove"));
}

/// The change is printed, written, or sent through, and then `check` finds nothing new.
#[test]
fn a_plan_is_shown_and_carried_out() {
    let shop = Shop::new();
    shop.write("O1200.nc", SLOW);
    let diff = shop.run(&["plan", "--diff"], &["O1200.nc:8"]);
    assert_eq!(diff.exit, Exit::Findings);
    assert!(
        diff.out().contains("-G76 X27.546 Z-36. P1227 Q150 F2."),
        "{}",
        diff.out()
    );
    assert!(diff.err.contains("caution"), "{}", diff.err);
    let through = flankwise(["plan", "--apply", "-"], SLOW.as_bytes());
    let applied = shop.run(&["plan", "--apply"], &["O1200.nc"]);
    assert_eq!(applied.exit, Exit::Clean);
    let now = shop.read("O1200.nc");
    assert_eq!(now, through.out);
    assert!(
        String::from_utf8(now)
            .unwrap()
            .contains("(FIRST)\nG76 X27.546 Z-36. P1227 Q")
    );
    let checked = shop.run(&["check", "--fail-on", "advice"], &["O1200.nc"]);
    assert_eq!(checked.exit, Exit::Clean, "{}", checked.out());
    // A second time there is nothing left to gain.
    let again = shop.run(&["plan", "--diff"], &["O1200.nc"]);
    assert_eq!(again.exit, Exit::Clean);
    assert!(
        again.out().contains("as good as it can be"),
        "{}",
        again.out()
    );
}

#[test]
fn what_cannot_be_planned_is_said() {
    let shop = Shop::new();
    shop.write("O1200.nc", SLOW);
    for (args, path, why) in [
        (
            &["plan"][..],
            "O1200.nc:2",
            "no threading section at this line",
        ),
        (&["plan", "--first", "0"], "O1200.nc", "--first"),
        (&["plan", "--even-force"], "O1200.nc", "kc11_n_mm2"),
        (&["plan", "--max-area", "0.02"], "O1200.nc", "contradict"),
        (
            &["plan", "--steps", "0.3,0.2"],
            "O1200.nc",
            "no table of steps",
        ),
        (&["convert", "--to", "two-block"], "O1200.nc", "already"),
        (
            &["convert", "--to", "drive-line"],
            "O1200.nc",
            "interpreter",
        ),
        (&["convert", "--to", "zigzag"], "O1200.nc", "two-block"),
    ] {
        let ran = shop.run(args, &[path]);
        assert_eq!(ran.exit, Exit::Usage, "{args:?} {}", ran.err);
        assert!(ran.err.contains(why), "{args:?} {}", ran.err);
    }
}

#[test]
fn the_same_passes_in_another_syntax() {
    let shop = Shop::new();
    shop.write("O1200.nc", SLOW.replace("P021055", "P020055"));
    let ran = shop.run(&["convert", "--to", "box"], &["O1200.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    insta::assert_snapshot!(ran.shown(&shop));
    let before = shop
        .run(&["passes", "--format", "json"], &["O1200.nc"])
        .json();
    let applied = shop.run(&["convert", "--to", "strokes", "--apply"], &["O1200.nc"]);
    assert_eq!(applied.exit, Exit::Clean, "{}", applied.err);
    let after = shop
        .run(&["passes", "--format", "json"], &["O1200.nc"])
        .json();
    let passes = |json: &serde_json::Value| -> Vec<(f64, f64)> {
        let passes = json["files"][0]["sections"][0]["passes"]
            .as_array()
            .unwrap()
            .clone();
        let place = |pass: &serde_json::Value| {
            (
                pass["x_mm"].as_f64().unwrap(),
                pass["z_start_mm"].as_f64().unwrap(),
            )
        };
        passes.iter().map(place).collect()
    };
    let (before, after) = (passes(&before), passes(&after));
    assert_eq!(before.len(), after.len());
    for (before, after) in before.iter().zip(&after) {
        assert!((before.0 - after.0).abs() < 1.1e-3 && (before.1 - after.1).abs() < 1.1e-3);
    }
}

/// A block for another family of controls is printed whole, and does not go into the program.
#[test]
fn a_block_for_another_family() {
    let shop = Shop::new();
    let plain = SLOW.replace("P021055 Q20 R0.05", "P010055 Q0 R0");
    shop.write("O1200.nc", plain.replace("Q150", "Q400"));
    let args = ["convert", "--to", "drive-line", "--system", "interpreter"];
    let ran = shop.run(&args, &["O1200.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    assert!(ran.out().contains("G76 P2. Z-36. I-2."), "{}", ran.out());
    let refused = shop.run(&[&args[..], &["--apply"]].concat(), &["O1200.nc"]);
    assert_eq!(refused.exit, Exit::Usage);
}

/// What `write` prints is read back by `check` as one clean section.
#[test]
fn a_written_block_is_clean() {
    let args = "write M24x3-6g --length 30 --rpm 500 --tool T0505 --nose 0.4 --syntax";
    for syntax in [
        "two-block",
        "one-block",
        "box",
        "strokes",
        "drive-line",
        "call",
        "compound",
    ] {
        let ran = flankwise(args.split(' ').chain([syntax]), b"");
        assert_eq!(ran.exit, Exit::Clean, "{syntax} {}", ran.err);
        assert!(ran.out().contains("PROVE OUT"), "{}", ran.out());
        assert!(ran.err.contains("caution"), "{}", ran.err);
        let checked = flankwise(["check", "--format", "json", "-"], &ran.out);
        let json = checked.json();
        assert_eq!(json["summary"]["sections"], 1, "{}", ran.out());
        assert_eq!(
            json["files"][0]["findings"],
            serde_json::json!([]),
            "{}",
            ran.out()
        );
        assert_eq!(json["files"][0]["sections"][0]["syntax"], syntax);
        let name = &json["files"][0]["sections"][0]["designation"]["text"];
        assert_eq!(name, "M24x3-6g");
    }
    let ran = flankwise(args.split(' ').chain(["box", "--format", "json"]), b"");
    let json = ran.json();
    assert_eq!(
        (&json["side"], &json["syntax"]),
        (&"external".into(), &"box".into())
    );
    for (wrong, why) in [
        ("write M24x3 --length 30 --syntax box", "--rpm"),
        (
            "write M24x3 --length 30 --rpm 500 --syntax call --system A",
            "named cycles",
        ),
        (
            "write M24x3-6g --length 30 --rpm 500 --syntax box --side internal",
            "external",
        ),
        (
            "write M24x3 --length 30 --rpm 500 --syntax box --tool T1;M30",
            "T0303",
        ),
        (
            "write nonsense --length 30 --rpm 500 --syntax box",
            "nonsense",
        ),
    ] {
        let ran = flankwise(wrong.split(' '), b"");
        assert_eq!(ran.exit, Exit::Usage, "{wrong} {}", ran.err);
        assert!(ran.err.contains(why), "{wrong}: {}", ran.err);
    }
}

/// A tap and a thread mill likewise, each in the families of controls that have it.
#[test]
fn a_written_tap_or_mill_is_clean() {
    let mill = "--syntax helix --cutter 16 --single-row --edge-feed 200 --rpm 2000 --at 50,-40";
    let bolt = "--syntax helix --cutter 16 --edge-length 30 --edge-feed 200 --vc 100 --at 0,0";
    for (name, options, syntax, turns) in [
        ("M8-6H", "--syntax tap --chamfer 3 --rpm 300", "tap", true),
        (
            "M8-6H-LH",
            "--syntax tap --chamfer 3 --rpm 300 --at 1,2 --at -5,2",
            "tap",
            false,
        ),
        (
            "M8-6H",
            "--syntax tap --chamfer 3 --rpm 300 --at 1,2 --system interpreter",
            "tap",
            false,
        ),
        (
            "1/4-20_UNC-2B",
            "--syntax tap --chamfer 3 --vc 12 --at 1,2 --way interpolated",
            "tap",
            false,
        ),
        ("M24x3-6H", mill, "helix", false),
        ("M24x3-6g-LH", bolt, "helix", false),
    ] {
        let name = name.replace('_', " ");
        let line = ["write", &name, "--length", "12mm"];
        let ran = flankwise(line.into_iter().chain(options.split(' ')), b"");
        assert_eq!(ran.exit, Exit::Clean, "{options} {}", ran.err);
        assert!(ran.out().contains("PROVE OUT"), "{}", ran.out());
        assert!(ran.err.contains("caution"), "{}", ran.err);
        assert_eq!(ran.out().contains(" Y"), !turns, "{}", ran.out());
        let checked = flankwise(["check", "--format", "json", "-"], &ran.out);
        let json = checked.json();
        assert_eq!(json["summary"]["sections"], 1, "{}", ran.out());
        let file = &json["files"][0];
        assert_eq!(file["findings"], serde_json::json!([]), "{}", ran.out());
        assert_eq!(file["sections"][0]["syntax"], syntax);
        let read = &file["sections"][0]["designation"]["text"];
        // The side of the class is the note's.
        assert!(
            read.as_str().unwrap().starts_with(&name[..2]),
            "{read} {name}"
        );
        let args = line.into_iter().chain(options.split(' '));
        let json = flankwise(args.chain(["--format", "json"]), b"").json();
        assert_eq!(json["syntax"], syntax);
        assert_eq!(json["text"], ran.out());
        assert_eq!(json["depths_mm"], serde_json::json!([]));
    }
    for (wrong, why) in [
        (
            "write M8-6H --length 12 --rpm 300 --syntax tap",
            "--chamfer",
        ),
        (
            "write M8-6g --length 12 --rpm 300 --syntax tap",
            "internal threads only",
        ),
        (
            "write M8-6H --length 12 --rpm 300 --syntax tap --cutter 6",
            "--cutter is not for",
        ),
        (
            "write M8-6H --length 12 --rpm 300 --syntax tap --infeed 29",
            "--infeed is not for",
        ),
        (
            "write M8-6g --length 12 --rpm 300 --syntax box --chamfer 3",
            "--chamfer is for",
        ),
        ("write M24x3 --length 12 --rpm 300 --syntax helix", "--side"),
        (
            "write M24x3-6H --length 12 --rpm 300 --syntax helix --at 0",
            "--at 0",
        ),
        (
            "write M24x3-6H --length 12 --rpm 300 --syntax helix --chamfer 3",
            "--chamfer is not for",
        ),
        ("write M8-6H --length 12 --syntax tap --chamfer 3", "--rpm"),
    ] {
        let ran = flankwise(wrong.split(' '), b"");
        assert_eq!(ran.exit, Exit::Usage, "{wrong} {}", ran.err);
        assert!(ran.err.contains(why), "{wrong}: {}", ran.err);
    }
    let ran = flankwise(
        "write M24x3-6H --length 12 --rpm 300 --syntax helix".split(' '),
        b"",
    );
    for option in ["--cutter", "--single-row", "--edge-feed", "--at"] {
        assert!(ran.err.contains(option), "{option}: {}", ran.err);
    }
}
