//! `[[form]]`: a thread of the shop's own, told by numbers.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::DeTable;

use super::keys::{Keys, Slip};
use crate::standards::Side;
use crate::standards::custom::{Custom, CustomSide, LoadFlank};
use crate::standards::designation::parse;

const LOAD_FLANKS: [(&str, LoadFlank); 2] = [
    ("leading", LoadFlank::Leading),
    ("following", LoadFlank::Following),
];

/// Reads one `[[form]]`; `None` where something is wrong with it.
pub(super) fn form(
    place: Range<usize>,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> Option<Arc<Custom>> {
    let before = slips.len();
    let mut keys = Keys::new("[[form]]", table, slips);
    let mut form = Custom {
        name: keys
            .text("name")
            .map(Spanned::into_inner)
            .unwrap_or_default(),
        major_mm: keys.positive("major_mm").unwrap_or_default(),
        pitch_mm: keys.positive("pitch_mm").unwrap_or_default(),
        starts: keys.whole("starts", 1, 24).unwrap_or(1),
        left_hand: keys.truth("left_hand").unwrap_or(false),
        leading_flank_deg: keys.between("leading_flank_deg", -10.0, 80.0),
        following_flank_deg: keys.between("following_flank_deg", -10.0, 80.0),
        load_flank: keys.choice("load_flank", &LOAD_FLANKS),
        taper: keys.between("taper", 0.0, 1.0).unwrap_or_default(),
        gauge_plane_mm: keys.not_negative("gauge_plane_mm"),
        external: None,
        internal: None,
        source: keys
            .text("source")
            .map(Spanned::into_inner)
            .unwrap_or_default(),
    };
    let (external, internal) = (keys.table("external"), keys.table("internal"));
    for key in ["name", "major_mm", "pitch_mm"] {
        if keys.place(key).is_none() {
            keys.slip(place.clone(), format!("a form needs its `{key}`"));
        }
    }
    let own = keys.places();
    keys.finish();
    let mut read = |title, table: Option<(Range<usize>, DeTable<'_>)>| {
        let (place, table) = table?;
        Some(side(title, place, table, slips))
    };
    let external = read("[form.external]", external);
    let internal = read("[form.internal]", internal);
    if slips.len() > before {
        return None;
    }
    let mut places = [own, Vec::new(), Vec::new()];
    if let Some((side, at)) = external {
        form.external = Some(side);
        places[1] = at;
    }
    if let Some((side, at)) = internal {
        form.internal = Some(side);
        places[2] = at;
    }
    if let Err(error) = form.check() {
        let among = match error.side {
            None => &places[0],
            Some(Side::External) => &places[1],
            Some(Side::Internal) => &places[2],
        };
        let at = among.iter().find(|(key, _)| *key == error.key);
        let at = at.map_or(place, |(_, at)| at.clone());
        slips.push((at, format!("form \"{}\": {error}", form.name)));
        return None;
    }
    if let Ok(thread) = parse(&form.name, None) {
        let at = places[0].iter().find(|(key, _)| *key == "name");
        slips.push((
            at.map_or(place, |(_, at)| at.clone()),
            format!(
                "a form cannot be called \"{}\": that is {} of a standard",
                form.name,
                thread.designation()
            ),
        ));
        return None;
    }
    Some(Arc::new(form))
}

/// Keys with the places of their values.
type Places = Vec<(&'static str, Range<usize>)>;

fn side(
    title: &'static str,
    place: Range<usize>,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> (CustomSide, Places) {
    let mut keys = Keys::new(title, table, slips);
    let side = CustomSide {
        depth_mm: keys.positive("depth_mm").unwrap_or_default(),
        depth_limits_mm: keys.pair("depth_limits_mm"),
        crest_flat_mm: keys.not_negative("crest_flat_mm"),
        crest_radius_mm: keys.not_negative("crest_radius_mm"),
        root_flat_mm: keys.not_negative("root_flat_mm"),
        root_radius_mm: keys.pair("root_radius_mm"),
        major_limits_mm: keys.pair("major_limits_mm"),
        pitch_limits_mm: keys.pair("pitch_limits_mm"),
        minor_limits_mm: keys.pair("minor_limits_mm"),
    };
    if keys.place("depth_mm").is_none() {
        keys.slip(place, format!("{title} needs its `depth_mm`"));
    }
    let places = keys.places();
    keys.finish();
    (side, places)
}
