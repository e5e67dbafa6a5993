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
        ("Tr 40x14(P7)", "Tr 40x14(P7)/Strong"),
        ("S40x7 BUTTRESS", "S 40x7/Strong"),
        ("S40X7-7E", "S 40x7-7e/Strong"),
        ("S40X7", "S 40x7/Weak"),
        ("THREAD S40X7", "S 40x7/Strong"),
        ("РЕЗЬБА УПОРНАЯ S80X10", "S 80x10/Weak"),
        ("УП 80Х10", "S 80x10/Strong"),
        ("2.5-8 BUTT-2A SCREW", "2 1/2-8 BUTT-2A/Strong"),
        ("1-10 PULL-BUTT", "1-10 PULL-BUTT/Strong"),
        ("RD 40X1/6 NUT", "Rd 40x1/6/Strong"),
        ("2BA TAP", "2 BA/Strong"),
        ("TERMINAL 4 BA", "4 BA/Weak"),
        ("PG 16 THREAD", "Pg 16/Strong"),
        ("GLAND PG21", "Pg 21/Weak"),
        ("EDISON E27", "E27/Strong"),
        ("THREAD E14", "E14/Strong"),
        ("SQUARE THREAD 1-1/2 X 4 TPI", "Sq 1 1/2-4/Strong"),
        ("SQ 40X6 THREAD", "Sq 40x6/Strong"),
        ("MK 20X1.5 PLUG", "MK 20x1.5/Strong"),
        ("МК20х1,5", "MK 20x1.5/Strong"),
        ("M24X1.5 KEG", "MK 24x1.5/Strong"),
        ("3 1/2 REG", "3 1/2 REG/Strong"),
        ("BIT SUB 6-5/8 REG PIN", "6 5/8 REG/Strong"),
        ("NC50", "NC50/Weak"),
        ("NC50 PIN", "NC50/Strong"),
        ("CUT NC38 BOX THREAD", "NC38/Strong"),
        ("4-1/2 IF BOX", "4 1/2 IF/Strong"),
        ("З-133", "З-133/Strong"),
        ("ЗАМОК З-133 НИППЕЛЬ", "З-133/Strong"),
        ("2-7/8 EUE 8RD PIN", "2 7/8 EUE/Strong"),
        ("9-5/8 BTC COUPLING", "9 5/8 BTC/Strong"),
        ("МУФТА ОТТМ-168", "ОТТМ 168/Strong"),
        ("РЕЗЬБА НКТ 73", "НКТ 73/Strong"),
        ("NPT 1/2", "1/2-14 NPT/Strong"),
        ("1/2-14 NPT", "1/2-14 NPT/Strong"),
        ("NPT1/2", "1/2-14 NPT/Strong"),
        ("1-11.5 NPT", "1-11.5 NPT/Strong"),
        ("2 1/2-8 NPT THREAD", "2 1/2-8 NPT/Strong"),
        ("PORT 1/8-27 NPTF-1 TYP", "1/8-27 NPTF-1/Strong"),
        ("G1/2", "G 1/2/Weak"),
        ("TAP G1/2", "G 1/2/Strong"),
        ("G 1/2 A", "G 1/2 A/Strong"),
        ("G3/8 PORT", "G 3/8/Strong"),
        ("G1 1/4 A", "G 1 1/4 A/Strong"),
        ("G 1-1/2-LH", "G 1 1/2-LH/Strong"),
        ("T0404 G3/8 OD THREAD", "G 3/8/Strong"),
        ("1/2 BSPP", "G 1/2/Strong"),
        ("R 3/4", "R 3/4/Weak"),
        ("R1/4", "R 1/4/Weak"),
        ("R3/4 THREAD", "R 3/4/Weak"),
        ("RC 1/4", "Rc 1/4/Strong"),
        ("RP1/2", "Rp 1/2/Strong"),
        ("1/2-14 BSPT", "BSPT 1/2/Strong"),
        ("РЕЗЬБА К 1/2", "1/2-14 NPT/Weak"),
        ("MJ6x1-4h6h", "MJ6x1-4h6h/Strong"),
        ("MJ6X1-4H6H", "MJ6X1-4H6H/Strong"),
        ("1/4-28 UNJF-3A", "1/4-28 UNJF-3A/Strong"),
        ("3/4-6 ACME-2G", "3/4-6 ACME-2G/Strong"),
        ("1-5 ACME-2G, 2 PLACES", "1-5 ACME-2G/Strong"),
        ("ACME 1-5 NUT", "1-5 ACME/Strong"),
        ("1/2-20 STUB ACME", "1/2-20 STUB ACME/Strong"),
        ("BSW 1/2", "1/2-12 BSW/Strong"),
        ("1/4-26 BSF", "1/4-26 BSF/Strong"),
        ("TAP 9/16-20 BSC", "9/16-20 BSC/Strong"),
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
        "TR 40",
        "TR 16X9 SCREEN",
        "R1/4 CORNER",
        "CORNER R 1/4",
        "R 1/8 BALL NOSE",
        "R3/16",
        "R 3",
        "R1",
        "RC 58",
        "RC 4",
        "G1 2",
        "G1",
        "G0",
        "G54",
        "G 54",
        "G1 X1/2",
        "G01 R1/4 X1.",
        "G2 R 3/4",
        "G3 THEN G1",
        "G41/42",
        "G1/2/3",
        "G0/1",
        "G17-19",
        "USE G1-G3",
        "G4 P1",
        "K40",
        "K 20",
        "K1/2 G76",
        "PT 1",
        "POINT 2 PT",
        "1/2-16 NPT",
        "3/8-24 NPT",
        "1/2 NPS",
        "1/2 BSP",
        "MJ6",
        "MJ8X20",
        "1-5 BUTT",
        "BSW SPANNER 1/3",
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
        "S1200",
        "S 1200",
        "S40",
        "S1200 X 7",
        "S40X7 G97",
        "E14.5",
        "E27",
        "FEED E27",
        "E14 F0.2",
        "NC PROGRAM",
        "NC50 MACHINE",
        "MACHINE NC50",
        "NC50 PROGRAM 7",
        "NC 1200",
        "CNC50",
        "Z-133",
        "THREAD TO Z-133",
        "THREAD Z-133",
        "3-133",
        "CUT 4-1/2 IF NEEDED",
        "5-1/2 REG LENGTH DRILL",
        "BORE 9-5/8 BC",
        "7 SC",
        "SQ 40X6",
        "SQUARE 40X6 BAR",
        "RD 40",
        "RD40 BAR",
        "PG 12 OF 30",
        "PROGRAM PG 16",
        "BA 4711",
        "12-24-2020 BA",
        "MK3 DRILL",
        "2-5/8 REGRIND",
        "TR5 TURRET",
        "TP 40X9.7",
        "2.5-8 BUTT WELD",
        "НКТ",
        "ЗАКАЗ З-7",
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
