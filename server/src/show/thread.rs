//! What the program, the judgement and the table together say of a section's thread.

use lexer::section::Section;
use lexer::units::{Diameter, Lead, Length};
use rules::identify::{From, Identified};
use rules::standards::Hand;
use rules::standards::thread::Thread;
use rules::table::Table;

/// The thread of a section as it is shown.
pub(crate) struct Shown {
    pub(crate) designation: Option<String>,
    pub(crate) from: Option<&'static str>,
    pub(crate) why: String,
    pub(crate) hand: Option<&'static str>,
    pub(crate) starts: u32,
    pub(crate) pitch: Option<Lead>,
}

pub(crate) fn of(section: &Section, identified: Option<&Identified>) -> Shown {
    let known = identified.and_then(|one| one.thread.as_ref());
    let thread = known.map(|(thread, _)| thread);
    let starts = thread.map_or(section.cut.starts, |thread| thread.starts);
    let starts = starts.max(1);
    Shown {
        designation: thread.map(Thread::designation),
        from: known.map(|(_, from)| from.name()),
        why: identified.map_or_else(String::new, |one| one.why.clone()),
        // Numbers alone do not tell the hand: that takes the spindle and the side of the tool.
        hand: known
            .filter(|(_, from)| *from != From::Numbers)
            .map(|(thread, _)| match thread.hand {
                Hand::Right => "right",
                Hand::Left => "left",
            })
            .or_else(|| rotating_hand(section)),
        starts,
        pitch: section.cut.lead.get().map(|lead| lead.divided(starts)),
    }
}

/// The hand that the code of tapping or the way round of milling gives.
fn rotating_hand(section: &Section) -> Option<&'static str> {
    let tapped = section.tapping.as_ref().map(|tapping| &tapping.hand);
    let milled = section.milling.as_ref().map(|milling| &milling.hand);
    Some(tapped.or(milled)?.get()?.name())
}

/// The T word as written, without blanks, in capitals.
pub(crate) fn tool(bytes: &[u8], section: &Section) -> Option<String> {
    let written = section.tool?.span.of(bytes);
    let text = super::visible::bytes(written);
    let squeezed = text.chars().filter(|c| !c.is_whitespace());
    Some(squeezed.collect::<String>().to_ascii_uppercase())
}

pub(crate) fn crest(section: &Section, table: Option<&Table>) -> Option<Diameter> {
    table
        .and_then(|table| table.crest)
        .or(section.cut.crest_x.get())
}

pub(crate) fn root(section: &Section, table: Option<&Table>) -> Option<Diameter> {
    table
        .and_then(|table| table.root)
        .or(section.cut.root_x.get())
}

pub(crate) fn z_start(section: &Section, table: Option<&Table>) -> Option<Length> {
    let written = section.cut.start_z.get();
    written.or(table.and_then(|table| table.z_start))
}

pub(crate) fn z_end(section: &Section, table: Option<&Table>) -> Option<Length> {
    let written = section.cut.end_z.get();
    written.or(table.and_then(|table| table.z_end))
}
