//! British inch threads against published lists.

use rules::standards::Side;
use rules::standards::designation::parse;

use super::table::rows;

/// The number behind a name such as `d2=`.
fn derived(text: &str, name: &str) -> f64 {
    let part = text.split(' ').find_map(|part| part.strip_prefix(name));
    part.unwrap().parse().unwrap()
}

/// BS 84:2007: pitch and diameters of every listed BSW and BSF thread, to four decimals.
#[test]
fn whitworth_sizes() {
    let mut compared = 0;
    for row in rows("sizes_misc.csv") {
        let name = row.text("designation");
        let Some((size, series)) = name.split_once(' ').filter(|(_, s)| s.starts_with("BS")) else {
            continue;
        };
        let thread = parse(name, None).unwrap();
        assert_eq!((thread.series, thread.side), (series, None));
        let number = |column: &str| -> f64 {
            let text = row.text(column);
            text.split(' ').next().unwrap().parse().unwrap()
        };
        let basic = thread.basic();
        for (what, ours, published) in [
            ("nominal", basic.major / 25.4, number("nominal")),
            ("tpi", 25.4 / thread.pitch.mm(), number("pitch")),
            (
                "d2",
                basic.pitch / 25.4,
                derived(row.text("derived"), "d2="),
            ),
            (
                "d1",
                basic.minor / 25.4,
                derived(row.text("derived"), "d1="),
            ),
        ] {
            compared += 1;
            assert!(
                (ours - published).abs() < 0.000_051,
                "{name} {what}: {ours} {published}"
            );
        }
        // With its pitch, with another one, and printed.
        let tpi = number("pitch");
        assert_eq!(
            parse(&format!("{size}-{tpi} {series}"), None)
                .unwrap()
                .pitch,
            thread.pitch
        );
        assert!(parse(&format!("{size}-{} {series}", tpi + 1.0), None).is_err());
        assert_eq!(
            parse(&thread.designation(), None).unwrap().designation(),
            thread.designation()
        );
    }
    assert_eq!(compared, 59 * 4);
}

/// Tolerances of BS 84 by hand for 1/2-12 BSW: T = 0.002 ∛0.5 + 0.003 √0.5 + 0.005 √(1/12)
/// = 0.001587 + 0.002121 + 0.001443 = 0.005152 in.
#[test]
fn whitworth_limits() {
    let near = |a: Option<f64>, b: f64| (a.unwrap() / 25.4 - b).abs() < 0.000_051;
    let limits = |class: &str, side| {
        let thread = parse(&format!("1/2 BSW ({class})"), None).unwrap();
        thread.limits(side)
    };
    let close = limits("close", Side::External);
    assert!(near(close.major.max, 0.5) && near(close.pitch.max, 0.4466));
    assert!(near(close.pitch.min, 0.446_64 - 2.0 / 3.0 * 0.005_152));
    assert!(near(
        close.major.min,
        0.5 - 2.0 / 3.0 * 0.005_152 - 0.01 * 0.288_675
    ));
    let normal = limits("normal", Side::Internal);
    assert!(near(normal.pitch.max, 0.446_64 + 1.5 * 0.005_152));
    assert!(near(normal.minor.max, 0.393_28 + 0.2 / 12.0 + 0.007));
    // The allowance of medium bolts is from memory.
    let medium = limits("medium", Side::External);
    assert!(near(medium.pitch.max, 0.446_64 - 0.3 * 0.005_152) && medium.unverified);
}

/// 26 threads per inch is a BSF, a BSB and a BSC thread at 1/4 in: the form tells them apart. The core
/// of the cycle thread is that of a public table, 0.209 in.
#[test]
fn three_threads_of_a_quarter_inch() {
    let [bsf, bsb, bsc] =
        ["1/4 BSF", "1/4 BSB", "1/4-26 BSC"].map(|name| parse(name, None).unwrap());
    assert!(bsf.pitch == bsb.pitch && bsb.pitch == bsc.pitch);
    assert_eq!(bsf.basic(), bsb.basic());
    assert_eq!(bsf.form().flanks.unwrap().included_deg(), 55.0);
    assert_eq!(bsc.form().flanks.unwrap().included_deg(), 60.0);
    assert!((bsc.basic().minor / 25.4 - 0.209).abs() < 0.001);
    for thread in [bsb, bsc] {
        let limits = thread.limits(Side::External);
        assert!(limits.pitch.max.is_none() && limits.notes[0].contains("no limits"));
    }
}
