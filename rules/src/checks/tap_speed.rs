use super::text::{quoted, rpm};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The speed of a tap against the highest speed at which the machine taps.
    ///
    /// # Why it matters
    ///
    /// At the bottom of every hole the spindle has to stop and run back in step with the axis. A
    /// machine can do that up to a speed that is often far below the highest one of its spindle.
    /// Above it the control stops with an alarm, or the axis no longer keeps up and the tap breaks.
    ///
    /// # The sum
    ///
    /// speed of the spindle > `max_tapping_rpm` of the machine, or > `max_rpm` where no speed for
    /// tapping is configured.
    ///
    /// # What it needs
    ///
    /// The speed, and `max_tapping_rpm` or `max_rpm` of the machine.
    ///
    /// # When it stays silent
    ///
    /// Without a configured limit, and for a speed that is not known.
    ///
    /// # Mend
    ///
    /// A lower speed, and with a feed per minute a feed that follows it: no fix is offered, because
    /// both words belong together.
    ///
    /// # Source
    ///
    /// The limit is the machine's.
    "tap-speed", Error,
    "a tap turns faster than the machine can tap",
    fixes: false, needs_designation: false, kinds: [Tapped], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    let Some(machine) = cx.facts.machine.as_ref() else {
        return;
    };
    let (limit, key) = match (machine.max_tapping_rpm, machine.max_rpm) {
        (Some(limit), _) => (limit, "max_tapping_rpm"),
        (None, Some(limit)) => (limit, "max_rpm"),
        (None, None) => return,
    };
    let Some(speed) = tapping.rpm else {
        return out.not_judged(rule, "the spindle speed is missing");
    };
    if speed <= limit {
        return;
    }
    let word = cx.section.spindle.speed.filter(|word| word.value == speed);
    let place = word.map_or_else(|| cx.place(), |word| (word.span, word.line));
    out.push(
        rule.found(
            place,
            format!(
                "the tap turns {}, the machine taps up to {}",
                rpm(speed),
                rpm(limit)
            ),
        )
        .because(format!(
            "{}: {} > {}",
            quoted(cx.bytes, place.0, place.1),
            rpm(speed),
            rpm(limit)
        ))
        .source(cx.facts.cite(key))
        .help("write a speed at which the machine taps; a feed per minute goes with it"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, findings, judged_with};
    use crate::facts::{Facts, Machine};

    const RULE: &str = "tap-speed";

    fn machine(tapping: Option<f64>, spindle: Option<f64>) -> Facts {
        Facts {
            machine: Some(Machine {
                max_tapping_rpm: tapping,
                max_rpm: spindle,
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"mill-1\"".into(),
            ..Facts::default()
        }
    }

    /// Too fast, and with the speed (and the feed per minute) that the machine has.
    const PAIRS: [(&str, &str); 6] = [
        (
            "G21 G90 G17 G94\nT5 M6 (M8 TAP)\nG0 X0 Y0\nG43 H5 Z10.\nS1600 M3\nM29 S1600\nG84 X10. Y5. Z-20. R3. F2000.\nX30.\nG80\nM30\n",
            "G21 G90 G17 G94\nT5 M6 (M8 TAP)\nG0 X0 Y0\nG43 H5 Z10.\nS800 M3\nM29 S800\nG84 X10. Y5. Z-20. R3. F1000.\nX30.\nG80\nM30\n",
        ),
        (
            "G20G90G94G17\nT5M6(1/4-20 TAP)\nG0X0Y0\nG43H5Z1.\nS1800M3\nM29S1800\nG84X1.Y0.Z-.75R.1F90.\nG80\nM30\n",
            "G20G90G94G17\nT5M6(1/4-20 TAP)\nG0X0Y0\nG43H5Z1.\nS600M3\nM29S600\nG84X1.Y0.Z-.75R.1F30.\nG80\nM30\n",
        ),
        (
            "G21 G99\nT0909 (TAP M12X1.75)\nG97 S1250 M3\nG0 X0. Z8.\nM29 S1250\nG84 Z-22. F1.75\nG80\nG0 Z100.\nM30\n",
            "G21 G99\nT0909 (TAP M12X1.75)\nG97 S250 M3\nG0 X0. Z8.\nM29 S250\nG84 Z-22. F1.75\nG80\nG0 Z100.\nM30\n",
        ),
        (
            "(M8 TAP)\nG21 G17 G90\nG97 S1300 M3\nG0 X10 Y10 Z5\nG33.1 Z-20 K1.25\nG0 Z20\nM2\n",
            "(M8 TAP)\nG21 G17 G90\nG97 S300 M3\nG0 X10 Y10 Z5\nG33.1 Z-20 K1.25\nG0 Z20\nM2\n",
        ),
        (
            "G21 G90 G17\nT5 M6 (TAP M10 LH)\nG0 X20 Y30 Z5\nG331 Z-25 K-1.50 S1350\nG332 Z5 K-1.50\nG0 Z50\nM30\n",
            "G21 G90 G17\nT5 M6 (TAP M10 LH)\nG0 X20 Y30 Z5\nG331 Z-25 K-1.50 S350\nG332 Z5 K-1.50\nG0 Z50\nM30\n",
        ),
        (
            "G21 G90 G17 G95\nT5 M6 (M8 LH TAP)\nG0 X0 Y0\nG43 H5 Z10.\nS1201 M4\nM29 S1201\nG74 X10. Y5. Z-20. R3. F1.25\nG80\nM30\n",
            "G21 G90 G17 G95\nT5 M6 (M8 LH TAP)\nG0 X0 Y0\nG43 H5 Z10.\nS1200 M4\nM29 S1200\nG74 X10. Y5. Z-20. R3. F1.25\nG80\nM30\n",
        ),
    ];

    #[test]
    fn found_in_every_way() {
        assert_pairs_with(RULE, &machine(Some(1200.0), Some(6000.0)), &PAIRS);
    }

    /// The limit of tapping comes before the spindle's; without either nothing is said.
    #[test]
    fn which_limit_holds() {
        let fast = PAIRS[0].0;
        let of = |facts: &Facts| judged_with(RULE, fast, facts).len();
        assert_eq!(of(&machine(None, Some(1500.0))), 1);
        assert_eq!(of(&machine(None, Some(1600.0))), 0);
        assert_eq!(of(&machine(Some(1600.0), Some(1500.0))), 0);
        assert_eq!(of(&machine(None, None)), 0);
        assert!(findings(RULE, fast).is_empty());
    }
}
