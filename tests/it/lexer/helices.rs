//! Thread milling. Direction, hand and advance are geometry (right-handed axes, G17, tool along
//! +Z): counterclockwise and up, or clockwise and down, is a right-hand thread.

use ::lexer::program::Program;
use ::lexer::section::milling::{Compensation, Milling};
use ::lexer::section::tapping::{Axis, Hand};
use ::lexer::section::{Kind, Section, Side, Syntax};

use super::{read, section};

fn milled(text: &str) -> (Section, Milling) {
    let section = section(text);
    assert_eq!(
        (section.kind, section.syntax),
        (Kind::Milled, Syntax::Helix)
    );
    let milling = section.milling.as_deref().unwrap().clone();
    (section, milling)
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

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-6, "{a} is not {b}");
}

const HEAD: &str = "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL 16)\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\n";

#[test]
fn full_turns_from_the_middle() {
    let text = format!(
        "{HEAD}G1 Z-12. F500\nG1 X4. F200\nG3 X4. Y0 Z-10.5 I-4. J0\nG3 X4. Y0 Z-9. I-4. J0\nG1 X0\nG0 Z5.\nM30\n"
    );
    let (section, milling) = milled(&text);
    assert_eq!(section.cut.lead.get().unwrap().mm(), 1.5);
    assert_eq!(section.side(), Some(Side::Internal));
    assert_eq!(milling.hand.get(), Some(Hand::Right));
    assert_eq!(milling.climb.get(), Some(true));
    let helix = &milling.helices[0];
    close(helix.turns(), 2.0);
    close(helix.radius_mm, 4.0);
    assert_eq!((helix.start.mm(), helix.end.mm()), (-12.0, -9.0));
    assert_eq!(helix.feed.unwrap().value.mm(), 200.0);
    // The same by shape alone: up and out of the hole, from the middle and back.
    let (_, bare) = milled(&text.replace(" (THREAD MILL 16)", ""));
    assert!(!bare.stated && bare.evidence.len() == 2);
}

#[test]
fn direction_and_hand() {
    let helix = |code: &str, from: &str, to: &str| {
        format!(
            "{HEAD}G1 Z{from} F500\nG1 X4. F200\n{code} X4. Y0 Z{to} I-4. J0\nG1 X0\nG0 Z5.\nM30\n"
        )
    };
    for (code, from, to, hand, climb) in [
        ("G3", "-12.", "-10.5", Hand::Right, true),
        ("G2", "-10.5", "-12.", Hand::Right, false),
        ("G3", "-10.5", "-12.", Hand::Left, true),
        ("G2", "-12.", "-10.5", Hand::Left, false),
    ] {
        let (_, milling) = milled(&helix(code, from, to));
        assert_eq!(milling.hand.get(), Some(hand), "{code} {from} {to}");
        assert_eq!(milling.climb.get(), Some(climb), "{code} {from} {to}");
        let reversed = helix(code, from, to).replace("M3\n", "M4\n");
        assert_eq!(milled(&reversed).1.climb.get(), Some(!climb));
    }
}

#[test]
fn outside_with_compensation() {
    let (section, milling) = milled(&format!(
        "{HEAD}G0 X40. Y0\nG1 Z-2. F500\nG41 D7 G1 X15. F200\nG2 X15. Y0 Z-4. I-15. J0\nG40 G1 X40.\nG0 Z5.\nM30\n"
    ));
    assert_eq!(milling.compensation.0, Compensation::Left);
    assert_eq!(section.side(), Some(Side::External));
    assert_eq!(milling.hand.get(), Some(Hand::Right));
    assert_eq!(milling.climb.get(), Some(true));
    assert_eq!(section.cut.lead.get().unwrap().mm(), 2.0);
}

#[test]
fn half_turns_by_radius_and_modal_arcs() {
    // 3/4-16: half turns of half a pitch, 0.03125 in.
    let (section, milling) = milled(
        "G20 G90 G17 G94 G40\nT7 M6 (THREAD MILL .5)\nS2000 M3\nG0 X0 Y0\nG43 H7 Z.2\nG1 Z-.6 F20.\nG1 X.125 F5.\nG3 X-.125 Y0 Z-.56875 R.125\nX.125 Z-.5375 R.125\nG1 X0\nG0 Z1.\nM30\n",
    );
    close(milling.helices[0].turns(), 1.0);
    assert_eq!(milling.helices[0].pieces.len(), 2);
    close(section.cut.lead.get().unwrap().mm(), 25.4 / 16.0);
}

#[test]
fn turns_words() {
    let helix =
        |arc: &str| format!("{HEAD}G1 Z-12. F500\nG1 X4. F200\n{arc}\nG1 X0\nG0 Z5.\nM30\n");
    for arc in [
        "G3 X4. Y0 Z-7.5 I-4. J0 P3",
        "G3 X4. Y0 Z-7.5 I-4. J0 TURN=2",
        "G3 X4. Y0 Z-7.5 I-4. J0 L3",
        "G3 X4. Y0 Z-10.5 I-4. J0\nX4. Z-9. I-4.\nI-4. Z-7.5",
        "G91\nG3 X0 Y0 Z1.5 I-4. J0\nZ1.5 I-4.\nZ1.5 I-4.\nG90",
        "G90.1\nG3 X4. Y0 Z-7.5 I0. J0. P3\nG91.1",
    ] {
        let (section, milling) = milled(&helix(arc));
        close(milling.helices[0].turns(), 3.0);
        assert_eq!(section.cut.lead.get().unwrap().mm(), 1.5, "{arc}");
    }
    let (_, quarters) = milled(&helix(
        "G3 X0 Y4. Z-11.625 I-4. J0\nG3 X-4. Y0 Z-11.25 I0 J-4.\nG3 X0 Y-4. Z-10.875 I4. J0\nG3 X4. Y0 Z-10.5 I0 J4.",
    ));
    close(quarters.helices[0].turns(), 1.0);
    close(quarters.helices[0].pitch_mm(), 1.5);
}

#[test]
fn entry_and_exit_arcs_turn_about_the_hole() {
    // A half circle from the middle turns a quarter about the axis; one from the far side half.
    let (_, milling) = milled(&format!(
        "{HEAD}G1 Z-12.375 F500\nG3 X4. Y0 Z-12. I2. J0 F100\nG3 X4. Y0 Z-10.5 I-4. J0\nG3 X0 Y0 Z-10.125 I-2. J0\nG0 Z5.\nM30\n"
    ));
    let helix = &milling.helices[0];
    let (entry, exit) = (helix.entry.unwrap(), helix.exit.unwrap());
    close(entry.degrees, 90.0);
    close(entry.own_degrees, 180.0);
    close(entry.rise.mm(), 0.375);
    close(exit.degrees, 90.0);
    let (_, far) = milled(&format!(
        "{HEAD}G0 X-2. Y0\nG1 Z-12.75 F500\nG3 X4. Y0 Z-12. I3. J0 F100\nG3 X4. Y0 Z-10.5 I-4. J0\nG1 X0\nG0 Z5.\nM30\n"
    ));
    close(far.helices[0].entry.unwrap().degrees, 180.0);
    // A quarter circle from half the radius: 45 degrees about the axis.
    let (_, half) = milled(&format!(
        "{HEAD}G0 X2. Y-2.\nG1 Z-12.1875 F500\nG3 X4. Y0 Z-12. I0 J2. F100\nG3 X4. Y0 Z-10.5 I-4. J0\nG1 X0\nG0 Z5.\nM30\n"
    ));
    close(half.helices[0].entry.unwrap().degrees, 45.0);
}

#[test]
fn other_planes() {
    // G18: Z first, X second; G19: Y first, Z second. Up the axis and counterclockwise: right.
    let (section, milling) = milled(
        "G21 G90 G94 G40\nT7 M6 (THREAD MILL)\nS2000 M3\nG43 H7\nG0 X0 Y5. Z0\nG18\nG1 Y-12. F500\nG1 Z4. F200\nG3 X0 Y-10.5 Z4. I0 K-4.\nG1 Z0\nG0 Y5.\nM30\n",
    );
    assert_eq!(
        (milling.axis, milling.hand.get()),
        (Axis::Y, Some(Hand::Right))
    );
    assert_eq!(section.cut.lead.get().unwrap().mm(), 1.5);
    let (_, milling) = milled(
        "G21 G90 G94 G40\nT7 M6 (THREAD MILL)\nS2000 M3\nG43 H7\nG0 X5. Y0 Z0\nG19\nG1 X-12. F500\nG1 Y4. F200\nG3 X-10.5 Y4. Z0 J-4. K0\nG1 Y0\nG0 X5.\nM30\n",
    );
    assert_eq!(
        (milling.axis, milling.hand.get()),
        (Axis::X, Some(Hand::Right))
    );
}

#[test]
fn several_holes_and_radii_are_one_thread() {
    let (_, milling) = milled(&format!(
        "{HEAD}G1 Z-12. F500\nG1 X3.8 F200\nG3 Z-10.5 I-3.8\nG1 X0\nG1 Z-12.\nG1 X4.\nG3 Z-10.5 I-4.\nG1 X0\nG0 Z5.\nG0 X50.\nG1 Z-12. F500\nG1 X54. F200\nG3 Z-10.5 I-4.\nG1 X50.\nG0 Z5.\nM30\n"
    ));
    let radii: Vec<f64> = milling.helices.iter().map(|h| h.radius_mm).collect();
    assert_eq!(radii.len(), 3);
    close(radii[0], 3.8);
    close(milling.helices[2].centre.0.mm(), 50.0);
}

#[test]
fn conical_helices_change_their_radius() {
    // 1:16 on the diameter: the radius grows by 1/32 of the advance, upwards out of the hole.
    let (section, milling) = milled(
        "G21 G90 G17 G94 G40\nT7 M6 (NPT THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X8. F200\nG3 X-8.03 Y0 Z-11. I-8. J0\nG3 X8.06 Y0 Z-10. I8.03 J0\nG1 X0\nG0 Z5.\nM30\n",
    );
    let helix = &milling.helices[0];
    close(helix.turns(), 1.0);
    assert!((helix.cone_mm - 0.06).abs() < 0.011, "{}", helix.cone_mm);
    assert!(section.cut.taper.get().is_some());
}

#[test]
fn uneven_pieces_and_a_flat_one_in_the_middle_stay_one_helix() {
    let (_, milling) = milled(&format!(
        "{HEAD}G1 Z-12. F500\nG1 X4. F200\nG3 X-4. Y0 Z-11.2 I-4.\nG3 X4. Y0 I4.\nG3 X-4. Y0 Z-10. I-4.\nG3 X4. Y0 Z-9. I4.\nG1 X0\nG0 Z5.\nM30\n"
    ));
    let rises: Vec<f64> = milling.helices[0]
        .pieces
        .iter()
        .map(|p| p.rise.mm())
        .collect();
    assert_eq!(rises, [0.8, 0.0, 1.2, 1.0]);
}

#[test]
fn ramps_bores_and_pockets_are_no_threads() {
    let head = "G21 G90 G17 G94 G40\nT7 M6\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\n";
    // A bore milled on a helix: down, and a flat circle at the bottom.
    none(&format!(
        "{head}G1 Z0 F500\nG1 X4. F200\nG3 I-4. Z-1.5\nG3 I-4. Z-3.\nG3 I-4.\nG1 X0\nG0 Z5.\nM30\n"
    ));
    // A ramp into a pocket, the contour goes on.
    none(&format!(
        "{head}G0 X4.\nG1 Z0 F500\nG3 I-4. Z-1.\nG3 I-4. Z-2.\nG1 X20. F400\nG1 Y20.\nG1 X-20.\nG1 Y0\nG0 Z5.\nM30\n"
    ));
    // One turn of a ramp with lead-in.
    none(&format!(
        "{head}G1 Z0 F500\nG1 X4. F200\nG3 I-4. Z-1.5\nG3 I-4.\nG1 X0\nG0 Z5.\nM30\n"
    ));
    // An end mill that goes up, and a thread mill that mills a flat circle.
    let up = "G1 Z-12. F500\nG1 X4. F200\nG3 I-4. Z-10.5\nG3 I-4. Z-9.\nG1 X0\nG0 Z5.\nM30\n";
    none(&format!("{}{up}", head.replace("M6", "M6 (10 ENDMILL)")));
    none(&format!(
        "{HEAD}G1 Z-2. F500\nG1 X4. F200\nG3 I-4.\nG1 X0\nG0 Z5.\nM30\n"
    ));
    // Arcs in a vertical plane that move along their own axis by a hair: a surface.
    none(
        "G21 G90 G18\nT7 M6 (BALL 8)\nS9000 M3\nG0 X0 Y0 Z5.\nG2 X1. Y.1 Z5. I.5 K0 F900\nG3 X2. Y.2 Z5. I.5 K0\nM30\n",
    );
}

#[test]
fn what_may_be_either_is_said_to_be_open() {
    let program = none(
        "G21 G90 G17 G94 G40\nT7 M6\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z0 F500\nG1 X4. F200\nG3 I-4. Z-1.5\nG3 I-4. Z-3.\nG3 I-4. Z-4.5\nG1 X0\nG0 Z5.\nM30\n",
    );
    assert!(
        program
            .unread
            .iter()
            .any(|mark| mark.value.contains("helix"))
    );
}

#[test]
fn unreadable_arcs_invent_nothing() {
    for arc in [
        "G3 X4. Y0 Z-10.5 I#1 J0",
        "G3 X4. Y0 Z-10.5",
        "G3 X4. Y0 Z-10.5 R4.",
        "G3 X4. Y0 Z#2 I-4.",
        "G3 X4. Y0 Z-10.5 I-4. P#3",
        "G3 X4. Y0 Z-10.5 I-4. P99999999999",
    ] {
        none(&format!(
            "{HEAD}G1 Z-12. F500\nG1 X4. F200\n{arc}\nG1 X0\nG0 Z5.\nM30\n"
        ));
    }
}
