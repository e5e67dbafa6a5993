//! Threads by calls, by the compound cycle, by G82 and with a changing lead: worked by hand. The
//! places of the arguments and the laws are from memory where `lexer/src/syntax/call.rs` and
//! `compound.rs` say so.

use lexer::evidence::Family;
use lexer::program::{Program, Settings};
use lexer::section::tapping::Hand;
use lexer::section::{Infeed, Kind, PullOut, Purpose, Role, Section, Side, Syntax};
use lexer::units::{Diameter, Length};

fn read(text: &str) -> Program {
    lexer::read(text.as_bytes(), &Settings::default())
}

fn section(text: &str) -> Section {
    let mut program = read(text);
    assert_eq!(
        program.sections.len(),
        1,
        "{text}\n{:?}\n{:?}",
        program.sections,
        program.unread
    );
    program.sections.remove(0)
}

fn round(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn diameters(section: &Section) -> Vec<f64> {
    let passes = section.passes.iter();
    passes.map(|pass| round(pass.x.unwrap().mm())).collect()
}

fn says(program: &Program, part: &str) -> bool {
    program.unread.iter().any(|mark| mark.value.contains(part))
}

const HEAD: &str = "%_N_VALVE_SPINDLE_MPF\n; VALVE SPINDLE\nN10 G90 G95 DIAMON\nN20 T=\"THREAD 60\" D1\nN30 G97 S800 M3 LIMS=3000\n";

fn call(line: &str) -> Section {
    section(&format!(
        "{HEAD}N40 G0 X30 Z6\nN50 {line}\nN60 G0 X100 Z100\nN70 M30\n"
    ))
}

/// Bolt of 24 mm, lead 3: depth 1.84, 0.05 left for the last cut. Equal areas:
/// 1.79·√(n/4) = 0.895, 1.266, 1.55, 1.79; then 1.84, and one pass without new depth.
#[test]
fn a_bolt_with_equal_areas() {
    let thread = call("CYCLE97(3,,0,-30,24,24,6,2,1.84,0.05,30,0,4,1,3,1,2)");
    assert_eq!((thread.syntax, thread.kind), (Syntax::Call, Kind::Turned));
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(
        diameters(&thread),
        [22.21, 21.469, 20.9, 20.42, 20.32, 20.32]
    );
    let purposes: Vec<_> = thread.passes.iter().map(|pass| pass.purpose).collect();
    assert_eq!(
        purposes[3..],
        [Purpose::Rough, Purpose::Finish, Purpose::Spring]
    );
    let cut = &thread.cut;
    assert_eq!(cut.crest_x.get(), Some(Diameter::from_mm(24.0)));
    assert_eq!(cut.root_x.get(), Some(Diameter::from_mm(20.32)));
    assert_eq!(cut.start_x.get(), Some(Diameter::from_mm(28.0)));
    // Run-in before 0, run-out behind -30.
    assert_eq!(cut.start_z.get(), Some(Length::from_mm(6.0)));
    assert_eq!(cut.end_z.get(), Some(Length::from_mm(-32.0)));
    assert_eq!(cut.lead.get().unwrap().mm(), 3.0);
    assert_eq!(cut.infeed, Infeed::Flank(30.0));
    // Along the flank: 0.895 · tan 30 = 0.517 towards -Z.
    assert_eq!(round(thread.passes[0].z_start.unwrap().mm()), 5.483);
    assert_eq!(thread.spindle.rpm(), Some(800.0));
    assert_eq!(thread.spindle.clamp.unwrap().value, 3000.0);
    assert!(thread.passes_certain, "{:?}", thread.unknown);
    let lead = thread.word(Role::Lead).unwrap();
    assert_eq!(lead.length(), Some(Length::from_mm(3.0)));
    assert_eq!(
        thread.word(Role::EndZ).unwrap().length(),
        Some(Length::from_mm(-32.0))
    );
}

/// Nut with equal depths: 1.0 less 0.1 in three cuts of 0.3, then 0.1. The diameter is that of the
/// bore.
#[test]
fn a_nut_with_equal_depths() {
    let thread = call("cycle97(2, , 0, -20, 27.835, 27.835, 5, 3, 1, 0.1, -27.5, 0, 3, 0, 2, 1)");
    assert_eq!(thread.side(), Some(Side::Internal));
    assert_eq!(diameters(&thread), [28.435, 29.035, 29.635, 29.835]);
    assert_eq!(thread.cut.infeed, Infeed::Alternating(27.5));
    // The clearance is a millimetre, of which the manual page says no more.
    let start = thread.cut.start_x.get().unwrap().mm();
    assert!((25.8..26.9).contains(&start), "{start}");
}

/// The same thread in the other order.
#[test]
fn the_other_order() {
    let thread = call("CYCLE99(0,40,-30,40,2,1,0.92,0.05,30,0,5,1,1.5,1300101,1)");
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(thread.cut.lead.get().unwrap().mm(), 1.5);
    // (0.92 - 0.05) · n / 5
    assert_eq!(
        diameters(&thread),
        [39.652, 39.304, 38.956, 38.608, 38.26, 38.16, 38.16]
    );
    assert_eq!(thread.cut.start_z.get(), Some(Length::from_mm(2.0)));
    assert_eq!(thread.cut.end_z.get(), Some(Length::from_mm(-31.0)));
}

#[test]
fn arguments_in_the_order_of_the_other_call_are_said() {
    let text = format!(
        "{HEAD}N40 G0 X50 Z6\nN50 CYCLE99(1.5,,0,-30,40,40,2,1,0.92,0.05,30,0,5,1,1,1)\nN60 M30\n"
    );
    let program = read(&text);
    assert!(program.sections.is_empty(), "{:?}", program.sections);
    assert!(says(&program, "order of the other"), "{:?}", program.unread);
    let text = text.replace(
        "CYCLE99(1.5,,0,-30,40,40,2,1,0.92,0.05,30,0,5,1,1,1)",
        "CYCLE97(0,40,-30,40,2,1,0.92,0.05,30,0,5,1,1.5,1300101,1)",
    );
    assert!(says(&read(&text), "order of the other"));
}

/// MPIT 24 is the coarse pitch 3 of M24; PIT beside another size says nothing.
#[test]
fn the_lead_by_the_nominal_size() {
    let thread = call("CYCLE97(,24,0,-30,24,24,6,2,1.84,0,30,0,4,0,3,1)");
    assert_eq!(thread.cut.lead.get().unwrap().mm(), 3.0);
    let both = call("CYCLE97(2,24,0,-30,24,24,6,2,1.84,0,30,0,4,0,3,1)");
    assert!(both.cut.lead.why().unwrap().contains("MPIT"));
    let same = call("CYCLE97(3,24,0,-30,24,24,6,2,1.84,0,30,0,4,0,3,1)");
    assert_eq!(same.cut.lead.get().unwrap().mm(), 3.0);
}

/// A cone 1:16 over 20 mm, diameters at both ends: 6 mm of run-in and 2 mm of run-out follow it.
/// Slope 1.25 / 20 of diameter: start 33.249 - 0.375, end 34.499 + 0.125; radius difference
/// (32.874 - 34.624) / 2 = -0.875.
#[test]
fn a_cone() {
    let thread = call("CYCLE97(2.309,,0,-20,33.249,34.499,6,2,1.479,0.05,27.5,0,6,0,3,1,3)");
    let cut = &thread.cut;
    assert_eq!(round(cut.taper.get().unwrap().mm()), -0.875);
    assert_eq!(round(cut.crest_x.get().unwrap().mm()), 34.624);
    let last = thread.passes.last().unwrap();
    assert_eq!(round(last.x_start.unwrap().mm()), round(32.874 - 2.958));
    // 3 mm of radius outside the thicker end.
    assert_eq!(round(cut.start_x.get().unwrap().mm()), 40.624);
    assert!(thread.unknown.iter().any(|why| why.contains("cone")));
}

#[test]
fn several_starts() {
    let thread = call("CYCLE97(6,,0,-30,24,24,9,3,1.84,0,30,30,2,0,1,2,2)");
    assert_eq!(thread.cut.starts, 2);
    let angles: Vec<_> = thread.passes.iter().map(|pass| pass.start_angle).collect();
    assert_eq!(
        angles,
        [Some(30_000), Some(30_000), Some(210_000), Some(210_000)]
    );
    assert!(
        thread
            .unknown
            .iter()
            .any(|why| why.contains("several starts"))
    );
}

#[test]
fn variables_and_gaps_stay_unknown() {
    let thread = call("CYCLE97(R1,,0,-30,24,24,6,2,R2+0.1,0.05,30,0,4,1,3,1)");
    assert!(thread.cut.lead.why().unwrap().contains("PIT"));
    assert!(thread.passes.is_empty());
    let thread = call("CYCLE97(,,0,-30,24,24,6,2,1.84,0.05,30,0,,1,3,1)");
    assert!(thread.passes.is_empty());
    assert!(
        thread
            .missing
            .iter()
            .any(|missing| missing.letters == "PIT")
    );
    for (line, why) in [
        ("CYCLE97(3,,0,0,24,30,6,2,1.84,0.05,30,0,4,1,3,1)", "face"),
        ("CYCLE97(3,,0,-30,24,24,6,2,1.84", "not closed"),
        ("CYCLE70(50,0,2,-20,,60,50,2,500,2,0,0,0)", "not known"),
        ("CYCLE90(50,0,2,-20,,60,50,2,500,,0,0,0)", "CDIR"),
    ] {
        let program = read(&format!("{HEAD}{line}\nM30\n"));
        assert!(program.sections.is_empty(), "{line}");
        assert!(says(&program, why), "{line} {:?}", program.unread);
    }
}

/// CYCLE90: order and numbers of the arguments from memory; the hand is geometry. Core diameter of
/// M60x2 inside: 60 - 1.0825 * 2 = 57.835, height (60 - 57.835) / 2 = 1.0825.
#[test]
fn a_thread_milling_call() {
    let head = "G21 G17 G90 G94\nT7 M6\nS2000 M3\nG0 X0 Y0 Z10\n";
    let milled = |arguments: &str| {
        let mut program = read(&format!("{head}CYCLE90({arguments})\nG0 Z50\nM30\n"));
        assert_eq!(
            program.sections.len(),
            1,
            "{arguments} {:?}",
            program.unread
        );
        program.sections.remove(0)
    };
    let mm = |x: lexer::units::Diameter| x.mm();
    let hole = milled("50,0,2,-20,,60,57.835,2,500,2,0,0,0");
    assert_eq!((hole.kind, hole.syntax), (Kind::Milled, Syntax::Call));
    assert_eq!(hole.cut.side.get(), Some(Side::Internal));
    assert_eq!(hole.cut.crest_x.get().map(mm), Some(57.835));
    assert_eq!(hole.cut.root_x.get().map(mm), Some(60.0));
    assert_eq!(hole.cut.height.get().map(|h| h.mm()), Some(1.0825));
    assert_eq!(hole.cut.lead.get().map(|lead| lead.mm()), Some(2.0));
    assert_eq!(hole.cut.start_z.get().map(|z| z.mm()), Some(0.0));
    assert_eq!(hole.cut.end_z.get().map(|z| z.mm()), Some(-20.0));
    // Clockwise and down is right-hand, and in a hole against the cutter.
    let milling = hole.milling.unwrap();
    assert_eq!(
        (milling.hand.get(), milling.climb.get()),
        (Some(Hand::Right), Some(false))
    );
    // Counterclockwise and up: right-hand too, and climbing; the depth above the reference plane.
    let up = milled("50,-20,2,0,,60,57.835,2,500,3,0,0,0")
        .milling
        .unwrap();
    assert_eq!(
        (up.hand.get(), up.climb.get()),
        (Some(Hand::Right), Some(true))
    );
    let left = milled("50,0,2,-20,,60,57.835,2,500,3,0,0,0")
        .milling
        .unwrap();
    assert_eq!(
        (left.hand.get(), left.climb.get()),
        (Some(Hand::Left), Some(true))
    );
    // A bolt, its depth from the reference plane.
    let bolt = milled("50,0,2,,18,60,57.546,2,500,2,1,0,0");
    assert_eq!(bolt.cut.side.get(), Some(Side::External));
    assert_eq!(bolt.cut.crest_x.get().map(mm), Some(60.0));
    assert_eq!(bolt.cut.end_z.get().map(|z| z.mm()), Some(-18.0));
    assert_eq!(bolt.milling.unwrap().climb.get(), Some(true));
    // What is not a number stays unknown, with its name.
    let open = milled("50,0,2,-20,,R1,57.835,R2,500,2,,0,0");
    assert!(open.cut.lead.why().unwrap().contains("PIT"));
    assert!(open.cut.side.why().unwrap().contains("TYPTH"));
    // At every position of a modal call.
    let text = format!(
        "{head}MCALL CYCLE90(50,0,2,-20,,60,57.835,2,500,2,0,0,0)\nG0 X40 Y0\nX-40\nMCALL\nG0 Z50\nM30\n"
    );
    let program = read(&text);
    assert!(
        program
            .sections
            .iter()
            .all(|section| section.kind == Kind::Milled)
    );
    assert_eq!(program.sections.len(), 2);
}

/// A modal call cuts at every motion behind it, until a bare MCALL.
#[test]
fn a_modal_call() {
    let text = format!(
        "{HEAD}MCALL CYCLE97(3,,0,-30,24,24,6,2,1.84,0.05,30,0,4,1,3,1)\nG0 X40 Z6\nMCALL\nG0 X100 Z100\nM30\n"
    );
    let thread = section(&text);
    assert_eq!(thread.passes.len(), 6);
    assert_eq!((thread.first_line, thread.last_line), (6, 7));
    let twice = read(&text.replace("MCALL\nG0 X100", "G0 X42\nMCALL\nG0 X100"));
    let lines: Vec<_> = twice
        .sections
        .iter()
        .map(|s| (s.first_line, s.last_line, s.chase))
        .collect();
    assert_eq!(lines, [(6, 7, false), (8, 8, true)]);
    let none = text.replace("G0 X40 Z6\nMCALL", "MCALL");
    assert!(read(&none).sections.is_empty());
}

/// Three threads in one stroke: the longest is the thread.
#[test]
fn a_chain() {
    let thread = call("CYCLE98(0,30,-10,30,-40,36,-50,36,4,2,0.92,0.05,30,0,3,0,1.5,2,1.5,1,1,2)");
    assert_eq!(thread.cut.lead.get().unwrap().mm(), 2.0);
    // (0.92 - 0.05) · n / 3, then 0.92, below the crest of 36.
    assert_eq!(diameters(&thread), [35.42, 34.84, 34.26, 34.16]);
    let pass = &thread.passes[0];
    let ends: Vec<_> = pass.legs.iter().map(|leg| leg.z.mm()).collect();
    assert_eq!(ends, [-10.0, -40.0, -52.0]);
    assert_eq!(
        pass.z_start.map(|z| round(z.mm())),
        Some(round(4.0 - 0.29 * 30f64.to_radians().tan()))
    );
}

/// Strokes of the call style: K along Z, I along X, the start angle by SF.
#[test]
fn strokes_with_k_and_sf() {
    let program = read(
        "DIAMON G90 G95\nT3 D1\nS1=600 M1=3\nG0 X=32 Z=6 ; APPROACH\nX=29.2\nG33 Z=-30 K=2 SF=90.5\nG0 X32\nZ6\n\
         X28.4\nG33 Z-30 K2 SF=90.5\nG0 X32\nZ6\nM30\n",
    );
    assert_eq!(program.family, Family::Call, "{:?}", program.reasons);
    assert!(program.faults.is_empty(), "{:?}", program.faults);
    let thread = &program.sections[0];
    assert_eq!(thread.cut.lead.get().unwrap().mm(), 2.0);
    assert_eq!(thread.cut.start_angle, Some(90_500));
    assert_eq!(diameters(thread), [29.2, 28.4]);
    assert_eq!(thread.spindle.rpm(), Some(600.0));
    assert!(thread.spindle.turning.is_some());
    // The lead of a cone is the one along Z.
    let cone = section(
        "DIAMON G90\nS500 M3 LIMS=2000\nG0 X40 Z6\nX30\nG33 X32 Z-26 K2\nG0 X40\nZ6\nM30\n",
    );
    assert_eq!(cone.cut.lead.get().unwrap().mm(), 2.0);
    let face =
        section("DIAMON G90\nS500 M3 LIMS=2000\nG0 X80 Z6\nZ-0.5\nG33 X40 I2\nG0 Z6\nX80\nM30\n");
    assert!(face.is_facing());
    assert_eq!(face.cut.lead.get().unwrap().mm(), 2.0);
}

/// Radii under DIAMOF; DIAM90 counts distances as radii.
#[test]
fn diameters_and_radii_by_name() {
    let text = "DIAMOF G90\nS500 M3 LIMS=2000\nG0 X16 Z6\nX14.6\nG33 Z-30 K2\nG0 X16\nZ6\nM30\n";
    assert_eq!(diameters(&section(text)), [29.2]);
    let text =
        "DIAM90 G90\nS500 M3 LIMS=2000\nG0 X32 Z6\nG91 X-1.4\nG33 Z-36 K2\nG0 X1.4\nG90 Z6\nM30\n";
    assert_eq!(diameters(&section(text)), [29.2]);
}

const COMPOUND: &str = "T0303\nG97 S800 M3\nG0 X28 Z6\n";

/// D, H and U count in diameter: height 1.84, first cut 0.4, 0.05 left. 0.4·√n until 1.79.
#[test]
fn the_compound_cycle() {
    let thread = section(&format!(
        "{COMPOUND}M23\nG71 X20.32 Z-30 B60 D0.8 U0.1 H3.68 L1.5 F3 M32 M75\nG0 X40\nM2\n"
    ));
    assert_eq!(thread.syntax, Syntax::Compound);
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(thread.cut.crest_x.get(), Some(Diameter::from_mm(24.0)));
    assert_eq!(thread.passes.len(), 22);
    assert_eq!(diameters(&thread)[..3], [23.2, 22.869, 22.614]);
    assert_eq!(diameters(&thread)[20..], [20.42, 20.32]);
    assert_eq!(thread.cut.infeed, Infeed::Flank(30.0));
    assert_eq!(thread.cut.pull_out, PullOut::Axial(Length::from_mm(1.5)));
    // Without M75 the split is not known, the geometry is.
    let open = section(&format!(
        "{COMPOUND}G71 X20.32 Z-30 B60 D0.8 U0.1 H3.68 F6 J2 M33\nG0 X40\nM2\n"
    ));
    assert!(open.passes.is_empty());
    assert_eq!(open.cut.lead.get().unwrap().mm(), 3.0);
    assert_eq!(open.cut.infeed, Infeed::Alternating(30.0));
    assert_eq!(open.cut.pull_out, PullOut::Setting);
    // On a face the lead is known, the depths are not.
    let face = section(&format!("{COMPOUND}G72 X20 Z-2 B60 D0.8 W0.1 H3 F3\nM2\n"));
    assert_eq!(face.cut.lead.get().unwrap().mm(), 3.0);
    assert_eq!(face.cut.end_z.get(), Some(Length::from_mm(-2.0)));
    assert!(face.passes.is_empty() && !face.passes_certain);
    assert!(face.side().is_none() && face.unknown[0].contains("once or twice"));
    let several = section(&format!(
        "{COMPOUND}G72 X20 Z-2 B60 D0.8 H3 L2 F3 Q2 M23\nM2\n"
    ));
    assert!(several.unknown[1].contains("several starts"));
    assert_eq!(several.cut.pull_out, PullOut::Setting);
    // Roughing by G71 and G72 is no thread anywhere.
    let rough = read(&format!(
        "{COMPOUND}G71 U2. R1.\nG71 P10 Q20 U.4 W.1 F.25\nN10 G0 X20.\nG1 Z-30.\nN20 X28.\nM2\n"
    ));
    assert!(rough.sections.is_empty() && rough.unread.is_empty());
}

#[test]
fn the_box_of_the_compound_family() {
    let program = read(&format!(
        "{COMPOUND}G71 X20.32 Z-30 B60 D0.8 H3.68 F3 M32 M75\nG0 X40 Z6\nG33 X38.4 Z-30 F6 J3\nX37.8\nX37.5\nG0 X100\nM2\n"
    ));
    assert_eq!(program.family, Family::Compound);
    let [_, boxes] = program.sections.as_slice() else {
        panic!("{:?}", program.sections);
    };
    assert_eq!(boxes.syntax, Syntax::Box);
    assert_eq!(diameters(boxes), [38.4, 37.8, 37.5]);
    assert_eq!(boxes.cut.lead.get().unwrap().mm(), 2.0);
    assert!(boxes.passes_certain);
}

/// G82 is a box where X steps in alone behind it, or E or C stands in it; a hole everywhere else.
#[test]
fn the_box_of_the_g82_family() {
    let thread = section(
        "T0303\nG97 S800 M3\nG0 X28. Z6.\nG82 X23.2 Z-30. F3.\nX22.6\nX22.1\nG0 X100.\nM30\n",
    );
    assert_eq!(thread.syntax, Syntax::Box);
    assert_eq!(diameters(&thread), [23.2, 22.6, 22.1]);
    let thread = section(
        "T0303\nG97 S800 M3\nG0 X28. Z6.\nG82 X23.2 Z-30. R-1.5 E1. F3.\nG82 X22.6 Z-30. R-1.5 E1. F3.\nG0 X100.\nM30\n",
    );
    assert_eq!(diameters(&thread), [23.2, 22.6]);
    assert_eq!(thread.cut.taper.get(), Some(Length::ZERO));
    for silent in [
        "G21 G90 G17\nT5 M6\nG0 X0 Y0\nG43 H5 Z50.\nG82 X10. Y10. Z-5. R2. P500 F100\nX12.\nG80\nM30\n",
        "T0202\nG97 S900 M3\nG0 X0 Z5.\nG82 Z-20. P500 F0.1\nG80\nG0 Z100.\nM30\n",
        "T0202\nG97 S900 M3\nG0 X0 Z5.\nG82 X0 Z-20. R2. P500 F0.1\nG80\nG0 Z100.\nM30\n",
        "G21 G90\nT5 M6\nS900 M3\nG82 X40. Z-5. F80\nX42.\nX44.\nG80\nM30\n",
        "G21 G90\nT5 M6\nS900 M3\nG82 X40. Z-5. R2. F8\nX42.\nX44.\nG80\nM30\n",
    ] {
        let program = read(silent);
        assert!(
            program.sections.is_empty(),
            "{silent}\n{:?}",
            program.sections
        );
        assert!(program.unread.is_empty(), "{silent}\n{:?}", program.unread);
    }
}

/// √(3² + 2 · 0.1 · 36) = √16.2 = 4.0249; K -0.1: √1.8 = 1.3416; K -0.2 ends before.
#[test]
fn a_growing_and_a_shrinking_lead() {
    let thread = |words: &str| {
        section(&format!(
            "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\nX23.2\nG34 Z-30. {words}\nG0 X28.\nZ6.\nX22.6\nG34 Z-30. {words}\nG0 X28.\nZ6.\nM30\n"
        ))
    };
    for (words, end) in [
        ("F3. K.1", Some(4.025)),
        ("F3. K-.1", Some(1.342)),
        ("F3. K-.2", None),
    ] {
        let thread = thread(words);
        assert_eq!(thread.passes.len(), 2, "{words}");
        assert!(thread.cut.lead.why().unwrap().contains("changes"));
        let change = thread.passes[0].lead_change.unwrap();
        assert_eq!(change.end.map(|lead| round(lead.mm())), end, "{words}");
        assert_eq!(thread.passes[0].lead.unwrap().mm(), 3.0);
    }
    let call = section(
        "DIAMON G90\nS500 M3 LIMS=2000\nG0 X28 Z6\nX23.2\nG35 Z-30 K3 F0.1\nG0 X28\nZ6\nM30\n",
    );
    let change = call.passes[0].lead_change.unwrap();
    assert_eq!(change.end.map(|lead| round(lead.mm())), Some(1.342));
    let unknown = thread("F3. K#5");
    assert_eq!(unknown.passes[0].lead_change, None);
    assert!(unknown.cut.lead.get().is_none());
    assert!(!unknown.passes_certain);
}

/// What speaks for the family, on snippets.
#[test]
fn the_call_family_is_known_by_its_text() {
    for text in [
        "%_N_PUMP_SHAFT_MPF\nG0 X20 Z5\nG1 Z-20 F0.2\nM30\n",
        "; PUMP SHAFT\nDEF REAL DEPTH\nG0 X=20 Z=5\nM30\n",
        "G0 X20 Z5\nCYCLE95(\"SHAFT\",2,0.1,0.1,,0.2,0.1,0.2,9)\nM30\n",
        "N10 G96 S200 LIMS=3000 M4\nN20 G0 X20 Z5\nM30\n",
        "G90 DIAMON\nG0 X20 Z5\nS1=500 M1=3\nM30\n",
        "MSG(\"THREAD\")\nSETMS(1)\nT=\"ROUGH\" D1\nM30\n",
    ] {
        let program = read(text);
        assert_eq!(program.family, Family::Call, "{text} {:?}", program.reasons);
        assert!(program.faults.is_empty(), "{text} {:?}", program.faults);
    }
    for (text, family) in [
        (
            "; comment\nG21\nG50 S2000\nG0 X28. Z6.\nG92 X23.2 Z-30. F3.\nX22.6\n",
            Family::SystemA,
        ),
        (
            "; comment\ng8 g18\ng0 x10 z2\ng33 z-10 k1.5\n",
            Family::Interpreter,
        ),
        ("G20 G40\nG43 H1 Z1.\nG1 X1. Y1. F10.\n", Family::Mill),
    ] {
        assert_eq!(read(text).family, family, "{text}");
    }
}

/// A tool by its name: another name is another tool.
#[test]
fn tools_by_name_part_sections() {
    let program = read(
        "DIAMON G90\nS500 M3 LIMS=2000\nT=\"ROUGH\" D1\nG0 X28 Z6\nX23.2\nG33 Z-30 K2\nG0 X28\nZ6\nT=\"FINISH\" D1\n\
         X22.6\nG33 Z-30 K2\nG0 X28\nZ6\nM30\n",
    );
    assert_eq!(program.sections.len(), 2);
}

/// Every truncation of a program is read without a panic.
#[test]
fn cut_off_anywhere() {
    let text = format!(
        "{HEAD}N40 G0 X=IC(-2) Z=R5*2\nMCALL CYCLE97(3,,0,-30,24,24,6,2,1.84,0.05,30,0,4,1,3,1)\nX=40\nMCALL\n\
         CYCLE98(0,30,-10,30,-40,36,-50,36,4,2,0.92,0.05,30,0,3,0,1.5,2,1.5,1,1,2)\n\
         G71 X20.32 Z-30 B60 D0.8 U0.1 H3.68 L1.5 F3 M32 M75\nG34 Z-30 F3 K.1\nM30\n"
    );
    for end in 0..text.len() {
        let program = read(&text[..end]);
        assert!(program.sections.len() < 8);
    }
}
