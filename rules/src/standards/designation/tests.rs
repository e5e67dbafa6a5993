use super::*;
use crate::standards::Hand;
use lexer::units::{Diameter, Lead, Length, Units};
use proptest::prelude::*;

fn read(text: &str) -> Thread {
    parse(text, None).unwrap_or_else(|e| panic!("{e}"))
}

fn canonical(text: &str) -> String {
    read(text).designation()
}

#[test]
fn metric_notations() {
    // ISO 965-1, GOST 8724 and what drawings and comments make of them.
    for (written, canonical_text) in [
        ("M24", "M24x3"),
        ("M24x3", "M24x3"),
        ("M24x3-6g", "M24x3-6g"),
        ("M24x1.5-5g6g", "M24x1.5-5g6g"),
        ("M24x3-6H/6g", "M24x3-6H/6g"),
        ("M24x3-LH", "M24x3-LH"),
        ("M24x3 LH", "M24x3-LH"),
        ("M24x3-LH-6g", "M24x3-6g-LH"),
        ("M24x3-6g6g", "M24x3-6g"),
        ("M16xPh3P1.5-6H", "M16xPh3P1.5-6H"),
        ("M16×Ph3P1,5 (two starts)-6H", "M16xPh3P1.5-6H"),
        ("m24 * 3", "M24x3"),
        ("M 24 X 3.0", "M24x3"),
        ("M14-1.5", "M14x1.5"),
        ("M14-1.5-6h", "M14x1.5-6h"),
        ("M10-6g", "M10x1.5-6g"),
        ("М24×2-6g", "M24x2-6g"),
        ("М24×Ph3P1-LH", "M24xPh3P1-LH"),
        ("М24×3(Р1)LH", "M24xPh3P1-LH"),
        ("М12-7Н", "M12X1.75-7H"),
        ("M20x2-7g6g-L", "M20x2-7g6g-L"),
        ("M20x2-7g6g-40", "M20x2-7g6g-40"),
        ("M6×0,75-5h6h-S", "M6x0.75-5h6h-S"),
        ("M24x3-6g LEFT HAND", "M24x3-6g-LH"),
        ("M24x3-6g RH", "M24x3-6g"),
        ("M24X3.-6e", "M24x3-6e"),
        ("M8x1.25 - 6g", "M8x1.25-6g"),
        ("M8X1.25 6F", "M8x1.25-6f"),
        ("M37x1.5", "M37x1.5"),
        ("M30", "M30x3.5"),
    ] {
        assert_eq!(canonical(written), canonical_text, "{written}");
    }
}

#[test]
fn unified_notations() {
    // ASME B1.1 and what drawings and comments make of it.
    for (written, canonical_text) in [
        ("1/2-13 UNC-2A", "1/2-13 UNC-2A"),
        (".500-13 UNC-2A", "1/2-13 UNC-2A"),
        ("0.2500-20", "1/4-20 UNC"),
        ("#10-32 UNF-2B", "10-32 UNF-2B"),
        ("10-32", "10-32 UNF"),
        ("#5-40", "5-40 UNC"),
        ("1-8 UNC", "1-8 UNC"),
        ("1-8", "1-8 UNC"),
        ("1-72", "1-72 UNF"),
        ("4-4", "4-4 UNC"),
        ("1 1/4-7 UNC", "1 1/4-7 UNC"),
        ("1-1/4-12 UNF", "1 1/4-12 UNF"),
        ("1¼-7 UNC", "1 1/4-7 UNC"),
        ("2.500-28 UNS-2A", "2 1/2-28 UNS-2A"),
        ("2.500-28 UNS-2A LE=1.00", "2 1/2-28 UNS-2A LE=1"),
        ("1/2-13 UNC-2A-LH", "1/2-13 UNC-2A-LH"),
        ("1/2-13UNC2A", "1/2-13 UNC-2A"),
        ("1/2\"-13 UNC 2b", "1/2-13 UNC-2B"),
        ("1/2 IN - 13 UNC-2A/2B", "1/2-13 UNC-2A/2B"),
        ("UNC 1/2", "1/2-13 UNC"),
        ("UNF 1/2-20", "1/2-20 UNF"),
        ("#10 UNF", "10-32 UNF"),
        ("10 UNF", "10-32 UNF"),
        ("1/2-13 UNRC-2A", "1/2-13 UNRC-2A"),
        ("2-8UN", "2-8 UN"),
        ("2-4.5 UNC", "2-4.5 UNC"),
        ("1 1/2-10", "1 1/2-10 UNS"),
        (".750-.0625P-.1875L UN-2A", "3/4-.0625P-.1875L UN-2A"),
        (
            ".750-.0625P-.1875L (THREE START) UN-2A",
            "3/4-.0625P-.1875L UN-2A",
        ),
        ("1/2-.0769P-.1538L UN", "1/2-.07692308P-.15384615L UN"),
        ("10.000-32 UNS", "10.000-32 UNS"),
        ("#2-28 UNS", "#2-28 UNS"),
        (".301-32", ".301-32 UNS"),
    ] {
        assert_eq!(canonical(written), canonical_text, "{written}");
    }
}

#[test]
fn aerospace_notations() {
    // ISO 5855, ASME B1.21M and B1.15.
    for (written, canonical_text) in [
        ("MJ6x1-4h6h", "MJ6x1-4h6h"),
        ("MJ8x1-4H5H", "MJ8x1-4H5H"),
        ("MJ 6 X 1 - 4H6H/4h6h", "MJ6x1-4H6H/4h6h"),
        ("MJ6.5×1-4h6h-LH", "MJ6.5x1-4h6h-LH"),
        ("mj10x1.5", "MJ10x1.5"),
        ("MJ37x1.5-4h6h", "MJ37x1.5-4h6h"),
        (".250-28 UNJF-3A", "1/4-28 UNJF-3A"),
        ("1/4-28 UNJF-3B", "1/4-28 UNJF-3B"),
        ("#10-32 UNJF-3A", "10-32 UNJF-3A"),
        ("UNJC 1/2", "1/2-13 UNJC"),
        ("1 1/2-12UNJF-3A/3B", "1 1/2-12 UNJF-3A/3B"),
        (".300-30 UNJS-3A-LH", ".3-30 UNJS-3A-LH"),
    ] {
        assert_eq!(canonical(written), canonical_text, "{written}");
    }
    assert_eq!(read("MJ6x1-4h6h").side, Some(Side::External));
    let bare = read("MJ6x1");
    let class = |text: &str, side| read(text).class(side).to_owned();
    assert_eq!(bare.class(Side::External), "4h6h");
    assert_eq!(class("MJ5x0.8", Side::Internal), "4H6H");
    assert_eq!(class("MJ5.5x0.5", Side::Internal), "4H5H");
    assert_eq!(class("1/4-28 UNJF", Side::Internal), "3B");
}

#[test]
fn pipe_notations() {
    // ISO 228-1, ISO 7-1, ASME B1.20.1 and B1.20.3, GOST 6357, 6211 and 6111, old British and
    // Japanese names.
    for (written, canonical_text) in [
        ("G 1/2 A", "G 1/2 A"),
        ("G1/2A", "G 1/2 A"),
        ("G 1/2-A", "G 1/2 A"),
        ("G1 1/2LH-B", "G 1 1/2 B-LH"),
        ("G 1-1/4", "G 1 1/4"),
        ("G1½", "G 1 1/2"),
        ("G 1/2 LH", "G 1/2-LH"),
        ("G3/4\"", "G 3/4"),
        ("G 1", "G 1"),
        ("1/2 BSPP", "G 1/2"),
        ("1/2-14 BSPP", "G 1/2"),
        ("BSPP 1/2", "G 1/2"),
        ("PF 3/8", "G 3/8"),
        ("R 1/2", "R 1/2"),
        ("R3/4-LH", "R 3/4-LH"),
        ("R 3", "R 3"),
        ("Rc 1/2", "Rc 1/2"),
        ("RC1/2", "Rc 1/2"),
        ("Rp 1 1/4 LH", "Rp 1 1/4-LH"),
        ("1/2 BSPT", "BSPT 1/2"),
        ("BSPT 1/2", "BSPT 1/2"),
        ("1/4-19 BSPT", "BSPT 1/4"),
        ("PT 1/2", "BSPT 1/2"),
        ("1/2-14 NPT", "1/2-14 NPT"),
        ("1/2 NPT", "1/2-14 NPT"),
        ("NPT 1/2", "1/2-14 NPT"),
        ("NPT1/2", "1/2-14 NPT"),
        ("1/2\"NPT-LH", "1/2-14 NPT-LH"),
        ("1-11.5 NPT", "1-11.5 NPT"),
        ("1-11 1/2 NPT", "1-11.5 NPT"),
        ("1 1/4-11-1/2 NPT", "1 1/4-11.5 NPT"),
        ("2 1/2-8 NPT", "2 1/2-8 NPT"),
        ("1.25 NPT", "1 1/4-11.5 NPT"),
        ("12-8 NPT", "12-8 NPT"),
        ("К 1/2", "1/2-14 NPT"),
        ("K1 1/4\"", "1 1/4-11.5 NPT"),
        ("1/8-27 NPTF-1", "1/8-27 NPTF-1"),
        ("1/8 NPTF", "1/8-27 NPTF"),
        ("1/2-14 NPSM", "1/2-14 NPSM"),
        ("NPSM 1", "1-11.5 NPSM"),
    ] {
        assert_eq!(canonical(written), canonical_text, "{written}");
    }
    assert_eq!(read("1/2 MNPT").side, Some(Side::External));
    assert_eq!(read("FNPT 1/2").side, Some(Side::Internal));
    assert_eq!(read("G 1/2 B").side, Some(Side::External));
    assert_eq!(read("BSPT 1/2").side, None);
    assert_eq!(read("R 1/2").side, Some(Side::External));
    assert_eq!(read("Rc 1/2").side, Some(Side::Internal));
    // The text wins over the caller.
    let rc = parse("Rc 1/2", Some(Side::External)).unwrap();
    assert_eq!(rc.side, Some(Side::Internal));
    // There is no class to assume where a family has none, and none is printed.
    assert_eq!(
        read("1/2 NPT").designation_for(Side::External),
        "1/2-14 NPT"
    );
    assert_eq!(read("G 1/2 A").designation_for(Side::Internal), "G 1/2");
    assert_eq!(read("G 1/2").designation_for(Side::External), "G 1/2 A");
    // The bore in the name is no diameter of the thread.
    assert_eq!(read("G 1/2").major.mm(), 20.955);
    assert_eq!(Some(read("G 1/2").pitch), Lead::per_inch(140_000));
}

#[test]
fn acme_and_british_notations() {
    // ASME B1.5 and B1.8, BS 84, BS 811.
    for (written, canonical_text) in [
        ("1-5 ACME-2G", "1-5 ACME-2G"),
        ("1.750-4 ACME-2G", "1 3/4-4 ACME-2G"),
        ("1-3/4-4 ACME-2G-LH", "1 3/4-4 ACME-2G-LH"),
        ("3/4-6 ACME - 2G", "3/4-6 ACME-2G"),
        ("1-3/4-6 ACME 4C", "1 3/4-6 ACME-4C"),
        ("1\"-5 ACME", "1-5 ACME"),
        ("ACME 1-5", "1-5 ACME"),
        ("1 ACME", "1-5 ACME"),
        (
            "2.875-0.4P-0.8L-ACME-3G (TWO STARTS)",
            "2 7/8-.4P-.8L ACME-3G",
        ),
        (
            "2.500-0.3333P-0.6667L-ACME-4C (Two Start)",
            "2 1/2-.33333333P-.66666667L ACME-4C",
        ),
        ("10-8 ACME-2G", "10-8 ACME-2G"),
        ("0.500-20 Stub Acme", "1/2-20 STUB ACME"),
        ("1/2-10 STUB-ACME-2G", "1/2-10 STUB ACME-2G"),
        ("1/2 BSW", "1/2-12 BSW"),
        ("1/2-12 BSW", "1/2-12 BSW"),
        ("BSW 1/2", "1/2-12 BSW"),
        ("1/2\" BSF (medium)", "1/2-16 BSF (medium)"),
        ("1/4-20 BSW CLOSE", "1/4-20 BSW (close)"),
        ("1/4-20 BSW (normal/free) LH", "1/4-20 BSW (normal/free)-LH"),
        ("3 1/2 BSW", "3 1/2-3.25 BSW"),
        ("1/2-20 WHIT", "1/2-20 WHIT"),
        ("3/8 BSB", "3/8-26 BSB"),
        ("3/8-26 BSB", "3/8-26 BSB"),
        ("9/16-20 BSC", "9/16-20 BSC"),
        ("1.37-24 BSC-LH", "1.37-24 BSC-LH"),
        ("1/4-26 CEI", "1/4-26 BSC"),
    ] {
        assert_eq!(canonical(written), canonical_text, "{written}");
    }
    let two = read("2.875-0.4P-0.8L-ACME-3G (TWO STARTS)");
    assert_eq!((two.starts, two.side), (2, None));
    assert_eq!(two.lead().length(), Units::Inch.length(0.8));
    assert_eq!(read("1-5 ACME").class(Side::Internal), "2G");
    assert_eq!(
        read("1-5 ACME").designation_for(Side::External),
        "1-5 ACME-2G"
    );
    assert_eq!(read("1/2 BSW (free)").side, Some(Side::External));
    assert_eq!(read("1/2 BSW (medium)").side, None);
    let plain = read("1/2 BSW");
    assert_eq!(plain.class(Side::External), "medium");
    assert_eq!(plain.class(Side::Internal), "normal");
}

#[test]
fn values_are_exact() {
    let half = read("1/2-13 UNC");
    assert_eq!(half.major, Diameter(Length::from_pm(Units::Inch.pm() / 2)));
    assert_eq!(Some(half.pitch), Lead::per_inch(130_000));
    let three = read(".750-.0625P-.1875L UN-2A");
    assert_eq!(
        (three.starts, three.pitch),
        (3, Lead::per_inch(160_000).unwrap())
    );
    assert_eq!(three.lead().length(), Units::Inch.length(0.1875));
    let two = read("M16xPh3P1.5-6H");
    assert_eq!((two.starts, two.pitch.mm(), two.lead().mm()), (2, 1.5, 3.0));
    assert_eq!(read("#10-32").major, Diameter(Units::Inch.length(0.19)));
    assert_eq!(read("М24×3(Р1)LH").hand, Hand::Left);
}

#[test]
fn what_is_written_and_what_is_assumed() {
    let bare = read("M24");
    assert!(!bare.written.pitch && !bare.written.class);
    assert_eq!(bare.class(Side::External), "6g");
    assert_eq!(bare.class(Side::Internal), "6H");
    assert!(bare.limits(Side::External).class_assumed);
    assert_eq!(read("M1.4").class(Side::External), "5h6h");
    assert_eq!(read("M1.4").class(Side::Internal), "5H");
    let inch = read("1/2-13");
    assert!(inch.written.pitch && !inch.written.series);
    assert_eq!(
        (inch.class(Side::External), inch.class(Side::Internal)),
        ("2A", "2B")
    );
    assert_eq!(inch.designation_for(Side::Internal), "1/2-13 UNC-2B");
    assert_eq!(bare.designation_for(Side::External), "M24x3-6g");
    // The other side of a one-sided callout falls back to the default and says so.
    let bolt = read("M24x3-4h");
    assert_eq!(bolt.side, Some(Side::External));
    let nut = bolt.limits(Side::Internal);
    assert!(nut.class_assumed && nut.class == "6H");
}

#[test]
fn capitals_leave_the_side_open() {
    let open = read("M24X3-6G");
    assert!(open.is_ambiguous() && open.side.is_none());
    assert_eq!(open.class(Side::External), "6g");
    assert_eq!(open.class(Side::Internal), "6G");
    assert_eq!(open.designation(), "M24X3-6G");
    let bolt = parse("M24X3-6G", Some(Side::External)).unwrap();
    assert_eq!(bolt.designation(), "M24x3-6g");
    assert!(!bolt.is_ambiguous() && bolt.internal.is_none());
    let nut = parse("M24X3-6G", Some(Side::Internal)).unwrap();
    assert_eq!(nut.designation(), "M24x3-6G");
    // A small letter anywhere shows that capitals are meant.
    assert_eq!(read("M24x3-6G").side, Some(Side::Internal));
    // Positions and grades that only one side has settle it too.
    assert_eq!(read("M24X3-6E").side, Some(Side::External));
    assert_eq!(read("M24X3-9G").side, Some(Side::External));
    assert_eq!(read("M24X3-6H/6G").designation(), "M24x3-6H/6g");
    // The text wins over the caller.
    let conflict = parse("1/2-13 UNC-2B", Some(Side::External)).unwrap();
    assert_eq!(conflict.side, Some(Side::Internal));
}

#[test]
fn reasons_and_nearest_names() {
    for (text, reason, near) in [
        ("", "no thread family", None),
        ("M", "no thread family", None),
        ("M23", "no coarse pitch", Some("M22x2.5")),
        ("M24x3-6x", "does not belong", Some("M24x3")),
        ("M24x3-6q", "does not belong", Some("M24x3")),
        ("M24x3-3H", "no class", Some("M24x3")),
        ("M24x2-6H/6H ", "", None),
        ("M08", "leading zero", Some("M8x1.25")),
        ("M8x20", "no core", Some("M8x1.25")),
        ("M16xPh3P1.4", "whole number of pitches", None),
        ("M16xPh3", "without the pitch", Some("M16x2")),
        ("M16xPh3P1.5 (3 starts)", "contradicts", None),
        ("1/2-13 UNF", "does not list", Some("1/2-13 UNC")),
        ("1/2-13 NPT", "has 14 threads per inch", Some("1/2-14 NPT")),
        ("G 1/3", "no thread family", Some("G 1/8")),
        ("G 8", "G has no size 8", None),
        ("1/2 BSP", "does not say whether", None),
        ("BSP 1/2", "does not say whether", None),
        ("1/2-14 BSW", "does not list", Some("1/2-12 BSW")),
        ("BSC 9/16", "more than one", None),
        ("1-5 ACME-9G", "no class of ACME", Some("1-5 ACME")),
        ("1-5 STUB ACME-3G", "no class of STUB ACME", None),
        ("3/4-.1P-.25L ACME", "whole number of pitches", None),
        (
            "MJ6",
            "pitch of an MJ thread must be written",
            Some("MJ6x1"),
        ),
        ("MJ6x4", "no core", None),
        ("1/4-28 UNJC-3A", "does not list", Some("1/4-28 UNJF")),
        ("1 UNC", "more than one", None),
        ("9 UNC", "no thread of this size", None),
        ("3/4-.0625P UN", "needs its lead", None),
        ("M24x3-6g M12", "does not belong", None),
    ] {
        match parse(text, None) {
            Ok(thread) => assert!(reason.is_empty(), "{text} read as {}", thread.designation()),
            Err(error) => {
                assert!(error.reason.contains(reason), "{text}: {}", error.reason);
                if let Some(near) = near {
                    assert!(
                        error.nearest.iter().any(|n| n == near),
                        "{text}: {:?}",
                        error.nearest
                    );
                }
            }
        }
    }
}

/// Every listed size prints a name that reads back as itself, also to the left and, where the
/// family writes that, with several starts.
#[test]
fn all_sizes_print_and_read_back() {
    let key = |t: &Thread| (t.family, t.name, t.major, t.starts, t.hand, t.side);
    for family in FAMILIES {
        for size in family.sizes() {
            let several = if family.standard().several_starts {
                3
            } else {
                1
            };
            for (starts, hand) in [(1, Hand::Right), (several, Hand::Left)] {
                let mut thread = Thread::of_size(family, size);
                thread.starts = starts;
                thread.hand = hand;
                let name = thread.designation();
                let again = read(&name);
                assert_eq!(key(&again), key(&thread), "{name}");
                assert_eq!(again.pitch, thread.pitch, "{name}");
                assert_eq!(again.designation(), name);
            }
        }
    }
}

fn designations() -> impl Strategy<Value = String> {
    let metric = (
        1u32..2000,
        prop_oneof![Just(""), Just("x"), Just(" X "), Just("-"), Just("×")],
        1u32..80,
        prop_oneof![
            Just(""),
            Just("-6g"),
            Just("-4h6h"),
            Just(" 6H"),
            Just("-6H/6g"),
            Just("-6G"),
            Just("-LH"),
            Just("-5g6g-L"),
            Just("-6G-LH")
        ],
    )
        .prop_map(|(d, sep, p, tail)| {
            let pitch = if sep.is_empty() {
                String::new()
            } else {
                format!("{}", f64::from(p) / 10.0)
            };
            format!("M{}{sep}{pitch}{tail}", f64::from(d) / 10.0)
        });
    let inch = (
        1u32..300,
        prop_oneof![Just(2u32), Just(8), Just(16), Just(64)],
        2u32..80,
        prop_oneof![
            Just(""),
            Just(" UN"),
            Just(" UNS-2A"),
            Just("UN 3B"),
            Just(" UNRS-1A-LH"),
            Just(" UN-2B LE=1.25")
        ],
    )
        .prop_map(|(top, bottom, tpi, tail)| format!("{top}/{bottom}-{tpi}{tail}"));
    let pipe = (
        prop_oneof![
            Just("G"),
            Just("G "),
            Just("R "),
            Just("Rc"),
            Just("Rp "),
            Just("NPT "),
            Just("BSPT "),
            Just("K")
        ],
        0u32..4,
        prop_oneof![
            Just("1/8"),
            Just("1/2"),
            Just("3/4"),
            Just("5/16"),
            Just("")
        ],
        prop_oneof![
            Just(""),
            Just(" A"),
            Just("-B"),
            Just("-LH"),
            Just("-14"),
            Just(" LH-A")
        ],
    )
        .prop_map(|(letters, whole, part, tail)| match (whole, part) {
            (0, part) => format!("{letters}{part}{tail}"),
            (whole, part) => format!("{letters}{whole} {part}{tail}"),
        });
    let named = (
        1u32..64,
        prop_oneof![Just(2u32), Just(8), Just(16)],
        prop_oneof![
            Just(""),
            Just("-5"),
            Just("-12"),
            Just("-14"),
            Just("-.2P-.4L")
        ],
        prop_oneof![
            Just(" ACME-2G"),
            Just(" STUB ACME"),
            Just(" ACME-3C-LH"),
            Just(" BSW"),
            Just(" BSF (free)"),
            Just(" WHIT (medium)-LH"),
            Just(" BSC"),
            Just(" UNJS-3A"),
            Just(" UNJ-3B-LH"),
            Just(" NPTF-2"),
            Just(" NPSM"),
            Just(" BSPP")
        ],
    )
        .prop_map(|(top, bottom, pitch, tail)| format!("{top}/{bottom}{pitch}{tail}"));
    let aerospace = (
        2u32..600,
        1u32..40,
        prop_oneof![Just(""), Just("-4h6h"), Just("-4H5H-LH"), Just("-4G6G")],
    )
        .prop_map(|(d, p, tail)| {
            format!("MJ{}x{}{tail}", f64::from(d) / 10.0, f64::from(p) / 10.0)
        });
    prop_oneof![metric, inch, pipe, named, aerospace]
}

proptest! {
    /// What reads, prints; what was printed reads as the same thread and prints the same.
    #[test]
    fn reading_and_printing_agree(text in designations(), capitals in any::<bool>()) {
        let text = if capitals { text.to_uppercase() } else { text };
        if let Ok(thread) = parse(&text, None) {
            let printed = thread.designation();
            let again = parse(&printed, None).unwrap();
            prop_assert_eq!(again.designation(), printed);
            let mut stated = thread;
            // The canonical text states what the first one left to the standard.
            stated.written.pitch = again.written.pitch;
            stated.written.series = again.written.series;
            prop_assert_eq!(again, stated);
        }
    }

    #[test]
    fn no_text_stops_the_reader(text in "\\PC*") {
        let _ = parse(&text, None);
    }

    #[test]
    fn nothing_like_a_designation_stops_the_reader(
        text in "(MJ?|#|G|Rc?|K|NPT|BSP[TP]?|ACME|STUB)?[0-9./ ]{0,8}[x×XP(-]{0,2}[0-9.,]{0,5}[-/ ]?(ACME|NPT|BSW|UNJ|[UNCFHGegh0-9()PL\"]{0,8})"
    ) {
        if let Ok(thread) = parse(&text, Some(Side::External)) {
            let limits = thread.limits(Side::External);
            prop_assert!(limits.pitch.holds(limits.pitch.middle().unwrap_or(0.0)) || limits.pitch.min.is_none());
            let _ = (thread.designation(), thread.depth_band(Side::Internal), thread.lead_angle_deg());
        }
    }
}
