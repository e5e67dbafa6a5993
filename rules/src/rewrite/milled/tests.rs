use lexer::evidence::Family;
use lexer::program::Settings;
use lexer::syntax::Style;
use proptest::prelude::*;

use super::*;
use crate::facts::{Config, FILE_NAME};
use crate::judge::judge;
use crate::standards::designation::parse;

fn order(name: &str, side: Side, family: Family) -> MillOrder {
    let thread = parse(name, Some(side)).unwrap().on(side);
    let units = thread.units();
    MillOrder {
        side,
        station: Station {
            style: Style::new(family, units),
            places: vec![(50.0, 40.0)],
            start: None,
            retract: None,
            tool: None,
            offset: None,
            semicolon: false,
        },
        length: 10.0,
        speed: Speed::Rpm(2000.0),
        nose: None,
        // Small for the hole, so that the flanks come out true.
        cutter: Some(thread.major.mm() / 2.0),
        teeth: None,
        rows: Some(Rows::One),
        feed: Some(MillFeed::Edge(200.0)),
        conventional: false,
        approach: None,
        thread,
    }
}

const CONVENTIONAL: &str = "climb-or-conventional: the thread is milled conventionally";

/// Both families that mill, hole and bolt, both hands, both directions of the cutter, both kinds of
/// teeth: read with no other setting than a reader of the file alone has, one milled section with
/// this thread and nothing to say.
#[test]
fn read_back_in_every_family() {
    let mut written = 0;
    for family in [Family::Mill, Family::Interpreter] {
        for side in [Side::Internal, Side::External] {
            for name in ["M24x3", "M30x2-LH", "1-8 UNC", "3/4-16 UNF-LH", "G 1"] {
                for conventional in [false, true] {
                    for rows in [Rows::One, Rows::Over(16.0)] {
                        let order = MillOrder {
                            conventional,
                            rows: Some(rows),
                            ..order(name, side, family)
                        };
                        let block = milled(&order, &Facts::default())
                            .unwrap_or_else(|why| panic!("{family:?} {side:?} {name}: {why}"));
                        let said: Vec<&str> = block.findings.iter().map(String::as_str).collect();
                        // Asked for, and advice.
                        let wanted: &[&str] = if conventional { &[CONVENTIONAL] } else { &[] };
                        assert_eq!(said, wanted, "{}", block.text);
                        assert!(block.text.contains("CAUTION"));
                        let settings = Settings::default();
                        let bytes = block.text.as_bytes();
                        let program = lexer::read(bytes, &settings);
                        let judgement = judge(bytes, &program, &settings, &Facts::default());
                        let [section] = program.sections.as_slice() else {
                            panic!("{}", block.text);
                        };
                        let thread = judgement.threads[0].thread.as_ref();
                        let (read, _) = thread.unwrap_or_else(|| panic!("{}", block.text));
                        let key = |t: &Thread| (t.family, t.major, t.pitch, t.hand);
                        assert_eq!(key(read), key(&order.thread), "{}", block.text);
                        assert_eq!(section.side(), Some(side));
                        let milling = section.milling.as_ref().unwrap();
                        assert_eq!(milling.climb.get(), Some(!conventional));
                        assert_eq!(judgement.findings.len(), wanted.len(), "{}", block.text);
                        written += 1;
                    }
                }
            }
        }
    }
    assert_eq!(written, 80);
}

/// M24x3 with a mill of 16 mm at 200 mm/min at the edge: 66.667 at the centre (a public worked
/// example, the same as in `measure::mill`), on a radius of (24 - 16) / 2 where the drawing cuts to
/// the major diameter; 10 mm of thread with one row are 4 turns and one.
#[test]
fn m24_in_a_hole() {
    let mut order = order("M24x3-6H", Side::Internal, Family::Mill);
    order.cutter = Some(16.0);
    let block = milled(&order, &Facts::default()).unwrap();
    assert!(block.text.contains("F66.7\n"), "{}", block.text);
    let turns = block.text.lines().filter(|line| line.contains("I-4. J0."));
    assert_eq!(turns.count(), 5, "{}", block.text);
    // 0.05 mm x 4 teeth x 1000 1/min are the same feed.
    order.feed = Some(MillFeed::Tooth(0.05));
    order.teeth = Some(4);
    order.speed = Speed::Rpm(1000.0);
    let by_tooth = milled(&order, &Facts::default()).unwrap();
    assert!(by_tooth.text.contains("F66.7\n"), "{}", by_tooth.text);
}

#[test]
fn a_block_word_by_word() {
    let mut order = order("M24x3-6H", Side::Internal, Family::Mill);
    order.cutter = Some(16.0);
    order.rows = Some(Rows::Over(20.0));
    order.station.tool = Some("T7".into());
    order.station.offset = Some(7);
    let block = milled(&order, &Facts::default()).unwrap();
    assert_eq!(
        block.text,
        "(THREAD M24X3-6H, CUTTER 16, FEED 200, LENGTH 10)\n(THREAD MILL, ROWS A PITCH APART)\n\
         (CAUTION - ARITHMETIC ONLY - PROVE OUT CLEAR OF THE PART)\n\
         (HAND NEAR FEED HOLD - GAUGE THE FIRST PART)\n\
         G21 G17 G40 G80 G90 G94\nT7 M6\nG97 S2000 M3\nG0 X50. Y40.\nG43 H7 Z5.\n\
         G0 Z-10.75\nG3 X54. Y40. Z-10. I2. J0. F66.7\n\
         G3 X54. Y40. Z-7. I-4. J0.\nG3 X50. Y40. Z-6.25 I-2. J0.\nG0 Z5.\n"
    );
}

/// Diameter, rows and teeth come from the tool's facts, with their source.
#[test]
fn what_the_configuration_knows_of_the_mill() {
    let mut order = order("M24x3-6H", Side::Internal, Family::Mill);
    (order.cutter, order.rows) = (None, None);
    order.feed = Some(MillFeed::Tooth(0.05));
    (order.station.tool, order.station.offset) = (Some("T7".into()), Some(7));
    let facts = Config::parse(
        FILE_NAME,
        "[[tool]]\nnumber = 7\nkind = \"mill\"\nmill_diameter_mm = 16\nedge_length_mm = 12\nteeth = 2\n",
        &[],
    );
    let facts = facts.unwrap().facts("a.nc").1;
    let block = milled(&order, &facts).unwrap();
    // 0.05 x 2 x 2000 at the edge.
    assert!(block.text.contains("CUTTER 16, FEED 200"), "{}", block.text);
    assert!(block.text.contains("ROWS A PITCH APART"), "{}", block.text);
    for key in ["mill_diameter_mm", "edge_length_mm", "teeth"] {
        let from = format!("flankwise.toml: tool 1 {key}");
        assert!(block.notes.iter().any(|note| note.contains(&from)), "{key}");
    }
}

/// Two holes are one section.
#[test]
fn several_places() {
    let mut order = order("M24x3-6H", Side::Internal, Family::Mill);
    order.station.places.push((90.0, 40.0));
    let block = milled(&order, &Facts::default()).unwrap();
    assert!(block.text.contains("G0 X90. Y40."), "{}", block.text);
}

#[test]
fn what_is_missing_or_not_possible_is_said() {
    let no = |order: &MillOrder, why: &str| {
        let said = milled(order, &Facts::default()).unwrap_err();
        assert!(said.contains(why), "{said}");
    };
    let plain = order("M24x3", Side::Internal, Family::Mill);
    let changed = |change: fn(&mut MillOrder)| {
        let mut order = plain.clone();
        change(&mut order);
        order
    };
    no(&changed(|o| o.cutter = None), "--cutter");
    no(&changed(|o| o.rows = None), "--single-row");
    no(&changed(|o| o.rows = Some(Rows::Over(6.0))), "do not cover");
    no(&changed(|o| o.feed = None), "--edge-feed");
    no(
        &changed(|o| o.feed = Some(MillFeed::Tooth(0.05))),
        "--teeth",
    );
    no(&changed(|o| o.station.places.clear()), "--at");
    no(&changed(|o| o.station.tool = Some("T7".into())), "--offset");
    let nothing = changed(|o| (o.cutter, o.rows, o.feed) = (None, None, None));
    let all = milled(&nothing, &Facts::default()).unwrap_err();
    assert_eq!(all.lines().count(), 3, "{all}");
    no(&changed(|o| o.cutter = Some(21.0)), "does not go into");
    no(&changed(|o| o.nose = Some(2.0)), "nose");
    no(&changed(|o| o.approach = Some(2.0)), "--approach");
    no(
        &order("1-11.5 NPT", Side::Internal, Family::Mill),
        "tapered",
    );
    no(
        &order("M24x3", Side::Internal, Family::SystemA),
        "--system mill",
    );
    let mut starts = plain.clone();
    starts.thread = parse("Tr24x10P5", None).unwrap().on(Side::Internal);
    no(&starts, "starts");
}

/// Lengths as people write them, and what no person writes.
fn any_length() -> impl Strategy<Value = f64> {
    prop_oneof![
        60 => 0.1..40.0f64,
        1 => any::<f64>(),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1.0), Just(1e300)],
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Whatever is asked for: a block that `check` has no error in, or a reason.
    #[test]
    fn any_order_is_written_clean_or_refused(
        name in prop::sample::select(vec!["M12", "M24x3-LH", "M64x6", "1/2-13 UNC", "G 3/4", "Tr40x7", "Rd 40x1/6"]),
        inside: bool, conventional: bool,
        length in any_length(), cutter in any_length(), edge in any_length(), feed in any_length(),
        at in (any_length(), any_length()), start in prop::option::of(any_length()),
        nose in prop::option::weighted(0.3, 0.0..0.5f64),
        approach in prop::option::weighted(0.3, any_length()), single: bool,
    ) {
        let side = if inside { Side::Internal } else { Side::External };
        let mut order = order(name, side, Family::Mill);
        order.station.places = vec![at];
        order.station.start = start;
        (order.length, order.cutter, order.nose) = (length, Some(cutter / 2.0), nose);
        order.feed = Some(MillFeed::Edge(feed * 20.0));
        order.rows = Some(if single { Rows::One } else { Rows::Over(edge * 2.0) });
        (order.conventional, order.approach) = (conventional, approach.filter(|_| !inside));
        match milled(&order, &Facts::default()) {
            Ok(block) => {
                prop_assert!(block.text.is_ascii());
                // Both are what was asked for: the direction, and a mill large for its hole.
                let asked = ["climb-or-conventional", "profile-distortion"];
                let other = block.findings.iter().find(|said| {
                    !asked.iter().any(|rule| said.starts_with(rule))
                });
                prop_assert_eq!(other, None, "{}", block.text);
            }
            // What was not written well would be found by reading it.
            Err(why) => prop_assert!(!why.contains("read back") && !why.contains("rounded"), "{}", why),
        }
    }
}
