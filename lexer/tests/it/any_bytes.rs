//! Whatever the bytes: no panic, no hang, and every place inside the text.

use lexer::evidence::Family;
use lexer::number::DecimalRule;
use lexer::program::{Program, Settings};
use lexer::section::Syntax;
use lexer::source::Span;
use lexer::syntax::{Style, write};
use lexer::units::Units;
use proptest::prelude::*;

/// Bytes of part programs: whole words, damaged ones, and anything.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let word = prop_oneof![
        8 => "[GXZUWFPQRKIDAEJHLSTMNOY]-?[0-9]{0,7}\\.?[0-9]{0,4}",
        6 => prop::sample::select(vec![
            "G76", "G92", "G32", "G33", "G78", "G21", "G20", "G0", "G1", "G97", "G96", "G71", "G84",
            "G7", "G8", "G90", "G91", "M3", "M30", "T0303", "F3.", "F.05", "P020060", "Q100", "R0.05",
            "X20.", "Z-30.", "K1.5", "G76 P021060 Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n",
            "M6", "T5", "M29 S300\n", "G80\n", "G84 X10. Y5. Z-20. R3. F375.\nX30.\n", "G33.1 Z-9 K1\n",
            "G331 Z-9 K1 S200\nG332 Z5\n", "G81 X10. Y5. Z-25. R2. F90.\n", "G3 X4. Y0. Z-9. I-4. J0.\n",
            "G1 X4. Y0. F99.\n", "(THREAD MILL)\n", "(M8 TAP)\n", "MCALL CYCLE84(9,0,2,-9,,0,3,,1,0,400)\n",
            "G76 P1.5 Z-20 I-1 J0.3 K0.92\n", "G92 X23.2 Z-30. F3.\nX22.6\n", "G0 X28. Z6.\n",
            "CYCLE97(3,,0,-30,24,24,6,2,1.84,0.05,30,0,4,1,3,1,2)\n", "MCALL CYCLE99(0,40,-30,40,2,1,0.92,0.05,30,0,5,1,1.5,1,3)\n",
            "MCALL", "CYCLE98(0,30,-10,30,-40,36,-50,36,4,2,0.92,0.05,30,0,3,0,1.5,2,1.5,1,1,2)\n", "S1=800", "M1=3", "SF=90",
            "DIAMON", "DIAM90", "X=IC(2)", "Z=R5+1", "G34 Z-30. F3. K-.1\n", "G35", "G82 X20. Z-30. F2.\nX19.\n",
            "G71 X20 Z-30 B60 D0.8 U0.1 H3 F3 M32 M75\n", "G76 P1.5 Z-20 I-1 J0.3 K0.92\n", "G92 X23.2 Z-30. F3.\nX22.6\n", "G0 X28. Z6.\n",
        ]).prop_map(str::to_owned),
        4 => prop::sample::select(vec!["\n", "\r\n", "\r", " ", "", "/", "/2"]).prop_map(str::to_owned),
        2 => "[\\[\\]#=()<>;:%,.$'\"*+-]{1,3}",
        1 => "(WHILE|END1|o1 while|IF|GOTO 1|CYCLE97\\(1,2\\)|LIMS=3|THREAD|[A-Z]{1,5})[ \\[]?",
        5 => prop::sample::select(vec![
            "#1=#1+1\n", "#1=0\n", "#2=[#1*3-1]\n", "WHILE [#1 LT 5] DO1\n", "END1\n", "DO2\n", "END2\n",
            "IF [#1 GT 3] GOTO 1\n", "IF [#500 EQ 1] GOTO 2\n", "GOTO 1\n", "GOTO 2\n", "GOTO #1\n", "\nN1 ", "\nN2 ",
            "IF [#1 EQ 2] THEN #2=3\n", "M98 P1\n", "M98 P20001\n", "M98 P7 L3\n", "\nO1\n", "\nO7\n", "M99\n", "M99 P1\n",
            "M97 P1 L2\n", "G65 P7 A1. B2.\n", "G66 P7 I1 J2 I3\n", "G67\n", "X#1", "Z-[#2*2.5]", "P#1", "F#2", "#0", "X#0",
            "\no1 sub\n", "\no1 endsub\n", "\no1 call [#1] [2]\n", "\no2 if [#1 LT 2]\n", "\no2 else\n", "\no2 endif\n",
            "\no3 repeat [3]\n", "\no3 endrepeat\n", "\no4 do\n", "\no4 while [#1 LT 4]\n", "\no4 break\n", "\no1 return [5]\n",
            "R1=1\n", "R1=R1+1\n", "X=R1*2", "IF R1>3 GOTOF AGAIN\n", "AGAIN: ", "GOTOB AGAIN\n", "FOR R2=1 TO 4\n", "ENDFOR\n",
            "REPEAT\n", "UNTIL R1>2\n", "LOOP\n", "ENDLOOP\n", "DEF REAL DEPTH=1.5, STEP\n", "DEPTH=DEPTH-STEP\n", "#3000=1\n",
        ]).prop_map(str::to_owned),
        1 => "\\PC{0,6}",
    ];
    let piece = prop_oneof![
        12 => word.prop_map(String::into_bytes),
        1 => prop::collection::vec(any::<u8>(), 0..12),
    ];
    prop::collection::vec(piece, 0..400).prop_map(|pieces| pieces.concat())
}

fn settings() -> impl Strategy<Value = Settings> {
    (
        prop::option::of(prop::sample::select(vec![
            Family::SystemA,
            Family::SystemB,
            Family::SystemC,
            Family::Interpreter,
            Family::Mill,
            Family::Call,
            Family::Compound,
            Family::BoxG82,
            Family::Undecided,
        ])),
        prop::option::of(any::<bool>()),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(family, diameter_mode, inch, least)| Settings {
            family,
            diameter_mode,
            units: inch.then_some(Units::Inch),
            decimal: least.then_some(DecimalRule::LeastIncrement),
            ..Settings::default()
        })
}

/// Every place that a reader of the program may show.
fn places(program: &Program) -> Vec<(Span, u32)> {
    let mut all = Vec::new();
    all.extend(
        program
            .reasons
            .iter()
            .map(|reason| (reason.span, reason.line)),
    );
    all.extend(program.units.map(|mark| (mark.span, mark.line)));
    all.extend(
        program
            .faults
            .iter()
            .map(|(line, fault)| (fault.span, *line)),
    );
    all.extend(program.notes.iter().map(|note| (note.span, note.line)));
    all.extend(program.unread.iter().map(|mark| (mark.span, mark.line)));
    all.extend(program.endless.iter().map(|it| (it.span, it.line)));
    all.extend(
        program
            .shared
            .iter()
            .map(|&span| (span, program.lines.line(span.start))),
    );
    for section in &program.sections {
        all.push((section.span, section.first_line));
        let end = Span::new(section.span.end, section.span.end);
        all.push((end, section.last_line));
        all.extend(section.blocks.iter().map(|mark| (mark.span, mark.line)));
        all.extend(section.passes.iter().map(|pass| (pass.span, pass.line)));
        all.extend(
            section
                .words
                .iter()
                .flat_map(|word| [(word.span, word.line), (word.value_span, word.line)]),
        );
        all.extend(section.moves.iter().map(|mv| (mv.span, mv.line)));
        all.extend(section.notes.iter().map(|note| (note.span, note.line)));
        all.extend(section.tool.map(|mark| (mark.span, mark.line)));
        all.extend(section.spindle.speed.map(|mark| (mark.span, mark.line)));
        all.extend(section.spindle.turning.map(|mark| (mark.span, mark.line)));
        if let Some(tapping) = &section.tapping {
            all.push((tapping.code.span, tapping.code.line));
            all.extend(
                tapping
                    .holes
                    .iter()
                    .map(|hole| (hole.block.span, hole.block.line)),
            );
            let drilled = tapping
                .holes
                .iter()
                .filter_map(|hole| hole.drilled.as_ref());
            all.extend(drilled.map(|drilled| (drilled.block.span, drilled.block.line)));
            all.extend(
                tapping
                    .left_active
                    .iter()
                    .map(|stray| (stray.block.span, stray.block.line)),
            );
        }
        if let Some(milling) = &section.milling {
            let pieces = milling.helices.iter().flat_map(|helix| &helix.pieces);
            all.extend(pieces.map(|piece| (piece.block.span, piece.block.line)));
        }
        for missing in &section.missing {
            all.push((missing.block, missing.line));
            all.extend(missing.in_force.map(|mark| (mark.span, mark.line)));
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn reading_never_fails(bytes in bytes(), settings in settings()) {
        let program = lexer::read(&bytes, &settings);
        let count = program.lines.count();
        for (span, line) in places(&program) {
            prop_assert!(span.start <= span.end && span.end as usize <= bytes.len(), "{:?}", span);
            prop_assert!((1..=count).contains(&line), "line {} of {}", line, count);
            prop_assert_eq!(program.lines.line(span.start), line, "{:?}", span);
        }
        // Sections stand in the order of the text.
        prop_assert!(program.sections.is_sorted_by_key(|section| section.first_line));
        for section in &program.sections {
            let style = Style::of(section, program.family, &bytes);
            for syntax in Syntax::ALL {
                if let Ok(written) = write(&section.cut, &section.passes, syntax, &style) {
                    prop_assert!(written.text.is_ascii());
                }
            }
        }
    }

    #[test]
    fn effects_never_fail_and_repeat(bytes in bytes(), settings in settings()) {
        let effects = lexer::effects(&bytes, &settings);
        prop_assert!(effects == lexer::effects(&bytes, &settings));
        // Comments behind the lines change nothing that was done, unless one swallows a bracket.
        if !bytes.iter().any(|byte| b"(;/\"[<%\xc2\xe2".contains(byte)) {
            let commented = bytes.split(|&byte| byte == b'\n').collect::<Vec<_>>().join(&b" (X1)\n"[..]);
            prop_assert!(effects == lexer::effects(&commented, &settings), "{}", String::from_utf8_lossy(&bytes));
        }
    }
}

/// An expression ends before the blank that parts it from a comment.
#[test]
fn a_comment_behind_an_expression_changes_nothing() {
    let settings = lexer::program::Settings::default();
    for text in ["DEPTH=DEPTH-STEP", "X=R5+1", "R1=R1-R2", "#1=#1+1"] {
        let commented = format!("{text} (X1)");
        let alone = lexer::effects(text.as_bytes(), &settings);
        assert_eq!(
            alone,
            lexer::effects(commented.as_bytes(), &settings),
            "{text}"
        );
    }
}

/// Texts that ask for far more work than they have bytes.
#[test]
fn nothing_runs_away() {
    let head = "G21\nT1\nG97 S100 M3\nG0 X50. Z5.\n";
    for line in [
        "G76 X20. Z-9. K9. D.001 F2.\n",
        "G92 X20. Z-30. F2.\n",
        "X20.\n",
        "G32 Z-30. F2.\n",
        "G0 X50. Z5.\n",
        "(M24X3)\n",
        "G76 P1.5 Z-20 I-1 J.0001 K.92 R3\n",
        "CYCLE97(3,,0,-30,24,24,6,2,1.84,0,30,0,9999,9999,3,60)\n",
        "MCALL CYCLE97(3,,0,-30,24,24,6,2,1.84,0,30,0,9999,9,3,1)\nG0 X40\n",
        "S1                                                        \n",
        "X=R1+R1+R1+R1+R1+R1+R1+R1\n",
        "WHILE [#1 LT 5] DO1\n",
        "[[[[[[[[[[(((((((((\n",
        "/ N1 % O1 : T1\n",
    ] {
        let text = format!("{head}G92 X21. Z-30. F2.\n{}", line.repeat(2_000));
        let program = lexer::read(text.as_bytes(), &Settings::default());
        let listed: usize = program
            .sections
            .iter()
            .map(|section| section.passes.len())
            .sum();
        // The file's limit, overrun by one cycle at most.
        assert!(listed <= 1_010_000, "{line}: {listed}");
        let notes: usize = program
            .sections
            .iter()
            .map(|section| section.notes.len())
            .sum();
        assert!(notes <= 256 * program.sections.len(), "{line}");
    }
}

#[test]
fn the_longest_numbers_and_the_shortest_texts() {
    for text in [
        "",
        "\0",
        "%",
        "(",
        "G",
        "G76",
        "G76P",
        "X-",
        "X.",
        "N",
        "/",
        "#",
        "\"",
        "\u{feff}",
        "O",
        ":",
        "G99999999999999999999 X99999999999999999999 Z-99999999999999999999.99999999999 F.00000000000000000000001",
        "G92 X9223372036854775807 Z-9223372036854775807 F9223372036854775807",
        "G0X9223372036854775807Z9223372036854775807\nG76P999999Q9223372036854775807R9223372036854775807\nG76X-9223372036854775807Z-9223372036854775807R9223372036854775807P9223372036854775807Q1F1",
        "G8\nG0X922337203Z5\nG76P922337203Z-922337203I-922337203J.1K922337203R.00001Q89.99999999H9223372036854775807E922337203L3",
        "G20\nG0X92233720Z5\nG33X-92233720Z-92233720K92233720",
        "CYCLE97(9223372036,,-9223372036,9223372036,9223372036,-9223372036,9223372036,9223372036,9223372036,9223372036,60,999999999999999,4294967295,4294967295,3,1,9223372036)",
        "CYCLE98(9223372036,1,-9223372036,9223372036,1,1,0,9223372036,9223372036,9223372036,1,0,0,0,3,0,1,1,1,1,1)",
        "CYCLE98(9,9223372036,8,-9223372036,7,9223372036,6,-9223372036,9223372036,9223372036,1,0,0,0,3,0,1,1,1,1,1)",
        "DIAMON\nG0 X9223372036 Z-9223372036\nG34 X-9223372036 Z9223372036 K9223372036 F9223372036",
    ] {
        for family in [
            None,
            Some(Family::SystemA),
            Some(Family::Interpreter),
            Some(Family::SystemC),
        ] {
            let settings = Settings {
                family,
                ..Settings::default()
            };
            let program = lexer::read(text.as_bytes(), &settings);
            assert_eq!(program.length as usize, text.len());
            let _ = lexer::effects(text.as_bytes(), &settings);
            for section in &program.sections {
                let style = Style::of(section, program.family, text.as_bytes());
                for syntax in Syntax::ALL {
                    let _ = write(&section.cut, &section.passes, syntax, &style);
                }
            }
        }
    }
}
