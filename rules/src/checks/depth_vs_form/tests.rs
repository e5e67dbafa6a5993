use crate::checks::testing::{assert_pairs, assert_silent, findings};
use crate::finding::Severity;

const RULE: &str = "depth-vs-form";

fn two_block(note: &str, x: &str, p: &str) -> String {
    format!(
        "G21\n{note}\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\nG76 X{x} Z-32. P{p} Q400 F3.\n"
    )
}

#[test]
fn found_and_mended_in_every_syntax() {
    assert_pairs(
        RULE,
        &[
            // A full sharp V.
            (
                "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.5768Z-1.75K.0866D0150A60F.1\n",
                "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
            ),
            // The depth on the diameter, taken as a radius, height and all.
            (
                "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X25.092 Z-32. P2454 Q400 F2.\n",
                "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q400 F2.\n",
            ),
            // Half the depth.
            (
                "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X28.773 Z-32. P614 Q400 F2.\n",
                "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1228 Q400 F2.\n",
            ),
            // Boxes: nothing is written, too many diameters would change.
            (
                "G21 G90 G95\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX39.402\nG0 X90.\n",
                "G21 G90 G95\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.16\nG0 X90.\n",
            ),
            (
                "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX58.5\nG0 X90.\n",
                "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX57.546\nG0 X90.\n",
            ),
            // Strokes, a nut that ends at its bore.
            (
                "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX33.\nG32 Z-27. F3.\nG0 X31.\n",
                "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.\nG32 Z-27. F3.\nG0 X31.\n",
            ),
            // The drive line: the height alone makes the root.
            (
                "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.732 Q27\n",
                "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
            ),
            // The minor diameter of the nut.
            (
                "G21\n(THREAD M20X1.5-6G)\nG97 S700 M3\nG0 X24. Z9.\nG76 P020055 Q60 R0.03\nG76 X18.376 Z-32. P812 Q300 F1.5\n",
                "G21\n(THREAD M20X1.5-6G)\nG97 S700 M3\nG0 X24. Z9.\nG76 P020055 Q60 R0.03\nG76 X18.16 Z-32. P920 Q300 F1.5\n",
            ),
        ],
    );
}

#[test]
fn an_inferred_thread_makes_no_error() {
    let text = "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.5768Z-1.75K.0866D0150A60F.1\n";
    let named = text.replace("G20", "G20(3/4-10 UNC)");
    assert_eq!(findings(RULE, &named)[0].severity, Severity::Error);
    let found = findings(RULE, text);
    assert!(
        found
            .iter()
            .all(|finding| finding.severity < Severity::Error)
    );
}

#[test]
fn a_fine_nose_may_go_deeper() {
    // 0.72 P: right for a nose of about 0.1 mm, if anybody says so.
    let found = findings(RULE, &two_block("(THREAD M24X3-6G)", "19.68", "2160"));
    assert_eq!(found[0].severity, Severity::Advice, "{found:?}");
    assert!(
        found[0]
            .message
            .contains("tool nose of 0.138 mm to 0.238 mm"),
        "{found:?}"
    );
    let found = findings(
        RULE,
        &two_block("(THREAD M24X3-6G, NOSE 0.2)", "19.68", "2160"),
    );
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn silent_on_accepted_depths() {
    // 5/8 H is the nut's; from a little more to 3/4 H, and what 6g allows beyond.
    for x in ["20.70", "20.5", "20.319", "20.103", "19.955"] {
        let text = two_block("(THREAD M24X3-6G)", x, "1841");
        assert!(findings(RULE, &text).is_empty(), "{x}");
    }
    // Nuts from the nominal diameter to the depth of a sharp tool.
    for x in ["36.", "36.1", "36.325", "36.6"] {
        let text = format!(
            "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nG92 X34. Z-27. F3.\nX{x}\nG0 Z50.\n"
        );
        assert!(findings(RULE, &text).is_empty(), "{x}");
    }
    assert_silent(
        RULE,
        &[
            // Roughed by one cycle, finished by the next.
            "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X28.146 Z-36. P927 Q350 F2.\nG76 P010055 Q50 R0.02\nG76 X27.546 Z-36. P1227 Q900 F2.\n",
            // Oil groove, tapered thread, nothing known.
            "G21\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\n",
            "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. R-1.4 F2.\nX26.\nG0 X90.\n",
            "G21\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.2\nX26.\nG0 X90.\n",
            // UNR is drawn with 0.595 P.
            "G20\n(THREAD 3/4-10 UNRC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6309Z-1.75K.0595D0150A60F.1\n",
        ],
    );
}

/// A little too deep for an assumed class may be right for a wider one; far too deep is not.
#[test]
fn an_assumed_class_makes_an_error_only_far_out() {
    let worst = |note: &str, x: &str| {
        let found = findings(RULE, &two_block(note, x, "2400"));
        found.first().map(|finding| finding.severity)
    };
    // A sharp tool leaves 21.798, below 21.803 of 6g by 0.005.
    assert_eq!(worst("(THREAD M24X3)", "19.2"), Some(Severity::Warning));
    assert_eq!(worst("(THREAD M24X3-6G)", "19.2"), Some(Severity::Error));
    assert_eq!(worst("(THREAD M24X3)", "18.804"), Some(Severity::Error));
}
