use crate::checks::testing::judged;
use crate::facts::{Config, FILE_NAME, Facts};
use crate::table::Table;

fn table(text: &str, facts: &Facts) -> Table {
    judged(text, facts).tables.remove(0)
}

const RADIAL: &str = "G21\n(THREAD M20X2-6G)\nG97 S800 M3\nG0 X24. Z6.\nG92 X19.2 Z-20. F2.\nX18.8\n\
                      X18.4\nX17.8\nX17.546\nX17.546\nG0 X90.\n";

fn steel() -> Facts {
    let text = "[[material]]\nname = \"unalloyed steel\"\n";
    Config::parse(FILE_NAME, text, &[]).unwrap().facts("a.nc").1
}

/// Straight infeed: both edges take sin 30° of the step; the areas are the closed form's; forces
/// only with a material, none for the spring pass.
#[test]
fn a_list_of_passes() {
    let plain = table(RADIAL, &Facts::default());
    assert!(plain.rows.iter().all(|row| row.cut.load.is_none()));
    assert_eq!(plain.cuts.force_from, None);
    for row in &plain.rows {
        let chip = row.cut.chip.unwrap();
        let step = row.step.unwrap().mm();
        assert!((chip.leading - 0.5 * step).abs() < 1e-9, "{chip:?}");
        assert!((chip.trailing - 0.5 * step).abs() < 1e-9, "{chip:?}");
    }
    let second = &plain.rows[1];
    // Sharp: (0.6² − 0.4²) · tan 30°, over 0.4² · tan 30°.
    assert!((second.area_mm2.unwrap() - 0.2 * 0.577_350_269).abs() < 1e-9);
    assert!((second.cut.ratio.unwrap() - 1.25).abs() < 1e-9);
    let forced = table(RADIAL, &steel());
    assert!(forced.cuts.force_from.unwrap().contains("unalloyed steel"));
    let first = forced.rows[0].cut.load.unwrap();
    // 1800 · 2 · (0.4 / 2 / cos 30°) · 0.2^0.8 = 229.4 N at 19.2 mm.
    assert!((first.force_n - 229.4).abs() < 0.1, "{first:?}");
    assert!((first.torque_nm - 229.4 * 19.2 / 2000.0).abs() < 1e-3);
    let spring = forced.rows[5].cut.load.unwrap();
    assert!(spring.force_n.abs() < 1e-9);
}

/// A material without constants gives no force and says which are missing; one of the table or of
/// the shop's own does.
#[test]
fn constants_of_the_material() {
    let with = |toml: &str| {
        let facts = Config::parse(FILE_NAME, toml, &[]).unwrap().facts("a.nc").1;
        table(RADIAL, &facts).cuts
    };
    let unnamed = with("[material]\ngroup = \"S\"\nname = \"nickel alloy\"\n");
    assert_eq!(unnamed.force_from, None);
    assert!(unnamed.force_missing.unwrap().contains("kc11_n_mm2 and mc"));
    let own = with("[material]\nname = \"nickel alloy\"\nkc11_n_mm2 = 2600\nmc = 0.25\n");
    assert!(own.force_from.unwrap().contains("kc11_n_mm2"));
    assert_eq!(own.force_missing, None);
}

/// The hints of a coarse pitch cut straight in; a flank infeed of 29.5° whose trailing edge rubs.
#[test]
fn hints_of_infeeds() {
    let plain = table(RADIAL, &Facts::default());
    assert!(
        plain.hints.iter().any(|hint| hint.contains("chatter")),
        "{:?}",
        plain.hints
    );
    assert!(!plain.hints.iter().any(|hint| hint.contains("rubs")));
    let one_block = |angle: &str| {
        let text = "G21\n(THREAD M30X3-6G)\nG97 S500 M3\nT0303\nG0 X36. Z9.\n\
                    G76 P020000 Q70 R0.03\nG76 X26.319 Z-40. P1840 Q450 F3.\nG0 X90.\n";
        text.replace("P020000", &format!("P0200{angle}"))
    };
    let sixty = table(&one_block("60"), &Facts::default());
    assert!(
        sixty
            .hints
            .iter()
            .any(|hint| hint.contains("trailing edge")),
        "{:?}",
        sixty.hints
    );
    let right = table(&one_block("55"), &Facts::default());
    assert!(
        !right.hints.iter().any(|hint| hint.contains("rubs")),
        "{:?}",
        right.hints
    );
}

/// A method that leaves the shift to the control: no chips, and the reason.
#[test]
fn what_the_control_keeps_to_itself_stays_unknown() {
    let text = "G21\n(THREAD M30X3-6G)\nG97 S500 M3\nG0 X36. Z9.\n\
                G76 X26.319 Z-40. I0 K1.84 D450 A60 P2 F3.\nG0 X90.\n";
    let table = table(text, &Facts::default());
    assert!(table.rows.iter().all(|row| row.cut.chip.is_none()));
    assert!(table.cuts.not_known.is_some(), "{table:?}");
    assert!(table.rows.iter().all(|row| row.area_mm2.is_some()));
}
