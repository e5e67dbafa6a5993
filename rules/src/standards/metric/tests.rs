use crate::standards::Side;
use crate::standards::designation::parse;
use crate::standards::thread::Thread;

fn thread(text: &str) -> Thread {
    parse(text, None).unwrap()
}

#[test]
fn grades_the_standard_does_not_have_leave_gaps() {
    let limits = thread("M24x3-5g").limits(Side::External);
    assert_eq!(limits.major.max, Some(23.952));
    assert_eq!(limits.major.min, None);
    assert!(limits.pitch.min.is_some());
    assert!(
        limits.notes[0].contains("no crest tolerance for 5g"),
        "{:?}",
        limits.notes
    );
    // Position e is not given for fine pitches.
    let limits = thread("M2x0.4-6e").limits(Side::External);
    assert_eq!((limits.major.max, limits.pitch.max), (None, None));
}

#[test]
fn what_is_doubtful_says_so() {
    assert!(thread("M5.5x0.5").limits(Side::External).unverified);
    let two = thread("M16xPh3P1.5").limits(Side::External);
    assert!(two.unverified && two.notes.iter().any(|n| n.contains("starts")));
    let miniature = thread("M0.5x0.125").limits(Side::External);
    assert_eq!(miniature.pitch.max, None);
    assert!(miniature.notes[0].contains("1 mm"));
    assert!(!thread("M24x3-6g").limits(Side::External).unverified);
}

#[test]
fn off_the_tables_the_formula_is_named() {
    let limits = thread("M6x0.5-6g").limits(Side::External);
    assert!(limits.sources.iter().any(|s| s.contains("clause 13")));
    assert!(
        limits
            .notes
            .iter()
            .any(|n| n.contains("pitch diameter tolerance"))
    );
    // 0.09 · 0.5^0.4 · 6^0.1 = 0.08160 mm.
    let width = limits.pitch.max.unwrap() - limits.pitch.min.unwrap();
    assert!((width - 0.0816).abs() < 0.001, "{width}");
}

#[test]
fn an_unknown_class_gives_no_limits() {
    let mut odd = thread("M24x3");
    odd.external = Some("2A".to_owned());
    let limits = odd.limits(Side::External);
    assert_eq!(limits.pitch.max, None);
    assert!(limits.notes[0].contains("no external class"));
}

#[test]
fn the_whole_root_band_is_inside_the_go_gauge() {
    for size in crate::standards::Family::Metric.sizes() {
        let thread = Thread::of_size(crate::standards::Family::Metric, size);
        let limits = thread.limits(Side::External);
        if let (Some(root), Some(minor)) = (limits.root.max, limits.minor.max) {
            assert!(
                root <= minor && limits.root.min < Some(root),
                "{}",
                thread.designation()
            );
        }
    }
}
