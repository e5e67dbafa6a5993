//! Walks the tokens of a text and fills one [`Block`] a line.

use logos::Logos;

use super::{Block, Fault, FaultKind, Name, Value, Word};
use crate::expression::{Style, extent};
use crate::number::Number;
use crate::source::Span;
use crate::token::Token;

/// Names that set a state and have words behind them, in the call style.
const STATES: [&[u8]; 17] = [
    b"DIAMON", b"DIAMOF", b"DIAM90", b"MCALL", b"SUPA", b"KONT", b"KONTC", b"NORM", b"CFC",
    b"CFIN", b"CFTCP", b"BRISK", b"SOFT", b"STOPRE", b"FFWON", b"FFWOF", b"SETMS",
];

/// Walks the lines of a text and fills one [`Block`] at a time.
pub struct Blocks<'a> {
    bytes: &'a [u8],
    lexer: logos::Lexer<'a, Token>,
    peeked: Option<(Option<Token>, Span)>,
    line: u32,
    ended: bool,
    /// Whether plain words are read without tokens; only a test says no.
    fast: bool,
}

impl<'a> Blocks<'a> {
    /// Starts at the first line. Texts of 4 GiB and more are cut there.
    #[must_use]
    pub fn new(bytes: &'a [u8]) -> Self {
        let bytes = &bytes[..bytes.len().min(u32::MAX as usize)];
        Blocks {
            bytes,
            lexer: Token::lexer(bytes),
            peeked: None,
            line: 0,
            ended: false,
            fast: true,
        }
    }

    /// Starts at the line that begins at an offset.
    pub(crate) fn at(bytes: &'a [u8], offset: u32, line: u32) -> Self {
        let mut blocks = Blocks::new(bytes);
        blocks.lexer.bump((offset as usize).min(blocks.bytes.len()));
        blocks.line = line.saturating_sub(1);
        blocks
    }

    /// The same without the short way over plain words.
    #[cfg(test)]
    pub(super) fn by_tokens(bytes: &'a [u8]) -> Self {
        Blocks {
            fast: false,
            ..Blocks::new(bytes)
        }
    }

    fn peek(&mut self) -> Option<(Option<Token>, Span)> {
        if self.peeked.is_none() {
            let token = self.lexer.next()?;
            let range = self.lexer.span();
            let span = Span::new(range.start as u32, range.end as u32);
            self.peeked = Some((token.ok(), span));
        }
        self.peeked
    }

    fn take(&mut self) {
        self.peeked = None;
    }

    fn skip_blanks(&mut self) {
        while let Some((Some(Token::Blank), _)) = self.peek() {
            self.take();
        }
    }

    fn take_if(&mut self, wanted: Token) -> Option<Span> {
        match self.peek() {
            Some((Some(token), span)) if token == wanted => {
                self.take();
                Some(span)
            }
            _ => None,
        }
    }

    /// Start of the next token.
    fn here(&self) -> usize {
        match self.peeked {
            Some((_, span)) => span.start as usize,
            None => self.lexer.span().end,
        }
    }

    /// Reads the next line into `block`; `false` at the end of the text.
    pub fn read(&mut self, block: &mut Block) -> bool {
        if self.ended {
            return false;
        }
        block.clear();
        self.line += 1;
        block.line = self.line;
        let start = self.here();
        let end = loop {
            if self.peeked.is_none() && self.fast {
                self.plain_words(block);
            }
            let here = self.here();
            match self.peek() {
                None => {
                    self.ended = true;
                    break here;
                }
                Some((Some(Token::LineEnd), _)) => {
                    self.take();
                    break here;
                }
                Some((token, span)) => {
                    self.take();
                    self.element(block, token, span);
                }
            }
        };
        block.span = Span::new(start as u32, end as u32);
        true
    }

    /// Reads words of a letter and a literal as far as nothing else comes. Most of a program is
    /// nothing else; the way over tokens reads them in the same way, only slower.
    fn plain_words(&mut self, block: &mut Block) {
        let start = self.lexer.span().end;
        let mut at = start;
        loop {
            while let Some(b' ' | b'\t') = self.bytes.get(at) {
                at += 1;
            }
            let Some((word, end)) = plain_word(self.bytes, at) else {
                break;
            };
            at = end;
            if word.letter == b'N' && block.words.is_empty() {
                block.number = Some(word);
            } else {
                block.push(word);
            }
        }
        self.lexer.bump(at - start);
    }

    fn element(&mut self, block: &mut Block, token: Option<Token>, span: Span) {
        match token {
            Some(Token::Blank | Token::Comma | Token::LineEnd | Token::Text) => {}
            Some(Token::Comment) => {
                block.comments.push(span);
                if span.of(self.bytes).last() != Some(&b')') {
                    block.faults.push(Fault {
                        kind: FaultKind::UnclosedComment,
                        span,
                    });
                }
            }
            Some(Token::LineComment) => block.comments.push(span),
            Some(Token::Slash) => {
                if block.words.is_empty() {
                    block.skip = Some(self.skip_digit());
                }
            }
            Some(Token::Percent) => {
                block.percent = true;
                // `%_N_SHAFT_MPF` is a name; `%O1200(SHAFT)` is a program word.
                if let Some((Some(Token::Name | Token::Sign), _)) = self.peek() {
                    self.rest_as_statement(block, span);
                }
            }
            Some(Token::Letter) => {
                let letter = span.of(self.bytes)[0].to_ascii_uppercase();
                self.word(block, letter, span);
            }
            Some(Token::Colon) => {
                if block.words.is_empty() && matches!(self.peek(), Some((Some(Token::Number), _))) {
                    self.word(block, b'O', span);
                }
            }
            Some(Token::Name) => self.name(block, span),
            Some(Token::Variable) => self.rest_as_statement(block, span),
            Some(Token::Open) => {
                let whole = self.bracketed(span);
                push_junk(block, whole);
            }
            Some(
                Token::Number
                | Token::CommaNumber
                | Token::Dash
                | Token::Close
                | Token::Equals
                | Token::StrayClose
                | Token::Sign,
            )
            | None => push_junk(block, span),
        }
    }

    fn skip_digit(&mut self) -> u8 {
        if let Some((Some(Token::Number), span)) = self.peek()
            && let [digit @ b'1'..=b'9'] = span.of(self.bytes)
        {
            self.take();
            return digit - b'0';
        }
        1
    }

    fn word(&mut self, block: &mut Block, letter: u8, at: Span) {
        if let Some(digits) = self.index(letter) {
            self.take();
            self.skip_blanks();
            if let Some(equals) = self.take_if(Token::Equals) {
                self.assign(block, at.to(digits), equals);
            }
            return;
        }
        let (value, value_span) = self.value(block);
        if let (b'R', Some(index)) = (letter, value_span)
            && let Some((Some(Token::Equals), equals)) = self.peek()
        {
            // `R1=5`, `R[2]=R1*2`.
            let to = self.worked_out(equals).or_else(|| {
                self.take();
                self.value(block).1
            });
            block
                .assignments
                .push(at.to(index).to(to.unwrap_or(equals)));
            return;
        }
        let span = value_span.map_or(at, |value| at.to(value));
        let word = Word {
            letter,
            value,
            span,
            value_span: value_span.unwrap_or(Span::new(at.end, at.end)),
        };
        match letter {
            b'N' if block.words.is_empty() && word.number().is_some() => {
                block.number = Some(word);
                if self.take_if(Token::Slash).is_some() {
                    block.skip = Some(self.skip_digit());
                }
            }
            b'O' if block.words.is_empty() => {
                block.program = Some(word);
                if value == Value::Missing {
                    // `o<name> call` names a subprogram and begins no program.
                    let behind = self.bytes.get(at.end as usize..).unwrap_or_default();
                    if behind.first() == Some(&b'<') {
                        block.program = None;
                    }
                    self.rest_as_statement(block, at);
                    return;
                }
                // A flow word of the open interpreter: `o100 while [..]`.
                self.skip_blanks();
                if let Some((Some(Token::Name), name)) = self.peek() {
                    block.program = None;
                    self.rest_as_statement(block, at.to(name));
                }
            }
            _ => {
                if value == Value::Missing {
                    block.faults.push(Fault {
                        kind: FaultKind::MissingValue,
                        span,
                    });
                }
                block.push(word);
            }
        }
    }

    fn value(&mut self, block: &mut Block) -> (Value, Option<Span>) {
        self.skip_blanks();
        if let Some(equals) = self.take_if(Token::Equals) {
            if let Some(whole) = self.worked_out(equals) {
                return (Value::Expression, Some(whole));
            }
            self.skip_blanks();
        }
        let Some((token, span)) = self.peek() else {
            return (Value::Missing, None);
        };
        match token {
            Some(Token::Number) => {
                self.take();
                self.literal(span)
            }
            Some(Token::CommaNumber) => {
                self.take();
                block.faults.push(Fault {
                    kind: FaultKind::DecimalComma,
                    span,
                });
                self.literal(span)
            }
            Some(Token::Dash) => {
                self.take();
                self.skip_blanks();
                match self.peek() {
                    Some((Some(Token::Number | Token::CommaNumber), digits)) => {
                        self.take();
                        block.faults.push(Fault {
                            kind: FaultKind::TypographicMinus,
                            span,
                        });
                        let (value, whole) = self.literal(digits);
                        let value = match value {
                            Value::Number(number) => Value::Number(Number {
                                digits: -number.digits,
                                signed: true,
                                ..number
                            }),
                            other => other,
                        };
                        (value, whole.map(|whole| span.to(whole)))
                    }
                    _ => {
                        push_junk(block, span);
                        (Value::Missing, None)
                    }
                }
            }
            Some(Token::Variable) => {
                self.take();
                let mut whole = span;
                if let Some(open) = self.take_if(Token::Open) {
                    whole = span.to(self.bracketed(open));
                }
                (Value::Expression, Some(whole))
            }
            Some(Token::Open) => {
                self.take();
                (Value::Expression, Some(self.bracketed(span)))
            }
            Some(Token::Text) => {
                self.take();
                (Value::Expression, Some(span))
            }
            Some(Token::Sign) => {
                self.take();
                match self.value(block) {
                    (Value::Expression, Some(rest)) => (Value::Expression, Some(span.to(rest))),
                    (Value::Missing, _) => (Value::Missing, None),
                    (value, rest) => (value, rest.map(|rest| span.to(rest))),
                }
            }
            _ => (Value::Missing, None),
        }
    }

    /// What follows an equals sign, where it is more than a literal: `R1+2`, `DEPTH/2`, `(3+4)*2`.
    fn worked_out(&mut self, equals: Span) -> Option<Span> {
        /// Longer than any expression that is written.
        const LONGEST: usize = 1024;
        let rest = &self.bytes[equals.end as usize..];
        let rest = &rest[..rest.len().min(LONGEST)];
        let line = memchr::memchr3(b'\n', b'\r', b';', rest).unwrap_or(rest.len());
        let rest = &rest[..line];
        let blanks = rest
            .iter()
            .take_while(|byte| matches!(byte, b' ' | b'\t'))
            .count();
        let rest = &rest[blanks..];
        let length = extent(rest, Style::Parentheses);
        let literal = rest[..length]
            .iter()
            .enumerate()
            .all(|(at, byte)| match byte {
                b'-' | b'+' => at == 0,
                _ => byte.is_ascii_digit() || matches!(byte, b'.' | b' ' | b'\t'),
            });
        // A comma for a point, a name as in `SPCON=ON`: not for this reader.
        if literal || rest.get(length) == Some(&b',') {
            return None;
        }
        let start = equals.end + blanks as u32;
        let whole = Span::new(start, start + length as u32);
        self.go_on_at(whole.end);
        Some(whole)
    }

    /// Goes on with the token at an offset.
    fn go_on_at(&mut self, offset: u32) {
        self.peeked = None;
        self.lexer = Token::lexer(self.bytes);
        self.lexer.bump(offset as usize);
    }

    /// A literal, joined with digits that follow after blanks (the open interpreter reads so).
    fn literal(&mut self, first: Span) -> (Value, Option<Span>) {
        let mut whole = first;
        while let Some((Some(Token::Blank), blank)) = self.peek() {
            let behind = &self.bytes[blank.end as usize..];
            let point_seen = whole.of(self.bytes).contains(&b'.');
            let continues = match behind.first() {
                Some(b'0'..=b'9') => true,
                Some(b'.') => !point_seen,
                _ => false,
            };
            if !continues {
                break;
            }
            self.take();
            match self.peek() {
                Some((Some(Token::Number), digits)) => {
                    self.take();
                    whole = whole.to(digits);
                }
                _ => break,
            }
        }
        match Number::parse(whole.of(self.bytes)) {
            Some(number) => (Value::Number(number), Some(whole)),
            None => (Value::Missing, None),
        }
    }

    /// The span from an open bracket to its partner, or to the line end.
    fn bracketed(&mut self, open: Span) -> Span {
        let mut depth = 1;
        let mut whole = open;
        while let Some((token, span)) = self.peek() {
            match token {
                Some(Token::LineEnd) => break,
                Some(Token::Open) => depth += 1,
                Some(Token::Close) => depth -= 1,
                _ => {}
            }
            self.take();
            whole = whole.to(span);
            if depth == 0 {
                break;
            }
        }
        whole
    }

    fn name(&mut self, block: &mut Block, span: Span) {
        if self.letter_o(block, span) {
            return;
        }
        if let Some((Some(Token::Comment), arguments)) = self.peek() {
            self.take();
            block.names.push(Name {
                span,
                assigned: None,
                value_span: None,
                arguments: Some(arguments),
            });
            return;
        }
        self.skip_blanks();
        if let Some(equals) = self.take_if(Token::Equals) {
            let name = self.assign(block, span, equals);
            if let Some(value) = name {
                block.assignments.push(span.to(value));
            }
            return;
        }
        block.names.push(Name {
            span,
            assigned: None,
            value_span: None,
            arguments: None,
        });
        let text = span.of(self.bytes);
        if !STATES.iter().any(|state| text.eq_ignore_ascii_case(state)) {
            self.rest_as_statement(block, span);
        }
    }

    /// Reads the value behind a name and its `=`.
    fn assign(&mut self, block: &mut Block, name: Span, equals: Span) -> Option<Span> {
        let (value, value_span) = match self.worked_out(equals) {
            Some(whole) => (Value::Expression, Some(whole)),
            None => self.value(block),
        };
        let assigned = match value {
            Value::Number(number) => Some(number),
            _ => None,
        };
        block.names.push(Name {
            span: name,
            assigned,
            value_span,
            arguments: None,
        });
        value_span
    }

    /// The index of an address with an index, as in `S1=800`: digits with `=` behind them.
    fn index(&mut self, letter: u8) -> Option<Span> {
        let Some((Some(Token::Number), digits)) = self.peek() else {
            return None;
        };
        let plain = digits.of(self.bytes).iter().all(u8::is_ascii_digit);
        let mut behind = self.bytes[digits.end as usize..]
            .iter()
            .skip_while(|byte| matches!(byte, b' ' | b'\t'));
        let assigns = behind.next() == Some(&b'=') && behind.next() != Some(&b'=');
        (plain && assigns && !matches!(letter, b'R' | b'N' | b'O')).then_some(digits)
    }

    /// `GO`, `XO.5`, `MO8`: the letter O typed for a zero behind an address of motion.
    fn letter_o(&mut self, block: &mut Block, span: Span) -> bool {
        let text = span.of(self.bytes);
        let [address, b'O' | b'o', digits @ ..] = text else {
            return false;
        };
        let letter = address.to_ascii_uppercase();
        if !b"GMXZ".contains(&letter) || !digits.iter().all(u8::is_ascii_digit) {
            return false;
        }
        let mut spelled = vec![b'0'];
        spelled.extend_from_slice(digits);
        let mut whole = span;
        if let Some((Some(Token::Number), rest)) = self.peek()
            && rest.of(self.bytes).first() == Some(&b'.')
        {
            spelled.extend_from_slice(rest.of(self.bytes));
            whole = span.to(rest);
            self.take();
        }
        let Some(number) = Number::parse(&spelled) else {
            return false;
        };
        block.faults.push(Fault {
            kind: FaultKind::LetterO,
            span: whole,
        });
        block.push(Word {
            letter,
            value: Value::Number(number),
            span: whole,
            value_span: Span::new(whole.start + 1, whole.end),
        });
        true
    }

    fn rest_as_statement(&mut self, block: &mut Block, from: Span) {
        let mut whole = from;
        while let Some((token, span)) = self.peek() {
            match token {
                Some(Token::LineEnd) => break,
                Some(Token::Comment | Token::LineComment) => block.comments.push(span),
                _ => whole = whole.to(span),
            }
            self.take();
        }
        block.statement = Some(whole);
    }
}

/// The word that begins here and its end, when it is a letter and a literal without blanks and
/// nothing behind it could belong to it.
fn plain_word(bytes: &[u8], at: usize) -> Option<(Word, usize)> {
    let letter = bytes.get(at)?.to_ascii_uppercase();
    if !letter.is_ascii_uppercase() || letter == b'O' {
        return None;
    }
    let (number, end) = Number::plain(bytes, at + 1)?;
    let mut behind = end;
    while let Some(b' ' | b'\t') = bytes.get(behind) {
        behind += 1;
    }
    let apart = matches!(
        bytes.get(behind),
        None | Some(b'\r' | b'\n' | b'(' | b';' | b'A'..=b'Z' | b'a'..=b'z')
    );
    let span = |from: usize| Span::new(from as u32, end as u32);
    apart.then(|| {
        let word = Word {
            letter,
            value: Value::Number(number),
            span: span(at),
            value_span: span(at + 1),
        };
        (word, end)
    })
}

fn push_junk(block: &mut Block, span: Span) {
    if let Some(last) = block.faults.last_mut()
        && last.kind == FaultKind::Junk
        && last.span.end == span.start
    {
        last.span.end = span.end;
        return;
    }
    block.faults.push(Fault {
        kind: FaultKind::Junk,
        span,
    });
}

/// All blocks of a text, for tests and small inputs.
#[must_use]
pub fn blocks(bytes: &[u8]) -> Vec<Block> {
    let mut reader = Blocks::new(bytes);
    let mut block = Block::default();
    let mut all = Vec::new();
    while reader.read(&mut block) {
        all.push(block.clone());
    }
    all
}
