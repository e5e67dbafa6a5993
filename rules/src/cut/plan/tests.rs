use lexer::law::Law;
use lexer::section::Purpose;
use proptest::prelude::*;

use super::*;
use crate::cut::area::groove;
use crate::standards::form::Flanks;

const SIXTY: Flanks = Flanks::symmetric(30.0);

const SHAPES: [Shape; 4] = [
    Shape::List,
    Shape::SquareRoot { min: 0.05 },
    Shape::Method {
        equal_chips: 1,
        equal_depths: Some(3),
    },
    Shape::Power { degression: 2.0 },
];

/// Chip area of a 60° groove cut by a nose.
fn area(nose: f64) -> impl Fn(f64, f64) -> f64 {
    move |before, depth| groove(SIXTY, nose, depth) - groove(SIXTY, nose, before)
}

fn demand<'a>(height: f64, load: &'a dyn Fn(f64, f64) -> f64) -> Demand<'a> {
    Demand {
        height,
        air: 0.0,
        load,
        peak: f64::INFINITY,
        first: f64::INFINITY,
        least: 0.0,
        finish: 0.0,
        springs: 0,
        digit: 1e-6,
    }
}

fn steps(split: &Split) -> Vec<f64> {
    let mut before = 0.0;
    let depths = split.depths.iter().map(|(depth, _)| depth.mm());
    depths
        .map(|depth| {
            let step = depth - before;
            before = depth;
            step
        })
        .collect()
}

fn assert_steps(split: &Split, wanted: &[f64]) {
    let got = steps(split);
    assert_eq!(got.len(), wanted.len(), "{got:?}");
    for (got, wanted) in got.iter().zip(wanted) {
        assert!((got - wanted).abs() < 6e-4, "{got} is not {wanted}");
    }
}

/// Pitch 2, height 1.22687: steps of equal chip areas worked apart from this code, for a sharp tip
/// (0.1086 mm² each in eight passes) and a nose of 0.28868 mm (0.2115 in six, 0.1586 in eight).
#[test]
fn equal_areas_worked_apart() {
    let sharp = area(0.0);
    let sharp = demand(1.22687, &sharp);
    let six = lightest(Shape::List, &sharp, 6).unwrap();
    assert_steps(&six, &[0.501, 0.207, 0.159, 0.134, 0.118, 0.107]);
    let eight = lightest(Shape::List, &sharp, 8).unwrap();
    assert_steps(
        &eight,
        &[0.434, 0.180, 0.138, 0.116, 0.102, 0.093, 0.085, 0.079],
    );
    assert!((eight.peak - 0.1086).abs() < 1e-4);
    let round = area(0.28868);
    let round = demand(1.22687, &round);
    let six = lightest(Shape::List, &round, 6).unwrap();
    assert_steps(&six, &[0.393, 0.230, 0.183, 0.156, 0.139, 0.126]);
    assert!((six.peak - 0.2115).abs() < 1e-4);
    let eight = lightest(Shape::List, &round, 8).unwrap();
    assert_steps(
        &eight,
        &[0.323, 0.194, 0.156, 0.134, 0.119, 0.108, 0.100, 0.094],
    );
    assert!((eight.peak - 0.1586).abs() < 1e-4);
}

/// Equal forces: the flanks' chip is half the step thick with a radial infeed, its width grows with
/// the depth, the force goes with thickness^(1 - 0.2). Steps worked apart from this code.
#[test]
fn equal_forces_worked_apart() {
    let force = |before: f64, depth: f64| {
        let width = (before + depth) / (2.0 * 30f64.to_radians().cos());
        2.0 * 1800.0 * width * ((depth - before) * 0.5).powf(0.8)
    };
    let split = lightest(Shape::List, &demand(1.22687, &force), 8).unwrap();
    assert_steps(
        &split,
        &[0.497, 0.171, 0.129, 0.107, 0.093, 0.083, 0.076, 0.070],
    );
    assert!((split.peak - 340.0).abs() < 1.0, "{}", split.peak);
}

/// With a sharp tip the √n law is the list of equal areas, so every cycle takes as many passes.
#[test]
fn a_cycle_of_equal_chips_is_as_good_as_a_list() {
    let sharp = area(0.0);
    let mut demand = demand(1.227, &sharp);
    (demand.peak, demand.digit) = (0.15, 0.001);
    for shape in SHAPES {
        let split = fewest(shape, &demand).unwrap();
        assert_eq!(split.cuts(), 6, "{shape:?} {split:?}");
        assert!((split.peak - 0.1449).abs() < 1e-3, "{shape:?} {split:?}");
    }
}

/// The first pass cuts with the bare tip: where it is limited more than the others, the first cut
/// is small and the minimum cut, or another exponent, makes up for it.
#[test]
fn a_limited_first_pass() {
    let sharp = area(0.0);
    let mut demand = demand(1.84, &sharp);
    (demand.peak, demand.first, demand.digit) = (0.25, 0.45, 0.001);
    let free = fewest(Shape::List, &demand).unwrap();
    // 0.45 mm, then 1.953 - 0.117 mm² in chips of 0.25 mm²: eight more.
    assert_eq!(free.cuts(), 9);
    // A minimum cut of 0.118 mm carries 0.25 mm² at the root, and the first passes go by √n: twelve
    // or thirteen; 0.45·n^(1/1.5) reaches the root in nine passes that are a little too heavy there.
    for (shape, most) in [
        (Shape::SquareRoot { min: 0.05 }, 13),
        (Shape::Power { degression: 2.0 }, 11),
    ] {
        let split = fewest(shape, &demand).unwrap();
        assert!(split.cuts() <= most, "{shape:?} {split:?}");
        assert!(split.depths[0].0.mm() <= 0.451, "{shape:?} {split:?}");
    }
}

#[test]
fn limits_that_contradict_are_named() {
    let sharp = area(0.0);
    let mut demand = demand(1.84, &sharp);
    (demand.peak, demand.least, demand.digit) = (0.05, 0.05, 0.001);
    for shape in SHAPES {
        let broken = fewest(shape, &demand).unwrap_err();
        assert!(
            matches!(broken, Broken::Thin(..) | Broken::Heavy(..)),
            "{shape:?} {broken:?}"
        );
    }
    demand.height = f64::NAN;
    assert_eq!(fewest(Shape::List, &demand), Err(Broken::None));
}

/// A table of steps for a height of 1.299 mm (2 × 0.6495, on the radius) is stretched to 1.227 mm.
#[test]
fn a_shops_own_table() {
    let sharp = area(0.0);
    let mut demand = demand(1.227, &sharp);
    demand.springs = 1;
    let split = by_table(&demand, &[0.45, 0.3, 0.3, 0.2, 0.05]).unwrap();
    assert_eq!(split.depths.len(), 6);
    assert_eq!(split.depths[5].1, Purpose::Spring);
    let first = 0.45 * 1.227 / 1.3;
    assert!((split.depths[0].0.mm() - first).abs() < 1e-5);
    demand.first = 0.3;
    assert!(matches!(
        by_table(&demand, &[0.45, 0.3, 0.3, 0.2, 0.05]),
        Err(Broken::First(_))
    ));
    assert!(by_table(&demand, &[0.3, -0.1]).is_err());
    assert!(by_table(&demand, &[]).is_err());
}

/// What the law itself says again, without the code under test: the loads of its depths.
fn loads(split: &Split, demand: &Demand<'_>) -> Vec<f64> {
    let mut before = demand.air;
    let mut all = Vec::new();
    for (depth, _) in &split.depths {
        if depth.mm() > before {
            all.push((demand.load)(before, depth.mm()));
            before = depth.mm();
        }
    }
    all
}

proptest! {
    /// Whatever the limits, a split that is given keeps every one of them, ends at the full depth,
    /// never goes back, and one pass fewer would break a limit.
    #[test]
    fn every_limit_is_kept(
        pitch in 0.5f64..6.0,
        nose in 0.0f64..0.14,
        peak in 0.3f64..3.0,
        first in 0.3f64..2.0,
        finish in prop::bool::ANY,
        springs in 0u32..3,
        air in 0.0f64..0.2,
        shape in 0usize..4,
    ) {
        let nose = nose * pitch;
        let height = 0.6134 * pitch + air;
        let load = move |before: f64, depth: f64| {
            groove(SIXTY, nose, depth - air) - groove(SIXTY, nose, (before - air).max(0.0))
        };
        let demand = Demand {
            height,
            air,
            load: &load,
            // In terms of an even split of eight passes.
            peak: peak * groove(SIXTY, nose, height - air) / 8.0,
            first: first * 0.25 * pitch,
            least: 0.05 * pitch.min(1.0),
            finish: if finish { 0.05 * pitch.min(1.0) } else { 0.0 },
            springs,
            digit: 0.001,
        };
        let shape = SHAPES[shape];
        let Ok(split) = fewest(shape, &demand) else { return Ok(()) };
        let all = loads(&split, &demand);
        prop_assert!(all.len() <= split.cuts());
        let deepest = split.depths.iter().map(|(depth, _)| depth.mm());
        prop_assert!((deepest.clone().fold(0.0, f64::max) - height).abs() < 1e-6);
        let mut before = 0.0;
        let mut cut_before = air;
        for (at, (depth, purpose)) in split.depths.iter().enumerate() {
            let depth = depth.mm();
            prop_assert!(depth >= before - 1e-9);
            if depth > cut_before {
                let lighter = load(cut_before, (depth - 0.001).max(cut_before));
                prop_assert!(lighter <= demand.peak * 1.000_001, "pass {at} {split:?}");
                if cut_before == air {
                    prop_assert!(depth - air <= demand.first + 0.001_001);
                }
                if *purpose == Purpose::Rough {
                    prop_assert!(depth - cut_before >= demand.least - 0.001_001);
                }
                cut_before = depth;
            }
            before = depth;
        }
        if let Law::List = split.law {
            prop_assert!(split.depths.len() == split.cuts() + springs as usize);
        } else {
            let again = lexer::law::depths(&split.law, Radial::from_mm(height));
            prop_assert_eq!(&again, &split.depths);
        }
        if split.cuts() > 1 {
            prop_assert!(lightest(shape, &demand, split.cuts() - 1).is_err());
        }
    }
}
