//! The recorded programs.

use std::fs;
use std::path::PathBuf;

use lexer::program::{Program, Settings};
use lexer::section::{Pass, Section, Syntax};
use lexer::syntax::drive_line::retract_x;

use super::canon::{Move, moves, retracts};

pub(super) fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data/interpreter")
}

fn read(name: &str) -> Program {
    let bytes = fs::read(folder().join(format!("programs/{name}.ngc"))).unwrap();
    lexer::read(&bytes, &Settings::default())
}

fn recorded(name: &str) -> Vec<Move> {
    moves(&fs::read_to_string(folder().join(format!("canon/{name}.txt"))).unwrap())
}

/// The pieces of a pass as the interpreter counts: radii, lead along the path.
fn pieces(section: &Section, pass: &Pass) -> Vec<Move> {
    let units = |mm: f64| mm * 1e9 / section.units.pm() as f64;
    let point = |x: f64, z: f64| (units(x) / 2.0, units(z));
    let mut at = point(pass.x_start.unwrap().mm(), pass.z_start.unwrap().mm());
    if pass.legs.is_empty() {
        let end = point(pass.x.unwrap().mm(), pass.z_end.unwrap().mm());
        let (dx, dz) = (end.0 - at.0, end.1 - at.1);
        let along_longer = units(pass.lead.unwrap().mm());
        return vec![Move {
            start: at,
            end,
            lead: along_longer * dx.hypot(dz) / dx.abs().max(dz.abs()),
        }];
    }
    pass.legs
        .iter()
        .map(|leg| {
            let end = point(leg.x.mm(), leg.z.mm());
            let piece = Move {
                start: at,
                end,
                lead: units(leg.lead.mm()),
            };
            at = end;
            piece
        })
        .collect()
}

fn ours(program: &Program) -> Vec<Move> {
    program
        .sections
        .iter()
        .flat_map(|section| {
            section
                .passes
                .iter()
                .flat_map(|pass| pieces(section, pass))
                .collect::<Vec<_>>()
        })
        .collect()
}

fn compare(name: &str, syntax: Syntax) {
    let program = read(name);
    assert!(!program.sections.is_empty(), "{name}: no section");
    for section in &program.sections {
        assert_eq!(section.syntax, syntax, "{name}");
    }
    let (ours, recorded) = (ours(&program), recorded(name));
    assert!(!recorded.is_empty(), "{name}: nothing was recorded");
    assert_eq!(ours.len(), recorded.len(), "{name}: number of moves");
    for (index, (a, b)) in ours.iter().zip(&recorded).enumerate() {
        let pairs = [
            (a.start.0, b.start.0),
            (a.start.1, b.start.1),
            (a.end.0, b.end.0),
            (a.end.1, b.end.1),
            (a.lead, b.lead),
        ];
        for (a, b) in pairs {
            assert!(
                (a - b).abs() < 1e-4,
                "{name}: move {index}: {a} is not {b}\n{ours:#?}"
            );
        }
    }
}

/// Radius and diameter mode, mm and inch, constant depth to degression 3, compound slide, entry
/// and exit tapers, spring passes, both directions, two starts by Z.
#[test]
fn multi_pass_cycles_cut_what_the_interpreter_cuts() {
    for name in [
        "01_ext_r1_const_depth",
        "02_ext_r2_const_area_q295",
        "03_ext_defaults",
        "04_ext_r15_e_l1",
        "05_ext_e_l3_both",
        "06_int_q295_diam",
        "07_int_e_l2_r18",
        "08_ext_r3",
        "09_ext_inch",
        "10_ext_left_hand_positive_z",
        "15_g76_multistart",
    ] {
        compare(name, Syntax::DriveLine);
    }
}

#[test]
fn strokes_cut_what_the_interpreter_cuts() {
    for name in [
        "11_g33_manual_passes",
        "12_g33_taper",
        "13_g33_scroll_facing",
        "14_g33_multistart",
        "20_g33_chain_lead_change",
    ] {
        compare(name, Syntax::Strokes);
    }
}

/// Between the passes the interpreter goes back beyond the drive line by what is left to cut.
#[test]
fn the_tool_goes_back_where_the_interpreter_takes_it() {
    for name in [
        "01_ext_r1_const_depth",
        "02_ext_r2_const_area_q295",
        "03_ext_defaults",
        "06_int_q295_diam",
        "08_ext_r3",
        "09_ext_inch",
        "10_ext_left_hand_positive_z",
    ] {
        let text = fs::read_to_string(folder().join(format!("canon/{name}.txt"))).unwrap();
        let program = read(name);
        let recorded = retracts(&text);
        let mut count = 0;
        for section in &program.sections {
            for pass in &section.passes {
                let x = retract_x(&section.cut, pass.depth.unwrap()).unwrap();
                let ours = section.units.value_of(x.0) / 2.0;
                let theirs = recorded[count];
                assert!((ours - theirs).abs() < 1e-4, "{name}: {ours} {theirs}");
                count += 1;
            }
        }
        assert_eq!(count, recorded.len(), "{name}");
    }
}

#[test]
fn starts_shifted_along_z_are_one_thread() {
    for name in ["14_g33_multistart", "15_g76_multistart"] {
        let program = read(name);
        assert_eq!(program.sections.len(), 1, "{name}");
        let section = &program.sections[0];
        assert_eq!(section.cut.starts, 2, "{name}");
        assert_eq!(section.cut.lead.get().unwrap().mm(), 3.0, "{name}");
    }
}

/// The loop of six passes whose diameters follow a square root.
#[test]
fn a_loop_cuts_what_the_interpreter_cuts() {
    let name = "22_vars_loop_g33";
    compare(name, Syntax::Strokes);
    let program = read(name);
    assert_eq!(program.sections.len(), 1);
    assert_eq!(program.sections[0].passes.len(), 6);
    assert!(program.sections[0].passes_certain);
    assert_eq!(program.unread, []);
}
