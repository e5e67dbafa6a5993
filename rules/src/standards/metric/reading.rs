//! Reads and prints metric designations: `M24`, `M24x1.5-5g6g`, `M16xPh3P1.5-6H-LH`,
//! `М24×3(Р1)LH`, `M14-1.5`.

use std::fmt;

use lexer::units::{Diameter, Lead, Length, Units};

use super::super::reader::{Looks, Reader};
use super::super::text::Text;
use super::super::thread::{Engagement, Thread};
use super::super::{Family, Hand, Side};
use super::coarse_pitch;

/// A grade with a position: `6g`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Zone {
    pub(super) grade: u8,
    pub(super) position: char,
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.grade, self.position)
    }
}

impl Zone {
    fn exists(self, side: Side) -> bool {
        match side {
            Side::External => matches!(self.position, 'e'..='h') && (3..=9).contains(&self.grade),
            Side::Internal => matches!(self.position, 'G' | 'H') && (4..=8).contains(&self.grade),
        }
    }

    fn on(self, side: Side) -> Zone {
        let position = match side {
            Side::External => self.position.to_ascii_lowercase(),
            Side::Internal => self.position.to_ascii_uppercase(),
        };
        Zone { position, ..self }
    }
}

/// The tolerance zones of the pitch diameter and of the crest diameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Zones {
    pub(super) pitch: Zone,
    pub(super) crest: Zone,
}

impl Zones {
    fn on(self, side: Side) -> Option<Zones> {
        let zones = Zones {
            pitch: self.pitch.on(side),
            crest: self.crest.on(side),
        };
        (zones.pitch.exists(side) && zones.crest.exists(side)).then_some(zones)
    }
}

impl fmt::Display for Zones {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.pitch)?;
        if self.crest != self.pitch {
            write!(f, "{}", self.crest)?;
        }
        Ok(())
    }
}

/// The zones of a class for one side, `None` where ISO 965-1 has no such class.
pub(super) fn zones(class: &str, side: Side) -> Option<Zones> {
    let text = Text::new(class);
    let mut reader = Reader::new(&text, 0);
    let zones = read_zones(&mut reader).filter(|_| reader.at_end())?;
    (zones.on(side)? == zones).then_some(zones)
}

/// Reads `6g` or `5g6g` in any case.
fn read_zones(reader: &mut Reader<'_>) -> Option<Zones> {
    let pitch = read_zone(reader)?;
    let mark = reader.place();
    let crest = read_zone(reader).unwrap_or_else(|| {
        reader.back_to(mark);
        pitch
    });
    (!reader.in_word()).then_some(Zones { pitch, crest })
}

fn read_zone(reader: &mut Reader<'_>) -> Option<Zone> {
    let grade = u8::try_from(reader.peek().to_digit(10)?).ok()?;
    reader.step();
    let position = reader.peek_case();
    reader.step();
    matches!(position.to_ascii_uppercase(), 'E'..='H').then_some(Zone { grade, position })
}

/// Reads the longest metric designation at the reader's place.
pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    if !reader.eat('M') {
        return None;
    }
    let (mut thread, padded) = read_size(reader, Family::Metric, "M")?;
    if !thread.written.pitch {
        if padded {
            return reader.complain("a thread is not written with a leading zero");
        }
        let Some(pitch) = coarse_pitch(thread.major) else {
            return reader.complain(format!(
                "M{} has no coarse pitch, so the pitch must be written",
                thread.major
            ));
        };
        thread.pitch = pitch;
    }
    check_core(reader, &thread, "M")?;
    read_tail(reader, &mut thread)?;
    reader.looks = looks(&thread, padded);
    Some(thread)
}

/// Reads `24x3` behind the letters of a family, the pitch where one is written; says whether the
/// diameter has leading zeros.
pub(super) fn read_size(
    reader: &mut Reader<'_>,
    family: Family,
    letters: &str,
) -> Option<(Thread, bool)> {
    reader.blanks();
    let number = reader.number()?;
    let major = Diameter(number.real(Units::Millimetre)?);
    if !(0.2..=1000.0).contains(&major.mm()) {
        return reader.complain(format!("{letters}{major} is outside 0.2 to 1000 mm"));
    }
    let padded =
        number.whole_digits > 1 && major.mm() < 10f64.powi(i32::from(number.whole_digits) - 1);
    let mut thread = Thread::new(family, "", major, Lead::per_turn(Length::ZERO));
    match read_pitch(reader) {
        Some((pitch, starts)) => (thread.pitch, thread.starts) = (pitch, starts),
        None => thread.written.pitch = false,
    }
    Some((thread, padded))
}

/// Complains where the pitch is none or too large for the diameter.
pub(super) fn check_core(reader: &mut Reader<'_>, thread: &Thread, letters: &str) -> Option<()> {
    let pitch = thread.pitch.mm();
    if pitch <= 0.0 || pitch > thread.major.mm() / 2.0 {
        return reader.complain(format!(
            "a pitch of {} leaves no core in {letters}{}",
            thread.pitch.length(),
            thread.major
        ));
    }
    Some(())
}

/// A pitch that goes with the diameter, or a class, makes a designation; a bare `M8` could be a
/// machine function, and functions alone are written `M08`.
fn looks(thread: &Thread, padded: bool) -> Looks {
    if padded || (thread.written.pitch && !thread.has_usual_pitch()) {
        return Looks::Foreign;
    }
    let listed = thread.is_standard_size() || thread.starts > 1;
    match thread.written {
        written if written.class => Looks::Fitting,
        written if written.pitch && listed => Looks::Fitting,
        written if written.pitch => Looks::Likely,
        _ => Looks::Bare,
    }
}

/// Reads `x3`, `-1.5`, `xPh3P1.5`, `x3P1.5` or `x3(P1)`; pitch and starts.
pub(in super::super) fn read_pitch(reader: &mut Reader<'_>) -> Option<(Lead, u32)> {
    let mark = reader.place();
    let read = read_pitch_inner(reader);
    if read.is_none() {
        reader.back_to(mark);
    }
    read
}

fn read_pitch_inner(reader: &mut Reader<'_>) -> Option<(Lead, u32)> {
    let cross = reader.eat_spaced('X');
    if !cross && !reader.eat_spaced('-') {
        return None;
    }
    let spelled = cross && reader.eat_word("PH");
    reader.blanks();
    let first = reader.number()?.real(Units::Millimetre)?;
    if !cross {
        // `M24-6H` goes on with a class, `M24-1.5` with a pitch.
        return (!reader.in_word()).then_some((Lead::per_turn(first), 1));
    }
    let mark = reader.place();
    match read_second(reader) {
        Some(pitch) => {
            let starts = first.pm() as f64 / pitch.pm() as f64;
            let whole = (starts - starts.round()).abs() < 1e-6 && (1.0..=24.0).contains(&starts);
            if !whole {
                return reader.complain("the lead is not a whole number of pitches");
            }
            Some((Lead::per_turn(pitch), starts.round() as u32))
        }
        None if spelled => reader.complain("the lead Ph is written without the pitch P"),
        None => {
            reader.back_to(mark);
            Some((Lead::per_turn(first), 1))
        }
    }
}

/// The pitch behind a lead: `P1.5` or `(P1)`.
fn read_second(reader: &mut Reader<'_>) -> Option<Length> {
    reader.blanks();
    let bracket = reader.eat('(');
    if !reader.eat_word("P") {
        return None;
    }
    reader.blanks();
    let pitch = reader.number()?.real(Units::Millimetre)?;
    (!bracket || reader.eat(')')).then_some(pitch)
}

/// Class, length of engagement, hand and starts, in any order that occurs.
pub(super) fn read_tail(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    loop {
        let mark = reader.place();
        if let Some(hand) = reader.hand() {
            thread.hand = hand;
        } else if let Some(count) = reader.starts_note() {
            if count != thread.starts {
                return reader.complain("the number of starts contradicts lead and pitch");
            }
        } else if !thread.written.class && read_class(reader, thread).is_some() {
            thread.written.class = true;
        } else if thread.written.class && thread.engagement.is_none() {
            reader.back_to(mark);
            thread.engagement = read_engagement(reader);
        }
        let useless = reader.place() == mark || reader.complaint.is_some();
        if useless {
            break;
        }
    }
    reader.complaint.is_none().then_some(())
}

fn read_class(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    let start = reader.place();
    let dashed = reader.eat_spaced('-');
    reader.blanks();
    let Some(first) = read_zones(reader) else {
        reader.back_to(start);
        return None;
    };
    let mark = reader.place();
    let second = if reader.eat_spaced('/') {
        read_zones(reader)
    } else {
        None
    };
    if let Some(second) = second {
        let fit = first.on(Side::Internal).zip(second.on(Side::External));
        let Some((internal, external)) = fit else {
            return reader.complain(format!("{first}/{second} is no fit of ISO 965-1"));
        };
        thread.internal = Some(internal.to_string());
        thread.external = Some(external.to_string());
        return Some(());
    }
    reader.back_to(mark);
    let capitals = reader.capitals();
    let as_written = |side| first.on(side).filter(|zones| capitals || *zones == first);
    let (external, internal) = (as_written(Side::External), as_written(Side::Internal));
    thread.side = match (external, internal) {
        (Some(_), None) => Some(Side::External),
        (None, Some(_)) => Some(Side::Internal),
        (Some(_), Some(_)) => None,
        (None, None) if dashed => {
            return reader.complain(format!("{first} is no class of ISO 965-1"));
        }
        (None, None) => {
            reader.back_to(start);
            return None;
        }
    };
    thread.written.capitals = external.is_some() && internal.is_some();
    thread.external = external.map(|z| z.to_string());
    thread.internal = internal.map(|z| z.to_string());
    Some(())
}

/// `-S`, `-N`, `-L`, or a length in mm.
fn read_engagement(reader: &mut Reader<'_>) -> Option<Engagement> {
    let mark = reader.place();
    let read = reader.eat_spaced('-').then(|| {
        let group = match reader.eat_one(&["S", "N", "L"]) {
            Some("S") => Some(Engagement::Short),
            Some("N") => Some(Engagement::Normal),
            Some(_) => Some(Engagement::Long),
            None => {
                let length = reader.number()?.real(Units::Millimetre)?;
                (length > Length::ZERO).then_some(Engagement::Length(length))
            }
        };
        // `-L=30` is a length of something else.
        group.filter(|_| !reader.in_word() && reader.peek() != '=')
    });
    let read = read.flatten();
    if read.is_none() {
        reader.back_to(mark);
    }
    read
}

/// Prints the canonical text that `read` takes back.
pub(super) fn write(thread: &Thread) -> String {
    write_with(thread, "M")
}

/// The same behind the letters of another family.
pub(super) fn write_with(thread: &Thread, letters: &str) -> String {
    let pitch = thread.pitch.length();
    let mut text = format!("{letters}{}x", thread.major);
    if thread.starts > 1 {
        text += &format!("Ph{}P{pitch}", pitch * i64::from(thread.starts));
    } else {
        text += &pitch.to_string();
    }
    match (&thread.internal, &thread.external) {
        (Some(class), Some(_)) if thread.is_ambiguous() => {
            text += &format!("-{class}");
            text = text.to_ascii_uppercase();
        }
        (Some(internal), Some(external)) => text += &format!("-{internal}/{external}"),
        (Some(class), None) | (None, Some(class)) => text += &format!("-{class}"),
        (None, None) => {}
    }
    match thread.engagement {
        Some(Engagement::Short) => text += "-S",
        Some(Engagement::Normal) => text += "-N",
        Some(Engagement::Long) => text += "-L",
        Some(Engagement::Length(length)) => text += &format!("-{length}"),
        None => {}
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    text
}
