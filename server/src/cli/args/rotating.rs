//! What `write` may hold for taps and thread mills.

use clap::{Args as ClapArgs, ValueEnum};
use lexer::section::tapping::Way;

#[derive(ClapArgs)]
#[command(next_help_heading = "Tap and helix")]
pub(in crate::cli) struct Rotating {
    /// Where a hole or a bolt stands on a milling machine; as often as there are threads
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub(in crate::cli) at: Vec<String>,
    /// Height above Z0 to which the tool goes before, between and after [default: that of the start]
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) retract: Option<String>,
    /// Number of the tool length offset, written with G43
    #[arg(long, value_name = "H")]
    pub(in crate::cli) offset: Option<u32>,
    /// Tap: pitches of its chamfer, which cut no full thread; 0 where the length is how deep its tip
    /// goes
    #[arg(long, value_name = "PITCHES")]
    pub(in crate::cli) chamfer: Option<f64>,
    /// Tap: the code [default: cycle; stroke for the interpreter]
    #[arg(long, value_enum, value_name = "WAY")]
    pub(in crate::cli) way: Option<TapWay>,
    /// Tap: a floating holder, so that the feed need not follow the spindle
    #[arg(long)]
    pub(in crate::cli) floating: bool,
    /// Tap: feed per turn or per minute [default: turn on turning machines, minute on others]
    #[arg(long, value_enum, value_name = "MODE")]
    pub(in crate::cli) feed: Option<Feed>,
    /// Tap: depth of a peck
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) peck: Option<String>,
    /// Mill: diameter over its teeth
    #[arg(long, value_name = "DIAMETER")]
    pub(in crate::cli) cutter: Option<String>,
    /// Mill: teeth around
    #[arg(long, value_name = "N")]
    pub(in crate::cli) teeth: Option<u32>,
    /// Mill: feed for each tooth at the edge
    #[arg(long, value_name = "LENGTH", conflicts_with = "edge_feed")]
    pub(in crate::cli) tooth_feed: Option<String>,
    /// Mill: feed at the edge per minute
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) edge_feed: Option<String>,
    /// Mill: one row of teeth
    #[arg(long, conflicts_with = "edge_length")]
    pub(in crate::cli) single_row: bool,
    /// Mill: rows of teeth a pitch apart over this length, so that one turn cuts the thread
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) edge_length: Option<String>,
    /// Mill: against the feed instead of climbing
    #[arg(long)]
    pub(in crate::cli) conventional: bool,
    /// Mill: distance of the way onto a bolt [default: a quarter of the mill's diameter,
    /// and 2 mm more than the depth at least]
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) approach: Option<String>,
}

impl Rotating {
    /// An option that only a tap or a mill has, where one is given.
    pub(in crate::cli) fn any(&self) -> Option<&'static str> {
        self.only_tap()
            .or_else(|| self.only_mill())
            .or((!self.at.is_empty()).then_some("--at"))
            .or(self.retract.as_ref().map(|_| "--retract"))
            .or(self.offset.map(|_| "--offset"))
    }

    /// An option that only a tap has, where one is given.
    pub(in crate::cli) fn only_tap(&self) -> Option<&'static str> {
        [
            (self.chamfer.is_some(), "--chamfer"),
            (self.way.is_some(), "--way"),
            (self.floating, "--floating"),
            (self.feed.is_some(), "--feed"),
            (self.peck.is_some(), "--peck"),
        ]
        .into_iter()
        .find_map(|(given, name)| given.then_some(name))
    }

    /// An option that only a mill has, where one is given.
    pub(in crate::cli) fn only_mill(&self) -> Option<&'static str> {
        [
            (self.cutter.is_some(), "--cutter"),
            (self.teeth.is_some(), "--teeth"),
            (self.tooth_feed.is_some(), "--tooth-feed"),
            (self.edge_feed.is_some(), "--edge-feed"),
            (self.single_row, "--single-row"),
            (self.edge_length.is_some(), "--edge-length"),
            (self.conventional, "--conventional"),
            (self.approach.is_some(), "--approach"),
        ]
        .into_iter()
        .find_map(|(given, name)| given.then_some(name))
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum TapWay {
    /// G84, left-hand G74
    Cycle,
    /// G33.1 of the open RS274/NGC interpreter
    Stroke,
    /// G331 in and G332 out
    Interpolated,
}

impl From<TapWay> for Way {
    fn from(way: TapWay) -> Way {
        match way {
            TapWay::Cycle => Way::Cycle,
            TapWay::Stroke => Way::Stroke,
            TapWay::Interpolated => Way::Interpolated,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum Feed {
    Turn,
    Minute,
}
