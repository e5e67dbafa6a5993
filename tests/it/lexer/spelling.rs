//! One program in many spellings gives one and the same thread; what damages a program is read as
//! it was meant and named.

use ::lexer::block::FaultKind;
use ::lexer::program::{Program, Settings};
use ::lexer::section::{Cut, Pass, Role, Section, SpeedMode, Turning};
use ::lexer::units::{Diameter, Lead, Length};

use super::{diameters, read, section};

const PROGRAM: &str = "%
O1200 (PUMP SHAFT)
G21 G40 G99
N10 T0303
G50 S2500
G97 S800 M3
G0 X28. Z6.
G76 P021060 Q50 R0.02
G76 X20.32 Z-30. R0. P1840 Q400 F3.
G0 X100. Z100.
T0505
G97 S600 M3
G0 X40. Z5.
G92 X34. Z-18. R-0.5 F1.5
X33.4
X33.1
G0 X100. Z100.
T0707
G97 S500 M4
G0 X28. Z6.
G0 X22.5
G32 Z-12. F0.75
G0 X28.
Z6.
X22.1
G32 Z-12.
G0 X28.
M30
%
";

/// What a section cuts, without the places where it is written.
#[derive(Debug, PartialEq)]
struct Thread {
    cut: Cut,
    passes: Vec<Place>,
    words: Vec<(String, u8, Option<Length>, f64)>,
    tool: Option<u32>,
    speed: (Option<f64>, Option<SpeedMode>, Option<Turning>, Option<f64>),
    unknown: Vec<String>,
    missing: Vec<Role>,
}

type Place = (
    Option<Diameter>,
    Option<Diameter>,
    Option<Length>,
    Option<Length>,
    Option<Lead>,
    Option<u8>,
);

fn thread(section: &Section) -> Thread {
    let place = |pass: &Pass| {
        let (x, z) = ((pass.x_start, pass.x), (pass.z_start, pass.z_end));
        (x.0, x.1, z.0, z.1, pass.lead, pass.skip)
    };
    let spindle = section.spindle;
    Thread {
        cut: section.cut.clone(),
        passes: section.passes.iter().map(place).collect(),
        words: section
            .words
            .iter()
            .map(|word| {
                (
                    format!("{:?}", word.role),
                    word.letter,
                    word.length(),
                    word.number.value(),
                )
            })
            .collect(),
        tool: section.tool.map(|tool| tool.value),
        speed: (
            spindle.speed.map(|mark| mark.value),
            spindle.mode.map(|mark| mark.value),
            spindle.turning.map(|mark| mark.value),
            spindle.clamp.map(|mark| mark.value),
        ),
        unknown: section.unknown.clone(),
        missing: section.missing.iter().map(|missing| missing.role).collect(),
    }
}

fn threads(program: &Program) -> Vec<Thread> {
    program.sections.iter().map(thread).collect()
}

/// The same threads as the plain program has.
fn same(bytes: &[u8]) -> Program {
    let expected = threads(&read(PROGRAM));
    assert_eq!(expected.len(), 3);
    assert!(expected.iter().all(|thread| thread.unknown.is_empty()));
    let program = ::lexer::read(bytes, &Settings::default());
    let got = threads(&program);
    assert_eq!(got.len(), 3, "{}", String::from_utf8_lossy(bytes));
    for (got, expected) in got.iter().zip(&expected) {
        assert_eq!(got, expected, "{}", String::from_utf8_lossy(bytes));
    }
    program
}

fn faults(program: &Program) -> Vec<(u32, FaultKind)> {
    program
        .faults
        .iter()
        .map(|(line, fault)| (*line, fault.kind))
        .collect()
}

#[test]
fn line_ends() {
    let lines = read(PROGRAM).lines.count();
    for end in ["\r\n", "\r"] {
        let program = same(PROGRAM.replace('\n', end).as_bytes());
        assert_eq!(program.lines.count(), lines);
        assert_eq!(program.sections[1].first_line, 14);
        assert!(program.faults.is_empty());
    }
    // Blank lines between, as double conversions leave them.
    same(PROGRAM.replace('\n', "\r\r\n").as_bytes());
    // No line end and no tape mark at the end.
    same(PROGRAM.trim_end_matches("\n%\n").as_bytes());
}

#[test]
fn tape_leaders_and_trailers() {
    let mut bytes = vec![0u8; 64];
    bytes.extend_from_slice(PROGRAM.as_bytes());
    bytes.push(0x1a);
    bytes.extend([0u8; 16]);
    assert!(same(&bytes).faults.is_empty());
    let mut deleted = vec![0x7f; 8];
    deleted.extend_from_slice(PROGRAM.as_bytes());
    same(&deleted);
    let mut marked = vec![0xef, 0xbb, 0xbf];
    marked.extend_from_slice(PROGRAM.as_bytes());
    same(&marked);
}

#[test]
fn case_and_spaces() {
    same(PROGRAM.to_lowercase().as_bytes());
    let no_spaces: Vec<String> = PROGRAM.lines().map(|line| line.replace(' ', "")).collect();
    same(no_spaces.join("\n").as_bytes());
    // A space behind every letter, and between sign and digits as the open interpreter allows.
    let mut spaced = String::new();
    for line in PROGRAM.lines() {
        let comment = line.contains('(');
        for character in line.chars() {
            spaced.push(character);
            if character.is_ascii_alphabetic() && !comment {
                spaced.push(' ');
            }
        }
        spaced.push('\n');
    }
    same(spaced.as_bytes());
    same(PROGRAM.replace(' ', "\t  ").as_bytes());
    let no_break: Vec<u8> = PROGRAM.replace(' ', "\u{a0}").into_bytes();
    same(&no_break);
}

#[test]
fn leading_zeros_points_and_signs() {
    let zeros = PROGRAM
        .replace("G0 ", "G00 ")
        .replace("M3", "M03")
        .replace("M4", "M04")
        .replace("0.02", ".02")
        .replace("R0.", "R0.000")
        .replace("-0.5", "-.5")
        .replace("0.75", ".75");
    same(zeros.as_bytes());
    let signed = PROGRAM.replace("X28.", "X+0028.0").replace("Z6.", "Z+6");
    same(signed.as_bytes());
}

#[test]
fn numbers_comments_and_skips_in_front() {
    let numbered: Vec<String> = PROGRAM
        .lines()
        .enumerate()
        .map(|(index, line)| match line.starts_with(['%', 'O', 'N']) {
            true => line.to_owned(),
            false => format!("N{}{line}", index * 5),
        })
        .collect();
    same(numbered.join("\n").as_bytes());
    // One number for all, out of order, behind a comment.
    let all = PROGRAM
        .replace("\nG", "\nN99999 G")
        .replace("\nX", "\n(PASS)N1X");
    same(all.as_bytes());
    let commented = PROGRAM
        .replace("G76 X20.32", "G76 (ROOT (MINOR)) X20.32")
        .replace("X33.4\n", "X33.4 ; SECOND\n")
        .replace("X33.1\n", "X33.1 // THIRD\n()\n")
        .replace("F0.75\n", "(LEAD)F0.75(PITCH)\n");
    same(commented.as_bytes());
    let open = PROGRAM.replace("X33.4\n", "X33.4 (LAST BUT ONE\n");
    let program = same(open.as_bytes());
    assert_eq!(faults(&program), [(15, FaultKind::UnclosedComment)]);
}

#[test]
fn comments_in_any_code_page() {
    let program = PROGRAM.replace("(PUMP SHAFT)", "(\u{1})");
    let (head, tail) = program.split_once('\u{1}').unwrap();
    // Latin 1, Windows 1251, GBK, and a lone continuation byte.
    for comment in [
        &b"GEWINDE f\xfcr Spindel"[..],
        b"\xd0\xe5\xe7\xfc\xe1\xe0",
        b"\xc2\xdd\xce\xc6",
        b"\x80\xff\xfe",
    ] {
        let bytes = [head.as_bytes(), comment, tail.as_bytes()].concat();
        let program = same(&bytes);
        assert!(program.faults.is_empty());
        assert_eq!(program.notes[0].span.of(&bytes).len(), comment.len() + 2);
    }
}

#[test]
fn damaged_characters_are_read_as_meant_and_named() {
    let program = same(PROGRAM.replace("F0.75", "F0,75").as_bytes());
    assert_eq!(faults(&program), [(22, FaultKind::DecimalComma)]);
    for dash in ["\u{2013}", "\u{2212}", "\u{2014}"] {
        let program = same(PROGRAM.replace("Z-18.", &format!("Z{dash}18.")).as_bytes());
        assert_eq!(faults(&program), [(14, FaultKind::TypographicMinus)]);
    }
    let windows: Vec<u8> = PROGRAM
        .replace("Z-18.", "Z\u{1}18.")
        .bytes()
        .map(|byte| if byte == 1 { 0x96 } else { byte })
        .collect();
    assert_eq!(faults(&same(&windows)), [(14, FaultKind::TypographicMinus)]);
    let program = same(PROGRAM.replace("G0 X40.", "GO X40.").as_bytes());
    assert_eq!(faults(&program), [(13, FaultKind::LetterO)]);
    let program = same(PROGRAM.replace("T0505", "T0505 M").as_bytes());
    assert_eq!(faults(&program), [(11, FaultKind::MissingValue)]);
    // A stray character and a line that is no code.
    let program = same(PROGRAM.replace("M30", "^\nroughing pass\nM30").as_bytes());
    assert_eq!(faults(&program), [(28, FaultKind::Junk)]);
}

#[test]
fn heads_of_programs() {
    for head in [
        "O1200",
        "O01200(PUMP)",
        ":1200",
        "%O1200(PUMP)",
        "%_N_SHAFT_MPF\nO1200",
        "$SHAFT%\nO1200",
    ] {
        let program = same(PROGRAM.replace("%\nO1200 (PUMP SHAFT)", head).as_bytes());
        assert_eq!(program.parts.len(), 1, "{head}");
        assert_eq!(program.parts[0].number, Some(1200), "{head}");
    }
}

#[test]
fn of_two_equal_letters_the_last_counts() {
    same(PROGRAM.replace("P1840", "P1500 P1840").as_bytes());
}

/// Words that belong to other blocks do no harm: chamfers, corner radii, home, dwell, spindle
/// selection.
#[test]
fn other_words_between() {
    let more = PROGRAM
        .replace("T0505", "G28 U0. W0.\nG4 U1.\nT0505")
        .replace(
            "G50 S2500",
            "G50 S2500\nG1 X30. ,R2. F.2\nG1 Z-3. ,C1.\nX40. ,A-45.\nG10 P1 X0 Z0",
        );
    same(more.as_bytes());
    let selected = PROGRAM.replace("G97 S600 M3", "G97 M3 S600 P11");
    same(selected.as_bytes());
}

/// A skip on a threading block: the pass may vanish, so it carries the mark.
#[test]
fn block_skip_on_a_threading_block() {
    for (mark, digit) in [("/", 1), ("/ ", 1), ("/2 ", 2), ("N20/", 1)] {
        let text = PROGRAM.replace("X33.4\n", &format!("{mark}X33.4\n"));
        let program = read(&text);
        let boxes = &program.sections[1];
        let skips: Vec<_> = boxes.passes.iter().map(|pass| pass.skip).collect();
        assert_eq!(skips, [None, Some(digit), None], "{mark}");
        assert_eq!(diameters(boxes), [34.0, 33.4, 33.1]);
    }
    let text = PROGRAM.replace("G76 X20", "/G76 X20");
    assert!(
        read(&text).sections[0]
            .passes
            .iter()
            .all(|pass| pass.skip == Some(1))
    );
}

/// Each program of a file starts with nothing in force.
#[test]
fn several_programs_in_a_file() {
    let text = format!(
        "{PROGRAM}O1300\n(NEXT)\nG92 X23. Z-30. F2.\nX22.\nG0 X50.\nM30\n:1400\nT0909\nM99\n"
    );
    let program = read(&text);
    let numbers: Vec<_> = program.parts.iter().map(|part| part.number).collect();
    assert_eq!(numbers, [Some(1200), Some(1300), Some(1400)]);
    assert_eq!(program.sections.len(), 4);
    let alone = &program.sections[3];
    assert_eq!(alone.tool, None);
    assert_eq!(alone.spindle.speed, None);
    assert_eq!(alone.cut.start_x.get(), None);
    assert_eq!(diameters(alone), [23.0, 22.0]);
}

/// Variables that the program does not set: the value is unknown, with the reason, wherever it stands, and
/// a literal that it replaces is no longer in force.
#[test]
fn expressions_are_unknown() {
    let head = "T0303\nG21 G97 S800 M3\nG0 X28. Z6.\n";
    for (blocks, reason) in [
        ("G92 X [ #21 + 2. ] Z-30. F3.\n", "X is a variable"),
        ("G92 X#1 Z-30. F3.\n", "X is a variable"),
        ("G92 X23. Z-[#5*2] F3.\n", "Z is a variable"),
        ("G92 X23. Z-30. F#3\n", "F is a variable"),
        ("G92 X23. Z-30. R[#1/32] F3.\n", "taper is a variable"),
        ("G92 X23. Z-30. F3. Q#7\n", "start angle Q is a variable"),
        (
            "G0 X23.\nG32 Z-30. F3. Q#7\n",
            "start angle Q is a variable",
        ),
        (
            "G76 X20. Z-30. K1.84 D.4 A60 Q#7 F3.\n",
            "start angle Q is a variable",
        ),
        ("G1 X27. F#9\nG0 X28.\nG32 Z-30.\n", "F is a variable"),
        ("G0 X#4\nG32 Z-30. F2.\n", "not known"),
        (
            "G76 P020060 Q#2 R0.02\nG76 X20. Z-30. P1840 Q400 F3.\n",
            "cut Q is a variable",
        ),
        (
            "G76 P#1 Q50 R0.02\nG76 X20. Z-30. P1840 Q400 F3.\n",
            "P of the first block is a variable",
        ),
        (
            "G76 P020060 Q50 R0.02\nG76 X20. Z-30. P#8 Q400 F3.\n",
            "height P is a variable",
        ),
        ("G76 X20. Z-30. K#8 D.4 A60 F3.\n", "height K is a variable"),
        (
            "G76 X20. Z-30. K1.84 D.4 A#7 F3.\n",
            "tool angle A is a variable",
        ),
        (
            "G76 X20. Z-30. K1.84 D.4 P#7 A60 F3.\n",
            "method P is a variable",
        ),
    ] {
        let thread = section(&format!("{head}{blocks}G0 X100.\nM30\n"));
        assert!(
            thread.unknown.iter().any(|why| why.contains(reason)),
            "{blocks}{:?}",
            thread.unknown
        );
    }
    // In force before, replaced by an expression.
    let replaced = section(&format!(
        "{head}G76 P020060 Q50 R0.02\nG76 P#1 Q#2 R#3\nG76 X20. Z-30. P1840 Q400 F3.\nM30\n"
    ));
    assert!(!replaced.passes_certain);
    let speed = section("T0303\nG21 G97 S800 M3\nG0 X28. Z6.\nS#100\nG92 X23. Z-30. F3.\nM30\n");
    assert_eq!(speed.spindle.speed, None);
}

/// A loop whose values are in the text is run, one whose end is not known is read once: its passes
/// are not certain, and behind it the place of the tool is not known.
#[test]
fn loops_are_run_where_their_end_is_known() {
    let text = "T0303\nG21 G97 S800 M3\nG0 X28. Z6.\n#1=0\nWHILE [#1 LT 5] DO1\nG0 U-5.\nG32 Z-30. F3.\nG0 U4.9\nZ6.\n\
                #1=#1+1\nEND1\nG92 X20. Z-30. F3.\nM30\n";
    let program = read(text);
    let first = &program.sections[0];
    assert!(first.passes_certain);
    assert_eq!(diameters(first), [23.0, 22.9, 22.8, 22.7, 22.6]);
    let program = read(&text.replace("#1=0", "#1=#500"));
    let first = &program.sections[0];
    assert!(!first.passes_certain);
    assert!(
        first.unknown.iter().any(|why| why.contains("loop")),
        "{:?}",
        first.unknown
    );
    let last = program.sections.last().unwrap();
    assert_eq!(last.passes.last().unwrap().z_start, None);
    let jump = read(
        "T0303\nG21 G97 S800 M3\nG0 X28. Z6.\nN10 G0 U-5.\nG32 Z-30. F3.\nG0 U5.\nZ6.\nIF [#1 LT 5] GOTO 10\nM30\n",
    );
    assert!(!jump.sections[0].passes_certain);
    let computed =
        read("T0303\nG21 G97 S800 M3\nG0 X28. Z6.\nG[#120+2] X23. Z-30. F3.\nX22.\nM30\n");
    assert!(computed.sections.is_empty());
    assert!(
        computed
            .unread
            .iter()
            .any(|mark| mark.value.contains("G code is a variable"))
    );
}

/// Numbers without a point: units, or least increments where the program's size says so.
#[test]
fn positions_without_points() {
    let whole =
        section("T0303\nG21 G97 S800 M3\nG0 X28 Z6\nG92 X23 Z-30 F3\nX22\nG0 X100 Z100\nM30\n");
    assert_eq!(diameters(&whole), [23.0, 22.0]);
    let least = "T0303\nG21 G97 S800 M3\nG0 X28000 Z6000\nG92 X23000 Z-30000 F3.\nX+0022000\nG0 X100000 Z100000\nM30\n";
    assert_eq!(diameters(&section(least)), [23.0, 22.0]);
    // What a lead without a point counts there differs between controls.
    let open = section(&least.replace("F3.", "F300"));
    assert_eq!(open.cut.lead.get(), None);
    assert!(
        open.unknown
            .iter()
            .any(|why| why.contains("F has no point"))
    );
}

/// E: a lead below 1, threads per inch from 2 on in an inch program, neither between.
#[test]
fn leads_in_e() {
    let thread = |e: &str| {
        section(&format!(
            "T0303\nG20 G97 S800 M3\nG0 X1.2 Z.2\nG92 X1. Z-1. {e}\nX.99\nG0 X2.\nM30\n"
        ))
    };
    // 25.4 · 0.0769231
    let lead = thread("E.0769231").cut.lead.get().unwrap();
    assert_eq!(lead.length(), Length::from_pm(1_953_846_740));
    assert_eq!(thread("E13.").cut.lead.get(), Lead::per_inch(130_000));
    assert_eq!(thread("E11.5").passes[1].lead, Lead::per_inch(115_000));
    assert_eq!(thread("E1.5").cut.lead.get(), None);
    assert_eq!(thread("F-13.").cut.lead.get(), None);
}
