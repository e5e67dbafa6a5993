//! Turned threads off the beaten track: a first plunge from the centre, threads on a face, tools
//! behind the centre line.

use ::lexer::section::{Infeed, Kind, Side, Syntax};
use ::lexer::units::{Diameter, Length};

use super::{diameters, read, section};

/// The first plunge comes from the centre, every retract goes out.
#[test]
fn a_first_plunge_from_the_centre_is_no_nut() {
    let thread = section(
        "G21\nT0303\nG97 S500 M3\nG0 X0 Z8.\nG0 X29.4\nG32 Z-36. F2.\nG0 X34.\nZ8.\nX28.6\nG32 Z-36. F2.\nG0 X34.\n\
         Z8.\nX27.546\nG32 Z-36. F2.\nG0 X34.\nZ8.\nM30\n",
    );
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(thread.cut.start_x.get(), Some(Diameter::from_mm(34.0)));
    assert_eq!(diameters(&thread), [29.4, 28.6, 27.546]);
}

/// A nut whose first plunge comes from far out in front of the face.
#[test]
fn a_first_plunge_from_outside_is_no_bolt() {
    let thread = section(
        "G21\nT0303\nG97 S500 M3\nG0 X60. Z8.\nX28.4\nG32 Z-30. F2.\nG0 X26.\nZ8.\nX29.2\nG32 Z-30. F2.\nG0 X26.\n\
         Z8.\nX30.\nG32 Z-30. F2.\nG0 X26.\nZ8.\nM30\n",
    );
    assert_eq!(thread.side(), Some(Side::Internal));
    assert_eq!(thread.cut.start_x.get(), Some(Diameter::from_mm(26.0)));
    assert_eq!(thread.cut.root_x.get(), Some(Diameter::from_mm(30.0)));
}

/// One retract to the wrong side does not make a nut of a bolt.
#[test]
fn one_slip_in_a_retract_changes_no_side() {
    let thread = section(
        "G21\nT0303\nG97 S500 M3\nG0 X34. Z8.\nX29.4\nG32 Z-36. F2.\nG0 X3.4\nZ8.\nX28.6\nG32 Z-36. F2.\nG0 X34.\n\
         Z8.\nX27.546\nG32 Z-36. F2.\nG0 X34.\nZ8.\nM30\n",
    );
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(thread.passes.len(), 3);
}

/// A synchronised pull-out, then the way back along Z and in again.
#[test]
fn a_pull_out_is_the_way_out() {
    let thread = section(
        "G21\nT0303\nG97 S800 M3\nG0 X0 Z6.\nX23.2\nG32 Z-30. F3.\nG32 X28. Z-32.4 F3.\nG0 Z6.\nX22.6\nG32 Z-30. F3.\n\
         G32 X28. Z-32.7 F3.\nG0 Z6.\nM30\n",
    );
    assert_eq!(thread.side(), Some(Side::External));
    assert_eq!(diameters(&thread), [23.2, 22.6]);
}

/// A scroll: the feed runs along X, the depth along Z.
#[test]
fn a_thread_on_a_face() {
    let thread = section(
        "G21\nT0404\nG97 S100 M3\nG0 X120. Z2.\nZ-0.5\nG32 X60. F6.\nG0 Z2.\nX120.\nZ-1.\nG32 X60. F6.\nG0 Z2.\nX120.\n\
         Z-1.5\nG32 X60. F6.\nG0 Z2.\nX120.\nG0 Z50.\nM30\n",
    );
    assert_eq!(
        (thread.kind, thread.syntax),
        (Kind::Turned, Syntax::Strokes)
    );
    assert!(thread.is_facing());
    assert_eq!(thread.side(), None);
    assert!(thread.cut.side.why().unwrap().contains("face"));
    assert_eq!(thread.cut.root_x.get(), None);
    assert_eq!(thread.cut.lead.get().unwrap().mm(), 6.0);
    assert_eq!(thread.cut.starts, 1);
    assert_eq!(thread.cut.infeed, Infeed::Radial);
    let depths: Vec<_> = thread.passes.iter().map(|pass| pass.z_end).collect();
    let mm = |mm| Some(Length::from_mm(mm));
    assert_eq!(depths, [mm(-0.5), mm(-1.0), mm(-1.5)]);
    assert_eq!(thread.passes[0].x_start, Some(Diameter::from_mm(120.0)));
    assert_eq!(thread.passes[0].x, Some(Diameter::from_mm(60.0)));
    // No two of its passes are taken for starts, and two tools make two threads.
    assert_eq!(read("G21\nT0404\nG97 S100 M3\nG0 X120. Z-0.5\nG32 X60. F6.\nG0 Z2.\nT0505\nG0 X120. Z-0.5\nG32 X60. F6.\nG0 Z2.\nM30\n").sections.len(), 2);
}
