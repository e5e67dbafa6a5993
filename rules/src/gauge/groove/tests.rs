use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use proptest::prelude::*;

use super::*;
use crate::measure::tool::Nose;
use crate::standards::form::Flanks;

/// A tool with a round nose as a polygon: points (u, depth) down to its tip, open above at `top` mm
/// of height. The chords of the arc lie within 1e-8 mm of it.
fn polygon(profile: Profile, placement: Placement, top: f64) -> Vec<[f64; 2]> {
    const POINTS: u32 = 4000;
    let at = |u: f64, height: f64| [placement.u + u, placement.depth - height];
    let arc = |angle: f64, side: f64| {
        (0..=POINTS).map(move |n| {
            let turn = (std::f64::consts::FRAC_PI_2 - angle) * f64::from(n) / f64::from(POINTS);
            match profile.nose {
                Nose::Radius(r) => at(side * r * turn.sin(), r * (1.0 - turn.cos())),
                Nose::Flat(width) => at(side * width / 2.0, 0.0),
            }
        })
    };
    let high = |angle: f64, side: f64| {
        let from = match profile.nose {
            Nose::Radius(r) => (r * angle.cos(), r * (1.0 - angle.sin())),
            Nose::Flat(width) => (width / 2.0, 0.0),
        };
        at(side * (from.0 + (top - from.1) * angle.tan()), top)
    };
    let mut points: Vec<[f64; 2]> = vec![high(profile.front, 1.0)];
    points.extend(
        arc(profile.front, 1.0)
            .collect::<Vec<_>>()
            .into_iter()
            .rev(),
    );
    points.extend(arc(profile.back, -1.0).skip(1));
    points.push(high(profile.back, -1.0));
    points
}

/// The placements united by a general polygon clip, above the crest cut off.
fn united(profile: Profile, placements: &[Placement]) -> Vec<Vec<[f64; 2]>> {
    let tools: Vec<Vec<[f64; 2]>> = placements
        .iter()
        .map(|placement| polygon(profile, *placement, 10.0))
        .collect();
    let work = vec![[-50.0, 0.0], [50.0, 0.0], [50.0, 20.0], [-50.0, 20.0]];
    let shapes = tools.overlay_as::<i64>(&work, OverlayRule::Intersect, FillRule::NonZero);
    shapes.into_iter().flatten().collect()
}

fn area(contours: &[Vec<[f64; 2]>]) -> f64 {
    let signed = |contour: &Vec<[f64; 2]>| {
        let next = contour.iter().cycle().skip(1);
        let cross = contour
            .iter()
            .zip(next)
            .map(|(a, b)| a[0] * b[1] - a[1] * b[0]);
        cross.sum::<f64>() / 2.0
    };
    contours.iter().map(signed).sum::<f64>().abs()
}

/// First and last crossing of the contours with a depth.
fn edges(contours: &[Vec<[f64; 2]>], depth: f64) -> (f64, f64) {
    let mut found: Vec<f64> = Vec::new();
    for contour in contours {
        for (a, b) in contour.iter().zip(contour.iter().cycle().skip(1)) {
            if (a[1] - depth) * (b[1] - depth) < 0.0 {
                found.push(a[0] + (b[0] - a[0]) * (depth - a[1]) / (b[1] - a[1]));
            }
        }
    }
    let last = found.iter().copied().fold(f64::MIN, f64::max);
    (last, found.into_iter().fold(f64::MAX, f64::min))
}

fn tool(front: f64, back: f64, nose: Nose) -> Profile {
    let flanks = Flanks {
        leading_deg: front,
        trailing_deg: back,
        pressure: None,
    };
    Profile::of(flanks, nose, true)
}

/// Against the general clip, to 1e-6 mm and mm²: one plunge, flank infeed inside and beyond the
/// flank, a widened root, unequal flanks, a flat tip.
#[test]
fn grooves_agree_with_a_general_polygon_clip() {
    let line = |degrees: f64, depths: &[f64]| -> Vec<Placement> {
        let tangent = degrees.to_radians().tan();
        let place = |depth: &f64| Placement {
            u: depth * tangent,
            depth: *depth,
        };
        depths.iter().map(place).collect()
    };
    let depths = [0.434, 0.614, 0.752, 0.868, 0.97, 1.063, 1.148, 1.227];
    let sixty = tool(30.0, 30.0, Nose::Radius(0.25));
    let widened = [(0.0, 1.0), (0.0, 1.227), (0.11, 1.227), (-0.07, 1.1)];
    let widened = widened.map(|(u, depth)| Placement { u, depth }).to_vec();
    for (profile, placements) in [
        (sixty, line(0.0, &depths)),
        (sixty, line(27.0, &depths)),
        (sixty, line(36.0, &depths)),
        (sixty, line(-41.0, &depths)),
        (sixty, widened.clone()),
        (tool(3.0, 30.0, Nose::Radius(0.2)), line(15.0, &depths)),
        (tool(7.0, 45.0, Nose::Radius(0.2)), line(10.0, &depths)),
        (tool(15.0, 15.0, Nose::Flat(0.6)), line(20.0, &depths)),
        (tool(15.0, 15.0, Nose::Flat(0.6)), widened),
        (tool(0.0, 0.0, Nose::Flat(1.0)), line(5.0, &depths)),
    ] {
        let groove = Groove::cut(profile, placements.iter().copied());
        let clip = united(profile, &placements);
        let (ours, theirs) = (groove.area().unwrap(), area(&clip));
        assert!((ours - theirs).abs() < 1e-6, "{profile:?}: {ours} {theirs}");
        for depth in [0.05, 0.3, 0.61, 0.9, 1.05, 1.2] {
            let (front, back) = groove.edges(depth).unwrap();
            let (f, b) = edges(&clip, depth);
            assert!((front - f).abs() < 1e-6, "{profile:?} {depth}: {front} {f}");
            assert!((back - b).abs() < 1e-6, "{profile:?} {depth}: {back} {b}");
        }
    }
}

/// With the infeed inside both flanks the last pass covers all others; beyond a flank each leaves
/// its mark.
#[test]
fn what_shapes_the_groove() {
    let sixty = tool(30.0, 30.0, Nose::Radius(0.25));
    let line = |degrees: f64| {
        (1..=6).map(move |n| Placement {
            u: 0.2 * f64::from(n) * degrees.to_radians().tan(),
            depth: 0.2 * f64::from(n),
        })
    };
    assert_eq!(Groove::cut(sixty, line(29.9)).shaping().len(), 1);
    assert_eq!(Groove::cut(sixty, line(-29.9)).shaping().len(), 1);
    assert_eq!(Groove::cut(sixty, line(31.0)).shaping().len(), 6);
}

#[test]
fn uncut_work_and_bad_numbers() {
    let sixty = tool(30.0, 30.0, Nose::Radius(0.25));
    let mut groove = Groove::new(sixty);
    for (u, depth) in [
        (0.0, -1.0),
        (f64::NAN, 1.0),
        (0.0, f64::INFINITY),
        (0.0, 0.0),
    ] {
        groove.add(Placement { u, depth });
    }
    assert_eq!(groove.area(), Some(0.0));
    assert_eq!(groove.depth_of_width(0.1), None);
    assert_eq!(groove.edges(0.1), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Placements anywhere, round and flat tips, upright edges too: the area of the general clip.
    #[test]
    fn any_area_is_that_of_the_clip(
        placements in prop::collection::vec((-1.5..1.5f64, 0.01..1.3f64), 2..9),
        front in prop_oneof![Just(0.0), 2.0..60.0f64],
        back in prop_oneof![Just(0.0), 2.0..60.0f64],
        nose in prop_oneof![
            (0.01..0.5f64).prop_map(Nose::Radius),
            (0.01..1.0f64).prop_map(Nose::Flat),
        ],
    ) {
        let profile = tool(front, back, nose);
        let all: Vec<Placement> = placements.iter().map(|&(u, depth)| Placement { u, depth }).collect();
        let ours = Groove::cut(profile, all.iter().copied()).area().unwrap();
        let theirs = area(&united(profile, &all));
        prop_assert!((ours - theirs).abs() < 1e-6, "{} {}", ours, theirs);
    }
}

proptest! {
    /// Passes in any order leave the same groove, each takes none or something away, and the width
    /// found for a depth leads back to it.
    #[test]
    fn order_does_not_matter_and_nothing_grows_back(
        placements in prop::collection::vec((-0.3..0.3f64, 0.05..1.3f64), 1..12),
        front in 2.0..45.0f64,
        back in 2.0..45.0f64,
        nose in 0.0..0.4f64,
    ) {
        let profile = tool(front, back, Nose::Radius(nose));
        let all: Vec<Placement> = placements.iter().map(|&(u, depth)| Placement { u, depth }).collect();
        let mut groove = Groove::new(profile);
        let mut before = 0.0;
        let mut outline = Outline::default();
        for one in &all {
            groove.add(*one);
            let now = groove.area_along(&mut outline).unwrap();
            prop_assert!((now - groove.area().unwrap()).abs() < 1e-12);
            prop_assert!(now >= before - 1e-7, "{now} {before}");
            before = now;
        }
        let other_way = Groove::cut(profile, all.iter().rev().copied());
        prop_assert!((other_way.area().unwrap() - before).abs() < 1e-7);
        let depth = groove.depth() * 0.4;
        let width = groove.width(depth);
        if let Some(back) = groove.depth_of_width(width) {
            prop_assert!((groove.width(back) - width).abs() < 1e-6);
        }
        for one in &all {
            let (front, behind) = groove.edges(one.depth - 1e-9).unwrap();
            prop_assert!(front >= one.u - 1e-6 && behind <= one.u + 1e-6);
        }
    }
}
