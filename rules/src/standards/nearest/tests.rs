use super::*;

fn measured(side: Side, crest: f64, root: f64, lead: f64, tolerance: f64) -> Measured {
    let known = |v: f64| (v > 0.0).then_some(v);
    Measured {
        side,
        crest_mm: known(crest),
        root_mm: known(root),
        lead_mm: lead,
        lead_tolerance_mm: tolerance,
        taper: Some(0.0),
    }
}

/// The best candidate and its distance.
fn best(m: Measured) -> (String, f64) {
    let found = nearest(&m);
    let first = found
        .first()
        .unwrap_or_else(|| panic!("nothing near {m:?}"));
    assert!(!first.reasons.is_empty() && first.thread.side == Some(m.side));
    (first.thread.designation(), first.distance)
}

#[test]
fn numbers_that_fit() {
    use Side::{External, Internal};
    let half_um = 0.0005;
    // A zero stands for a diameter that is not known.
    for (side, crest, root, lead, tolerance, name) in [
        (External, 24.0, 20.319, 3.0, half_um, "M24x3"),
        (External, 23.9, 20.32, 3.0, half_um, "M24x3"),
        (External, 0.0, 20.319, 3.0, half_um, "M24x3"),
        (External, 24.0, 0.0, 3.0, half_um, "M24x3"),
        (External, 20.0, 18.376, 1.5, half_um, "M20x1.5"),
        (External, 3.0, 2.387, 0.5, half_um, "M3x0.5"),
        (External, 30.0, 25.7, 3.5, half_um, "M30x3.5"),
        (Internal, 20.752, 24.0, 3.0, half_um, "M24x3"),
        (Internal, 21.0, 0.0, 3.0, half_um, "M24x3"),
        (Internal, 0.0, 24.2, 3.0, half_um, "M24x3"),
        (Internal, 12.5, 14.0, 1.5, half_um, "M14x1.5"),
        // 25.4 / 13 to three decimals, 25.4 / 10, and metric leads in inch programs.
        (External, 12.7, 10.2, 1.954, half_um, "1/2-13 UNC"),
        (External, 19.05, 15.93, 2.54, half_um, "3/4-10 UNC"),
        (External, 25.4, 21.5, 3.175, half_um, "1-8 UNC"),
        (
            External,
            24.0,
            22.16,
            0.0591 * 25.4,
            0.00005 * 25.4,
            "M24x1.5",
        ),
        (
            External,
            24.0,
            22.16,
            0.059055 * 25.4,
            0.000_000_5 * 25.4,
            "M24x1.5",
        ),
        (
            Internal,
            10.8,
            12.7,
            0.0769 * 25.4,
            0.00005 * 25.4,
            "1/2-13 UNC",
        ),
        (External, 4.826, 3.85, 25.4 / 32.0, 1e-6, "10-32 UNF"),
        (External, 38.1, 36.2, 25.4 / 16.0, half_um, "1 1/2-16 UN"),
    ] {
        let (found, distance) = best(measured(side, crest, root, lead, tolerance));
        assert_eq!(found, name);
        assert!(distance < 0.1, "{name}: {distance}");
    }
}

#[test]
fn a_runner_up_is_given_and_is_worse() {
    let found = nearest(&measured(Side::External, 24.0, 20.319, 3.0, 0.0005));
    assert!(found.len() >= 2);
    // Tr 24x3 and MJ24x3 fit as well and are rarer; another size is far away.
    let size = |c: &Candidate| c.thread.major;
    assert!(found[1].distance > found[0].distance + 0.03, "{found:?}");
    let other = found.iter().find(|c| size(c) != size(&found[0]));
    assert!(
        other.unwrap().distance > found[0].distance + 0.3,
        "{found:?}"
    );
    for pair in found.windows(2) {
        assert!(pair[0].distance <= pair[1].distance);
    }
}

/// A lead of 6 on M24 can only be two starts of 3; with the depth of pitch 3 it fits, and it stays
/// behind what one start would explain.
#[test]
fn several_starts_are_a_farther_candidate() {
    let found = nearest(&measured(Side::External, 24.0, 20.319, 6.0, 0.0005));
    assert_eq!(found[0].thread.designation(), "M24xPh6P3");
    assert!(found[0].distance > 0.5, "{}", found[0].distance);
    let single = nearest(&measured(Side::External, 20.0, 18.16, 1.5, 0.0005));
    assert_eq!(single[0].thread.starts, 1);
    let double = single.iter().find(|c| c.thread.starts == 2);
    assert!(double.is_none_or(|c| c.distance > 0.5));
}

#[test]
fn special_sizes_and_slips() {
    let (name, distance) = best(measured(Side::External, 37.0, 35.16, 1.5, 0.0005));
    assert_eq!(name, "M37x1.5");
    assert!((0.3..0.5).contains(&distance), "{distance}");
    // 0.060 in per turn for 1.5 mm is off by more than its decimals: named, with a distance.
    let slip = measured(Side::External, 20.0, 18.16, 0.060 * 25.4, 0.0005 * 25.4);
    let found = nearest(&slip);
    let m20 = found
        .iter()
        .find(|c| c.thread.designation() == "M20x1.5")
        .unwrap();
    assert!(
        m20.distance > 0.3 && m20.reasons[0].contains("is not"),
        "{m20:?}"
    );
}

#[test]
fn nothing_to_go_by() {
    assert_eq!(
        nearest(&measured(Side::External, 0.0, 0.0, 3.0, 0.0005)),
        []
    );
    assert_eq!(
        nearest(&measured(Side::External, 24.0, 20.3, 0.0, 0.0005)),
        []
    );
    assert_eq!(
        nearest(&measured(Side::External, 24.0, 20.3, f64::NAN, 0.0005)),
        []
    );
    assert_eq!(
        nearest(&measured(Side::External, f64::INFINITY, 0.0, 3.0, 0.0)),
        []
    );
    assert_eq!(
        nearest(&measured(Side::Internal, 5.0, 6.0, 37.0, 0.0005)),
        []
    );
}

/// Every listed size is found from its own design numbers, on the sides it has. Where another
/// thread comes first it fits the numbers too and is the more common one.
#[test]
fn every_size_is_found_from_its_own_numbers() {
    for family in FAMILIES {
        for size in family.sizes() {
            let thread = Thread::of_size(family, size);
            let (basic, pitch) = (thread.basic(), thread.pitch.mm());
            let bottom = basic.minor + 2.0 * thread.form().design_depth(Side::Internal, pitch);
            for (side, crest, root) in [
                (Side::External, basic.major, basic.root),
                (Side::Internal, basic.minor, bottom),
            ] {
                if !thread.exists_on(side) {
                    continue;
                }
                let mut numbers = measured(side, crest, root, thread.lead().mm(), 0.0);
                numbers.taper = Some(thread.form().taper);
                let found = nearest(&numbers);
                let name = thread.designation();
                let own = found.iter().find(|c| c.thread.designation() == name);
                let own = own.unwrap_or_else(|| panic!("{name} is not among {found:#?}"));
                assert!(
                    own.distance <= 0.01 * f64::from(size.rank) + 0.03,
                    "{own:?}"
                );
                let first = &found[0].thread;
                let common = first.listed().map_or(u8::MAX, |s| s.rank);
                // Neighbours on one cone fit as well as each other.
                let tie = own.distance - found[0].distance < 1e-9;
                assert!(tie || common < size.rank, "{name}: {first:?}");
            }
        }
    }
}

/// A taper of the wrong size, and none at all, keep a thread away from its numbers.
#[test]
fn tapers_are_compared() {
    let mut m24 = measured(Side::External, 24.0, 20.319, 3.0, 0.0005);
    m24.taper = Some(1.0 / 16.0);
    let parallel = |c: &Candidate| c.thread.form().taper == 0.0;
    assert!(!nearest(&m24).iter().any(parallel));
    // A little taper makes up for a part that bends; none known rules nothing out.
    for taper in [Some(0.002), None] {
        m24.taper = taper;
        assert_eq!(nearest(&m24)[0].thread.designation(), "M24x3");
    }
}

/// A rarer thread of the same size that fits is told from a common one that does not: 1/8-40 has a
/// cycle thread beside the numbered 5-40.
#[test]
fn what_fits_is_told_from_what_is_common() {
    let found = nearest(&measured(Side::External, 3.175, 2.499, 25.4 / 40.0, 0.0005));
    let fits = |name: &str| {
        let candidate = found.iter().find(|c| c.thread.designation() == name);
        candidate.unwrap().fits
    };
    assert!(!fits("5-40 UNC") && fits("1/8-40 BSC"));
    assert!(nearest(&measured(Side::External, 24.0, 20.319, 3.0, 0.0005))[0].fits);
}

/// A form of the shop's own is a size like any other.
#[test]
fn forms_of_the_shop_are_sizes() {
    use crate::facts::{Config, FILE_NAME};
    let text = "[[form]]\nname = 'stem 41'\nmajor_mm = 41.3\npitch_mm = 5.3\n\
                leading_flank_deg = 15\nfollowing_flank_deg = 15\n\
                [form.external]\ndepth_mm = 2.9\n";
    let facts = Config::parse(FILE_NAME, text, &[]).unwrap().facts("a.nc").1;
    let numbers = measured(Side::External, 41.3, 35.5, 5.3, 0.0005);
    let found = nearest_with(&numbers, &facts.forms);
    assert_eq!(found[0].thread.designation(), "stem 41");
    assert!(found[0].fits && found[0].distance < 0.05, "{:?}", found[0]);
    // It has no nut.
    let nut = Measured {
        side: Side::Internal,
        ..numbers
    };
    assert!(
        nearest_with(&nut, &facts.forms)
            .iter()
            .all(|c| c.thread.custom.is_none())
    );
}

/// R 1/2 and NPT 1/2 have 14 threads an inch on the same cone: a root between the two fits both,
/// and neither may then be named as sure (rows of ISO 7-1 and ASME B1.20.1).
#[test]
fn two_cones_that_fit_are_both_candidates() {
    let mut numbers = measured(Side::External, 0.0, 18.7, 1.814, 0.0005);
    numbers.taper = Some(1.0 / 16.0);
    let found = nearest(&numbers);
    let of = |name: &str| found.iter().find(|c| c.thread.designation() == name);
    let (r, npt) = (of("R 1/2").unwrap(), of("1/2-14 NPT").unwrap());
    assert!((r.distance - npt.distance).abs() < 0.1, "{r:?} {npt:?}");
}
