//! What a line does to the order of blocks: jumps, conditions, loops, calls, returns.

use crate::block::Block;
use crate::expression::{Style, name};
use crate::source::Span;

/// The head of a structure, or what belongs to it. Labels pair them: the number of an o-word or of
/// DO, empty for structures that nest by themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// `WHILE [..] DO1`, `o1 while [..]`, `WHILE (..)`; behind `o1 do` it ends that loop.
    While,
    /// `DO1` alone, `LOOP`: no condition.
    Endless,
    /// `o1 do`, and `REPEAT` of the way with parentheses: the condition stands at the end.
    Do,
    /// `o1 repeat [n]`.
    Times,
    /// `FOR R1=1 TO 5`.
    For,
    /// `END1`, `o1 endwhile`, `ENDWHILE`, `ENDLOOP`, `o1 endrepeat`, `ENDFOR`.
    End,
    /// `UNTIL ..`: on while it is false.
    Until,
    If,
    ElseIf,
    Else,
    EndIf,
    /// `o1 sub`.
    Sub,
    /// `o1 endsub [..]`.
    EndSub,
}

/// A direction in which the target of a jump is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Towards {
    /// Forward, then from the start of the program.
    Anywhere,
    Forward,
    Backward,
}

/// A statement. `rest` is where the text goes on behind its keyword.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Statement {
    /// Nothing that this reader runs.
    None,
    /// `#1=..`.
    Assign,
    /// `DEF REAL A=1, B`.
    Define,
    Structure(Part, Vec<u8>),
    /// `IF [..] GOTO 10`, `IF [..] THEN #1=2`, `IF R1>5 GOTOF LABEL`.
    Condition,
    Jump(Towards),
    Break(Vec<u8>),
    Continue(Vec<u8>),
    /// `o1 call [..] [..]`, with the label that is called, or none where it is worked out.
    Call(Option<Vec<u8>>),
    /// `o1 return [..]`, `RET`.
    Return,
}

/// A line as a statement.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) statement: Statement,
    /// The text without comments and without what was read of it.
    pub(super) rest: Vec<u8>,
    /// Where the statement stands.
    pub(super) span: Span,
}

/// Keywords that begin a statement; used to see whether a file has any.
const KEYWORDS: [&[u8]; 27] = [
    b"IF",
    b"ELSE",
    b"ELSEIF",
    b"ENDIF",
    b"WHILE",
    b"ENDWHILE",
    b"FOR",
    b"ENDFOR",
    b"LOOP",
    b"ENDLOOP",
    b"REPEAT",
    b"UNTIL",
    b"GOTO",
    b"GOTOF",
    b"GOTOB",
    b"GOTOC",
    b"DEF",
    b"RET",
    b"DO",
    b"END",
    b"SUB",
    b"ENDSUB",
    b"CALL",
    b"BREAK",
    b"CONTINUE",
    b"RETURN",
    b"ENDREPEAT",
];

/// Whether a block needs a program that is run: a variable, a jump, a loop, a call.
pub(crate) fn needs_running(block: &Block, bytes: &[u8]) -> bool {
    if block.computes() || !block.assignments.is_empty() && block.names.is_empty() {
        return true;
    }
    // A call names its program by P.
    if block.has(b'P') {
        let calls = block.m_codes().any(|(code, _)| matches!(code, 970 | 980))
            || block.g_codes().any(|(code, _)| matches!(code, 650 | 660));
        if calls {
            return true;
        }
    }
    let Some(span) = block.statement else {
        return block
            .names
            .iter()
            .any(|name| is_keyword(name.span.of(bytes)));
    };
    let text = span.of(bytes);
    match text.first() {
        Some(b'#') => true,
        Some(b'O' | b'o') => true,
        _ => is_keyword(text),
    }
}

fn is_keyword(text: &[u8]) -> bool {
    let length = text
        .iter()
        .take_while(|byte| byte.is_ascii_alphabetic())
        .count();
    let word = text[..length].to_ascii_uppercase();
    KEYWORDS.contains(&word.as_slice())
}

/// The text of a block's statement: comments are blanks.
fn text(block: &Block, bytes: &[u8], style: Style) -> Option<(Vec<u8>, Span)> {
    let start = [
        block.statement.map(|span| span.start),
        block.names.first().map(|name| name.span.start),
    ]
    .into_iter()
    .flatten()
    .min()?;
    let span = Span::new(start, block.span.end.max(start));
    let mut text = span.of(bytes).to_vec();
    if let Some(end) = memchr::memchr(b';', &text) {
        text.truncate(end);
    }
    if style != Style::Parentheses {
        let mut depth = 0usize;
        for byte in &mut text {
            match *byte {
                b'(' => depth += 1,
                b')' if depth > 0 => {
                    depth -= 1;
                    *byte = b' ';
                }
                _ => {}
            }
            if depth > 0 {
                *byte = b' ';
            }
        }
    }
    while text.last().is_some_and(u8::is_ascii_whitespace) {
        text.pop();
    }
    let length = text.len() as u32;
    Some((text, Span::new(start, start + length)))
}

/// Reads the statement of a block.
pub(super) fn read(block: &Block, bytes: &[u8], style: Style) -> Line {
    let Some((text, span)) = text(block, bytes, style) else {
        return Line {
            statement: Statement::None,
            rest: Vec::new(),
            span: block.span,
        };
    };
    let (statement, at) = statement(&text, style);
    Line {
        statement,
        rest: text[at..].to_vec(),
        span,
    }
}

/// The statement that a text begins with, and where it goes on behind the keyword.
pub(super) fn statement(text: &[u8], style: Style) -> (Statement, usize) {
    let text_start = blanks(text, 0);
    let (statement, at) = unindented(&text[text_start..], style);
    (statement, text_start + at)
}

fn unindented(text: &[u8], style: Style) -> (Statement, usize) {
    match text.first() {
        None => return (Statement::None, 0),
        Some(b'#') => return (Statement::Assign, 0),
        Some(b'O' | b'o') => {
            if let Some(found) = o_word(text) {
                return found;
            }
        }
        _ => {}
    }
    let (word, end) = letters(text, 0);
    let structure = |part| (Statement::Structure(part, Vec::new()), end);
    match word.as_slice() {
        b"IF" => {
            if jumps_or_assigns(&text[end..]) {
                (Statement::Condition, end)
            } else {
                structure(Part::If)
            }
        }
        b"ELSE" => structure(Part::Else),
        b"ELSEIF" => structure(Part::ElseIf),
        b"ENDIF" => structure(Part::EndIf),
        b"WHILE" => {
            // `WHILE [..] DO1`: the number pairs it with END1.
            let label = match style {
                Style::Parentheses => Vec::new(),
                _ => do_label(&text[end..]).unwrap_or_default(),
            };
            (Statement::Structure(Part::While, label), end)
        }
        b"DO" => {
            let (digits, at) = digits(text, end);
            (Statement::Structure(Part::Endless, digits), at)
        }
        b"END" => {
            let (digits, at) = digits(text, end);
            if digits.is_empty() {
                return (Statement::None, 0);
            }
            (Statement::Structure(Part::End, digits), at)
        }
        b"ENDWHILE" | b"ENDFOR" | b"ENDLOOP" => structure(Part::End),
        b"LOOP" if end == text.len() => structure(Part::Endless),
        b"FOR" if style == Style::Parentheses => structure(Part::For),
        b"REPEAT" if end == text.len() => structure(Part::Do),
        b"UNTIL" => structure(Part::Until),
        b"GOTO" => (Statement::Jump(Towards::Anywhere), end),
        b"GOTOC" => (Statement::Jump(Towards::Anywhere), end),
        b"GOTOF" => (Statement::Jump(Towards::Forward), end),
        b"GOTOB" => (Statement::Jump(Towards::Backward), end),
        b"DEF" => (Statement::Define, end),
        b"RET" if end == text.len() => (Statement::Return, end),
        _ => (Statement::None, 0),
    }
}

/// Whether what follows IF holds a jump or THEN: else it opens a structure.
fn jumps_or_assigns(rest: &[u8]) -> bool {
    let mut at = 0;
    while at < rest.len() {
        if rest[at].is_ascii_alphabetic() {
            let (word, end) = letters(rest, at);
            if word.starts_with(b"GOTO") || word == b"THEN" {
                return true;
            }
            at = end;
        } else {
            at += 1;
        }
    }
    false
}

/// The label of `DO1` behind a condition.
fn do_label(rest: &[u8]) -> Option<Vec<u8>> {
    let close = rest.iter().rposition(|&byte| byte == b']')?;
    let behind = &rest[close + 1..];
    let start = behind.iter().position(u8::is_ascii_alphabetic)?;
    let (word, end) = letters(behind, start);
    (word == b"DO").then(|| digits(behind, end).0)
}

/// `o100 while [..]`, `o<name> call [..]`, `o[#1+2] call`.
fn o_word(text: &[u8]) -> Option<(Statement, usize)> {
    let mut at = blanks(text, 1);
    let label = match text.get(at)? {
        b'0'..=b'9' => {
            let (digits, end) = digits(text, at);
            at = end;
            Some(trim_zeros(digits))
        }
        b'<' => {
            let length = text[at..].iter().position(|&byte| byte == b'>')?;
            let label = [b"<", name(&text[at + 1..at + length]).as_slice()].concat();
            at += length + 1;
            Some(label)
        }
        b'#' | b'[' => {
            let length = crate::expression::extent(&text[at..], Style::Interpreter);
            if length == 0 {
                return None;
            }
            at += length;
            None
        }
        _ => return None,
    };
    at = blanks(text, at);
    let (word, end) = letters(text, at);
    let named = label.clone().unwrap_or_default();
    let part = |part| Statement::Structure(part, named.clone());
    let statement = match word.as_slice() {
        b"WHILE" => part(Part::While),
        b"ENDWHILE" | b"ENDREPEAT" => part(Part::End),
        b"DO" => part(Part::Do),
        b"REPEAT" => part(Part::Times),
        b"IF" => part(Part::If),
        b"ELSEIF" => part(Part::ElseIf),
        b"ELSE" => part(Part::Else),
        b"ENDIF" => part(Part::EndIf),
        b"SUB" => part(Part::Sub),
        b"ENDSUB" => part(Part::EndSub),
        b"BREAK" => Statement::Break(named),
        b"CONTINUE" => Statement::Continue(named),
        b"RETURN" => Statement::Return,
        b"CALL" => Statement::Call(label),
        _ => return None,
    };
    Some((statement, end))
}

fn blanks(text: &[u8], at: usize) -> usize {
    let rest = text.get(at..).unwrap_or_default();
    at + rest
        .iter()
        .take_while(|byte| matches!(byte, b' ' | b'\t'))
        .count()
}

fn letters(text: &[u8], at: usize) -> (Vec<u8>, usize) {
    let at = blanks(text, at);
    let rest = text.get(at..).unwrap_or_default();
    let length = rest
        .iter()
        .take_while(|byte| byte.is_ascii_alphabetic())
        .count();
    (rest[..length].to_ascii_uppercase(), at + length)
}

fn digits(text: &[u8], at: usize) -> (Vec<u8>, usize) {
    let at = blanks(text, at);
    let rest = text.get(at..).unwrap_or_default();
    let length = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
    (rest[..length].to_vec(), at + length)
}

fn trim_zeros(digits: Vec<u8>) -> Vec<u8> {
    let zeros = digits.iter().take_while(|&&digit| digit == b'0').count();
    let zeros = zeros.min(digits.len().saturating_sub(1));
    digits[zeros..].to_vec()
}

/// The name that begins a line and is followed by a colon: the target of a jump.
pub(super) fn label(block: &Block, bytes: &[u8]) -> Option<Vec<u8>> {
    let first = block.names.first()?;
    let behind = bytes.get(first.span.end as usize..)?;
    let behind = &behind[blanks(behind, 0)..];
    (behind.first() == Some(&b':')).then(|| name(first.span.of(bytes)))
}
