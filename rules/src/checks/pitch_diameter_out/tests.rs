use crate::checks::testing::{assert_pairs, assert_silent, findings, judged, judged_with};
use crate::facts::{Config, FILE_NAME, Facts};
use crate::finding::Severity;

const RULE: &str = "pitch-diameter-out";

fn two_block(note: &str, x: &str, p: &str) -> String {
    format!(
        "G21\n{note}\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\nG76 X{x} Z-32. P{p} Q400 F3.\n"
    )
}

/// Pitch diameters by hand: d2 = X + 0.8660 P − 2r, D2 = X − 0.8660 P + 2r; limits of ISO 965-2 and
/// ASME B1.1.
#[test]
fn found_in_every_syntax() {
    assert_pairs(
        RULE,
        &[
            // M30x2-6g: 28.663 to 28.493. X27.2, r 0.25: 28.432, loose; X27.35: 28.582.
            (
                "G21\n(THREAD M30X2-6G, NOSE 0.25)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.2\nG0 X90.\n",
                "G21\n(THREAD M30X2-6G, NOSE 0.25)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.35\nG0 X90.\n",
            ),
            // M42x1.5-6g: 40.994 to 40.834 (ISO 965-2). X40.3, r 0.1: 41.399.
            (
                "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G, NOSE 0.1)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.3\nG0 X90.\n",
                "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G, NOSE 0.1)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX39.815\nG0 X90.\n",
            ),
            // A nut M36x3-6H: 34.316 to 34.051. X36.0, r 0.1: 33.602, tight.
            (
                "G21\n(THREAD M36X3-6H, NOSE 0.1)\nG97 S500 M3\nT0505\nG0 X30. Z9.\nG76 P020055 Q60 R0.03\nG76 X36. Z-30. P1624 Q400 F3.\n",
                "G21\n(THREAD M36X3-6H, NOSE 0.1)\nG97 S500 M3\nT0505\nG0 X30. Z9.\nG76 P020055 Q60 R0.03\nG76 X36.58 Z-30. P1914 Q400 F3.\n",
            ),
            // 3/4-10 UNC-2A: 0.6832 to 0.6773 in. X.6, r .014: .6586, loose.
            (
                "G20\n(THREAD 3/4-10 UNC-2A, NOSE 0.014)\nG97 S700 M3\nG0 X.9 Z.4\nG76 X.6 Z-1.75 K.075 D0150 A60 F.1\n",
                "G20\n(THREAD 3/4-10 UNC-2A, NOSE 0.014)\nG97 S700 M3\nG0 X.9 Z.4\nG76 X.6216 Z-1.75 K.0642 D0150 A60 F.1\n",
            ),
            // Single strokes, M24x3-6g with r 0.4: X19.9 gives 21.698.
            (
                "G21\n(THREAD M24X3-6G, NOSE 0.4)\nG97 S500 M3\nG0 X30. Z9.\nX23.\nG32 Z-30. F3.\nG0 X30.\nZ9.\nX21.\nG32 Z-30. F3.\nG0 X30.\nZ9.\nX19.9\nG32 Z-30. F3.\nG0 X30.\n",
                "G21\n(THREAD M24X3-6G, NOSE 0.4)\nG97 S500 M3\nG0 X30. Z9.\nX23.\nG32 Z-30. F3.\nG0 X30.\nZ9.\nX21.\nG32 Z-30. F3.\nG0 X30.\nZ9.\nX20.1\nG32 Z-30. F3.\nG0 X30.\n",
            ),
        ],
    );
}

/// The pitch diameters of M24x3 cut to 20.319 mm: d2 = X + 2.598 - 2r; limits of 6g are
/// 21.803 and 22.003 (ISO 965-1, worked in the tests of the standard).
#[test]
fn which_way_it_lies_out_decides() {
    let one = |nose: &str, x: &str| {
        let note = format!("(THREAD M24X3-6G, NOSE {nose})");
        let found = findings(RULE, &two_block(&note, x, "1841"));
        found.first().map(|finding| {
            (
                finding.severity,
                finding.message.clone(),
                finding.help.clone(),
            )
        })
    };
    // r = 0.3: 22.317, far too big, mended by a wear offset of -0.414.
    let (severity, message, help) = one("0.3", "20.319").unwrap();
    assert_eq!(severity, Severity::Warning);
    assert!(message.contains("22.317 mm, 0.314 mm outside"), "{message}");
    assert!(help.contains("-0.414 mm"), "{help}");
    // r = 0.433: the basic size; only the allowance is missing.
    assert_eq!(one("0.433", "20.319").unwrap().0, Severity::Advice);
    assert_eq!(one("0.433", "20.171"), None);
    // r = 0.6: 21.717, loose.
    assert_eq!(one("0.6", "20.319").unwrap().0, Severity::Error);
}

/// A flat of a quarter of the pitch, 0.75 mm, whose sharp V lies 0.75 · 0.866 deeper: at the minor
/// diameter of the nut, 20.752, it leaves 20.752 + 2.598 - 1.299 = 22.051, the basic size.
#[test]
fn a_flat_nose_counts_too() {
    let found = |flat: &str, x: &str| {
        let note = format!("(THREAD M24X3-6G, FLAT {flat})");
        findings(RULE, &two_block(&note, x, "1841"))
    };
    let basic = found("0.75", "20.752");
    assert_eq!(basic[0].severity, Severity::Advice);
    assert!(
        basic[0].message.contains("nose flat of 0.75 mm"),
        "{basic:?}"
    );
    assert!(found("0.75", "20.6").is_empty());
    assert_eq!(found("0.9", "20.6")[0].severity, Severity::Error);
}

/// A last pass at the same diameter, 0.15 mm farther along: 1.732 · 0.15 = 0.260 off the pitch
/// diameter, which the last diameter alone does not tell.
#[test]
fn a_shifted_pass_widens_the_groove() {
    let text = |z: &str| {
        format!(
            "G21\n(THREAD M24X3-6G, NOSE 0.4)\nG97 S500 M3\nG0 X30. Z9.\nX22.\nG32 Z-30. F3.\n\
             G0 X30.\nZ9.\nX20.1\nG32 Z-30. F3.\nG0 X30.\nZ{z}\nX20.1\nG32 Z-30. F3.\nG0 X30.\n"
        )
    };
    assert!(findings(RULE, &text("9.")).is_empty());
    let found = findings(RULE, &text("8.85"));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].message.contains("21.638 mm"), "{found:?}");
    assert!(
        found[0]
            .because
            .iter()
            .any(|line| line.contains("do not lie")),
        "{found:?}"
    );
    // A whole lead farther along is the same groove.
    assert!(findings(RULE, &text("12.")).is_empty());
}

#[test]
fn an_inferred_thread_makes_no_error() {
    let text = two_block("(NOSE 0.6)", "20.319", "1841");
    assert!(
        findings(RULE, &text)
            .iter()
            .all(|found| found.severity < Severity::Error)
    );
}

#[test]
fn a_missing_nose_is_said() {
    let text = two_block("(THREAD M24X3-6G)", "20.319", "1841");
    let judgement = judged(&text, &Facts::default());
    let reasons = judgement.not_judged.concat();
    let why = &reasons.iter().find(|(name, _)| *name == RULE).unwrap().1;
    assert!(why.contains("the nose of the tool is missing"), "{why}");
    assert!(findings(RULE, &text).is_empty());
}

#[test]
fn silent_where_another_rule_or_section_speaks() {
    assert_silent(
        RULE,
        &[
            // Roughed by one section, finished by the next.
            "G21\n(THREAD M30X2-6G, NOSE 0.25)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X34. Z8.\nG92 X27.6 Z-36. F2.\nX27.35\nG0 X90.\n",
            // Does not reach the mating crest: depth-vs-form.
            "G21\n(THREAD M30X2-6G, NOSE 0.25)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.5\nG0 X90.\n",
            // Tapered.
            "G20\n(THREAD 1/2-14 NPT, NOSE 0.002)\nG97 S600 M3\nG0 X1. Z.4\nG76 X.72 Z-.6 I-.031 K.06 D0120 A60 F.0714\n",
        ],
    );
}

/// A fine nose that is sent twice, the second time 0.45 mm beside: 22.717 - 1.732 · 0.45 = 21.938,
/// inside the limits. From the same start, or a whole pitch off, it stays 22.717.
#[test]
fn two_cycles_widen_one_groove() {
    let text = |z: &str| {
        format!(
            "G21\n(THREAD M24X3-6G, NOSE 0.1)\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\n\
             G76 X20.319 Z-32. P1841 Q400 F3.\nG0 Z{z}\nG76 P020055 Q60 R0.03\n\
             G76 X20.319 Z-32. P1841 Q400 F3.\n"
        )
    };
    assert!(findings(RULE, &text("9.45")).is_empty());
    for z in ["9.", "12."] {
        let found = findings(RULE, &text(z));
        assert!(found[0].message.contains("22.717 mm"), "{found:?}");
    }
}

/// The same tool with another offset, which the program does not tell: not judged.
#[test]
fn another_offset_is_not_judged() {
    let text = |word: &str| {
        format!(
            "G21\nT0303\n(THREAD M24X3-6G, NOSE 0.1)\nG97 S700 M3\nG0 X36. Z9.\n\
             G76 P020055 Q60 R0.03\nG76 X20.319 Z-32. P1841 Q400 F3.\nG0 X60. Z60.\n{word}\n\
             (THREAD M24X3-6G, NOSE 0.1)\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\n\
             G76 X20.319 Z-32. P1841 Q400 F3.\n"
        )
    };
    let judgement = judged(&text("T0313"), &Facts::default());
    assert!(
        judgement.findings.iter().all(|found| found.rule != RULE),
        "{judgement:?}"
    );
    let reasons = judgement.not_judged.concat();
    assert!(
        reasons
            .iter()
            .any(|(name, why)| *name == RULE && why.contains("another offset")),
        "{reasons:?}"
    );
    assert!(!findings(RULE, &text("T0303")).is_empty());
}

/// The tool's own nose counts as the note's does.
#[test]
fn the_nose_of_the_tool() {
    let toml = "[[tool]]\nnumber = 3\nnose_radius_mm = 0.3\n";
    let facts = Config::parse(FILE_NAME, toml, &[]).unwrap().facts("a.nc").1;
    let text = two_block("(THREAD M24X3-6G)\nT0303", "20.319", "1841");
    let found = judged_with(RULE, &text, &facts);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].message.contains("22.317 mm"), "{found:?}");
}
