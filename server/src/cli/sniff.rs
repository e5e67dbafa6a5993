//! Is this file a part program? By its name where that is enough, by its first lines elsewhere.

use std::path::Path;

use lexer::block::{Block, Blocks, FaultKind};

/// Bytes that are looked at.
pub(super) const HEAD: usize = 8192;

/// What a name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Name {
    /// A program by its extension.
    Program,
    /// Could be one: the content decides.
    Perhaps,
    /// Not looked at in folders.
    Other,
}

const PROGRAMS: [&str; 9] = [
    "nc", "cnc", "ngc", "tap", "eia", "min", "mpf", "spf", "gcode",
];
/// Extensions that programs share with other files.
const SHARED: [&str; 6] = ["txt", "h", "gc", "iso", "prg", "pgm"];

/// Judges a name.
pub(super) fn name(path: &Path) -> Name {
    let stem = path.file_name().unwrap_or_default().to_string_lossy();
    let number = stem.strip_prefix(['O', 'o']).unwrap_or_default();
    if number.starts_with(|c: char| c.is_ascii_digit()) {
        return Name::Perhaps;
    }
    let Some(extension) = path.extension() else {
        return Name::Perhaps;
    };
    let extension = extension.to_string_lossy().to_ascii_lowercase();
    if PROGRAMS.contains(&extension.as_str()) {
        Name::Program
    } else if SHARED.contains(&extension.as_str())
        || extension.bytes().all(|byte| byte.is_ascii_digit())
    {
        Name::Perhaps
    } else {
        Name::Other
    }
}

/// Whether the first bytes of a file look like a program: a tape mark or a program number, and
/// lines of words with a G or M code.
pub(super) fn content(head: &[u8]) -> bool {
    let mut blocks = Blocks::new(head);
    let mut block = Block::default();
    let (mut header, mut codes, mut others, mut seen) = (false, 0u32, 0u32, 0u32);
    while seen < 200 && blocks.read(&mut block) {
        let plain = block.statement.is_none()
            && block.names.is_empty()
            && !block
                .faults
                .iter()
                .any(|fault| fault.kind == FaultKind::Junk);
        let empty = block.words.is_empty() && block.number.is_none();
        if empty && plain && block.program.is_none() {
            header |= block.percent && seen == 0;
            seen += u32::from(block.percent);
            continue;
        }
        seen += 1;
        if !plain {
            others += 1;
        } else if block.program.is_some() && codes + others == 0 {
            header = true;
        } else if block
            .g_codes()
            .chain(block.m_codes())
            .any(|(code, _)| code < 10_000)
        {
            codes += 1;
        }
    }
    codes > 0 && (header || codes >= others)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names() {
        for (path, wanted) in [
            ("a/SHAFT.NC", Name::Program),
            ("part.Mpf", Name::Program),
            ("O1234", Name::Perhaps),
            ("O1234.old", Name::Perhaps),
            ("Makefile", Name::Perhaps),
            ("vec.h", Name::Perhaps),
            ("notes.txt", Name::Perhaps),
            ("4711.001", Name::Perhaps),
            ("a.rs", Name::Other),
            ("part.step", Name::Other),
        ] {
            assert_eq!(name(Path::new(path)), wanted, "{path}");
        }
    }

    #[test]
    fn programs_are_recognised() {
        for text in [
            &b"\0\0\0%\r\nO1200(SHAFT)\r\nG0X28.Z6.\r\n"[..],
            b":1200\nN10 G97 S800 M3\n",
            b"G21 G90\nG0 X10\n",
            b"; finish\n\n(setup)\n#<depth>=1.5\n#2=3\nG0 X[#2]\nG1 Z-1 F.2\n",
            b"%_N_SHAFT_MPF\nN10 G90 G54\nN20 T1 D1\nN30 G97 S800 M3\n",
            b"g0x10z5\rg1z-5\r",
        ] {
            assert!(content(text), "{}", String::from_utf8_lossy(text));
        }
    }

    #[test]
    fn other_texts_are_not() {
        for text in [
            &b"#ifndef VEC_H\n#define VEC_H 1\nstruct M3 { int g1; };\n"[..],
            b"Thread list\nM24 x 3 shaft\nG 1/2 pipe\n",
            b"# Readme\n\nRun `make`.\n",
            b"all: build\n\tcc -o main main.c\n",
            b"% a typesetting comment\n\\documentclass{article}\n",
            b"",
            b"\x7fELF\x02\x01\x01\0\0\0",
            b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<< /Type /Catalog >>\n",
        ] {
            assert!(!content(text), "{}", String::from_utf8_lossy(text));
        }
    }
}
