use crate::standards::designation::parse;
use crate::standards::thread::Thread;
use crate::standards::trapezoidal::tolerance;
use crate::standards::{Family, Hand, Side};

fn thread(text: &str) -> Thread {
    parse(text, None).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn notations() {
    // ISO 2903 clause 12 in both editions, GOST 24738 and 24739, and what comments make of them.
    for (written, canonical) in [
        ("Tr 40x7", "Tr 40x7"),
        ("Tr40x7-7e", "Tr 40x7-7e"),
        ("TR40X7", "Tr 40x7"),
        ("TR 40 X 7.0", "Tr 40x7"),
        ("Tr 40x14(P7)-7e", "Tr 40x14(P7)-7e"),
        ("Tr 40x14P7-8e", "Tr 40x14(P7)-8e"),
        ("TR40X14(P7)-7E", "Tr 40x14(P7)-7e"),
        ("Tr 40x14 (P7) 7H", "Tr 40x14(P7)-7H"),
        ("Tr 40x7 LH-7H", "Tr 40x7-7H-LH"),
        ("Tr40x7LH-7H", "Tr 40x7-7H-LH"),
        ("Tr 40x7-7H/7e", "Tr 40x7-7H/7e"),
        ("Tr 40x7-7H/7e-LH", "Tr 40x7-7H/7e-LH"),
        ("Тр 40×7", "Tr 40x7"),
        ("ТР40Х7-7Е", "Tr 40x7-7e"),
        ("Трап. 40х14(Р7)LH-8е", "Tr 40x14(P7)-8e-LH"),
        ("TRAP 60X9", "Tr 60x9"),
        ("Tr 20×8(P4)LH-8H", "Tr 20x8(P4)-8H-LH"),
        ("Tr 8x1,5 DIN 103", "Tr 8x1.5"),
        ("Tr 40x7-7e ГОСТ 24738-81", "Tr 40x7-7e"),
    ] {
        assert_eq!(thread(written).designation(), canonical, "{written}");
    }
    let two = thread("Tr 40x14(P7)-7e-LH");
    assert_eq!(
        (two.starts, two.pitch.mm(), two.lead().mm()),
        (2, 7.0, 14.0)
    );
    assert_eq!((two.hand, two.side), (Hand::Left, Some(Side::External)));
}

#[test]
fn what_is_none() {
    for (text, reason) in [
        ("Tr 40", "needs its pitch"),
        ("Tr 40x15(P7)", "whole number"),
        ("Tr 40x30", "no core"),
        ("Tr 2x0.5", "outside"),
        ("Tr 40x7-5e", "does not belong"),
        ("Tr 40x7-7f", "does not belong"),
        ("Tr 40x7 (2 STARTS)", "contradicts"),
    ] {
        let error = parse(text, None).unwrap_err();
        assert!(error.reason.contains(reason), "{text}: {}", error.reason);
    }
}

/// Grade by grade wider, several starts wider, inside never smaller than outside.
#[test]
fn tolerances_are_ordered() {
    for size in Family::Trapezoidal.sizes() {
        let plain = Thread::of_size(Family::Trapezoidal, size);
        let name = plain.designation();
        for side in [Side::External, Side::Internal] {
            let widths: Vec<f64> = (6..=9)
                .map(|grade| tolerance::pitch_diameter(&plain, side, grade).unwrap().um)
                .collect();
            assert!(
                widths.windows(2).all(|pair| pair[0] < pair[1]),
                "{name} {widths:?}"
            );
            let several = Thread {
                starts: 2,
                ..plain.clone()
            };
            let wide = tolerance::pitch_diameter(&several, side, 7).unwrap();
            assert!(wide.um > widths[1] && !wide.confirmed);
        }
        let (bolt, nut) = (plain.limits(Side::External), plain.limits(Side::Internal));
        for (outer, inner) in [
            (nut.pitch, bolt.pitch),
            (nut.minor, bolt.minor),
            (nut.major, bolt.major),
        ] {
            assert!(outer.min >= inner.max && inner.min <= inner.max, "{name}");
        }
    }
}

#[test]
fn the_tables_keep_to_the_formulas() {
    // One step of R40 either way, 6 %.
    for size in Family::Trapezoidal.sizes() {
        let thread = Thread::of_size(Family::Trapezoidal, size);
        let (d, p) = (thread.major.mm(), thread.pitch.mm());
        let upper = tolerance::RANGES_MM
            .iter()
            .position(|upto| d <= *upto)
            .unwrap();
        let mean = (tolerance::RANGES_MM[upper - 1] * tolerance::RANGES_MM[upper]).sqrt();
        let six = 90.0 * p.powf(0.4) * mean.powf(0.1);
        for (side, grade, factor) in [
            (Side::External, 6, 1.0),
            (Side::External, 7, 1.25),
            (Side::External, 8, 1.6),
            (Side::External, 9, 2.0),
            (Side::Internal, 7, 1.7),
            (Side::Internal, 8, 2.12),
            (Side::Internal, 9, 2.65),
        ] {
            let table = tolerance::pitch_diameter(&thread, side, grade).unwrap().um;
            assert!(
                (table / (factor * six)).ln().abs() < 0.07,
                "{d}x{p} {grade}: {table}"
            );
        }
        let crest = tolerance::crest(Side::External, thread.pitch).um;
        let formula = 0.63 * (180.0 * p.powf(2.0 / 3.0) - 3.15 / p.sqrt());
        assert!(
            (crest / formula).ln().abs() < 0.07,
            "{p}: {crest} {formula}"
        );
    }
}

#[test]
fn preferred_numbers() {
    for (raw, near) in [
        (206.6, 212.0),
        (165.0, 170.0),
        (297.9, 300.0),
        (978.0, 1000.0),
        (99.0, 100.0),
    ] {
        assert_eq!(tolerance::preferred(raw), near);
    }
}

#[test]
fn what_rests_on_memory_says_so() {
    let known = thread("Tr 20x4-7e").limits(Side::External);
    assert!(
        !known.unverified && known.notes.is_empty(),
        "{:?}",
        known.notes
    );
    let nut = thread("Tr 20x4-7H").limits(Side::Internal);
    assert!(nut.unverified && nut.notes[0].contains("memory"));
    let unknown = thread("Tr 20x4-7g").limits(Side::External);
    assert!(unknown.pitch.max.is_none() && unknown.notes[0].contains("no deviation"));
    let two = thread("Tr 20x8(P4)-7e").limits(Side::External);
    assert!(two.unverified && two.notes[0].contains("starts"));
}

/// At pitch 2 the root flat is 0.598 mm: an insert must not be wider (derived from ISO 2901).
#[test]
fn root_flat() {
    let root = thread("Tr 16x2").form().external.root;
    assert!((root.flat.unwrap().at(2.0) - 0.598_076).abs() < 1e-6);
    assert_eq!(root.radius.unwrap().band(2.0).max, Some(0.25));
}
