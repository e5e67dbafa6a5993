use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
use crate::facts::Facts;
use crate::finding::Severity;

const RULE: &str = "taper-word";

/// R of ISO 7-1: 1:16. Over 26 mm the radii differ by 26/32 = 0.8125 mm.
#[test]
fn found_and_mended_in_every_syntax() {
    assert_pairs(
        RULE,
        &[
            // Worked out for 20 mm of thread, 6 mm of run-in left out.
            (
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG76 P020055 Q60 R0.03\nG76 X19.5 Z-20. R-0.625 P1162 Q300 F1.814\n",
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG76 P020055 Q60 R0.03\nG76 X19.5 Z-20. R-0.812 P1162 Q300 F1.814\n",
            ),
            // On the diameter.
            (
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R-1.625 F1.814\nX19.5\nG0 X90.\n",
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R-0.812 F1.814\nX19.5\nG0 X90.\n",
            ),
            // The wrong sign, in inches: 1.2 in / 32.
            (
                "G20\n(THREAD NPT 1/2)\nG97 S500 M3\nG0X1.Z.4\nG76X.77Z-.8I.0375K.0571D0120A60F.071429\n",
                "G20\n(THREAD NPT 1/2)\nG97 S500 M3\nG0X1.Z.4\nG76X.77Z-.8I-.0375K.0571D0120A60F.071429\n",
            ),
            // A nut: the large end is outside.
            (
                "G21 G90 G95\nT0707\n(THREAD RC 3/4)\nG97 S500 M3\nG0 X20. Z6.\nG78 X24.5 Z-20. R-0.812 F1.814\nX25.\nG0 Z90.\n",
                "G21 G90 G95\nT0707\n(THREAD RC 3/4)\nG97 S500 M3\nG0 X20. Z6.\nG78 X24.5 Z-20. R0.812 F1.814\nX25.\nG0 Z90.\n",
            ),
            // No taper at all.
            (
                "G20\n(THREAD NPT 1/2)\nG97 S500 M3\nG0 X1. Z.4\nG76 X.77 Z-.8 K.0571 D0120 A60 F.071429\n",
                "G20\n(THREAD NPT 1/2)\nG97 S500 M3\nG0 X1. Z.4\nG76 X.77 Z-.8 K.0571 D0120 A60 F.071429 I-0.0375\n",
            ),
            // Strokes: the diameters at the ends; nothing is written.
            (
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nX18.9\nG32 X20.2 Z-20. F1.814\nG0 X26.\nZ6.\nX18.2\nG32 X19.5 Z-20. F1.814\nG0 X26.\n",
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nX18.575\nG32 X20.2 Z-20. F1.814\nG0 X26.\nZ6.\nX17.875\nG32 X19.5 Z-20. F1.814\nG0 X26.\n",
            ),
            // A parallel thread on a taper.
            (
                "G21\n(THREAD G 1/2 A)\nG97 S600 M3\nG0 X26. Z6.\nG92 X20. Z-20. R-0.8125 F1.814\nX18.631\nG0 X90.\n",
                "G21\n(THREAD G 1/2 A)\nG97 S600 M3\nG0 X26. Z6.\nG92 X20. Z-20. F1.814\nX18.631\nG0 X90.\n",
            ),
        ],
    );
}

#[test]
fn the_slip_is_named() {
    let because = |text: &str| findings(RULE, text).remove(0).because.join("; ");
    let text = "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R-R F1.814\nX19.5\nG0 X90.\n";
    let run_in = because(&text.replace("R-R", "R-0.625"));
    assert!(run_in.contains("the run-in is left out"), "{run_in}");
    let doubled = because(&text.replace("R-R", "R-1.625"));
    assert!(
        doubled.contains("the difference of the diameters"),
        "{doubled}"
    );
    let sum = because(&text.replace("R-R", "R-0.7"));
    assert!(sum.contains("26 · 0.0625 / 2 = 0.812 mm"), "{sum}");
}

#[test]
fn severity_grows_with_the_error() {
    let worst = |r: &str| {
        let text = format!(
            "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R{r} F1.814\nX19.5\nG0 X90.\n"
        );
        findings(RULE, &text)
            .first()
            .map(|finding| finding.severity)
    };
    assert_eq!(worst("-0.8125"), None);
    assert_eq!(worst("-0.8"), None);
    assert_eq!(worst("-0.77"), Some(Severity::Warning));
    assert_eq!(worst("-0.72"), Some(Severity::Error));
    assert_eq!(worst("0.8125"), Some(Severity::Error));
}

#[test]
fn silent_on_sound_tapers() {
    assert_silent(
        RULE,
        &[
            // Rotary shouldered, 1:6 on the diameter: 110 / 12.
            "G21\n(THREAD NC50)\nG97 S150 M3\nG0 X140. Z10.\nG76 P020060 Q80 R0.05\nG76 X127. Z-100. R-9.167 P3095 Q400 F6.35\n",
            // Outward on a second spindle: the small end is where the stroke ends.
            "G21\n(THREAD R 1/2)\nG97 S600 M4\nG0 X26. Z-22.\nG92 X21. Z4. R0.8125 F1.814\nX19.5\nG0 X90.\n",
            // Against a part that bends.
            "G21\n(THREAD M20X2.5-6G)\nG97 S600 M3\nG0 X24. Z8.\nG92 X19. Z-120. R-0.1 F2.5\nX16.933\nG0 X90.\n",
            // Parallel pipe threads of the taper families.
            "G21\n(THREAD RP 1/2)\nG97 S600 M3\nG0 X17. Z6.\nG92 X20. Z-20. F1.814\nX20.955\nG0 Z90.\n",
            // Nothing stated.
            "G21\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R-0.5 F1.814\nX19.5\nG0 X90.\n",
        ],
    );
}

/// A stroke that lies behind Z0 does not tell which end is outside: the size alone is judged.
#[test]
fn an_unknown_sign_is_not_judged() {
    for sign in ["", "-"] {
        let text = format!(
            "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z-40.\nG92 X21. Z-66. R{sign}0.8125 F1.814\nX19.5\nG0 X90.\n"
        );
        assert!(findings(RULE, &text).is_empty(), "{sign}");
        let doubled = text.replace("0.8125", "1.625");
        assert_eq!(findings(RULE, &doubled).len(), 1);
    }
    let variable =
        "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X26. Z6.\nG92 X21. Z-20. R#5 F1.814\nX19.5\n";
    let reasons = judged(variable, &Facts::default()).not_judged.concat();
    let why = reasons.iter().find(|(name, _)| *name == RULE).unwrap();
    assert!(why.1.contains("the taper is not known"), "{why:?}");
}
