use lexer::evidence::Family;
use lexer::number::DecimalRule;
use lexer::units::{Radial, Units};

use super::*;
use crate::measure::coating::Coating;
use crate::measure::tool::Nose;
use crate::standards::Hand;

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
            ..Machine::default()
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
    let name = |word| facts.thread(word).unwrap().designation.as_str();
    assert_eq!(name(Some(303)), "M24x3-6g");
    assert_eq!(name(Some(3)), "M24x3-6g");
    assert_eq!(name(Some(505)), "1/2-13 UNC-2A");
    assert_eq!(name(None), "1/2-13 UNC-2A");
    assert_eq!(
        facts.threads[1].cite("designation"),
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
            "15:3: unknown key `tools` in this file: did you mean `tool`?",
        ]
    );
}

/// All other keys that a shop can write, each with the fact it becomes.
#[test]
fn every_table() {
    let text = r#"
[[machine]]
id = "lathe-2"
max_rpm_by_gear = [800, 3000]
max_tapping_rpm = 1200
rapid_acceleration_m_s2 = 4
wait_turns = 0.25
time_factor = 1.08
waits_for_speed = true
m3 = "counterclockwise"
turret = "rear"
surface_speed_in_thread = "held"
overrides_locked = true
pull_out_leads = 1.0
pull_out_angle_deg = 45
retract_mm = 2
tailstock_diameter_mm = 60
tailstock_z_mm = -120.5

[[tool]]
number = 303
kind = "full"
threads_per_inch = 8
nose_radius_mm = 0.4
angle_deg = 60
hand = "left"
tilt_deg = -1.5
relief_deg = 6
min_bore_mm = 25
tip_to_face_mm = 0.8
z_reference = "edge"
edges = 3
price_per_edge = 4.2
index_time_s = 90
parts_per_edge = 150

[[tool]]
comment = "*THREAD MILL*"
files = ["mill/"]
kind = "mill"
pitch_range_mm = [1, 3]
nose_flat_mm = 0.1
mill_diameter_mm = 12
edge_length_mm = 18
teeth = 4

[[tool]]
number = 7
kind = "tap"
pitch_mm = 1.25
tap_chamfer_threads = 4

[[thread]]
designation = "M24x3-6g"
coating_mm = [0.005, 0.008]
coating_limits = "after"
length_mm = 30
relief_width_mm = 9
relief_diameter_mm = 19.5
gauge = "GR M24x3-6g, no. 118"
critical = true

[[material]]
files = ["steel/"]
name = "C45"
group = "P"
hardness_hb = 210
kc11_n_mm2 = 2200
mc = 0.14
min_pass_mm = 0.05
speed_m_min = [90, 140]

[[material]]
group = "M"

[limits]
min_pass_mm = 0.04
max_area_mm2 = 0.6
first_pass_max_mm = 0.5
spring_passes_max = 2
start_min_mm = 4
start_min_leads = 2
retract_max_mm = 5
lead_error_percent = 2
lead_drift_percent = 20

[production]
parts_per_batch = 200
batches_per_year = 12
currency = "EUR"
rate_per_hour = 85
bottleneck = true
utilisation = 0.8
"#;
    let (_, facts) = parse(text).facts("steel/shaft.nc");
    let machine = facts.machine.clone().unwrap();
    assert_eq!(machine.max_rpm_by_gear, [800.0, 3000.0]);
    assert_eq!(machine.m3, Some(lexer::section::Turning::Counterclockwise));
    assert_eq!(machine.turret, Some(Turret::Rear));
    assert_eq!(machine.surface_speed_in_thread, Some(SurfaceSpeed::Held));
    assert_eq!(
        (
            machine.max_tapping_rpm,
            machine.time_factor,
            machine.retract_mm
        ),
        (Some(1200.0), Some(1.08), Some(2.0))
    );
    assert_eq!(
        (machine.waits_for_speed, machine.overrides_locked),
        (Some(true), Some(true))
    );
    assert_eq!(
        (machine.pull_out_leads, machine.pull_out_angle_deg),
        (Some(1.0), Some(45.0))
    );
    assert_eq!(
        (machine.tailstock_diameter_mm, machine.tailstock_z_mm),
        (Some(60.0), Some(-120.5))
    );
    assert!(
        facts
            .time_basis()
            .ends_with(", times 1.08 by its stop-watch")
    );
    let rapids = facts.rapids();
    assert_eq!((rapids.acceleration, rapids.wait_turns), (4000.0, 0.25));

    // The mill is for other files, the comment tells none here.
    assert_eq!(facts.tools.len(), 2);
    let tool = facts.tool(Some(3), &[]).unwrap();
    assert_eq!(tool.kind, Some(ToolKind::Full));
    assert_eq!(tool.pitch_mm, Some([3.175, 3.175]));
    assert_eq!(tool.nose, Some(Nose::Radius(0.4)));
    assert_eq!(
        tool.cite(tool.nose_key()),
        "flankwise.toml: tool 1 nose_radius_mm"
    );
    assert_eq!(
        (tool.hand, tool.z_reference),
        (Some(Hand::Left), Some(ZReference::Edge))
    );
    assert_eq!(
        (tool.angle_deg, tool.tilt_deg, tool.relief_deg),
        (Some(60.0), Some(-1.5), Some(6.0))
    );
    assert_eq!(
        (tool.min_bore_mm, tool.tip_to_face_mm, tool.edges),
        (Some(25.0), Some(0.8), Some(3))
    );
    assert_eq!(
        (tool.price_per_edge, tool.index_time_s, tool.parts_per_edge),
        (Some(4.2), Some(90.0), Some(150.0))
    );
    let tap = facts.tool(Some(7), &[]).unwrap();
    assert_eq!(
        (tap.pitch_mm, tap.tap_chamfer_threads),
        (Some([1.25; 2]), Some(4.0))
    );
    assert!(facts.tool(Some(4), &[]).is_none());
    let (_, mill) = parse(text).facts("mill/plate.nc");
    let comment = ["T12 thread mill 4 fl".to_owned()];
    let tool = mill.tool(Some(12), &comment).unwrap();
    assert_eq!((tool.nose, tool.teeth), (Some(Nose::Flat(0.1)), Some(4)));
    assert_eq!(tool.mill_diameter_mm, Some(12.0));
    assert_eq!(tool.edge_length_mm, Some(18.0));
    assert!(mill.tool(Some(12), &["DRILL".to_owned()]).is_none());

    let thread = facts.thread(Some(3)).unwrap();
    assert_eq!(
        thread.coating,
        Some(Coating {
            min: 0.005,
            max: 0.008
        })
    );
    assert_eq!(thread.coating_limits, Some(CoatingLimits::After));
    assert_eq!(
        (
            thread.length_mm,
            thread.relief_width_mm,
            thread.relief_diameter_mm
        ),
        (Some(30.0), Some(9.0), Some(19.5))
    );
    assert!(thread.critical && thread.gauge.is_some());

    let material = facts.material.clone().unwrap();
    assert_eq!(
        (material.group, material.kc11_n_mm2, material.mc),
        (Some(MaterialGroup::P), Some(2200.0), Some(0.14))
    );
    assert_eq!(mill.material.unwrap().group, Some(MaterialGroup::M));
    // The material's own limit first, the shop's where it has none.
    assert_eq!(
        facts.cut_limit(|l| l.min_pass_mm, "min_pass_mm"),
        Some((0.05, "flankwise.toml: material 1 min_pass_mm".to_owned()))
    );
    assert_eq!(
        facts.cut_limit(|l| l.spring_passes_max, "spring_passes_max"),
        Some((2, "flankwise.toml: limits spring_passes_max".to_owned()))
    );
    assert_eq!(
        facts.cut_limit(|l| l.speed_m_min, "speed_m_min").unwrap().0,
        [90.0, 140.0]
    );
    assert_eq!(
        (
            facts.limits.lead_error_percent,
            facts.limits.lead_drift_percent
        ),
        (Some(2.0), Some(20.0))
    );
    let production = facts.production;
    assert_eq!(
        (
            production.parts_per_batch,
            production.rate_per_hour,
            production.bottleneck
        ),
        (Some(200.0), Some(85.0), Some(true))
    );
}

#[test]
fn slips_of_the_other_tables() {
    assert_eq!(
        errors(
            "[[tool]]\nkind = \"fulll\"\npitch_mm = 2\nthreads_per_inch = 8\n\
             nose_radius_mm = 0.1\nnose_flat_mm = 0.1\n\
             [[thread]]\ndesignation = \"M24x3\"\ncoating_mm = [8, 5]\n\
             [material]\ngroup = \"Q\"\nmc = 2\n\
             [limits]\nspring_passes_max = 1.5\nlead_eror_percent = 1\n\
             [[thread]]\ndesignation = \"M24x3\"\ncoating_mm = [5, 8]\n"
        ),
        [
            "1:1: a tool needs its `number`, or a `comment` that stands beside it",
            "2:8: `kind` cannot be \"fulll\": did you mean `full`?",
            "4:20: `threads_per_inch` says again what `pitch_mm` says: leave one",
            "6:16: `nose_flat_mm` says again what `nose_radius_mm` says: leave one",
            "9:14: `coating_mm` must be two numbers, [smallest, largest]",
            "11:9: `group` cannot be \"Q\": known are P, M, K, N, S, H",
            "12:6: `mc` must be a number from 0 to 1",
            "14:21: `spring_passes_max` must be a whole number from 0 to 1000",
            "15:1: unknown key `lead_eror_percent` in [limits]: did you mean `lead_error_percent`?",
            "18:14: a layer of more than 0.5 mm is no coating",
        ]
    );
}

/// A form of the shop's own is a name like any other, for `[[thread]]` too.
#[test]
fn names_of_forms() {
    let form = "[[form]]\nname = \"stem 40\"\nmajor_mm = 40\npitch_mm = 6\n\
                [form.external]\ndepth_mm = 3\n";
    let thread = |name: &str| format!("{form}[[thread]]\ndesignation = \"{name}\"\n");
    let (_, facts) = parse(&thread("STEM 40")).facts("a.nc");
    let named = facts.named("Stem 40", Some(Side::External)).unwrap();
    assert_eq!(named.designation(), "stem 40");
    assert_eq!(facts.named("M8", None).unwrap().designation(), "M8x1.25");
    assert_eq!(
        errors(&thread("stem 41")),
        ["8:15: `stem 41` is not a thread: did you mean the form stem 40?"]
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

/// A form of the shop's own, named by a note, is judged like a thread of a standard: lead 3 x 8 mm,
/// 5.2 mm deep.
#[test]
fn rules_judge_forms_of_the_shop() {
    use crate::checks::testing::judged;
    let config = "[[form]]\nname = \"spindle saw\"\nmajor_mm = 60\npitch_mm = 8\nstarts = 3\n\
                  leading_flank_deg = 45\nfollowing_flank_deg = 5\n\
                  [form.external]\ndepth_mm = 5.2\ndepth_limits_mm = [5.1, 5.35]\n\
                  crest_flat_mm = 1.4\nroot_radius_mm = [0.5, 0.8]\n";
    let (_, facts) = parse(config).facts("a.nc");
    let text = |note: &str, x: &str, f: &str| {
        format!(
            "G21\n({note})\nG97 S60 M3\nG0 X66. Z50.\nG76 P010000 Q100 R0.05\n\
             G76 X{x} Z-100. P5200 Q600 F{f}\nG0 X90.\n"
        )
    };
    let rules = |text: &str| {
        let judgement = judged(text, &facts);
        assert!(judgement.threads[0].thread.is_some(), "{text}");
        let rules = judgement.findings.iter().map(|finding| finding.rule);
        let about = [
            "depth-vs-form",
            "lead-vs-designation",
            "nose-too-big",
            "taper-word",
        ];
        rules
            .filter(|rule| about.contains(rule))
            .collect::<Vec<_>>()
    };
    assert!(rules(&text("THREAD SPINDLE SAW, NOSE 0.6", "49.6", "24.")).is_empty());
    assert_eq!(
        rules(&text("THREAD SPINDLE SAW", "49.6", "8.")),
        ["lead-vs-designation"]
    );
    assert_eq!(
        rules(&text("THREAD SPINDLE SAW", "52.", "24.")),
        ["depth-vs-form"]
    );
    assert_eq!(
        rules(&text("THREAD SPINDLE SAW, NOSE 1.2", "49.6", "24.")),
        ["nose-too-big"]
    );
}

#[test]
fn rules_for_some_files_stand_over_those_for_all() {
    let config = parse(
        "[rules]\nlead-vs-callout = \"warning\"\naxis-feed-limit = \"advice\"\n\
         [[rules_for]]\nfiles = [\"old/\"]\nrules = { lead-vs-callout = \"off\" }\n\
         [[rules_for]]\nfiles = [\"old/O12*\"]\nrules.lead-vs-callout = \"error\"\n",
    );
    let of = |file: &str| {
        let facts = config.facts(file).1;
        RULES.map(|rule| facts.rules.get(rule).copied())
    };
    let set = |severity| Some(Setting::Severity(severity));
    let advice = set(Severity::Advice);
    assert_eq!(of("new/O1.nc"), [set(Severity::Warning), advice]);
    assert_eq!(of("old/O1.nc"), [Some(Setting::Off), advice]);
    assert_eq!(of("old/O12.nc"), [set(Severity::Error), advice]);
    let all = errors(
        "[[rules_for]]\nrules = { lead-vs-callouts = \"off\" }\n[[rules_for]]\nfiles = [\"a\"]\nfolder = 1\n",
    );
    assert_eq!(
        all,
        [
            "1:1: [[rules_for]] needs `files` and `rules`; for all files write [rules]",
            "2:11: unknown rule `lead-vs-callouts`: did you mean `lead-vs-callout`?",
            "3:1: [[rules_for]] needs `files` and `rules`; for all files write [rules]",
            "5:1: unknown key `folder` in [[rules_for]]: did you mean `files`?",
        ]
    );
}
