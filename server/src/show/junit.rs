//! JUnit XML: a test suite for each program with a test case for each rule that spoke. A test
//! case fails when one of its findings reaches the threshold, is an error when the program could
//! not be read, and is skipped when it is waived or was not judged. There is no standard for this
//! format; the elements and attributes are the ones that the common schema of test reports has.

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};
use rules::finding::Severity;

use super::entry::{Entry, FileEntry, State};
use super::visible;

/// The document. `fails` tells whether a finding of this severity in the program of this index
/// fails the run.
pub(crate) fn document(
    files: &[FileEntry],
    unread: &[(String, String)],
    fails: impl Fn(usize, Severity) -> bool,
) -> Result<String, String> {
    let mut report = Report::new("flankwise");
    for (index, file) in files.iter().enumerate() {
        let mut suite = TestSuite::new(file.path.as_str());
        let mut rules: Vec<&'static str> = Vec::new();
        for entry in &file.entries {
            if !rules.contains(&entry.rule) {
                rules.push(entry.rule);
            }
        }
        for rule in &rules {
            let entries = file.entries.iter().filter(|entry| entry.rule == *rule);
            let entries: Vec<&Entry> = entries.collect();
            suite.add_test_case(case(file, rule, &entries, |severity| {
                fails(index, severity)
            }));
        }
        for one in &file.not_judged {
            let name = one.rule.unwrap_or("reading");
            let mut status = TestCaseStatus::skipped();
            let (first, last) = one.lines;
            status.set_message(format!("lines {first} to {last}: not judged: {}", one.why));
            suite.add_test_case(new_case(
                file,
                &format!("{name} in lines {first} to {last}"),
                status,
            ));
        }
        if suite.test_cases.is_empty() {
            let mut case = new_case(file, "threads", TestCaseStatus::success());
            case.set_system_out(super::text::plural(
                file.sections,
                "threading section",
                "threading sections",
            ));
            suite.add_test_case(case);
        }
        report.add_test_suite(suite);
    }
    for (path, why) in unread {
        let mut suite = TestSuite::new(path.as_str());
        let mut status = TestCaseStatus::non_success(NonSuccessKind::Error);
        status.set_type("unread");
        status.set_message(visible::text(why).into_owned());
        let mut case = TestCase::new("reading", status);
        case.set_classname(path.as_str());
        suite.add_test_case(case);
        report.add_test_suite(suite);
    }
    let text = report.to_string().map_err(|error| error.to_string())?;
    Ok(without_sum(&text))
}

/// Leaves out the sum of skipped cases in the root element: the common schema has it for suites
/// only, and strict readers refuse it.
fn without_sum(text: &str) -> String {
    let Some((head, rest)) = text.split_once("<testsuites ") else {
        return text.to_owned();
    };
    let Some((root, rest)) = rest.split_once('>') else {
        return text.to_owned();
    };
    let kept = root.split(' ').filter(|part| !part.starts_with("skipped="));
    let kept: Vec<&str> = kept.collect();
    format!("{head}<testsuites {}>{rest}", kept.join(" "))
}

fn new_case(file: &FileEntry, name: &str, status: TestCaseStatus) -> TestCase {
    let mut case = TestCase::new(name, status);
    case.set_classname(file.path.as_str());
    case
}

fn case(
    file: &FileEntry,
    rule: &'static str,
    entries: &[&Entry],
    fails: impl Fn(Severity) -> bool,
) -> TestCase {
    let told = |wanted: &dyn Fn(&Entry) -> bool| {
        let entries = entries.iter().filter(|entry| wanted(entry));
        let told: Vec<_> = entries.map(|entry| paragraph(file, entry)).collect();
        told.join("\n")
    };
    let failing = |entry: &Entry| entry.state == State::Counts && fails(entry.severity);
    let first = entries.iter().find(|entry| failing(entry));
    let counts = entries.iter().any(|entry| entry.state == State::Counts);
    let status = match first {
        Some(first) => {
            let mut status = TestCaseStatus::non_success(NonSuccessKind::Failure);
            status.set_type(first.severity.name());
            status.set_message(first.message.clone());
            status.set_description(told(&failing));
            status
        }
        None if counts => TestCaseStatus::success(),
        None => {
            let mut status = TestCaseStatus::skipped();
            let why = entries.iter().find_map(|entry| match &entry.state {
                State::Waived { reason, .. } => Some(format!("waived: {reason}")),
                _ => None,
            });
            status.set_message(why.unwrap_or_else(|| "known from the baseline".to_owned()));
            status
        }
    };
    let mut case = new_case(file, rule, status);
    let rest = told(&|entry| !failing(entry));
    if !rest.is_empty() {
        case.set_system_out(rest);
    }
    case
}

/// A finding in words.
fn paragraph(file: &FileEntry, entry: &Entry) -> String {
    let state = match &entry.state {
        State::Counts => String::new(),
        State::Known => " (known from the baseline)".to_owned(),
        State::Waived { reason, .. } => format!(" (waived: {reason})"),
    };
    let place = entry.place;
    let mut text = format!(
        "{}:{}:{}: {}{state}: {}\n",
        file.path,
        place.line,
        place.column,
        entry.severity.name(),
        entry.message
    );
    for line in &entry.details {
        text.push_str(&format!("  {line}\n"));
    }
    text
}
