use super::rule;

rule! {
    /// # What it checks
    ///
    /// Waivers that cover nothing: an ALLOW note whose rule reports nothing in the next thread, and
    /// a `[[waiver]]` of the configuration that no program needed, when a whole tree was judged.
    ///
    /// # Why it matters
    ///
    /// A waiver that is left behind hides the fault when it comes back, in another form and for
    /// another reason.
    ///
    /// # The sum
    ///
    /// None: the findings that each waiver covers are counted.
    ///
    /// # What it needs
    ///
    /// The text alone; for a waiver of the configuration a run over the whole folder of the
    /// configuration.
    ///
    /// # When it stays silent
    ///
    /// Where the rule is switched off or could not judge the thread, and for waivers of the
    /// configuration while only some of its programs are judged.
    ///
    /// # Mend
    ///
    /// Removes the note, with its line when nothing else stands there.
    ///
    /// # Source
    ///
    /// The waiver itself.
    "waiver-unused", Advice, "a waiver covers nothing", fixes: true, waivers
}
