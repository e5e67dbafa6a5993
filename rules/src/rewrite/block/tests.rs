use super::*;
use crate::standards::FAMILIES;
use crate::standards::designation::parse;
use crate::standards::thread::Thread;

/// Every turned syntax for every family of controls that knows it.
pub(crate) const WAYS: [(Syntax, Family); 13] = [
    (Syntax::Strokes, Family::SystemA),
    (Syntax::Strokes, Family::SystemB),
    (Syntax::Strokes, Family::SystemC),
    (Syntax::Strokes, Family::Interpreter),
    (Syntax::Box, Family::SystemA),
    (Syntax::Box, Family::SystemB),
    (Syntax::Box, Family::SystemC),
    (Syntax::TwoBlock, Family::SystemA),
    (Syntax::TwoBlock, Family::SystemB),
    (Syntax::TwoBlock, Family::SystemC),
    (Syntax::OneBlock, Family::SystemA),
    (Syntax::OneBlock, Family::SystemB),
    (Syntax::DriveLine, Family::Interpreter),
];

pub(crate) fn order(thread: &Thread, side: Side, (syntax, family): (Syntax, Family)) -> Order {
    Order {
        thread: thread.clone(),
        side,
        syntax,
        style: Style::new(family, thread.units()),
        length: 6.0 * thread.pitch.mm(),
        start: None,
        clearance: None,
        speed: Speed::Rpm((4000.0 / thread.lead().mm()).min(300.0)),
        nose: None,
        tool: Some("T0303".into()),
        infeed: None,
        first: None,
        peak: None,
        least: None,
        finish: None,
        springs: None,
        pull_out: None,
        semicolon: false,
    }
}

fn named(text: &str, side: Side) -> Thread {
    parse(text, Some(side)).unwrap()
}

#[test]
fn a_bolt_as_a_two_block_cycle() {
    let thread = named("M30x2-6g", Side::External);
    let mut order = order(&thread, Side::External, (Syntax::TwoBlock, Family::SystemA));
    (order.length, order.speed) = (36.0, Speed::Rpm(1000.0));
    let block = block(&order, &Facts::default()).unwrap();
    assert_eq!(
        block.text,
        "(THREAD M30X2-6G, LENGTH 36)\n\
         (CAUTION - ARITHMETIC ONLY - PROVE OUT CLEAR OF THE PART)\n\
         (HAND NEAR FEED HOLD - GAUGE THE FIRST PART)\n\
         G21 G99\nT0303\nG97 S1000 M3\nG0 X34. Z5.\n\
         G76 P020055 Q50 R0.05\nG76 X27.546 Z-36. P1227 Q445 F2.\n\
         G0 X34. Z5.\n"
    );
    assert!(block.findings.is_empty(), "{:?}", block.findings);
}

/// The smallest, the middle and the largest size of a family's most common series; of square threads,
/// which have none, one as drawings name it.
fn threads(family: crate::standards::Family) -> Vec<Thread> {
    let sizes = family.sizes();
    let least = sizes.iter().map(|size| size.rank).min().unwrap_or(0);
    let common: Vec<_> = sizes.iter().filter(|size| size.rank == least).collect();
    let mut picked = vec![0, common.len() / 2, common.len().saturating_sub(1)];
    picked.dedup();
    let sized = picked.into_iter().filter_map(|at| common.get(at));
    let mut all: Vec<Thread> = sized.map(|size| Thread::of_size(family, size)).collect();
    if all.is_empty() {
        all.push(parse("Sq 40x6", None).unwrap());
    }
    all
}

/// Every family, both sides, the smallest, the middle and the largest size of its most common
/// series, in every turned syntax of every family of controls: one section, no finding. What cannot
/// be written has its reason.
#[test]
fn every_family_in_every_syntax_is_clean() {
    let mut wrong = Vec::new();
    let mut written = 0;
    let mut refused = std::collections::BTreeMap::<String, usize>::new();
    for family in FAMILIES {
        let threads = threads(family);
        let mut of_family = 0;
        for thread in threads {
            for side in [Side::External, Side::Internal] {
                if !thread.exists_on(side) {
                    continue;
                }
                let thread = thread.on(side);
                for way in WAYS {
                    let name = thread.designation_for(side);
                    let what = format!("{name} {} {way:?}", side.name());
                    match block(&order(&thread, side, way), &Facts::default()) {
                        Ok(block) if block.findings.is_empty() => of_family += 1,
                        // A coarse cone in the interpreter's strokes is cut straight in, and that
                        // is advised against.
                        Ok(block)
                            if way == (Syntax::Strokes, Family::Interpreter)
                                && thread.form().taper != 0.0
                                && block
                                    .findings
                                    .iter()
                                    .all(|text| text.starts_with("radial-on-coarse: ")) =>
                        {
                            of_family += 1;
                        }
                        Ok(block) => {
                            wrong.push(format!("{what}: {:?}\n{}", block.findings, block.text));
                        }
                        Err(why) => {
                            let known = way.0 == Syntax::DriveLine
                                && why.contains("tapered thread")
                                || why.contains("gauge plane");
                            if !known {
                                wrong.push(format!("{what}: {why}"));
                            }
                            *refused.entry(why).or_default() += 1;
                        }
                    }
                }
            }
        }
        written += of_family;
        if of_family == 0 {
            wrong.push(format!("{family:?}: nothing is written"));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {written}\n{}\n{refused:#?}",
        wrong.len(),
        wrong.join("\n")
    );
}

/// What a syntax cannot say, and what a fact forbids, is said instead of written.
#[test]
fn refusals_have_reasons() {
    let why = |text: &str, way, change: fn(&mut Order)| {
        let mut order = order(&named(text, Side::External), Side::External, way);
        change(&mut order);
        block(&order, &Facts::default()).unwrap_err()
    };
    let two_block = (Syntax::TwoBlock, Family::SystemA);
    let interpreter = (Syntax::DriveLine, Family::Interpreter);
    assert!(why("NPT 1/2", interpreter, |_| ()).contains("tapered"));
    assert!(
        why("M30x2", (Syntax::TwoBlock, Family::Interpreter), |_| ()).contains("does not know")
    );
    assert!(why("M30x2", (Syntax::Tap, Family::SystemA), |_| ()).contains("no tapping"));
    assert!(why("M30x2", two_block, |order| order.speed = Speed::Rpm(0.0)).contains("speed"));
    assert!(why("M30x2", two_block, |order| order.length = -1.0).contains("length"));
    assert!(why("M30x2", two_block, |order| order.infeed = Some(31.0)).contains("flank"));
    assert!(why("M30x2", two_block, |order| order.nose = Some(1.0)).contains("nose"));
    let machine = crate::facts::Machine {
        max_rpm: Some(800.0),
        max_thread_feed: Some(2000.0),
        ..crate::facts::Machine::default()
    };
    let facts = Facts {
        machine: Some(machine),
        source: "flankwise.toml: machine \"lathe-2\"".into(),
        ..Facts::default()
    };
    let thread = named("M30x2-6g", Side::External);
    let mut fast = order(&thread, Side::External, two_block);
    fast.speed = Speed::Rpm(1200.0);
    let why = block(&fast, &facts).unwrap_err();
    assert!(
        why.contains("800 1/min") && why.contains("max_rpm"),
        "{why}"
    );
    // 120 m/min would be 1273 1/min at 30 mm.
    fast.speed = Speed::Surface(120.0);
    assert!((block(&fast, &facts).unwrap().rpm - 800.0).abs() < 1e-9);
    assert!((block(&fast, &Facts::default()).unwrap().rpm - 1270.0).abs() < 1e-9);
}

/// The nose decides how deep: M20x2.5-6g, d2 18.334 to 18.164 mm (ISO 965-1). The tip of a nose
/// of 0.3125 mm leaves d2 = X + H - 2r (plane geometry), so X = 18.249 - 2.16506 + 0.625 = 16.709.
#[test]
fn the_nose_decides_the_depth() {
    let thread = named("M20x2.5-6g", Side::External);
    let mut order = order(&thread, Side::External, (Syntax::Box, Family::SystemA));
    order.nose = Some(0.3125);
    let text = block(&order, &Facts::default()).unwrap().text;
    assert!(text.contains("NOSE 0.312"), "{text}");
    let program = lexer::read(text.as_bytes(), &Settings::default());
    let root = program.sections[0].cut.root_x.get().unwrap().mm();
    assert!((root - 16.709).abs() < 2e-3, "{root}");
}

/// Two starts are cut one after the other, a pitch apart, with the lead as the feed.
#[test]
fn two_starts() {
    for way in [
        (Syntax::TwoBlock, Family::SystemA),
        (Syntax::Strokes, Family::SystemB),
    ] {
        let thread = named("M40xPh6P3-6g", Side::External);
        let order = order(&thread, Side::External, way);
        let block = block(&order, &Facts::default()).unwrap();
        assert!(
            block.findings.is_empty(),
            "{:?}\n{}",
            block.findings,
            block.text
        );
        let program = lexer::read(block.text.as_bytes(), &Settings::default());
        assert_eq!(program.sections[0].cut.starts, 2, "{}", block.text);
        assert!((program.sections[0].cut.lead.get().unwrap().mm() - 6.0).abs() < 1e-9);
    }
}
