//! Tokens over bytes. Blanks, line ends and comments are tokens too, so that every byte of a
//! program belongs to exactly one token and any code page may stand in a comment.

use logos::{Lexer, Logos};

/// What a stretch of bytes is.
#[derive(Logos, Debug, Clone, Copy, PartialEq, Eq)]
#[logos(utf8 = false)]
pub enum Token {
    /// Spaces, tabs, no-break spaces, form feeds and the bytes that punched tape and old transfer
    /// programs leave behind: NUL, 0x1A, DEL.
    #[regex(br"[ \t\x0b\x0c\x00\x1a\x7f]+")]
    #[regex(br"\xc2\xa0", priority = 5)]
    Blank,
    /// LF, CRLF or CR.
    #[regex(br"\r\n|\n|\r")]
    LineEnd,
    /// One letter: the address of a word.
    #[regex(br"[A-Za-z]", priority = 3)]
    Letter,
    /// Two or more letters, possibly with digits: a keyword, a call or a name.
    #[regex(br"[A-Za-z_][A-Za-z_][A-Za-z0-9_]*", priority = 4)]
    Name,
    /// A number with a point or none.
    #[regex(br"[+\-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)", priority = 4)]
    Number,
    /// A number with a comma between its digits or in front of them.
    #[regex(br"[+\-]?[0-9]+,[0-9]+", priority = 5)]
    #[regex(br"[+\-]?,[0-9]+", priority = 5)]
    CommaNumber,
    /// A dash that is not the ASCII minus: U+2012..U+2015, U+2212, or their place in Windows code
    /// pages.
    #[regex(br"\xe2\x80[\x92-\x95]|\xe2\x88\x92", priority = 6)]
    #[regex(br"[\x96\x97]", priority = 3)]
    Dash,
    /// A comment in brackets, nested ones included; ends at the line end when it is not closed.
    #[token(b"(", comment)]
    Comment,
    /// A comment from `;` or `//` to the line end.
    #[regex(br"(;|//)[^\r\n]*", allow_greedy = true)]
    LineComment,
    /// A variable `#1`, `#[..` (up to the bracket), `#<name>`.
    #[regex(br"#+([0-9]+|<[^>\r\n]*>)?")]
    Variable,
    /// A quoted string.
    #[regex(br#""[^"\r\n]*"?"#)]
    Text,
    /// `/`
    #[token(b"/")]
    Slash,
    /// `%`
    #[token(b"%")]
    Percent,
    /// `:`
    #[token(b":")]
    Colon,
    /// `[`
    #[token(b"[")]
    Open,
    /// `]`
    #[token(b"]")]
    Close,
    /// `=`
    #[token(b"=")]
    Equals,
    /// `,`
    #[token(b",")]
    Comma,
    /// `)` that closes nothing.
    #[token(b")")]
    StrayClose,
    /// Signs, `*`, `$` and the like outside a number.
    #[regex(br"[+\-*$<>&|!?'@^~`{}\\._]", priority = 1)]
    Sign,
}

fn comment(lexer: &mut Lexer<'_, Token>) {
    let mut depth = 1usize;
    let rest = lexer.remainder();
    for (at, &byte) in rest.iter().enumerate() {
        match byte {
            b'(' => depth += 1,
            b')' => {
                depth -= 1;
                if depth == 0 {
                    lexer.bump(at + 1);
                    return;
                }
            }
            b'\r' | b'\n' => {
                lexer.bump(at);
                return;
            }
            _ => {}
        }
    }
    lexer.bump(rest.len());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &[u8]) -> Vec<(Result<Token, ()>, Vec<u8>)> {
        let mut lexer = Token::lexer(text);
        let mut all = Vec::new();
        while let Some(token) = lexer.next() {
            all.push((token, lexer.slice().to_vec()));
        }
        all
    }

    #[test]
    fn every_byte_belongs_to_one_token() {
        let text: Vec<u8> = (0..=255)
            .chain(*b"G76X.635Z0R0.P351Q80F.059055\r\n(a(b)c) X15,8 ,R2 Z\xe2\x80\x9330.0\r#1=#<n>")
            .collect();
        let joined: Vec<u8> = kinds(&text)
            .into_iter()
            .flat_map(|(_, bytes)| bytes)
            .collect();
        assert_eq!(joined, text);
    }

    #[test]
    fn an_unclosed_comment_ends_with_its_line() {
        let all = kinds(b"(open (in) X1\nG0");
        assert_eq!(all[0], (Ok(Token::Comment), b"(open (in) X1".to_vec()));
        assert_eq!(all[1].0, Ok(Token::LineEnd));
        assert_eq!(all[2].0, Ok(Token::Letter));
    }

    #[test]
    fn commas_between_digits_are_seen() {
        assert_eq!(kinds(b"F0,2")[1].0, Ok(Token::CommaNumber));
        assert_eq!(kinds(b"Z,15")[1].0, Ok(Token::CommaNumber));
        assert_eq!(kinds(b",R2")[0].0, Ok(Token::Comma));
    }
}
