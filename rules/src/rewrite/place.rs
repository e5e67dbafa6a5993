//! The lines of a section that are replaced when it is written anew, and what stands between them.

use lexer::block::{Block, Blocks};
use lexer::program::Program;
use lexer::section::{Section, Syntax};
use lexer::source::Span;
use lexer::syntax::{Numbering, Style};

use crate::finding::Edit;

/// Farthest behind a section that its next block is looked for, in bytes.
const AHEAD: usize = 4096;

/// What is replaced.
#[derive(Debug)]
pub(super) struct Place {
    span: Span,
    /// Comments that stand in it, as written; they are kept in front.
    comments: Vec<String>,
    /// N of its first block, and of the first numbered block behind it.
    numbers: (Option<u32>, Option<u32>),
    /// Whether the block behind it says how it moves.
    motion_follows: bool,
    /// Whether the block behind it moves without saying how.
    coordinates_follow: bool,
    /// Whether what stands behind it takes the tool out, as behind strokes; a cycle comes back by
    /// itself.
    retract_follows: bool,
}

impl Place {
    /// The place of a section whose lines do nothing else.
    ///
    /// # Errors
    /// Which line does something else, or cannot be kept.
    pub(super) fn of(bytes: &[u8], program: &Program, section: &Section) -> Result<Place, String> {
        repeated(section)?;
        let first_line = approach(section).unwrap_or(section.first_line);
        let start = program.lines.span(first_line).start;
        let end = section.span.end.max(last_end(section));
        let stop = bytes.len().min(end as usize + AHEAD);
        let slice = bytes
            .get(start as usize..stop)
            .ok_or("the section does not fit the text")?;
        let mut place = Place {
            span: Span::new(start, end),
            comments: Vec::new(),
            numbers: (None, None),
            motion_follows: false,
            coordinates_follow: false,
            retract_follows: section.syntax == Syntax::Strokes,
        };
        let mut reader = Blocks::new(slice);
        let mut block = Block::default();
        while reader.read(&mut block) {
            let at = |span: Span| Span::new(span.start + start, span.end + start);
            let number = block.number.and_then(|word| word.number()?.integer());
            let number = number.and_then(|number| u32::try_from(number).ok());
            if at(block.span).start >= end {
                if place.numbers.1.is_none() {
                    place.numbers.1 = number;
                }
                if block.words.is_empty() {
                    continue;
                }
                place.motion_follows = block.has_motion_code();
                let g_code = block.g_codes().next().is_some();
                place.coordinates_follow = !g_code && block.has_any(b"XZUW");
                break;
            }
            let line = program.lines.line(at(block.span).start);
            let inside =
                |own: Span| own.start <= at(block.span).start && at(block.span).end <= own.end;
            let own = section.blocks.iter().find(|own| inside(own.span));
            let other = match own {
                Some(_) => foreign_word(section, &block, start),
                None => !block.words.is_empty() && !returns(section, line, &block),
            };
            if other || block.statement.is_some() || !block.names.is_empty() {
                let text = String::from_utf8_lossy(at(block.span).of(bytes));
                let text: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
                return Err(format!(
                    "line {line} does more than cut this thread: {text}"
                ));
            }
            if block.skip.is_some() || !block.faults.is_empty() {
                return Err(format!("line {line} is damaged or may be skipped"));
            }
            place.numbers.0 = place.numbers.0.or(number);
            for comment in &block.comments {
                let text = at(*comment).of(bytes);
                let text = std::str::from_utf8(text)
                    .ok()
                    .filter(|text| text.is_ascii());
                let text = text.ok_or(format!(
                    "the comment in line {line} holds characters that cannot be moved"
                ))?;
                place.comments.push(text.to_owned());
            }
        }
        Ok(place)
    }

    /// Whether a block follows that relies on the motion in force.
    pub(super) fn relied_upon(&self) -> bool {
        self.coordinates_follow
    }

    /// The style with N numbers for so many lines: closer together, or none, where those of the
    /// blocks behind would come twice.
    pub(super) fn numbered(&self, style: &mut Style, lines: usize) {
        let (Some(numbers), Some(start)) = (style.numbers, self.numbers.0) else {
            return;
        };
        let gaps = u32::try_from(lines).unwrap_or(u32::MAX).saturating_sub(1);
        let step = match self.numbers.1.and_then(|next| next.checked_sub(start)) {
            Some(0) => 0,
            Some(room) => numbers.step.min((room - 1) / gaps.max(1)),
            None => numbers.step,
        };
        style.numbers = (step > 0).then_some(Numbering {
            start,
            step,
            ..numbers
        });
    }

    /// The edit that puts written blocks here. Where strokes stood, the way back behind the last one
    /// still stands, and is not written again.
    pub(super) fn edit(&self, written: &str, syntax: Syntax, style: &Style) -> Edit {
        let mut lines: Vec<&str> = written.split_terminator(style.line_end).collect();
        match syntax {
            Syntax::Strokes if self.retract_follows => {
                while lines.len() > 1 && lines.last().is_some_and(|line| is_rapid(line)) {
                    lines.pop();
                }
            }
            Syntax::Box if self.motion_follows => {
                lines.pop();
            }
            _ => {}
        }
        let all: Vec<&str> = self
            .comments
            .iter()
            .map(String::as_str)
            .chain(lines)
            .collect();
        Edit {
            span: self.span,
            text: all.join(style.line_end),
        }
    }
}

fn last_end(section: &Section) -> u32 {
    let ends = section.blocks.iter().map(|block| block.span.end);
    ends.max().unwrap_or(section.span.end)
}

/// Whether a line of written blocks is a rapid move.
fn is_rapid(line: &str) -> bool {
    let mut reader = Blocks::new(line.as_bytes());
    let mut block = Block::default();
    reader.read(&mut block) && block.has_g(0)
}

/// Passes that one block makes again and again cannot be written one by one in its place.
fn repeated(section: &Section) -> Result<(), String> {
    if !matches!(section.syntax, Syntax::Strokes | Syntax::Box) {
        return Ok(());
    }
    let mut lines: Vec<u32> = section.passes.iter().map(|pass| pass.line).collect();
    let count = lines.len();
    lines.dedup();
    if lines.len() == count && lines.is_sorted() {
        return Ok(());
    }
    Err("its passes are made by a loop or a subprogram".into())
}

/// The line of the move to the depth of the first stroke, where it goes along X alone.
fn approach(section: &Section) -> Option<u32> {
    if section.syntax != Syntax::Strokes {
        return None;
    }
    let before = section.moves.iter().take_while(|mv| mv.after_pass == 0);
    let last = before.last()?;
    let along_x = last.rapid && last.from.1.is_some() && last.from.1 == last.to.1;
    let start = section.passes.first()?.z_start;
    (along_x && last.to.1 == start && last.line + 1 == section.first_line).then_some(last.line)
}

/// Whether a line is a rapid between the strokes and nothing else.
fn returns(section: &Section, line: u32, block: &Block) -> bool {
    let mut moves = section.moves.iter();
    let words = || block.words.iter();
    moves.any(|mv| mv.line == line && mv.rapid)
        && words().all(|word| b"GXZUW".contains(&word.letter))
        && words().all(|word| word.letter != b'G' || word.code() == Some(0))
}

/// Whether a block of the section holds a word that does not belong to the thread. Places in the
/// block count from `start`.
fn foreign_word(section: &Section, block: &Block, start: u32) -> bool {
    let known = |span: Span| {
        let span = Span::new(span.start + start, span.end + start);
        section.words.iter().any(|word| word.span == span)
    };
    let codes = block
        .words
        .iter()
        .filter(|word| word.letter == b'G')
        .count();
    let lift = |letter: u8| letter == b'Q' || letter == b'F';
    codes > 1
        || block
            .words
            .iter()
            .any(|word| word.letter != b'G' && !known(word.span) && !lift(word.letter))
}
