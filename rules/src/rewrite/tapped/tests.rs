use lexer::program::Settings;
use lexer::syntax::Style;
use proptest::prelude::*;

use super::*;
use crate::facts::{Config, FILE_NAME};
use crate::judge::judge;
use crate::standards::designation::parse;

fn order(name: &str, family: Family, units: Units) -> TapOrder {
    TapOrder {
        thread: parse(name, Some(Side::Internal))
            .unwrap()
            .on(Side::Internal),
        station: Station {
            style: Style::new(family, units),
            places: match family {
                Family::Mill | Family::Interpreter => vec![(20.0, -15.0), (60.0, -15.0)],
                _ => Vec::new(),
            },
            start: None,
            retract: None,
            tool: None,
            offset: None,
            semicolon: false,
        },
        length: 12.0,
        chamfer: Some(3.0),
        speed: Speed::Rpm(300.0),
        way: None,
        floating: false,
        per_minute: None,
        peck: None,
    }
}

fn mm(name: &str, family: Family) -> TapOrder {
    order(name, family, Units::Millimetre)
}

/// Every family of controls that taps, every way of writing, metric and inch threads of both hands:
/// read with no other setting than a reader of the file alone has, it is one tapped section with
/// this thread and nothing to say.
#[test]
fn read_back_in_every_family() {
    let families = [
        Family::SystemA,
        Family::SystemB,
        Family::SystemC,
        Family::Mill,
        Family::Interpreter,
    ];
    let names = [
        "M6-6H",
        "M8x1-6H-LH",
        "M24x3-6H",
        "1/4-20 UNC-2B",
        "3/8-24 UNF-2B-LH",
        "G 1/2",
    ];
    let mut written = 0;
    for family in families {
        for name in names {
            for (way, floating) in [
                (None, false),
                (Some(Way::Cycle), true),
                (Some(Way::Interpolated), false),
            ] {
                let units = parse(name, Some(Side::Internal)).unwrap().units();
                let mut order = order(name, family, units);
                (order.way, order.floating) = (way, floating);
                let interpolated = way == Some(Way::Interpolated);
                if interpolated && family != Family::Mill {
                    assert!(
                        tapped(&order, &Facts::default()).is_err()
                            || matches!(
                                family,
                                Family::SystemA | Family::SystemB | Family::SystemC
                            )
                    );
                    continue;
                }
                let block = tapped(&order, &Facts::default())
                    .unwrap_or_else(|why| panic!("{family:?} {name} {way:?}: {why}"));
                assert_eq!(block.findings, Vec::<String>::new(), "{}", block.text);
                assert!(block.text.contains("CAUTION"), "{}", block.text);
                let settings = Settings {
                    family: (family != Family::Mill).then_some(family),
                    ..Settings::default()
                };
                let program = lexer::read(block.text.as_bytes(), &settings);
                let judgement = judge(
                    block.text.as_bytes(),
                    &program,
                    &settings,
                    &Facts::default(),
                );
                let [section] = program.sections.as_slice() else {
                    panic!("{}", block.text);
                };
                assert_eq!(section.kind, Kind::Tapped);
                let thread = judgement.threads[0].thread.as_ref();
                let (read, _) = thread.unwrap_or_else(|| panic!("{}", block.text));
                let key = |t: &Thread| (t.family, t.major, t.pitch, t.hand);
                assert_eq!(key(read), key(&order.thread), "{}", block.text);
                let hole = &section.tapping.as_ref().unwrap().holes[0];
                let tip = order.length + 3.0 * order.thread.pitch.mm();
                let bottom = hole.bottom.get().unwrap().mm();
                assert!((bottom + tip).abs() < 3e-3, "{bottom} {tip}");
                written += 1;
            }
        }
    }
    assert_eq!(written, 5 * 6 * 2 + 6);
}

/// Feed = pitch x speed (arithmetic), the drills of ISO 2306 (sizes from memory) in the comment.
#[test]
fn feeds_and_drills() {
    for (name, drill, feed) in [
        ("M6-6H", "TAP DRILL 5)", "F300."),
        ("M8-6H", "TAP DRILL 6.8)", "F375."),
        ("M10-6H", "TAP DRILL 8.5)", "F450."),
        ("M12-6H", "TAP DRILL 10.2)", "F525."),
    ] {
        let block = tapped(&mm(name, Family::Mill), &Facts::default()).unwrap();
        assert!(block.text.contains(drill), "{}", block.text);
        assert!(block.text.contains(&format!(" {feed}\n")), "{}", block.text);
        let per_turn = TapOrder {
            per_minute: Some(false),
            ..mm(name, Family::Mill)
        };
        let block = tapped(&per_turn, &Facts::default()).unwrap();
        let lead = per_turn.thread.lead().mm();
        let turn = block.text.lines().find(|line| line.starts_with("G84"));
        let word = turn.unwrap().rsplit('F').next().unwrap();
        assert!((word.parse::<f64>().unwrap() - lead).abs() < 1e-9);
        // Per minute holds again behind it.
        assert!(block.text.ends_with("G94\n"), "{}", block.text);
    }
    let inch = order("1/4-20 UNC-2B", Family::Mill, Units::Inch);
    let block = tapped(&inch, &Facts::default()).unwrap();
    // A number 7 drill has 0.2010 in; 300 x 0.05 in.
    assert!(
        block.text.contains("TAP DRILL 0.201 NO 7)"),
        "{}",
        block.text
    );
    assert!(block.text.contains("F15."), "{}", block.text);
}

#[test]
fn a_block_word_by_word() {
    let mut order = mm("M8-6H", Family::Mill);
    order.station.tool = Some("T5".into());
    order.station.offset = Some(5);
    order.station.retract = Some(25.0);
    let block = tapped(&order, &Facts::default()).unwrap();
    assert_eq!(
        block.text,
        "(THREAD M8X1.25-6H, LENGTH 12, CHAMFER 3)\n(TAP DRILL 6.8)\n\
         (CAUTION - ARITHMETIC ONLY - PROVE OUT CLEAR OF THE PART)\n\
         (HAND NEAR FEED HOLD - GAUGE THE FIRST PART)\n\
         G21 G17 G40 G80 G90 G98\nT5 M6\nG0 X20. Y-15.\nG43 H5 Z25.\n\
         G97 S300 M3\nG94\nM29 S300\nG84 X20. Y-15. Z-15.75 R3. F375.\nX60. Y-15.\nG80\nG0 Z25.\n"
    );
    let lathe = tapped(&mm("M8-6H", Family::SystemA), &Facts::default()).unwrap();
    assert!(
        lathe.text.ends_with(
            "G21 G99\nG97 S300 M3\nG0 X0. Z3.\nG99\nM29 S300\n\
             G84 Z-15.75 F1.25\nG80\nG0 Z3.\n"
        ),
        "{}",
        lathe.text
    );
}

#[test]
fn what_is_missing_or_not_possible_is_said() {
    let no = |order: &TapOrder, why: &str| {
        let said = tapped(order, &Facts::default()).unwrap_err();
        assert!(said.contains(why), "{said}");
    };
    let plain = mm("M8-6H", Family::Mill);
    let changed = |change: fn(&mut TapOrder)| {
        let mut order = plain.clone();
        change(&mut order);
        order
    };
    no(&changed(|o| o.chamfer = None), "--chamfer");
    no(&changed(|o| o.station.places.clear()), "--at");
    no(&changed(|o| o.station.tool = Some("T5".into())), "--offset");
    no(&changed(|o| o.station.retract = Some(1.0)), "--retract");
    no(&changed(|o| o.length = 0.0), "length");
    no(&changed(|o| o.speed = Speed::Rpm(312.5)), "whole turns");
    no(&changed(|o| o.speed = Speed::Rpm(f64::NAN)), "above 0");
    no(&mm("1/2-14 NPT", Family::Mill), "tapered");
    let mut lathe = mm("M8-6H", Family::SystemA);
    lathe.station.places = vec![(10.0, 0.0)];
    no(&lathe, "on the axis");
    let mut between = changed(|o| o.way = Some(Way::Interpolated));
    between.station.retract = Some(40.0);
    no(&between, "--retract");
}

/// What is missing comes from the tool's facts, with its source.
#[test]
fn the_chamfer_of_the_tool() {
    let mut order = mm("M8-6H", Family::Mill);
    (order.chamfer, order.station.tool, order.station.offset) = (None, Some("T7".into()), Some(7));
    let facts = Config::parse(
        FILE_NAME,
        "[[tool]]\nnumber = 7\nkind = \"tap\"\ntap_chamfer_threads = 4\n",
        &[],
    );
    let facts = facts.unwrap().facts("a.nc").1;
    let block = tapped(&order, &facts).unwrap();
    assert!(block.text.contains("Z-17."), "{}", block.text);
    let from = "flankwise.toml: tool 1 tap_chamfer_threads";
    assert!(block.notes.iter().any(|note| note.contains(from)));
}

/// The slowest limit holds, with its source.
#[test]
fn the_machine_limits_the_speed() {
    let facts = Facts {
        machine: Some(crate::facts::Machine {
            max_rpm: Some(4000.0),
            max_tapping_rpm: Some(250.0),
            ..crate::facts::Machine::default()
        }),
        ..Facts::default()
    };
    let why = tapped(&mm("M8-6H", Family::Mill), &facts).unwrap_err();
    assert!(why.contains("max_tapping_rpm"), "{why}");
    let order = TapOrder {
        speed: Speed::Surface(15.0),
        ..mm("M8-6H", Family::Mill)
    };
    assert_eq!(tapped(&order, &facts).unwrap().rpm, 250.0);
    // 15 m/min at 8 mm is 596.8 1/min (arithmetic), down to tens.
    assert_eq!(tapped(&order, &Facts::default()).unwrap().rpm, 590.0);
}

/// Lengths as people write them, and what no person writes.
fn any_length() -> impl Strategy<Value = f64> {
    prop_oneof![
        60 => 0.01..60.0f64,
        1 => any::<f64>(),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1.0), Just(1e300)],
    ]
}

proptest! {
    /// Whatever is asked for: a block that `check` has no error in, or a reason.
    #[test]
    fn any_order_is_written_clean_or_refused(
        name in prop::sample::select(vec!["M3", "M8-LH", "M36x4", "1/2-13 UNC", "G 3/4", "Tr20x4", "1-11.5 NPT"]),
        family in prop::sample::select(vec![Family::SystemA, Family::SystemC, Family::Mill, Family::Interpreter]),
        length in any_length(), chamfer in prop::option::weighted(0.95, any_length()),
        places in prop::collection::vec((any_length(), any_length()), 1..3),
        start in prop::option::of(any_length()), retract in prop::option::of(any_length()),
        peck in prop::option::weighted(0.2, any_length()),
        rpm in prop_oneof![9 => (1..4000u32).prop_map(f64::from), 1 => any_length()],
        floating in prop::bool::weighted(0.2), per_minute in any::<Option<bool>>(),
    ) {
        let mut order = mm(name, family);
        if matches!(family, Family::Mill | Family::Interpreter) {
            order.station.places = places;
        }
        order.station.start = start;
        order.station.retract = retract.zip(start).map(|(more, start)| start + more);
        let chamfer = chamfer.map(|chamfer| chamfer / 6.0);
        (order.length, order.chamfer, order.peck) = (length, chamfer, peck);
        (order.speed, order.floating, order.per_minute) = (Speed::Rpm(rpm), floating, per_minute);
        match tapped(&order, &Facts::default()) {
            Ok(block) => {
                prop_assert!(block.text.is_ascii() && block.rpm >= 1.0);
                prop_assert_eq!(block.findings, Vec::<String>::new(), "{}", block.text);
            }
            // What was not written well would be found by reading it.
            Err(why) => prop_assert!(!why.contains("read back") && !why.contains("rounded"), "{}", why),
        }
    }
}
