//! What holds for the limits of every family, whatever the numbers are.

use rules::standards::designation::parse;
use rules::standards::limits::{Band, Limits};
use rules::standards::thread::Thread;
use rules::standards::{FAMILIES, Family, Side};

/// All classes that are read for a family, by side.
fn classes(family: Family, side: Side) -> &'static [&'static str] {
    match (family, side) {
        (Family::Metric | Family::MetricJ, Side::External) => &["4h6h", "6h", "6g", "6e", "8g"],
        (Family::Metric, Side::Internal) => &["4H5H", "4H6H", "6H", "6G", "7H"],
        // The bore of class 7H would open MJ beyond its pitch diameter.
        (Family::MetricJ, Side::Internal) => &["4H5H", "4H6H", "6H"],
        (Family::Unified | Family::UnifiedJ, Side::External) => &["1A", "2A", "3A"],
        (Family::Unified | Family::UnifiedJ, Side::Internal) => &["1B", "2B", "3B"],
        (Family::PipeParallel, Side::External) => &["A", "B"],
        (Family::Acme, _) => &["2G", "3G", "4G", "2C", "3C", "4C"],
        (Family::Whitworth, Side::External) => &["close", "medium", "free"],
        (Family::Whitworth, Side::Internal) => &["medium", "normal"],
        (Family::Trapezoidal, Side::External) => &["6e", "7h", "7e", "8e", "8c", "9c"],
        (Family::Trapezoidal, Side::Internal) => &["7H", "8H", "9H"],
        (Family::MetricButtress, Side::External) => &["7h", "7e", "8e", "9c"],
        (Family::MetricButtress, Side::Internal) => &["7H", "8H", "7AZ"],
        (Family::InchButtress, Side::External) => &["2A", "3A"],
        (Family::InchButtress, Side::Internal) => &["2B", "3B"],
        (Family::Round, Side::External) => &["7h"],
        (Family::Round, Side::Internal) => &["7H"],
        (Family::BritishAssociation, Side::External) => &["close", "normal"],
        _ => &[""],
    }
}

fn with(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut thread = thread.clone();
    let class = Some(class.to_owned()).filter(|class| !class.is_empty());
    match side {
        Side::External => thread.external = class,
        Side::Internal => thread.internal = class,
    }
    thread.limits(side)
}

fn threads() -> impl Iterator<Item = Thread> {
    FAMILIES.into_iter().flat_map(|family| {
        let sizes = family.sizes().iter();
        sizes.map(move |size| Thread::of_size(family, size))
    })
}

/// No band is turned round; crests lie outside the pitch diameter and roots inside; a limit rests on
/// a source, and where there is none a note says why.
#[test]
fn limits_are_in_order() {
    let mut looked_at = 0;
    for thread in threads() {
        for side in [Side::External, Side::Internal] {
            for class in classes(thread.family, side) {
                let limits = with(&thread, side, class);
                let name = format!("{} {class} {}", thread.designation(), side.name());
                let bands = [limits.major, limits.pitch, limits.minor, limits.root];
                for band in bands {
                    let turned = band.min.zip(band.max).is_some_and(|(min, max)| min >= max);
                    assert!(!turned, "{name}: {band:?}");
                }
                let above = |a: Band, b: Band| match (a.min, b.max) {
                    (Some(a), Some(b)) => a > b,
                    _ => true,
                };
                assert!(above(limits.major, limits.pitch), "{name}");
                assert!(above(limits.pitch, limits.minor), "{name}");
                let known = bands.iter().any(|band| *band != Band::OPEN);
                assert!(!known || !limits.sources.is_empty(), "{name}");
                assert!(known || !limits.notes.is_empty(), "{name}");
                assert!(
                    !limits.unverified || !limits.notes.is_empty() || memory(&limits),
                    "{name}"
                );
                looked_at += usize::from(known);
            }
        }
    }
    assert!(looked_at > 10_000, "{looked_at}");
}

fn memory(limits: &Limits) -> bool {
    limits
        .sources
        .iter()
        .any(|source| source.contains("memory"))
}

/// A screw of any class goes into a nut of any class where neither has an interference: its pitch
/// diameter is not above the nut's. Threads that seal are screwed together until they jam.
#[test]
fn screws_go_into_nuts() {
    for thread in threads() {
        if matches!(thread.family, Family::PipeTaper | Family::Npt) {
            continue;
        }
        for screw in classes(thread.family, Side::External) {
            for nut in classes(thread.family, Side::Internal) {
                let screw_limits = with(&thread, Side::External, screw);
                let nut_limits = with(&thread, Side::Internal, nut);
                let most = screw_limits.pitch.max.unwrap_or(0.0);
                let least = nut_limits.pitch.min.unwrap_or(f64::INFINITY);
                let name = thread.designation();
                assert!(most <= least + 1e-9, "{name} {screw}/{nut}: {most} {least}");
                let crest = screw_limits.major.max.unwrap_or(0.0);
                let root = nut_limits.major.min.unwrap_or(f64::INFINITY);
                assert!(crest <= root + 1e-9, "{name} {screw}/{nut}: {crest} {root}");
                let bore = nut_limits.minor.min.unwrap_or(f64::INFINITY);
                let core = screw_limits.minor.max.unwrap_or(0.0);
                // Pipe threads share one rounded core; unified bores are printed to 0.001 in.
                assert!(core <= bore + 0.013, "{name} {screw}/{nut}: {core} {bore}");
            }
        }
    }
}

/// A coarser class has the wider tolerance, on the pitch diameter and on the rest.
#[test]
fn tolerances_grow_with_the_class() {
    let finer_first: [(Family, Side, &[&str]); 17] = [
        (
            Family::Trapezoidal,
            Side::External,
            &["6e", "7e", "8e", "9e"],
        ),
        (Family::Trapezoidal, Side::External, &["7c", "8c", "9c"]),
        (
            Family::Trapezoidal,
            Side::Internal,
            &["6H", "7H", "8H", "9H"],
        ),
        (Family::MetricButtress, Side::External, &["7e", "8e", "9e"]),
        (Family::InchButtress, Side::External, &["3A", "2A"]),
        (Family::InchButtress, Side::Internal, &["3B", "2B"]),
        (
            Family::BritishAssociation,
            Side::External,
            &["close", "normal"],
        ),
        (
            Family::Metric,
            Side::External,
            &["4h6h", "5h6h", "6h", "7h6h", "8h6h"],
        ),
        (
            Family::MetricJ,
            Side::External,
            &["3h4h", "4h6h", "5h6h", "6h", "7h6h"],
        ),
        (Family::MetricJ, Side::Internal, &["4H5H", "5H", "6H", "7H"]),
        (Family::UnifiedJ, Side::External, &["3A"]),
        (Family::PipeParallel, Side::External, &["A", "B"]),
        (Family::Acme, Side::External, &["4G", "3G", "2G"]),
        (Family::Acme, Side::Internal, &["4G", "3G", "2G"]),
        (Family::Acme, Side::External, &["4C", "3C", "2C"]),
        (
            Family::Whitworth,
            Side::External,
            &["close", "medium", "free"],
        ),
        (Family::Whitworth, Side::Internal, &["medium", "normal"]),
    ];
    for (family, side, classes) in finer_first {
        for size in family.sizes() {
            let thread = Thread::of_size(family, size);
            let widths = classes.iter().map(|class| {
                let limits = with(&thread, side, class);
                [limits.pitch, limits.major, limits.minor]
                    .map(|band| band.max.zip(band.min).map(|(max, min)| max - min))
            });
            let widths: Vec<_> = widths.collect();
            for pair in widths.windows(2) {
                let grows = |at: usize| match (pair[0][at], pair[1][at]) {
                    (Some(finer), Some(coarser)) => coarser >= finer - 1e-6,
                    _ => true,
                };
                assert!((0..3).all(grows), "{}: {pair:?}", thread.designation());
            }
        }
    }
}

/// Along a taper all diameters change alike, by the taper, and the gauge plane is where the basic
/// diameters are.
#[test]
fn planes_lie_on_one_cone() {
    let mut tapered = 0;
    for thread in threads() {
        for side in [Side::External, Side::Internal] {
            let Some(planes) = thread.gauge_planes(side) else {
                // The planes of the casing and tubing threads of GOST are not known.
                let gost = matches!(thread.family, Family::CasingRound | Family::CasingButtress)
                    && thread.designation().starts_with(['Н', 'О']);
                assert!(thread.form().taper == 0.0 || !thread.exists_on(side) || gost);
                continue;
            };
            tapered += 1;
            assert_eq!(planes.gauge.at, thread.basic());
            assert_eq!(planes.taper, thread.form().taper);
            for plane in &planes.others {
                let along = plane.z_mm - planes.gauge.z_mm;
                let wider = plane.at.pitch - planes.gauge.at.pitch;
                assert!((wider - along * planes.taper).abs() < 1e-9);
                let height = plane.at.major - plane.at.minor;
                let basic = thread.basic();
                assert!((height - (basic.major - basic.minor)).abs() < 1e-9);
            }
            assert!(planes.travel.holds(planes.gauge.z_mm));
        }
    }
    let oil = 23 + 41 + 14;
    assert_eq!(tapered, 15 + 15 + 2 * (24 + 12 + 24 + oil));
}

/// Any diameter with any pitch has limits where the family allows it, as ASME B1.5 and the formulas
/// of B1.1 and ISO 965-1 do.
#[test]
fn special_sizes_have_limits() {
    for name in [
        "2.3-7 ACME-3G",
        "1.111-9 ACME-2C",
        "6-3 STUB ACME-2G",
        "7-2 ACME-4C",
        ".300-30 UNJS-3A",
        "3 1/4-11 UNJ-3B",
        "MJ37x1.5-4h6h",
        "MJ101.5x1.25-4H5H",
        "1 3/8-13 WHIT (free)",
        "Tr 41x5-7e",
        "Tr 320x5-8e",
        "Tr 33x14(P7)-7H",
        "S 41x7-8e",
        "1 3/16-9 BUTT-3A",
    ] {
        let thread = parse(name, None).unwrap();
        assert!(!thread.is_standard_size(), "{name}");
        let side = thread.side.unwrap_or(Side::External);
        let limits = thread.limits(side);
        assert!(limits.pitch.max > limits.pitch.min, "{name}: {limits:?}");
        assert_eq!(
            thread.designation(),
            parse(&thread.designation(), None).unwrap().designation()
        );
    }
}
