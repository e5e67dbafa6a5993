//! The programs of `corpus/constructs`, each one way to make a thread, and of `corpus/silent`, each
//! something that shares a code with threading, against labels given by hand.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use lexer::program::{Program, Settings};
use rules::facts::Facts;
use rules::finding::Severity;
use rules::judge::{Judgement, judge};

/// Synchronised strokes that are no thread: they are shown as sections, and no rule speaks.
const STROKES_WITHOUT_A_THREAD: [&str; 3] = ["oil-groove", "oil-groove-cross", "positioning-g33"];

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../corpus")
        .join(name)
}

fn programs(name: &str) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(folder(name))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "nc"))
        .map(|path| {
            let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
            (stem, std::fs::read(&path).unwrap())
        })
        .collect()
}

fn judged(bytes: &[u8]) -> (Program, Judgement) {
    let settings = Settings::default();
    let program = lexer::read(bytes, &settings);
    let judgement = judge(bytes, &program, &settings, &Facts::default());
    (program, judgement)
}

/// A label: program, section, kind, syntax, lead in mm, side, starts, passes.
type Label = [String; 8];

fn labels() -> BTreeMap<String, Vec<Label>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/constructs.csv");
    let mut rows = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    let mut labels: BTreeMap<String, Vec<Label>> = BTreeMap::new();
    for row in rows.records() {
        let row = row.unwrap();
        let label = std::array::from_fn(|at| row[at].to_owned());
        labels.entry(row[0].to_owned()).or_default().push(label);
    }
    labels
}

#[test]
fn every_way_of_making_a_thread_is_read_as_labelled() {
    let (programs, labels) = (programs("constructs"), labels());
    assert!(
        programs.keys().eq(labels.keys()),
        "labels and programs differ"
    );
    assert!(programs.len() >= 60, "{} programs", programs.len());
    let mut wrong = String::new();
    for (name, bytes) in &programs {
        wrong += &differs(name, &judged(bytes).0, &labels[name]);
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Where a program differs from its labels, a line each.
fn differs(name: &str, program: &Program, wanted: &[Label]) -> String {
    let mut wrong = String::new();
    if program.sections.len() != wanted.len() {
        return format!("{name}: {} sections\n", program.sections.len());
    }
    for (section, label) in program.sections.iter().zip(wanted) {
        let side = section.side().map_or("unknown", lexer::section::Side::name);
        let lead = section.cut.lead.get().map(|lead| lead.mm());
        let same_lead = label[4].is_empty()
            || lead
                .zip(label[4].parse().ok())
                .is_some_and(|(lead, wanted): (f64, f64)| (lead.abs() - wanted).abs() < 1e-6);
        let same = section.kind.name() == label[2]
            && section.syntax.name() == label[3]
            && same_lead
            && side == label[5]
            && section.cut.starts.to_string() == label[6]
            && (label[7].is_empty() || section.passes.len().to_string() == label[7]);
        if !same {
            let _ = writeln!(
                wrong,
                "{}: {} {} {lead:?} {side} {} starts {} passes, not {:?}",
                label[0],
                section.kind.name(),
                section.syntax.name(),
                section.cut.starts,
                section.passes.len(),
                &label[1..],
            );
        }
    }
    wrong
}

#[test]
fn sound_threads_of_every_way_raise_no_error() {
    let mut wrong = String::new();
    for (name, bytes) in programs("constructs") {
        for finding in judged(&bytes).1.findings {
            if finding.severity >= Severity::Warning {
                let _ = writeln!(wrong, "{name}: {}: {}", finding.rule, finding.message);
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn what_only_shares_a_code_with_threading_stays_silent() {
    let programs = programs("silent");
    assert!(programs.len() >= 30, "{} programs", programs.len());
    let mut wrong = String::new();
    for (name, bytes) in &programs {
        let (program, judgement) = judged(bytes);
        let strokes = STROKES_WITHOUT_A_THREAD.contains(&name.as_str());
        if !program.sections.is_empty() && !strokes {
            let _ = writeln!(wrong, "{name}: read as a thread");
        }
        for finding in judgement.findings {
            let _ = writeln!(wrong, "{name}: {}: {}", finding.rule, finding.message);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
