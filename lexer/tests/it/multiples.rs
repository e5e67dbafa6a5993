//! Words that are multiples of one value that the text does not give. Ratios are worked by hand
//! beside each.

use lexer::program::Settings;
use lexer::section::{Section, Val};

fn section(text: &str) -> Section {
    let mut program = lexer::read(text.as_bytes(), &Settings::default());
    assert_eq!(program.sections.len(), 1, "{text}\n{:#?}", program.sections);
    program.sections.remove(0)
}

fn ratio(text: &str) -> Option<f64> {
    let section = section(text);
    assert!(section.cut.height.get().is_none() && section.cut.lead.get().is_none());
    let said = section
        .unknown
        .iter()
        .any(|why| why.contains("of the lead, whatever"));
    assert_eq!(said, section.height_over_lead.is_some());
    section.height_over_lead.map(|mark| {
        assert!(
            mark.span.of(text.as_bytes()).starts_with(&[b'P'][..])
                || mark.span.of(text.as_bytes()).starts_with(&[b'K'][..])
        );
        (mark.value * 1e9).round() / 1e9
    })
}

fn one(units: &str, words: &str) -> String {
    format!(
        "{units}\nT0303\nG97 S500 M3\nG0 X30. Z9.\nG76 X21. Z-30. D0.2 A60 {words}\nG0 X50.\nM30\n"
    )
}

fn two(units: &str, words: &str) -> String {
    format!(
        "{units}\nT0303\nG97 S500 M3\nG0 X30. Z9.\nG76 P010060 Q100 R.05\nG76 X21. Z-30. Q300 {words}\nG0 X50.\nM30\n"
    )
}

fn line(mode: &str, words: &str) -> String {
    format!(
        "G21 G18 {mode} G90\nG97 S500 M3\nG0 X30 Z8\nG76 Z-30 I-2 J0.35 R2 Q27 {words}\nG0 X50\nM2\n"
    )
}

#[test]
fn the_height_over_the_lead_survives() {
    for (text, want) in [
        (one("G21", "K[0.6134*#501] F#501"), Some(0.6134)),
        (one("G21", "K[#501*.6134/2] F[#501/2]"), Some(0.6134)),
        // The variable is half the lead.
        (one("G20", "K[1.2268*#501] F[#501*2]"), Some(0.6134)),
        // 613.4 counts of 0.001 mm a millimetre; 6134 of 0.0001 in an inch.
        (two("G21", "P[613.4*#501] F#501"), Some(0.6134)),
        (two("G20", "P[6134*#501] F#501"), Some(0.6134)),
        // It may be meant in real units.
        (two("G21", "P[0.6134*#501] F#501"), None),
        // Under G7 K is a difference of diameters: half of 1.2268.
        (line("G7", "P#<_lead> K[1.2268*#<_lead>]"), Some(0.6134)),
        (line("G8", "P#<_lead> K[0.6134*#<_lead>]"), Some(0.6134)),
        // Two unknowns, a summand, a function.
        (one("G21", "K[0.6134*#501] F#502"), None),
        (one("G21", "K[0.6134*#501+.01] F#501"), None),
        (one("G21", "K[SQRT[#501]] F#501"), None),
    ] {
        assert_eq!(ratio(&text), want, "{text}");
    }
}

/// Set anew between two words, a variable is another unknown or another multiple.
#[test]
fn the_lead_of_a_tap_is_feed_over_speed() {
    let tap = |head: &str, speed: &str, between: &str, feed: &str| {
        section(&format!(
            "O1\n{head} G90 G17\nT5 M6\n{speed} M3\nG0 X0 Y0\nG43 H5 Z10.\n{between}\nG84 X1. Y1. Z-1. R1. {feed}\nG80\nM30\n"
        ))
        .cut
        .lead
    };
    let mm = |lead: Val<lexer::units::Lead>| lead.get().map(|lead| lead.mm());
    for (head, speed, between, feed, want) in [
        ("G21 G94", "S#502", "", "F[1.25*#502]", Some(1.25)),
        ("G21 G94", "S[#502*2]", "", "F[#502*2.5]", Some(1.25)),
        // 1/20 in.
        ("G20 G94", "S#502", "", "F[#502*.05]", Some(1.27)),
        // The variable is doubled: 1.25 * 2.
        ("G21 G94", "S#502", "#502=#502*2", "F[1.25*#502]", Some(2.5)),
        ("G21 G94", "S#502", "G65 P9000", "F[1.25*#502]", None),
        ("G21 G94", "S#502", "S400", "F[1.25*#502]", None),
        ("G21 G94", "S#503", "", "F[1.25*#502]", None),
        // A clamp is no speed.
        ("G21 G94", "G50 S#502", "", "F[1.25*#502]", None),
        ("G21 G94", "G92 S#502", "S400", "F[1.25*#502]", None),
        ("G21 G95", "S#502", "", "F[1.25*#502]", None),
        ("G21 G94", "G96 S#502", "", "F[1.25*#502]", None),
        ("G21 G94", "S#502", "", "F[-1.25*#502]", None),
    ] {
        let got = mm(tap(head, speed, between, feed));
        assert_eq!(got, want, "{head} {speed} {between} {feed}");
    }
}

/// 4/3 has no end in decimals: the lead is near it, and said to be.
#[test]
fn a_quotient_without_end_is_near() {
    let lead = section("O1\nG21 G94 G90 G17\nT5 M6\nS[#502*3] M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X1. Y1. Z-1. R1. F[#502*4]\nG80\nM30\n").cut.lead;
    assert!(
        matches!(lead, Val::Approx(lead, _) if (lead.mm() - 4.0 / 3.0).abs() < 1e-8),
        "{lead:?}"
    );
}
