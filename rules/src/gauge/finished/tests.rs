use super::*;
use crate::gauge::groove::Placement;
use crate::gauge::profile::Profile;
use crate::measure::tool::pitch_diameter;
use crate::measure::vee::Vee;
use proptest::prelude::*;

const SIXTY: Flanks = Flanks::symmetric(30.0);

fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{got} is not {want}");
}

fn plunge(flanks: Flanks, nose: Nose, depth: f64) -> Groove {
    Groove::cut(
        Profile::of(flanks, nose, true),
        [0.4, 0.7, 1.0].map(|part| Placement {
            u: 0.0,
            depth: part * depth,
        }),
    )
}

/// M20x2.5 cut to 16.933 mm, d2 = X + H − 2r with H = 2.16506, worked apart from this code.
#[test]
fn pitch_diameters_worked_by_hand() {
    for (nose, d2) in [
        (0.0, 19.098),
        (0.05, 18.998),
        (0.3125, 18.473),
        (0.36085, 18.376),
    ] {
        let blank = Blank {
            side: Side::External,
            crest: 20.0,
            pitch: 2.5,
        };
        let groove = plunge(SIXTY, Nose::Radius(nose), blank.depth(16.933));
        near(finished(&groove, blank).unwrap().pitch, d2, 6e-4);
    }
}

/// M20x2.5 of the basic profile: crest flat P/8, root at 16.933 with the radius H/6 (ISO 68-1).
#[test]
fn the_design_profile_of_m20() {
    let blank = Blank {
        side: Side::External,
        crest: 20.0,
        pitch: 2.5,
    };
    let nose = 2.5 * 0.866_025_404 / 6.0;
    let groove = plunge(SIXTY, Nose::Radius(nose), 17.0 / 24.0 * 0.866_025_404 * 2.5);
    let thread = finished(&groove, blank).unwrap();
    near(thread.pitch, 18.376, 5e-4);
    near(thread.crest_flat, 2.5 / 8.0, 1e-6);
    near(thread.root, 16.933, 5e-4);
    near(thread.root_radius, 0.360_844, 1e-6);
    near(thread.root_flat, 0.0, 1e-12);
    near(thread.crest, 20.0, 1e-12);
    assert!(
        thread
            .flank_error_deg
            .iter()
            .all(|error| error.abs() < 1e-9)
    );
    // The GO ring's crest is at the basic minor diameter 17.294: the root radius clears it, and
    // the ring that fits is the one of the simple pitch diameter.
    let fits = functional(&groove, blank, SIXTY, true, 17.294).unwrap();
    near(fits.pitch, thread.pitch, 1e-6);
    assert!(fits.clears_root);
    // A nose that is far too large leaves the same pitch diameter, but the ring fouls it.
    let large = Nose::Radius(0.6);
    let tip = crate::measure::tool::tip_diameter(
        Vee::between(SIXTY).unwrap(),
        2.5,
        Side::External,
        large,
        18.376,
    );
    let groove = plunge(SIXTY, large, blank.depth(tip));
    near(finished(&groove, blank).unwrap().pitch, 18.376, 1e-6);
    let fouls = functional(&groove, blank, SIXTY, true, 17.294).unwrap();
    assert!(fouls.pitch > 18.45 || !fouls.clears_root, "{fouls:?}");
}

/// One flank touched again at the same depth: the pitch diameter falls by 2 / (tan a + tan b) times
/// the shift, √3 at 60° (derived), and a flat of that width comes at the root.
#[test]
fn a_shift_widens_the_groove() {
    let blank = Blank {
        side: Side::External,
        crest: 20.0,
        pitch: 2.5,
    };
    for flanks in [
        SIXTY,
        Flanks {
            leading_deg: 7.0,
            trailing_deg: 45.0,
            pressure: None,
        },
    ] {
        let mut groove = plunge(flanks, Nose::Radius(0.3), 1.5);
        let before = finished(&groove, blank).unwrap();
        groove.add(Placement {
            u: 0.05,
            depth: 1.5,
        });
        let after = finished(&groove, blank).unwrap();
        let opening = Vee::between(flanks).unwrap().opening();
        near(before.pitch - after.pitch, 2.0 * 0.05 / opening, 1e-9);
        near(after.root_flat, 0.05, 1e-12);
    }
}

/// An infeed of 33° with flanks of 30°: the flank behind comes out at nearly 33° by its chord, in
/// steps, and the ring that fits it is larger than the simple pitch diameter.
#[test]
fn an_infeed_beyond_the_flank_spoils_it() {
    let blank = Blank {
        side: Side::External,
        crest: 24.0,
        pitch: 3.0,
    };
    let tangent = 33f64.to_radians().tan();
    let profile = Profile::of(SIXTY, Nose::Radius(0.3), true);
    let passes = (1..=40).map(|n| Placement {
        u: 1.84 * f64::from(n) / 40.0 * tangent,
        depth: 1.84 * f64::from(n) / 40.0,
    });
    let groove = Groove::cut(profile, passes);
    let thread = finished(&groove, blank).unwrap();
    near(thread.flank_error_deg[0], 0.0, 1e-9);
    assert!(
        (2.0..=3.6).contains(&thread.flank_error_deg[1]),
        "{thread:?}"
    );
    let fits = functional(&groove, blank, SIXTY, true, 20.752).unwrap();
    assert!(fits.pitch > thread.pitch + 0.01, "{fits:?} {thread:?}");
}

/// A full-profile tool tops the crest; grooves that meet leave it sharp.
#[test]
fn crests() {
    let blank = Blank {
        side: Side::External,
        crest: 20.2,
        pitch: 2.5,
    };
    let mut profile = Profile::of(SIXTY, Nose::Radius(0.360_844), true);
    profile.topping = Some(1.533_6);
    let groove = Groove::cut(
        profile,
        [Placement {
            u: 0.0,
            depth: 1.633_6,
        }],
    );
    let thread = finished(&groove, blank).unwrap();
    near(thread.crest, 20.0, 1e-9);
    near(thread.crest_flat, 2.5 / 8.0, 1e-4);
    let groove = plunge(SIXTY, Nose::Radius(0.1), 2.2);
    let thread = finished(&groove, blank).unwrap();
    assert_eq!(thread.crest_flat, 0.0);
    // The sharp crest lies H above the sharp root, which lies r below the tip.
    near(thread.crest, 20.2 - 4.4 - 0.2 + 2.0 * 2.165_063_5, 1e-6);
}

proptest! {
    /// With the infeed inside the flanks the simulation is the closed form of the last pass, to
    /// 1e-6 mm, for bolts and nuts, any straight flanks, radius or flat.
    #[test]
    fn simulation_and_closed_form_agree(
        front in 3.0..45.0f64,
        back in 3.0..45.0f64,
        pitch in 0.5..8.0f64,
        nose in 0.01..0.14f64,
        flat in any::<bool>(),
        angle in -1.0..1.0f64,
        internal in any::<bool>(),
        passes in 1..30u32,
    ) {
        let flanks = Flanks { leading_deg: front, trailing_deg: back, pressure: None };
        let nose = if flat { Nose::Flat(nose * pitch) } else { Nose::Radius(nose * pitch) };
        let side = if internal { Side::Internal } else { Side::External };
        let blank = Blank { side, crest: 60.0, pitch };
        let vee = Vee::between(flanks).unwrap();
        let height = vee.sharp_height(pitch) * 0.7;
        // Going forward, the edge behind must keep clear of what it left.
        let infeed = if angle > 0.0 { angle * back } else { angle * front };
        let groove = Groove::cut(
            Profile::of(flanks, nose, true),
            (1..=passes).map(|n| {
                let depth = height * (f64::from(n) / f64::from(passes)).sqrt();
                Placement { u: depth * infeed.to_radians().tan(), depth }
            }),
        );
        let thread = finished(&groove, blank);
        let closed = pitch_diameter(vee, pitch, side, nose, blank.at(height));
        // The closed form holds where half the pitch is cut by the straight edges.
        let straight = groove.profile().straight_from();
        let below = height - blank.depth(closed);
        prop_assume!(below > straight[0].max(straight[1]));
        let thread = thread.unwrap();
        prop_assert!((thread.pitch - closed).abs() < 1e-6, "{} {closed}", thread.pitch);
        prop_assert!(thread.flank_error_deg.iter().all(|e| e.abs() < 1e-6));
    }
}
