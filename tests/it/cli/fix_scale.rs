//! `fix` over trees: reports, differences that other programs apply, links, what stands in the way.

use super::gate::Repository;
use super::*;

/// A lead of 2 where the note says 2.5.
fn wrong(tool: u32, end: &str) -> String {
    format!(
        "%{end}O1205 (PUMP STUD){end}G21 G40 G99{end}T0{tool}0{tool}{end}(THREAD M20X2.5-6G){end}G97 S900 M3{end}\
         G0 X24. Z9.{end}G76 P020055 Q60 R0.03{end}G76 X16.933 Z-32. P1534 Q400 F2.{end}G0 X100. Z100. M5{end}M30{end}%{end}"
    )
}

const MOTION: [&str; 3] = ["fix", "--allow", "motion"];

#[test]
fn git_applies_the_difference_and_gets_the_same_bytes() {
    let repository = Repository::new();
    let shop = &repository.shop;
    shop.write("lathe1/a.nc", wrong(3, "\n"));
    shop.write("lathe1/b.nc", wrong(5, "\n"));
    shop.write("lathe2/deep/c.nc", SOUND);
    repository.commit();
    let ran = shop.run(&["fix", "--diff", "--allow", "motion"], &["."]);
    assert_eq!(ran.exit, Exit::Findings);
    assert!(
        ran.err
            .contains("would be mended: 2 findings in 2 programs of 3"),
        "{}",
        ran.err
    );
    let patch = ran
        .out()
        .replace(&format!("{}/", shop.root.path().display()), "");
    let patch = shop.write("fixes.patch", patch);
    let files = ["lathe1/a.nc", "lathe1/b.nc"];
    assert!(
        files.iter().all(|file| shop.read(file)
            == wrong(if file.contains("/a") { 3 } else { 5 }, "\n").as_bytes())
    );
    repository.git(&["apply", "-p0", patch.to_str().unwrap()]);
    let patched = files.map(|file| shop.read(file));
    repository.git(&["checkout", "-q", "--", "."]);
    shop.run(&MOTION, &["."]);
    assert_eq!(files.map(|file| shop.read(file)), patched);
    assert!(patched[0].windows(5).any(|window| window == b"F2.5\n"));
}

#[test]
fn the_report_says_what_was_and_what_was_not_changed() {
    let shop = Shop::new();
    shop.write("a.nc", wrong(3, "\r\n"));
    shop.write("bad.nc", SURFACE_SPEED);
    shop.write("sound.nc", SOUND);
    shop.write("utf16.nc", b"\xff\xfeG\x000\x00");
    let locked = shop.write("locked.nc", wrong(5, "\n"));
    let mut rights = fs::metadata(&locked).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&locked, rights).unwrap();
    let would = shop
        .run(
            &["fix", "--diff", "--allow", "motion", "--format=json"],
            &["."],
        )
        .json();
    assert_eq!(
        (&would["written"], &would["summary"]["changed"]),
        (&false.into(), &2.into())
    );
    assert_eq!(shop.read("a.nc"), wrong(3, "\r\n").as_bytes());
    let ran = shop.run(&["fix", "--allow", "motion", "--format=json"], &["."]);
    assert_eq!(ran.exit, Exit::Unread);
    let json = ran.json();
    assert_eq!(json["written"], true);
    let file = |name: &str| {
        let files = json["files"].as_array().unwrap();
        files
            .iter()
            .find(|file| file["path"].as_str().unwrap().ends_with(name))
            .unwrap()
    };
    assert_eq!(file("a.nc")["changed"], true);
    assert_eq!(file("a.nc")["applied"][0]["rule"], "lead-vs-designation");
    assert_eq!(file("a.nc")["applied"][0]["kind"], "motion");
    assert_eq!(file("sound.nc")["changed"], false);
    assert_eq!(file("bad.nc")["left"][0]["rule"], "surface-speed-in-thread");
    let unread: Vec<(&str, &str)> = json["unread"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| {
            (
                one["path"].as_str().unwrap().rsplit('/').next().unwrap(),
                one["why"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(unread.len(), 2);
    assert!(
        unread[0].0 == "locked.nc" && unread[0].1.contains("read-only"),
        "{unread:?}"
    );
    assert!(
        unread[1].0 == "utf16.nc" && unread[1].1.contains("UTF-16"),
        "{unread:?}"
    );
    assert_eq!(json["summary"]["changed"], 1);
    assert!(
        json["caution"]
            .as_str()
            .unwrap()
            .contains("Prove the changed program out")
    );
    assert_eq!(shop.read("locked.nc"), wrong(5, "\n").as_bytes());
    assert_eq!(
        shop.read("a.nc"),
        wrong(3, "\r\n").replace("F2.\r", "F2.5\r").as_bytes()
    );
    let piped = flankwise(["fix", "-", "--format=json"], SOUND);
    assert_eq!(piped.exit, Exit::Usage);
}

#[test]
fn rules_are_chosen_and_waivers_kept() {
    let shop = Shop::new();
    shop.write("a.nc", wrong(3, "\n"));
    let ran = shop.run(
        &[
            "fix",
            "--allow",
            "motion",
            "--ignore",
            "lead-vs-designation",
        ],
        &["."],
    );
    assert_eq!(ran.exit, Exit::Clean);
    assert_eq!(shop.read("a.nc"), wrong(3, "\n").as_bytes());
    let noted = wrong(3, "\n").replace("G97", "(ALLOW LEAD-VS-DESIGNATION, AS ORDERED)\nG97");
    shop.write("a.nc", &noted);
    shop.run(&MOTION, &["."]);
    assert_eq!(shop.read("a.nc"), noted.as_bytes());
    let typo = shop.run(&["fix", "--select", "no-such-rule"], &["."]);
    assert_eq!(typo.exit, Exit::Usage);
}

/// Names that differ in capitals only are two files here, and one where the disk says so.
#[test]
fn names_that_differ_in_capitals() {
    let shop = Shop::new();
    shop.write("O1205.NC", wrong(3, "\n"));
    shop.write("o1205.nc", wrong(5, "\n"));
    let apart = shop.read("O1205.NC") != shop.read("o1205.nc");
    let ran = shop.run(&["fix", "--allow", "motion"], &["O1205.NC", "o1205.nc"]);
    assert_eq!(ran.exit, Exit::Clean, "{}", ran.err);
    let count = if apart {
        "2 findings in 2 programs of 2"
    } else {
        "1 finding in 1 program of 1"
    };
    assert!(
        ran.err.contains(&format!("mended: {count};")),
        "{}",
        ran.err
    );
    let mended = |text: &[u8]| {
        text.windows(5)
            .filter(|window| *window == b"F2.5\n")
            .count()
    };
    assert_eq!(
        (
            mended(&shop.read("O1205.NC")),
            mended(&shop.read("o1205.nc"))
        ),
        (1, 1)
    );
    assert_eq!(
        fs::read_dir(shop.root.path()).unwrap().count(),
        if apart { 2 } else { 1 }
    );
}

#[cfg(unix)]
#[test]
fn links_stay_links() {
    let shop = Shop::new();
    let real = shop.write("store/real.nc", wrong(3, "\n"));
    fs::create_dir(shop.path("desk")).unwrap();
    std::os::unix::fs::symlink("../store/real.nc", shop.path("desk/link.nc")).unwrap();
    std::os::unix::fs::symlink("nowhere.nc", shop.path("desk/broken.nc")).unwrap();
    let ran = shop.run(&MOTION, &["desk"]);
    assert_eq!(ran.exit, Exit::Unread);
    assert!(
        ran.err.contains("the link points to nothing"),
        "{}",
        ran.err
    );
    assert!(shop.path("desk/link.nc").is_symlink());
    assert_eq!(
        fs::read(real).unwrap(),
        wrong(3, "\n").replace("F2.\n", "F2.5\n").as_bytes()
    );
}

/// The hooks of the repository name commands and options that exist.
#[test]
fn the_hooks_run() {
    let hooks = fs::read_to_string(corpus().join("../.pre-commit-hooks.yaml")).unwrap();
    let entries: Vec<&str> = hooks
        .lines()
        .filter_map(|line| line.trim().strip_prefix("entry: flankwise "))
        .collect();
    assert_eq!(entries.len(), 2);
    let shop = Shop::new();
    shop.write("sound.nc", SOUND);
    for entry in entries {
        let args: Vec<&str> = entry.split(' ').collect();
        let ran = shop.run(&args, &["sound.nc"]);
        assert_eq!(ran.exit, Exit::Clean, "{entry}: {}", ran.err);
        assert!(ran.out.is_empty(), "{entry}");
    }
}
