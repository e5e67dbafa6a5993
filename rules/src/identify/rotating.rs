//! Which thread a tap or a thread mill cuts. The numbers show the lead alone, which many sizes
//! have, so that they never name the thread; a tap carries its name in its comment.

use lexer::program::Program;
use lexer::section::{Kind, Section, Side};
use lexer::source::decode;

use super::{From, Identified, Part, note, settle};
use crate::facts::Facts;
use crate::standards::designation::parse;
use crate::standards::find::{Confidence, Found, find_in_text};

/// Words of comments that speak of the hole, not of the thread.
const ANOTHER: [&str; 6] = ["DRILL", "BORE", "REAM", "BOHR", "СВЕРЛ", "SPOT"];

/// Identifies the thread of a tapped or milled section.
pub(super) fn identify(
    bytes: &[u8],
    program: &Program,
    section: &Section,
    facts: &Facts,
) -> Identified {
    let mut identified = Identified::default();
    note::stated(&mut identified, bytes, section, facts);
    if identified.thread.is_some() {
        return identified;
    }
    let size = section.tapping.as_ref().and_then(|tapping| tapping.size);
    if let Some(size) = size
        && let Ok(thread) = parse(&format!("M{size}"), Some(Side::Internal))
    {
        identified.why = format!("the call names the size M{size}");
        identified.thread = Some((thread, From::Numbers));
        return identified;
    }
    from_comments(&mut identified, bytes, program, section);
    if identified.thread.is_none() {
        from_tool_name(&mut identified, bytes, program, section);
    }
    if identified.thread.is_none() {
        identified.why = match section.cut.lead.get() {
            Some(lead) => format!(
                "not identified: the lead {} mm is all that the numbers show, and many sizes have \
                 it",
                super::short(lead.mm())
            ),
            None => "not identified: no comment names the thread, and the lead is not known".into(),
        };
    }
    identified
}

/// Whether a lead goes with a designation, to the rounding of a feed word.
fn agrees(found: &Found, section: &Section) -> bool {
    let wanted = found.thread.lead().mm();
    let lead = section.cut.lead.get().map(|lead| lead.mm());
    lead.is_some_and(|lead| (lead - wanted).abs() <= 0.012 * wanted)
}

fn from_comments(identified: &mut Identified, bytes: &[u8], program: &Program, section: &Section) {
    let part = Part::of(program, section);
    let near = section.notes.iter().rev().take(super::MOST_NOTES);
    for note in near {
        let text = decode(note.span.of(bytes));
        let upper = text.to_uppercase();
        let speaks_of_tap = ["TAP", "THREAD", "GEWIND", "МЕТЧИК"]
            .iter()
            .any(|word| upper.contains(word));
        if ANOTHER.iter().any(|word| upper.contains(word)) && !speaks_of_tap {
            continue;
        }
        let found = find_in_text(&text);
        // One name, or of several the one that the lead bears out.
        let chosen = match found.as_slice() {
            [] => continue,
            [one] if one.confidence == Confidence::Strong || agrees(one, section) => Some(one),
            several => several.iter().find(|one| agrees(one, section)),
        };
        let Some(one) = chosen else {
            return;
        };
        identified.why = format!("comment in line {} ({})", note.line, one.because);
        identified.place = Some((note.span, note.line));
        identified.thread = Some((settle(one.thread.clone(), section.side()), From::Comment));
        return;
    }
    // The head of a program that cuts one thread names it, where the lead goes with it.
    identified.asked_others = true;
    if part.sections.len() > 1 && section.kind == Kind::Tapped {
        return;
    }
    let own_from = section.notes.first().map_or(section.first_line, |n| n.line);
    let head = part
        .notes_before(own_from)
        .iter()
        .rev()
        .take(super::MOST_NOTES);
    for note in head.filter(|note| part.heads(note)) {
        let text = decode(note.span.of(bytes));
        if let Some(one) = find_in_text(&text).iter().find(|one| agrees(one, section)) {
            identified.why = format!(
                "comment in line {} ({}), borne out by the lead",
                note.line, one.because
            );
            identified.place = Some((note.span, note.line));
            identified.thread = Some((settle(one.thread.clone(), section.side()), From::Comment));
            return;
        }
    }
}

/// Most lines before a section in which its tool is looked for.
const MOST_LINES: u32 = 200;

/// The name of the tool where tools have names: `T="TAP_M8"`.
fn from_tool_name(identified: &mut Identified, bytes: &[u8], program: &Program, section: &Section) {
    let first = Part::of(program, section).first_line;
    let from = section.first_line.saturating_sub(MOST_LINES).max(first);
    for line in (from..=section.first_line).rev() {
        let span = program.lines.span(line);
        let text = decode(span.of(bytes));
        let Some(name) = tool_name(&text) else {
            continue;
        };
        let name = name.replace('_', " ");
        if let [one] = find_in_text(&name).as_slice()
            && (one.confidence == Confidence::Strong || agrees(one, section))
        {
            identified.why = format!("name of the tool in line {line} ({})", one.because);
            identified.place = Some((span, line));
            identified.thread = Some((settle(one.thread.clone(), section.side()), From::Comment));
        }
        return;
    }
}

/// What stands between the quotes behind `T=`.
fn tool_name(line: &str) -> Option<&str> {
    let at = line.find("=\"")?;
    let before = line[..at].trim_end();
    let address = before.strip_suffix(['T', 't'])?;
    if address.ends_with(|c: char| c.is_alphanumeric()) {
        return None;
    }
    line[at + 2..].split('"').next()
}

#[cfg(test)]
mod tests {
    use super::*;
    use lexer::program::Settings;

    fn named(text: &str) -> Option<(String, From)> {
        let program = lexer::read(text.as_bytes(), &Settings::default());
        assert_eq!(program.sections.len(), 1, "{text}");
        let identified = super::super::identify(
            text.as_bytes(),
            &program,
            &program.sections[0],
            &Facts::default(),
        );
        let thread = identified.thread?;
        Some((thread.0.designation(), thread.1))
    }

    fn tap(comment: &str, feed: &str) -> String {
        format!(
            "O1 (PUMP COVER)\nG21 G90 G94 G17\nT5 M6 {comment}\nS320 M3\nG0 X0 Y0\nG43 H5 Z10.\n\
             G84 X10. Y5. Z-20. R3. {feed}\nG80\nM30\n"
        )
    }

    #[test]
    fn taps_by_their_comments() {
        let is = |comment: &str, feed: &str, name: &str| {
            let wanted = Some((name.to_owned(), From::Comment));
            assert_eq!(named(&tap(comment, feed)), wanted, "{comment}");
        };
        is("(M8 TAP)", "F400.", "M8x1.25");
        is("(TAP M8X1)", "F320.", "M8x1");
        is("(1/4-20 TAP)", "F406.4", "1/4-20 UNC");
        is("(TAP 3/8-16 UNC-2B)", "F508.", "3/8-16 UNC-2B");
        is("(G 1/4 TAP)", "F427.8", "G 1/4");
        // The name is the tap's whatever the feed says.
        is("(M8 TAP)", "F320.", "M8x1.25");
        // A line for two taps: the lead decides.
        is("(TAPS M8 AND M10)", "F480.", "M10x1.5");
    }

    #[test]
    fn tools_by_their_names() {
        let text = "G90 G17 G94\nT=\"TAP_M10\" D1 M6\nS300 M3\nG0 X20 Y30 Z10\nG331 Z-20 K1.5 S300\nG332 Z5\nM30\n";
        assert_eq!(named(text), Some(("M10x1.5".to_owned(), From::Comment)));
        assert_eq!(named(&text.replace("TAP_M10", "TOOL_10")), None);
    }

    #[test]
    fn notes_come_first_and_numbers_name_nothing() {
        let noted = tap("(THREAD M8X1-6H)", "F320.");
        assert_eq!(
            named(&noted),
            Some(("M8x1-6H".to_owned(), From::Annotation))
        );
        assert_eq!(named(&tap("", "F400.")), None);
        assert_eq!(named(&tap("(8 MM CARBIDE)", "F400.")), None);
    }
}
