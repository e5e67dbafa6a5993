use super::*;
use crate::facts::{Config, FILE_NAME};
use proptest::prelude::*;

/// The form of a configuration, or what is wrong with it.
fn read(text: &str) -> Result<Custom, String> {
    let config = Config::parse(FILE_NAME, text, &[]).map_err(|errors| {
        let errors: Vec<String> = errors.iter().map(ToString::to_string).collect();
        errors.join("\n")
    })?;
    Ok(Custom::clone(&config.facts("a.nc").1.forms[0]))
}

/// A pump spindle of an invented shop: 45° and 5°, three starts, with limits.
const SPINDLE: &str = r#"
[[form]]
name = "spindle saw"
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
depth_limits_mm = [5.1, 5.35]
crest_flat_mm = 1.4
root_radius_mm = [0.5, 0.8]
major_limits_mm = [59.7, 60.0]
pitch_limits_mm = [54.4, 54.7]

[form.internal]
depth_mm = 5.0
"#;

#[test]
fn a_thread_from_a_configuration() {
    let thread = read(SPINDLE).unwrap();
    thread.check().unwrap();
    assert_eq!((thread.lead().mm(), thread.hand()), (24.0, Hand::Left));
    let form = thread.form();
    let flanks = form.flanks.unwrap();
    assert_eq!(
        (flanks.included_deg(), flanks.pressure),
        (50.0, Some(Flank::Following))
    );
    assert_eq!(form.external.crest.flat.unwrap().at(8.0), 1.4);
    assert_eq!(
        form.nose_radius(Side::External, 8.0),
        Some(Band::between(0.5, 0.8))
    );
    assert_eq!(thread.depth_band(Side::External), Band::between(5.1, 5.35));
    assert_eq!(thread.depth_band(Side::Internal), Band::between(5.0, 5.0));
    let basic = thread.basic();
    assert!((basic.root - 49.6).abs() < 1e-9 && (basic.minor - 50.0).abs() < 1e-9);
    assert_eq!(basic.pitch, 54.7);
    let limits = thread.limits(Side::External).unwrap();
    assert_eq!(limits.pitch, Band::between(54.4, 54.7));
    assert_eq!(
        limits.notes,
        [
            "source: drawing of the press, sheet 4",
            "no limits of the minor diameter are given",
        ]
    );
}

#[test]
fn a_side_that_is_not_given_is_unknown() {
    let mut thread = read(SPINDLE).unwrap();
    thread.internal = None;
    thread.check().unwrap();
    assert!(thread.limits(Side::Internal).is_none());
    assert_eq!(thread.form().internal.depth, thread.form().external.depth);
    // A form of arcs has no flanks.
    thread.leading_flank_deg = None;
    thread.following_flank_deg = None;
    thread.load_flank = None;
    thread.check().unwrap();
    assert!(thread.form().flanks.is_none());
}

/// What cannot be is told with its place: the line of the guilty number.
#[test]
fn unknown_keys_and_contradictions() {
    for (from, to, why) in [
        ("starts", "begins", "6:1: unknown key `begins` in [[form]]"),
        (
            "crest_flat_mm",
            "crest_flat",
            "did you mean `crest_flat_mm`?",
        ),
        ("major_mm = 60.0", "", "2:1: a form needs its `major_mm`"),
        (
            "major_mm = 60.0",
            "major_mm = -1.0",
            "4:12: `major_mm` must be a number above 0",
        ),
        (
            "major_mm = 60.0",
            "major_mm = nan",
            "`major_mm` must be a number above 0",
        ),
        (
            "pitch_mm = 8.0",
            "pitch_mm = 61.0",
            "5:12: form \"spindle saw\": the pitch must be",
        ),
        (
            "starts = 3",
            "starts = 0",
            "6:10: `starts` must be a whole number from 1 to 24",
        ),
        (
            "following_flank_deg = 5.0",
            "",
            "8:21: form \"spindle saw\": the following flank is missing",
        ),
        (
            "following_flank_deg = 5.0",
            "following_flank_deg = 95.0",
            "from -10 to 80",
        ),
        (
            "following_flank_deg = 5.0",
            "taper = 1.5\nfollowing_flank_deg = 5.0",
            "from 0 to 1",
        ),
        (
            "starts = 3",
            "gauge_plane_mm = 3",
            "a parallel thread has no gauge plane",
        ),
        (
            "depth_mm = 5.2",
            "depth_mm = 31.0",
            "14:12: form \"spindle saw\": external: the depth is radial",
        ),
        (
            "depth_mm = 5.2",
            "depth_mm = 4.0",
            "the depth lies outside its limits",
        ),
        (
            "[54.4, 54.7]",
            "[54.7, 54.4]",
            "two numbers, [smallest, largest]",
        ),
        ("[54.4, 54.7]", "[59.8, 59.9]", "below the major diameter"),
        ("[54.4, 54.7]", "[24.4, 24.7]", "more than a pitch away"),
        ("crest_flat_mm = 1.4", "crest_flat_mm = -1.4", "not below 0"),
        // 5.2 mm between flanks of 45° and 5°: 5.2 · 1.0875 = 5.655 mm.
        (
            "crest_flat_mm = 1.4",
            "crest_flat_mm = 3",
            "the flanks meet before this depth: crest 3.000 + flanks 5.655",
        ),
        (
            "root_radius_mm = [0.5, 0.8]",
            "root_flat_mm = 0.5",
            "crest 1.400 + flanks 5.655 + root 0.500 make 7.555 mm, the pitch is 8.000",
        ),
        // r · (cos 20°/sin 25° − 1) · 1.0875 = 2 · 1.2235 · 1.0875 for 0.945 mm.
        (
            "[0.5, 0.8]",
            "[2.0, 2.5]",
            "the smallest radius asks for 2.661 mm",
        ),
        ("\"spindle saw\"", "\" \"", "a form needs a name"),
        ("\"spindle saw\"", "\"a, b\"", "no comma"),
        (
            "\"spindle saw\"",
            "\"M24x3\"",
            "3:8: a form cannot be called \"M24x3\"",
        ),
    ] {
        let text = SPINDLE.replacen(from, to, 1);
        let error = read(&text).unwrap_err();
        assert!(error.contains(why), "{to}: {error}");
    }
    let twice = format!("{SPINDLE}{SPINDLE}");
    assert!(read(&twice).unwrap_err().contains("two forms are called"));
}

/// The same numbers answer as a thread: what the rules ask of M24x3 they can ask of it.
#[test]
fn as_a_thread() {
    let custom = Arc::new(read(SPINDLE).unwrap());
    let thread = custom.thread();
    assert_eq!(thread.designation(), "spindle saw");
    assert_eq!((thread.lead().mm(), thread.starts), (24.0, 3));
    assert_eq!(thread.form(), custom.form());
    assert_eq!(
        thread.limits(Side::External).pitch,
        Band::between(54.4, 54.7)
    );
    assert!(thread.exists_on(Side::Internal) && thread.is_standard_size());
    assert!(thread.gauge_planes(Side::External).is_none());
    for name in ["SPINDLE SAW", "spindlesaw", " Spindle  saw ", "SРINDLE SAW"] {
        assert!(custom.is_named(name), "{name}");
    }
    for name in ["", "SPINDLE", "SPINDLE SAW 2"] {
        assert!(!custom.is_named(name), "{name}");
    }
}

/// A cone of 1:10 whose gauge plane lies 12 mm from the end: 40 mm there, 38.8 at the end.
#[test]
fn a_tapered_form_has_its_planes() {
    let text = "[[form]]\nname = 'cone 40'\nmajor_mm = 40\npitch_mm = 4\ntaper = 0.1\n\
                gauge_plane_mm = 12\nleading_flank_deg = 30\nfollowing_flank_deg = 30\n\
                [form.external]\ndepth_mm = 2\n";
    let thread = Arc::new(read(text).unwrap()).thread();
    let planes = thread.gauge_planes(Side::External).unwrap();
    assert!((planes.at(0.0).major - 38.8).abs() < 1e-9);
    assert!((planes.at(12.0).root - 36.0).abs() < 1e-9);
    assert!(!thread.exists_on(Side::Internal));
    let limits = thread.limits(Side::Internal);
    assert_eq!(limits.notes, ["the configuration gives no internal thread"]);
}

proptest! {
    /// Whatever the numbers are, nothing panics, and what passes the check is in order.
    #[test]
    fn any_numbers(
        major in any::<f64>(), pitch in any::<f64>(), depth in any::<f64>(),
        leading in proptest::option::of(any::<f64>()), following in proptest::option::of(any::<f64>()),
        taper in any::<f64>(), limits in any::<[f64; 2]>(), near in any::<bool>(),
    ) {
        let external = CustomSide {
            depth_limits_mm: Some(limits),
            ..CustomSide::of_depth(if near { pitch / 2.0 } else { depth })
        };
        let thread = Custom {
            name: "x".to_owned(), major_mm: major, pitch_mm: pitch, starts: 1, left_hand: false,
            leading_flank_deg: leading, following_flank_deg: following, load_flank: None, taper,
            gauge_plane_mm: None,
            external: Some(external), internal: None, source: String::new(),
        };
        let sound = thread.check().is_ok();
        let (basic, band) = (thread.basic(), thread.depth_band(Side::External));
        let _ = (thread.form(), thread.limits(Side::External), thread.lead(), thread.major());
        if sound {
            prop_assert!(basic.root > 0.0 && basic.root < basic.major);
            prop_assert!(band.min <= band.max);
        }
    }
}
