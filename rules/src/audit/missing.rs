//! Which fact settles what could not be judged: from the reason that a rule gives to the key of
//! `flankwise.toml` and the words of a `(THREAD …)` note that state the fact.

/// Where a fact is stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fact {
    /// A part of the reasons that it settles.
    reason: &'static str,
    /// What is missing, in a few words.
    pub name: &'static str,
    /// The table and the key of `flankwise.toml`; empty where no key states it.
    pub key: (&'static str, &'static str),
    /// What in the program states it; empty where nothing does.
    pub program: &'static str,
}

const fn fact(
    reason: &'static str,
    name: &'static str,
    key: (&'static str, &'static str),
    program: &'static str,
) -> Fact {
    Fact {
        reason,
        name,
        key,
        program,
    }
}

const NO_KEY: (&str, &str) = ("", "");

/// In order: the first whose reason is met holds.
pub const FACTS: [Fact; 21] = [
    fact(
        "nose of the tool is missing",
        "the nose of the tool",
        ("[[tool]]", "nose_radius_mm"),
        "(THREAD …, NOSE …)",
    ),
    fact(
        "no [[tool]] is configured",
        "the tool",
        ("[[tool]]", "number"),
        "",
    ),
    fact(
        "name of the tap is missing",
        "the name of the tap",
        ("[[tool]]", "designation"),
        "a comment beside its T word",
    ),
    fact(
        "tap cuts or forms",
        "whether the tap cuts or forms",
        ("[[tool]]", "kind"),
        "",
    ),
    fact(
        "chamfer of the tap",
        "the chamfer of the tap",
        ("[[tool]]", "tap_chamfer_threads"),
        "(THREAD …, CHAMFER …)",
    ),
    fact(
        "diameter of the cutter",
        "the diameter of the thread mill",
        ("[[tool]]", "mill_diameter_mm"),
        "(THREAD …, CUTTER …)",
    ),
    fact(
        "feed at the edge",
        "the feed at the edge of the thread mill",
        NO_KEY,
        "(THREAD …, FEED …)",
    ),
    fact(
        "pitch that the tool is made for",
        "the pitch that the tool is made for",
        ("[[tool]]", "pitch_mm"),
        "",
    ),
    fact(
        "designation",
        "which thread it is",
        ("[[thread]]", "designation"),
        "(THREAD M24X3-6G)",
    ),
    fact(
        "name of the thread",
        "which thread it is",
        ("[[thread]]", "designation"),
        "(THREAD M24X3-6G)",
    ),
    fact(
        "length of the thread is not known",
        "the length of the thread",
        ("[[thread]]", "length_mm"),
        "(THREAD …, LENGTH …)",
    ),
    fact(
        "inimum cut or finishing allowance",
        "the control's own minimum cut",
        ("[[machine]]", "min_cut_mm"),
        "the words of the cycle",
    ),
    fact(
        "minimum depth of cut",
        "the control's own minimum cut",
        ("[[machine]]", "min_cut_mm"),
        "the words of the cycle",
    ),
    fact(
        "word for the units",
        "the units",
        ("[[machine]]", "units"),
        "G20 or G21",
    ),
    fact(
        "may be a radius or a diameter",
        "whether X is a radius or a diameter",
        ("[[machine]]", "diameter_mode"),
        "G7 or G8",
    ),
    fact(
        "spindle speed",
        "a constant spindle speed",
        NO_KEY,
        "G97 and an S word before the thread",
    ),
    fact(
        "constant speed",
        "a constant spindle speed",
        NO_KEY,
        "G97 and an S word before the thread",
    ),
    fact(
        "place of the end face",
        "the place of the end face",
        NO_KEY,
        "(THREAD …, FACE …)",
    ),
    fact(
        "was turned before the thread",
        "what was turned before the thread",
        NO_KEY,
        "the turning before the thread, in the same program",
    ),
    fact(
        "start diameter",
        "where the tool starts",
        NO_KEY,
        "a position X and Z before the thread",
    ),
    fact(
        "where the tool starts",
        "where the tool starts",
        NO_KEY,
        "a position X and Z before the thread",
    ),
];

/// The fact that settles a reason; none where it is not one of those known here.
#[must_use]
pub fn settles(reason: &str) -> Option<&'static Fact> {
    FACTS.iter().find(|fact| reason.contains(fact.reason))
}

impl Fact {
    /// The part of the reasons that it settles.
    #[must_use]
    pub const fn reason(&self) -> &'static str {
        self.reason
    }

    /// What to state where: `[[tool]] nose_radius_mm = … in flankwise.toml, or (THREAD …, NOSE …)
    /// in the program`.
    #[must_use]
    pub fn told(&self) -> String {
        let (table, key) = self.key;
        match (key.is_empty(), self.program.is_empty()) {
            (true, _) => format!("in the program: {}", self.program),
            (false, true) => format!("{table} {key} = … in flankwise.toml"),
            (false, false) => format!(
                "{table} {key} = … in flankwise.toml, or {} in the program",
                self.program
            ),
        }
    }
}
