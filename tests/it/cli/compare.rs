//! `compare`: two files, two trees, a revision.

use super::gate::Repository;
use super::*;

/// The same thread with half the speed and two spring passes more.
fn slower() -> Vec<u8> {
    let text = String::from_utf8(SOUND.to_vec()).unwrap();
    text.replace("S1000", "S500")
        .replace("P021055", "P041055")
        .into_bytes()
}

#[test]
fn two_programs() {
    let shop = Shop::new();
    shop.write("old.nc", SOUND);
    shop.write("new.nc", slower());
    let ran = shop.run(&["compare"], &["old.nc", "new.nc"]);
    assert_eq!(ran.exit, Exit::Clean);
    insta::assert_snapshot!(ran.shown(&shop));
    let json = shop
        .run(&["compare", "--format=json"], &["old.nc", "new.nc"])
        .json();
    let thread = &json["programs"][0]["threads"][0];
    assert_eq!(thread["change"], "changed");
    assert_eq!(
        thread["differs"],
        serde_json::json!(["passes", "speed", "time"])
    );
    assert_eq!(
        (&thread["before"]["passes"], &thread["after"]["passes"]),
        (&12.into(), &14.into())
    );
    let seconds = |side: &str| thread[side]["seconds"].as_f64().unwrap();
    let added = json["programs"][0]["added_seconds"].as_f64().unwrap();
    assert!((added - (seconds("after") - seconds("before"))).abs() < 0.002);
    assert!(json["caution"].as_str().unwrap().contains("Prove"));
    let markdown = shop.run(&["compare", "--format=markdown"], &["old.nc", "new.nc"]);
    let row = "| passes | 12 \\(1 spring\\) | 14 \\(3 spring\\) |";
    assert!(markdown.out().contains(row), "{}", markdown.out());
    assert!(
        markdown.out().contains("> caution"),
        "the cautions are shown"
    );
    let same = shop.run(&["compare"], &["old.nc", "old.nc"]);
    assert_eq!(
        same.out(),
        "1 program, 0 changed: 0 threads differ; 0 new findings, 0 cured\n"
    );
}

#[test]
fn the_time_budget() {
    let shop = Shop::new();
    shop.write("old.nc", SOUND);
    shop.write("new.nc", slower());
    let compare = |args: &[&str], paths: &[&str]| {
        let mut all = vec!["compare"];
        all.extend(args);
        shop.run(&all, paths)
    };
    let over = compare(&["--time-budget=5"], &["old.nc", "new.nc"]);
    assert_eq!(over.exit, Exit::Findings);
    assert!(
        over.out()
            .contains("error[slower-than-budget]: the change adds "),
        "{}",
        over.out()
    );
    assert_eq!(
        compare(&["--time-budget=500"], &["old.nc", "new.nc"]).exit,
        Exit::Clean
    );
    // Faster is always within it.
    assert_eq!(
        compare(&["--time-budget=0"], &["new.nc", "old.nc"]).exit,
        Exit::Clean
    );
    shop.write("flankwise.toml", "[ci]\ntime_budget_s = 5\n");
    let over = compare(&[], &["old.nc", "new.nc"]);
    assert_eq!(over.exit, Exit::Findings);
    assert!(over.out().contains("the budget is 5 s ("), "{}", over.out());
    for format in ["markdown", "json"] {
        assert!(
            compare(&["--format", format], &["old.nc", "new.nc"])
                .out()
                .contains("the budget is 5 s")
        );
    }
    // Without a constant speed there is no time, and no guess.
    shop.write("new.nc", SURFACE_SPEED);
    let unknown = compare(&["--fail-on=never"], &["old.nc", "new.nc"]);
    assert_eq!(unknown.exit, Exit::Clean);
    assert!(unknown.out().contains("not judged: slower-than-budget: the time of the thread in lines 8 to 9 of the new program is not known"), "{}", unknown.out());
    let wrong = compare(&["--time-budget=-1"], &["old.nc", "new.nc"]);
    assert_eq!(wrong.exit, Exit::Usage);
}

#[test]
fn two_trees() {
    let shop = Shop::new();
    shop.write("old/lathe/same.nc", SOUND);
    shop.write("old/lathe/edited.nc", SOUND);
    shop.write("old/lathe/moved.nc", SOUND);
    shop.write("old/lathe/gone.nc", SURFACE_SPEED);
    shop.write("new/lathe/same.nc", SOUND);
    shop.write("new/lathe/edited.nc", SURFACE_SPEED);
    shop.write("new/lathe2/moved.nc", SOUND);
    shop.write("new/lathe/fresh.nc", SURFACE_SPEED);
    let ran = shop.run(&["compare", "--format=json"], &["old", "new"]);
    assert_eq!(ran.exit, Exit::Findings);
    let json = ran.json();
    let mut seen: Vec<(String, String, usize, usize)> = json["programs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|program| {
            let name = program["path"]
                .as_str()
                .unwrap()
                .rsplit('/')
                .next()
                .unwrap()
                .to_owned();
            let change = program["threads"][0]["change"].as_str().unwrap().to_owned();
            let count = |name: &str| program["threads"][0][name].as_array().unwrap().len();
            (name, change, count("new"), count("cured"))
        })
        .collect();
    seen.sort();
    let row =
        |name: &str, change: &str, new, cured| (name.to_owned(), change.to_owned(), new, cured);
    assert_eq!(
        seen,
        [
            row("edited.nc", "changed", 1, 0),
            row("fresh.nc", "added", 1, 0),
            row("gone.nc", "removed", 0, 1),
            row("moved.nc", "same", 0, 0),
            row("same.nc", "same", 0, 0),
        ]
    );
    let back = shop.run(&["compare"], &["new", "old"]);
    assert!(
        back.out()
            .contains("cured: error[surface-speed-in-thread] line 9"),
        "{}",
        back.out()
    );
}

#[test]
fn since_a_revision() {
    let repository = Repository::new();
    let shop = &repository.shop;
    shop.write("lathe/edited.nc", SOUND);
    shop.write("lathe/renamed.nc", slower());
    shop.write("lathe/gone.nc", SURFACE_SPEED);
    shop.write("lathe/same.nc", SURFACE_SPEED);
    shop.write("lathe/notes.txt", "M24 x 3 shaft");
    repository.commit();
    shop.write("lathe/edited.nc", SURFACE_SPEED);
    repository.git(&["mv", "lathe/renamed.nc", "lathe/W\u{e4}lle.nc"]);
    fs::remove_file(shop.path("lathe/gone.nc")).unwrap();
    fs::remove_file(shop.path("lathe/notes.txt")).unwrap();
    shop.write("lathe/fresh.nc", SOUND);
    let ran = shop.run(&["compare", "--since", "HEAD"], &["lathe"]);
    assert_eq!(ran.exit, Exit::Findings, "{}", ran.err);
    insta::assert_snapshot!(ran.shown(shop));
    let one = shop
        .run(
            &["compare", "--since", "HEAD", "--format=json"],
            &["lathe/edited.nc"],
        )
        .json();
    assert_eq!(one["summary"]["programs"], 1);
    assert_eq!(one["programs"][0]["old_path"], serde_json::Value::Null);
    let wrong = shop.run(&["compare", "--since", "no-such"], &["lathe"]);
    assert_eq!(wrong.exit, Exit::Usage);
    assert!(wrong.err.contains("git knows no revision no-such"));
}

#[test]
fn nothing_in_a_program_is_markup() {
    let shop = Shop::new();
    let text = String::from_utf8(SOUND.to_vec()).unwrap();
    shop.write("old.nc", &text);
    let hostile = text
        .replace("(PUMP SHAFT)", "(<script> | [a](b) @all `x`)")
        .replace("S1000", "S900");
    shop.write("a|b`<i>.nc", hostile);
    let ran = shop.run(&["compare", "--format=markdown"], &["old.nc", "a|b`<i>.nc"]);
    assert!(
        !ran.out().contains("<script>") && !ran.out().contains("a|b`"),
        "{}",
        ran.out()
    );
    for line in ran
        .out()
        .lines()
        .filter(|line| line.starts_with("| ") && !line.contains("---"))
    {
        let bars = line.replace("\\|", "").matches('|').count();
        assert_eq!(bars, 4, "{line}");
    }
}
