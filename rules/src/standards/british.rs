//! British inch threads: how their designations read and print. The forms, sizes and limits are in
//! [`whitworth`] and [`cycle`].

pub(super) mod cycle;
pub(super) mod whitworth;

use lexer::units::{Diameter, Lead, Length};

use super::inch::{inches, read_nominal, read_pitch, write_pitch};
use super::reader::{Looks, Reader};
use super::thread::Thread;
use super::{Family, Hand, Size};

/// A diameter in 1e-5 in with its threads per inch, hundredfold.
type Pair = (i64, i64);

fn listed(pairs: &[Pair], series: &'static str, rank: u8) -> Vec<Size> {
    let size = |(diameter, tpi): &Pair| {
        Some(Size {
            name: None,
            major: Diameter(Length::from_pm(diameter * 254_000)),
            pitch: Lead::per_inch(tpi * 100)?,
            series,
            rank,
        })
    };
    pairs.iter().filter_map(size).collect()
}

/// The other names of a series that are read: `1/2 WHITWORTH` is `1/2 WHIT`.
fn canonical(series: &'static str) -> &'static str {
    match series {
        "WHITWORTH" => "WHIT",
        "CEI" | "BSCY" => "BSC",
        series => series,
    }
}

/// Reads `1/2-12 BSW` or `BSW 1/2` up to the hand; the series must be written.
fn read_size(
    reader: &mut Reader<'_>,
    family: Family,
    names: &[&'static str],
    any_pitch: &[&str],
) -> Option<Thread> {
    let ahead = reader.eat_one(names);
    reader.blanks();
    let nominal = read_nominal(reader)?;
    let pitch = read_pitch(reader);
    let series = ahead.or_else(|| {
        reader.separator();
        reader.eat_one(names)
    })?;
    let series = canonical(series);
    let major = nominal.diameter(None);
    let in_series = |s: &&Size| s.series == series && s.major == major;
    let mut in_series = family.sizes().iter().filter(in_series);
    let (first, second) = (in_series.next(), in_series.next());
    let mut thread = match (pitch, first) {
        (Some((pitch, 1)), Some(_)) => Thread::new(family, series, major, pitch),
        (Some((pitch, 1)), None) if any_pitch.contains(&series) => {
            Thread::new(family, series, major, pitch)
        }
        (Some((_, 1)) | None, None) => {
            return reader.complain(format!("{series} has no thread of this size"));
        }
        (Some(_), _) => return reader.complain(format!("{series} has threads of one start")),
        (None, Some(_)) if second.is_some() => {
            return reader.complain("more than one pitch fits, write the threads per inch");
        }
        (None, Some(size)) => {
            let mut thread = Thread::new(family, series, major, size.pitch);
            thread.written.pitch = false;
            thread
        }
    };
    let listed = |s: &Size| s.series == series && s.major == major && s.pitch == thread.pitch;
    if !any_pitch.contains(&series) && !family.sizes().iter().any(listed) {
        return reader.complain(format!(
            "{series} does not list this pitch for this diameter"
        ));
    }
    if thread.pitch.mm() > thread.major.mm() / 2.0 {
        return reader.complain("the pitch leaves no core in this diameter");
    }
    thread.written.series = true;
    reader.looks = Looks::Named;
    Some(thread)
}

/// Takes the hand behind the series.
fn read_hand(reader: &mut Reader<'_>, thread: &mut Thread) -> bool {
    let hand = reader.hand();
    if let Some(hand) = hand {
        thread.hand = hand;
    }
    hand.is_some()
}

/// Prints `1/2-12 BSW`, the class in brackets where one was written.
fn write(thread: &Thread) -> String {
    let mut text = inches(thread.major) + &write_pitch(thread);
    text += &format!(" {}", thread.series);
    match (&thread.internal, &thread.external) {
        (Some(internal), Some(external)) if internal != external => {
            text += &format!(" ({internal}/{external})");
        }
        (Some(class), _) | (None, Some(class)) => text += &format!(" ({class})"),
        (None, None) => {}
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    text
}
