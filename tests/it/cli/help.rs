//! Help, manual page, completions; every command ends with the statuses that it promises.

use super::*;

/// The commands, as the help lists them.
fn commands() -> Vec<String> {
    let help = flankwise(["--help"], b"");
    let rest = help.out().split("Commands:\n").nth(1).unwrap();
    rest.lines()
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .map(|line| line.split_whitespace().next().unwrap().to_owned())
        .filter(|name| name != "help")
        .collect()
}

#[test]
fn every_command_and_option_is_documented() {
    let commands = commands();
    for wanted in [
        "check",
        "passes",
        "thread",
        "fix",
        "compare",
        "init",
        "explain",
        "schema",
        "completions",
        "man",
        "lsp",
    ] {
        assert!(
            commands.iter().any(|name| name == wanted),
            "{wanted}: {commands:?}"
        );
    }
    let readme = fs::read_to_string(corpus().join("../README.md")).unwrap();
    for name in &commands {
        assert!(
            readme.contains(&format!("| `flankwise {name}")),
            "README.md: {name}"
        );
        let help = flankwise([name.as_str(), "--help"], b"");
        assert_eq!(help.exit, Exit::Clean, "{name}");
        assert!(
            help.out()
                .lines()
                .next()
                .is_some_and(|line| line.len() > 10),
            "{name}"
        );
        // An option is followed by its text, on its line or the next.
        let lines: Vec<&str> = help.out().lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let option = line.trim_start();
            if !line.starts_with("  ") || !option.starts_with('-') || option.starts_with("- ") {
                continue;
            }
            let told = option
                .split_once("  ")
                .is_some_and(|(_, text)| !text.trim().is_empty())
                || lines
                    .get(at + 1)
                    .is_some_and(|next| next.starts_with("        ") && !next.trim().is_empty());
            assert!(told, "{name}: {line}");
        }
    }
}

/// What narrows a gate's run goes with the commands that look at a tree, and with no other: an
/// option that a command would not heed is wrong usage there.
#[test]
fn each_command_has_the_options_that_it_heeds() {
    let offered: [(&str, &[&str]); 6] = [
        ("--files-from", &["check", "fix", "audit"]),
        ("--changed-since", &["check", "fix", "audit"]),
        ("--today", &["check", "fix", "audit", "compare", "explain"]),
        (
            "--stdin-filename",
            &["check", "fix", "audit", "passes", "plan", "convert"],
        ),
        ("--jobs", &["check", "fix", "audit", "passes", "init"]),
        (
            "--config",
            &[
                "check", "fix", "audit", "passes", "plan", "convert", "compare", "thread", "write",
                "tools", "explain",
            ],
        ),
    ];
    for (option, wanted) in offered {
        for name in commands() {
            let help = flankwise([name.as_str(), "--help"], b"");
            let words = help.out().split_whitespace();
            let has = words.clone().any(|word| word == option);
            assert_eq!(has, wanted.contains(&name.as_str()), "{name} {option}");
        }
    }
    for args in [
        &["passes", "a.nc", "--changed-since", "HEAD"][..],
        &["plan", "a.nc", "--files-from", "-"],
        &["convert", "a.nc", "--to", "box", "--jobs", "2"],
        &["explain", "wrong-side", "--today", "2026-11-25"],
    ] {
        assert_eq!(flankwise(args, b"").exit, Exit::Usage, "{args:?}");
    }
}

#[test]
fn the_manual_page_has_every_command() {
    let page = flankwise(["man"], b"");
    assert_eq!(page.exit, Exit::Clean);
    assert!(
        page.out().contains(".TH flankwise 1"),
        "{}",
        &page.out()[..200]
    );
    for name in commands() {
        assert!(
            page.out()
                .contains(&format!(".SH \"FLANKWISE {}\"", name.to_uppercase())),
            "{name}"
        );
    }
    assert!(page.out().contains("write\\-baseline"));
}

#[test]
fn completions_name_every_command() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = flankwise(["completions", shell], b"");
        assert_eq!(script.exit, Exit::Clean);
        for name in commands() {
            assert!(script.out().contains(&name), "{shell}: {name}");
        }
    }
    assert_eq!(flankwise(["completions", "csh"], b"").exit, Exit::Usage);
    assert_eq!(flankwise(["completions"], b"").exit, Exit::Usage);
}

/// A shell reads the script without complaint and completes a command.
#[test]
fn bash_completes() {
    let script = flankwise(["completions", "bash"], b"");
    let asked = format!(
        "set -e\n{}\nCOMP_WORDS=(flankwise comp)\nCOMP_CWORD=1\n_flankwise flankwise comp flankwise\necho \"${{COMPREPLY[@]}}\"\n",
        script.out()
    );
    let Ok(ran) = std::process::Command::new("bash")
        .args(["-c", &asked])
        .output()
    else {
        // There is no bash on this machine.
        return;
    };
    let said = String::from_utf8_lossy(&ran.stdout);
    assert_eq!(
        said.trim(),
        "compare completions",
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
}

#[test]
fn every_status_of_every_command() {
    let shop = Shop::new();
    shop.write("sound.nc", SOUND);
    shop.write("bad.nc", SURFACE_SPEED);
    shop.write("utf16.nc", b"\xff\xfeG\x000\x00");
    shop.write("wrong/flankwise.toml", "[machine]\n");
    shop.write("wrong/a.nc", SOUND);
    shop.write("used/flankwise.toml", "");
    shop.write("used/a.nc", SOUND);
    fs::create_dir(shop.path("empty")).unwrap();
    let rows: &[(u8, &[&str], &[&str])] = &[
        (0, &["check"], &["sound.nc"]),
        (1, &["check"], &["bad.nc"]),
        (2, &["check", "--format", "yaml"], &["sound.nc"]),
        (2, &["check"], &["wrong/a.nc"]),
        (3, &["check"], &["bad.nc", "utf16.nc"]),
        (3, &["check"], &["empty"]),
        (0, &["passes"], &["bad.nc"]),
        (2, &["passes"], &["bad.nc:1"]),
        (3, &["passes"], &["missing.nc"]),
        (0, &["thread", "M24x3-6g"], &[]),
        (2, &["thread"], &[]),
        (0, &["fix", "--diff"], &["sound.nc"]),
        (2, &["fix", "--diff", "--allow", "cut"], &["sound.nc"]),
        (3, &["fix"], &["utf16.nc"]),
        (0, &["compare"], &["sound.nc", "sound.nc"]),
        (1, &["compare"], &["sound.nc", "bad.nc"]),
        (
            0,
            &["compare", "--fail-on", "never"],
            &["sound.nc", "bad.nc"],
        ),
        (2, &["compare"], &["sound.nc"]),
        (2, &["compare"], &["sound.nc", "empty"]),
        (2, &["compare"], &["sound.nc", "wrong/a.nc"]),
        (3, &["compare"], &["sound.nc", "utf16.nc"]),
        (3, &["compare"], &["sound.nc", "missing.nc"]),
        (0, &["init", "--print"], &["used"]),
        (2, &["init"], &["used"]),
        (2, &["init"], &["sound.nc"]),
        (3, &["init"], &["empty"]),
        (0, &["explain"], &[]),
        (0, &["explain", "wrong-side", "--format", "markdown"], &[]),
        (2, &["explain", "wrong-site"], &[]),
        (0, &["schema"], &[]),
        (2, &["schema", "more"], &[]),
        (0, &["man"], &[]),
        (2, &["man", "more"], &[]),
        (2, &["lsp", "--no-such"], &[]),
        (0, &["help"], &[]),
        (2, &[], &[]),
    ];
    for (status, args, paths) in rows {
        let ran = shop.run(args, paths);
        assert_eq!(
            ran.exit.status(),
            *status,
            "{args:?} {paths:?}\n{}{}",
            ran.out(),
            ran.err
        );
        if *status >= 2 {
            assert!(!ran.err.is_empty(), "{args:?}: says why");
        }
    }
}
