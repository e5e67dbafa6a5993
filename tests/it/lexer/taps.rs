//! Tapping in all its ways. The words of the cycles are those of the RS274/NGC documentation and,
//! for turning machines, M29, G331, G63 and the calls, as usually described (from memory);
//! lead = feed over speed is arithmetic.

use ::lexer::program::Program;
use ::lexer::section::tapping::{Axis, Hand, Stray, Tapping, Way};
use ::lexer::section::{Kind, Section, Syntax};

use super::{read, section};

fn tapped(text: &str) -> (Section, Tapping) {
    let section = section(text);
    assert_eq!((section.kind, section.syntax), (Kind::Tapped, Syntax::Tap));
    let tapping = section.tapping.as_deref().unwrap().clone();
    assert_eq!(section.passes.len(), tapping.holes.len());
    (section, tapping)
}

fn lead(section: &Section) -> f64 {
    section.cut.lead.get().unwrap().mm()
}

/// X and Y of the holes in mm.
fn places(tapping: &Tapping) -> Vec<(f64, f64)> {
    let mm = |v: Option<::lexer::units::Length>| v.map_or(f64::NAN, |v| v.mm());
    let holes = tapping.holes.iter();
    holes.map(|hole| (mm(hole.at[0]), mm(hole.at[1]))).collect()
}

fn none(text: &str) -> Program {
    let program = read(text);
    assert!(
        program.sections.is_empty(),
        "{text}\n{:?}",
        program.sections
    );
    program
}

#[test]
fn feed_per_minute_is_divided_by_the_speed() {
    let (section, tapping) = tapped(
        "G21 G17 G90 G94\nT5 M6 (M8 TAP)\nS300 M3\nG0 X0 Y0\nG43 H5 Z10\nG98 G84 X10 Y10 Z-20 R3 F375\nX30\nX30 Y40\nG80\nM30\n",
    );
    assert_eq!(lead(&section), 1.25);
    assert_eq!(places(&tapping), [(10.0, 10.0), (30.0, 10.0), (30.0, 40.0)]);
    assert_eq!(tapping.way, Way::Cycle);
    assert_eq!(tapping.hand.get(), Some(Hand::Right));
    assert_eq!(tapping.synchronised.get(), None);
    assert!(tapping.per_minute.unwrap().0);
    assert!(tapping.cancelled.is_some() && tapping.left_active.is_empty());
    assert_eq!(section.cut.start_z.get().unwrap().mm(), 3.0);
    assert_eq!(section.cut.end_z.get().unwrap().mm(), -20.0);
    assert_eq!((section.first_line, section.last_line), (6, 8));
}

#[test]
fn inch_feeds_stay_ratios() {
    let (section, _) =
        tapped("G20 G90 G94\nT5 M6\nM29 S600\nG0 X0 Y1.\nG84 X1. Y1. Z-.75 R.2 F30.\nG80\nM30\n");
    // 1/4-20: 30 in/min at 600 1/min (handbook: feed = speed over threads per inch).
    assert_eq!(
        section.cut.lead.get(),
        ::lexer::units::Lead::per_inch(200_000)
    );
}

#[test]
fn feed_per_turn_is_the_lead() {
    let (section, tapping) = tapped(
        "G21 G90 G95 G17\nT5 M6\nS300 M4\nG0 X0 Y0\nG43 H5 Z10.\nG99 G74 X10. Y5. Z-20. R3. F1.25\nX20. Y6.\nG80\nM30\n",
    );
    assert_eq!(lead(&section), 1.25);
    assert_eq!(tapping.hand.get(), Some(Hand::Left));
    assert!(!tapping.per_minute.unwrap().0);
}

#[test]
fn without_a_mode_word_the_size_of_f_decides() {
    let head = "G21 G90 G17\nT5 M6\nS500 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y5. Z-20. R3. ";
    let (minute, tapping) = tapped(&format!("{head}F500\nG80\nM30\n"));
    assert_eq!(
        (lead(&minute), tapping.per_minute),
        (1.0, Some((true, None)))
    );
    assert!(minute.unknown.iter().any(|why| why.contains("by its size")));
    let (turn, tapping) = tapped(&format!("{head}F1.\nG80\nM30\n"));
    assert_eq!(
        (lead(&turn), tapping.per_minute),
        (1.0, Some((false, None)))
    );
    // 3 mm a turn at 20 1/min, or 0.15 mm: neither can be said.
    let open = head.replace("S500", "S20");
    let (open, tapping) = tapped(&format!("{open}F3.\nG80\nM30\n"));
    assert_eq!((open.cut.lead.get(), tapping.per_minute), (None, None));
}

#[test]
fn m29_makes_it_rigid_and_says_its_speed() {
    let text = "G21 G90 G94\nT5 M6\nG0 X0 Y0 S400 M3\nG43 H5 Z10.\nM29 S500\nG84 X10. Y5. Z-20. R3. F500. Q4.\nY15.\nG80\nM30\n";
    let (section, tapping) = tapped(text);
    let rigid = tapping.rigid.unwrap();
    assert_eq!(rigid.speed.unwrap().value, 500.0);
    assert_eq!((rigid.motion, rigid.later_speed), (None, None));
    assert_eq!(tapping.synchronised.get(), Some(true));
    assert_eq!(tapping.peck.unwrap().mm(), 4.0);
    // A block with Y alone is a hole too.
    assert_eq!(places(&tapping), [(10.0, 5.0), (10.0, 15.0)]);
    assert_eq!(lead(&section), 1.0);
    let (_, moved) = tapped(&text.replace("M29 S500\n", "M29 S500\nG0 X10.\nS450\n"));
    let rigid = moved.rigid.unwrap();
    assert_eq!(rigid.motion.unwrap().line, 6);
    assert_eq!(rigid.later_speed.unwrap().value, 450.0);
}

#[test]
fn repeats_and_increments_count_holes() {
    let (_, tapping) = tapped(
        "G21 G90 G94 G17\nT5 M6\nS500 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y5. Z-20. R3. F500\nG91 X8. L3\nG90 G80\nM30\n",
    );
    assert_eq!(
        places(&tapping),
        [(10.0, 5.0), (18.0, 5.0), (26.0, 5.0), (34.0, 5.0)]
    );
    // K0 stores the words only.
    let (_, stored) = tapped(
        "G21 G90 G94 G17\nT5 M6\nS500 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y5. Z-20. R3. F500 K0\nX40. Y6.\nG80\nM30\n",
    );
    assert_eq!(places(&stored), [(40.0, 6.0)]);
    // All incremental: R from where the tool stands, Z from R.
    let (section, _) = tapped(
        "G21 G90 G94 G17\nT5 M6\nS500 M3\nG0 X0 Y0\nG43 H5 Z10.\nG91\nG84 X10. Y5. Z-23. R-7. F500\nG80\nG90\nM30\n",
    );
    assert_eq!(section.cut.start_z.get().unwrap().mm(), 3.0);
    assert_eq!(section.cut.end_z.get().unwrap().mm(), -20.0);
    // More than any plate has: counted, not listed.
    let (section, many) = tapped(
        "G21 G90 G94 G17\nT5 M6\nS500 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y5. Z-20. R3. F500 L900000000\nG80\nM30\n",
    );
    assert!(many.holes.len() <= 20_000 && many.count > many.holes.len());
    assert!(section.unknown.iter().any(|why| why.contains("list ends")));
}

#[test]
fn turning_machines_tap_along_z_and_across() {
    let (section, tapping) = tapped(
        "G50 S3000\nT0505 (TAP M6)\nG97 S400 M3\nG99\nG0 X0 Z5.\nM29 S400\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n",
    );
    assert_eq!((lead(&section), tapping.axis), (1.0, Axis::Z));
    assert_eq!(section.cut.start_z.get().unwrap().mm(), 5.0);
    assert_eq!(tapping.hand.get(), Some(Hand::Right));
    // M4 in front of the same code: left.
    let (_, left) = tapped(
        "G50 S3000\nT0505\nG97 S400 M4\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n",
    );
    assert_eq!(left.hand.get(), Some(Hand::Left));
    // Live tool on the side, three holes round the part.
    let (side, tapping) = tapped(
        "G50 S3000\nT0707 (M5 TAP LIVE)\nG97 S600 M13\nG98\nG0 X50. Z-12. C0.\nG88 X30. R5. F480.\nC120.\nC240.\nG80\nG0 X100.\nM30\n",
    );
    assert_eq!((lead(&side), tapping.axis), (0.8, Axis::X));
    assert_eq!(tapping.holes.len(), 3);
    assert_eq!(tapping.holes[2].bottom.get().unwrap().mm(), 30.0);
    assert_eq!(tapping.holes[0].at[2].unwrap().mm(), -12.0);
}

#[test]
fn strokes_of_the_interpreter_and_slanted_ones() {
    let text = "G21 G17 G90 G40\nG97 S300 M3\nG0 X10 Y10 Z5\nG33.1 Z-20 K1.25\nG0 X20\nG33.1 Z-20 K1.25 I2\nG0 Z20\nM2\n";
    let (section, tapping) = tapped(text);
    assert_eq!((lead(&section), tapping.way), (1.25, Way::Stroke));
    assert_eq!(tapping.synchronised.get(), Some(true));
    assert_eq!(places(&tapping), [(10.0, 10.0), (20.0, 10.0)]);
    assert_eq!(tapping.slanted, None);
    let (_, slanted) = tapped(&text.replace("G33.1 Z-20 K1.25 I2", "G33.1 X21 Z-20 K1.25"));
    assert_eq!(slanted.slanted.unwrap().line, 6);
}

#[test]
fn interpolated_tapping_reads_both_strokes() {
    let (section, tapping) = tapped(
        "G90 G17 G71\nT=\"M10 TAP\" M6\nG0 X20 Y30 Z5\nSPOS=0\nG331 Z-25 K-1.5 S350\nG332 Z5 K-1.5\nG0 X40\nG331 Z-25 K-1.5 S350\nG332 Z5 K-1.5\nM30\n",
    );
    assert_eq!((lead(&section), tapping.way), (1.5, Way::Interpolated));
    assert_eq!(tapping.hand.get(), Some(Hand::Left));
    assert_eq!(tapping.holes.len(), 2);
    assert_eq!(tapping.returns.len(), 2);
    assert_eq!(tapping.returns[0].lead.unwrap().mm(), -1.5);
}

#[test]
fn a_straight_floating_tap() {
    let (section, tapping) = tapped(
        "G21 G90 G94 G17\nT5 M6\nS200 M3\nG0 X20. Y30. Z5.\nG63 Z-25. F300.\nG63 Z5. M4\nG0 Z50.\nM30\n",
    );
    assert_eq!((lead(&section), tapping.way), (1.5, Way::FloatingMove));
    assert_eq!(tapping.synchronised.get(), Some(false));
    assert_eq!((tapping.holes.len(), tapping.returns.len()), (1, 1));
}

#[test]
fn calls_with_positions() {
    let (section, tapping) = tapped(
        "G90 G17\nT5 M6\nS500 M3\nG0 X0 Y0 Z50\nMCALL CYCLE84(50,0,2,-18,,0,3,,1.25,0,400,600)\nX10 Y10\nX30 Y10\nMCALL\nG0 Z100\nM30\n",
    );
    assert_eq!((lead(&section), tapping.way), (1.25, Way::Call));
    assert_eq!(places(&tapping), [(10.0, 10.0), (30.0, 10.0)]);
    assert_eq!(
        (tapping.rpm, tapping.retract_rpm),
        (Some(400.0), Some(600.0))
    );
    assert_eq!(section.cut.start_z.get().unwrap().mm(), 2.0);
    assert_eq!(section.cut.end_z.get().unwrap().mm(), -18.0);
    assert_eq!(tapping.hand.get(), Some(Hand::Right));
    // A size instead of a pitch, minus for the left hand, depth from the reference plane.
    let (section, tapping) = tapped(
        "G90 G17\nT5 M6\nS500 M3\nG0 X7 Y8 Z50\nCYCLE840(50,0,2,,20,0,4,3,1,-10,)\nG0 Z100\nM30\n",
    );
    assert_eq!((tapping.way, tapping.size), (Way::FloatingCall, Some(10.0)));
    assert_eq!(section.cut.lead.get(), None);
    assert_eq!(tapping.hand.get(), Some(Hand::Left));
    assert_eq!(section.cut.end_z.get().unwrap().mm(), -20.0);
    assert_eq!(places(&tapping), [(7.0, 8.0)]);
}

#[test]
fn drills_are_found_at_the_same_place() {
    let text = "G21 G90 G94 G17\n(DRILL 6.8)\nT4 M6\nS1200 M3\nG0 X0 Y0\nG43 H4 Z10.\nG83 X10. Y10. Z-24. R2. Q4. F120\nX30.\nG80\n(M8 TAP)\nT5 M6\nS300 M3\nG43 H5 Z10.\nG84 X10. Y10. Z-20. R3. F375\nX30.\nX50.\nG80\nM30\n";
    let (_, tapping) = tapped(text);
    let bottoms: Vec<Option<f64>> = tapping
        .holes
        .iter()
        .map(|hole| hole.drilled.as_ref().map(|drilled| drilled.bottom.mm()))
        .collect();
    assert_eq!(bottoms, [Some(-24.0), Some(-24.0), None]);
    let drilled = tapping.holes[0].drilled.as_ref().unwrap();
    assert_eq!((drilled.code, drilled.block.line), (830, 7));
    assert_eq!(drilled.notes.len(), 1);
    assert_eq!(tapping.left_active.len(), 1);
    assert_eq!(tapping.left_active[0].why, Stray::NotDrilled);
    // Another work offset is another place.
    let (_, elsewhere) = tapped(&text.replace("T5 M6", "G55\nT5 M6"));
    assert!(elsewhere.holes.iter().all(|hole| hole.drilled.is_none()));
}

#[test]
fn a_drill_on_the_axis_of_a_turning_machine() {
    for drilling in [
        "G74 R1.\nG74 Z-22. Q5000 F0.1",
        "G83 Z-22. Q5000 F0.1\nG80",
        "G1 Z-22. F0.1",
    ] {
        let (_, tapping) = tapped(&format!(
            "G50 S3000\nT0202 (DRILL 5)\nG97 S900 M3\nG99\nG0 X0 Z5.\n{drilling}\nG0 Z100.\nT0505 (M6 TAP)\nG97 S400 M3\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n"
        ));
        let drilled = tapping.holes[0].drilled.as_ref();
        assert_eq!(drilled.map(|d| d.bottom.mm()), Some(-22.0), "{drilling}");
    }
}

#[test]
fn positions_behind_a_stop_a_change_or_a_retract_are_strays() {
    let head = "G21 G90 G94 G17\nT5 M6\nS300 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y10. Z-20. R3. F375\nX30.\n";
    for (tail, holes) in [
        ("M5\nX50.\nM30\n", 3),
        ("Z50.\nG0 X0\nM30\n", 2),
        ("T6 M6\nX50.\nM30\n", 2),
    ] {
        let (_, tapping) = tapped(&format!("{head}{tail}"));
        assert_eq!(tapping.left_active.len(), 1, "{tail}");
        assert_eq!(tapping.holes.len(), holes, "{tail}");
    }
    for tail in [
        "G80\nM5\nG0 X50.\nM30\n",
        "G0 Z50.\nX0\nM30\n",
        "G28 Z0\nM5\nG0 X0\nM30\n",
    ] {
        let (_, tapping) = tapped(&format!("{head}{tail}"));
        assert!(tapping.left_active.is_empty(), "{tail}");
    }
}

#[test]
fn what_is_no_tapping() {
    // Peck drilling and grooving on a turning machine, boring and drilling on a mill.
    none(
        "G50 S2000\nT0202\nG99 G97 S900 M3\nG0 X0 Z5.\nG74 R1.\nG74 Z-50. Q5000 F0.1\nG0 Z100.\nM30\n",
    );
    none(
        "G21 G90 G17\nT5 M6\nS600 M3\nG0 X0 Y0\nG43 H5 Z10.\nG88 X10. Y10. Z-20. R3. P500 F60\nX30.\nG80\nM30\n",
    );
    none(
        "G21 G90 G17\nT5 M6\nS600 M3\nG0 X0 Y0\nG43 H5 Z10.\nG85 X10. Y10. Z-20. R3. F60\nG86 X30. Y10. Z-20. R3. F60\nG80\nM30\n",
    );
    // Tapping mode alone moves nothing.
    none("G21 G90 G17\nT5 M6\nS600 M3\nG0 X0 Y0\nG63\nG1 X10. Y5. F100\nG64\nM30\n");
    // The older way with numbered parameters is said not to be read.
    let program = none(
        "G50 S2000\nT0505\nG97 S400 M3\nG0 X0 Z5.\nG84 R2=5 R3=-15 R9=1 R10=5\nG0 Z100.\nM30\n",
    );
    assert!(
        program
            .unread
            .iter()
            .any(|mark| mark.value.contains("tapping")),
        "{:?}",
        program.unread
    );
}

#[test]
fn two_speeds_are_two_sections() {
    let program = read(
        "G21 G90 G94 G17\nT5 M6\nS300 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y10. Z-20. R3. F375\nS400\nG84 X30. Y10. F500\nG80\nT6 M6\nS200 M3\nG43 H6 Z10.\nG84 X10. Y50. Z-20. R3. F300\nG80\nM30\n",
    );
    let leads: Vec<f64> = program.sections.iter().map(lead).collect();
    assert_eq!(leads, [1.25, 1.25, 1.5]);
}

/// Where M6 changes tools, a T word alone only stages the next one.
#[test]
fn a_staged_tool_changes_nothing() {
    let text = "G21 G90 G94 G17\n(M8 TAP)\nT5 M6\nT6 (NEXT)\nS300 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y10. Z-20. R3. F375.\nX30.\nT7\nX50.\nG80\n(M10 TAP)\nM6\nS200 M3\nG84 X10. Y50. Z-20. R3. F300.\nG80\nM30\n";
    let program = read(text);
    assert_eq!(program.sections.len(), 2, "{:?}", program.sections);
    let first = &program.sections[0];
    let tapping = first.tapping.as_ref().unwrap();
    assert_eq!((tapping.holes.len(), tapping.left_active.len()), (3, 0));
    assert_eq!(first.tool.unwrap().value, 5);
    assert_eq!(first.notes[0].line, 2);
    let second = &program.sections[1];
    assert_eq!(second.tool.unwrap().value, 7);
    let lines: Vec<u32> = second.notes.iter().map(|note| note.line).collect();
    assert_eq!(lines, [13]);
}
