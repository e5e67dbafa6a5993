//! The nearest name to a mistyped one, for messages.

/// The candidate that a typist most likely meant: one that is spelled alike, or the only one that
/// contains what was typed. None when nothing is close.
#[must_use]
pub fn nearest<'a>(typed: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let typed = typed.to_ascii_lowercase();
    // Two slips, or a third of a long name.
    let limit = (typed.chars().count() / 3).clamp(1, 4) + 1;
    let candidates: Vec<&str> = candidates.into_iter().collect();
    let alike = candidates
        .iter()
        .map(|candidate| (strsim::damerau_levenshtein(&typed, candidate), *candidate))
        .filter(|&(distance, candidate)| distance <= limit && distance < candidate.len())
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, candidate)| candidate);
    let mut holders = candidates
        .iter()
        .filter(|candidate| typed.len() >= 4 && candidate.contains(&typed));
    let holder = || match (holders.next(), holders.next()) {
        (Some(only), None) => Some(*only),
        _ => None,
    };
    alike.or_else(holder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_seen_and_strangers_are_not() {
        let keys = ["max_rpm", "id", "rapid_x_m_min", "rapid_z_m_min"];
        assert_eq!(nearest("max_rmp", keys), Some("max_rpm"));
        assert_eq!(nearest("MAX-RPM", keys), Some("max_rpm"));
        assert_eq!(nearest("rapid_x", keys), Some("rapid_x_m_min"));
        assert_eq!(nearest("rapid", keys), None);
        assert_eq!(nearest("rapid_y_m_min", keys), Some("rapid_x_m_min"));
        assert_eq!(nearest("xy", keys), None);
        assert_eq!(nearest("coolant", keys), None);
    }
}
