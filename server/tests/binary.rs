//! The built program: its streams, its exit status, its colours.

use std::io::Write as _;
use std::process::{Command, Output, Stdio};

const SURFACE_SPEED: &[u8] = b"G21 G99\nT0303\n(THREAD M30X2-6G)\nG96 S180 M3\nG0 X34. Z8.\n\
    G76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nM30\n";

fn flankwise(args: &[&str], colour: bool, stdin: &[u8]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_flankwise"));
    command
        .args(args)
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR_FORCE")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    if colour {
        command.env("CLICOLOR_FORCE", "1");
    }
    let mut child = command.spawn().unwrap();
    // A run that ends on wrong usage does not read its input.
    let _ = child.stdin.take().unwrap().write_all(stdin);
    child.wait_with_output().unwrap()
}

#[test]
fn statuses_and_streams() {
    let ran = flankwise(&["check", "-"], false, SURFACE_SPEED);
    assert_eq!(ran.status.code(), Some(1));
    let out = String::from_utf8(ran.stdout).unwrap();
    assert!(out.starts_with("error[surface-speed-in-thread]: "), "{out}");
    assert!(!out.contains('\u{1b}'));
    assert!(ran.stderr.is_empty());
    let ran = flankwise(&["check", "no-such-program.nc"], false, b"");
    assert_eq!(ran.status.code(), Some(3));
    assert!(!ran.stderr.is_empty());
    let ran = flankwise(&["chekc"], false, b"");
    assert_eq!(ran.status.code(), Some(2));
    assert!(ran.stdout.is_empty());
    let ran = flankwise(&["fix", "-"], false, b"%\r\nG0 X1.\x1b\xff\r\n%\r\n");
    assert_eq!(ran.status.code(), Some(0));
    assert_eq!(ran.stdout, b"%\r\nG0 X1.\x1b\xff\r\n%\r\n");
}

#[test]
fn colours_when_asked_for() {
    let ran = flankwise(&["check", "-"], true, SURFACE_SPEED);
    assert!(String::from_utf8(ran.stdout).unwrap().contains("\u{1b}["));
    let ran = flankwise(&["chekc"], true, b"");
    assert!(String::from_utf8(ran.stderr).unwrap().contains("\u{1b}["));
}

/// `flankwise check … | head -1` ends without a complaint.
#[test]
fn a_reader_that_leaves_is_no_fault() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_flankwise"))
        .arg("explain")
        .arg("surface-speed-in-thread")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let ran = child.wait_with_output().unwrap();
    let err = String::from_utf8(ran.stderr).unwrap();
    assert!(!err.contains("panicked"), "{err}");
}
