//! The same program in the other spellings that shops and controls use. Comments, quoted text and
//! the words of calls stay as they are.

/// A way to spell.
pub(crate) type Spelling = (&'static str, fn(&str) -> String);

/// Every spelling.
pub(crate) const SPELLINGS: [Spelling; 5] = [
    ("block numbers", |text| numbered(text)),
    ("lower case", |text| by_code(text, str::to_lowercase)),
    ("no spaces", |text| {
        by_code(text, |code| code.replace(' ', ""))
    }),
    ("trailing zeros", |text| by_code(text, zeros)),
    ("comments and blank lines", commented),
];

/// The text with `respell` applied to what is not a comment, on lines that are plain words.
fn by_code(text: &str, respell: impl Fn(&str) -> String) -> String {
    let line = |line: &str| {
        if !plain(line) {
            return line.to_owned();
        }
        let mut out = String::new();
        let mut rest = line;
        while let Some(open) = rest.find(['(', ';']) {
            out += &respell(&rest[..open]);
            let close = match rest[open..].starts_with('(') {
                true => rest[open..]
                    .find(')')
                    .map_or(rest.len(), |at| open + at + 1),
                false => rest.len(),
            };
            out += &rest[open..close];
            rest = &rest[close..];
        }
        out + &respell(rest)
    };
    text.lines().map(|text| line(text) + "\n").collect()
}

/// Whether a line has single-letter words only: no call, keyword, variable or quoted text, in
/// which spelling means something else.
fn plain(line: &str) -> bool {
    let code = line.split(['(', ';']).next().unwrap_or_default();
    let letters: Vec<bool> = code
        .bytes()
        .map(|byte| byte.is_ascii_alphabetic())
        .collect();
    code.is_ascii()
        && !letters.windows(2).any(|pair| pair == [true, true])
        && !code.contains(['#', '"', '=', '[', '%', ':', ',', '<'])
}

fn numbered(text: &str) -> String {
    let mut number = 1000;
    let line = |line: &str| {
        let first = line.trim_start().chars().next().unwrap_or('%');
        if !plain(line) || "%OoNn/(;".contains(first) {
            return format!("{line}\n");
        }
        number += 5;
        format!("N{number} {line}\n")
    };
    text.lines().map(line).collect()
}

/// A zero behind every number that has a point, but for the numbers of codes.
fn zeros(code: &str) -> String {
    let mut out = String::new();
    let (mut letter, mut point) = (' ', false);
    for c in code.chars().chain(['\n']) {
        if !c.is_ascii_digit() && c != '.' {
            if point && !"GM".contains(letter.to_ascii_uppercase()) {
                out.push('0');
            }
            (letter, point) = (if c.is_ascii_alphabetic() { c } else { letter }, false);
        }
        point |= c == '.';
        out.push(c);
    }
    out.pop();
    out
}

/// A comment behind every block that has none, and blank lines.
fn commented(text: &str) -> String {
    let line = |line: &str| match plain(line) && !line.contains(['(', ';']) && !line.is_empty() {
        true => format!("{line} (OK)\n\n"),
        false => format!("{line}\n"),
    };
    text.lines().map(line).collect()
}
