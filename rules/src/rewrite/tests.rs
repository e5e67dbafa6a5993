use lexer::evidence::Family;
use lexer::section::{PullOut, Syntax};
use proptest::prelude::*;

use super::block::{Order, Speed, block};
use super::convert::{Target, convert};
use super::plan::{LimitKind, Plan, Wish, plan};
use super::*;
use crate::standards::Side;
use crate::standards::designation::parse;

const FLANK: f64 = 0.577_350_269_189_625_7;

/// A judged text.
struct Judged {
    bytes: Vec<u8>,
    program: Program,
    settings: Settings,
    facts: Facts,
    judgement: Judgement,
}

impl Judged {
    fn new(text: &str, facts: Facts) -> Judged {
        let bytes = text.as_bytes().to_vec();
        let settings = Settings::default();
        let program = lexer::read(&bytes, &settings);
        let judgement = judge(&bytes, &program, &settings, &facts);
        Judged {
            bytes,
            program,
            settings,
            facts,
            judgement,
        }
    }

    fn job(&self) -> Job<'_> {
        Job {
            bytes: &self.bytes,
            program: &self.program,
            settings: &self.settings,
            facts: &self.facts,
            judgement: &self.judgement,
            index: 0,
        }
    }
}

fn planned(text: &str, wish: &Wish) -> Result<Plan, String> {
    plan(&Judged::new(text, Facts::default()).job(), wish)
}

fn text(plan: &Plan) -> String {
    let better = plan.better.as_ref().unwrap_or_else(|| panic!("{plan:?}"));
    String::from_utf8(better.reread.bytes.clone()).unwrap()
}

/// M30x2 in five ways of writing, each with far too small a first cut or equal steps.
const SLOW: [(&str, &str); 6] = [
    (
        "two-block",
        "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\nG76 P021055 Q20 R0.05 (FIRST)\n\
         G76 X27.546 Z-36. P1227 Q150 F2.\nG0 X100. Z100.\nM30\n",
    ),
    (
        "one-block",
        "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\n\
         G76 X27.546 Z-36. K1.227 D0.1 A55 P3 F2.\nG0 X100. Z100.\nM30\n",
    ),
    (
        "drive-line",
        "G21 G18 G8 G90\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X17 Z8\n\
         G76 P2 Z-36 I-2 J0.1 R1.2 K1.227 Q27.5 H2\nG0 X50 Z50\nM2\n",
    ),
    (
        "box",
        "G21 G99\nT0303\n(THREAD M30X2-6G)\nN10 G97 S1000 M3\nN20 G0 X34. Z8.\nN30 G92 X29.7 Z-36. F2.\n\
         N40 X29.4\nN50 X29.1\nN60 X28.8\nN70 X28.5\nN80 X28.2\nN90 X27.9\nN100 X27.6 (NEARLY)\n\
         N110 X27.546\nN120 X27.546\nN130 G0 X100. Z100.\nM30\n",
    ),
    (
        "strokes",
        "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\n\
         G0 X29.6\nG32 Z-36. F2.\nG0 X34.\nG0 Z8.\nG0 X29.2\nG32 Z-36. F2.\nG0 X34.\nG0 Z8.\n\
         G0 X28.8\nG32 Z-36. F2.\nG0 X34.\nG0 Z8.\nG0 X28.4\nG32 Z-36. F2.\nG0 X34.\nG0 Z8.\n\
         G0 X28.\nG32 Z-36. F2.\nG0 X34.\nG0 Z8.\nG0 X27.546\nG32 Z-36. F2.\nG0 X34.\nG0 Z100.\nM30\n",
    ),
    (
        "strokes with a pull-out",
        "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\n\
         G0 X29.6\nG32 Z-36. F2.\nG32 X32.6 Z-37.5 F2.\nG0 X34.\nG0 Z8.\nG0 X29.2\nG32 Z-36. F2.\n\
         G32 X32.2 Z-37.5 F2.\nG0 X34.\nG0 Z8.\nG0 X28.8\nG32 Z-36. F2.\nG32 X31.8 Z-37.5 F2.\n\
         G0 X34.\nG0 Z8.\nG0 X28.2\nG32 Z-36. F2.\nG32 X31.2 Z-37.5 F2.\nG0 X34.\nG0 Z8.\n\
         G0 X27.546\nG32 Z-36. F2.\nG32 X30.546 Z-37.5 F2.\nG0 X34.\nG0 Z100.\nM30\n",
    ),
];

/// The heaviest pass by the plain formula h²·tan 30°, from the text as it is read, without the code
/// under test.
fn heaviest(text: &str) -> f64 {
    let program = lexer::read(text.as_bytes(), &Settings::default());
    let mut before = 0.0;
    let mut peak = 0.0f64;
    for pass in &program.sections[0].passes {
        let depth = (30.0 - pass.x.unwrap().abs().mm()) / 2.0;
        if depth > before {
            peak = peak.max((depth * depth - before * before) * FLANK);
            before = depth;
        }
    }
    peak
}

/// Without any limit stated, the plan is faster or lighter in every syntax and nothing is heavier
/// than what ran before; what stands around the thread stays as it was.
#[test]
fn every_syntax_is_planned_within_its_own_load() {
    for (name, slow) in SLOW {
        let plan = planned(slow, &Wish::default()).unwrap_or_else(|why| panic!("{name}: {why}"));
        let after = text(&plan);
        let better = plan.better.as_ref().unwrap();
        let (before, now) = (&plan.before, &better.after);
        assert!(now.passes <= before.passes, "{name}\n{after}");
        assert!(
            now.seconds.unwrap() <= before.seconds.unwrap() + 1e-6,
            "{name}"
        );
        assert!(
            now.passes < before.passes || now.peak_mm2 < before.peak_mm2,
            "{name} {now:?} {before:?}"
        );
        assert!(heaviest(&after) <= heaviest(slow) * 1.02, "{name}\n{after}");
        for kept in ["THREAD M30X2-6G", "G97 S1000 M3"] {
            assert!(after.contains(kept), "{name}\n{after}");
        }
        assert_eq!(after.lines().last(), slow.lines().last());
        let first = slow.lines().next().unwrap();
        assert_eq!(after.lines().next(), Some(first), "{name}");
        // A second plan finds nothing more to take away.
        let again = planned(&after, &Wish::default()).unwrap();
        let fewer = again
            .better
            .is_some_and(|again| again.after.passes < now.passes);
        assert!(!fewer, "{name}\n{after}");
    }
}

/// A cycle is mended in its words: comments, order and all else stay.
#[test]
fn a_cycle_changes_in_its_words_alone() {
    let plan = planned(SLOW[0].1, &Wish::default()).unwrap();
    let after = text(&plan);
    assert!(
        after.contains("R0.05 (FIRST)\nG76 X27.546 Z-36. P1227 Q"),
        "{after}"
    );
    let edits = &plan.better.unwrap().edits;
    assert!(edits.iter().all(|edit| edit.text.len() <= 7), "{edits:?}");
}

/// Comments between the boxes are kept, and N numbers stay in order.
#[test]
fn nothing_between_the_boxes_is_lost() {
    let after = text(&planned(SLOW[3].1, &Wish::default()).unwrap());
    assert!(after.contains("(NEARLY)"), "{after}");
    let numbers: Vec<u32> = after
        .lines()
        .filter_map(|line| line.strip_prefix('N')?.split(' ').next()?.parse().ok())
        .collect();
    assert!(numbers.windows(2).all(|pair| pair[0] < pair[1]), "{after}");
    assert_eq!(numbers.last(), Some(&130));
}

/// An insert rated for chips twice as large: half the roughing passes, close to half the time
/// (common practice: 50 to 60 % less with deeper passes), and the limit names the tool.
#[test]
fn an_insert_for_deeper_cuts_halves_the_passes() {
    // 0.3 mm first, then equal chips: (1.227 / 0.3)² = 16.7 passes.
    let slow = "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\nG76 P011055 Q20 R0\n\
                G76 X27.546 Z-36. P1227 Q300 F2.\nG0 X100. Z100.\nM30\n";
    let toml = "[[tool]]\nnumber = 3\nfirst_pass_max_mm = 0.45\nmax_area_mm2 = 0.12\n";
    let config = crate::facts::Config::parse("flankwise.toml", toml, &[]).unwrap();
    let (_, facts) = config.facts("O1200");
    let plan = plan(&Judged::new(slow, facts).job(), &Wish::default()).unwrap();
    let after = &plan.better.as_ref().unwrap().after;
    assert_eq!((plan.before.passes, after.passes), (18, 9));
    let saved = 1.0 - after.seconds.unwrap() / plan.before.seconds.unwrap();
    assert!((0.45..0.6).contains(&saved), "{saved}");
    let peak = plan
        .limits
        .iter()
        .find(|limit| limit.kind == LimitKind::Peak)
        .unwrap();
    assert_eq!(peak.from, "flankwise.toml: tool 1 max_area_mm2");
}

#[test]
fn what_is_not_known_is_not_planned() {
    for (slow, missing) in [
        (
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 R0.05\nG76 X27.546 Z-36. P1227 Q100 F2.\nM30\n",
            "not certain",
        ),
        (
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29.1 Z-36. F1.93\nX28.8\nG0 X100.\nM30\n",
            "which thread it is",
        ),
        (
            "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG92 X29.1 Z-36. F2.\n/X28.\nX27.546\nG0 X100.\nM30\n",
            "may be skipped",
        ),
    ] {
        let why = planned(slow, &Wish::default()).unwrap_err();
        assert!(why.contains(missing), "{why}");
    }
    // A line that does more than cut the thread is not overwritten.
    let busy = "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG92 X29.7 Z-36. F2.\nX29.4 M8\nX29.1\n\
                X28.8\nX28.5\nX28.2\nX27.9\nX27.546\nG0 X100.\nM30\n";
    let why = planned(busy, &Wish::default()).unwrap_err();
    assert!(why.contains("X29.4 M8"), "{why}");
}

#[test]
fn another_speed_within_the_limits_of_the_machine() {
    let facts = Facts {
        machine: Some(crate::facts::Machine {
            max_thread_feed: Some(3000.0),
            ..crate::facts::Machine::default()
        }),
        source: "flankwise.toml: machine \"lathe-2\"".into(),
        ..Facts::default()
    };
    let judged = Judged::new(SLOW[0].1, facts);
    let mut wish = Wish {
        rpm: Some(1400.0),
        ..Wish::default()
    };
    let done = plan(&judged.job(), &wish).unwrap();
    assert!(text(&done).contains("G97 S1400 M3"));
    wish.rpm = Some(1600.0);
    let why = plan(&judged.job(), &wish).unwrap_err();
    assert!(why.contains("1500 1/min"), "{why}");
}

/// Time against load: fewer passes are faster and heavier, all along.
#[test]
fn the_front_falls() {
    let wish = Wish {
        front: true,
        ..Wish::default()
    };
    for (name, slow) in SLOW {
        let front = planned(slow, &wish).unwrap().front;
        assert!(front.len() > 3, "{name} {front:?}");
        for pair in front.windows(2) {
            assert!(pair[0].passes < pair[1].passes, "{name}");
            assert!(pair[0].peak_mm2 > pair[1].peak_mm2, "{name}");
            assert!(pair[0].seconds < pair[1].seconds, "{name}");
        }
    }
}

/// A plan written in each syntax reads back as the plan: the same thread in five ways, converted into
/// each other, has the same passes.
#[test]
fn passes_survive_every_way_of_writing() {
    let source = "G21 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\nG76 P010055 Q0 R0\n\
                  G76 X27.546 Z-36. P1227 Q410 F2.\nG0 X100. Z100.\nM30\n";
    let source = Judged::new(source, Facts::default());
    let passes = |job: &Job<'_>| -> Vec<(f64, f64)> {
        let passes = &job.program.sections[0].passes;
        let place = |pass: &Pass| (pass.x.unwrap().mm(), pass.z_start.unwrap().mm());
        passes.iter().map(place).collect()
    };
    let wanted = passes(&source.job());
    let mut done = 0;
    for syntax in [Syntax::Strokes, Syntax::Box] {
        let there = convert(&source.job(), syntax, &Target::default()).unwrap();
        let text = String::from_utf8(there.reread.as_ref().unwrap().bytes.clone()).unwrap();
        let there = Judged::new(&text, Facts::default());
        for (got, wanted) in passes(&there.job()).iter().zip(&wanted) {
            assert!((got.0 - wanted.0).abs() < 1.1e-3 && (got.1 - wanted.1).abs() < 1.1e-3);
        }
        // And back again, with the pull-out that lists leave to the control.
        let target = Target {
            pull_out: Some(PullOut::TenthsOfLead(0)),
            ..Target::default()
        };
        let back = convert(&there.job(), Syntax::TwoBlock, &target);
        let back = back.unwrap_or_else(|why| panic!("{why}\n{text}"));
        assert_eq!(back.passes, wanted.len());
        done += 1;
    }
    // The interpreter's cycle is for another family of controls: whole, and not in the program.
    let target = Target {
        family: Some(Family::Interpreter),
        ..Target::default()
    };
    let other = convert(&source.job(), Syntax::DriveLine, &target).unwrap();
    assert!(other.edits.is_empty() && other.reread.is_none());
    assert!(other.text.contains("G21 G18 G8 G90"), "{}", other.text);
    let other = Judged::new(&other.text, Facts::default());
    for (got, wanted) in passes(&other.job()).iter().zip(&wanted) {
        assert!((got.0 - wanted.0).abs() < 5e-3 && (got.1 - wanted.1).abs() < 5e-3);
    }
    assert_eq!(done, 2);
}

#[test]
fn what_a_syntax_cannot_say_is_told() {
    let equal = Judged::new(SLOW[3].1, Facts::default());
    let why = convert(&equal.job(), Syntax::TwoBlock, &Target::default()).unwrap_err();
    assert!(!why.is_empty());
    let why = convert(&equal.job(), Syntax::Box, &Target::default()).unwrap_err();
    assert!(why.contains("already"), "{why}");
    let why = convert(&equal.job(), Syntax::DriveLine, &Target::default()).unwrap_err();
    assert!(why.contains("interpreter"), "{why}");
    let strokes = convert(&equal.job(), Syntax::Strokes, &Target::default()).unwrap();
    assert!(
        strokes.lost.iter().any(|lost| lost.contains("pull-out")),
        "{strokes:?}"
    );
    assert!(strokes.text.contains("(NEARLY)"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever thread, split and limits: a plan keeps every limit that it names, by the plain
    /// formula on the text as it is read again, and is never slower.
    #[test]
    fn plans_keep_their_limits(
        size in prop::sample::select(vec!["M12x1.75", "M20x2.5", "M30x2", "M36x4", "M64x6"]),
        way in prop::sample::select(vec![
            (Syntax::TwoBlock, Family::SystemA), (Syntax::OneBlock, Family::SystemA),
            (Syntax::DriveLine, Family::Interpreter), (Syntax::Box, Family::SystemB),
            (Syntax::Strokes, Family::SystemC), (Syntax::Strokes, Family::Interpreter),
        ]),
        internal in prop::bool::ANY,
        small in 0.15f64..0.8,
        peak in 0.8f64..4.0,
        first in 0.6f64..2.0,
        springs in 0u32..3,
        rpm in 200f64..900.0,
    ) {
        let side = if internal { Side::Internal } else { Side::External };
        let thread = parse(size, Some(side)).unwrap();
        let pitch = thread.pitch.mm();
        let mut order: Order = super::block::tests::order(&thread, side, way);
        order.speed = Speed::Rpm(rpm.round());
        order.springs = Some(springs);
        let book = crate::cut::passes::first_step(pitch);
        order.first = Some(book * small);
        order.peak = Some(book * book * FLANK * small);
        let Ok(slow) = block(&order, &Facts::default()) else { return Ok(()) };
        let wish = Wish {
            first_mm: Some(book * small * first),
            peak_mm2: Some(book * book * FLANK * small * peak),
            ..Wish::default()
        };
        let Ok(plan) = planned(&slow.text, &wish) else { return Ok(()) };
        let Some(better) = &plan.better else { return Ok(()) };
        let after = text(&plan);
        let program = lexer::read(after.as_bytes(), &Settings::default());
        let section = &program.sections[0];
        let crest = match side {
            Side::External => thread.major.mm(),
            Side::Internal => thread.basic().minor,
        };
        let digit = 0.0011;
        let mut before = 0.0;
        for pass in &section.passes {
            let depth = (crest - pass.x.unwrap().abs().mm()).abs() / 2.0;
            if depth > before + 1e-9 {
                let lighter = (depth - 2.0 * digit).max(before);
                let chip = (lighter * lighter - before * before) * FLANK;
                prop_assert!(chip <= wish.peak_mm2.unwrap() + 1e-9, "{chip}\n{after}");
                if before == 0.0 {
                    prop_assert!(depth <= wish.first_mm.unwrap() + 2.0 * digit, "{depth}\n{after}");
                }
                before = depth;
            }
        }
        prop_assert!(better.after.seconds.unwrap() <= plan.before.seconds.unwrap() + 1e-6);
        prop_assert_eq!(section.spindle.rpm(), Some(rpm.round()));
    }
}

/// Constants of a material make passes of equal force: no pass needs more than the program's
/// heaviest, and without constants forces are not guessed.
#[test]
fn passes_of_equal_force() {
    let wish = Wish {
        even_force: true,
        ..Wish::default()
    };
    let why = planned(SLOW[3].1, &wish).unwrap_err();
    assert!(why.contains("kc11_n_mm2"), "{why}");
    let toml = "[material]\nkc11_n_mm2 = 1800\nmc = 0.2\n";
    let config = crate::facts::Config::parse("flankwise.toml", toml, &[]).unwrap();
    let (_, facts) = config.facts("O1200");
    let judged = Judged::new(SLOW[3].1, facts);
    let done = plan(&judged.job(), &wish).unwrap();
    let better = done.better.as_ref().unwrap();
    assert!(better.after.peak_n.unwrap() <= done.before.peak_n.unwrap() * 1.02);
    assert!(better.after.passes < done.before.passes, "{done:?}");
}
