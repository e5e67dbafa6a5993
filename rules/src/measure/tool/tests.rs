use super::*;
use crate::standards::designation::parse;
use crate::standards::form::Flanks;

fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() < within, "{got} is not {want}");
}

fn sixty() -> Vee {
    Vee::between(Flanks::symmetric(30.0)).unwrap()
}

fn cut_of(name: &str, side: Side, nose: Nose) -> Cut {
    let thread = parse(name, Some(side)).unwrap();
    cut(&thread, side, &thread.limits(side), nose, "").unwrap()
}

/// M20x2.5 with the tip at 16.933, worked by plane geometry apart from this code; the first
/// value is the sharp V, the last one the basic pitch diameter.
#[test]
fn pitch_diameter_of_a_nose() {
    for (radius, d2) in [
        (0.0, 19.098),
        (0.05, 18.998),
        (0.3125, 18.473),
        (0.36085, 18.376),
    ] {
        let ours = pitch_diameter(sixty(), 2.5, Side::External, Nose::Radius(radius), 16.933);
        near(ours, d2, 6e-4);
        let back = tip_diameter(sixty(), 2.5, Side::External, Nose::Radius(radius), ours);
        near(back, 16.933, 1e-9);
        near(
            radius_for(sixty(), 2.5, Side::External, 16.933, ours),
            radius,
            1e-9,
        );
    }
    // d2 = X + H − √3 f for a flat; the basic flat P/4 gives the basic minor diameter.
    let flat = Nose::Flat(2.5 / 4.0);
    near(
        tip_diameter(sixty(), 2.5, Side::External, flat, 18.376),
        20.0 - 1.082_532 * 2.5,
        1e-3,
    );
}

/// The design root H/6 of M24x3-6g in the middle of its pitch diameter (21.903): X = d2 − H + 2 r.
#[test]
fn depth_to_the_middle_of_the_band() {
    let radius = 3.0 * 0.144_338;
    let cut = cut_of("M24x3-6g", Side::External, Nose::Radius(radius));
    near(cut.middle, 21.903 - 2.598_08 + 2.0 * radius, 1e-4);
    near(cut.depth_middle, (24.0 - cut.middle) / 2.0, 1e-12);
    near(cut.tip.max.unwrap() - cut.tip.min.unwrap(), 0.200, 1e-9);
    near(cut.depth.max.unwrap() - cut.depth.min.unwrap(), 0.100, 1e-9);
    assert!(cut.depth.holds(cut.depth_middle));
    assert_eq!(cut.fit, Fit::Fits);
}

#[test]
fn an_internal_tool_runs_outward() {
    let m24 = cut_of("M24x3-6H", Side::Internal, Nose::Flat(3.0 / 8.0));
    // The flat P/8 reaches the major diameter when the pitch diameter is basic.
    let basic = 24.0 - 0.649_519 * 3.0;
    let d2 = parse("M24x3-6H", None)
        .unwrap()
        .limits(Side::Internal)
        .pitch;
    near(m24.middle, 24.0 + d2.middle().unwrap() - basic, 2e-3);
    near(m24.from, 20.752, 1e-3);
    near(m24.depth_middle, (m24.middle - 20.752) / 2.0, 1e-3);
}

/// A tip finer than the root goes too deep, or stops at the root and widens; both leave the same
/// pitch diameter.
#[test]
fn a_fine_tip_goes_deep_or_wide() {
    let nose = Nose::Flat(0.1);
    let cut = cut_of("M24x3-6g", Side::External, nose);
    let Fit::TooDeep { by, stop_at, widen } = cut.fit else {
        panic!("{:?}", cut.fit);
    };
    near(stop_at, 19.955, 1e-9);
    near(cut.middle, stop_at - by, 1e-9);
    let wider = cut_of("M24x3-6g", Side::External, Nose::Flat(0.1 + widen));
    near(wider.middle, stop_at, 1e-9);
}

/// H/6 is the largest nose of M (ISO 68-1) and follows from the formula too.
#[test]
fn largest_noses() {
    let m24 = parse("M24x3-6g", None).unwrap();
    near(largest_radius(&m24, Side::External).unwrap(), 0.433, 1e-4);
    near(room(&m24, Side::External).unwrap(), 0.433_013, 1e-5);
    let limits = m24.limits(Side::External);
    let flat = largest_flat(&m24, Side::External, &limits).unwrap();
    let cut_flat = cut_of("M24x3-6g", Side::External, Nose::Flat(flat));
    near(cut_flat.middle, limits.minor.max.unwrap(), 1e-9);
    assert_eq!(
        cut_of("M24x3-6g", Side::External, Nose::Radius(0.5)).fit,
        Fit::TooLarge
    );
    assert_eq!(
        cut_of("M24x3-6g", Side::External, Nose::Flat(flat + 0.01)).fit,
        Fit::TooLarge
    );
}

#[test]
fn noses_of_the_form() {
    let labels = |name: &str, side: Side| {
        let noses = usual_noses(&parse(name, None).unwrap(), side);
        noses
            .into_iter()
            .map(|(_, label)| label)
            .collect::<Vec<_>>()
    };
    let m = labels("M24x3", Side::External);
    assert_eq!(m, ["sharp", "smallest root", "design root"]);
    let un = labels("1/2-13 UNC", Side::External);
    assert_eq!(un.last(), Some(&"root flat"));
}

/// Relief of 5, 10 and 15° at the tip gives 2.9, 5.8 and 8.8° at 60° and 1.3, 2.7 and 4.1° on a
/// 30° trapezoid (worked by hand from the formula, printed to one decimal).
#[test]
fn flank_clearances() {
    for (relief, sixty, thirty) in [(5.0, 2.9, 1.3), (10.0, 5.8, 2.7), (15.0, 8.8, 4.1)] {
        near(flank_clearance_deg(relief, 30.0), sixty, 0.05);
        near(flank_clearance_deg(relief, 15.0), thirty, 0.05);
    }
    let m24 = lead_angles(&parse("M24x3", None).unwrap(), Side::External);
    near(m24.at_pitch, 2.4796, 1e-4);
    near(m24.clearance, m24.at_root + 1.0, 1e-12);
    near(
        flank_clearance_deg(m24.relief.unwrap(), 30.0),
        m24.clearance,
        1e-9,
    );
}

/// A nut of ISO 68-1 with a root radius of H/8 ends at its nominal diameter: M36x3 has D2 = 34.051
/// (ISO 724).
#[test]
fn a_nut_with_a_root_radius_of_an_eighth_of_h() {
    let nose = Nose::Radius(0.866_025_4 * 3.0 / 8.0);
    near(
        pitch_diameter(sixty(), 3.0, Side::Internal, nose, 36.0),
        34.051,
        6e-4,
    );
}

/// 55°: d2 = d − 0.640327 P and a root radius of 0.137329 P (BS 84), 1 in with 8 threads.
#[test]
fn whitworth_form() {
    let pitch = 25.4 / 8.0;
    let vee = Vee::between(Flanks::symmetric(27.5)).unwrap();
    let tip = 25.4 - 2.0 * 0.640_327 * pitch;
    let nose = Nose::Radius(0.137_329 * pitch);
    let got = pitch_diameter(vee, pitch, Side::External, nose, tip);
    near(got, 25.4 - 0.640_327 * pitch, 1e-4);
}
