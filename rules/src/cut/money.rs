//! What seconds and edges are worth.
//!
//! The cost of a part is R · (t_handle + t_machine + t_index / N) + Ce / N, the standard form of
//! machining economics in textbooks (lecture slides, known from excerpts): R the price
//! of machine time, N the parts that an edge lasts for, Ce its price. All sums are plain; what is
//! not known stays out, and what is known only roughly goes through as a range.
//!
//! Saved hours are money only where the machine holds the shop up; elsewhere they are capacity.

use crate::facts::{Production, ToolFact};

/// A quantity known only between two values; both the same when it is exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Range {
    /// An exact value.
    #[must_use]
    pub const fn exact(value: f64) -> Range {
        Range {
            low: value,
            high: value,
        }
    }

    /// A value that may be off by a part of itself either way: 0.1 for ± 10 %.
    #[must_use]
    pub fn around(value: f64, part: f64) -> Range {
        let off = (value * part).abs();
        Range {
            low: value - off,
            high: value + off,
        }
    }

    /// The difference of two: widest where both lean apart.
    #[must_use]
    pub fn less(self, other: Range) -> Range {
        Range {
            low: self.low - other.high,
            high: self.high - other.low,
        }
    }

    /// Multiplied by a number of 0 or more.
    #[must_use]
    pub fn times(self, factor: f64) -> Range {
        Range {
            low: self.low * factor,
            high: self.high * factor,
        }
    }

    /// Whether the sign is certain: all of it above 0.
    #[must_use]
    pub fn surely_positive(self) -> bool {
        self.low > 0.0
    }
}

/// What an edge costs and lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Price of one edge, in the shop's currency.
    pub price: f64,
    /// Seconds to change to the next edge.
    pub index_s: f64,
    /// Parts that one edge lasts for.
    pub parts: f64,
}

impl Edge {
    /// The edge of a tool, where price and life are known; an index time that is not known counts
    /// as none.
    #[must_use]
    pub fn of(tool: &ToolFact) -> Option<Edge> {
        Some(Edge {
            price: tool.price_per_edge?,
            index_s: tool.index_time_s.unwrap_or(0.0),
            parts: tool.parts_per_edge.filter(|parts| *parts > 0.0)?,
        })
    }

    /// Money for one change of edge, the machine's time included: Ce + ti · R / 3600.
    #[must_use]
    pub fn change_cost(&self, rate_per_hour: f64) -> f64 {
        self.price + self.index_s * rate_per_hour / 3600.0
    }

    /// Money for edges per part: (Ce + ti · R / 3600) / N.
    #[must_use]
    pub fn cost_per_part(&self, rate_per_hour: f64) -> f64 {
        self.change_cost(rate_per_hour) / self.parts
    }

    /// Edges that a number of parts uses up, whole ones.
    #[must_use]
    pub fn edges_for(&self, parts: f64) -> f64 {
        (parts / self.parts).ceil()
    }
}

/// Money for the machine's time and the edges of one part: R · (t + ti / N) / 3600 + Ce / N, with
/// the seconds of handling and machining in `seconds`.
#[must_use]
pub fn cost_per_part(seconds: f64, rate_per_hour: f64, edge: &Edge) -> f64 {
    seconds * rate_per_hour / 3600.0 + edge.cost_per_part(rate_per_hour)
}

/// The fewest parts that an edge must last for after a change that saves `saved_s` seconds a part, so
/// that the change still pays: N1 = 1 / (1/N0 + Δt·R/3600 / (Ce + ti·R/3600)). Derived from the cost
/// of a part before and after; no model of tool life is needed. `None` where an edge change costs
/// nothing (then every saving pays), or where the change loses so much that no life makes up for it.
#[must_use]
pub fn break_even_parts(saved_s: f64, rate_per_hour: f64, edge: &Edge) -> Option<f64> {
    let change = edge.change_cost(rate_per_hour);
    if change <= 0.0 {
        return None;
    }
    let each = 1.0 / edge.parts + saved_s * rate_per_hour / 3600.0 / change;
    (each > 0.0).then(|| 1.0 / each)
}

/// What a change saves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saving {
    /// Seconds a part.
    pub per_part_s: Range,
    /// Hours a batch, where its size is known.
    pub per_batch_h: Option<Range>,
    /// Hours a year, where batches a year are known too.
    pub per_year_h: Option<Range>,
    /// Money a year for machine time: only where the machine holds the shop up and its hour has a
    /// price. Edges are not in it.
    pub machine_money_per_year: Option<Range>,
    /// Whether the hours are money or capacity; none where nobody has said so.
    pub bottleneck: Option<bool>,
}

/// What `saved` seconds a part come to.
#[must_use]
pub fn saving(saved: Range, production: &Production) -> Saving {
    let per_batch = production
        .parts_per_batch
        .map(|parts| saved.times(parts / 3600.0));
    let per_year = per_batch
        .zip(production.batches_per_year)
        .map(|(batch, batches)| batch.times(batches));
    let money = match production.bottleneck {
        Some(true) => per_year
            .zip(production.rate_per_hour)
            .map(|(hours, rate)| hours.times(rate)),
        _ => None,
    };
    Saving {
        per_part_s: saved,
        per_batch_h: per_batch,
        per_year_h: per_year,
        machine_money_per_year: money,
        bottleneck: production.bottleneck,
    }
}

/// Parts that fit into the hours that a change sets free in a year, at `seconds` a part after it.
#[must_use]
pub fn more_parts(hours: Range, seconds: f64) -> Option<Range> {
    (seconds > 0.0).then(|| hours.times(3600.0 / seconds))
}

/// Money that a year's parts cost less for machine time and edges together, when the hours are
/// money: the seconds saved, and edges that last for `after` instead of `before`.
#[must_use]
pub fn yearly_gain(
    saved: Range,
    rate_per_hour: f64,
    (before, after): (&Edge, &Edge),
    parts_per_year: f64,
) -> Range {
    let edges = before.cost_per_part(rate_per_hour) - after.cost_per_part(rate_per_hour);
    let gain = |seconds: f64| (seconds * rate_per_hour / 3600.0 + edges) * parts_per_year;
    Range {
        low: gain(saved.low),
        high: gain(saved.high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "{got} is not {want}");
    }

    fn production(bottleneck: Option<bool>) -> Production {
        Production {
            parts_per_batch: Some(500.0),
            batches_per_year: Some(12.0),
            rate_per_hour: Some(60.0),
            bottleneck,
            ..Production::default()
        }
    }

    /// 61.15 s a part, 500 parts, 12 batches: 8.49 and 101.9 hours, worked apart from this code.
    #[test]
    fn hours_of_a_batch_and_a_year() {
        let got = saving(Range::exact(61.15), &production(Some(true)));
        near(got.per_batch_h.unwrap().low, 8.49, 5e-3);
        near(got.per_year_h.unwrap().high, 101.9, 0.05);
        near(got.machine_money_per_year.unwrap().low, 6115.0, 1e-6);
    }

    /// Where the machine waits for others, or nobody has said, the hours are no money.
    #[test]
    fn capacity_before_money() {
        for bottleneck in [Some(false), None] {
            let got = saving(Range::exact(61.15), &production(bottleneck));
            assert_eq!(got.machine_money_per_year, None);
            assert!(got.per_year_h.is_some());
        }
        let nothing = saving(Range::exact(61.15), &Production::default());
        assert_eq!((nothing.per_batch_h, nothing.per_year_h), (None, None));
        near(
            more_parts(Range::exact(10.0), 90.0).unwrap().low,
            400.0,
            1e-9,
        );
    }

    /// 61.15 s at 60 an hour is 1.0192 a part. An edge of 4 and 90 s to index costs 5.5 a change. With
    /// 40 parts an edge before, the change pays down to 1/(1/40 + 1.0192/5.5) = 4.755 parts.
    #[test]
    fn an_edge_life_that_still_pays() {
        let edge = Edge {
            price: 4.0,
            index_s: 90.0,
            parts: 40.0,
        };
        near(edge.change_cost(60.0), 5.5, 1e-12);
        near(edge.cost_per_part(60.0), 0.1375, 1e-12);
        near(cost_per_part(78.05, 60.0, &edge), 1.438_333, 1e-6);
        near(break_even_parts(61.15, 60.0, &edge).unwrap(), 4.755, 1e-3);
        assert_eq!(edge.edges_for(500.0), 13.0);
        // Nothing saved: the edge must last as long as before. A loss that no life makes up for.
        near(break_even_parts(0.0, 60.0, &edge).unwrap(), 40.0, 1e-9);
        assert_eq!(break_even_parts(-10.0, 60.0, &edge), None);
        let free = Edge {
            price: 0.0,
            index_s: 0.0,
            parts: 40.0,
        };
        assert_eq!(break_even_parts(61.15, 60.0, &free), None);
    }

    #[test]
    fn ranges() {
        let before = Range::around(78.05, 0.1);
        let after = Range::around(16.90, 0.1);
        let saved = before.less(after);
        near(saved.low, 70.245 - 18.59, 1e-9);
        near(saved.high, 85.855 - 15.21, 1e-9);
        assert!(saved.surely_positive());
        assert!(!Range::around(1.0, 1.5).surely_positive());
    }

    proptest! {
        /// At the break-even life the part costs after the change what it cost before.
        #[test]
        fn at_break_even_the_cost_is_the_same(
            before_s in 5.0..200.0f64,
            part in 0.05..0.95f64,
            rate in 1.0..200.0f64,
            price in 0.1..50.0f64,
            index_s in 0.0..600.0f64,
            parts in 1.0..1000.0f64,
        ) {
            let edge = Edge { price, index_s, parts };
            let saved = before_s * part;
            let life = break_even_parts(saved, rate, &edge).unwrap();
            let after = Edge { parts: life, ..edge };
            let cost = cost_per_part(before_s, rate, &edge);
            prop_assert!((cost_per_part(before_s - saved, rate, &after) - cost).abs() < 1e-9 * cost);
            let gain = yearly_gain(Range::exact(saved), rate, (&edge, &after), 1e4);
            prop_assert!(gain.low.abs() < 1e-6 * cost * 1e4);
        }
    }
}
