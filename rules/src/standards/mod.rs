//! Thread standards: which threads there are, what they are called, their form and their limits.
//!
//! Every family is one file that fills one [`Standard`]: how its designations read and print, its
//! form, its basic and its limiting diameters, its sizes. [`designation`] reads one name,
//! [`find`] looks for names in free text, [`nearest`] goes from measured numbers to names; none
//! of the three knows a family by name.
//!
//! To add a family: one file with its `STANDARD`, one variant of [`Family`], its place in
//! [`FAMILIES`], a line in [`Family::standard`], the words of its series among the foreign ones in
//! [`find`], and its rows under `tests/data/threads`. A tapered family tells its gauge planes too.

pub mod acme;
pub mod british;
pub mod british_association;
pub mod casing_buttress;
pub mod casing_round;
pub mod conduit;
pub mod custom;
pub mod designation;
pub mod edison;
pub mod find;
pub mod form;
mod inch;
pub mod inch_buttress;
pub mod limits;
pub mod metric;
pub mod metric_buttress;
pub mod metric_taper;
pub mod nearest;
pub mod pipe;
pub mod planes;
mod reader;
pub mod rotary;
pub mod round;
pub mod square;
mod tail;
mod text;
pub mod thread;
pub mod trapezoidal;
pub mod unified;

pub use lexer::section::Side;
use lexer::units::{Diameter, Lead, Units};

use form::Form;
use limits::{Basic, Limits};
use planes::GaugePlanes;
use reader::Reader;
use thread::Thread;

/// The hand of a helix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Hand {
    /// Right-hand, the default of every family.
    #[default]
    Right,
    /// Left-hand.
    Left,
}

/// A family of threads: one form, one way of writing, one system of tolerances.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Family {
    /// ISO metric M.
    Metric,
    /// Unified inch UN and UNR.
    Unified,
    /// Metric for aerospace MJ.
    MetricJ,
    /// Unified inch for aerospace UNJ.
    UnifiedJ,
    /// Parallel pipe G.
    PipeParallel,
    /// Sealing pipe R, Rc, Rp.
    PipeTaper,
    /// American taper pipe NPT and NPTF.
    Npt,
    /// American straight pipe NPSM.
    Npsm,
    /// Acme and stub Acme.
    Acme,
    /// Whitworth BSW, BSF and BSB.
    Whitworth,
    /// British cycle BSC.
    Cycle,
    /// Metric trapezoidal Tr.
    Trapezoidal,
    /// Metric buttress (saw) S.
    MetricButtress,
    /// Inch buttress BUTT.
    InchButtress,
    /// Round Rd.
    Round,
    /// British Association BA.
    BritishAssociation,
    /// Steel conduit Pg.
    Conduit,
    /// Square threads.
    Square,
    /// Edison lamp threads.
    Edison,
    /// Metric taper MK.
    MetricTaper,
    /// Rotary shouldered connections NC, REG and FH.
    RotaryShouldered,
    /// Round casing and tubing threads of API 5B and GOST 633.
    CasingRound,
    /// Buttress casing threads of API 5B and GOST 632.
    CasingButtress,
    /// Threads of the shop's own, named in its configuration; none of [`FAMILIES`].
    Custom,
}

/// All families of the standards, in the order in which a tie between two readings is settled.
pub const FAMILIES: [Family; 23] = [
    Family::Metric,
    Family::Unified,
    Family::MetricJ,
    Family::UnifiedJ,
    Family::PipeParallel,
    Family::PipeTaper,
    Family::Npt,
    Family::Npsm,
    Family::Acme,
    Family::Whitworth,
    Family::Cycle,
    Family::Trapezoidal,
    Family::MetricButtress,
    Family::InchButtress,
    Family::Round,
    Family::BritishAssociation,
    Family::Conduit,
    Family::Square,
    Family::Edison,
    Family::MetricTaper,
    Family::RotaryShouldered,
    Family::CasingRound,
    Family::CasingButtress,
];

/// One size of a family's series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// What the size is called where that is not its diameter.
    pub name: Option<&'static str>,
    /// Nominal major diameter.
    pub major: Diameter,
    /// Pitch of the single-start thread.
    pub pitch: Lead,
    /// The series that lists it.
    pub series: &'static str,
    /// How common the series is: 0 for the first choice, more for the less common.
    pub rank: u8,
}

/// What a family has to tell, filled in by its own file.
pub struct Standard {
    /// Name of the family as the trade says it.
    pub name: &'static str,
    /// The published standards the family rests on.
    pub standards: &'static str,
    /// Units in which the family states its sizes and limits.
    pub units: Units,
    /// Whether a designation can state more than one start.
    pub several_starts: bool,
    /// Characters, in capitals, with which a designation can begin.
    initials: &'static str,
    /// Reads the longest designation that starts at the reader's place; leaves the reader behind it.
    /// Returns `None` when nothing of this family is there, with a complaint in the reader when
    /// the beginning was recognised.
    read: fn(&mut Reader<'_>) -> Option<Thread>,
    /// Prints the designation that `read` reads back; a class is printed when one was written.
    write: fn(&Thread) -> String,
    form: fn(&Thread) -> Form,
    /// The diameters; of a tapered thread those in its gauge plane.
    basic: fn(&Thread) -> Basic,
    /// The planes along a tapered thread; [`parallel`] where no thread of the family is tapered.
    gauge: fn(&Thread, Side) -> Option<GaugePlanes>,
    /// The side that a series is made for, where it is only one: `Rc` is an internal thread.
    /// [`either_side`] where every series has both.
    made_for: fn(&str) -> Option<Side>,
    /// Limits for the class stated or assumed.
    limits: fn(&Thread, Side, &str) -> Limits,
    /// The class that holds when the drawing states none; empty where the family has no classes.
    default_class: fn(&Thread, Side) -> &'static str,
    sizes: fn() -> &'static [Size],
    /// A thread outside the series near a major diameter (mm) and of a pitch within a tolerance
    /// (mm), where the family has a grid on which special sizes are made.
    special: fn(f64, f64, f64) -> Option<Thread>,
}

/// Words of the oilfield for the two sides; the last two are what `НИППЕЛЬ` and `МУФТА` become when
/// look-alike letters are made even.
const CONNECTION_SIDES: &[(&str, Side)] = &[
    ("PIN", Side::External),
    ("BOX", Side::Internal),
    ("COUPLING", Side::Internal),
    ("HИППEЛЬ", Side::External),
    ("MУФTA", Side::Internal),
];

/// For families of parallel threads.
fn parallel(_: &Thread, _: Side) -> Option<GaugePlanes> {
    None
}

/// For families whose every series has an external and an internal thread.
fn either_side(_: &str) -> Option<Side> {
    None
}

impl Family {
    /// What the family's file tells about it.
    #[must_use]
    pub fn standard(self) -> &'static Standard {
        match self {
            Family::Metric => &metric::STANDARD,
            Family::Unified => &unified::STANDARD,
            Family::MetricJ => &metric::mj::STANDARD,
            Family::UnifiedJ => &unified::unj::STANDARD,
            Family::PipeParallel => &pipe::parallel::STANDARD,
            Family::PipeTaper => &pipe::taper::STANDARD,
            Family::Npt => &pipe::npt::STANDARD,
            Family::Npsm => &pipe::npsm::STANDARD,
            Family::Acme => &acme::STANDARD,
            Family::Whitworth => &british::whitworth::STANDARD,
            Family::Cycle => &british::cycle::STANDARD,
            Family::Trapezoidal => &trapezoidal::STANDARD,
            Family::MetricButtress => &metric_buttress::STANDARD,
            Family::InchButtress => &inch_buttress::STANDARD,
            Family::Round => &round::STANDARD,
            Family::BritishAssociation => &british_association::STANDARD,
            Family::Conduit => &conduit::STANDARD,
            Family::Square => &square::STANDARD,
            Family::Edison => &edison::STANDARD,
            Family::MetricTaper => &metric_taper::STANDARD,
            Family::RotaryShouldered => &rotary::STANDARD,
            Family::CasingRound => &casing_round::STANDARD,
            Family::CasingButtress => &casing_buttress::STANDARD,
            Family::Custom => &custom::STANDARD,
        }
    }

    /// All sizes of the family's series.
    #[must_use]
    pub fn sizes(self) -> &'static [Size] {
        (self.standard().sizes)()
    }
}
