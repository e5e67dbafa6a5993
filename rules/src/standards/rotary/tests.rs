use super::*;
use crate::standards::designation::parse;
use crate::standards::find::find_in_text;

#[test]
fn notations() {
    for (written, canonical) in [
        ("NC50", "NC50"),
        ("NC-50", "NC50"),
        ("nc 23", "NC23"),
        ("NC50 PIN", "NC50"),
        ("API NC38 BOX LH", "NC38-LH"),
        ("3 1/2 REG", "3 1/2 REG"),
        ("3-1/2\" REG", "3 1/2 REG"),
        ("6-5/8 REG API PIN", "6 5/8 REG"),
        ("4-1/2 IF", "4 1/2 IF"),
        ("4 FH", "4 FH"),
        ("5 1/2 FH", "5 1/2 FH"),
        ("З-133", "З-133"),
        ("з133 муфта", "З-133"),
        ("З-88 ГОСТ 28487-2018", "З-88"),
    ] {
        let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(thread.designation(), canonical, "{written}");
    }
    let side = |text: &str| parse(text, None).unwrap().side;
    assert_eq!(side("NC50 PIN"), Some(Side::External));
    assert_eq!(side("З-133 МУФТА"), Some(Side::Internal));
    assert_eq!(side("З-133 ниппель"), Some(Side::External));
    // Three names of one connection.
    let of = |text: &str| parse(text, None).unwrap();
    assert_eq!(of("NC50").basic(), of("4 1/2 IF").basic());
    assert_eq!(of("NC50").basic(), of("З-133").basic());
}

#[test]
fn what_is_none() {
    for (text, reason) in [
        ("NC10", "no connection"),
        ("З-999", "no connection"),
        ("Z-133", "axis word"),
        ("5 REG", "no connection"),
    ] {
        let error = parse(text, None).unwrap_err();
        assert!(error.reason.contains(reason), "{text}: {}", error.reason);
    }
    for text in [
        "NC50 MACHINE",
        "NC PROGRAM",
        "NC50 PROGRAM 12",
        "CUT 4-1/2 IF NEEDED",
        "CNC50",
        "Z-133",
        "THREAD Z-133",
        "NC501",
    ] {
        assert!(
            find_in_text(text).is_empty(),
            "{text}: {:?}",
            find_in_text(text)
        );
    }
}

/// The name in GOST is the large diameter of the pin in whole mm, the number in NC is the pitch
/// diameter in tenths of an inch.
#[test]
fn names_agree_with_diameters() {
    for connection in &CONNECTIONS {
        let thread = parse(connection.name, None).unwrap();
        let planes = thread.gauge_planes(Side::External).unwrap();
        let shoulder = planes.at(0.0).major;
        assert!(
            (shoulder - f64::from(connection.gost)).abs() < 1.0,
            "{}: {shoulder}",
            connection.name
        );
        if let Some(number) = connection.name.strip_prefix("NC") {
            let tenths: f64 = number.parse().unwrap();
            assert!((10.0 * connection.pitch_diameter - tenths).abs() < 1.0);
        }
    }
}

#[test]
fn what_rests_on_memory_says_so() {
    let planes = |text: &str| {
        parse(text, None)
            .unwrap()
            .gauge_planes(Side::External)
            .unwrap()
    };
    assert!(!planes("NC50").unverified && planes("3 1/2 REG").unverified);
    assert!(
        planes("3 1/2 REG")
            .notes
            .iter()
            .any(|n| n.contains("V-040"))
    );
}
