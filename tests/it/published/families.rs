//! Every family that a shop is promised, by a notation of its own, and what is known of it.

use std::collections::BTreeSet;

use rules::standards::designation::parse;
use rules::standards::{FAMILIES, Side};

/// What is known of a family's limits.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Known {
    /// Limits by a source.
    Sourced,
    /// Limits, or the form, rest on memory: shown as unverified.
    Memory,
    /// No honest limits are at hand: form and basic diameters alone.
    FormAlone,
}
use Known::{FormAlone, Memory, Sourced};

/// The name of the family, a notation of it, the canonical text, the taper on the diameter as 1 in
/// so much (0 for a parallel thread), and what is known of its external limits (of the internal ones
/// where it has no external thread).
const PROMISED: [(&str, &str, &str, f64, Known); 48] = [
    ("M", "M24x3-6g", "M24x3-6g", 0.0, Sourced),
    ("M, GOST", "М24×2-6g", "M24x2-6g", 0.0, Sourced),
    (
        "M, several starts, GOST",
        "М24×Ph3P1-LH",
        "M24xPh3P1-LH",
        0.0,
        Memory,
    ),
    ("MJ", "MJ6x1-4h6h", "MJ6x1-4h6h", 0.0, Sourced),
    ("UN", "2-8 UN-2A", "2-8 UN-2A", 0.0, Sourced),
    ("UNC", "1/2-13 UNC-2A", "1/2-13 UNC-2A", 0.0, Sourced),
    ("UNF", "#10-32 UNF-2A", "10-32 UNF-2A", 0.0, Sourced),
    ("UNEF", "1/2-28 UNEF-3A", "1/2-28 UNEF-3A", 0.0, Sourced),
    ("UNS", "2.500-28 UNS-2A", "2 1/2-28 UNS-2A", 0.0, Sourced),
    ("UNR", "1/2-13 UNRC-2A", "1/2-13 UNRC-2A", 0.0, Sourced),
    ("UNJ", "1/4-28 UNJF-3A", "1/4-28 UNJF-3A", 0.0, Memory),
    ("BSW", "1/2 BSW", "1/2-12 BSW", 0.0, Memory),
    (
        "BSF",
        "1/2\" BSF (medium)",
        "1/2-16 BSF (medium)",
        0.0,
        Memory,
    ),
    ("G", "G 1/2 A", "G 1/2 A", 0.0, Sourced),
    ("G, GOST", "G 1 1/2-B", "G 1 1/2 B", 0.0, Sourced),
    ("R", "R 1/2", "R 1/2", 16.0, Sourced),
    ("Rp", "Rp 1/2", "Rp 1/2", 0.0, Memory),
    ("Rc", "Rc 1/2", "Rc 1/2", 16.0, Sourced),
    ("NPT", "1/2-14 NPT", "1/2-14 NPT", 16.0, Memory),
    ("NPT, GOST", "К 1/2", "1/2-14 NPT", 16.0, Memory),
    ("NPTF", "1/8 NPTF", "1/8-27 NPTF", 16.0, Memory),
    ("NPSM", "1/2-14 NPSM", "1/2-14 NPSM", 0.0, Sourced),
    (
        "Acme 2G",
        "1-3/4-4 ACME-2G",
        "1 3/4-4 ACME-2G",
        0.0,
        Sourced,
    ),
    ("Acme 3G", "1-5 ACME-3G", "1-5 ACME-3G", 0.0, Memory),
    ("Acme 4G", "1-5 ACME-4G", "1-5 ACME-4G", 0.0, Memory),
    (
        "centralizing Acme",
        "1-3/4-6 ACME 4C",
        "1 3/4-6 ACME-4C",
        0.0,
        Memory,
    ),
    (
        "stub Acme",
        "0.500-20 Stub Acme",
        "1/2-20 STUB ACME",
        0.0,
        Memory,
    ),
    ("Tr", "TR40X7", "Tr 40x7", 0.0, Memory),
    (
        "Tr, several starts",
        "Tr 40x14P7-7e",
        "Tr 40x14(P7)-7e",
        0.0,
        Memory,
    ),
    (
        "Tr, GOST",
        "Трап. 40х14(Р7)LH-8е",
        "Tr 40x14(P7)-8e-LH",
        0.0,
        Memory,
    ),
    ("buttress 3/30", "S 40x7", "S 40x7", 0.0, Memory),
    ("buttress 3/30, GOST", "УП 80х10", "S 80x10", 0.0, Memory),
    (
        "buttress 7/45",
        "2.5-8 BUTT-2A",
        "2 1/2-8 BUTT-2A",
        0.0,
        Memory,
    ),
    ("Rd", "RD40X1/6", "Rd 40x1/6", 0.0, Memory),
    ("BA", "2BA", "2 BA", 0.0, Memory),
    ("Pg", "PG13,5", "Pg 13.5", 0.0, FormAlone),
    ("square", "SQ 40X6", "Sq 40x6", 0.0, FormAlone),
    ("API round casing", "9-5/8 STC", "9 5/8 STC", 16.0, Memory),
    (
        "API round tubing",
        "2-7/8 EUE 8RD",
        "2 7/8 EUE",
        16.0,
        Memory,
    ),
    ("tubing, GOST", "НКТ-73", "НКТ 73", 16.0, FormAlone),
    (
        "API buttress casing",
        "9-5/8 BTC",
        "9 5/8 BTC",
        16.0,
        Memory,
    ),
    (
        "buttress casing, GOST",
        "ОТТМ 168",
        "ОТТМ 168",
        16.0,
        FormAlone,
    ),
    ("NC", "NC-50", "NC50", 6.0, Sourced),
    ("REG", "3-1/2 REG", "3 1/2 REG", 4.0, Memory),
    ("FH", "5 1/2 FH", "5 1/2 FH", 6.0, Memory),
    ("rotary shouldered, GOST", "З-133", "З-133", 6.0, Sourced),
    (
        "metric taper, GOST",
        "МК20×1,5LH",
        "MK 20x1.5-LH",
        16.0,
        Memory,
    ),
    ("Edison", "E27", "E27", 0.0, FormAlone),
];

/// Every promised family reads in its notation, prints, reads back as the same thread, has a form
/// with its taper, and says of its limits what is true of them.
#[test]
fn every_family_reads_prints_and_says_what_it_rests_on() {
    let mut wrong = Vec::new();
    for (family, written, canonical, one_in, known) in PROMISED {
        let thread = match parse(written, None) {
            Ok(thread) => thread,
            Err(error) => {
                wrong.push(format!("{family}: {error}"));
                continue;
            }
        };
        let printed = thread.designation();
        let again = parse(&printed, None).unwrap();
        if printed != canonical || again.designation() != canonical {
            wrong.push(format!(
                "{family}: {written} prints {printed}, not {canonical}"
            ));
        }
        assert_eq!((again.major, again.pitch), (thread.major, thread.pitch));
        assert_eq!((again.starts, again.hand), (thread.starts, thread.hand));
        let form = thread.form();
        let taper = if one_in == 0.0 { 0.0 } else { 1.0 / one_in };
        if (form.taper - taper).abs() > 1e-9 {
            wrong.push(format!("{family}: taper {}", form.taper));
        }
        let side = match thread.exists_on(Side::External) {
            true => Side::External,
            false => Side::Internal,
        };
        let (limits, planes) = (thread.limits(side), thread.gauge_planes(side));
        let unverified =
            limits.unverified || planes.as_ref().is_some_and(|planes| planes.unverified);
        let found = match (limits.pitch.max, &planes, unverified) {
            (None, None, _) => FormAlone,
            (_, _, true) => Memory,
            (_, _, false) => Sourced,
        };
        if found != known {
            wrong.push(format!(
                "{family}: {found:?}, not {known:?}: {:?}",
                limits.notes
            ));
        }
        // What is missing or from memory is said.
        let source_tells = limits
            .sources
            .iter()
            .any(|source| source.contains("memory"));
        let silent = limits.notes.is_empty() && planes.is_none_or(|planes| planes.notes.is_empty());
        if found != Sourced && silent && !source_tells {
            wrong.push(format!("{family}: says nothing of what it rests on"));
        }
        if form.source.is_empty() {
            wrong.push(format!("{family}: no source of the form"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// At least 26 families, counted by their names without notation or starts; each of the library's
/// families is among them.
#[test]
fn at_least_twenty_six_families() {
    let plain = |name: &'static str| name.split(',').next().unwrap_or(name);
    let names: BTreeSet<&str> = PROMISED.iter().map(|row| plain(row.0)).collect();
    assert!(names.len() >= 26, "{}: {names:?}", names.len());
    let read: Vec<_> = PROMISED
        .iter()
        .filter_map(|row| parse(row.1, None).ok())
        .map(|thread| thread.family)
        .collect();
    let missing: Vec<_> = FAMILIES.iter().filter(|f| !read.contains(f)).collect();
    // British cycle threads are more than was promised.
    assert_eq!(missing, [&rules::standards::Family::Cycle]);
}
