use super::*;
use proptest::prelude::*;

/// Each find as `designation/confidence`.
fn found(text: &str) -> Vec<String> {
    let found = find_in_text(text);
    for one in &found {
        assert!(!text[one.span.clone()].trim().is_empty());
    }
    found
        .iter()
        .map(|f| format!("{}/{:?}", f.thread.designation(), f.confidence))
        .collect()
}

#[test]
fn comments_that_name_a_thread() {
    for (text, expected) in [
        ("M24 X 3.0 THREAD", "M24x3/Strong"),
        ("TAP M14-1.5", "M14x1.5/Strong"),
        ("3/4-10 UNC", "3/4-10 UNC/Strong"),
        ("THREAD M24X3-6G, NOSE 0.4, LENGTH 30", "M24X3-6G/Strong"),
        ("M20X2.5", "M20x2.5/Strong"),
        ("OD THREAD M16X1.5 FINISH", "M16x1.5/Strong"),
        ("T0303 - M24X3 OD THREAD", "M24x3/Strong"),
        ("T5 M8 TAP", "M8x1.25/Strong"),
        ("TAP M30", "M30x3.5/Strong"),
        ("M30 THREAD", "M30x3.5/Strong"),
        ("GEWINDE M24", "M24x3/Strong"),
        ("РЕЗЬБА М24×2-6g", "M24x2-6g/Strong"),
        ("резьба м24", "M24x3/Strong"),
        ("M8", "M8x1.25/Weak"),
        ("4-M8 HOLES", "M8x1.25/Weak"),
        ("M37X1.5 BORE NUT", "M37x1.5/Weak"),
        ("TAP M37X1.5", "M37x1.5/Strong"),
        ("DRILL FOR TAP M10", "M10x1.5/Strong"),
        ("10-32 TAP", "10-32 UNF/Strong"),
        ("TAP DRILL FOR 1/4-20 TAP", "1/4-20 UNC/Strong"),
        ("3/4-10", "3/4-10 UNC/Weak"),
        ("1/2-13 UNC-2A LH", "1/2-13 UNC-2A-LH/Strong"),
        ("FINISH 1-1/4-12UNF-2A, LE=1.5", "1 1/4-12 UNF-2A/Strong"),
        (".500-13", "1/2-13 UNC/Weak"),
        ("#10-32", "10-32 UNF/Weak"),
        ("TAP 1/2 UNC", "1/2-13 UNC/Strong"),
        ("1 1/2\"-6 UNC GLAND", "1 1/2-6 UNC/Strong"),
        ("M16XPH3P1.5-6H", "M16XPH3P1.5-6H/Strong"),
        ("M24x3.", "M24x3/Strong"),
        ("(M24X1,5)", "M24x1.5/Strong"),
        ("M6X1X20", "M6x1/Strong"),
        ("M8X1.25 X 20 DEEP", "M8x1.25/Strong"),
        ("M24X3-6G -L=30", "M24X3-6G/Strong"),
        ("M24 X 3.0 - 6G", "M24X3-6G/Strong"),
        ("T0303 M6 THREADING TOOL", "M6x1/Weak"),
        ("OP20_M24X3_EXT", "M24x3/Strong"),
        ("TR40X7", "Tr 40x7/Strong"),
        ("TR 40X14(P7)-7E", "Tr 40x14(P7)-7e/Strong"),
        ("G76 TR40X7", "Tr 40x7/Strong"),
        ("РЕЗЬБА Тр 40х7", "Tr 40x7/Strong"),
        ("ВИНТ ТРАП 40Х7", "Tr 40x7/Strong"),
        ("NUT TR 20X4 X 60 LONG", "Tr 20x4/Strong"),
    ] {
        assert_eq!(found(text), [expected], "{text}");
    }
}

#[test]
fn two_in_one_comment() {
    assert_eq!(
        found("M24X3 REPLACES 1-8 UNC"),
        ["M24x3/Strong", "1-8 UNC/Strong"]
    );
}

#[test]
fn spans_cover_the_designation_alone() {
    let text = "Ø24 резьба М24×1,5-6g, L30";
    let one = &find_in_text(text)[0];
    assert_eq!(&text[one.span.clone()], "М24×1,5-6g");
    let text = "TAP 1½-6 UNC NEXT";
    let one = &find_in_text(text)[0];
    assert_eq!(&text[one.span.clone()], "1½-6 UNC");
}

/// Texts of programs that hold something like a designation and name no thread known here.
#[test]
fn comments_that_name_none() {
    for text in [
        "",
        "M30 END",
        "M30",
        "M03",
        "M03 SPINDLE ON",
        "M3 SPINDLE CW",
        "M8 COOLANT ON",
        "M08",
        "M05 STOP",
        "M00 CHECK THREAD",
        "THREAD END M30",
        "T0101",
        "T0101 M6",
        "N10 G97 S800 M3",
        "G76 X20.32 Z-30. M24",
        "1/2 INCH DRILL",
        "1/4 DRILL",
        "R1/4",
        "RC 1/4",
        "G1/2",
        "G 1/2 A",
        "1-11.5 NPT",
        "1/2-14 NPT",
        "2 1/2-8 NPT THREAD",
        "NPT1/2",
        "1-5 ACME-2G",
        "TR 40",
        "TR 16X9 SCREEN",
        "1/4-28 UNJF-3A",
        "MJ6X1-4H6H",
        "12-24-2020",
        "2019-10-24",
        "10-24",
        "DATE 10/24/19",
        "10.24.2019",
        "DWG 10-32-4711",
        "DRAWING 4-40",
        "P/N M24-0815",
        "PART M1234",
        "REV M2A",
        "BOLT M8X20",
        "SCREW M8 X 20",
        "M8x16 DIN 912",
        "STEP 3-8",
        "OP 10-20",
        "PASSES 1-8",
        "RPM 800-1200",
        "2.5-4 MM",
        "X24 X 3.0",
        "DIA24X3",
        "O0024",
        "Z-10.5",
        "MACHINE 5",
        "CM24X3",
        "M24A",
        "1/2-13 UNF",
        "PROGRAM M02",
        "M98 P1000",
        "M99",
        "K40-100",
        "TAPER 1-16",
        "TAPER 1/16",
        "THROUGH 1-8",
        "AUG 10-32",
        "M7 M9",
        "CNMG 12-04-08",
        "SET M6 TOOL CALL",
        "M42 HSS DRILL",
        "M8X20X1",
        "GRADE M25 INSERT",
    ] {
        let found = found(text);
        let strong = found.iter().any(|f| f.ends_with("Strong"));
        assert!(!strong, "{text}: {found:?}");
        // What stands alone like a size may be weak; the rest must be silent.
        let weak_allowed = ["M7 M9"].contains(&text);
        assert!(found.is_empty() || weak_allowed, "{text}: {found:?}");
    }
}

proptest! {
    #[test]
    fn no_text_stops_the_search(text in "\\PC{0,80}") {
        for one in find_in_text(&text) {
            prop_assert!(text.get(one.span).is_some());
        }
    }

    /// A designation is found where it stands, whatever harmless words surround it.
    #[test]
    fn found_among_words(before in "[A-Z ]{0,10}", size in 0usize..200, after in "[A-Z ]{0,10}") {
        let size = &crate::standards::Family::Metric.sizes()[size];
        let name = Thread::of_size(crate::standards::Family::Metric, size).designation();
        let text = format!("{before} {name} {after}");
        let foreign = after.split(' ').any(|w| FOREIGN_WORDS.contains(&w));
        let found = find_in_text(&text);
        prop_assert!(foreign || found.iter().any(|f| text[f.span.clone()].starts_with(&name)), "{}", text);
    }
}

/// A comment may be as long as a file: the work grows with its length and not with its square.
#[test]
fn a_very_long_text() {
    let text = "M8 FOR 1-8 #10-32 ".repeat(20_000);
    assert_eq!(find_in_text(&text).len(), 40_000);
    assert!(find_in_text(&"FOR ".repeat(20_000)).is_empty());
}
