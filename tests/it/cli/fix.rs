//! `fix`: what is written, what is refused, what is kept.

use super::*;

#[test]
fn sound_programs_are_not_touched() {
    let shop = Shop::new();
    let path = shop.write("sound.nc", SOUND);
    let before = fs::metadata(&path).unwrap().modified().unwrap();
    let ran = shop.run(&["fix", "--allow", "motion"], &["sound.nc"]);
    assert_eq!(ran.exit, Exit::Clean);
    assert!(ran.out.is_empty());
    assert_eq!(shop.read("sound.nc"), SOUND);
    assert_eq!(fs::metadata(&path).unwrap().modified().unwrap(), before);
    let ran = flankwise(["fix", "-"], SOUND);
    assert_eq!(ran.out, SOUND);
}

#[test]
fn what_no_fix_mends_is_still_told() {
    let shop = Shop::new();
    shop.write("bad.nc", SURFACE_SPEED);
    let ran = shop.run(&["fix"], &["bad.nc"]);
    assert_eq!(ran.exit, Exit::Findings);
    assert!(ran.err.contains("left: 1 error"), "{}", ran.err);
    assert_eq!(shop.read("bad.nc"), SURFACE_SPEED);
}
