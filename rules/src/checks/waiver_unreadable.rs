use super::rule;

rule! {
    /// # What it checks
    ///
    /// Notes that begin with ALLOW and are meant as a waiver, but name no rule, give no reason or
    /// hold no date behind UNTIL.
    ///
    /// # Why it matters
    ///
    /// Who wrote the note believes that the finding is allowed and looks no further, while it goes
    /// on to fail the gate; or, worse, believes that somebody gave a reason.
    ///
    /// # The sum
    ///
    /// None. A note is `(ALLOW rule-name, reason)` or `(ALLOW rule-name, reason, UNTIL 2027-03-31)`;
    /// capitals or not, and blanks or underscores for the hyphens.
    ///
    /// # What it needs
    ///
    /// The text alone.
    ///
    /// # When it stays silent
    ///
    /// Comments that begin with the word and go on as a sentence: `(ALLOW COOLANT TO DRAIN)`.
    ///
    /// # Mend
    ///
    /// By hand: what was meant has to be written. The nearest name of a rule is shown.
    ///
    /// # Source
    ///
    /// The notation of flankwise.
    "waiver-unreadable", Warning, "an ALLOW note that waives nothing", fixes: false, waivers
}
