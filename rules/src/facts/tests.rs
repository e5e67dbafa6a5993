use lexer::evidence::Family;
use lexer::number::DecimalRule;
use lexer::units::{Radial, Units};

use super::*;

const RULES: [&str; 2] = ["lead-vs-callout", "axis-feed-limit"];

fn parse(text: &str) -> Config {
    Config::parse(FILE_NAME, text, &RULES).unwrap()
}

fn errors(text: &str) -> Vec<String> {
    Config::parse(FILE_NAME, text, &RULES)
        .unwrap_err()
        .iter()
        .map(ToString::to_string)
        .collect()
}

const SHOP: &str = r#"
[[machine]]
id = "lathe-2"
files = ["turning/", "O12*"]
system = "B"
diameter_mode = false
units = "inch"
decimal = "least-increment"
max_rpm = 3_000
max_thread_feed_mm_min = 4.5e3
acceleration_m_s2 = 1.5
servo_time_constant_s = 0.033
rapid_x_m_min = 12
rapid_z_m_min = 15.0
min_cut_mm = 0.05
finish_allowance_mm = 0

[[machine]]
id = "lathe-3"
files = ["**/*.nc"]

[[thread]]
files = ["turning/spindle.nc"]
tool = 3
designation = "M24x3-6g"

[[thread]]
files = ["spindle.nc"]
designation = "1/2-13 UNC-2A"

[rules]
axis-feed-limit = "warning"
lead-vs-callout = "off"
"#;

#[test]
fn every_key_reaches_its_fact() {
    let (settings, facts) = parse(SHOP).facts("turning/spindle.nc");
    assert_eq!(settings.family, Some(Family::SystemB));
    assert_eq!(settings.diameter_mode, Some(false));
    assert_eq!(settings.units, Some(Units::Inch));
    assert_eq!(settings.decimal, Some(DecimalRule::LeastIncrement));
    assert_eq!(settings.min_cut, Some(Radial::from_mm(0.05)));
    assert_eq!(settings.finish_allowance, Some(Radial::from_mm(0.0)));
    assert_eq!(
        facts.machine,
        Some(Machine {
            id: "lathe-2".to_owned(),
            max_rpm: Some(3000.0),
            max_thread_feed: Some(4500.0),
            acceleration: Some(1.5),
            servo_time_constant: Some(0.033),
            rapid_z: Some(15.0),
            rapid_x: Some(12.0),
        })
    );
    assert_eq!(
        facts.cite("max_rpm"),
        "flankwise.toml: machine \"lathe-2\" max_rpm"
    );
    assert_eq!(
        facts.rules["axis-feed-limit"],
        Setting::Severity(Severity::Warning)
    );
    assert_eq!(facts.rules["lead-vs-callout"], Setting::Off);
}

#[test]
fn the_first_machine_that_matches_wins() {
    let config = parse(SHOP);
    let id = |path: &str| config.facts(path).1.machine.map(|machine| machine.id);
    assert_eq!(id("turning/old/shaft.nc").as_deref(), Some("lathe-2"));
    assert_eq!(id("TURNING/SHAFT.NC").as_deref(), Some("lathe-2"));
    assert_eq!(id("mill/O1200").as_deref(), Some("lathe-2"));
    assert_eq!(id("mill/plate.nc").as_deref(), Some("lathe-3"));
    assert_eq!(id("mill/plate.txt"), None);
    assert_eq!(parse("").facts("a.nc").1, Facts::default());
}

#[test]
fn the_thread_of_a_tool() {
    let (_, facts) = parse(SHOP).facts("turning/spindle.nc");
    let name = |word| facts.designation(word).map(|(name, _)| name);
    assert_eq!(name(Some(303)), Some("M24x3-6g"));
    assert_eq!(name(Some(3)), Some("M24x3-6g"));
    assert_eq!(name(Some(505)), Some("1/2-13 UNC-2A"));
    assert_eq!(name(None), Some("1/2-13 UNC-2A"));
    assert_eq!(
        facts.threads[1].source,
        "flankwise.toml: thread 2 designation"
    );
}

#[test]
fn every_slip_is_told_with_its_place() {
    let text = "[[machine]]\nid = \"größe\"\nmax_rmp = 3\nunits = \"in\"\nmax_rpm = -1\n\
                files = [\"a[\", 'ä', 3]\nrapid_x_m_min = \"12\"\nmin_cut_mm = inf\n\n[[thread]]\ntool = \"T3\"\n\
                \n[rules]\naxis-feed-limits = \"eror\"\n[[tools]]\nnumber = 3\n";
    assert_eq!(
        errors(text),
        [
            "3:1: unknown key `max_rmp` in [[machine]]: did you mean `max_rpm`?",
            "4:9: `units` cannot be \"in\": did you mean `inch`?",
            "5:11: `max_rpm` must be a number above 0 and at most 1000000000",
            "6:21: `files` must be a list of texts, such as [\"lathe/*.nc\"], here it is a number",
            "7:17: `rapid_x_m_min` must be a number, here it is a text",
            "8:14: `min_cut_mm` must be a number not below 0 and at most 1000000000",
            "10:1: a thread needs its name on the drawing: add `designation = \"M24x3-6g\"`",
            "11:8: `tool` must be a tool number without the T, such as 3",
            "14:1: unknown rule `axis-feed-limits`: did you mean `axis-feed-limit`?",
            "14:20: a rule cannot be \"eror\": did you mean `error`?",
            "15:3: unknown key `tools` in this file: known are machine, thread, rules, waiver, ci",
        ]
    );
}

#[test]
fn bad_globs_types_and_names() {
    assert_eq!(
        errors("[[machine]]\nid='a'\nfiles = [\"x\", \"a[\"]\n"),
        ["3:15: `a[` is no file pattern: unclosed character class; missing ']'"]
    );
    assert_eq!(
        errors("machine = 3\nrules = 4\n"),
        [
            "1:11: `machine` must be written as [[machine]], here it is a number",
            "2:9: rules must be a table, written as [rules]"
        ]
    );
    assert_eq!(
        errors("[[machine]]\nid='a'\n[[machine]]\nid='a'\n"),
        ["3:1: two machines are called \"a\""]
    );
    assert_eq!(
        errors("[[machine]]\nfiles = []\n"),
        ["1:1: a machine needs a name: add `id = \"…\"`"]
    );
}

#[test]
fn no_bytes_break_it() {
    for text in [
        "[",
        "a = ",
        "[[machine]]\nid = \"x",
        "\u{0}",
        "=\n=\n",
        "[rules]\n[rules]\n",
    ] {
        assert!(!errors(text).is_empty(), "{text:?}");
    }
    let deep = format!("a = {}1{}", "[".repeat(50_000), "]".repeat(50_000));
    assert!(!errors(&deep).is_empty());
}
