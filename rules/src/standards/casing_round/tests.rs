use super::*;
use crate::standards::designation::parse;
use crate::standards::find::find_in_text;

#[test]
fn notations() {
    for (written, canonical) in [
        ("7 LTC", "7 LTC"),
        ("7\" LC", "7 LTC"),
        ("9-5/8 STC", "9 5/8 STC"),
        ("2-7/8 EUE 8RD", "2 7/8 EUE"),
        ("2 7/8 EU", "2 7/8 EUE"),
        ("2.875 EUE PIN", "2 7/8 EUE"),
        ("1.900 NU 10RD", "1.900 NUE"),
        ("4-1/2 STC BOX LH", "4 1/2 STC-LH"),
        ("НКТ 73", "НКТ 73"),
        ("НКТ-73 ГОСТ 633-80", "НКТ 73"),
        ("нкт 73 в", "НКТ 73 В"),
        ("НКТВ 60", "НКТ 60 В"),
        ("NKT 114", "НКТ 114"),
    ] {
        let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(thread.designation(), canonical, "{written}");
        assert_eq!(parse(canonical, None).unwrap().major, thread.major);
    }
    for (text, reason) in [
        ("7 1/2 LTC", "no size"),
        ("2-7/8 EUE 10RD", "another number"),
        // Sources differ on the threads of this size.
        ("НКТ 89", "no size"),
    ] {
        let error = parse(text, None).unwrap_err();
        assert!(error.reason.contains(reason), "{text}: {}", error.reason);
    }
    for text in ["7 SC", "9-5/8 BC", "TUBE НКТ", "5 LC DISPLAY"] {
        assert!(find_in_text(text).is_empty(), "{text}");
    }
}

/// API Spec 5B: the hand-tight pitch diameter is D - 0.09663 in to 7 in and D - 0.10082 in above
/// (from memory); here it follows from the form, the lengths and the taper.
#[test]
fn hand_tight_pitch_diameters() {
    let mut compared = 0;
    for row in &ROWS {
        if !matches!(row.kind, Short | Long) {
            continue;
        }
        let thread = parse(row.name, None).unwrap();
        let planes = thread.gauge_planes(Side::External).unwrap();
        let (_, hand_tight) = from_vanish_point(row);
        let e1 = planes.at(25.4 * (row.length - hand_tight.unwrap())).pitch / 25.4;
        let d = thread.major.mm() / 25.4;
        let less = if d < 7.5 { 0.096_63 } else { 0.100_82 };
        assert!((d - less - e1).abs() < 2e-5, "{} {e1}", row.name);
        compared += 1;
    }
    assert_eq!(compared, 23);
}

/// A coupling is twice the thread and half an inch to its middle: lengths of couplings in inches from a
/// public table of API round thread casing couplings.
#[test]
fn lengths_agree_with_couplings() {
    for (name, short, long) in [
        ("4 1/2", 6.25, 7.0),
        ("5", 6.5, 7.75),
        ("5 1/2", 6.75, 8.0),
        ("6 5/8", 7.25, 8.75),
        ("7", 7.25, 9.0),
        ("7 5/8", 7.5, 9.25),
        ("8 5/8", 7.75, 10.0),
        ("9 5/8", 7.75, 10.5),
        ("10 3/4", 8.0, 0.0),
        ("11 3/4", 8.0, 0.0),
        ("13 3/8", 8.0, 0.0),
    ] {
        for (word, coupling) in [("STC", short), ("LTC", long)] {
            let mut rows = ROWS.iter();
            let row = rows.find(|row| row.name == format!("{name} {word}"));
            match row {
                Some(row) => assert!((2.0 * (row.length + 0.5) - coupling).abs() < 1e-9, "{name}"),
                None => assert_eq!(coupling, 0.0, "{name} {word}"),
            }
        }
    }
}

#[test]
fn what_rests_on_memory_says_so() {
    let thread = parse("7 LTC", None).unwrap();
    assert!(thread.gauge_planes(Side::Internal).unwrap().unverified);
    assert!(thread.limits(Side::External).unverified);
    assert!(
        parse("НКТ 73", None)
            .unwrap()
            .gauge_planes(Side::External)
            .is_none()
    );
}
