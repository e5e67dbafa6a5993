//! The passes of one syntax written in another: what comes out, what is lost, and what cannot be
//! said.

use lexer::evidence::Family;
use lexer::program::Settings;
use lexer::section::{PullOut, Section, Syntax, Val};
use lexer::syntax::{Cannot, Style, Written, write};
use lexer::units::{Diameter, Length, Radial, Units};

const TWO_BLOCK: &str = "G76 P020060 Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n";
const PULLED: &str = "G76 P011060 Q0 R0\nG76 X20.32 Z-30. P1840 Q600 F3.\n";
const IRREGULAR: &str = "G92 X23.2 Z-30. F3.\nX22.6\nX22.1\nX21.7\nX21.4\nX20.32\nG0\n";
const CONSTANT: &str = "G92 X23.2 Z-30. F3.\nX22.4\nX21.6\nX20.8\nX20.32\nX20.32\nG0\n";
const ONE_BLOCK: &str = "G76 X20.32 Z-30. K1.84 D0.4 A60 F3.\n";

fn section(blocks: &str) -> Section {
    let text = format!("G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n{blocks}G0 X200.\nM30\n");
    let mut program = lexer::read(text.as_bytes(), &Settings::default());
    assert_eq!(program.sections.len(), 1, "{text}");
    program.sections.remove(0)
}

fn interpreted(blocks: &str) -> Section {
    let text = format!("G21 G18 G7\nT3\nG97 S800 M3\nG0 X28. Z6.\n{blocks}M2\n");
    let mut program = lexer::read(text.as_bytes(), &Settings::default());
    assert_eq!(program.sections.len(), 1, "{text}");
    program.sections.remove(0)
}

/// A list of strokes or boxes does not say its crest; whoever converts it must.
fn with_crest(mut section: Section) -> Section {
    section.cut.crest_x = Val::Exact(Diameter::from_mm(24.0));
    section.cut.height = Val::Exact(Radial::from_mm(1.84));
    section
}

fn to(section: &Section, syntax: Syntax, family: Family) -> Result<Written, Cannot> {
    let style = Style::new(family, Units::Millimetre);
    write(&section.cut, &section.passes, syntax, &style)
}

fn text(section: &Section, syntax: Syntax, family: Family) -> String {
    to(section, syntax, family).unwrap().text
}

fn why(section: &Section, syntax: Syntax, family: Family) -> String {
    to(section, syntax, family).unwrap_err().0
}

#[test]
fn any_list_of_passes_is_strokes_or_boxes() {
    let two_block = section(TWO_BLOCK);
    let strokes = to(&two_block, Syntax::Strokes, Family::SystemA).unwrap();
    assert_eq!(strokes.text.matches("G32").count(), two_block.passes.len());
    assert!(
        strokes.text.starts_with(
            "G0 Z5.769\nG0 X23.2\nG32 Z-30. F3.\nG0 X28.\nG0 Z5.673\nG0 X22.869\nG32 Z-30. F3.\n"
        ),
        "{}",
        strokes.text
    );
    // Half of a last digit, on the diameter and along Z.
    assert!(strokes.deviation > Length::ZERO);
    assert!(strokes.deviation <= Length::from_mm(0.0005));
    assert_eq!(strokes.lost, Vec::<String>::new());
    let boxes = to(&two_block, Syntax::Box, Family::SystemB).unwrap();
    // The repeats at full depth need X alone.
    assert_eq!(
        boxes.text.matches("G78").count(),
        two_block.passes.len() - 1
    );
    assert!(boxes.text.ends_with("X20.32\nG0\n"), "{}", boxes.text);
    assert_eq!(
        text(&section(CONSTANT), Syntax::Box, Family::SystemC),
        CONSTANT.replace("G92", "G21")
    );
}

/// A stroke of the interpreter counts K along its path.
#[test]
fn a_tapered_box_becomes_strokes() {
    let tapered = section("G92 X30.5 Z-25. R-1. F2.309\nG0\n");
    assert!(
        text(&tapered, Syntax::Strokes, Family::SystemA)
            .starts_with("G0 X28.5\nG32 X30.5 Z-25. F2.309\n")
    );
    let k = 2.309 * (31f64.hypot(1.0)) / 31.0;
    let expected = format!("G0 X14.25\nG33 X15.25 Z-25. K{k:.4}\n");
    let got = text(&tapered, Syntax::Strokes, Family::Interpreter);
    assert!(got.starts_with(&expected), "{got}");
}

#[test]
fn square_root_laws_are_exchanged() {
    // Without a clamp and an allowance: n = 1.. of 0.6·√n, full depth, one pass more.
    let written = to(&section(PULLED), Syntax::DriveLine, Family::Interpreter).unwrap();
    assert_eq!(written.text, "G76 P3. Z-30. I-2. J0.6 R2 K1.84 Q30 H1\n");
    assert_eq!(written.lost.len(), 2, "{:?}", written.lost);
    assert!(written.lost[0].contains("pull-out over 1.0 leads"));
    assert!(written.lost[1].contains("where each pass ends"));

    // The one-block cycle ends with one pass at full depth: its last step becomes the allowance.
    let mut one_block = section(ONE_BLOCK);
    assert!(why(&one_block, Syntax::TwoBlock, Family::SystemA).contains("pull-out"));
    one_block.cut.pull_out = PullOut::None;
    let written = to(&one_block, Syntax::TwoBlock, Family::SystemA).unwrap();
    assert_eq!(
        written.text,
        "G76 P010060 Q0 R0.007\nG76 X20.32 Z-30. P1840 Q400 F3.\n"
    );
    assert!(written.deviation <= Length::from_mm(0.002));
    // 1.84 - 0.4·√21 = 0.00697: the 22nd pass takes 7 µm in both.
    assert_eq!(one_block.passes.len(), 22);
}

#[test]
fn constant_depth_is_a_clamp_as_large_as_the_first_cut() {
    let mut list = with_crest(section(CONSTANT));
    list.cut.pull_out = PullOut::TenthsOfLead(5);
    assert_eq!(
        text(&list, Syntax::TwoBlock, Family::SystemA),
        "G76 P010500 Q400 R0.\nG76 X20.32 Z-30. P1840 Q400 F3.\n"
    );
    assert_eq!(
        text(&list, Syntax::DriveLine, Family::Interpreter),
        "G76 P3. Z-30. I-2. J0.4 K1.84 H1\n"
    );
    // The extra pass at full depth has no word here.
    assert!(why(&list, Syntax::OneBlock, Family::SystemA).contains("5 passes and not 6"));
    list.passes.pop();
    assert_eq!(
        text(&list, Syntax::OneBlock, Family::SystemA),
        "G76 X20.32 Z-30. K1.84 D0.4 P3 F3.\n"
    );
}

#[test]
fn what_a_syntax_cannot_say_is_refused_with_the_reason() {
    let irregular = section(IRREGULAR);
    assert!(why(&irregular, Syntax::TwoBlock, Family::SystemA).contains("crest"));
    let mut irregular = with_crest(irregular);
    irregular.cut.pull_out = PullOut::None;
    for syntax in [Syntax::TwoBlock, Syntax::OneBlock] {
        let why = why(&irregular, syntax, Family::SystemA);
        assert!(why.contains("law") || why.contains("passes"), "{why}");
    }
    // A clamp has no word in the one-block cycle nor in the interpreter's.
    let clamped = section(TWO_BLOCK);
    assert!(why(&clamped, Syntax::OneBlock, Family::SystemA).contains("passes"));
    assert!(why(&clamped, Syntax::DriveLine, Family::Interpreter).contains("passes"));
    // Degression other than 1 and 2 only the interpreter knows.
    let steep = interpreted("G76 P3 Z-30 I-4 J1 K3.68 R3\n");
    assert!(to(&steep, Syntax::TwoBlock, Family::SystemA).is_err());
    // Alternating flanks only the one-block cycle knows.
    let zigzag = section("G76 X20.32 Z-30. K1.84 D0.4 A60 P2 F3.\n");
    let mut zigzag_cut = zigzag.clone();
    zigzag_cut.cut.pull_out = PullOut::None;
    assert!(why(&zigzag_cut, Syntax::TwoBlock, Family::SystemA).contains("flank to flank"));
    assert!(why(&zigzag_cut, Syntax::DriveLine, Family::Interpreter).contains("flank to flank"));
    // A taper the interpreter's cycle does not know; an entry taper only it and strokes know.
    let tapered = section("G76 P010060 Q50 R0\nG76 X20.32 Z-30. R-1.125 P1840 Q400 F3.\n");
    assert!(why(&tapered, Syntax::DriveLine, Family::Interpreter).contains("taper"));
    let entered = interpreted("G76 P3 Z-30 I-4 J1 K3.68 R2 E3 L1\n");
    assert!(why(&entered, Syntax::TwoBlock, Family::SystemA).contains("several pieces"));
    let strokes = text(&entered, Syntax::Strokes, Family::SystemA);
    assert!(
        strokes.starts_with("G0 X30.68\nG32 X26.68 F3.5193\nG32 X23. Z3. F3.\nG32 Z-30. F3.\n"),
        "{strokes}"
    );
    // Start angles.
    let angled =
        section("G92 X23.2 Z-30. Q0 F6.\nX20.32\nG92 X23.2 Z-30. Q180000 F6.\nX20.32\nG0\n");
    assert_eq!(angled.cut.starts, 2);
    let mut angled = with_crest(angled);
    angled.cut.pull_out = PullOut::None;
    assert!(why(&angled, Syntax::TwoBlock, Family::SystemA).contains("start angle"));
    assert!(why(&angled, Syntax::Strokes, Family::Interpreter).contains("start angle"));
    assert!(to(&angled, Syntax::Strokes, Family::SystemA).is_ok());
}

#[test]
fn families_know_their_own_cycles_only() {
    let thread = section(TWO_BLOCK);
    assert!(why(&thread, Syntax::TwoBlock, Family::Interpreter).contains("does not know"));
    assert!(why(&thread, Syntax::Box, Family::Interpreter).contains("does not know"));
    assert!(why(&thread, Syntax::DriveLine, Family::SystemA).contains("only the open"));
    assert!(why(&thread, Syntax::OneBlock, Family::SystemC).contains("system C"));
    for syntax in Syntax::ALL {
        assert!(why(&thread, syntax, Family::Mill).contains("milling"));
    }
    let mut style = Style::new(Family::SystemB, Units::Millimetre);
    style.incremental = true;
    let cannot = write(&thread.cut, &thread.passes, Syntax::Box, &style).unwrap_err();
    assert!(cannot.0.contains("G91"));
}

/// Words that the first block leaves to the control are left out again, not guessed.
#[test]
fn what_is_left_to_the_control_stays_so() {
    for blocks in [
        "G76 P020060\nG76 X20.32 Z-30. P1840 Q400 F3.\n",
        "G76 X20.32 Z-30. P1840 Q400 F3.\n",
        "G76 P020060 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n",
    ] {
        let thread = section(blocks);
        assert!(!thread.passes_certain);
        assert_eq!(text(&thread, Syntax::TwoBlock, Family::SystemA), blocks);
    }
}

/// Without a list of passes the cut's own law is written; without a law nothing is.
#[test]
fn a_cut_alone_is_enough_where_it_has_a_law() {
    let style = Style::new(Family::SystemA, Units::Millimetre);
    let thread = section(TWO_BLOCK);
    let written = write(&thread.cut, &[], Syntax::TwoBlock, &style).unwrap();
    assert_eq!(written.text, TWO_BLOCK);
    let list = section(IRREGULAR);
    let cannot = write(&list.cut, &[], Syntax::Box, &style).unwrap_err();
    assert!(cannot.0.contains("no passes"));
}

/// Boxes whose start diameter the program does not say are boxes again; as a cycle they could not
/// be checked.
#[test]
fn an_unknown_start_is_not_guessed() {
    let text = format!("G21\nT0303\nG97 S800 M3\nG28 U0 W0\n{CONSTANT}G0 X200.\nM30\n");
    let mut program = lexer::read(text.as_bytes(), &Settings::default());
    let mut list = with_crest(program.sections.remove(0));
    list.cut.pull_out = PullOut::None;
    assert_eq!(self::text(&list, Syntax::Box, Family::SystemA), CONSTANT);
    let why = why(&list, Syntax::TwoBlock, Family::SystemA);
    assert!(why.contains("start point"), "{why}");
    assert!(to(&list, Syntax::Strokes, Family::SystemA).is_err());
}

/// Rounding to coarse digits is said, and refused where it would change the number of passes.
#[test]
fn rounding_is_never_silent() {
    let thread = section(TWO_BLOCK);
    let mut coarse = Style::new(Family::SystemA, Units::Millimetre);
    coarse.decimals = 2;
    let boxes = write(&thread.cut, &thread.passes, Syntax::Box, &coarse).unwrap();
    assert!(boxes.deviation > Length::from_mm(0.0005));
    assert!(boxes.deviation <= Length::from_mm(0.005));
    // K = 4·D exactly is 16 passes; D rounded up to the next 0.001 makes 15.
    let exact = section("G76 X20.4 Z-30. K1.8 D0.45 A60 F3.\n");
    assert_eq!(exact.passes.len(), 16);
    let mut odd = exact.clone();
    odd.cut.height = Val::Exact(Radial::from_mm(1.7982));
    odd.cut.crest_x = Val::Exact(Diameter::from_mm(20.4 + 2.0 * 1.7982));
    odd.cut.law = lexer::law::Law::Method {
        first: Val::Exact(Radial::from_mm(0.44955)),
        method: 1,
    };
    let passes = lexer::syntax::passes(&odd.cut, Syntax::OneBlock);
    assert_eq!(passes.len(), 16);
    let style = Style::new(Family::SystemA, Units::Millimetre);
    match write(&odd.cut, &passes, Syntax::OneBlock, &style) {
        Ok(written) => assert!(written.deviation > Length::ZERO, "{written:?}"),
        Err(cannot) => assert!(cannot.0.contains("passes"), "{cannot:?}"),
    }
}

/// Cuts of other cycles as a call: the number of passes is counted, the pull-out is the control's.
#[test]
fn cycles_become_calls() {
    // 1.84 = 0.46 · √16: sixteen equal areas.
    let even = section("G76 X20.32 Z-30. K1.84 D0.46 A60 F3.\n");
    let written = to(&even, Syntax::Call, Family::Call).unwrap();
    assert_eq!(
        written.text,
        "CYCLE97(3,,0,-30,24,24,6,0,1.84,0,30,0,16,0,3,1,2)\n"
    );
    // Four equal depths, then a pass without new depth.
    let list = with_crest(section(
        "G92 X23.08 Z-30. F3.\nX22.16\nX21.24\nX20.32\nX20.32\nG0\n",
    ));
    let written = to(&list, Syntax::Call, Family::Call).unwrap();
    assert_eq!(
        written.text,
        "CYCLE97(3,,0,-30,24,24,6,0,1.84,0,0,0,4,1,1,1,2)\n"
    );
    // 0.6 · √9 = 1.8, and 0.04 for the last cut.
    let pulled = section(PULLED);
    let written = to(&pulled, Syntax::Call, Family::Call).unwrap();
    assert_eq!(
        written.text,
        "CYCLE97(3,,0,-30,24,24,6,0,1.84,0.04,30,0,9,1,3,1,2)\n"
    );
    assert!(written.lost[0].contains("pulls out as the control is set"));
    let list = with_crest(section(IRREGULAR));
    assert!(why(&list, Syntax::Call, Family::Call).contains("pass"));
    assert!(why(&pulled, Syntax::Call, Family::SystemA).contains("named cycles"));
    assert!(why(&pulled, Syntax::TwoBlock, Family::Call).contains("does not know"));
}

/// The compound cycle counts in diameters, and takes equal areas under M75.
#[test]
fn cycles_become_compound() {
    let one_block = section(ONE_BLOCK);
    let written = to(&one_block, Syntax::Compound, Family::Compound).unwrap();
    assert_eq!(
        written.text,
        "G71 X20.32 Z-30. B60 D0.8 H3.68 F3. M32 M75\n"
    );
    let boxes = to(&with_crest(section(CONSTANT)), Syntax::Box, Family::BoxG82).unwrap();
    assert_eq!(boxes.text, CONSTANT.replace("G92", "G82"));
    let list = with_crest(section(IRREGULAR));
    assert!(why(&list, Syntax::Compound, Family::Compound).contains("pass"));
}

/// A call is strokes with the same passes, and strokes of its own family.
#[test]
fn calls_become_strokes() {
    let text = "DIAMON G90\nS800 M3 LIMS=2000\nG0 X28 Z6\nCYCLE97(3,,0,-30,24,24,6,0,1.84,0.05,0,0,4,0,3,1,2)\nM30\n";
    let program = lexer::read(text.as_bytes(), &Settings::default());
    let call = &program.sections[0];
    let written = to(call, Syntax::Strokes, Family::Call).unwrap();
    assert!(
        written
            .text
            .starts_with("G0 X22.21\nG33 Z-30. K3.\nG0 X28.\nG0 Z6.\n"),
        "{}",
        written.text
    );
    assert_eq!(written.text.matches("G33").count(), call.passes.len());
}
