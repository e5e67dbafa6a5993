//! Taps and milled threads that an editor writes from a note, where it says what they need:
//! `(THREAD M8-6H, LENGTH 12, CHAMFER 3, AT 20 -15)`.

use lexer::evidence::Family;
use lexer::section::Side;
use lexer::syntax::Style;
use rules::facts::Facts;
use rules::rewrite::block::{Block, Speed};
use rules::rewrite::milled::{MillFeed, MillOrder, Rows, milled};
use rules::rewrite::note::Asked;
use rules::rewrite::rotating::Station;
use rules::rewrite::tapped::{TapOrder, tapped};

/// What the note asks for besides its thread.
pub(super) struct Wish<'a> {
    pub(super) asked: &'a Asked,
    pub(super) style: &'a Style,
    pub(super) length: f64,
    pub(super) rpm: f64,
    pub(super) semicolon: bool,
}

/// The blocks that the note gives every fact for, each with the side and the name of its syntax.
pub(super) fn blocks(wish: &Wish<'_>, facts: &Facts) -> Vec<(Side, &'static str, Block)> {
    let asked = wish.asked;
    let station = Station {
        style: wish.style.clone(),
        places: asked.places.clone(),
        start: None,
        retract: None,
        tool: None,
        offset: None,
        semicolon: wish.semicolon,
    };
    // The note itself stands already; a block without one begins with another comment.
    let text = |mut block: Block| {
        if let Some((first, rest)) = block.text.split_once(wish.style.line_end)
            && first
                .get(1..)
                .is_some_and(|text| text.trim_start().to_uppercase().starts_with("THREAD "))
            && !first.to_uppercase().contains("THREAD MILL")
        {
            block.text = rest.to_owned();
        }
        block
    };
    let mut blocks = Vec::new();
    // A chamfer tells that a tap is meant, a mill is one by its diameter.
    if asked.chamfer.is_some() && asked.side != Some(Side::External) {
        let order = TapOrder {
            thread: asked.thread.on(Side::Internal),
            station: station.clone(),
            length: wish.length,
            chamfer: asked.chamfer,
            speed: Speed::Rpm(wish.rpm),
            way: None,
            floating: false,
            per_minute: None,
            peck: None,
        };
        blocks.extend(
            tapped(&order, facts)
                .ok()
                .map(|block| (Side::Internal, "tap", text(block))),
        );
    }
    let mills = matches!(wish.style.family, Family::Mill | Family::Interpreter);
    if let (Some(cutter), Some(side), true) = (asked.cutter, asked.side, mills) {
        let rows = match asked.edge {
            Some(edge) => Some(Rows::Over(edge)),
            None => asked.single_row.then_some(Rows::One),
        };
        let order = MillOrder {
            thread: asked.thread.on(side),
            side,
            station,
            length: wish.length,
            speed: Speed::Rpm(wish.rpm),
            nose: asked.nose,
            cutter: Some(cutter),
            teeth: None,
            rows,
            feed: asked.feed.map(MillFeed::Edge),
            conventional: false,
            approach: None,
        };
        blocks.extend(
            milled(&order, facts)
                .ok()
                .map(|block| (side, "helix", text(block))),
        );
    }
    blocks
}
