//! The nearest name to a mistyped one, for messages.

/// The candidate that a typist most likely meant; none when nothing is close.
#[must_use]
pub fn nearest<'a>(typed: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let typed = typed.to_ascii_lowercase();
    // Two slips, or a third of a long name.
    let limit = (typed.chars().count() / 3).clamp(1, 4) + 1;
    candidates
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(&typed, candidate), candidate))
        .filter(|&(distance, candidate)| distance <= limit && distance < candidate.len())
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_seen_and_strangers_are_not() {
        let keys = ["max_rpm", "id", "rapid_x_m_min", "rapid_z_m_min"];
        assert_eq!(nearest("max_rmp", keys), Some("max_rpm"));
        assert_eq!(nearest("MAX-RPM", keys), Some("max_rpm"));
        assert_eq!(nearest("rapid_x", keys), None);
        assert_eq!(nearest("rapid_y_m_min", keys), Some("rapid_x_m_min"));
        assert_eq!(nearest("xy", keys), None);
        assert_eq!(nearest("coolant", keys), None);
    }
}
