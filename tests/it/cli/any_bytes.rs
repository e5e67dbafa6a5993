//! Whatever the bytes, every command ends with a result that can be looked at.

use proptest::prelude::*;

use super::*;

/// Pieces of programs, damage, and bytes of any kind.
fn text() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        4 => prop::sample::select(vec![
            &b"G76 P021055 Q80 R0.05\n"[..],
            b"G76 X27.546 Z-36. P1227 Q350 F2.\n",
            b"G92 X23.2 Z-20. F1.5\n",
            b"X22.16\r\n",
            b"G0 X34. Z8.\n",
            b"G33 Z-20 K2\n",
            b"G76 P1.5 Z-20 I-1 J.1 K.9 Q29.5 H2 E1 L2\n",
            b"(THREAD M30X2-6G)",
            b"(THREAD M30X2-6H LH)\n",
            b"T0303\n",
            b"G97 S1000 M3\n",
            b"G96 S180\n",
            b"G20\n",
            b"\xd0\xe5\xe7\xfc\xe1\xe0",
            b"\xe2\x80\xae\x1b[31m",
            b"\r\r\n\0\x1a",
        ]).prop_map(<[u8]>::to_vec),
        1 => prop::collection::vec(any::<u8>(), 0..12),
        1 => "[GXZFPQSTM(#=.-]{1,3}[0-9]{0,20}".prop_map(String::into_bytes),
    ];
    prop::collection::vec(piece, 0..24).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: ProptestConfig::default().cases / 4,
        ..ProptestConfig::default()
    })]

    #[test]
    fn every_command_ends(text in text()) {
        let run = |args: &[&str]| {
            let ran = flankwise(args.iter().copied(), &text);
            assert!(!ran.err.contains("please report it"), "{args:?} {}", ran.err);
            ran
        };
        let utf16 = text.starts_with(b"\xff\xfe") || text.starts_with(b"\xfe\xff");
        let shown = run(&["check", "-"]);
        let json = run(&["check", "-", "--format", "json"]).json();
        prop_assert_eq!(json["summary"]["unread"] == 1, utf16);
        prop_assert_eq!(shown.exit == Exit::Unread, utf16);
        run(&["passes", "-"]).out();
        run(&["passes", "-", "--format", "json"]).json();
        run(&["fix", "-", "--allow", "motion", "--diff"]).out();
        let once = run(&["fix", "-", "--allow", "motion"]).out;
        if !utf16 {
            let twice = flankwise(["fix", "-", "--allow", "motion"], &once).out;
            prop_assert!(once == twice, "mended twice");
        }
        for c in shown.out().chars() {
            prop_assert!(c == '\n' || !c.is_control(), "{:?}", c);
        }
    }
}
