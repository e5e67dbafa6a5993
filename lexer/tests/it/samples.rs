//! Sections as shops write them, written back: the same words, and where the writer knows every
//! habit the same text.

use lexer::program::Settings;
use lexer::section::Section;
use lexer::syntax::{Style, write};

/// What stands in front of the section, the section, and how it is written back where that is not
/// letter for letter the same.
struct Sample {
    before: &'static str,
    section: &'static str,
    again: Option<&'static str>,
}

const fn same(before: &'static str, section: &'static str) -> Sample {
    Sample {
        before,
        section,
        again: None,
    }
}

const SAMPLES: &[Sample] = &[
    // Two-block, spaces, points.
    same(
        "G21 G99\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G76 P020060 Q50 R0.02\nG76 X20.32 Z-30. P1840 Q400 F3.\n",
    ),
    // No spaces, no leading zeros, inches, an explicit zero taper, CRLF.
    same(
        "G20\r\nT0303\r\nG97S1600M3\r\nG0X.808Z.65\r\n",
        "G76P010060Q20R.001\r\nG76X.635Z0R0P351Q80F.059055\r\n",
    ),
    // N numbers, two-digit codes, tapered, allowance in increments.
    same(
        "G21\nN10 T0505\nN20 G97 S500 M03\nN30 G00 X40.0 Z8.0\n",
        "N40 G76 P011060 Q100 R50\nN50 G76 X30.5 Z-25.0 R-1.031 P1479 Q350 F2.309\n",
    ),
    // Lower case, P and Q in millimetres.
    same(
        "g21\nt0101\ng97 s600 m3\ng0 x22. z5.\n",
        "g76 p020029 q0.05 r0.03\ng76 x16.4 z-18. p1.25 q0.3 f2.\n",
    ),
    // Other order of words.
    same(
        "G21\nT0101\nG97 S600 M3\nG0 X22. Z5.\n",
        "G76 P020060 R0.03 Q50\nG76 Z-18. X17.546 F2. Q300 P1227\n",
    ),
    // System C.
    same(
        "G71\nT0101\nG97 S600 M3\nG0 X22. Z5.\n",
        "G78 P020060 Q50 R0.03\nG78 X17.546 Z-18. P1227 Q300 F2.\n",
    ),
    // Boxes: modal X, taper, spring pass.
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G92 X23.2 Z-30. F3.\nX22.6\nX22.1\nX21.7\nX21.4\nX21.1\nX20.8\nX20.6\nX20.4\nX20.32\nX20.32\nG0\n",
    ),
    same(
        "G20\nT0303\nG97S800M3\nG0X1.2Z.2\n",
        "G92X1.02Z-.75I-.0297E.086957\nX1.\nX.985\nG0\n",
    ),
    same(
        "G21 G90 G95\nT3\nG92 S2000\nG97 S800 M3\nG0 X28. Z6.\n",
        "G78 X23.2 Z-30. R-1.125 F3.\nX22.6\nX22.1\nG0\n",
    ),
    same(
        "G71\nT3\nG97 S800 M3\nG0 X28. Z6.\n",
        "G21 X23.2 Z-30. F3.\nX22.6\nX22.1\nG0\n",
    ),
    // Every box written out, absolute although the shop writes increments.
    Sample {
        before: "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        section: "G92 U-4.8 W-36. F3.\nU-5.4\nG0\n",
        again: Some("G92 X23.2 Z-30. F3.\nX22.6\nG0\n"),
    },
    // Strokes; two starts by angle and by Z.
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G0 X23.2\nG32 Z-30. F3.\nG0 X28.\nG0 Z6.\nG0 X22.6\nG32 Z-30. F3.\nG0 X28.\nG0 Z6.\n",
    ),
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G0 X23.2\nG32 Z-30. Q0 F6.\nG0 X28.\nG0 Z6.\nG0 X23.2\nG32 Z-30. Q180000 F6.\nG0 X28.\n\
         G0 Z6.\nG0 X22.6\nG32 Z-30. Q0 F6.\nG0 X28.\nG0 Z6.\nG0 X22.6\nG32 Z-30. Q180000 F6.\nG0 X28.\n\
         G0 Z6.\n",
    ),
    same(
        "G21 G18 G8\nT3\nG97 S800 M3\nG0 X14 Z6\n",
        "G0 X11.6\nG33 Z-30 K3\nG0 X14\nG0 Z6\nG0 X11.3\nG33 Z-30 K3\nG0 X14\nG0 Z6\n",
    ),
    // A chained pull-out.
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G0 X23.2\nG32 Z-30. F3.\nG32 X26.2 Z-31.5 F3.\nG0 X28.\nG0 Z6.\nG0 X22.6\nG32 Z-30. F3.\n\
         G32 X25.6 Z-31.5 F3.\nG0 X28.\nG0 Z6.\n",
    ),
    // One block: D without a point, then with one; the method written although it is the default.
    Sample {
        before: "G20\nT0303\nG97 S800 M3\nG0 X.9 Z.2\n",
        section: "G76 X.635 Z-.75 K.046 D0140 A60 F.0625\n",
        again: Some("G76 X.635 Z-.75 K.046 D140 A60 F.0625\n"),
    },
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G76 X20.32 Z-30. I-1.125 K1.84 D0.4 A60 P1 F3.\n",
    ),
    // The interpreter's cycle, radius and diameter mode, tapers.
    same(
        "G21 G18 G8\nG97 S500 M3\nG0 X11 Z5\n",
        "G76 P1.5 Z-20 I-1 J0.3 R2 K0.92 Q29.5 H2 E1.5 L3\n",
    ),
    same(
        "G21 G18 G7\nG97 S500 M3\nG0 X17 Z5\n",
        "G76 P1.5 Z-20 I0.688 J0.25 R2 K0.812 Q29.5 H2\n",
    ),
    // Positions in least increments.
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28000 Z6000\nG1 X28500 F0.2\nG0 X28000\n",
        "G92 X23200 Z-30000 F3.\nX22600\nX22100\nX21700\nG0\n",
    ),
    // Block skip.
    same(
        "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        "G92 X23.2 Z-30. F3.\nX22.6\n/ X22.6\nG0\n",
    ),
    // What a skipped block sets is not relied upon.
    Sample {
        before: "G21\nT0303\nG97 S800 M3\nG0 X28. Z6.\n",
        section: "/ G92 X23.2 Z-30. F3.\nX22.6\nX22.\nG0\n",
        again: Some("/ G92 X23.2 Z-30. F3.\nG92 X22.6 Z-30. F3.\nX22.\nG0\n"),
    },
];

#[test]
fn written_back_as_it_was_written() {
    let settings = Settings::default();
    for sample in SAMPLES {
        let text = format!("{}{}G0 X200. Z200.\nM30\n", sample.before, sample.section);
        let program = lexer::read(text.as_bytes(), &settings);
        assert_eq!(program.sections.len(), 1, "{text}\n{:?}", program.sections);
        let section = &program.sections[0];
        assert!(!section.passes.is_empty(), "{text}");
        let style = Style::of(section, program.family, text.as_bytes());
        let written = write(&section.cut, &section.passes, section.syntax, &style)
            .unwrap_or_else(|cannot| panic!("{text}\n{cannot:?}"));
        let expected = sample.again.unwrap_or(sample.section);
        assert_eq!(written.text, expected, "{text}\n{style:?}");
        let again = format!("{}{}G0 X200. Z200.\nM30\n", sample.before, written.text);
        let second = lexer::read(again.as_bytes(), &settings);
        assert_eq!(second.sections.len(), 1, "{again}");
        assert_eq!(second.sections[0].cut, section.cut, "{again}");
        let places = |section: &Section| -> Vec<_> {
            let passes = section.passes.iter();
            passes
                .map(|pass| {
                    (
                        pass.x_start,
                        pass.x,
                        pass.z_start,
                        pass.z_end,
                        pass.legs.len(),
                    )
                })
                .collect()
        };
        assert_eq!(places(&second.sections[0]), places(section), "{again}");
    }
}
