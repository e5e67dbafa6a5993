use super::*;
use crate::standards::designation::parse;

#[test]
fn notations() {
    for (written, canonical) in [
        ("S 40x7", "S 40x7"),
        ("S40x14P7-8e", "S 40x14(P7)-8e"),
        ("S 40x14(P7) LH", "S 40x14(P7)-LH"),
        ("S 80×10-7AZ", "S 80x10-7AZ"),
        ("S80x10-7AZ/7h", "S 80x10-7AZ/7h"),
        ("S40X7 BUTTRESS", "S 40x7"),
        ("S40X7-7H", "S 40X7-7H"),
        ("S 40x7-7H", "S 40x7-7H"),
        ("УП 80х10", "S 80x10"),
        ("S 80×10LH ГОСТ 10177-82", "S 80x10-LH"),
    ] {
        let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(thread.designation(), canonical, "{written}");
    }
    // In capitals 7H is either 7h of GOST 25096 or 7H of DIN 513-3.
    let open = parse("S40X7-7H", Some(Side::External)).unwrap();
    assert_eq!(open.designation(), "S 40x7-7h");
    for speed in ["S1200", "S 1200", "S40-7", "S", "S40X20"] {
        assert!(parse(speed, None).is_err(), "{speed}");
    }
}

/// Crest and core flats are alike, and a circle of the root radius that touches both flanks ends
/// at the depth.
#[test]
fn the_constants_of_the_form_agree() {
    let flanks = FORM.flanks.unwrap();
    let sharp = flanks.sharp_height();
    let truncated = (sharp - COVERED) / 2.0;
    assert!((truncated / sharp - CREST).abs() < 1e-6);
    let (half, lean) = (16.5f64.to_radians(), 13.5f64.to_radians());
    let bottom = ROOT * (lean.cos() / half.sin() - 1.0);
    assert!((sharp - truncated - bottom - DEPTH).abs() < 1e-5);
}

#[test]
fn limits_are_ordered_and_say_what_they_rest_on() {
    let read = |text: &str| parse(text, None).unwrap();
    let bolt = read("S 40x7-7e").limits(Side::External);
    let nut = read("S 40x7-7H").limits(Side::Internal);
    assert!(bolt.unverified && nut.unverified);
    assert!(nut.pitch.min >= bolt.pitch.max && bolt.pitch.min < bolt.pitch.max);
    // d2 = 40 - 5.25 = 34.75; es(e, 7) = 0.125; Td2(7) of 22.4 to 45 mm and pitch 7 is 0.355.
    assert_eq!(bolt.pitch, Band::between(34.27, 34.625));
    let wide = read("S 40x7-9e").limits(Side::External);
    assert!(wide.pitch.min < bolt.pitch.min && wide.pitch.max == bolt.pitch.max);
    let unknown = read("S 40x7-7AZ").limits(Side::Internal);
    assert!(unknown.pitch.min.is_none() && unknown.notes.iter().any(|n| n.contains("7AZ")));
    let flat = read("S 40x7-7h").limits(Side::External);
    assert_eq!(flat.pitch.max, Some(34.75));
}
