use super::*;
use crate::program::Settings;

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn read(text: &str) -> Program {
    crate::read(text.as_bytes(), &Settings::default())
}

fn outer(text: &str, z: f64) -> Option<f64> {
    let program = read(text);
    let contour = program.contour(program.sections.len() - 1);
    contour.outer_at(mm(z)).map(|surface| surface.x.mm())
}

fn inner(text: &str, z: f64) -> Option<f64> {
    let program = read(text);
    let contour = program.contour(program.sections.len() - 1);
    contour.inner_at(mm(z)).map(|surface| surface.x.mm())
}

const THREAD: &str = "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100. Z100.\nM30\n";

const SHAFT: &str = "G21\nG50 S2000\nT0101\nG96 S180 M3\nG0 X52. Z2.\nG71 U2. R0.5\nG71 P80 Q130 U0.4 W0.1 F0.25\nN80 G0 X25.\nN90 G1 Z0. F0.15\nN100 X29.9 Z-2.5\nN110 Z-45.\nN120 X46.\nN130 Z-80.\n";

#[test]
fn a_roughed_and_finished_contour() {
    let finished = format!("{SHAFT}G70 P80 Q130\nG0 X100. Z100.\n{THREAD}");
    assert_eq!(outer(&finished, -20.0), Some(29.9));
    assert_eq!(outer(&finished, -60.0), Some(46.0));
    assert_eq!(outer(&finished, -1.0), Some(26.96));
    assert_eq!(outer(&finished, -90.0), None);
    let program = read(&finished);
    let contour = program.contour(0);
    let crest = Diameter::from_mm(29.9);
    let shoulder = contour
        .shoulder(Side::External, mm(0.0), -1, crest)
        .unwrap();
    assert_eq!(
        (shoulder.z, shoulder.x.mm(), shoulder.by.line),
        (mm(-45.0), 46.0, 12)
    );
    let chamfer = contour
        .chamfer(Side::External, crest, -1, mm(-34.0))
        .unwrap();
    assert_eq!((chamfer.x.mm(), chamfer.by.line), (25.0, 10));
    assert_eq!(
        contour.relief(Side::External, (mm(-30.0), mm(-45.0)), crest),
        None
    );
    // Roughing alone leaves its allowance.
    let roughed = format!("{SHAFT}G0 X100. Z100.\n{THREAD}");
    assert_eq!(outer(&roughed, -20.0), Some(30.3));
}

#[test]
fn a_contour_whose_blocks_are_missing_is_unknown() {
    let text = format!(
        "G21\nT0101\nG0 X52. Z2.\nG71 U2. R0.5\nG71 P80 Q130 U0.4 F0.25\nG0 X100. Z100.\n{THREAD}"
    );
    let program = read(&text);
    let contour = program.contour(0);
    assert!(contour.doubt.is_some_and(|doubt| doubt.line == 5));
    assert!(contour.is_unknown(Side::External));
}

#[test]
fn boxes_of_three_systems() {
    for (head, code, face) in [
        ("G21\n", "G90", "G94"),
        ("G21 G90 G95\nG92 S2000\n", "G77", "G79"),
        ("G71\nG90 G95\n", "G20", "G24"),
    ] {
        let thread = match code {
            "G90" => "G92 X29. Z-30. F2.\nX28.\nX27.546\n",
            "G77" => "G78 X29. Z-30. F2.\nX28.\nX27.546\n",
            _ => "G21 X29. Z-30. F2.\nX28.\nX27.546\n",
        };
        let text = format!(
            "{head}T0101\nG97 S900 M3\nG0 X44. Z2.\n{code} X40. Z-45. F0.2\nX35.\nX29.9 Z-40.\n{face} X0. Z0.5 F0.1\nZ0.\nG0 X100. Z100.\nT0303\nG0 X34. Z8.\n{thread}G0 X100. Z100.\nM30\n"
        );
        assert_eq!(outer(&text, -20.0), Some(29.9), "{text}");
        assert_eq!(outer(&text, -42.0), Some(35.0), "{text}");
        let program = read(&text);
        let contour = program.contour(0);
        let shoulder = contour.shoulder(Side::External, mm(0.0), -1, Diameter::from_mm(29.9));
        assert_eq!(shoulder.map(|s| s.z), Some(mm(-40.0)), "{text}");
    }
}

#[test]
fn bores_are_told_by_the_retract() {
    let bore = "G21\nT0202\nG96 S150 M3\nG0 X32.75 Z2.\nG1 Z-28. F0.15\nG0 X31. Z5.\nG0 X150. Z150.\nT0404\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.6 Z-27. F3.\nX36.\nG0 Z50.\nM30\n";
    assert_eq!(inner(bore, -10.0), Some(32.75));
    assert_eq!(outer(bore, -10.0), None);
    // Faced out at the bottom and withdrawn along the axis.
    let blind = bore.replace("G0 X31. Z5.\n", "X30.\nG0 Z5.\n");
    assert_eq!(inner(&blind, -10.0), Some(32.75));
    // Dragged out of the bore: nothing tells the side.
    let dragged = bore.replace("G0 X31. Z5.\n", "G0 Z5.\n");
    assert_eq!(
        (inner(&dragged, -10.0), outer(&dragged, -10.0)),
        (None, None)
    );
    // A chamfer that narrows tells it.
    let chamfered = dragged.replace("G0 X32.75 Z2.\n", "G0 X37. Z0.\nG1 X32.75 Z-2.\n");
    assert_eq!(inner(&chamfered, -10.0), Some(32.75));
}

#[test]
fn reliefs_turned_and_plunged() {
    let turned = "G21\nT0101\nG0 X30. Z2.\nG1 X30. Z-31. F0.2\nX26.5 Z-32.\nZ-36.\nX46.\nZ-50.\nG0 X60. Z100.\n";
    let text = format!("{turned}{THREAD}");
    let program = read(&text);
    let contour = program.contour(0);
    let crest = Diameter::from_mm(30.0);
    let relief = contour
        .relief(Side::External, (mm(-30.0), mm(-40.0)), crest)
        .unwrap();
    assert_eq!(
        (relief.x.mm(), relief.z, relief.plunged, relief.by.line),
        (26.5, (mm(-36.0), mm(-32.0)), false, 6)
    );
    let shoulder = contour.shoulder(Side::External, mm(0.0), -1, crest);
    assert_eq!(shoulder.map(|s| s.z), Some(mm(-36.0)));
    let plunged = "G21\nT0101\nG0 X30. Z2.\nG1 X30. Z-36. F0.2\nX46.\nZ-50.\nG0 X60. Z100.\nT0202\nG0 X48. Z-36.\nG1 X26.4 F0.08\nG0 X48.\nG0 X100. Z100.\n";
    let text = format!("{plunged}{THREAD}");
    let program = read(&text);
    let relief = program
        .contour(0)
        .relief(Side::External, (mm(-30.0), mm(-40.0)), crest)
        .unwrap();
    assert!(
        relief.plunged && relief.x == Diameter::from_mm(26.4),
        "{relief:?}"
    );
    // The grooving cycle says the same.
    let cycle = plunged.replace("G1 X26.4 F0.08\n", "G75 R0.5\nG75 X26.4 P2000 F0.08\n");
    let text = format!("{cycle}{THREAD}");
    let program = read(&text);
    let relief = program
        .contour(0)
        .relief(Side::External, (mm(-30.0), mm(-40.0)), crest);
    assert_eq!(relief.map(|r| r.x.mm()), Some(26.4));
}

#[test]
fn arcs_have_their_height() {
    // A quarter of a circle of 3 mm from the face to the outside, by R and by I and K.
    for words in ["R3.", "I0. K-3."] {
        let text = format!(
            "G21\nT0101\nG0 X24. Z2.\nG1 Z0. F0.2\nG3 X30. Z-3. {words}\nG1 Z-40.\nG0 X60. Z100.\n{THREAD}"
        );
        let at = outer(&text, -1.0).unwrap();
        // X = 24 + 2·√(9 − 2²).
        assert!(
            (at - (24.0 + 2.0 * 5f64.sqrt())).abs() < 1e-6,
            "{words} {at}"
        );
    }
}

#[test]
fn what_is_not_known_stays_unknown() {
    for (block, doubt) in [
        ("G1 X#5 Z-40. F0.2\n", true),
        ("M98 P1000\n", true),
        ("G65 P9010 A1. B2.\n", true),
        ("G0 Z-40.\n", false),
    ] {
        let text =
            format!("G21\nT0101\nG0 X30. Z2.\nG1 Z-40. F0.2\n{block}G0 X60. Z100.\n{THREAD}");
        let program = read(&text);
        assert_eq!(program.contour(0).doubt.is_some(), doubt, "{text}");
    }
    // The part is turned round, or the zero moves: what was cut before lies elsewhere.
    for block in ["M0\n", "G55\n"] {
        let text =
            format!("G21\nT0101\nG0 X30. Z2.\nG1 Z-40. F0.2\nG0 X60. Z100.\n{block}{THREAD}");
        let program = read(&text);
        assert!(program.contour(0).before.is_empty(), "{text}");
        assert!(program.contour(0).doubt.is_none(), "{text}");
    }
}

#[test]
fn what_is_cut_behind_the_thread_is_apart() {
    let text = "G21\nO1\nT0101\nG0 X30. Z2.\nG1 Z-40. F0.2\nG0 X60. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100. Z100.\nT0505\nG0 X26. Z1.\nG1 X32. Z-2. F0.1\nG0 X60. Z100.\nM30\nO2\nT0101\nG0 X20. Z2.\nG1 Z-9. F0.2\nG0 X60.\nM30\n";
    let program = read(text);
    let contour = program.contour(0);
    assert_eq!((contour.before.len(), contour.after.len()), (1, 1));
    assert_eq!(contour.after[0].line, 15);
}

#[test]
fn a_long_program_says_so_and_stays_small() {
    let mut text = String::from("G21\nT0101\n");
    for step in 0..5000 {
        text.push_str(&format!(
            "G0 X{0}.\nG1 Z-{1}.\n",
            40 + step % 7,
            10 + step % 3
        ));
    }
    text.push_str(THREAD);
    let program = read(&text);
    assert!(program.contour(0).doubt.is_some());
    assert!(program.turning.segments.len() <= 2048);
    // Without a thread nothing is kept.
    let text = text.replace(THREAD, "M30\n");
    assert_eq!(read(&text).turning, Turning::default());
}
