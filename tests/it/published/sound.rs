//! Programs that cut each listed thread as its standard draws it, tapered ones too: the thread of the
//! note is found, and no rule sees another one or a wrong depth.

use lexer::program::Settings;
use rules::facts::Facts;
use rules::judge::judge;
use rules::standards::form::{Measure, ROUNDED_ROOT};
use rules::standards::thread::Thread;
use rules::standards::{FAMILIES, Side};

/// The rules about how the depth is split, which these programs do not care for.
const ABOUT_PASSES: [&str; 6] = [
    "axis-feed-limit",
    "equal-depth-passes",
    "first-pass-heavy",
    "last-pass-heaviest",
    "pass-under-minimum",
    "too-many-passes",
];

/// Radial depth of the drawing; of a flat root of a quarter of the pitch, which hardly a tool cuts,
/// that of the rounded root of ISO 68-1.
fn depth(thread: &Thread, side: Side) -> f64 {
    let (basic, pitch) = (thread.basic(), thread.pitch.mm());
    let quarter = thread.form().external.root.flat == Some(Measure::of_pitch(0.25));
    match side {
        Side::External if quarter => ROUNDED_ROOT * pitch,
        Side::External => (basic.major - basic.root) / 2.0,
        Side::Internal => (basic.major - basic.minor) / 2.0,
    }
}

/// The angle word of the cycle, among those that controls take, that the flanks allow.
fn angle(thread: &Thread) -> u32 {
    let included = thread
        .form()
        .flanks
        .map_or(0.0, |flanks| flanks.included_deg());
    let angles = [80, 60, 55, 30, 29, 0];
    let fits = |angle: &u32| f64::from(*angle) <= included;
    angles.into_iter().find(fits).unwrap_or(0)
}

/// A two-block cycle in mm from the design numbers, with the thread in a note.
fn program(thread: &Thread, side: Side) -> String {
    let basic = thread.basic();
    let depth = depth(thread, side);
    let (start, root) = match side {
        Side::External => (basic.major + 4.0, basic.major - 2.0 * depth),
        Side::Internal => (0.8 * basic.minor, basic.major),
    };
    let lead = thread.lead().mm();
    let (run_in, end) = ((4.0 * lead).max(4.0), (8.0 * lead).max(12.0));
    // The radius at the start less the radius at the end.
    let larger_at_start = if side == Side::External { -1.0 } else { 1.0 };
    let taper = larger_at_start * thread.form().taper * (run_in + end) / 2.0;
    let taper = match taper {
        0.0 => String::new(),
        taper => format!("R{taper:.4} "),
    };
    format!(
        "G21\n(THREAD {})\nG97 S100 M3\nG0 X{start:.3} Z{run_in:.3}\nG76 P0200{:02} Q10 R0.01\n\
         G76 X{root:.3} Z-{end:.3} {taper}P{:.0} Q{:.0} F{lead:.6}\n",
        thread.designation_for(side).to_uppercase(),
        angle(thread),
        depth * 1000.0,
        (depth * 200.0).min(150.0),
    )
}

#[test]
fn every_listed_size() {
    let mut judged = 0;
    for family in FAMILIES {
        for size in family.sizes() {
            let thread = Thread::of_size(family, size);
            for side in [Side::External, Side::Internal] {
                if !thread.exists_on(side) {
                    continue;
                }
                let text = program(&thread, side);
                let settings = Settings::default();
                let read = lexer::read(text.as_bytes(), &settings);
                let judgement = judge(text.as_bytes(), &read, &settings, &Facts::default());
                let [Some((named, _))] = judgement
                    .threads
                    .iter()
                    .map(|identified| identified.thread.as_ref())
                    .collect::<Vec<_>>()[..]
                else {
                    panic!("{text}\n{:#?}", judgement.threads);
                };
                let key = |t: &Thread| (t.family, t.name, t.major, t.lead());
                assert_eq!(key(named), key(&thread), "{text}");
                let found = judgement.findings.iter();
                let found = found.filter(|f| !ABOUT_PASSES.contains(&f.rule));
                let found: Vec<_> = found.map(|f| (f.rule, f.message.as_str())).collect();
                assert!(found.is_empty(), "{text}\n{found:#?}");
                judged += 1;
            }
        }
    }
    assert!(judged > 3_000, "{judged}");
}
