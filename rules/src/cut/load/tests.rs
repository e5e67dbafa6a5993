use super::*;
use crate::cut::passes::even_steps;
use crate::measure::tool::Nose;
use crate::standards::form::Flanks;

const SIXTY: Flanks = Flanks::symmetric(30.0);

fn steel() -> Kienzle {
    Kienzle {
        kc11: 1800.0,
        mc: 0.20,
        source: "test".to_owned(),
    }
}

/// Forces of a split in mm with a sharp 60° tool and an infeed in degrees.
fn forces(steps: &[f64], infeed: f64) -> Vec<f64> {
    let mut chips = Chips::from_crest(Profile::of(SIXTY, Nose::Radius(0.0), true), 0.0);
    let mut depth = 0.0;
    steps
        .iter()
        .map(|step| {
            depth += step;
            let u = depth * infeed.to_radians().tan();
            steel().force(&chips.cut(Placement { u, depth }))
        })
        .collect()
}

fn near(got: &[f64], want: &[f64], within: f64) {
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(want) {
        assert!((got - want).abs() <= within, "{got} is not {want}");
    }
}

/// Worked apart from this code for 60°, in units of the step.
#[test]
fn thickness_by_infeed_angle() {
    for (angle, leading, trailing) in [
        (0.0, 0.50, 0.50),
        (25.0, 0.904, 0.096),
        (27.0, 0.941, 0.059),
        (29.0, 0.980, 0.020),
        (29.5, 0.990, 0.010),
        (30.0, 1.0, 0.0),
    ] {
        near(
            &thickness_per_step(SIXTY, angle),
            &[leading, trailing],
            6e-4,
        );
    }
}

/// Pitch 2, height 1.22687, sharp tool, eight passes of equal area; kc1.1 1800, mc 0.20: worked
/// apart from this code.
#[test]
fn forces_of_equal_areas_and_of_equal_depths() {
    let steps = even_steps(1.226_87, 8);
    let radial = forces(&steps, 0.0);
    near(
        &radial,
        &[265.0, 317.0, 334.0, 345.0, 354.0, 362.0, 368.0, 373.0],
        0.6,
    );
    for (angle, first, last) in [(27.0, 244.0, 343.0), (30.0, 231.0, 325.0)] {
        let flank = forces(&steps, angle);
        near(&[flank[0], flank[7]], &[first, last], 0.6);
    }
    let equal = [1.226_87 / 8.0; 8];
    let radial = forces(&equal, 0.0);
    near(
        &radial,
        &[41.0, 123.0, 204.0, 286.0, 368.0, 449.0, 531.0, 613.0],
        0.6,
    );
}

/// Radial infeed costs 2 · 0.5^(1 − mc) of the force of a flank infeed with equal areas: two thin
/// chips for a thick one (1.15, 1.19, 1.23 for mc 0.20, 0.25, 0.30).
#[test]
fn thin_chips_cost_more() {
    for (mc, ratio) in [(0.20, 1.15), (0.25, 1.19), (0.30, 1.23)] {
        let law = Kienzle { mc, ..steel() };
        let chip = |infeed: f64| {
            let mut chips = Chips::from_crest(Profile::of(SIXTY, Nose::Radius(0.0), true), 0.0);
            let at = |depth: f64| Placement {
                u: depth * f64::to_radians(infeed).tan(),
                depth,
            };
            chips.cut(at(0.5));
            chips.cut(at(0.6))
        };
        let got = law.force(&chip(0.0)) / law.force(&chip(30.0));
        assert!((got - ratio).abs() < 5e-3, "{got}");
    }
}

/// An infeed that goes to one side and the other in turn cuts with one edge at a time; going back
/// over the same place cuts nothing; unequal flanks share the step by their sines.
#[test]
fn edges_take_turns() {
    let profile = Profile::of(SIXTY, Nose::Radius(0.1), true);
    let mut chips = Chips::from_crest(profile, 0.0);
    chips.cut(Placement { u: 0.0, depth: 0.4 });
    let ahead = chips.cut(Placement {
        u: 0.0577,
        depth: 0.5,
    });
    let behind = chips.cut(Placement {
        u: -0.0577,
        depth: 0.6,
    });
    assert!(ahead.leading > 0.09 && ahead.trailing < 1e-3, "{ahead:?}");
    assert!(
        behind.trailing > 0.09 && behind.leading < 1e-3,
        "{behind:?}"
    );
    let again = chips.cut(Placement {
        u: -0.0577,
        depth: 0.6,
    });
    assert_eq!((again.leading, again.trailing, again.nose), (0.0, 0.0, 0.0));
    assert_eq!(steel().force(&again), 0.0);
    let buttress = Flanks {
        leading_deg: 45.0,
        trailing_deg: 7.0,
        pressure: None,
    };
    let mut chips = Chips::from_crest(Profile::of(buttress, Nose::Radius(0.0), true), 0.0);
    let chip = chips.cut(Placement { u: 0.0, depth: 0.2 });
    near(
        &[chip.leading, chip.trailing],
        &[
            0.2 * 45f64.to_radians().sin(),
            0.2 * 7f64.to_radians().sin(),
        ],
        1e-12,
    );
}

/// 373 N at 30 mm and 1000 1/min: 5.595 N·m, v = 94.25 m/min, 0.586 kW.
#[test]
fn torque_and_power() {
    let load = load(373.0, 30.0, Some(1000.0));
    assert!((load.torque_nm - 5.595).abs() < 1e-9);
    assert!((load.power_kw.unwrap() - 0.5859).abs() < 1e-4);
}
