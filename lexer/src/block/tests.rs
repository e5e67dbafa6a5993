use super::*;

/// Each line as `letter=value` words with marks for what else stands there.
fn dump(text: &[u8]) -> Vec<String> {
    let show = |word: &Word| match word.value {
        Value::Number(number) => format!("{}={}", word.letter as char, number.value()),
        Value::Expression => format!(
            "{}={{{}}}",
            word.letter as char,
            String::from_utf8_lossy(word.value_span.of(text))
        ),
        Value::Missing => format!("{}=?", word.letter as char),
    };
    blocks(text)
        .iter()
        .map(|block| {
            let mut parts = Vec::new();
            if block.percent {
                parts.push("%".to_owned());
            }
            if let Some(skip) = block.skip {
                parts.push(format!("/{skip}"));
            }
            parts.extend(block.program.iter().map(show));
            parts.extend(block.number.iter().map(show));
            parts.extend(block.words.iter().map(show));
            for name in &block.names {
                let text_of = |span: Span| String::from_utf8_lossy(span.of(text)).into_owned();
                parts.push(format!(
                    "name {}{}{}",
                    text_of(name.span),
                    name.assigned
                        .map_or(String::new(), |n| format!(":={}", n.value())),
                    name.arguments.map_or(String::new(), text_of)
                ));
            }
            if let Some(span) = block.statement {
                parts.push(format!(
                    "statement `{}`",
                    String::from_utf8_lossy(span.of(text))
                ));
            }
            for span in &block.comments {
                parts.push(format!("note `{}`", String::from_utf8_lossy(span.of(text))));
            }
            for fault in &block.faults {
                parts.push(format!(
                    "{:?}@{}..{}",
                    fault.kind, fault.span.start, fault.span.end
                ));
            }
            parts.join(" ")
        })
        .collect()
}

#[test]
fn words_without_spaces_and_with_spaces_inside() {
    assert_eq!(
        dump(b"g97s1600P13M03G00X.808Z.65Y0.0\nG 76 X\t-5. Z +0. 12 34\nX [ #21 + 2. ] Z-#3 F#<lead>"),
        [
            "G=97 S=1600 P=13 M=3 G=0 X=0.808 Z=0.65 Y=0",
            "G=76 X=-5 Z=0.1234",
            "X={[ #21 + 2. ]} Z={-#3} F={#<lead>}",
        ]
    );
}

#[test]
fn line_numbers_skips_and_programs() {
    assert_eq!(
        dump(b"%\nO1200 (SHAFT)\n/N10 G0 X1\n/2 G1\nN150/ X2\n:77\n%O9(A)\no100 while [#1 LT 5]\n"),
        [
            "%",
            "O=1200 note `(SHAFT)`",
            "/1 N=10 G=0 X=1",
            "/2 G=1",
            "/1 N=150 X=2",
            "O=77",
            "% O=9 note `(A)`",
            "statement `o100 while [#1 LT 5]`",
            "",
        ]
    );
}

#[test]
fn damage_is_named_and_read_as_meant() {
    assert_eq!(
        dump("F0,2 X15,8\nZ\u{2013}30.0\nGO X1\nZ,15\nT0 M06 X Z2".as_bytes()),
        [
            "F=0.2 X=15.8 DecimalComma@1..4 DecimalComma@6..10",
            "Z=-30 TypographicMinus@12..15",
            "G=0 X=1 LetterO@20..22",
            "Z=0.15 DecimalComma@27..30",
            "T=0 M=6 X=? Z=2 MissingValue@38..39",
        ]
    );
}

#[test]
fn comments_of_every_kind() {
    assert_eq!(
        dump(b"G0 (A (B) C) X1 ; END\n(OPEN\nX2 // REST\n()\n(L\xfcfter)"),
        [
            "G=0 X=1 note `(A (B) C)` note `; END`",
            "note `(OPEN` UnclosedComment@22..27",
            "X=2 note `// REST`",
            "note `()`",
            "note `(L\u{fffd}fter)`",
        ]
    );
}

#[test]
fn names_calls_and_statements() {
    assert_eq!(
        dump(b"CYCLE97(1.5,,0,-30) X2\nLIMS=3000 G96 S200\n#1=5 (SET)\nIF [#1 GT 2] GOTO 10\nroughing pass\nMCALL"),
        [
            "X=2 name CYCLE97(1.5,,0,-30)",
            "G=96 S=200 name LIMS:=3000",
            "statement `#1=5 ` note `(SET)`",
            "name IF statement `IF [#1 GT 2] GOTO 10`",
            "name roughing statement `roughing pass`",
            "name MCALL",
        ]
    );
}

#[test]
fn line_ends_leaders_and_trailers() {
    assert_eq!(
        dump(b"\0\0%\r\nG0X1\rG1X2\nM30\x1a"),
        ["%", "G=0 X=1", "G=1 X=2", "M=30"]
    );
}

fn by_tokens(text: &[u8]) -> Vec<Block> {
    let mut reader = Blocks::by_tokens(text);
    let mut all = Vec::new();
    let mut block = Block::default();
    while reader.read(&mut block) {
        all.push(block.clone());
    }
    all
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig {
        failure_persistence: None,
        ..proptest::prelude::ProptestConfig::default()
    })]

    /// The fast way reads what the way over tokens reads.
    #[test]
    fn plain_words_are_read_as_tokens_are(
        text in "([NGXZFOAg] ?[-+]?[0-9]{0,4}[.,]?[0-9]{0,3}[ \t]{0,2}|[/();#=%\r\n\x00AB_-]){0,40}"
    ) {
        proptest::prop_assert_eq!(blocks(text.as_bytes()), by_tokens(text.as_bytes()));
    }
}

/// Assignments and worked-out words of the way with parentheses.
#[test]
fn what_follows_an_equals_sign() {
    let text = b"R1=5 R2=R1*2 R[3]=-1.5\nG1 X=R1+5*SIN(R2) Z=-20 F=R3\nDEPTH=1.84/2 X=DEPTH ; NOTE\nX=(R1-1)/2\nX=10-5 Z=";
    assert_eq!(
        dump(text),
        [
            "",
            "G=1 X={R1+5*SIN(R2)} Z=-20 F={R3}",
            "X={DEPTH} name DEPTH note `; NOTE`",
            "X={(R1-1)/2}",
            "X={10-5} Z=? MissingValue@98..99",
        ]
    );
    let assignments: Vec<Vec<&[u8]>> = blocks(text)
        .iter()
        .map(|block| block.assignments.iter().map(|span| span.of(text)).collect())
        .collect();
    assert_eq!(assignments[0], [&b"R1=5"[..], b"R2=R1*2", b"R[3]=-1.5"]);
    assert_eq!(assignments[2], [b"DEPTH=1.84/2"]);
}
