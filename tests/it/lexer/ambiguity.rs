//! Codes that mean a thread in one family of controls and something else in another
//! (`lexer/src/codes.rs` has the table). Nothing here is taken for a thread that is none, and what
//! the text leaves open is said.

use ::lexer::evidence::Family;
use ::lexer::program::{Program, Settings};
use ::lexer::section::Syntax;

use super::{read, section};

fn no_thread(text: &str) -> Program {
    let program = read(text);
    assert!(
        program.sections.is_empty(),
        "{text}\n{:?}",
        program.sections
    );
    program
}

fn says(program: &Program, part: &str) -> bool {
    program.unread.iter().any(|mark| mark.value.contains(part))
}

#[test]
fn g92_without_a_lead_is_a_preset() {
    no_thread(
        "O0012\nG92 X0 Z124\nG99 G97 S800 M3 T0101\nG0 X40. Z2.\nG1 Z-30. F0.2\nG0 X200.\nM30\n",
    );
    no_thread(
        "G50 S2000\nT0101\nG96 S180 M3\nG92 X250. Z150.\nG0 X42. Z1.\nG1 Z-30. F.2\nG0 X250. Z150.\nM30\n",
    );
    no_thread("G21 G90\nG92 X0 Y0 Z50\nG0 X10 Y10\nG1 Z-2 F200\nG92 X0 Y0\nM2\n");
}

/// A preset moves the origin: what follows counts from it.
#[test]
fn a_preset_sets_the_position() {
    let thread = section(
        "G92 X120. Z80.\nT0303\nG99 G97 S800 M3\nG0 U-92. W-74.\nG92 X23.2 Z-30. F3.\nX22.6\nG0 X120. Z80.\nM30\n",
    );
    assert_eq!(thread.cut.start_x.get().unwrap().mm(), 28.0);
    assert_eq!(thread.cut.start_z.get().unwrap().mm(), 6.0);
}

#[test]
fn g92_with_s_is_a_clamp() {
    let program = read(
        "G21 G90 G95\nT3\nG92 S2500\nG96 S180 M3\nG0 X28. Z6.\nG1 Z-30. F.2\nG97 S600\nG0 X28. Z6.\n\
         G78 X23.2 Z-30. F3.\nX22.6\nG0 X100.\nM30\n",
    );
    assert_eq!(program.family, Family::SystemB);
    assert_eq!(program.sections.len(), 1);
    let spindle = program.sections[0].spindle;
    assert_eq!(spindle.clamp.unwrap().value, 2500.0);
    assert_eq!(spindle.rpm(), Some(600.0));
    no_thread("G21 G90 G95\nT3\nG92 S2500\nG96 S180 M4\nG0 X28. Z6.\nG1 Z-30. F.2\nM30\n");
}

/// In system A a G92 with X and Z but no F, behind a feed, is either: the lead may be modal.
#[test]
fn g92_with_a_modal_feed_is_left_open() {
    let program = read(
        "G50 S2000\nT0303\nG99 G97 S800 M3\nG0 X28. Z6.\nG1 X27. F3.\nG0 X28.\nG92 X23.2 Z-30.\nX22.6\nG0 X100.\nM30\n",
    );
    assert!(program.sections.is_empty());
    assert!(says(&program, "G92"), "{:?}", program.unread);
    // Behind a box the lead is modal for certain.
    let thread = section(
        "T0303\nG99 G97 S800 M3\nG0 X28. Z6.\nG92 X23.2 Z-30. F3.\nG92 X22.6 Z-30.\nG0 X100.\nM30\n",
    );
    assert_eq!(thread.passes.len(), 2);
    assert_eq!(thread.passes[1].lead.unwrap().mm(), 3.0);
}

#[test]
fn g76_on_a_mill_is_fine_boring() {
    no_thread(
        "O1000\nG21 G90 G17 G40 G80\nT5 M6\nG54 G0 X50. Y20.\nG43 H5 Z50. S800 M3\n\
         G98 G76 X50. Y20. Z-20. R2. Q0.2 P500 F80\nX80. Y20.\nG80\nM30\n",
    );
    // Without X and Y, at the place where the tool stands.
    no_thread(
        "G21 G90 G17\nT5 M6\nG54 G0 X50. Y20. S800 M3\nG43 H5 Z50.\nG76 Z-20. R2. Q0.2 F80\nX80.\nG80\nM30\n",
    );
    // X alone, the row of holes lies along X.
    no_thread(
        "G21 G90 G17\nT5 M6\nG54 G0 X50. Y20. S800 M3\nG43 H5 Z50.\nG99 G76 X50. Z-20. R2. Q0.2 P500 F80\nX80.\nX110.\nG80\nM30\n",
    );
    // Nothing else says what the machine is: a hole cycle moves along Z alone.
    no_thread("G76 Z-20. R2. Q0.2 F80\n");
    no_thread("G0 X0 Z50.\nG76 X10. Z-20. R2. Q0.2 P500 F80\n");
}

#[test]
fn g92_g33_and_g32_on_a_mill_are_no_threads() {
    no_thread(
        "G21 G90 G17\nT5 M6\nG0 X0 Y0\nG43 H5 Z50.\nG92 X0 Y0 Z0\nG33 Z-20. F1.5\nG0 Z50.\nM30\n",
    );
    no_thread("G20 G90 G17\nT5 M6\nG0 X0 Y0\nG43 H5 Z2.\nG92 Z1. F10.\nG1 X1. Y1. F10.\nM30\n");
    // G84 and G74 tap there.
    let program = read(
        "G21 G90 G17\nT5 M6\nG0 X0 Y0\nG43 H5 Z50.\nG84 Z-20. R5. F800\nX10. Y5.\nG80\nG74 X0 Y0 Z-20. R5. F800\nG80\nM30\n",
    );
    let tapped: Vec<usize> = program
        .sections
        .iter()
        .map(|section| section.tapping.as_ref().unwrap().holes.len())
        .collect();
    assert_eq!(tapped, [2, 1]);
}

#[test]
fn g74_on_a_lathe_is_peck_drilling() {
    no_thread("T0202\nG99 G97 S900 M3\nG0 X0 Z5.\nG74 R1.\nG74 Z-50. Q5000 F0.1\nG0 Z100.\nM30\n");
    no_thread(
        "T0202\nG99 G97 S900 M3\nG0 X40. Z-10.\nG75 R.5\nG75 X30. Z-20. P2000 Q2500 F0.08\nG0 X100.\nM30\n",
    );
    let tap = section(
        "T0202\nG99 G97 S900 M3\nG0 X0 Z5.\nG83 Z-50. Q5000 F0.1\nG80\nG84 Z-20. F1.5\nG80\nG0 Z100.\nM30\n",
    );
    assert_eq!(tap.syntax, Syntax::Tap);
}

/// G21 is millimetres unless a block writes it with X, Z and F and no motion code.
#[test]
fn g21_is_units_before_it_is_a_box() {
    let program = read(
        "G21 G40 G99\nT0303\nG97 S800 M3\nG21 G0 X28. Z6.\nG92 X23.2 Z-30. F3.\nX22.6\nG0 X100.\nM30\n",
    );
    assert_eq!(program.family, Family::SystemA);
    assert_eq!(program.sections[0].passes.len(), 2);
    let program = read("G21 G1 X28. Z6. F0.2\nZ-30.\nG0 X100.\nM30\n");
    assert!(program.sections.is_empty());
    assert_ne!(program.family, Family::SystemC);
    assert!(program.units.is_some());
    let program =
        read("G71\nT3\nG97 S800 M3\nG0 X28. Z6.\nG21 X23.2 Z-30. F3.\nX22.6\nG0 X100.\nM30\n");
    assert_eq!(program.family, Family::SystemC);
    assert_eq!(program.sections.len(), 1);
}

/// A family of controls writes the multi-pass cycle as G71 with H and B or D in one block and has
/// a box in G33; how it splits the depth without M75 is not known.
#[test]
fn the_compound_family_is_told_by_its_cycle() {
    let program = read(
        "T0303\nG97 S800 M3\nG0 X28 Z6\nG71 X20.32 Z-30 B60 D0.8 U0.1 H3.68 L1.5 F3\nG0 X40\nG33 X23.2 Z-30 F3\nX22.6\nG0 X100\nM2\n",
    );
    assert_eq!(program.family, Family::Compound);
    let syntaxes: Vec<_> = program.sections.iter().map(|s| s.syntax).collect();
    assert_eq!(syntaxes, [Syntax::Compound, Syntax::Box]);
    assert!(program.sections[0].passes.is_empty());
    assert!(!program.sections[0].passes_certain);
    assert_eq!(program.sections[1].passes.len(), 2);
    // Its own words in a single G33 are not guessed.
    let program = read("T0303\nG97 S800 M3\nG0 X28 Z6\nG33 X23.2 Z-30 F3 L1.5 E2\nG0 X100\nM2\n");
    for section in &program.sections {
        assert!(!section.unknown.is_empty(), "{section:?}");
        assert!(!section.passes_certain);
    }
}

/// G76 with a motion code is a corner modifier in that family, not a cycle.
#[test]
fn g76_beside_a_motion_code_is_no_cycle() {
    let program = no_thread(
        "T0101\nG97 S800 M3\nG0 X28. Z6.\nG1 G76 X20. L2. F.2\nG76 G1 Z-20. L2.\nG0 X100.\nM30\n",
    );
    assert!(program.unread.is_empty(), "{:?}", program.unread);
}

#[test]
fn g78_and_g82_belong_to_other_families() {
    // Hole cycles, and what may be one.
    no_thread(
        "G21 G90 G17\nT5 M6\nG0 X0 Y0\nG43 H5 Z50.\nG82 X10. Y10. Z-5. R2. P500 F100\nG80\nM30\n",
    );
    no_thread("T0303\nG97 S800 M3\nG0 X28. Z6.\nG82 X23.2 Z-30. R1. F3.\nG0 X100.\nM30\n");
}

/// What nothing decides is said with the evidence.
#[test]
fn changing_leads_and_unknown_ways_are_said() {
    let program = no_thread("T0303\nG97 S800 M3\nG0 X28. Z6.\nG35 Z-30. F3. K.1\nG0 X100.\nM30\n");
    assert!(says(&program, "shrinking lead"));
    let program = no_thread(
        "T0303\nG97 S800 M3\nG0 X28. Z6.\nG76 X20. Z-30. C2 E1. V.1 U.05 F3.\nG0 X100.\nM30\n",
    );
    assert!(says(&program, "multi-pass"), "{:?}", program.unread);
}

/// The configured family overrides what the text seems to be.
#[test]
fn a_configured_family_decides() {
    let text = "T3\nG97 S800 M3\nG0 X28. Z6.\nG92 X23.2 Z-30. F3.\nX22.6\nG0 X100.\nM30\n";
    assert_eq!(section(text).syntax, Syntax::Box);
    let settings = Settings {
        family: Some(Family::SystemB),
        ..Settings::default()
    };
    assert!(
        ::lexer::read(text.as_bytes(), &settings)
            .sections
            .is_empty()
    );
}
