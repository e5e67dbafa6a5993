//! Round trips over the families whose tails are read here.

use proptest::prelude::*;
use proptest::sample::select;

use crate::standards::Side;
use crate::standards::designation::parse;

/// Sizes as drawings and comments write them, most of them real, some not.
fn size() -> impl Strategy<Value = String> {
    let lead = (
        1u32..30,
        1u32..6,
        select(vec!["(P{})", "P{}", " (Р{})", " p{}"]),
    );
    let metric = (
        select(vec![
            "Tr ",
            "TR",
            "Тр ",
            "ТРАП.",
            "S",
            "S ",
            "УП ",
            "Sq ",
            "SQUARE ",
        ]),
        8u32..400,
        select(vec!["x", "X", " × ", "х", "*"]),
        lead,
        any::<bool>(),
    )
        .prop_map(|(name, d, cross, (pitch, starts, second), several)| {
            let p = f64::from(pitch) / 2.0;
            let second = second.replace("{}", &p.to_string());
            match several {
                true => format!("{name}{d}{cross}{}{second}", p * f64::from(starts)),
                false => format!("{name}{d}{cross}{p}"),
            }
        });
    let inch = (
        1u32..60,
        select(vec![1u32, 2, 8, 16]),
        3u32..24,
        select(vec!["", "PULL-", "PUSH "]),
    )
        .prop_map(|(top, bottom, count, pull)| match bottom {
            1 => format!("{top}-{count} {pull}BUTT"),
            _ => format!("{top}/{bottom}-{count} {pull}BUTTRESS"),
        });
    let part = (8u32..220, 3u32..14).prop_map(|(d, count)| format!("Rd {d}x1/{count}"));
    let keg = (4u32..70, 1u32..5).prop_map(|(d, p)| format!("МК {d}х{}", f64::from(p) / 2.0));
    let named = select(vec![
        "2BA",
        "BA 4",
        "10 BA CLOSE",
        "Pg 13,5",
        "PG29",
        "E27",
        "EDISON E14",
        "NC50",
        "nc-23 PIN",
        "API NC38",
        "З-133",
        "з 88 муфта",
        "3 1/2 REG",
        "4-1/2 IF BOX",
        "4 FH",
        "6-5/8\" REG",
        "7 LTC",
        "9-5/8 STC",
        "2-7/8 EUE 8RD",
        "1.900 NU",
        "НКТ 73",
        "НКТВ 60",
        "NKT 114 B",
        "9-5/8 BTC",
        "16 BC",
        "ОТТМ 168",
        "оттг-245",
        "SQ 1 1/2-4",
        "M24x1,5 keg",
        "Z-133",
        "NC12",
        "SQUARE THREAD 2-.25P-.5L",
        "RD 40",
        "S1200",
        "E14.5",
    ])
    .prop_map(str::to_owned);
    prop_oneof![4 => metric, 1 => inch, 1 => part, 1 => keg, 3 => named]
}

fn tail() -> impl Strategy<Value = &'static str> {
    select(vec![
        "",
        "-7e",
        " 7H",
        "-7H/7e",
        "-7h",
        "-8c",
        "-7AZ",
        "-2A",
        "-3B",
        "-LH",
        " LH",
        " LEFT HAND",
        "-7e-LH",
        "LH-7H",
        " (2 STARTS)",
        " DIN 103",
        " ГОСТ 24738-81",
        " DIN 513 LH",
        "-9q",
        " PIN",
        " X 60",
        "-7H-7e",
        " normal",
    ])
}

proptest! {
    /// What reads, prints; what was printed reads as the same thread and prints the same.
    #[test]
    fn reading_and_printing_agree(size in size(), tail in tail(), capitals in any::<bool>()) {
        let text = format!("{size}{tail}");
        let text = if capitals { text.to_uppercase() } else { text };
        if let Ok(thread) = parse(&text, None) {
            let printed = thread.designation();
            let again = parse(&printed, None);
            prop_assert!(again.is_ok(), "{text} -> {printed}: {again:?}");
            let again = again.unwrap();
            prop_assert_eq!(again.designation(), printed.clone());
            let key = |t: &crate::standards::thread::Thread| (
                (t.family, t.series, t.name, t.major, t.starts, t.hand),
                (t.external.clone(), t.internal.clone(), t.written.capitals),
            );
            prop_assert_eq!(key(&again), key(&thread), "{} -> {}", text, printed);
            prop_assert_eq!(again.pitch, thread.pitch);
            for side in [Side::External, Side::Internal] {
                let one = thread.designation_for(side);
                prop_assert!(parse(&one, Some(side)).is_ok(), "{} -> {}", text, one);
                let _ = (thread.limits(side), thread.depth_band(side), thread.gauge_planes(side));
            }
        }
    }

    #[test]
    fn nothing_like_a_designation_stops_the_reader(
        text in "[TSREPNBMZЗКНОТМУПр ]{0,5}[0-9./, -]{0,8}[x×ХXP(-]{0,2}[0-9.,/]{0,5}[-/ ]?[UBTCEHGegh0-9()PLIFDК\"]{0,8}"
    ) {
        for side in [None, Some(Side::External)] {
            if let Ok(thread) = parse(&text, side) {
                let limits = thread.limits(Side::External);
                prop_assert!(limits.pitch.min.is_none() || limits.pitch.min <= limits.pitch.max);
                let _ = (thread.designation(), thread.form(), thread.lead_angle_deg());
            }
        }
    }
}
