//! Which files of a folder are programs, and what is said of those that cannot be read.

use super::*;

fn checked(shop: &Shop, paths: &[&str]) -> Vec<String> {
    let ran = shop.run(&["check", "--format", "json"], paths);
    let root = format!("{}/", shop.root.path().display());
    let json = ran.json();
    let files = json["files"].as_array().unwrap();
    files
        .iter()
        .map(|file| file["path"].as_str().unwrap().replace(&root, ""))
        .collect()
}

#[test]
fn programs_are_chosen_by_name_and_content() {
    let shop = Shop::new();
    for name in [
        "SHAFT.NC",
        "a.mpf",
        "O1201",
        "notes.txt",
        "b.h",
        "4711.001",
        "sub/c.eia",
    ] {
        shop.write(name, SOUND);
    }
    shop.write(
        "readme.txt",
        "Threads cut on lathe 2:\nM24 shaft\nG 1/2 pipe\n",
    );
    shop.write("vector.h", "#define G1 3\nint m3(void);\n");
    shop.write("Makefile", "all:\n\tcc main.c\n");
    shop.write("drawing.step", SOUND);
    shop.write(".hidden/x.nc", SOUND);
    shop.write("old/x.nc", SOUND);
    shop.write(".gitignore", "old/\n");
    assert_eq!(
        checked(&shop, &["."]),
        [
            "4711.001",
            "O1201",
            "SHAFT.NC",
            "a.mpf",
            "b.h",
            "notes.txt",
            "sub/c.eia"
        ]
    );
    // A file that is named is read whatever it is called, once, in the order given.
    assert_eq!(
        checked(&shop, &["drawing.step", "sub", "sub/c.eia", "a.mpf"]),
        ["drawing.step", "sub/c.eia", "a.mpf"]
    );
}

#[test]
fn an_empty_folder_is_not_clean() {
    let shop = Shop::new();
    shop.write("readme.txt", "nothing to cut\n");
    for command in ["check", "passes", "fix"] {
        let ran = shop.run(&[command], &["."]);
        assert_eq!(ran.exit, Exit::Unread, "{command}");
        assert!(ran.err.contains("no program found in "), "{}", ran.err);
    }
    let ran = shop.run(&["check", "--format", "json"], &["."]);
    assert_eq!(ran.json()["files"].as_array().unwrap().len(), 0);
}

#[cfg(unix)]
#[test]
fn what_cannot_be_read_is_said_and_the_rest_is_judged() {
    use std::os::unix::fs::symlink;
    let shop = Shop::with_only("surface-speed-in-thread");
    shop.write("sound.nc", SOUND);
    shop.write("wide.nc", b"\xff\xfeG\0\x30\0");
    symlink("gone.nc", shop.path("broken.nc")).unwrap();
    symlink("loop.nc", shop.path("loop.nc")).unwrap();
    symlink("sound.nc", shop.path("linked.nc")).unwrap();
    let ran = shop.run(&["check"], &[".", "missing\u{1b}[31m.nc"]);
    insta::assert_snapshot!(ran.shown(&shop));
    let json = shop.run(&["check", "--format", "json"], &["."]).json();
    assert_eq!(json["summary"]["unread"], 3);
    assert_eq!(json["summary"]["files"], 2);
    assert_eq!(json["unread"].as_array().unwrap().len(), 3);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let shop = Shop::new();
    for n in 0..270 {
        let text = if n % 3 == 0 { SURFACE_SPEED } else { SOUND };
        shop.write(&format!("{}/O{n}.nc", n % 7), text);
    }
    for format in ["text", "json"] {
        let one = shop.run(&["check", "--format", format, "--jobs", "1"], &["."]);
        let many = shop.run(&["check", "--format", format, "--jobs", "8"], &["."]);
        assert_eq!(one.exit, Exit::Findings);
        assert!(one.out == many.out && one.err == many.err, "{format}");
    }
}
