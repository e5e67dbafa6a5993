//! Parallel pipe threads G: ISO 228-1, GOST 6357 (BSPP, PF). They do not seal on the thread.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::super::british::whitworth;
use super::super::form::Form;
use super::super::limits::{Band, Basic, Limits, round_to};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::{hand, micrometres, read_hand, read_name, read_size, read_tpi};

/// What the project knows of parallel pipe threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "parallel pipe G",
    standards: "ISO 228-1, GOST 6357",
    units: Units::Millimetre,
    several_starts: false,
    initials: "GBP.0123456789",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

const FORM: Form = Form {
    source: "ISO 228-1 (Whitworth form)",
    ..whitworth::FORM
};

const SOURCE: &str = "ISO 228-1 table 1";

/// Size, threads per inch and major diameter in µm (ISO 228-1 table 1, three public transcriptions
/// that agree).
#[rustfmt::skip]
const ROWS: [(&str, i64, i64); 24] = [
    ("1/16", 28, 7723),
    ("1/8", 28, 9728),
    ("1/4", 19, 13157),
    ("3/8", 19, 16662),
    ("1/2", 14, 20955),
    ("5/8", 14, 22911),
    ("3/4", 14, 26441),
    ("7/8", 14, 30201),
    ("1", 11, 33249),
    ("1 1/8", 11, 37897),
    ("1 1/4", 11, 41910),
    ("1 1/2", 11, 47803),
    ("1 3/4", 11, 53746),
    ("2", 11, 59614),
    ("2 1/4", 11, 65710),
    ("2 1/2", 11, 75184),
    ("2 3/4", 11, 81534),
    ("3", 11, 87884),
    ("3 1/2", 11, 100330),
    ("4", 11, 113030),
    ("4 1/2", 11, 125730),
    ("5", 11, 138430),
    ("5 1/2", 11, 151130),
    ("6", 11, 163830),
];

/// What ISO 228-1 gives for a number of threads per inch, in µm: the height of the thread and the
/// tolerance of the minor diameter.
fn height_and_bore(tpi: i64) -> (i64, i64) {
    match tpi {
        28 => (581, 282),
        19 => (856, 445),
        14 => (1162, 541),
        _ => (1479, 640),
    }
}

/// Tolerance of the pitch diameter in µm; the major diameter of the external thread has twice as
/// much.
fn pitch_tolerance(tpi: i64, major: Diameter) -> i64 {
    match tpi {
        28 => 107,
        19 => 125,
        14 => 142,
        _ if major.mm() < 60.0 => 180,
        _ => 217,
    }
}

fn threads(thread: &Thread) -> i64 {
    (25.4 / thread.pitch.mm()).round() as i64
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |(name, tpi, major): &(&'static str, i64, i64)| {
            Some(Size {
                name: Some(name),
                major: Diameter(micrometres(*major)),
                pitch: Lead::per_inch(tpi * 10_000)?,
                series: "G",
                rank: 1,
            })
        };
        ROWS.iter().filter_map(size).collect()
    });
    &SIZES
}

/// The diameters of the table: the height of the thread is rounded to 0.001 mm before it is taken
/// off.
pub(super) fn basic(thread: &Thread) -> Basic {
    let (height, _) = height_and_bore(threads(thread));
    let (d, h) = (thread.major.mm(), height as f64 / 1000.0);
    Basic {
        major: d,
        pitch: round_to(d - h, 0.001),
        minor: round_to(d - 2.0 * h, 0.001),
        root: round_to(d - 2.0 * h, 0.001),
    }
}

/// External threads have the classes A and B, internal threads one without a letter. That a bare
/// external callout means A is from memory.
fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "A",
        Side::Internal => "",
    }
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    let factor = match (side, class) {
        (Side::External, "A") | (Side::Internal, "") => 1.0,
        (Side::External, "B") => 2.0,
        _ => {
            let note = format!("{class} is no {} class of ISO 228-1", side.name());
            limits.notes.push(note);
            return limits;
        }
    };
    limits.sources.push(SOURCE);
    let tpi = threads(thread);
    let basic = basic(thread);
    let width = pitch_tolerance(tpi, thread.major) as f64 / 1000.0;
    let (_, bore) = height_and_bore(tpi);
    match side {
        Side::External => {
            limits.major = Band::between(basic.major - 2.0 * width, basic.major);
            limits.pitch = Band::between(basic.pitch - factor * width, basic.pitch);
            limits.minor.max = Some(basic.minor);
        }
        Side::Internal => {
            limits.major.min = Some(basic.major);
            limits.pitch = Band::between(basic.pitch, basic.pitch + width);
            limits.minor = Band::between(basic.minor, basic.minor + bore as f64 / 1000.0);
        }
    }
    for diameter in [&mut limits.major, &mut limits.pitch, &mut limits.minor] {
        *diameter = diameter.map(|v| round_to(v, 0.001));
    }
    limits
}

const WORDS: [(&str, &str); 2] = [("BSPP", "G"), ("PF", "G")];

/// Reads `G 1/2 A`, `G1/2-LH`, `1/2 BSPP`, `1/2-14 BSPP`, `PF 1/2`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let start = reader.place();
    if reader.eat_word("G") {
        return read_behind_letter(reader);
    }
    if reader.word_ahead() == "BSP" {
        return reader.complain(
            "BSP does not say whether the thread is parallel (G, BSPP) or taper (R, BSPT)",
        );
    }
    let Some((mut thread, written)) = read_size(reader, Family::PipeParallel, &WORDS) else {
        if reader.complaint.is_none() && reader.word_ahead() == "BSP" {
            reader.back_to(start);
            return reader.complain(
                "BSP does not say whether the thread is parallel (G, BSPP) or taper (R, BSPT)",
            );
        }
        return None;
    };
    read_tail(reader, &mut thread);
    reader.looks = match written {
        "BSPP" => Looks::Named,
        _ => Looks::Likely,
    };
    Some(thread)
}

/// `G` is also the address of preparatory functions: `G1`, `G2` and `G3` are those unless more is
/// written. The size follows the letter directly or behind a blank.
fn read_behind_letter(reader: &mut Reader<'_>) -> Option<Thread> {
    let blank = reader.peek() == ' ';
    reader.blanks();
    let name = read_name(reader)?;
    let tpi = read_tpi(reader);
    let mut thread = super::of_name(reader, Family::PipeParallel, "G", name)?;
    if tpi.is_some_and(|tpi| tpi != thread.pitch) {
        let count = threads(&thread);
        return reader.complain(format!("G {name} has {count} threads per inch"));
    }
    thread.written.series = true;
    thread.written.pitch = tpi.is_some();
    read_tail(reader, &mut thread);
    let fraction = name.contains('/');
    // `G1/2` could be short for G1 and G2, `G3 1/2` a G3 with something behind it.
    let codes = name.contains(' ') || matches!(name, "1/2" | "1/4" | "3/4");
    let more = thread.written.class || thread.hand == super::Hand::Left;
    reader.looks = match (fraction, more) {
        (true, true) => Looks::Named,
        (true, false) if blank || !codes => Looks::Fitting,
        (true, false) | (false, true) => Looks::Likely,
        (false, false) => Looks::Address,
    };
    Some(thread)
}

/// Class and hand in either order.
fn read_tail(reader: &mut Reader<'_>, thread: &mut Thread) {
    loop {
        if read_hand(reader, thread) {
            continue;
        }
        let mark = reader.place();
        reader.separator();
        match reader.eat_one(&["A", "B"]) {
            Some(class) if !thread.written.class && !reader.in_word() => {
                thread.external = Some(class.to_owned());
                thread.side = Some(Side::External);
                thread.written.class = true;
            }
            _ => return reader.back_to(mark),
        }
    }
}

/// Prints `G 1/2 A-LH`.
fn write(thread: &Thread) -> String {
    let mut text = format!("G {}", thread.name.unwrap_or_default());
    if let Some(class) = &thread.external {
        text += &format!(" {class}");
    }
    text + hand(thread)
}
