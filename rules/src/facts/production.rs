//! `[production]`: what a second is worth.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeTable;

use super::keys::{Keys, Slip};

/// How many parts are made and what time costs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Production {
    /// Parts in a batch.
    pub parts_per_batch: Option<f64>,
    /// Batches in a year.
    pub batches_per_year: Option<f64>,
    /// Currency of all prices, as it is to be printed.
    pub currency: Option<String>,
    /// Price of a machine hour.
    pub rate_per_hour: Option<f64>,
    /// Whether the machine is what holds the shop up: only then are hours money.
    pub bottleneck: Option<bool>,
    /// Part of the time that the machine is used, 0 to 1.
    pub utilisation: Option<f64>,
    /// Where it stands, `flankwise.toml: production`; empty where it does not.
    pub source: String,
}

/// Reads `[production]`.
pub(super) fn production(
    name: &str,
    (_, table): (Range<usize>, DeTable<'_>),
    slips: &mut Vec<Slip>,
) -> Production {
    let mut keys = Keys::new("[production]", table, slips);
    let production = Production {
        parts_per_batch: keys.positive("parts_per_batch"),
        batches_per_year: keys.positive("batches_per_year"),
        currency: keys.text("currency").map(Spanned::into_inner),
        rate_per_hour: keys.not_negative("rate_per_hour"),
        bottleneck: keys.truth("bottleneck"),
        utilisation: keys.between("utilisation", 0.0, 1.0),
        source: format!("{name}: production"),
    };
    keys.finish();
    production
}
