//! Reading and judging again after an edit gives what a fresh reading and judgement give, whatever
//! the edit. Programs of the corpus are cut and joined and edited thousands of times, byte by byte
//! and with words that matter, in pages of a few lines.

use std::ops::Range;
use std::path::Path;

use lexer::moved::Moved;
use lexer::program::{Program, Settings};
use lexer::{Again, Alone, Reading};
use rules::facts::{Config, Facts};
use rules::judge::{Before, Judgement, judge, judge_unless};

/// What may be put into a text: words that change what comes behind, line ends of all kinds, halves
/// of characters and of line ends.
const WORDS: [&[u8]; 58] = [
    b"\n",
    b"\r\n",
    b"\r",
    b"\n\r",
    b" ",
    b"(",
    b")",
    b";",
    b"%",
    b"/",
    b"N10",
    b"1",
    b"0.5",
    b".",
    b"-",
    b"\xd0",
    b"\xa0",
    b"\xf0\x9f",
    "Ø".as_bytes(),
    "(РЕЗЬБА)".as_bytes(),
    b"\xff\xfe",
    b"\0",
    b"T0101\n",
    b"T0303 (THREAD M24X3-6G)\n",
    b"T5 M6\n",
    b"M6",
    b"T0101",
    b"G20\n",
    b"G21\n",
    b"G90\n",
    b"G91\n",
    b"G96 S180\n",
    b"G97 S500 M3\n",
    b"M5\n",
    b"M0\n",
    b"M30\n",
    b"O1234\n",
    b"G50 S2000\n",
    b"G54\n",
    b"G55\n",
    b"G0 X28. Z9.\n",
    b"G1 X20. Z-5. F.2\n",
    b"G2 X10. Y10. Z-1. I5. J0\n",
    b"G76 P020060 Q100 R0.05\n",
    b"G76 X20.319 Z-30. P1840 Q420 F3.\n",
    b"G92 X23. Z-20. F2.\nX22.5\n",
    b"G32 Z-30. F2.\n",
    b"G33 Z-20. K1.5\n",
    b"G84 X10. Y10. Z-20. R5. F450\n",
    b"G81 X10. Y10. Z-30. R2. F200\n",
    b"G80\n",
    b"M29 S300\n",
    b"F3.",
    b"S900",
    b"(THREAD M30X2)\n",
    b"(ALLOW RUN-IN-SHORT, OLD MACHINE)\n",
    b"G71 P10 Q20 U.4 W.1\n",
    b"G70 P10 Q20\n",
];
/// What makes a program one that is run.
const RUN: [&[u8]; 5] = [
    b"#1=5.\n",
    b"X#1",
    b"M98 P1234\n",
    b"WHILE[#1 LT 3]DO1\n",
    b"GOTO 10\n",
];

/// Numbers all over the range, the same in every run.
struct Chance(u64);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % end.max(1)
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

fn corpus() -> Vec<Vec<u8>> {
    let mut files = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../corpus")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("the corpus").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path
                .extension()
                .is_none_or(|end| end != "toml" && end != "md")
            {
                files.push(path);
            }
        }
    }
    files.sort();
    let texts: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(file).expect("a file"))
        .collect();
    assert!(texts.len() > 50, "{}", texts.len());
    texts
}

fn start(corpus: &[Vec<u8>], most: usize, chance: &mut Chance) -> Vec<u8> {
    let mut text = Vec::new();
    for _ in 0..=chance.below(5) {
        let one = &corpus[chance.below(corpus.len())];
        let (from, to) = (
            chance.below(one.len() / 4 + 1),
            one.len() - chance.below(one.len() / 4 + 1),
        );
        text.extend_from_slice(&one[from.min(to)..to]);
    }
    text.truncate(most);
    text
}

/// An edit: what is replaced, and by what. Often at the place of the one before.
fn edit(text: &[u8], last: usize, chance: &mut Chance) -> (Range<usize>, Vec<u8>) {
    let at = if chance.one_in(2) {
        last.min(text.len())
    } else {
        chance.below(text.len() + 1)
    };
    let length = match chance.below(10) {
        0..6 => 0,
        6..8 => chance.below(3),
        8 => chance.below(40),
        _ => chance.below(400),
    };
    let old = at..(at + length).min(text.len());
    let mut put = Vec::new();
    if length == 0 || chance.one_in(2) {
        for _ in 0..=chance.below(2) {
            if chance.one_in(60) {
                put.extend_from_slice(RUN[chance.below(RUN.len())]);
            } else {
                put.extend_from_slice(WORDS[chance.below(WORDS.len())]);
            }
        }
        // Lines of the text itself, somewhere else.
        if chance.one_in(12) {
            let from = chance.below(text.len() + 1);
            let to = (from + chance.below(300)).min(text.len());
            put.extend_from_slice(&text[from..to]);
        }
    }
    (old, put)
}

/// A shop that states enough for most checks to judge.
fn facts() -> Facts {
    let text = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../corpus/rules/axis-feed-limit/flankwise.toml"),
    )
    .expect("a configuration");
    Config::parse("flankwise.toml", &text, &[])
        .expect("a sound one")
        .facts("a.nc")
        .1
}

fn same(now: &Program, fresh: &Program) -> bool {
    // A number that is none is not equal to itself; its text is.
    now == fresh || format!("{now:?}") == format!("{fresh:?}")
}

/// Everything that is known and wrong; where numbers that are none stand, as text.
fn same_judgement(now: &Judgement, fresh: &Judgement) -> Result<(), String> {
    let text = |it: &Judgement| {
        format!(
            "{:#?}\n{:#?}\n{:#?}\n{:#?}",
            it.findings, it.not_judged, it.threads, it.tables
        )
    };
    if now.findings == fresh.findings
        && now.not_judged == fresh.not_judged
        && now.tables == fresh.tables
    {
        let (now, fresh) = (format!("{:?}", now.threads), format!("{:?}", fresh.threads));
        if now == fresh {
            return Ok(());
        }
    }
    let (now, fresh) = (text(now), text(fresh));
    if now == fresh {
        return Ok(());
    }
    Err(difference(&now, &fresh))
}

/// Where two texts begin to differ.
fn difference(now: &str, fresh: &str) -> String {
    let at = now.lines().zip(fresh.lines()).position(|(a, b)| a != b);
    let around = |text: &str| {
        let lines = text
            .lines()
            .skip(at.unwrap_or(0).saturating_sub(12))
            .take(24);
        lines.collect::<Vec<_>>().join("\n")
    };
    format!("now\n{}\nfresh\n{}", around(now), around(fresh))
}

/// Edits texts and compares, for each seed; tells how many pages were walked of how many.
fn edited(seeds: Range<u64>, rounds: usize, judged: bool) -> (usize, usize) {
    let corpus = corpus();
    let (settings, facts) = (Settings::default(), facts());
    let (mut again_pages, mut all_pages) = (0, 0);
    for seed in seeds {
        let mut chance = Chance(seed);
        let mut text = start(&corpus, if judged { 2_000 } else { 6_000 }, &mut chance);
        let page = [1, 3, 7, 20][chance.below(4)];
        let (mut program, mut reading) = Reading::in_pages(page, &text, &settings, &Alone);
        assert!(
            same(&program, &lexer::read(&text, &settings)),
            "seed {seed}, first reading"
        );
        let judge = |text: &[u8], program: &Program| match judged {
            true => judge(text, program, &settings, &facts),
            false => Judgement::default(),
        };
        let mut judgement = judge(&text, &program);
        let mut last = 0;
        for round in 0..rounds {
            let (old, put) = edit(&text, last, &mut chance);
            last = old.start + put.len();
            let new = old.start..last;
            let before = text.clone();
            text.splice(old.clone(), put.iter().copied());
            let again = Again {
                program: &program,
                old: old.clone(),
                new: new.clone(),
            };
            let (now, next) = reading.again(&text, &settings, &Alone, &again);
            let fresh = lexer::read(&text, &settings);
            let what = || {
                format!(
                    "seed {seed}, round {round}, pages of {page}: {old:?} replaced by {:?} in\n{}\n",
                    String::from_utf8_lossy(&put),
                    String::from_utf8_lossy(&before),
                )
            };
            if !same(&now, &fresh) {
                panic!(
                    "{}{}",
                    what(),
                    difference(&format!("{now:#?}"), &format!("{fresh:#?}"))
                );
            }
            if judged {
                let narrow = |range: &Range<usize>| range.start as u32..range.end as u32;
                let known = Before {
                    bytes: &before,
                    program: &program,
                    judgement: &judgement,
                    moved: Moved::new(&narrow(&old), &narrow(&new), &program.lines, &now.lines),
                };
                let again =
                    judge_unless(&|| false, (&text, &now), (&settings, &facts), Some(&known))
                        .expect("nobody stops it");
                let afresh = judge(&text, &now);
                if let Err(difference) = same_judgement(&again, &afresh) {
                    panic!("{}{difference}", what());
                }
                judgement = again;
            }
            let (walked, of) = next.walked();
            (again_pages, all_pages) = (again_pages + walked, all_pages + of);
            (program, reading) = (now, next);
        }
    }
    (again_pages, all_pages)
}

#[test]
fn reading_again_is_reading_afresh() {
    let (walked, of) = edited(0..150, 40, false);
    // If every reading went on to the end, it would be fresh ones that are compared.
    assert!(walked * 10 < of * 8, "{walked} of {of} pages walked");
}

#[test]
fn judging_again_is_judging_afresh() {
    edited(10_000..10_060, 25, true);
}
