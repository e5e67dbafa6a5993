//! Chips and forces of passes, what they leave, tools and symptoms on the command line.

use serde_json::Value;

use super::*;

const SHOP: &str = "[[machine]]\nid = \"lathe-2\"\nrapid_x_m_min = 12\nrapid_z_m_min = 15\ntime_factor = 2\n\
    [material]\nname = \"low-alloy steel\"\n\
    [production]\nparts_per_batch = 500\n\
    [[tool]]\nnumber = 3\nkind = \"full\"\npitch_mm = 3\nangle_deg = 60\nnose_radius_mm = 0.4\n\
    tilt_deg = 1.5\nrelief_deg = 12\nparts_per_edge = 40\nedges = 3\n\
    [[tool]]\nnumber = 5\nkind = \"tap\"\npitch_mm = 3\ndesignation = \"M24x3\"\n";

/// Too deep for a nose of 0.4: d2 = 19.9 + 2.598 - 0.8 = 21.698, 6g asks for 21.803 to 22.003.
const LOOSE: &[u8] = b"%\nO2341 (GLOBE VALVE, STEM END)\n(THREAD M24X3-6G)\nG21 G40 G99\nT0303\n\
    G97 S800 M3\nG0 X28. Z11.\nG76 P020055 Q70 R0.03\nG76 X19.9 Z-32. P2050 Q440 F3.\nG0 X100. M5\nM30\n%\n";

fn shop() -> Shop {
    let shop = Shop::new();
    shop.write("flankwise.toml", SHOP);
    shop.write("stem.nc", LOOSE);
    shop
}

fn ran(shop: &Shop, args: &[&str]) -> Ran {
    let root = shop.root.path();
    let args = args.iter().map(|arg| match arg.strip_prefix('@') {
        Some(name) => root.join(name).into_os_string(),
        None => OsString::from(arg),
    });
    flankwise(args.collect::<Vec<_>>(), b"")
}

/// The document of `passes` carries chips, forces, seconds and the finished thread; keys that were
/// there stay.
#[test]
fn passes_tell_chips_forces_and_what_is_left() {
    let shop = shop();
    let json = ran(&shop, &["passes", "@stem.nc", "--format", "json"]).json();
    let section = &json["files"][0]["sections"][0];
    let passes = section["passes"].as_array().unwrap();
    let number = |value: &Value| value.as_f64().unwrap();
    // 27.5°: the edge ahead takes sin 30° + tan 27.5° · cos 30° = 0.951 of the step.
    let second = &passes[1];
    let step = number(&second["step_mm"]);
    assert!((number(&second["chip_mm"]["leading"]) - 0.9508 * step).abs() < 1e-3);
    assert!((number(&second["chip_mm"]["trailing"]) - 0.0492 * step).abs() < 1e-3);
    assert!(number(&second["force_n"]) > 100.0);
    assert!(
        section["force_from"]
            .as_str()
            .unwrap()
            .contains("low-alloy steel")
    );
    // M = F · d / 2000.
    let torque = number(&second["force_n"]) * number(&second["x_mm"]) / 2000.0;
    assert!((number(&second["torque_nm"]) - torque).abs() < 0.02);
    let ratio = number(&second["area_mm2"]) / number(&passes[0]["area_mm2"]);
    assert!((number(&second["area_ratio"]) - ratio).abs() < 1e-3);
    assert_eq!(passes[0]["area_ratio"], Value::Null);
    let left = &section["left"];
    assert!(
        (number(&left["pitch_diameter_mm"]) - 21.698).abs() < 1e-3,
        "{left}"
    );
    assert_eq!(
        (left["go"].as_str(), left["no_go"].as_str()),
        (Some("enters"), Some("enters"))
    );
    assert!((number(&left["wear_offset_mm"]) - 0.205).abs() < 1e-3);
    let seconds = &section["seconds"];
    let parts = ["retract", "rapid_return", "infeed", "synchronisation"];
    let back: f64 = parts.iter().map(|part| number(&seconds[*part])).sum();
    assert!(
        (back - number(&seconds["return"])).abs() < 3e-3,
        "{seconds}"
    );
    // Twice by the stop-watch.
    shop.write("flankwise.toml", SHOP.replace("time_factor = 2\n", ""));
    let plain = ran(&shop, &["passes", "@stem.nc", "--format", "json"]).json();
    let plain = &plain["files"][0]["sections"][0]["seconds"];
    assert!((number(&seconds["total"]) - 2.0 * number(&plain["total"])).abs() < 5e-3);
}

#[test]
fn passes_for_a_person() {
    let shop = shop();
    let out = ran(&shop, &["passes", "@stem.nc"]);
    let out = out.out();
    for wanted in [
        "chip mm",
        "force N",
        "force: estimate for comparison; constants of low-alloy steel",
        "leaves, with a nose radius of 0.400 mm: pitch diameter 21.698 (limits 21.803 to 22.003)",
        "GO enters, NO-GO enters",
        "wear offset to the middle of the limits: +0.205 on the diameter",
        "by its stop-watch",
    ] {
        assert!(out.contains(wanted), "{wanted}\n{out}");
    }
    // Without facts no force and no finished thread, and nobody guesses one.
    fs::remove_file(shop.root.path().join("flankwise.toml")).unwrap();
    let out = ran(&shop, &["passes", "@stem.nc"]);
    assert!(!out.out().contains("force"), "{}", out.out());
    assert!(!out.out().contains("with a nose radius"), "{}", out.out());
    assert!(
        out.out().contains("ask for a nose of 0.248 to 0.348"),
        "{}",
        out.out()
    );
}

#[test]
fn tools_of_the_shop() {
    let shop = shop();
    let asked = |args: &[&str]| {
        let mut all = vec!["tools", "--config", "@flankwise.toml"];
        all.extend(args);
        ran(&shop, &all)
    };
    let bolt = asked(&["M24x3-6g", "--length", "30", "--rpm", "800"]);
    assert_eq!(bolt.exit, Exit::Clean, "{}", bolt.err);
    let out = bolt.out();
    assert!(out.contains("yes        T3 full-profile tool"), "{out}");
    assert!(out.contains("no         T5 tap"), "{out}");
    assert!(out.contains("13 edges or tools"), "{out}");
    assert!(out.contains("caution:"), "{out}");
    let nut = asked(&["M24x3-6H", "--format", "json"]).json();
    assert_eq!(nut["side"], "internal");
    let tools = nut["tools"].as_array().unwrap();
    // The tap fits; a nose of 0.4 is too large for the root of the nut.
    assert_eq!(tools[0]["number"], 5);
    assert_eq!(tools[0]["answer"], "yes");
    assert_eq!(tools[1]["number"], 3);
    assert_eq!(tools[1]["answer"], "no");
    assert_eq!(nut["methods"], Value::Null);
    for (args, why) in [
        (&["M24y3"][..], "M24y3"),
        (&["M24X3-6G"], "either side"),
        (&["M24x3-6g", "--side", "internal"], "external"),
        (&["M24x3-6g", "--length", "0"], "above 0"),
        (&["M24x3-6g", "--length", "nan"], "above 0"),
    ] {
        let ran = asked(args);
        assert_eq!(ran.exit, Exit::Usage, "{args:?}");
        assert!(ran.err.contains(why), "{args:?}: {}", ran.err);
    }
    shop.write("flankwise.toml", "");
    let none = asked(&["M24x3-6g"]);
    assert_eq!(none.exit, Exit::Clean);
    assert!(none.err.contains("no [[tool]]"), "{}", none.err);
}

/// M24x3, 30 mm of it, in a hole: tapped 2 · 30 / (150 · 3) min and 1 s, milled in one turn of
/// 22.78 s and as much to come in and go out (worked in `choose::methods`), for 500 parts.
#[test]
fn three_ways_of_making_one_thread() {
    let shop = shop();
    shop.write(
        "flankwise.toml",
        "[[tool]]\nnumber = 1\nkind = \"partial\"\npitch_range_mm = [2, 4]\nnose_radius_mm = 0.2\n\
         angle_deg = 60\ntilt_deg = 2\nrelief_deg = 15\nmin_bore_mm = 18\nparts_per_edge = 50\n\
         [[tool]]\nnumber = 5\nkind = \"tap\"\npitch_mm = 3\ndesignation = \"M24x3\"\n\
         parts_per_edge = 200\n\
         [[tool]]\nnumber = 7\nkind = \"mill\"\npitch_mm = 3\nangle_deg = 60\nnose_radius_mm = 0.2\n\
         mill_diameter_mm = 16\nedge_length_mm = 30\nparts_per_edge = 125\n",
    );
    let args = "tools M24x3-6H --length 30 --batch 500 --rpm 600 --tap-rpm 150 --reversal 1 \
                --mill-feed 200 --format json --config @flankwise.toml";
    let json = ran(&shop, &args.split_whitespace().collect::<Vec<_>>()).json();
    let ways = json["methods"].as_array().unwrap();
    let number = |way: usize, key: &str| ways[way][key].as_f64().unwrap();
    assert_eq!(ways[0]["method"], "single point");
    assert!(number(0, "seconds") > 10.0);
    assert_eq!(number(0, "edges"), 10.0);
    assert!((number(1, "seconds") - 9.0).abs() < 1e-3);
    assert_eq!(number(1, "edges"), 3.0);
    assert!((number(2, "seconds") - 2.0 * 22.780).abs() < 0.02);
    assert_eq!(number(2, "edges"), 4.0);
    // Teeth over less than the thread go round for every lead: 10 turns and one.
    let short = String::from_utf8(shop.read("flankwise.toml")).unwrap();
    let short = short.replace("edge_length_mm = 30", "edge_length_mm = 29");
    shop.write("flankwise.toml", &short);
    let json = ran(&shop, &args.split_whitespace().collect::<Vec<_>>()).json();
    let seconds = json["methods"][2]["seconds"].as_f64().unwrap();
    assert!((seconds - 11.0 * 22.780).abs() < 0.02, "{seconds}");
    let args = "tools M24x3-6H --length 30 --batch 500 --config @flankwise.toml";
    let text = ran(&shop, &args.split_whitespace().collect::<Vec<_>>());
    for option in ["--rpm", "--tap-rpm", "--mill-feed"] {
        assert!(text.out().contains(option), "{}", text.out());
    }
}

#[test]
fn from_what_is_seen_to_checks() {
    let shop = shop();
    let list = ran(&shop, &["explain", "--symptom"]);
    assert_eq!(list.exit, Exit::Clean);
    assert!(list.out().contains("no-go-enters"), "{}", list.out());
    let page = ran(&shop, &["explain", "--symptom", "no-go-enters"]);
    assert!(
        page.out().contains("  1. pitch-diameter-out: "),
        "{}",
        page.out()
    );
    assert!(
        page.out().contains("caution: prove any change out"),
        "{}",
        page.out()
    );
    let found = ran(
        &shop,
        &["explain", "--symptom", "no-go-enters", "--in", "@stem.nc"],
    );
    assert_eq!(found.exit, Exit::Findings, "{}", found.err);
    let lines: Vec<&str> = found.out().lines().collect();
    assert!(
        lines[1].starts_with("  FOUND    pitch-diameter-out"),
        "{}",
        found.out()
    );
    assert!(found.out().contains("  clear    "), "{}", found.out());
    let wrong = ran(&shop, &["explain", "--symptom", "no-go-enter"]);
    assert_eq!(wrong.exit, Exit::Usage);
    assert!(
        wrong.err.contains("did you mean no-go-enters?"),
        "{}",
        wrong.err
    );
    let nothing = ran(&shop, &["explain", "--symptom", "--in", "@stem.nc"]);
    assert_eq!(nothing.exit, Exit::Usage);
    let nowhere = ran(
        &shop,
        &["explain", "--symptom", "too-slow", "--in", "@none.nc"],
    );
    assert_eq!(nowhere.exit, Exit::Unread);
}
