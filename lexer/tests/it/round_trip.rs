//! Passes to text and back, for every syntax and family, in every style.

use lexer::evidence::Family;
use lexer::program::{Program, Settings};
use lexer::section::{Cut, Pass, Section, Syntax};
use lexer::syntax::{Style, write};
use lexer::units::{Diameter, Lead, Length};
use proptest::prelude::*;

use crate::cuts::{self, Case};

/// The tool change, units, speed and approach in front of written blocks.
fn program(style: &Style, cut: &Cut, text: &str) -> String {
    let inch = style.units == lexer::units::Units::Inch;
    let units = match (style.family, inch) {
        (Family::SystemC, false) => "G71",
        (Family::SystemC, true) | (Family::Call, true) => "G70",
        (Family::Call, false) => "G71",
        (_, false) => "G21",
        (_, true) => "G20",
    };
    let mode = match (style.family, style.radius_mode) {
        (Family::Interpreter, true) => " G8",
        (Family::Interpreter, false) => " G7",
        _ => "",
    };
    let factor = if style.radius_mode { 2.0 } else { 1.0 };
    let x = style.units.value_of(cut.start_x.get().unwrap().0) / factor;
    let z = style.units.value_of(cut.start_z.get().unwrap());
    format!("{units}{mode}\nT0303\nG97 S500 M3\nG0 X{x:.6} Z{z:.6}\n{text}G0 X200. Z200.\nM30\n")
}

fn read(case: &Case, text: &str) -> Program {
    let settings = Settings {
        family: Some(case.style.family),
        diameter_mode: Some(!case.style.radius_mode),
        ..Settings::default()
    };
    lexer::read(text.as_bytes(), &settings)
}

/// One thread, whatever the reader made of it (a spring pass may open another section).
fn passes(program: &Program) -> Vec<Pass> {
    program
        .sections
        .iter()
        .flat_map(|section| section.passes.clone())
        .collect()
}

fn near(a: Option<Length>, b: Option<Length>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a.near(b, Length::from_pm(1_000)),
        (None, None) => true,
        _ => false,
    }
}

/// Geometry to 1e-6 mm; the lead of a slope that is written along its path to the last digit.
fn same(case: &Case, a: &Pass, b: &Pass) -> Result<(), String> {
    let x = |x: Option<Diameter>| x.map(|x| x.0);
    let lead = |lead: Option<Lead>| lead.map(Lead::length);
    let digit = case.style.units.pm() / 10i64.pow(u32::from(case.style.lead_decimals));
    let leads = match (lead(a.lead), lead(b.lead)) {
        (Some(a), Some(b)) => a.near(b, Length::from_pm(digit)),
        _ => false,
    };
    let legs = a.legs.len() == b.legs.len()
        && a.legs
            .iter()
            .zip(&b.legs)
            .all(|(a, b)| near(Some(a.x.0), Some(b.x.0)) && near(Some(a.z), Some(b.z)));
    let ok = near(x(a.x), x(b.x))
        && near(x(a.x_start), x(b.x_start))
        && near(a.z_start, b.z_start)
        && near(a.z_end, b.z_end)
        && leads
        && legs
        && a.start_angle.unwrap_or(0) == b.start_angle.unwrap_or(0);
    if ok {
        Ok(())
    } else {
        Err(format!("{a:?}\nis not\n{b:?}"))
    }
}

fn round_trip(case: &Case) -> Result<Program, TestCaseError> {
    let written = write(&case.cut, &case.passes, case.syntax, &case.style)
        .map_err(|cannot| TestCaseError::fail(format!("{cannot:?}")))?;
    prop_assert!(
        written.deviation <= Length::from_pm(1_000),
        "{}",
        written.deviation
    );
    prop_assert!(written.text.ends_with(case.style.line_end));
    let text = program(&case.style, &case.cut, &written.text);
    let program = read(case, &text);
    prop_assert!(
        program
            .sections
            .iter()
            .all(|section| section.syntax == case.syntax),
        "{text}"
    );
    prop_assert!(program.faults.is_empty(), "{text}\n{:?}", program.faults);
    let got = passes(&program);
    prop_assert_eq!(got.len(), case.passes.len(), "{}", text);
    for (got, wanted) in got.iter().zip(&case.passes) {
        if let Err(why) = same(case, got, wanted) {
            return Err(TestCaseError::fail(format!("{why}\n{text}")));
        }
    }
    rewritten(case, &program, &text)?;
    Ok(program)
}

/// A section read from a text is written back to the same text in the style sampled from it.
fn rewritten(case: &Case, program: &Program, text: &str) -> Result<(), TestCaseError> {
    let [section] = program.sections.as_slice() else {
        return Ok(());
    };
    let style = Style::of(section, program.family, text.as_bytes());
    let again = write(&section.cut, &section.passes, case.syntax, &style)
        .map_err(|cannot| TestCaseError::fail(format!("{cannot:?}\n{text}")))?;
    let second = read(case, &self::program(&case.style, &section.cut, &again.text));
    prop_assert_eq!(second.sections.len(), 1);
    same_section(section, &second.sections[0])
        .map_err(|why| TestCaseError::fail(format!("{why}\n{text}\nrewritten:\n{}", again.text)))?;
    Ok(())
}

fn same_section(a: &Section, b: &Section) -> Result<(), String> {
    let words = |section: &Section| {
        let mut words: Vec<_> = section
            .words
            .iter()
            .map(|word| {
                (
                    format!("{:?}", word.role),
                    word.letter,
                    word.number.value(),
                    word.length(),
                )
            })
            .collect();
        words.sort_by(|a, b| a.partial_cmp(b).unwrap());
        words
    };
    if words(a) != words(b) {
        return Err(format!("words\n{:?}\nare not\n{:?}", words(a), words(b)));
    }
    let strip = |passes: &[Pass]| -> Vec<Pass> {
        let mut all = passes.to_vec();
        for pass in &mut all {
            pass.line = 0;
            pass.span = Default::default();
            pass.spindle = Default::default();
        }
        all
    };
    if strip(&a.passes) != strip(&b.passes) {
        return Err("other passes".into());
    }
    if a.cut != b.cut {
        return Err(format!("{:?}\nis not\n{:?}", a.cut, b.cut));
    }
    Ok(())
}

fn cut_is(case: &Case, program: &Program) -> Result<(), TestCaseError> {
    prop_assert_eq!(program.sections.len(), 1, "sections");
    let (got, wanted) = (&program.sections[0].cut, &case.cut);
    prop_assert_eq!(&got.side, &wanted.side);
    prop_assert_eq!(&got.root_x, &wanted.root_x);
    prop_assert_eq!(&got.crest_x, &wanted.crest_x);
    prop_assert_eq!(&got.height, &wanted.height);
    prop_assert_eq!(&got.start_x, &wanted.start_x);
    prop_assert_eq!(&got.start_z, &wanted.start_z);
    prop_assert_eq!(&got.end_z, &wanted.end_z);
    prop_assert_eq!(&got.taper, &wanted.taper);
    prop_assert_eq!(&got.lead, &wanted.lead);
    prop_assert_eq!(&got.law, &wanted.law);
    prop_assert_eq!(&got.infeed, &wanted.infeed);
    prop_assert_eq!(&got.pull_out, &wanted.pull_out);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn two_blocks_of_systems_a_and_b(case in cuts::two_block(Family::SystemA), b: bool) {
        let mut case = case;
        if b {
            case.style.family = Family::SystemB;
        }
        let program = round_trip(&case)?;
        cut_is(&case, &program)?;
    }

    #[test]
    fn two_blocks_of_system_c(case in cuts::two_block(Family::SystemC)) {
        let program = round_trip(&case)?;
        cut_is(&case, &program)?;
    }

    #[test]
    fn one_block(case in cuts::one_block()) {
        let program = round_trip(&case)?;
        cut_is(&case, &program)?;
    }

    #[test]
    fn drive_line_in_diameter_and_radius_mode(case in cuts::drive_line()) {
        let program = round_trip(&case)?;
        cut_is(&case, &program)?;
    }

    #[test]
    fn boxes_of_system_a(case in cuts::list(Family::SystemA, Syntax::Box)) {
        round_trip(&case)?;
    }

    #[test]
    fn boxes_of_system_b(case in cuts::list(Family::SystemB, Syntax::Box)) {
        round_trip(&case)?;
    }

    #[test]
    fn boxes_of_system_c(case in cuts::list(Family::SystemC, Syntax::Box)) {
        round_trip(&case)?;
    }

    #[test]
    fn strokes_of_system_a(case in cuts::list(Family::SystemA, Syntax::Strokes)) {
        round_trip(&case)?;
    }

    #[test]
    fn strokes_of_systems_b_and_c(case in cuts::list(Family::SystemB, Syntax::Strokes), c: bool) {
        let mut case = case;
        if c {
            case.style.family = Family::SystemC;
        }
        round_trip(&case)?;
    }

    #[test]
    fn strokes_of_the_interpreter(case in cuts::list(Family::Interpreter, Syntax::Strokes)) {
        round_trip(&case)?;
    }

    #[test]
    fn calls(case in cuts::call()) {
        let program = round_trip(&case)?;
        if case.passes.iter().all(|pass| pass.start_angle == case.passes[0].start_angle) && program.sections.len() == 1 {
            cut_is(&case, &program)?;
        }
    }

    #[test]
    fn compound_cycles(case in cuts::compound()) {
        let program = round_trip(&case)?;
        cut_is(&case, &program)?;
    }

    #[test]
    fn boxes_of_the_compound_family(case in cuts::list(Family::Compound, Syntax::Box)) {
        round_trip(&case)?;
    }

    #[test]
    fn boxes_by_g82(case in cuts::list(Family::BoxG82, Syntax::Box)) {
        round_trip(&case)?;
    }

    #[test]
    fn strokes_of_the_call_style(case in cuts::list(Family::Call, Syntax::Strokes)) {
        round_trip(&case)?;
    }
}
