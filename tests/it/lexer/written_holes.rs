//! Taps and milled threads written and read back: holes, leads, hands to the digits of the style.

use ::lexer::evidence::Family;
use ::lexer::program::Settings;
use ::lexer::section::tapping::{Hand, Way};
use ::lexer::section::{Section, Side};
use ::lexer::syntax::helix::{self, MillPlan};
use ::lexer::syntax::tap::{self, TapPlan};
use ::lexer::syntax::{Style, Whole};
use ::lexer::units::{Lead, Length, Units};
use proptest::prelude::*;

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn plan() -> TapPlan {
    TapPlan {
        way: Way::Cycle,
        hand: Hand::Right,
        lead: Lead::per_turn(mm(1.25)),
        rpm: 320,
        places: vec![(mm(10.0), mm(5.0)), (mm(30.0), mm(5.0))],
        clear: mm(3.0),
        bottom: mm(-18.0),
        rigid: true,
        per_minute: true,
        peck: None,
    }
}

fn back(text: &str, style: &Style) -> Section {
    let settings = Settings {
        family: Some(style.family),
        diameter_mode: Some(!style.radius_mode),
        units: Some(style.units),
        ..Settings::default()
    };
    let mut program = ::lexer::read(text.as_bytes(), &settings);
    assert_eq!(program.sections.len(), 1, "{text}");
    program.sections.remove(0)
}

#[test]
fn a_rigid_cycle_in_two_styles() {
    let style = Style::new(Family::Mill, Units::Millimetre);
    assert_eq!(
        tap::write(&plan(), &style).unwrap(),
        "G97 S320 M3\nG94\nM29 S320\nG84 X10. Y5. Z-18. R3. F400.\nX30. Y5.\nG80\n"
    );
    let mut tight = Style::new(Family::Mill, Units::Inch);
    (tight.spaced, tight.leading_zero) = (false, false);
    let inch = TapPlan {
        lead: Lead::per_inch(200_000).unwrap(),
        per_minute: false,
        hand: Hand::Left,
        rigid: false,
        places: vec![(mm(25.4), mm(0.0))],
        clear: mm(2.54),
        bottom: mm(-19.05),
        ..plan()
    };
    assert_eq!(
        tap::write(&inch, &tight).unwrap(),
        "G97S320M4\nG95\nG74X1.Y0.Z-.75R.1F.05\nG80\n"
    );
}

#[test]
fn strokes_interpolated_taps_and_the_lathe() {
    let interpreter = Style::new(Family::Interpreter, Units::Millimetre);
    let stroke = TapPlan {
        way: Way::Stroke,
        places: vec![(mm(10.0), mm(5.0))],
        ..plan()
    };
    assert_eq!(
        tap::write(&stroke, &interpreter).unwrap(),
        "G97 S320 M3\nG0 X10. Y5.\nG0 Z3.\nG33.1 Z-18. K1.25\n"
    );
    let mill = Style::new(Family::Mill, Units::Millimetre);
    let left = TapPlan {
        way: Way::Interpolated,
        hand: Hand::Left,
        places: vec![(mm(10.0), mm(5.0))],
        ..plan()
    };
    assert_eq!(
        tap::write(&left, &mill).unwrap(),
        "G97 S320\nG0 X10. Y5.\nG0 Z3.\nG331 Z-18. K-1.25 S320\nG332 Z3. K-1.25\n"
    );
    let lathe = Style::new(Family::SystemA, Units::Millimetre);
    let axial = TapPlan {
        places: vec![(Length::ZERO, Length::ZERO)],
        per_minute: false,
        ..plan()
    };
    let text = tap::write(&axial, &lathe).unwrap();
    assert_eq!(
        text,
        "G97 S320 M3\nG0 X0. Z3.\nG99\nM29 S320\nG84 Z-18. F1.25\nG80\n"
    );
    // What cannot be said is refused.
    assert!(tap::write(&plan(), &lathe).is_err());
    assert!(tap::write(&plan(), &interpreter).is_err());
    let wrong = TapPlan {
        bottom: mm(9.0),
        ..plan()
    };
    assert!(tap::write(&wrong, &mill).is_err());
}

#[test]
fn a_milled_hole_word_by_word() {
    let style = Style::new(Family::Mill, Units::Millimetre);
    let plan = MillPlan {
        centre: (mm(20.0), mm(10.0)),
        side: Side::Internal,
        hand: Hand::Right,
        climb: true,
        radius: mm(4.0),
        lead: Lead::per_turn(mm(1.5)),
        bottom: mm(-12.0),
        turns: 1,
        clear: mm(5.0),
        feed: mm(66.7),
        approach: mm(2.0),
    };
    // Up by P/4 on the half circles: they turn a quarter about the axis.
    assert_eq!(
        helix::write(&plan, &style).unwrap(),
        "G0 X20. Y10.\nG0 Z5.\nG0 Z-12.375\nG3 X24. Y10. Z-12. I2. J0. F66.7\n\
         G3 X24. Y10. Z-10.5 I-4. J0.\nG3 X20. Y10. Z-10.125 I-2. J0.\nG0 Z5.\n"
    );
}

proptest! {
    #[test]
    fn taps_come_back(
        way in 0..2, left: bool, pitch in 20..600i64, rpm in 50..3000u32,
        holes in prop::collection::vec((-200_000..200_000i64, -200_000..200_000i64), 1..6),
        clear in 500..9000i64, depth in 3000..60_000i64, rigid: bool, per_minute: bool,
        inch: bool, spaced: bool,
    ) {
        let micron = |n: i64| Length::from_pm(n * 1_000_000);
        let units = if inch { Units::Inch } else { Units::Millimetre };
        let mut style = Style::new(Family::Mill, units);
        (style.spaced, style.whole) = (spaced, if spaced { Whole::Point } else { Whole::AllZeros });
        let plan = TapPlan {
            way: if way == 0 { Way::Cycle } else { Way::Interpolated },
            hand: if left { Hand::Left } else { Hand::Right },
            lead: Lead::per_turn(micron(pitch * 10)),
            rpm,
            places: holes.iter().map(|&(x, y)| (micron(x), micron(y))).collect(),
            clear: micron(clear),
            bottom: micron(clear - depth),
            rigid,
            per_minute,
            peck: None,
        };
        let text = tap::write(&plan, &style).unwrap();
        let section = back(&text, &style);
        let tapping = section.tapping.as_ref().unwrap();
        prop_assert_eq!(tapping.holes.len(), holes.len());
        let digit = if inch { 0.00254 } else { 0.001 };
        for (hole, place) in tapping.holes.iter().zip(&plan.places) {
            prop_assert!((hole.at[0].unwrap().mm() - place.0.mm()).abs() <= digit);
            prop_assert!((hole.at[1].unwrap().mm() - place.1.mm()).abs() <= digit);
        }
        prop_assert!((section.cut.lead.get().unwrap().mm() - plan.lead.mm()).abs() < 1e-4);
        prop_assert_eq!(tapping.hand.get(), Some(plan.hand));
    }

    #[test]
    fn helices_come_back(
        outside: bool, left: bool, climb: bool, radius in 1500..40_000i64, pitch in 40..600i64,
        turns in 1..9u32, x in -90_000..90_000i64, y in -90_000..90_000i64, approach in 500..5000i64,
    ) {
        let micron = |n: i64| Length::from_pm(n * 1_000_000);
        let style = Style::new(Family::Mill, Units::Millimetre);
        let plan = MillPlan {
            centre: (micron(x), micron(y)),
            side: if outside { Side::External } else { Side::Internal },
            hand: if left { Hand::Left } else { Hand::Right },
            climb,
            radius: micron(radius),
            lead: Lead::per_turn(micron(pitch * 10)),
            bottom: micron(-50_000),
            turns,
            clear: micron(10_000),
            feed: micron(120_000),
            approach: micron(approach),
        };
        let text = helix::write(&plan, &style).unwrap();
        let section = back(&format!("(THREAD MILL)\nG97 S900 M3\n{text}"), &style);
        let milling = section.milling.as_ref().unwrap();
        let helix = &milling.helices[0];
        prop_assert!((helix.pitch_mm().abs() - plan.lead.mm()).abs() < 2e-3);
        prop_assert!((helix.radius_mm - plan.radius.mm()).abs() < 2e-3);
        prop_assert_eq!(section.side(), Some(plan.side));
        prop_assert_eq!(milling.hand.get(), Some(plan.hand));
        for approach in [helix.entry.unwrap(), helix.exit.unwrap()] {
            let wanted = plan.lead.mm() * approach.degrees / 360.0;
            prop_assert!((approach.rise.mm().abs() - wanted).abs() < 3e-3);
        }
    }
}
