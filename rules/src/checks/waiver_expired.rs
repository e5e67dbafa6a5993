use super::rule;

rule! {
    /// # What it checks
    ///
    /// Waivers whose last day is over: notes `(ALLOW rule-name, reason, UNTIL 2027-03-31)` in a
    /// program and `[[waiver]]` entries of the configuration with `until`. Of the latter also those
    /// that cover more findings in one run than the `max_uses` that they were signed for.
    ///
    /// # Why it matters
    ///
    /// A waiver with a date is a promise to look again. When the day is over the finding counts
    /// again, and this one says why it is back.
    ///
    /// # The sum
    ///
    /// The last day is compared with the day of the run; the last day itself still counts.
    ///
    /// # What it needs
    ///
    /// The day of today: the command line and the language server take it from the clock of the
    /// machine (UTC), `--today` sets another.
    ///
    /// # When it stays silent
    ///
    /// Waivers without a date, and while no day is given.
    ///
    /// # Mend
    ///
    /// Removes a note that covers nothing any more. Where its finding is still there, it has to be
    /// mended or the waiver signed anew: nobody else can decide that.
    ///
    /// # Source
    ///
    /// The waiver itself; dates are calendar dates of ISO 8601.
    "waiver-expired", Warning, "a waiver has run out", fixes: true, waivers
}
