//! `lexer::effects`: respelling leaves it equal, any change of what is done changes it.

use lexer::block::{Value, blocks};
use lexer::program::{Effect, Settings};
use proptest::prelude::*;

const LATHE: &str = "%
O1200 (PUMP SHAFT)
G21 G40 G99
N10 T0303
G50 S2500
G96 S180 M3
G0 X52. Z2. M8
N20 G71 U2. R.5
N25 G71 P30 Q50 U.4 W.1 F.3
N30 G0 X20.
G1 Z-20. F.15
G2 X24. Z-22. R2.
N50 G1 X52.
G70 P30 Q50
G0 X100. Z100.
T0505
G97 S800 M3
G0 X28. Z6.
G76 P021060 Q50 R0.02
G76 X20.32 Z-30. P1840 Q400 F3.
G76 P010060
G76 X20.3 Z-30. R-.1 P1850 Q900 F3.
G0 X40. Z5. M9
G92 X34. Z-18. R-0.5 F1.5
X33.4
/X33.1 Q180000
G0 X28. Z6.
X22.5
G32 Z-12. F0.75
X26. W-1.
G0 X28.
Z6.
G76 X20.4 Z-30. I-.2 K1.8 D0.45 A60 P2 Q1000 F3.
T0707
G98 G1 Z-3. F120
G74 R1.
G74 Z-50. Q5000 F.1
G4 X2.
G28 U0. W0.
#101=5.
IF [#101 GT 6] GOTO 99
G0 X[#101*2] Z#102
N99 M98 P1300 L2
M5
M30
%
";

const INTERPRETER: &str = "(LEFT)
G20 G18 G7 G90
S400 M4
G0 X.9 Z.2
G76 P.0769 Z-1. I-.1 J.02 R1.5 K.0944 Q29.5 H2 E.05 L2
G8
G0 X.6 Z.2
G0 X.4
G33 Z-1. K.05
G33 X.45 Z-1.05 K.0707
G0 X.6
G1 X.7 Z0 F5.
M2
";

const MILL: &str = "O7
G21 G90 G17 G54 G40
T5 M6
G0 X50. Y20. S800 M3
G43 H5 Z50.
G98 G81 X50. Y20. Z-20. R2. F80
X80.
Y40.
G80
G84 Z-20. R5. F1000
G80
G41 D5 G1 X10. F200
G3 X20. Y10. I5. J0 Z-3.
X20. Y10. I-5. J0
G2 X20. Y10. I-5. J0
G92 X0 Y0
G91 G1 X5. Y1.
G90
M99
";

fn effects(text: &str) -> Vec<Effect> {
    lexer::effects(text.as_bytes(), &Settings::default())
}

fn equal(a: &str, b: &str) {
    let (left, right) = (effects(a), effects(b));
    if left != right {
        let at = left.iter().zip(&right).take_while(|(a, b)| a == b).count();
        panic!(
            "{b}\nat {at}: {:?}\nis not {:?}",
            left.get(at),
            right.get(at)
        );
    }
}

fn differ(a: &str, b: &str) {
    assert_ne!(a, b);
    assert!(effects(a) != effects(b), "no difference seen:\n{b}");
}

#[test]
fn respelling_changes_nothing() {
    for text in [LATHE, INTERPRETER, MILL] {
        equal(text, &text.replace('\n', "\r\n"));
        equal(text, &text.replace('\n', "\r"));
        equal(text, &text.replace('\n', "\n\n"));
        equal(text, &text.to_lowercase());
        equal(text, &text.replace(' ', "\t "));
        equal(text, &text.replace("G0 ", "G00 ").replace("M3", "M03"));
        equal(text, &text.replace('\n', " (DONE)\n"));
        equal(text, &text.replace('\n', " ; DONE\n"));
        equal(
            text,
            &text
                .replace("(PUMP SHAFT)", "")
                .replace("(LEFT)", "(RIGHT)"),
        );
        equal(text, text.trim_end_matches("%\n"));
        equal(text, &format!("\0\0\0{text}\x1a"));
        let close: String = text
            .lines()
            .map(|line| line.replace(' ', "") + "\n")
            .collect();
        equal(text, &close);
    }
}

#[test]
fn numbers_written_otherwise_change_nothing() {
    for (from, to) in [
        ("G0 X28. Z6.\nX22.5", "G0 X028.00 Z+6\nX22.50"),
        ("F0.75", "F.75"),
        ("F0.75", "F0,75"),
        ("Z-18.", "Z\u{2013}18."),
        ("G0 X40. Z5.", "GO X40. Z5."),
        ("R0.02", "R.020"),
        ("R0.02", "R20"),
        ("P021060 Q50 ", "P021060 Q.05 "),
        ("A60", "A60."),
        ("P021060", "P21060"),
        ("T0505", "T505"),
        ("W-1.", "Z-13."),
        ("D0.45", "D450"),
    ] {
        assert!(LATHE.contains(from), "{from}");
        equal(LATHE, &LATHE.replace(from, to));
    }
}

#[test]
fn what_is_in_force_already_changes_nothing() {
    for (from, to) in [
        // States set twice.
        ("G97 S800 M3\n", "G97 S800 M3\nG97\n"),
        ("G97 S800 M3\n", "G97 S800 M3\nG97 S800\n"),
        ("G0 X28. Z6.\nG76", "G0 G40 X28. Z6.\nG21\nG99\nG76"),
        // The lead in force written out, and left out.
        ("X33.4\n", "X33.4 F1.5\n"),
        ("X26. W-1.\n", "X26. W-1. F.75\n"),
        ("R-.1 P1850 Q900 F3.", "R-.1 P1850 Q900"),
        // Box words in force.
        ("X33.4\n", "G92 X33.4 Z-18. R-.5 F1.5\n"),
        // Words of the first block in force.
        ("G76 P010060\n", "G76 P010060 Q50 R.02\n"),
        // A motion code in force, and a word that goes nowhere.
        ("G0 X28.\nZ6.\nG76 X20.4", "G0 X28.\nG0 Z6. X28.\nG76 X20.4"),
        // No taper.
        ("G76 X20.32 Z-30. P1840", "G76 X20.32 Z-30. R0 P1840"),
    ] {
        assert!(LATHE.contains(from), "{from}");
        equal(LATHE, &LATHE.replace(from, to));
    }
    equal(INTERPRETER, &INTERPRETER.replace("G0 X.4\n", "X.4\n"));
    equal(INTERPRETER, &INTERPRETER.replace("H2 E.05", "H2. E.0500"));
    equal(MILL, &MILL.replace("\nG80\nG84", "\nG80\nG54 G17 G90\nG84"));
}

/// N numbers are names: renumbering changes nothing as long as the cycles and jumps that call
/// blocks by their number call the same blocks.
#[test]
fn renumbering_changes_nothing() {
    let without_jump = LATHE.replace("IF [#101 GT 6] GOTO 99\n", "");
    let renumbered = without_jump
        .replace("N10 ", "N1000 ")
        .replace("N20 ", "")
        .replace("N30 ", "N3000 ")
        .replace("N50 ", "N5000 ")
        .replace("P30 Q50", "P3000 Q5000");
    equal(&without_jump, &renumbered);
    let every: Vec<String> = without_jump
        .lines()
        .enumerate()
        .map(|(index, line)| {
            let free = line.starts_with(['%', 'O', 'N', '#', '/', 'I']);
            if free {
                line.to_owned()
            } else {
                format!("N{} {line}", 7000 + index)
            }
        })
        .collect();
    equal(&without_jump, &(every.join("\n") + "\n"));
    // Only half of it: the contour is another.
    differ(&without_jump, &without_jump.replace("N50 ", "N5000 "));
    differ(&without_jump, &without_jump.replace("Q50 U", "Q55 U"));
    // The target of a jump that is not resolved is kept.
    differ(LATHE, &LATHE.replace("N99 ", "N100 "));
}

/// Every literal of every block matters: a last digit more is another program.
#[test]
fn every_number_counts() {
    let mut changed = 0;
    for text in [LATHE, INTERPRETER, MILL] {
        for block in blocks(text.as_bytes()) {
            for word in &block.words {
                let Value::Number(number) = word.value else {
                    continue;
                };
                let span = word.value_span;
                let (start, end) = (span.start as usize, span.end as usize);
                let old = &text[start..end];
                // One more in the last digit written.
                let step = 10f64.powi(-i32::from(number.decimals));
                let new = format!("{:.*}", usize::from(number.decimals), number.value() + step);
                let new = if old.ends_with('.') { new + "." } else { new };
                let mutant = format!("{}{new}{}", &text[..start], &text[end..]);
                differ(text, &mutant);
                changed += 1;
            }
        }
    }
    assert!(changed > 200, "{changed}");
}

/// Every block matters, except those that only repeat what is in force.
#[test]
fn every_block_counts() {
    for text in [LATHE, INTERPRETER, MILL] {
        let lines: Vec<&str> = text.lines().collect();
        for (index, line) in lines.iter().enumerate() {
            if line.starts_with(['%', '(']) {
                continue;
            }
            let mut fewer = lines.clone();
            fewer.remove(index);
            differ(text, &(fewer.join("\n") + "\n"));
            // Two different neighbours the other way round.
            if index + 1 < lines.len()
                && lines[index + 1] != *line
                && !lines[index + 1].starts_with('%')
            {
                let mut swapped = lines.clone();
                swapped.swap(index, index + 1);
                differ(text, &(swapped.join("\n") + "\n"));
            }
        }
    }
}

#[test]
fn other_changes_are_seen() {
    for (from, to) in [
        ("/X33.1", "X33.1"),
        ("/X33.1", "/2X33.1"),
        ("G97 S800 M3", "G97 S800 M4"),
        ("G97 S800 M3", "G96 S800 M3"),
        ("G97 S800 M3", "S800 M3"),
        ("Z2. M8", "Z2."),
        ("X33.4\n", "X33.4\nX33.4\n"),
        ("X33.4\n", "X33.4\nM1\n"),
        ("G76 P010060\n", "G76 P010060 Q60\n"),
        ("G98 G1", "G1"),
        ("G98 G1", "G98 G0"),
        ("X[#101*2]", "X[#101*3]"),
        ("#101=5.", "#101=6."),
        ("GT 6", "GE 6"),
        ("G32 Z-12. F0.75", "G1 Z-12. F0.75"),
        ("G32 Z-12. F0.75", "G33 X22.5 Z-12.1 F0.75"),
        ("G4 X2.", "G4 X2"),
        ("A60 P2", "A60"),
        ("A60 P2", "P2"),
        ("P1840 Q400 F3.", "P1840 Q400 F#3"),
        ("Q50 R0.02", "Q#1 R0.02"),
        ("G21 G40", "G20 G40"),
        ("G21 G40", "G40"),
        ("M30", "^M30"),
        ("M30", "M30 CYCLE97(1,2)"),
    ] {
        assert!(LATHE.contains(from), "{from}");
        differ(LATHE, &LATHE.replace(from, to));
    }
    differ(MILL, &MILL.replace("G3 X20.", "G2 X20."));
    differ(
        MILL,
        &MILL.replace("G2 X20. Y10. I-5. J0\n", "G3 X20. Y10. I-5. J0\n"),
    );
    differ(MILL, &MILL.replace("G91 G1 X5.", "G1 X5."));
    let calls = "LIMS=3000\nX=R1+2\nSF=0.5\n";
    differ(calls, &calls.replace("R1+2", "R1+3"));
    differ(calls, &calls.replace("3000", "3001"));
    equal(calls, &calls.replace("3000", "3000.0"));
}

/// A lead whose meaning is open, and words that count from an unknown place, are kept as written.
#[test]
fn what_is_not_understood_is_compared_as_written() {
    let open = "G20\nT1\nG0 X2. Z.5\nG92 X1.9 Z-1. E1.5\nM30\n";
    differ(open, &open.replace("E1.5", "E1.6"));
    let unknown = "G21\nT1\nG28 U0 W0\nG92 U-5. W-20. F2.\nU-6.\nM30\n";
    differ(unknown, &unknown.replace("U-6.", "U-7."));
    differ(unknown, &unknown.replace("W-20.", "W-21."));
    let missing = "G21\nT1\nG0 X30. Z5.\nG76 X20. Z-20. Q300 F2.\nM30\n";
    differ(missing, &missing.replace("X20.", "X21."));
    differ(missing, &missing.replace("Q300", "Q301"));
    let other = "G21\nT1\nG0 X30. Z5.\nG32 Z-20. F2. R1.\nM30\n";
    differ(other, &other.replace("R1.", "R2."));
}

fn respelled(text: &str, choices: &[u8]) -> String {
    let mut choice = choices.iter().cycle();
    let mut out = String::new();
    // Apart from the numbers that cycles call.
    let mut number = 7000;
    for line in text.lines() {
        let pick =
            |choice: &mut std::iter::Cycle<std::slice::Iter<'_, u8>>| *choice.next().unwrap_or(&0);
        let code = line.split('(').next().unwrap_or("");
        let free = line.starts_with(|first: char| "GXZMTSUWF".contains(first));
        if free && pick(&mut choice) % 3 == 0 {
            out.push_str(&format!("N{number}"));
            number += 1;
        }
        for character in code.chars() {
            let spread = pick(&mut choice) % 5 == 0;
            let lower = pick(&mut choice) % 2 == 0;
            match character {
                ' ' if free && pick(&mut choice) % 2 == 0 => continue,
                letter if letter.is_ascii_alphabetic() && lower && free => {
                    out.push(letter.to_ascii_lowercase());
                }
                other => out.push(other),
            }
            if spread && free && character.is_ascii_alphabetic() {
                out.push(' ');
            }
        }
        if pick(&mut choice) % 4 == 0 {
            out.push_str(" (NOTE G92 X1.)");
        }
        out.push_str(["\n", "\r\n", "\r", "\n\n"][usize::from(pick(&mut choice) % 4)]);
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_respelling_is_equal(choices in prop::collection::vec(any::<u8>(), 1..200)) {
        let without_jump = LATHE.replace("IF [#101 GT 6] GOTO 99\n", "");
        for text in [without_jump.as_str(), INTERPRETER, MILL] {
            let respelled = respelled(text, &choices);
            prop_assert!(effects(text) == effects(&respelled), "{}", respelled);
        }
    }
}

const LOOP: &str = "O1
G21
T0303
G97 S800 M3
G0 X28. Z6.
#1=1
#2=8
WHILE [#1 LE #2] DO1
G0 X[24.-3.68*SQRT[#1/#2]]
G32 Z-30. F3.
G0 X28.
Z6.
#1=#1+1
END1
M98 P200 L2
M30
O200
G97
G0 X23.
G32 Z-30. F3.
G0 X28.
Z6.
M99
";

/// A program that is run does what its blocks do in the order in which they are executed.
#[test]
fn programs_that_are_run() {
    equal(LOOP, &LOOP.replace("G0 X28.\n", "G00 X28.0 (OUT)\n"));
    equal(
        LOOP,
        &LOOP.replace("WHILE [#1 LE #2] DO1", "while[#1le#2]do1"),
    );
    equal(LOOP, &LOOP.replace("END1\n", "END1\n\n"));
    for (from, to) in [
        ("LE #2", "LT #2"),
        ("#2=8", "#2=9"),
        ("3.68", "3.6"),
        ("F3.\nG0 X28.\nZ6.\n#1", "F3.\nM8\nG0 X28.\nZ6.\n#1"),
        ("#1=#1+1\nEND1", "END1\n#1=#1+1"),
        ("L2", "L3"),
        ("M98 P200 L2\n", ""),
        ("G0 X23.", "G0 X22.9"),
        ("Z6.\nM99", "M99"),
    ] {
        assert!(LOOP.contains(from), "{from}");
        differ(LOOP, &LOOP.replacen(from, to, 1));
    }
    // Set twice in the text, but not in force where the block is executed.
    let back = "G21\nT1\nS500 M3\nG0 X30. Z5.\n#1=0\nN10 G97\nG92 X20. Z-9. F1.\nG0 X30.\nG96\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM30\n";
    differ(back, &back.replace("N10 G97\n", "N10\n"));
    let known = back.replace("#500", "3");
    differ(&known, &known.replace("N10 G97\n", "N10\n"));
    let called = "G21\nT1\nG97 S500 M3\nG0 X30. Z5.\nM98 P900\nG97\nG1 X20. F.1\nM30\n";
    differ(called, &called.replace("P900\nG97", "P900"));
    differ(called, &called.replace("G1 X20.", "X20."));
    let arguments = "G21\nT1\nG65 P9100 A1. B2.\nM30\n";
    differ(arguments, &arguments.replace("B2.", "B2.1"));
    differ(arguments, &arguments.replace("A1.", ""));
}
