//! Taps and a milled thread against the recorded calls: where the tap goes, with which lead, and
//! which way the spindle turns; where the helix goes, in how many turns, with which feed.

use std::fs;

use lexer::program::Settings;
use lexer::section::tapping::{Hand, Hole, Tapping};
use lexer::section::{Section, Syntax};

use super::programs::folder;

/// One recorded call: name and numbers.
struct Call {
    name: String,
    numbers: Vec<f64>,
}

fn recorded(name: &str) -> Vec<Call> {
    let text = fs::read_to_string(folder().join(format!("canon/{name}.txt"))).unwrap();
    let calls = text.lines().filter_map(|line| {
        let (head, rest) = line.split_once('(')?;
        let numbers = rest.trim_end().trim_end_matches(')').split(',');
        Some(Call {
            name: head.split_whitespace().last()?.to_owned(),
            numbers: numbers.filter_map(|n| n.trim().parse().ok()).collect(),
        })
    });
    calls.collect()
}

fn section(name: &str) -> Section {
    let bytes = fs::read(folder().join(format!("programs/{name}.ngc"))).unwrap();
    let mut program = lexer::read(&bytes, &Settings::default());
    assert_eq!(program.sections.len(), 1, "{name}");
    program.sections.remove(0)
}

fn tapping(section: &Section) -> &Tapping {
    assert_eq!(section.syntax, Syntax::Tap);
    section.tapping.as_ref().unwrap()
}

/// Place and bottom of a hole.
fn bottom(hole: &Hole) -> [f64; 3] {
    let mm = |at: usize| hole.at[at].unwrap().mm();
    [mm(0), mm(1), hole.bottom.get().unwrap().mm()]
}

#[test]
fn synchronised_taps_go_where_the_interpreter_goes() {
    for (name, factor) in [
        ("16_g33_1_rigid_tap", None),
        ("17_g33_1_multiplier", Some(2.0)),
    ] {
        let calls = recorded(name);
        let find = |wanted: &str| {
            calls
                .iter()
                .filter(|c| c.name == wanted)
                .collect::<Vec<_>>()
        };
        let (lead, taps) = (find("START_SPEED_FEED_SYNC"), find("RIGID_TAP"));
        let section = section(name);
        let tapping = tapping(&section);
        assert_eq!(section.cut.lead.get().unwrap().mm(), lead[0].numbers[0]);
        assert_eq!(taps.len(), tapping.holes.len());
        for (tap, hole) in taps.iter().zip(&tapping.holes) {
            assert_eq!(tap.numbers, bottom(hole), "{name}");
        }
        assert_eq!(tapping.synchronised.get(), Some(true));
        let speed = find("SET_SPINDLE_SPEED")[0].numbers[1];
        assert_eq!(tapping.rpm, Some(speed));
        assert_eq!(tapping.retract_rpm, factor.map(|f: f64| f * speed));
        assert!(calls.iter().any(|c| c.name == "START_SPINDLE_CLOCKWISE"));
        assert_eq!(tapping.hand.get(), Some(Hand::Right));
    }
}

/// G84 and G74 feed down, reverse the spindle, feed back: no synchronised call. The lead is the
/// recorded feed over the recorded speed.
#[test]
fn cycles_tap_where_the_interpreter_taps() {
    for (name, hand) in [("18_g84", Hand::Right), ("21_g74_left_tap", Hand::Left)] {
        let calls = recorded(name);
        let section = section(name);
        let tapping = tapping(&section);
        let feeds: Vec<&Call> = calls.iter().filter(|c| c.name == "STRAIGHT_FEED").collect();
        assert_eq!(feeds.len(), 2 * tapping.holes.len(), "{name}");
        for (pair, hole) in feeds.chunks(2).zip(&tapping.holes) {
            assert_eq!(pair[0].numbers[..3], bottom(hole), "{name}");
        }
        // The traverse before each stroke ends at the R plane.
        let traverses = calls
            .windows(3)
            .filter(|three| three[2].name == "DISABLE_SPEED_OVERRIDE");
        for (three, hole) in traverses.zip(&tapping.holes) {
            assert_eq!(three[0].name, "STRAIGHT_TRAVERSE");
            assert_eq!(
                three[0].numbers[2],
                hole.clear.get().unwrap().mm(),
                "{name}"
            );
        }
        let last = |name: &str| {
            calls
                .iter()
                .find(|c| c.name == name && c.numbers.last() != Some(&0.0))
        };
        let feed = last("SET_FEED_RATE").unwrap().numbers[0];
        let speed = last("SET_SPINDLE_SPEED").unwrap().numbers[1];
        assert_eq!(section.cut.lead.get().unwrap().mm(), feed / speed, "{name}");
        assert!(!calls.iter().any(|c| c.name.contains("SYNC")));
        assert_eq!(
            tapping.synchronised.get(),
            None,
            "the text does not name its control"
        );
        let first = calls
            .iter()
            .find(|c| c.name.starts_with("START_SPINDLE"))
            .unwrap();
        let wanted = match hand {
            Hand::Right => "START_SPINDLE_CLOCKWISE",
            Hand::Left => "START_SPINDLE_COUNTERCLOCKWISE",
        };
        assert_eq!(
            (first.name.as_str(), tapping.hand.get()),
            (wanted, Some(hand)),
            "{name}"
        );
    }
}

#[test]
fn a_milled_thread_goes_round_as_the_interpreter_does() {
    let name = "19_helix_threadmill";
    let calls = recorded(name);
    let section = section(name);
    assert_eq!(section.syntax, Syntax::Helix);
    let milling = section.milling.as_ref().unwrap();
    let helix = &milling.helices[0];
    // Canonical call: end and centre in the plane, turns (positive is counterclockwise), end along
    // the axis.
    let arcs: Vec<&Call> = calls.iter().filter(|c| c.name == "ARC_FEED").collect();
    assert_eq!(arcs.len(), helix.pieces.len());
    let mut z = helix.start.mm();
    for (arc, piece) in arcs.iter().zip(&helix.pieces) {
        z += piece.rise.mm();
        assert_eq!(
            arc.numbers[2..4],
            [helix.centre.0.mm(), helix.centre.1.mm()]
        );
        assert!((piece.degrees - 360.0 * arc.numbers[4].abs()).abs() < 1e-9);
        assert_eq!(milling.counterclockwise, arc.numbers[4] > 0.0);
        assert!((arc.numbers[5] - z).abs() < 1e-9);
        assert!((arc.numbers[0] - helix.centre.0.mm() - helix.radius_mm).abs() < 1e-9);
    }
    assert_eq!(section.cut.lead.get().unwrap().mm(), 1.5);
    let feed = calls
        .iter()
        .find(|c| c.name == "SET_FEED_RATE" && c.numbers[0] > 0.0);
    assert_eq!(helix.feed.unwrap().value.mm(), feed.unwrap().numbers[0]);
}
