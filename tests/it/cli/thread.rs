//! The `thread` command: text, JSON, the drawing, and names that are none.

use proptest::prelude::*;
use rules::standards::FAMILIES;
use rules::standards::thread::Thread;
use serde_json::Value;
use svg::parser::Event;

use super::*;

fn thread(args: &[&str]) -> Ran {
    flankwise(["thread"].iter().chain(args), b"")
}

/// The output of a run that must be clean.
fn clean(args: &[&str]) -> String {
    let ran = thread(args);
    assert_eq!((ran.exit, ran.err.as_str()), (Exit::Clean, ""), "{args:?}");
    ran.out().to_owned()
}

#[test]
fn for_a_person() {
    insta::assert_snapshot!("metric", clean(&["M24x3-6g"]));
    insta::assert_snapshot!("unified", clean(&["1/2-13 UNC-2A"]));
    insta::assert_snapshot!("internal", clean(&["M10x1.5", "--side", "internal"]));
    insta::assert_snapshot!("taper", clean(&["1/2-14 NPT", "--stroke", "26"]));
    insta::assert_snapshot!(
        "everything",
        clean(&[
            "Tr 40x14(P7)-7e",
            "--coating",
            "5..8um",
            "--flat",
            "2.2mm",
            "--wire",
            "3.7mm",
            "--first-article",
            "--unit",
            "inch",
        ])
    );
}

#[test]
fn for_a_program() {
    let out = clean(&[
        "M24x3-6g",
        "1/2-13 UNC-2B",
        "--format",
        "json",
        "--coating",
        "0.005..0.008",
    ]);
    assert_eq!(out.lines().count(), 1);
    let json: Value = serde_json::from_str(&out).unwrap();
    insta::assert_snapshot!("json", serde_json::to_string_pretty(&json).unwrap());
}

/// ISO 7-1: R 1/2 has 20.955 mm at the gauge plane, 8.2 mm from the small end; a stroke of 26 mm
/// at 1:16 changes the radius by 26/32.
#[test]
fn planes_of_a_taper_thread() {
    let json = thread(&["R 1/2", "--stroke", "26", "--format", "json"]).json();
    let taper = &json["threads"][0]["taper"];
    assert_eq!(taper["one_in"], 16.0);
    assert_eq!(taper["word_mm"], 0.8125);
    let planes = taper["planes"]["planes"].as_array().unwrap();
    let gauge = planes.iter().find(|plane| plane["gauge"] == true).unwrap();
    assert_eq!(gauge["place_mm"], 8.2);
    assert_eq!(gauge["at_mm"]["major"], 20.955);
    assert!(json["threads"][0]["wires"].is_null());
    let why = json["threads"][0]["wires_why_not"].as_str().unwrap();
    assert!(why.contains("taper"), "{why}");
    assert!(thread(&["M24", "--format", "json"]).json()["threads"][0]["taper"].is_null());
}

/// Every family at both sides prints below 100 columns, is the same twice, and gives JSON in which
/// every band is in order.
#[test]
fn all_families() {
    for family in FAMILIES {
        let sizes = family.sizes();
        let picked = [0, sizes.len() / 2, sizes.len().saturating_sub(1)];
        for size in picked.iter().filter_map(|at| sizes.get(*at)) {
            let one = Thread::of_size(family, size);
            let name = one.designation();
            for side in [Side::External, Side::Internal] {
                if !one.exists_on(side) {
                    continue;
                }
                let args = [name.as_str(), "--side", side.name(), "--first-article"];
                let out = clean(&args);
                for line in out.lines() {
                    assert!(line.chars().count() < 100, "{line}");
                    assert!(!line.ends_with(' ') && !line.contains("NaN"), "{line:?}");
                }
                assert_eq!(out, clean(&args));
                let json = thread(&[&args[..3], &["--format", "json"]].concat()).json();
                let json = &json["threads"][0];
                assert_eq!(json["side"], side.name());
                ordered(json, &name);
            }
        }
    }
}

/// Every pair of numbers in the document is a band.
fn ordered(value: &Value, name: &str) {
    match value {
        Value::Array(items) => match items.as_slice() {
            [Value::Number(min), Value::Number(max)] => {
                let (min, max) = (min.as_f64().unwrap(), max.as_f64().unwrap());
                assert!(min <= max + 1e-9, "{name}: {value}");
            }
            items => items.iter().for_each(|item| ordered(item, name)),
        },
        Value::Object(map) => {
            for (key, value) in map {
                assert!(!key.ends_with("_mm") || !value.is_string(), "{name} {key}");
                // What is left to cut to may vanish: `short_by_mm` says so.
                if key != "cut_to_mm" {
                    ordered(value, name);
                }
            }
        }
        _ => {}
    }
}

#[test]
fn names_that_are_none() {
    let ran = thread(&["M24x3-6g", "M24x3.1.2", "1/2-13 UNC", "--format", "json"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("did you mean M24x"), "{}", ran.err);
    let json = ran.json();
    let threads = json["threads"].as_array().unwrap();
    assert_eq!(threads.len(), 3);
    assert!(threads[1].is_null());
    assert_eq!(threads[2]["asked"], "1/2-13 UNC");

    let ran = thread(&["M24X3-6G"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("M24x3-6g") && ran.err.contains("M24x3-6G"));
    assert_eq!(ran.out(), "");
    assert!(clean(&["M24X3-6G", "--side", "external"]).starts_with("M24x3-6g  "));
    assert!(clean(&["M24X3-6G", "--side", "internal"]).starts_with("M24x3-6G  "));

    let ran = thread(&["M24x3-6g", "--side", "internal"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("names an external thread"), "{}", ran.err);

    let ran = thread(&["M24\u{1b}[2J\u{202e}"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(!ran.err.contains(['\u{1b}', '\u{202e}']), "{:?}", ran.err);
    assert_eq!(thread(&[]).exit, Exit::Usage);
}

#[test]
fn lengths_that_are_none() {
    for args in [
        ["--nose", "big"],
        ["--nose", "-0.4"],
        ["--wire", "1e3"],
        ["--coating", "0.008"],
        ["--coating", "8..5um"],
        ["--coating", "5..8"],
        ["--stroke", "NaN"],
    ] {
        let ran = thread(&["M24x3", &format!("{}={}", args[0], args[1])]);
        assert_eq!(ran.exit, Exit::Usage, "{args:?}");
        assert!(ran.err.contains(args[0]), "{}", ran.err);
        assert_eq!(ran.out(), "");
    }
    let both = thread(&["M24x3", "--nose", "0.4", "--flat", "0.4"]);
    assert_eq!(both.exit, Exit::Usage);
}

#[test]
fn a_length_means_what_its_unit_says() {
    let nose = |args: &[&str]| {
        let json = thread(&[&["1/2-13 UNC-2A", "--format", "json"], args].concat()).json();
        json["threads"][0]["cuts"][0]["nose_mm"].as_f64().unwrap()
    };
    assert_eq!(nose(&["--nose", "0.2032"]), 0.2032);
    assert_eq!(nose(&["--nose", "0.008in"]), 0.2032);
    assert_eq!(nose(&["--nose", "0.008", "--unit", "inch"]), 0.2032);
    assert_eq!(nose(&["--nose", "203.2um"]), 0.2032);
}

/// The drawing is well-formed, tells its title and description, and stays inside its frame.
#[test]
fn drawings() {
    let shop = Shop::new();
    let path = shop.path("form.svg");
    let mut drawn = 0;
    for family in FAMILIES {
        let sizes = family.sizes();
        let Some(size) = sizes.get(sizes.len() / 2) else {
            continue;
        };
        let one = Thread::of_size(family, size);
        for side in [Side::External, Side::Internal] {
            let name = one.designation();
            let file = path.display().to_string();
            let ran = thread(&[&name, "--side", side.name(), "--svg", &file]);
            if one.form().flanks.is_none() {
                assert!(ran.err.contains("no straight flanks"), "{}", ran.err);
                continue;
            }
            if !one.exists_on(side) {
                continue;
            }
            assert_eq!((ran.exit, ran.err.as_str()), (Exit::Clean, ""), "{name}");
            inside(&std::fs::read_to_string(&path).unwrap(), &name);
            drawn += 1;
        }
    }
    assert!(drawn >= FAMILIES.len(), "{drawn}");
    let two = thread(&["M8", "M10", "--svg", "form.svg"]);
    assert_eq!(two.exit, Exit::Usage);
    let nowhere = shop.path("no/such/folder.svg").display().to_string();
    let ran = thread(&["M8", "--svg", &nowhere]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.err.contains("cannot be written"), "{}", ran.err);
}

/// Names that somebody could mistype, and options with them.
fn odd_name() -> impl Strategy<Value = String> {
    let all: Vec<String> = FAMILIES
        .into_iter()
        .flat_map(|family| {
            let some = family.sizes().iter().step_by(17);
            some.map(move |size| Thread::of_size(family, size).designation())
        })
        .collect();
    let cut = (
        proptest::sample::select(all),
        0_usize..20,
        "[0-9A-Zx./() -]{0,6}",
    );
    let mistyped = cut.prop_map(|(name, at, more)| {
        let at = name.char_indices().nth(at).map_or(name.len(), |(at, _)| at);
        format!("{}{more}{}", &name[..at], &name[at..])
    });
    prop_oneof![3 => mistyped, 1 => "\\PC{0,16}"]
}

proptest! {
    /// Whatever is asked, there is an answer or an error, never a panic, and the JSON has one entry.
    #[test]
    fn any_name(
        name in odd_name(),
        length in "[0-9]{1,4}[.]?[0-9]{0,3}(mm|in|um)?",
        side in proptest::sample::select(vec!["external", "internal"]),
    ) {
        for option in ["--nose", "--flat", "--wire", "--stroke"] {
            let option = format!("{option}={length}");
            let ran = thread(&["--format", "json", "--side", side, &option, "--", &name]);
            if ran.exit == Exit::Clean {
                prop_assert!(ran.json()["threads"][0]["designation"].is_string());
            } else {
                prop_assert!(!ran.err.is_empty());
            }
        }
        let layer = format!("--coating=0..{length}");
        let ran = thread(&["--side", side, &layer, "--first-article", "--", &name]);
        prop_assert!(!ran.out().contains("NaN") && !ran.out().contains("inf "), "{}", ran.out());
    }
}

fn inside(text: &str, name: &str) {
    let mut titles = 0;
    let mut open = 0;
    for event in svg::read(text).unwrap() {
        match event {
            Event::Error(error) => panic!("{name}: {error}"),
            Event::Tag(tag, kind, attributes) => {
                use svg::node::element::tag::Type;
                match kind {
                    Type::Start => open += 1,
                    Type::End => open -= 1,
                    Type::Empty => {}
                }
                titles += usize::from(kind == Type::Start && matches!(tag, "title" | "desc"));
                for (key, limit) in [("x", 760.0), ("x1", 760.0), ("x2", 760.0)]
                    .into_iter()
                    .chain([("y", 420.0), ("y1", 420.0), ("y2", 420.0)])
                {
                    let Some(value) = attributes.get(key) else {
                        continue;
                    };
                    let value: f64 = value.parse().unwrap();
                    assert!((0.0..=limit).contains(&value), "{name} {tag} {key} {value}");
                }
                if let Some(data) = attributes.get("d") {
                    assert!(!data.contains("NaN") && !data.contains("inf"), "{name}");
                }
            }
            _ => {}
        }
    }
    assert_eq!((titles, open), (2, 0), "{name}");
}

const FORMS: &str = r#"
[[form]]
name = "press spindle"
major_mm = 60.0
pitch_mm = 8.0
starts = 3
left_hand = true
leading_flank_deg = 45.0
following_flank_deg = 5.0
load_flank = "following"
source = "drawing of the press, sheet 4"

[form.external]
depth_mm = 5.2
crest_flat_mm = 1.4
root_radius_mm = [0.5, 0.8]
major_limits_mm = [59.7, 60.0]
pitch_limits_mm = [54.4, 54.7]
"#;

/// A form of the shop's own is found in the configuration above the working folder, or the one
/// that is named.
#[test]
fn forms_of_the_shop() {
    let shop = Shop::new();
    let file = shop.path("other/flankwise.toml");
    shop.write("other/flankwise.toml", FORMS);
    let file = file.to_str().unwrap();
    let run = |args: &[&str]| thread(&[&["--config", file], args].concat());
    let out = run(&["PRESS SPINDLE", "M24x3-6g"]);
    assert_eq!(out.exit, Exit::Clean);
    let text = out.out();
    assert!(
        text.contains("press spindle") && text.contains("LEFT-HAND"),
        "{text}"
    );
    assert!(text.contains("54.400") && text.contains("54.700"), "{text}");
    let json = run(&["press spindle", "--format", "json"]).json();
    let one = &json["threads"][0];
    assert_eq!(one["pitch_diameter_mm"][0], 54.4);
    assert_eq!((&one["lead_mm"], &one["starts"]), (&24.0.into(), &3.into()));
    assert!(
        one["minor_mm"].is_null() || one["minor_mm"][0].is_null(),
        "{one}"
    );
    // Only the external thread is given.
    let internal = run(&["press spindle", "--side", "internal"]);
    assert_eq!(internal.exit, Exit::Usage);
    assert!(
        internal.err.contains("has no internal thread"),
        "{}",
        internal.err
    );
    let near = run(&["pres spindle"]);
    assert_eq!(near.exit, Exit::Usage);
    assert!(
        near.err.contains("did you mean the form press spindle?"),
        "{}",
        near.err
    );
    shop.write("other/flankwise.toml", FORMS.replace("5.2", "9.2"));
    let wrong = run(&["press spindle"]);
    assert_eq!(wrong.exit, Exit::Usage);
    assert!(
        wrong
            .err
            .contains("flankwise.toml:14:12: form \"press spindle\": external: the flanks meet"),
        "{}",
        wrong.err
    );
}
