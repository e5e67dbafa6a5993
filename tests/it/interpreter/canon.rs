//! Reads recorded canonical calls.

/// A synchronised straight move in the program's units; X is a radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Move {
    pub(super) start: (f64, f64),
    pub(super) end: (f64, f64),
    /// Advance per turn along the path.
    pub(super) lead: f64,
}

/// The moves between `START_SPEED_FEED_SYNC` and `STOP_SPEED_FEED_SYNCH` in order.
pub(super) fn moves(text: &str) -> Vec<Move> {
    let mut all = Vec::new();
    let mut at = (0.0, 0.0);
    let mut lead = None;
    for line in text.lines() {
        let Some((name, arguments)) = call(line) else {
            continue;
        };
        match name {
            "START_SPEED_FEED_SYNC" => lead = Some(arguments[0]),
            "STOP_SPEED_FEED_SYNCH" => lead = None,
            "STRAIGHT_FEED" | "STRAIGHT_TRAVERSE" => {
                let end = (arguments[0], arguments[2]);
                if let (Some(lead), "STRAIGHT_FEED") = (lead, name) {
                    all.push(Move {
                        start: at,
                        end,
                        lead,
                    });
                }
                at = end;
            }
            _ => {}
        }
    }
    all
}

/// Where the tool goes in X behind every synchronised path, as a radius.
pub(super) fn retracts(text: &str) -> Vec<f64> {
    let mut all = Vec::new();
    let mut behind = false;
    for line in text.lines() {
        match call(line) {
            Some(("STOP_SPEED_FEED_SYNCH", _)) => behind = true,
            Some(("START_SPEED_FEED_SYNC", _)) => behind = false,
            Some(("STRAIGHT_TRAVERSE", arguments)) if behind => {
                all.push(arguments[0]);
                behind = false;
            }
            _ => {}
        }
    }
    all
}

/// `   18 N..... START_SPEED_FEED_SYNC(1.651091,0)`: name and the numbers among its arguments.
fn call(line: &str) -> Option<(&str, Vec<f64>)> {
    let (head, rest) = line.split_once('(')?;
    let name = head.split_whitespace().last()?;
    let numbers = rest
        .trim_end()
        .trim_end_matches(')')
        .split(',')
        .filter_map(|word| word.trim().parse().ok())
        .collect();
    Some((name, numbers))
}

#[test]
fn calls_are_read() {
    let text = "   15 N..... STRAIGHT_TRAVERSE(11.0000, 0.0000, 5.0000, 0.0000, 0.0000, 0.0000)\n   \
                18 N..... START_SPEED_FEED_SYNC(1.651091,0)\n   \
                19 N..... STRAIGHT_FEED(10.6200, 0.0000, 4.8303, 0.0000, 0.0000, 0.0000)\n   \
                23 N..... STOP_SPEED_FEED_SYNCH()\n   \
                24 N..... STRAIGHT_FEED(9.0000, 0.0000, 1.0000, 0.0000, 0.0000, 0.0000)\n";
    let expected = Move {
        start: (11.0, 5.0),
        end: (10.62, 4.8303),
        lead: 1.651091,
    };
    assert_eq!(moves(text), [expected]);
}
