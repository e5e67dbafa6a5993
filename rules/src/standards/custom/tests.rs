use super::*;
use proptest::prelude::*;

fn read(text: &str) -> Result<Custom, toml::de::Error> {
    toml::from_str(text)
}

/// A pump spindle of an invented shop: 45° and 5°, three starts, with limits.
const SPINDLE: &str = r#"
name = "spindle saw"
major_mm = 60.0
pitch_mm = 8.0
starts = 3
left_hand = true
leading_flank_deg = 45.0
following_flank_deg = 5.0
load_flank = "following"
source = "drawing of the press, sheet 4"

[external]
depth_mm = 5.2
depth_limits_mm = [5.1, 5.35]
crest_flat_mm = 1.4
root_radius_mm = [0.5, 0.8]
major_limits_mm = [59.7, 60.0]
pitch_limits_mm = [54.4, 54.7]

[internal]
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
    thread.check().unwrap();
    assert!(thread.form().flanks.is_none());
}

#[test]
fn unknown_keys_and_contradictions() {
    assert!(
        read(&SPINDLE.replace("starts", "begins"))
            .unwrap_err()
            .message()
            .contains("begins")
    );
    for (from, to, why) in [
        ("major_mm = 60.0", "major_mm = -1.0", "lengths in mm"),
        ("major_mm = 60.0", "major_mm = nan", "lengths in mm"),
        ("pitch_mm = 8.0", "pitch_mm = 61.0", "the smaller"),
        ("starts = 3", "starts = 0", "starts"),
        ("following_flank_deg = 5.0", "", "missing"),
        (
            "following_flank_deg = 5.0",
            "following_flank_deg = 95.0",
            "normal to the axis",
        ),
        (
            "following_flank_deg = 5.0",
            "taper = 1.5\nfollowing_flank_deg = 5.0",
            "taper",
        ),
        ("depth_mm = 5.2", "depth_mm = 31.0", "core"),
        ("depth_mm = 5.2", "depth_mm = 4.0", "outside its limits"),
        ("[54.4, 54.7]", "[54.7, 54.4]", "[smallest, largest]"),
        ("crest_flat_mm = 1.4", "crest_flat_mm = -1.4", "no length"),
        ("\"spindle saw\"", "\" \"", "needs a name"),
    ] {
        let thread = read(&SPINDLE.replace(from, to)).unwrap();
        let error = thread.check().unwrap_err();
        assert!(error.to_string().contains(why), "{to}: {error}");
    }
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
