//! Cycles expanded by hand.
//!
//! Sources: the laws of the two-block cycle (`first·√n`, steps no smaller than the minimum cut,
//! the finishing allowance left for the last cut), the box, and methods 1 to 4 of the one-block
//! cycle follow the usual description in programming manuals, from memory; word meanings, units and
//! the sign of the taper were compared with published manual pages. The numbers are worked by hand.

use ::lexer::law::Law;
use ::lexer::program::Settings;
use ::lexer::section::{Infeed, PullOut, Purpose, Role, Side, Syntax, Val};
use ::lexer::units::{Diameter, Length, Radial};

use super::{depths, diameters, numbers, read, section};

const HEAD: &str = "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n";

fn metric(blocks: &str) -> ::lexer::section::Section {
    section(&format!("{HEAD}{blocks}G0 X100. Z100.\nM30\n"))
}

/// M24x3, k = 1.84, first cut 0.4, minimum 0.05, allowance 0.02, two passes at full depth.
/// 0.4·√n until a step falls below 0.05: 0.4·√17 - 1.6 = 0.0492, so from 1.6 on by 0.05 to
/// 1.84 - 0.02 = 1.82.
#[test]
fn two_blocks_external() {
    let thread = metric("G76 P021060 Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n");
    assert_eq!(thread.syntax, Syntax::TwoBlock);
    assert_eq!(thread.side(), Some(Side::External));
    // Crest = root + 2k = 20.32 + 3.68.
    assert_eq!(thread.cut.crest_x, Val::Exact(Diameter::from_mm(24.0)));
    assert_eq!(
        depths(&thread),
        [
            0.4, 0.566, 0.693, 0.8, 0.894, 0.98, 1.058, 1.131, 1.2, 1.265, 1.327, 1.386, 1.442,
            1.497, 1.549, 1.6, 1.65, 1.7, 1.75, 1.8, 1.82, 1.84, 1.84
        ]
    );
    let x = diameters(&thread);
    assert_eq!((x[0], x[1], x[20], x[22]), (23.2, 22.869, 20.36, 20.32));
    let purposes: Vec<_> = thread.passes.iter().map(|pass| pass.purpose).collect();
    assert_eq!(
        purposes[20..],
        [Purpose::Rough, Purpose::Finish, Purpose::Spring]
    );
    assert_eq!(thread.cut.pull_out, PullOut::TenthsOfLead(10));
    // 60 degrees included: each pass starts depth·tan 30° nearer. 6 - 0.4·0.57735 = 5.769.
    assert_eq!(thread.cut.infeed, Infeed::Flank(30.0));
    let starts = numbers(&thread, |pass| pass.z_start.unwrap().mm());
    assert_eq!((starts[0], starts[22]), (5.769, 4.938));
    assert!(
        thread
            .passes
            .iter()
            .all(|pass| pass.z_end == Some(Length::from_mm(-30.0)))
    );
}

/// 5/8-16 in a bore, everything in inches: P351 is 0.0351 in, Q80 0.008 in, Q20 0.002 in, R10
/// without a point 0.001 in. Minor diameter 0.625 - 2·0.0351 = 0.5548.
#[test]
fn two_blocks_internal_in_least_increments_of_an_inch() {
    let thread = section(
        "G20\nT0505\nG97 S900 M3\nG0 X.5 Z.2\nG76 P010060 Q20 R10\nG76 X.625 Z-.8 P351 Q80 F.0625\n",
    );
    assert_eq!(thread.side(), Some(Side::Internal));
    let inch = |value: f64| Length::from_mm(value * 25.4);
    assert_eq!(thread.cut.crest_x, Val::Exact(Diameter(inch(0.5548))));
    assert_eq!(thread.cut.height, Val::Exact(Radial(inch(0.0351))));
    let Law::SquareRoot {
        first,
        min,
        finish,
        repeats,
    } = &thread.cut.law
    else {
        panic!("{:?}", thread.cut.law);
    };
    assert_eq!(*first, Val::Exact(Radial(inch(0.008))));
    assert_eq!(*min, Val::Exact(Radial(inch(0.002))));
    assert_eq!(*finish, Val::Exact(Radial(inch(0.001))));
    assert_eq!(*repeats, Val::Exact(1));
    // 0.008·√n: .008 .01131 .01386 .016; √5 gives .01789, less than .0020 more, so from there by
    // .002 to .0351 - .001 = .0341, then .0351.
    let inches: Vec<f64> = thread
        .passes
        .iter()
        .map(|pass| (pass.depth.unwrap().mm() / 25.4 * 1e5).round() / 1e5)
        .collect();
    assert_eq!(
        inches,
        [
            0.008, 0.01131, 0.01386, 0.016, 0.018, 0.02, 0.022, 0.024, 0.026, 0.028, 0.03, 0.032,
            0.034, 0.0341, 0.0351
        ]
    );
    let last = thread.passes.last().unwrap();
    assert_eq!(last.x, Some(Diameter(inch(0.625))));
    // Towards the wall: the diameter grows.
    assert_eq!(
        thread.passes[0].x,
        Some(Diameter(inch(0.5548 + 2.0 * 0.008)))
    );
}

/// P is read as six digits from the right: a left out zero in front changes nothing, a left out
/// pair changes everything.
#[test]
fn the_six_digits_are_counted_from_the_right() {
    for (p, repeats, pull_out, infeed) in [
        ("P020560", 2, PullOut::TenthsOfLead(5), Infeed::Flank(30.0)),
        ("P20560", 2, PullOut::TenthsOfLead(5), Infeed::Flank(30.0)),
        ("P10060", 1, PullOut::None, Infeed::Flank(30.0)),
        ("P1060", 0, PullOut::TenthsOfLead(10), Infeed::Flank(30.0)),
        ("P000029", 0, PullOut::None, Infeed::Flank(14.5)),
        ("P010000", 1, PullOut::None, Infeed::Radial),
    ] {
        let thread = metric(&format!(
            "G76 {p} Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n"
        ));
        assert_eq!(thread.cut.pull_out, pull_out, "{p}");
        assert_eq!(thread.cut.infeed, infeed, "{p}");
        let at_full = depths(&thread)
            .iter()
            .filter(|&&depth| depth == 1.84)
            .count();
        // 00 still ends at full depth.
        assert_eq!(at_full, repeats.max(1), "{p}");
    }
}

/// V6: height 1.227, no allowance. 0.4 and 0.05 give 10 passes, the last step 0.027; 0.2 gives
/// 21, 0.1 gives 24 and without the clamp 151 (⌈(1.227 / 0.1)²⌉), 0.4 and 0.1 give 9. One more
/// at full depth, as the first two digits say.
#[test]
fn the_minimum_cut_ends_the_degression() {
    let thread = |first: u32, min: u32| {
        metric(&format!(
            "G76 P010060 Q{min} R0\nG76 X21.546 Z-30. P1227 Q{first} F2.\n"
        ))
    };
    let steps = numbers(&thread(400, 50), |pass| pass.step.unwrap().mm());
    assert_eq!(
        steps,
        [
            0.4, 0.166, 0.127, 0.107, 0.094, 0.085, 0.079, 0.073, 0.069, 0.027, 0.0
        ]
    );
    let rough = |first, min| thread(first, min).passes.len() - 1;
    assert_eq!(rough(400, 50), 10);
    assert_eq!(rough(200, 50), 21);
    assert_eq!(rough(100, 50), 24);
    assert_eq!(rough(100, 0), 151);
    assert_eq!(rough(400, 100), 9);
    // A minimum as large as the first cut is constant depth: 0.4 0.8 1.2 1.227.
    assert_eq!(depths(&thread(400, 400))[..4], [0.4, 0.8, 1.2, 1.227]);
}

/// The allowance R with and without a point; larger than the first cut it makes the last cut the
/// heaviest.
#[test]
fn the_finishing_allowance_is_the_last_cut() {
    for allowance in ["R0.05", "R50", "R.05"] {
        let thread = metric(&format!(
            "G76 P010060 Q100 {allowance}\nG76 X20.16 Z-30. P920 Q300 F1.5\n"
        ));
        assert_eq!(
            depths(&thread),
            [0.3, 0.424, 0.524, 0.624, 0.724, 0.824, 0.87, 0.92],
            "{allowance}"
        );
        assert_eq!(thread.passes[7].purpose, Purpose::Finish);
    }
    let heavy = metric("G76 P010060 Q50 R0.2\nG76 X20.16 Z-30. P920 Q150 F1.5\n");
    let steps = numbers(&heavy, |pass| pass.step.unwrap().mm());
    assert_eq!(steps.last(), Some(&0.2));
    assert!(steps.iter().all(|&step| step <= 0.2));
}

/// 1:16 on the diameter over 31 mm of stroke: R = -31/32. The start of each pass is 2·R smaller.
#[test]
fn the_taper_is_start_minus_end() {
    let thread = metric("G76 P010060 Q50 R0\nG76 X30.5 Z-25. R-0.96875 P1479 Q350 F2.309\n");
    // The start diameter 28 is below the end diameter 30.5, so this is read as internal: a real
    // external pipe thread starts outside of the larger end.
    assert_eq!(thread.side(), Some(Side::Internal));
    let outside = section(
        "G21\nT0303\nG97 S800 M3\nG0 X40. Z6.\nG76 P010060 Q50 R0\nG76 X30.5 Z-25. R-0.96875 P1479 Q350 F2.309\n",
    );
    assert_eq!(outside.side(), Some(Side::External));
    for pass in &outside.passes {
        let (start, end) = (pass.x_start.unwrap(), pass.x.unwrap());
        assert_eq!(start.above(end), Radial::from_mm(-0.96875));
    }
    assert_eq!(
        outside.passes.last().unwrap().x,
        Some(Diameter::from_mm(30.5))
    );
}

/// Values of the first block stay in force; those that this program never wrote are the
/// control's.
#[test]
fn a_first_block_without_q_and_r_inherits_or_leaves_open() {
    let text = format!(
        "{HEAD}G76 P021060 Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\nT0505\nG0 X40. Z6.\n\
         G76 P010060\nG76 X34.7 Z-20. P920 Q300 F1.5\nM30\n"
    );
    let program = read(&text);
    let second = &program.sections[1];
    let missing: Vec<_> = second
        .missing
        .iter()
        .map(|missing| (missing.role, missing.in_force.map(|mark| mark.line)))
        .collect();
    assert_eq!(
        missing,
        [(Role::MinCut, Some(5)), (Role::FinishAllowance, Some(5))]
    );
    let alone = metric("G76 P010060\nG76 X20.32 Z-30. P1840 Q400 F3.\n");
    assert!(!alone.passes_certain);
    assert!(
        alone
            .missing
            .iter()
            .all(|missing| missing.in_force.is_none())
    );
    // A fact about the control closes the gap.
    let settings = Settings {
        min_cut: Some(Radial::from_mm(0.05)),
        finish_allowance: Some(Radial::from_mm(0.02)),
        ..Settings::default()
    };
    let text = format!("{HEAD}G76 P020060\nG76 X20.32 Z-30. P1840 Q400 F3.\n");
    let program = ::lexer::read(text.as_bytes(), &settings);
    assert!(program.sections[0].passes_certain);
    assert_eq!(program.sections[0].passes.len(), 23);
}

/// K = 4·D. Methods 1 and 2: D·√n, 16 passes. Methods 3 and 4: D·n, 4 passes. One flank or both
/// in turn.
#[test]
fn methods_of_the_one_block_cycle() {
    let thread = |words: &str| metric(&format!("G76 X20.4 Z-30. K1.8 D0.45 A60 {words} F3.\n"));
    for (words, passes, infeed) in [
        ("", 16, Infeed::Flank(30.0)),
        ("P1", 16, Infeed::Flank(30.0)),
        ("P2", 16, Infeed::Alternating(30.0)),
        ("P3", 4, Infeed::Flank(30.0)),
        ("P4", 4, Infeed::Alternating(30.0)),
    ] {
        let thread = thread(words);
        assert_eq!(thread.syntax, Syntax::OneBlock);
        assert_eq!(thread.passes.len(), passes, "{words}");
        assert_eq!(thread.cut.infeed, infeed, "{words}");
        // Minimum cut, allowance and pull-out are the control's own.
        assert!(!thread.passes_certain);
        assert_eq!(thread.cut.pull_out, PullOut::Setting);
    }
    assert_eq!(depths(&thread("P3")), [0.45, 0.9, 1.35, 1.8]);
    assert_eq!(depths(&thread(""))[..4], [0.45, 0.636, 0.779, 0.9]);
    assert_eq!(diameters(&thread("P4")), [23.1, 22.2, 21.3, 20.4]);
    let plunge = metric("G76 X20.4 Z-30. K1.8 D0.45 A0 F3.\n");
    assert_eq!(plunge.cut.infeed, Infeed::Radial);
    assert_eq!(plunge.passes[0].z_start, Some(Length::from_mm(6.0)));
    // A number that is no method leaves no list of passes.
    let odd = thread("P7");
    assert!(odd.passes.is_empty());
    assert!(odd.unknown.iter().any(|why| why.contains("method")));
}

/// D0140 and D.014 are the same first cut on an inch control; the start angle is thousandths.
#[test]
fn a_first_cut_with_and_without_a_point() {
    for d in ["D0140", "D140", "D.014", "D0.0140"] {
        let thread = section(&format!(
            "G20\nT0303\nG97 S800 M3\nG0 X.9 Z.2\nG76 X.635 Z-.75 K.046 {d} A60 Q120000 F.0625\n"
        ));
        let first = thread.passes[0].depth.unwrap();
        assert_eq!(first, Radial(Length::from_mm(0.3556)), "{d}");
        assert_eq!(thread.cut.start_angle, Some(120_000));
    }
}

/// Each box goes from the start point to its X and back. The taper, Z and the lead stay in force
/// while X alone is written; the repeat of the last X is a spring pass.
#[test]
fn boxes_with_a_taper_and_modal_x() {
    let thread = section(
        "G21\nT0303\nG97 S800 M3\nG0 X40. Z6.\nG92 X32. Z-25. R-0.96875 F2.309\nX31.4\nX31.\nX30.7\nX30.7\n\
         G0 X100.\nX99.\n",
    );
    assert_eq!(thread.syntax, Syntax::Box);
    assert_eq!(diameters(&thread), [32.0, 31.4, 31.0, 30.7, 30.7]);
    let starts = numbers(&thread, |pass| pass.x_start.unwrap().mm());
    assert_eq!(starts[0], 30.063); // 32 - 2·0.96875 = 30.0625
    assert_eq!(starts[3], 28.763);
    for pass in &thread.passes {
        assert_eq!(pass.z_start, Some(Length::from_mm(6.0)));
        assert_eq!(pass.z_end, Some(Length::from_mm(-25.0)));
        assert_eq!(pass.lead.unwrap().mm(), 2.309);
    }
    assert_eq!(thread.passes[4].purpose, Purpose::Spring);
    let steps: Vec<_> = thread
        .passes
        .iter()
        .map(|pass| pass.step.map(Radial::mm))
        .collect();
    assert_eq!(steps, [None, Some(0.3), Some(0.2), Some(0.15), Some(0.0)]);
}

/// A box that writes U and W counts from the start point, where every box begins again.
#[test]
fn boxes_with_increments() {
    let thread = metric("G92 U-4.8 W-36. F3.\nU-5.4\nU-5.9\n");
    assert_eq!(diameters(&thread), [23.2, 22.6, 22.1]);
    assert_eq!(thread.passes[2].z_end, Some(Length::from_mm(-30.0)));
}

/// Full blocks in a row are one thread too; a rapid to another end is another thread.
#[test]
fn chains_of_full_boxes() {
    let program = read(&format!(
        "{HEAD}G92 X23.2 Z-30. F3.\nG92 X22.6 Z-30. F3.\nG92 X22.1 Z-30. F3.\nG0 X28. Z-50.\n\
         G92 X23.2 Z-70. F2.\nX22.\nG0 X100.\nM30\n"
    ));
    assert_eq!(program.sections.len(), 2);
    assert_eq!(diameters(&program.sections[0]), [23.2, 22.6, 22.1]);
    assert_eq!(diameters(&program.sections[1]), [23.2, 22.0]);
    assert_eq!(
        program.sections[1].cut.start_z,
        Val::Exact(Length::from_mm(-50.0))
    );
}

/// Systems B and C: G78 and G21 are the box; units there are G70 and G71.
#[test]
fn boxes_of_systems_b_and_c() {
    let b = section(
        "G21 G90 G95\nG92 S2000\nT3\nG97 S800 M3\nG0 X28. Z6.\nG78 X23.2 Z-30. F3.\nX22.6\nG0 X100.\n",
    );
    assert_eq!((b.syntax, diameters(&b)), (Syntax::Box, vec![23.2, 22.6]));
    let c = section("G71\nT3\nG97 S800 M3\nG0 X28. Z6.\nG21 X23.2 Z-30. F3.\nX22.6\nG0 X100.\n");
    assert_eq!((c.syntax, diameters(&c)), (Syntax::Box, vec![23.2, 22.6]));
    assert_eq!(c.cut.lead.get().unwrap().mm(), 3.0);
    let c = section(
        "G71\nT3\nG97 S800 M3\nG0 X28. Z6.\nG78 P020060 Q50 R0.02\nG78 X20.32 Z-30. P1840 Q400 F3.\n",
    );
    assert_eq!((c.syntax, c.passes.len()), (Syntax::TwoBlock, 23));
}

/// Lead 6 in two starts: Q0 and Q180000 at each diameter, lead divided by starts is the pitch.
#[test]
fn strokes_with_start_angles() {
    let thread = metric(
        "G0 X23.2\nG32 Z-30. F6. Q0\nG0 X28.\nZ6.\nX23.2\nG32 Z-30. Q180000\nG0 X28.\nZ6.\n\
         X22.4\nG32 Z-30. Q0\nG0 X28.\nZ6.\nX22.4\nG32 Z-30. Q180000\nG0 X28.\nZ6.\n",
    );
    assert_eq!(thread.cut.starts, 2);
    assert_eq!(diameters(&thread), [23.2, 23.2, 22.4, 22.4]);
    let angles: Vec<_> = thread.passes.iter().map(|pass| pass.start_angle).collect();
    assert_eq!(angles, [Some(0), Some(180_000), Some(0), Some(180_000)]);
    let purposes: Vec<_> = thread.passes.iter().map(|pass| pass.purpose).collect();
    assert_eq!(purposes, [Purpose::Rough; 4]);
    // F is modal: the strokes without it have it too.
    assert!(
        thread
            .passes
            .iter()
            .all(|pass| pass.lead.unwrap().mm() == 6.0)
    );
}

/// Taper by hand: the stroke runs from X to X; its lead counts along the longer axis, and a
/// stroke right behind it belongs to the same pass.
#[test]
fn tapered_strokes_and_chains() {
    let thread = metric("G0 X22.\nG32 X23.9375 Z-25. F2.309\nU8. W-4.\nG0 X40.\nZ6.\n");
    assert_eq!(thread.passes.len(), 1);
    let pass = &thread.passes[0];
    assert_eq!(
        (pass.x_start, pass.x),
        (
            Some(Diameter::from_mm(22.0)),
            Some(Diameter::from_mm(23.9375))
        )
    );
    assert_eq!(thread.cut.taper, Val::Exact(Length::from_mm(-0.96875)));
    assert_eq!(pass.lead.unwrap().mm(), 2.309);
    assert_eq!(pass.legs.len(), 2);
    // Along the path: 2.309·√(31² + 0.96875²)/31 = 2.310127; at 45 degrees 2.309·√2.
    assert!(
        (pass.legs[0].lead.mm() - 2.310_127).abs() < 1e-6,
        "{:?}",
        pass.legs
    );
    assert!(
        (pass.legs[1].lead.mm() - 3.265_419).abs() < 1e-6,
        "{:?}",
        pass.legs
    );
    assert_eq!(pass.legs[1].x, Diameter::from_mm(31.9375));
}

/// A tool behind the centre line writes negative diameters; cut and passes are the same as in
/// front of it.
#[test]
fn negative_diameters_are_mirrored() {
    let front = metric("G76 P021060 Q50 R0.02\nG76 X20.32 Z-30. R-0.5 P1840 Q400 F3.\n");
    let back = section(&format!(
        "{}G76 P021060 Q50 R0.02\nG76 X-20.32 Z-30. R0.5 P1840 Q400 F3.\n",
        HEAD.replace("X28.", "X-28.")
    ));
    assert_eq!(diameters(&front), diameters(&back));
    assert_eq!(front.cut.taper, back.cut.taper);
    assert_eq!(back.side(), Some(Side::External));
    assert!(back.unknown.iter().any(|why| why.contains("negative")));
    let front = metric("G92 X23.2 Z-30. R-0.5 F3.\nX22.6\n");
    let back = section(&format!(
        "{}G92 X-23.2 Z-30. R0.5 F3.\nX-22.6\n",
        HEAD.replace("X28.", "X-28.")
    ));
    assert_eq!(diameters(&front), diameters(&back));
    assert_eq!(
        numbers(&front, |pass| pass.x_start.unwrap().mm()),
        numbers(&back, |pass| pass.x_start.unwrap().mm())
    );
}
