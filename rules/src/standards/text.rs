//! Text made even for reading designations: one spelling of look-alike letters and signs, with
//! the place of every character kept.

/// One character after the look-alikes are replaced, and the bytes it came from.
#[derive(Debug, Clone, Copy)]
struct Glyph {
    char: char,
    start: usize,
    end: usize,
}

/// A text prepared for reading.
#[derive(Debug)]
pub(super) struct Text {
    glyphs: Vec<Glyph>,
}

/// The character a look-alike stands for: Cyrillic letters, multiplication signs, dashes, blanks.
/// A `*` is what a keyboard of capitals offers for `×`, so it counts as a capital `X`.
fn plain(c: char) -> char {
    match c {
        'М' => 'M',
        'м' => 'm',
        'Н' => 'H',
        'Р' => 'P',
        'р' => 'p',
        'С' => 'C',
        'с' => 'c',
        'А' => 'A',
        'а' => 'a',
        'В' => 'B',
        'Е' => 'E',
        'е' => 'e',
        'О' => 'O',
        'о' => 'o',
        'Т' => 'T',
        'К' => 'K',
        'Х' | '*' => 'X',
        'х' | '×' | '✕' | '⨯' => 'x',
        '‐' | '‑' | '‒' | '–' | '—' | '−' => '-',
        '″' | '“' | '”' => '"',
        c if c.is_whitespace() || c == '_' => ' ',
        c => c,
    }
}

/// The capitals of a character, look-alikes made even: a small `т` looks like no Latin letter, its
/// capital does.
pub(super) fn capitals(c: char) -> impl Iterator<Item = char> {
    c.to_uppercase().map(plain)
}

/// The two numbers of a fraction that is one character.
fn fraction(c: char) -> Option<&'static str> {
    Some(match c {
        '¼' => "1/4",
        '½' => "1/2",
        '¾' => "3/4",
        '⅛' => "1/8",
        '⅜' => "3/8",
        '⅝' => "5/8",
        '⅞' => "7/8",
        _ => return None,
    })
}

impl Text {
    pub(super) fn new(text: &str) -> Self {
        let mut glyphs: Vec<Glyph> = Vec::with_capacity(text.len());
        for (start, c) in text.char_indices() {
            let end = start + c.len_utf8();
            let mut push = |char| glyphs.push(Glyph { char, start, end });
            if let Some(fraction) = fraction(c) {
                push(' ');
                fraction.chars().for_each(push);
            } else {
                push(plain(c));
            }
        }
        for at in 1..glyphs.len().max(1) - 1 {
            let between_digits =
                glyphs[at - 1].char.is_ascii_digit() && glyphs[at + 1].char.is_ascii_digit();
            if glyphs[at].char == ',' && between_digits {
                glyphs[at].char = '.';
            }
        }
        Text { glyphs }
    }

    pub(super) fn len(&self) -> usize {
        self.glyphs.len()
    }

    /// The character at a place, a blank outside the text.
    pub(super) fn at(&self, place: usize) -> char {
        self.glyphs.get(place).map_or(' ', |g| g.char)
    }

    /// The bytes of the original text from one place to another, blanks at both ends left out.
    pub(super) fn span(&self, from: usize, to: usize) -> std::ops::Range<usize> {
        let inside = self.glyphs.get(from..to).unwrap_or(&[]);
        let mut seen = inside.iter().filter(|g| g.char != ' ');
        let Some(first) = seen.next() else {
            return 0..0;
        };
        first.start..seen.next_back().unwrap_or(first).end
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn look_alikes_and_commas() {
        let text = Text::new("М24×1,5—6Н, 2");
        let plain: String = (0..text.len()).map(|at| text.at(at)).collect();
        assert_eq!(plain, "M24x1.5-6H, 2");
        assert_eq!(&"М24×1,5—6Н, 2"[text.span(0, 10)], "М24×1,5—6Н");
    }

    #[test]
    fn one_character_fractions_keep_their_place() {
        let text = Text::new("1½-6");
        let plain: String = (0..text.len()).map(|at| text.at(at)).collect();
        assert_eq!(plain, "1 1/2-6");
        assert_eq!(text.span(0, text.len()), 0..5);
    }
}
