use super::*;
use crate::standards::designation::parse;

#[test]
fn placeholder_m30() {
    let thread = parse("M30x2-6g", None).unwrap();
    let order = Order {
        thread,
        side: Side::External,
        syntax: Syntax::TwoBlock,
        style: Style::new(Family::SystemA, Units::Millimetre),
        length: 36.0,
        start: None,
        clearance: None,
        speed: Speed::Rpm(1000.0),
        nose: None,
        tool: Some("T0303".into()),
        infeed: None,
        first: None,
        peak: None,
        least: None,
        finish: None,
        springs: None,
        pull_out: None,
        semicolon: false,
    };
    let block = block(&order, &Facts::default()).unwrap();
    panic!("{}\n{block:?}", block.text);
}
