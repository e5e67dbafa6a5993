//! The sizes that a call may name instead of a lead, against the table of standard sizes.

use ::lexer::syntax::call::coarse_pitch;
use ::rules::standards::Family;
use ::rules::standards::designation::parse;

/// The table's first pitch of a size is the coarse one: that of the plain name `M24`.
#[test]
fn nominal_sizes_have_the_coarse_pitch_of_the_standard() {
    let mut known = 0;
    for size in 1..=70u32 {
        let Some(pitch) = coarse_pitch(size) else {
            continue;
        };
        let name = format!("M{size}");
        let thread = parse(&name, None).unwrap_or_else(|error| panic!("{name}: {error:?}"));
        assert_eq!(thread.family, Family::Metric, "{name}");
        let hundredths = (thread.pitch.mm() * 100.0).round() as u32;
        assert_eq!(pitch, hundredths, "{name}");
        known += 1;
    }
    assert_eq!(known, 27);
    assert_eq!(coarse_pitch(2), None);
    assert_eq!(coarse_pitch(64), None);
}
