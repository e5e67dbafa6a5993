use super::*;
use crate::facts::{Config, FILE_NAME};
use crate::standards::designation::parse;

fn facts(toml: &str) -> Facts {
    Config::parse(FILE_NAME, toml, &[]).unwrap().facts("a.nc").1
}

fn answer(name: &str, side: Side, toml: &str) -> (Answer, String) {
    let facts = facts(&format!("[[tool]]\nnumber = 3\n{toml}"));
    let thread = parse(name, Some(side)).unwrap();
    let verdicts = tools(&thread, side, &facts);
    assert_eq!(verdicts.len(), 1);
    let worst = verdicts[0].answer;
    let of_worst = verdicts[0]
        .reasons
        .iter()
        .filter(|reason| reason.answer == worst);
    let texts: Vec<&str> = of_worst.map(|reason| reason.text.as_str()).collect();
    (worst, texts.join("; "))
}

const SIXTY: &str = "angle_deg = 60\ntilt_deg = 1.5\nrelief_deg = 12\nmin_bore_mm = 14\n";

/// Every reason on its own: what fits, what does not, what is not known. M24x3: root radius at most
/// H/6 = 0.433, bore 20.752, lead angle 2.69° at the root; relief 12° gives 7.0° on flanks of 30°.
#[test]
fn single_points() {
    let partial =
        |rest: &str| format!("kind = \"partial\"\npitch_range_mm = [1.5, 3.0]\n{SIXTY}{rest}");
    for (name, side, toml, want, why) in [
        (
            "M24x3-6g",
            Side::External,
            partial("nose_radius_mm = 0.4"),
            Answer::Yes,
            "",
        ),
        (
            "M24x3-6g",
            Side::External,
            partial("nose_radius_mm = 0.6"),
            Answer::No,
            "larger than the root",
        ),
        (
            "M24x3-6g",
            Side::External,
            partial(""),
            Answer::Unknown,
            "nose is missing",
        ),
        (
            "M36x4-6g",
            Side::External,
            partial("nose_radius_mm = 0.4"),
            Answer::No,
            "made for pitches",
        ),
        (
            "M16x2-6H",
            Side::Internal,
            partial("nose_radius_mm = 0.1"),
            Answer::No,
            "goes into bores",
        ),
        (
            "M24x3-6g",
            Side::External,
            partial("nose_radius_mm = 0.4\nhand = \"left\""),
            Answer::No,
            "left-hand",
        ),
        (
            "G 1/2",
            Side::External,
            partial("nose_radius_mm = 0.2"),
            Answer::No,
            "60 degrees",
        ),
    ] {
        let (got, text) = answer(name, side, &toml);
        assert_eq!(got, want, "{name}: {text}");
        assert!(text.contains(why), "{text}");
    }
    let full = format!("kind = \"full\"\npitch_mm = 2\nnose_radius_mm = 0.27\n{SIXTY}");
    assert_eq!(answer("M30x2-6g", Side::External, &full).0, Answer::Yes);
    let (got, text) = answer("M24x3-6g", Side::External, &full);
    assert_eq!(
        (got, text.contains("made for a pitch of 2")),
        (Answer::No, true),
        "{text}"
    );
    // 12.7 threads an inch are no 2 mm.
    let inch = full.replace("pitch_mm = 2", "threads_per_inch = 12");
    assert_eq!(answer("M30x2-6g", Side::External, &inch).0, Answer::No);
    assert_eq!(answer("M24x3", Side::External, "").0, Answer::Unknown);
}

/// Two starts of Tr 40x14(P7): 7.7° at the root of 32 mm. A relief of 12° gives 3.3° on flanks of
/// 15°: without a tilt the flank rubs, tilted by 7° it clears.
#[test]
fn the_lead_angle_against_the_tilt() {
    let tool = |tilt: &str| {
        format!(
            "kind = \"full\"\npitch_mm = 7\nnose_flat_mm = 2.2\nangle_deg = 30\nrelief_deg = 12\n\
             tilt_deg = {tilt}\n"
        )
    };
    let (got, text) = answer("Tr 40x14(P7)", Side::External, &tool("0"));
    assert_eq!(got, Answer::No, "{text}");
    assert!(text.contains("degrees"), "{text}");
    let (got, text) = answer("Tr 40x14(P7)", Side::External, &tool("7"));
    assert!(matches!(got, Answer::Care | Answer::Yes), "{text}");
    let (got, _) = answer("Tr 40x14(P7) LH", Side::External, &tool("7"));
    assert_ne!(got, Answer::No);
    let unknown = tool("0").replace("relief_deg = 12\n", "");
    assert_eq!(
        answer("Tr 40x14(P7)", Side::External, &unknown).0,
        Answer::Care
    );
}

#[test]
fn taps_and_mills() {
    let tap = "kind = \"tap\"\npitch_mm = 3\ndesignation = \"M24x3\"\nhand = \"right\"\n";
    assert_eq!(answer("M24x3-6H", Side::Internal, tap).0, Answer::Yes);
    assert_eq!(answer("M24x3-6g", Side::External, tap).0, Answer::No);
    assert_eq!(answer("M27x3-6H", Side::Internal, tap).0, Answer::No);
    assert_eq!(answer("M24x3-LH", Side::Internal, tap).0, Answer::No);
    let nameless = "kind = \"tap\"\npitch_mm = 3\n";
    assert_eq!(
        answer("M24x3-6H", Side::Internal, nameless).0,
        Answer::Unknown
    );
    let mill = |diameter: f64| {
        format!(
            "kind = \"mill\"\npitch_mm = 1.5\nangle_deg = 60\nnose_radius_mm = 0.1\n\
             mill_diameter_mm = {diameter}\n"
        )
    };
    // M10x1.5-6H has 0.180 of tolerance on the pitch diameter (ISO 965-1).
    assert_eq!(
        answer("M10x1.5-6H", Side::Internal, &mill(6.0)).0,
        Answer::Yes
    );
    assert_eq!(
        answer("M10x1.5-6H", Side::Internal, &mill(7.5)).0,
        Answer::Care
    );
    assert_eq!(
        answer("M10x1.5-6H", Side::Internal, &mill(9.0)).0,
        Answer::No
    );
}

/// Closed form against values worked numerically, see `mill_distortion` in the published checks.
#[test]
fn what_a_mill_overcuts() {
    for (lead, cutter, major, want) in [
        (1.5, 7.5, 10.0, 0.051_29),
        (1.5, 6.0, 10.0, 0.025_65),
        (3.0, 16.0, 24.0, 0.056_99),
        (3.0, 12.0, 24.0, 0.028_50),
    ] {
        let got = mill_overcut(lead, 30f64.to_radians(), cutter, major);
        assert!((got - want).abs() < 1e-5, "{got} {want}");
    }
}

/// The best comes first; the edges are counted up.
#[test]
fn sorted_and_counted() {
    let facts = facts(
        "[[tool]]\nnumber = 1\nkind = \"full\"\npitch_mm = 2\nnose_radius_mm = 0.2\nangle_deg = 60\n\
         tilt_deg = 1.5\nrelief_deg = 12\n\
         [[tool]]\nnumber = 2\nkind = \"full\"\npitch_mm = 3\nnose_radius_mm = 0.4\nangle_deg = 60\n\
         tilt_deg = 1.5\nrelief_deg = 12\nedges = 3\nparts_per_edge = 40\n",
    );
    let thread = parse("M24x3-6g", None).unwrap();
    let verdicts = tools(&thread, Side::External, &facts);
    assert_eq!(verdicts[0].tool.number, Some(2));
    assert_eq!(verdicts[1].answer, Answer::No);
    assert!(
        verdicts[0]
            .reasons
            .iter()
            .any(|r| r.text.contains("120 parts an insert"))
    );
}
