//! `flankwise.toml`: which one holds, and what is said when it is wrong.

use super::*;

#[test]
fn errors_have_a_place_and_stop_the_run() {
    let shop = Shop::new();
    shop.write("a/part.nc", SURFACE_SPEED);
    shop.write("b/part.nc", SURFACE_SPEED);
    shop.write(
        "a/flankwise.toml",
        "[[machine]]\nid = \"lathe-2\"\nmax_rmp = 3000\n",
    );
    shop.write(
        "b/flankwise.toml",
        "[rules]\nsurface-speed-in-tread = \"off\"\n\n[[thread]]\ndesignation = \"M24x\u{1b}\"\n",
    );
    let ran = shop.run(&["check"], &["a", "b/part.nc"]);
    let shown = ran.shown(&shop);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(ran.out.is_empty());
    assert!(
        shown.contains(
            "error: a/flankwise.toml:3:1: unknown key `max_rmp` in [[machine]]: did you mean `max_rpm`?\n"
        ),
        "{shown}"
    );
    // A control character in a TOML text is an error of its own; nothing else is then looked at.
    assert!(shown.contains("error: b/flankwise.toml:5:20: "), "{shown}");
    assert!(!shown.contains('\u{1b}'));
    shop.write(
        "b/flankwise.toml",
        "[rules]\nsurface-speed-in-tread = \"off\"\n\n[[thread]]\ndesignation = \"M24y3\"\n",
    );
    let shown = shop.run(&["check"], &["b/part.nc"]).shown(&shop);
    assert!(
        shown.contains("b/flankwise.toml:2:1: unknown rule `surface-speed-in-tread`: did you mean `surface-speed-in-thread`?\n"),
        "{shown}"
    );
    assert!(
        shown.contains("b/flankwise.toml:5:15: `M24y3` is not a thread"),
        "{shown}"
    );
}

#[test]
fn the_nearest_configuration_wins_for_each_file() {
    let shop = Shop::new();
    shop.write(
        "flankwise.toml",
        "[rules]\nsurface-speed-in-thread = \"off\"\n",
    );
    shop.write("loud/flankwise.toml", "");
    shop.write("quiet/deep/part.nc", SURFACE_SPEED);
    shop.write("loud/part.nc", SURFACE_SPEED);
    let ran = shop.run(&["check", "--quiet"], &["."]);
    let places: Vec<_> = ran.out().matches("part.nc:9:1").collect();
    assert_eq!(places.len(), 1, "{}", ran.out());
    assert!(ran.out().contains("loud/part.nc:9:1"));
    let given = shop.path("loud/flankwise.toml");
    let args = ["check", "--quiet", "--config", given.to_str().unwrap()];
    let ran = shop.run(&args, &["quiet/deep/part.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    let args = ["check", "--config", "nowhere/flankwise.toml"];
    let ran = shop.run(&args, &["quiet/deep/part.nc"]);
    assert_eq!(ran.exit, Exit::Usage);
    assert!(
        ran.err.contains("there is no such configuration file"),
        "{}",
        ran.err
    );
}

#[cfg(unix)]
#[test]
fn the_folder_above_a_link_is_not_above_its_target() {
    let shop = Shop::new();
    shop.write(
        "off/flankwise.toml",
        "[rules]\nsurface-speed-in-thread = \"off\"\n",
    );
    shop.write("off/real/part.nc", SURFACE_SPEED);
    shop.write("on/other.nc", SURFACE_SPEED);
    std::os::unix::fs::symlink(shop.path("on"), shop.path("off/link")).unwrap();
    // `off/link/..` is the shop, not `off`.
    let ran = shop.run(&["check"], &["off/link/../on/other.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    let ran = shop.run(&["check"], &["off/real/../real/part.nc"]);
    assert_eq!(ran.exit, Exit::Clean);
}

#[test]
fn facts_reach_the_judgement() {
    let shop = Shop::new();
    shop.write("lathe/part.nc", b"G21\nT0303\nG97 S1000 M3\nG0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nM30\n");
    shop.write(
        "flankwise.toml",
        "[[machine]]\nid = \"lathe-2\"\nfiles = [\"lathe/\"]\nrapid_x_m_min = 10\nrapid_z_m_min = 20\n\
         [[thread]]\nfiles = [\"part.nc\"]\ntool = 3\ndesignation = \"M30x2-6g\"\n",
    );
    let ran = shop.run(&["passes", "--format", "json"], &["lathe"]);
    let section = &ran.json()["files"][0]["sections"][0];
    assert_eq!(section["designation"]["text"], "M30x2-6g");
    assert_eq!(section["designation"]["from"], "config");
    let why = section["designation"]["why"].as_str().unwrap();
    assert!(
        why.contains("flankwise.toml: thread 1 designation"),
        "{why}"
    );
    let text = shop.run(&["passes"], &["lathe"]);
    assert!(
        text.out().contains("rapids of machine lathe-2"),
        "{}",
        text.out()
    );
}
