//! Subprograms that lie beside a program.

use super::*;

const MAIN: &[u8] = b"%\nO1200 (VALVE SPINDLE)\nG21 G99\nT0303\nG97 S800 M3\nG0 X28. Z8.\nM98 P1300\nG0 X100.\nM30\n%\n";
const SUB: &[u8] = b"%\nO1300 (THREAD)\nG92 X23.2 Z-30. F3.\nX22.6\nX22.1\nX21.7\nX21.3\nX21.\nX20.7\nX20.5\nX20.32\nM99\n%\n";

fn sections(ran: &Ran) -> Vec<serde_json::Value> {
    let json = ran.json();
    json["files"][0]["sections"].as_array().unwrap().clone()
}

#[test]
fn a_thread_in_a_file_beside_is_read_where_it_is_called() {
    for name in ["O1300.nc", "o1300.NC", "1300.tap", "O1300"] {
        let shop = Shop::new();
        shop.write("main.nc", MAIN);
        shop.write(name, SUB);
        let ran = shop.run(&["check", "--format", "json"], &["main.nc"]);
        let found = sections(&ran);
        assert_eq!(found.len(), 1, "{name}");
        let text = found[0].to_string();
        assert!(
            text.contains(&format!("stands in the file {name}")),
            "{text}"
        );
        assert_eq!(found[0]["lines"], serde_json::json!([7, 7]), "{name}");
    }
}

/// Nothing beside, two files that could be meant, and a text that lies nowhere.
#[test]
fn what_is_called_and_not_found_is_said() {
    let shop = Shop::new();
    shop.write("main.nc", MAIN);
    let alone = shop.run(&["check", "--format", "json"], &["main.nc"]);
    assert_eq!(sections(&alone), Vec::<serde_json::Value>::new());
    assert!(alone.out().contains("neither in this file nor beside it"));
    shop.write("O1300.tap", SUB);
    shop.write("O1300.txt", SUB);
    let several = shop.run(&["check", "--format", "json"], &["main.nc"]);
    assert_eq!(sections(&several), Vec::<serde_json::Value>::new());
    let nowhere = flankwise(["check", "-", "--format", "json"], MAIN);
    assert!(nowhere.out().contains("neither in this file nor beside it"));
}

/// A folder whose programs call each other in a circle is read to its end.
#[test]
fn calls_in_a_circle_end() {
    let shop = Shop::new();
    shop.write("O1.nc", b"O1\nM98 P2\nM30\n");
    shop.write("O2.nc", b"O2\nM98 P3 L9\nM99\n");
    shop.write("O3.nc", b"O3\nM98 P2 L9\nM98 P1\nM99\n");
    let ran = shop.run(&["check", "--format", "json"], &["."]);
    assert!(ran.out().contains("calls nest deeper"), "{}", ran.out());
}
