//! Programs that are run: variables, loops, branches, calls. Diameters and depths are worked by
//! hand beside each.

use lexer::evidence::Family;
use lexer::program::{NeverEnds, Program, Settings};
use lexer::section::{Infeed, Section, Side, Syntax, Val};
use lexer::{Callee, Library};
use std::sync::Arc;

const HEAD: &str = "O1\nG21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n";

fn read(text: &str) -> Program {
    lexer::read(text.as_bytes(), &Settings::default())
}

/// The only section of a program whose every pass is certain.
fn section(text: &str) -> Section {
    let program = read(text);
    assert_eq!(program.sections.len(), 1, "{text}\n{:#?}", program.sections);
    let section = program.sections[0].clone();
    assert!(section.passes_certain, "{text}\n{:?}", section.unknown);
    assert_eq!(program.unread, [], "{text}");
    section
}

fn diameters(section: &Section) -> Vec<f64> {
    let rounded = |mm: f64| (mm * 1e6).round() / 1e6;
    section
        .passes
        .iter()
        .map(|pass| rounded(pass.x.unwrap().mm()))
        .collect()
}

/// `n` diameters by the square-root law from a crest of 24 to a radial depth of 1.84.
fn roots(n: u32) -> Vec<f64> {
    (1..=n)
        .map(|i| {
            let x = 24.0 - 2.0 * 1.84 * (f64::from(i) / f64::from(n)).sqrt();
            (x * 1e6).round() / 1e6
        })
        .collect()
}

/// M24x3, depth 1.84, eight passes: X = 24 - 2 * 1.84 * sqrt(i / 8).
#[test]
fn a_loop_with_the_root_law() {
    let body = "G0 X[24.-2.*#3*SQRT[#1/#2]]\nG32 Z-30. F3.\nG0 X28.\nZ6.\n";
    for text in [
        format!(
            "{HEAD}#1=1\n#2=8\n#3=1.84\nWHILE [#1 LE #2] DO1\n{body}#1=#1+1\nEND1\nG0 X100.\nM30\n"
        ),
        format!("{HEAD}#1=1 #2=8\n#3=[3.68/2]\nWHILE[#1LE#2]DO1\n{body}#1=[#1+1]\nEND1\nM30\n"),
        format!(
            "{HEAD}#1=1\n#2=8\n#3=1.84\nN10 IF [#1 GT #2] GOTO 20\n{body}#1=#1+1\nGOTO 10\nN20 M30\n"
        ),
        format!("{HEAD}#1=1\n#2=8\n#3=1.84\nN10 G4 X.1\n{body}#1=#1+1\nIF[#1LE#2]GOTO10\nM30\n"),
        format!("{HEAD}#1=0\n#2=8\n#3=1.84\nM98 P200 L8\nM30\nO200\n#1=#1+1\n{body}M99\n"),
        format!("{HEAD}#1=0\n#2=8\n#3=1.84\nM98 P80200\nM30\nO0200\n#1=#1+1\n{body}M99\n"),
        format!("{HEAD}#1=0\n#2=8\n#3=1.84\nM97 P500 L8\nM30\nN500 #1=#1+1\n{body}M99\n"),
    ] {
        let section = section(&text);
        assert_eq!(section.syntax, Syntax::Strokes);
        assert_eq!(section.side(), Some(Side::External));
        assert_eq!(diameters(&section), roots(8), "{text}");
        assert_eq!(section.cut.lead.get().unwrap().mm(), 3.0);
        // A root is near its value; the pass list says so.
        assert!(matches!(
            section.cut.root_x,
            Val::Approx(..) | Val::Exact(_)
        ));
        let line = section.passes[0].line;
        assert!(section.passes.iter().all(|pass| pass.line == line));
        assert!(section.first_line <= line && line <= section.last_line);
        // No word of a block that is run again is a word of one pass.
        assert_eq!(section.words, [], "{text}");
    }
}

/// The same by the words of the interpreter; its names for loops and subprograms.
#[test]
fn loops_and_subprograms_of_the_interpreter() {
    let head = "G21 G18 G7\nG97 S800 M3\nG0 X28. Z6.\n";
    let body = "G0 X[24-2*1.84*SQRT[#<i>/8]]\nG33 Z-30 K3\nG0 X28\nZ6\n";
    let sub = "G0 X[24-2*#2*SQRT[#1/8]]\nG33 Z-30 K3\nG0 X28\nZ6\n";
    for text in [
        format!("{head}#<i>=1\no100 while [#<i> LE 8]\n{body}#<i>=[#<i>+1]\no100 endwhile\nM2\n"),
        format!("{head}#<i>=1\no100 do\n{body}#<i>=[#<i>+1]\no100 while [#<i> LT 9]\nM2\n"),
        format!("{head}#<i>=0\no7 repeat [8]\n#<i>=[#<i>+1]\n{body}o7 endrepeat\nM2\n"),
        format!(
            "{head}#<i>=0\no7 while [1 EQ 1]\n#<i>=[#<i>+1]\no8 if [#<i> GT 8]\no7 break\no8 endif\n{body}o7 endwhile\nM2\n"
        ),
        format!(
            "{head}#<i>=0\no7 while [#<i> LT 9]\n#<i>=[#<i>+1]\no8 if [#<i> EQ 9]\no7 continue\no8 else\n{body}o8 endif\no7 endwhile\nM2\n"
        ),
        format!(
            "o<cut> sub\n{sub}o<cut> endsub\n{head}#3=1\no9 while [#3 LE 8]\no<cut> call [#3] [1.84]\n#3=[#3+1]\no9 endwhile\nM2\n"
        ),
        format!(
            "o50 sub\n#1=[#1+0]\n{sub}o50 return [#1+1]\no50 endsub\n{head}#<_value>=1\no9 repeat [8]\no50 call [#<_value>] [1.84]\no9 endrepeat\nM2\n"
        ),
    ] {
        let section = section(&text);
        assert_eq!(diameters(&section), roots(8), "{text}");
        assert_eq!(section.words, [], "{text}");
    }
}

/// R parameters, names, FOR, LOOP, REPEAT, jumps to labels (from memory).
#[test]
fn loops_of_the_way_with_parentheses() {
    let head = "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n";
    let body = "G0 X=24-2*R3*SQRT(R1/R2)\nG33 Z=-30 K=3\nG0 X28.\nZ6.\n";
    for text in [
        format!("{head}R2=8 R3=1.84\nFOR R1=1 TO R2\n{body}ENDFOR\nM30\n"),
        format!("{head}R1=1 R2=8 R3=1.84\nWHILE R1<=R2\n{body}R1=R1+1\nENDWHILE\nM30\n"),
        format!("{head}R1=1 R2=8 R3=3.68/2\nREPEAT\n{body}R1=R1+1\nUNTIL R1>R2\nM30\n"),
        format!("{head}R1=1 R2=8 R3=1.84\nAGAIN:\n{body}R1=R1+1\nIF R1<=R2 GOTOB AGAIN\nM30\n"),
        format!(
            "{head}R1=1 R2=8 R3=1.84\nLOOP\nIF (R1>R2) GOTOF READY\n{body}R1=R1+1\nENDLOOP\nREADY: M30\n"
        ),
        format!(
            "{head}R1=1 R2=8\nDEF REAL FULL=3.68\nWHILE(R1<=8)\nIF R1==99\nR3=5\nELSE\nR3=FULL/2\nENDIF\n{body}R1=R1+1\nENDWHILE\nM30\n"
        ),
    ] {
        let settings = Settings {
            family: Some(Family::SystemB),
            ..Settings::default()
        };
        let program = lexer::read(text.as_bytes(), &settings);
        assert_eq!(program.sections.len(), 1, "{text}");
        assert!(program.sections[0].passes_certain, "{text}");
        assert_eq!(diameters(&program.sections[0]), roots(8), "{text}");
    }
}

/// Constant steps by a variable, the last one clamped: 23.4, 22.8, 22.2, 21.6, 21., 20.4, 20.32.
#[test]
fn a_box_whose_diameter_is_a_variable() {
    let text = format!(
        "{HEAD}#1=24.\n#2=20.32\nWHILE [#1 GT #2] DO1\n#1=#1-.6\nIF [#1 LT #2] THEN #1=#2\nG92 X#1 Z-30. F3.\nEND1\nG0 X50.\nM30\n"
    );
    let section = section(&text);
    assert_eq!(section.syntax, Syntax::Box);
    assert_eq!(
        diameters(&section),
        [23.4, 22.8, 22.2, 21.6, 21.0, 20.4, 20.32]
    );
    // Sums of decimals are exact.
    assert!(matches!(section.cut.root_x, Val::Exact(_)));
}

/// A cycle with its words from variables, set here and given to a macro: height 0.6134 * 3 =
/// 1.8402 mm, root 24 - 2 * 1.8402 = 20.3196.
#[test]
fn a_cycle_with_words_from_variables() {
    for text in [
        format!(
            "{HEAD}#5=3.\n#6=24.-2.*.6134*#5\nG76 P021060 Q50 R.02\nG76 X#6 Z-30. P[#5*613.4] Q400 F#5\nM30\n"
        ),
        format!(
            "{HEAD}G65 P9100 A24. F3. Z-30.\nM30\nO9100\nG76 P021060 Q50 R.02\nG76 X[#1-2*.6134*#9] Z#26 P[#9*613.4] Q400 F#9\nM99\n"
        ),
        format!(
            "{HEAD}G65 P9100 A24. F3. Z-30.\nM30\nO9100\nIF [#2 EQ #0] GOTO 5\nG28 U0\nN5 G76 P021060 Q50 R.02\nG76 X[#1-2*.6134*#9] Z#26 R#18 P[#9*613.4] Q400 F#9\nM99\n"
        ),
    ] {
        let program = read(&text);
        assert_eq!(program.sections.len(), 1, "{text}");
        let section = &program.sections[0];
        assert_eq!(section.syntax, Syntax::TwoBlock);
        assert_eq!(section.unknown, Vec::<String>::new(), "{text}");
        assert_eq!(section.cut.root_x.get().unwrap().mm(), 20.3196);
        // P counts thousandths: 1840.2 is rounded by the control.
        assert_eq!(section.cut.height.get().unwrap().mm(), 1.84);
        assert_eq!(section.cut.lead.get().unwrap().mm(), 3.0);
        assert_eq!(section.passes[0].depth.unwrap().mm(), 0.4);
        // Literal words stay words: the first cut can be mended, the height cannot.
        let letters: Vec<u8> = section.words.iter().map(|word| word.letter).collect();
        assert!(letters.contains(&b'Q') && !letters.contains(&b'P') || letters.contains(&b'P'));
        assert!(section.words.iter().all(|word| {
            word.span
                .of(text.as_bytes())
                .iter()
                .all(|byte| *byte != b'#')
        }));
    }
}

/// Two starts of a lead of 6, half a turn apart: by the angle in a loop, and by the start along Z.
#[test]
fn starts_by_a_loop() {
    let by_angle = format!(
        "{HEAD}#1=0\nWHILE [#1 LT 2] DO1\n#2=1\nWHILE [#2 LE 3] DO2\nG0 X[24.-.8*#2]\nG32 Z-30. F6. Q[#1*180000]\nG0 X28.\nZ6.\n#2=#2+1\nEND2\n#1=#1+1\nEND1\nM30\n"
    );
    let by_z = format!(
        "{HEAD}#1=0\nWHILE [#1 LT 2] DO1\n#2=1\nWHILE [#2 LE 3] DO2\nG0 Z[6.+3.*#1]\nX[24.-.8*#2]\nG32 Z-30. F6.\nG0 X28.\n#2=#2+1\nEND2\n#1=#1+1\nEND1\nM30\n"
    );
    for text in [by_angle, by_z] {
        let section = section(&text);
        assert_eq!(section.passes.len(), 6, "{text}");
        assert_eq!(section.cut.starts, 2, "{text}");
        assert_eq!(section.cut.lead.get().unwrap().mm(), 6.0);
    }
}

/// A start that moves by the depth times tan 29.5 degrees is a flank infeed of 29.5 degrees.
#[test]
fn a_flank_infeed_by_a_variable() {
    let section = section(&format!(
        "{HEAD}#1=0\n#2=6.\nWHILE [#1 LT 1.8] DO1\n#1=#1+.3\nG0 Z[#2-#1*TAN[29.5]]\nX[24.-2.*#1]\nG32 Z-30. F3.\nG0 X28.\nEND1\nM30\n"
    ));
    assert_eq!(section.passes.len(), 6);
    let Infeed::Flank(angle) = section.cut.infeed else {
        panic!("{:?}", section.cut.infeed);
    };
    assert!((angle - 29.5).abs() < 0.01, "{angle}");
}

/// Distances in a subprogram that is called once a pass: X 24 - 2 * 0.3 a pass.
#[test]
fn a_pass_in_a_subprogram() {
    let section = section(
        "O1\nG21\nT0303\nG97 S800 M3\nG0 X28. Z6.\nM98 P2 L4\nG0 X50.\nM30\nO2\nG0 U-4.6\nG32 Z-30. F3.\nG0 U4.\nZ6.\nM99\n",
    );
    // 28 - 4.6 = 23.4, then each call begins 0.6 lower.
    assert_eq!(diameters(&section), [23.4, 22.8, 22.2, 21.6]);
}

/// What depends on a value that is not there is not guessed, and what does not is still read.
#[test]
fn what_is_not_known_stays_so() {
    let body = "G0 X[24.-.6*#1]\nG32 Z-30. F3.\nG0 X28.\nZ6.\n#1=#1+1\n";
    let unknown = |text: &str, why: &str| {
        let program = read(text);
        assert!(!program.sections.is_empty(), "{text}");
        let section = &program.sections[0];
        assert!(!section.passes_certain, "{text}");
        assert!(
            section.unknown.iter().any(|known| known.contains(why)),
            "{text}\n{:?}",
            section.unknown
        );
        program
    };
    // The end of the loop is not in the text.
    let program = unknown(
        &format!("{HEAD}#1=1\nWHILE [#1 LE #500] DO1\n{body}END1\nG92 X20. Z-30. F3.\nM30\n"),
        "loop whose end is not known",
    );
    let last = program.sections.last().unwrap();
    assert_eq!(last.passes.last().unwrap().z_start, None);
    unknown(
        &format!("{HEAD}#1=1\nN10 {body}IF [#1 LE #500] GOTO 10\nM30\n"),
        "whose condition is not known",
    );
    unknown(
        &format!("{HEAD}#1=1\nIF [#500 EQ 1] GOTO 20\n{body}N20 M30\n"),
        "whose condition is not known",
    );
    unknown(&format!("{HEAD}{body}M30\n"), "#1 has no value");
    unknown(
        &format!("{HEAD}#1=1\nIF [#1 EQ 1 AND #1 LT 5] GOTO 20\n{body}N20 M30\n"),
        "whose condition is not known",
    );
    unknown(
        &format!("{HEAD}#1=1\nM98 P777\n{body}M30\n"),
        "#1 has no value",
    );
    // What a branch may have set is not known behind it.
    unknown(
        &format!("{HEAD}#1=1\nIF [#500 EQ 1] THEN #1=2\n{body}M30\n"),
        "#1 has no value",
    );
    unknown(
        &format!("{HEAD}#1=1\n/#1=2\n{body}M30\n"),
        "#1 has no value",
    );
}

/// A branch that the values leave out cuts nothing, which is said; the one that they take is read.
#[test]
fn a_branch_that_is_not_taken() {
    let text = format!(
        "{HEAD}#100=2\nIF [#100 EQ 1] GOTO 10\nG92 X23. Z-30. F3.\nX22.\nGOTO 20\nN10 G92 X15. Z-30. F2.\nX14.\nN20 G0 X50.\nM30\n"
    );
    let program = read(&text);
    assert_eq!(program.sections.len(), 1);
    assert_eq!(diameters(&program.sections[0]), [23.0, 22.0]);
    let lines: Vec<u32> = program.unread.iter().map(|mark| mark.line).collect();
    assert_eq!(lines, [11]);
}

#[test]
fn loops_that_never_end() {
    let body = "G0 X[24.-.6*#1]\nG32 Z-30. F3.\nG0 X28.\nZ6.\n";
    for (text, line, why) in [
        // The counter is not advanced.
        (
            format!("{HEAD}#1=1\nWHILE [#1 LE 5] DO1\n{body}END1\nM30\n"),
            7,
            NeverEnds::NothingChanges,
        ),
        // It goes the wrong way.
        (
            format!("{HEAD}#1=1\nWHILE [#1 LE 5] DO1\n{body}#1=#1-1\nEND1\nM30\n"),
            7,
            NeverEnds::GoesAway,
        ),
        (
            format!("{HEAD}#1=1\nN10 {body}#1=#1+1\nIF [#1 GT 0] GOTO 10\nM30\n"),
            12,
            NeverEnds::GoesAway,
        ),
        // It steps over the value that would end it.
        (
            format!("{HEAD}#1=1\nWHILE [#1 NE 4] DO1\n{body}#1=#1+2\nEND1\nM30\n"),
            7,
            NeverEnds::GoesAway,
        ),
        // Two values in turn.
        (
            format!("{HEAD}#1=1\nWHILE [#1 LT 3] DO1\n{body}#1=3-#1\nEND1\nM30\n"),
            7,
            NeverEnds::NothingChanges,
        ),
    ] {
        let program = read(&text);
        let found: Vec<_> = program.endless.iter().map(|it| (it.line, it.why)).collect();
        assert_eq!(found, [(line, why)], "{text}");
        let passes: usize = program.sections.iter().map(|it| it.passes.len()).sum();
        assert!(passes < 200, "{passes}");
    }
}

/// Long loops that end, and loops that someone stops, are none that never end.
#[test]
fn loops_that_end_or_are_meant_not_to() {
    for text in [
        // A million rounds.
        format!("{HEAD}#1=0\nWHILE [#1 LT 1000000] DO1\n#1=#1+1\nEND1\nM30\n"),
        // A bar of parts: back to the start until the operator stops.
        format!("{HEAD}N10 G92 X23. Z-30. F3.\nX22.\nG0 X50.\nM1\nGOTO 10\n"),
        format!("{HEAD}G92 X23. Z-30. F3.\nX22.\nG0 X50.\nM99\n"),
        format!("{HEAD}WHILE [1 EQ 1] DO1\nG92 X23. Z-30. F3.\nX22.\nEND1\n"),
        format!("{HEAD}#1=0\nWHILE [#1 LT 3] DO1\n#2=0\nWHILE [#2 LT 3] DO2\n#2=#2+1\nEND2\n#1=#1+1\nEND1\nM30\n"),
        // The same jump with the same values, from a counted loop around it.
        "G21 G18 G7\nS500 M3\no1 repeat [3]\n#1=0\no2 while [#1 LT 2]\n#1=[#1+1]\no2 endwhile\no1 endrepeat\nM2\n".to_owned(),
        format!("{HEAD}M98 P5 L3\nM30\nO5\n#1=0\nN1 #1=#1+1\nIF [#1 LT 3] GOTO 1\nM99\n"),
        format!("{HEAD}#1=#500\nWHILE [#1 LT 3] DO1\nG4 X1.\nEND1\nM30\n"),
    ] {
        let program = read(&text);
        assert_eq!(program.endless, [], "{text}");
    }
    let long = read(&format!(
        "{HEAD}#1=0\nWHILE [#1 LT 1000000] DO1\n#1=#1+1\nEND1\nM30\n"
    ));
    assert!(long.unread.iter().any(|mark| mark.value.contains("20000")));
}

struct Shelf(Vec<(&'static str, &'static str)>);

impl Library for Shelf {
    fn find(&self, callee: Callee<'_>) -> Option<(String, Arc<[u8]>)> {
        let name = match callee {
            Callee::Number(number) => format!("O{number}"),
            Callee::Name(name) => name.to_ascii_lowercase(),
        };
        let (name, text) = self.0.iter().find(|(file, _)| *file == name)?;
        Some(((*name).to_owned(), Arc::from(text.as_bytes())))
    }
}

/// A thread in another file has its places in the block that calls it, and says so.
#[test]
fn calls_of_files_beside() {
    let shelf = Shelf(vec![
        (
            "O1300",
            "%\nO1300\nG92 X23. Z-30. F3.\nX22.\nX21.\nM99\n%\n",
        ),
        (
            "cut",
            "o<cut> sub\nG0 X#1\nG33 Z-30 K3\nG0 X28\nZ6\no<cut> endsub\nM2\n",
        ),
        (
            "thread",
            "R1=1\nWHILE R1<4\nG0 X=24-R1\nG33 Z-30 K3\nG0 X28 \nZ6\nR1=R1+1\nENDWHILE\nM17\n",
        ),
    ]);
    for (text, call, expected) in [
        (format!("{HEAD}M98 P1300\nG0 X50.\nM30\n"), "M98 P1300", [23.0, 22.0, 21.0]),
        (
            "G21 G18 G7\nG97 S800 M3\nG0 X28 Z6\n#1=23\no1 repeat [3]\no<cut> call [#1]\n#1=[#1-1]\no1 endrepeat\nM2\n".to_owned(),
            "o<cut> call [#1]",
            [23.0, 22.0, 21.0],
        ),
        (
            "G21\nT0303\nG97 S800 M3\nR9=1\nG0 X28 Z6\nTHREAD\nM30\n".to_owned(),
            "THREAD",
            [23.0, 22.0, 21.0],
        ),
    ] {
        let settings = Settings {
            diameter_mode: Some(true),
            ..Settings::default()
        };
        let program = lexer::read_with(text.as_bytes(), &settings, &shelf);
        assert_eq!(program.sections.len(), 1, "{text}");
        let section = &program.sections[0];
        assert_eq!(diameters(section), expected, "{text}");
        for pass in &section.passes {
            assert_eq!(pass.span.of(text.as_bytes()), call.as_bytes());
        }
        assert_eq!(section.words, []);
        assert!(section.unknown.iter().any(|why| why.contains("stands in the file")));
        assert_eq!(program.unread, []);
        // By itself nothing is known of it.
        let alone = read(&text);
        assert_eq!(alone.sections, [], "{text}");
    }
    let missing = lexer::read_with(
        format!("{HEAD}M98 P99\nM30\n").as_bytes(),
        &Settings::default(),
        &shelf,
    );
    assert_eq!(missing.unread.len(), 1);
}

/// Texts that ask for far more work than they have bytes, each within a bounded number of steps.
#[test]
fn nothing_runs_away() {
    let started = std::time::Instant::now();
    for text in [
        "#1=0\nN1 #1=#1+1\nGOTO 1\n".to_owned(),
        "O1\nM98 P1\nM99\n".to_owned(),
        "O1\nM98 P1 L9999\nM98 P1 L9999\nM99\n".to_owned(),
        "o1 sub\no1 call\no1 call\no1 endsub\no1 call\nM2\n".to_owned(),
        "#1=0\n".to_owned() + &"WHILE [#1 LT 9] DO1\n".repeat(500) + &"END1\n".repeat(500),
        "o1 repeat [999999999]\n".repeat(60) + &"o1 endrepeat\n".repeat(60),
        "N1 G4 X1\n".to_owned()
            + &"IF [#500 GT 1] GOTO 1\nG92 X2. Z-9. F1.\nG0 X9. Z9.\n".repeat(3_000),
        "WHILE [#1 LT 9] DO1\nG92 X2. Z-9. F1.\n".to_owned()
            + &"WHILE [#2 LT 9] DO2\n#1=1\nEND2\n".repeat(3_000)
            + "END1\n",
        "#[#[#[1]]]=#[#[2]]\n".repeat(1_000),
        "#1=1 ".repeat(20_000),
        "A: ".repeat(20_000),
        "R1=".repeat(20_000),
        "X=(".repeat(20_000),
        "G65 P1 A1\n".repeat(2_000) + "O1\nG65 P1\nM99\n",
        "G66 P1\nG0 X1\nO1\nG0 X2\nM99\n".to_owned(),
        "FOR R1=1 TO 999999\nFOR R2=1 TO 999999\nENDFOR\nENDFOR\n".to_owned(),
        "LOOP\nENDLOOP\n".repeat(1_000),
    ] {
        let program = read(&text);
        let effects = lexer::effects(text.as_bytes(), &Settings::default());
        assert!(effects.len() < 2_000_000, "{}", program.sections.len());
    }
    // Far above what it takes, far below a hang.
    assert!(started.elapsed().as_secs() < 60, "{:?}", started.elapsed());
}

/// Comments near a thread in a subprogram: its own, and those of the caller until a thread was cut.
#[test]
fn comments_of_a_subprogram() {
    let sub = "O2 (PACKING NUT)\nG92 X34.5 Z-22. F2.\nX35.2\nG0 X20.\nM99\n";
    let notes = |text: &str, section: usize| -> Vec<String> {
        let program = read(text);
        let notes = program.sections[section].notes.iter();
        notes
            .map(|note| String::from_utf8_lossy(note.span.of(text.as_bytes())).into_owned())
            .collect()
    };
    let first =
        format!("O1 (SLEEVE)\nG21\nT1 (M36X2)\nG97 S500 M3\nG0 X30. Z6.\nM98 P2\nM30\n{sub}");
    assert_eq!(notes(&first, 0), ["(SLEEVE)", "(M36X2)", "(PACKING NUT)"]);
    let second = first.replace("M98", "G92 X29. Z-9. F3.\nG0 X30.\nM98");
    assert_eq!(notes(&second, 0), ["(SLEEVE)", "(M36X2)"]);
    assert_eq!(notes(&second, 1), ["(PACKING NUT)"]);
    // Programs that follow each other share nothing.
    let apart =
        "O1\nG21\nT1\nG97 S500 M3\nG0 X30. Z6.\nG92 X29. Z-9. F3.\nG0 X30.\nM30\nO2 (M99X9)\nM30\n";
    assert_eq!(notes(apart, 0), Vec::<String>::new());
}
