//! The compound cycle: `G71 X Z A|I B D U H L E F J Q` along the axis, G72 with W for U on a face,
//! and the boxes of the same family of controls, G31 and G33.
//!
//! B included tool angle (0 plunges), D first cut, U finishing allowance and H height as differences
//! of diameters (from memory), I radius at the start minus radius at the end, A angle of a taper,
//! L pull-out under M23, F lead over J threads. M32 goes in along one flank, M33 from flank to
//! flank, M34 along the other flank; M75 takes equal chip areas, D·√n (M32 to M34 as on a published
//! manual page, which flank and M75 from memory). How M73 and M74 split the depth is not known here.

use super::write::{Cannot, Run, Style, Text, Words, need};
use super::{
    Draft, Origin, Required, crest_of, end_x, end_z, mirror, note_limit, note_unknown, passes_of,
    position_scale, role_word, side_of, start, taper,
};
use crate::block::Block;
use crate::law::Law;
use crate::machine::Machine;
use crate::section::{Cut, Infeed, Missing, PullOut, Role, RoleWord, Scale, Syntax, Val};
use crate::units::{Lead, Length, Radial};

/// Functions of this family that stay in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Modes {
    /// M32, M33 or M34.
    flank: Option<u8>,
    /// M73, M74 or M75.
    pattern: Option<u8>,
    /// M23 (pull-out) or M22.
    pull_out: Option<bool>,
}

impl Modes {
    /// Takes the M words of a block.
    pub fn see(&mut self, block: &Block) {
        for (code, _) in block.m_codes() {
            match code {
                220 => self.pull_out = Some(false),
                230 => self.pull_out = Some(true),
                320 | 330 | 340 => self.flank = Some((code / 10) as u8),
                730 | 740 | 750 => self.pattern = Some((code / 10) as u8),
                _ => {}
            }
        }
    }

    fn infeed(self, included: f64) -> Infeed {
        let half = included / 2.0;
        match self.flank {
            _ if half == 0.0 => Infeed::Radial,
            Some(33) => Infeed::Alternating(half),
            Some(34) => Infeed::Flank(-half),
            Some(_) => Infeed::Flank(half),
            None => Infeed::Unknown(
                "none of M32, M33 and M34 is written, so the flank of the infeed is the control's"
                    .into(),
            ),
        }
    }

    fn exit(self, length: Option<Length>) -> PullOut {
        match (self.pull_out, length) {
            (Some(false), _) => PullOut::None,
            (Some(true), Some(length)) => PullOut::Axial(length),
            // Without L it is one lead long.
            (Some(true), None) => PullOut::TenthsOfLead(10),
            (None, _) => PullOut::Setting,
        }
    }
}

/// Whether a G71 or G72 block is the threading cycle.
#[must_use]
pub fn is_cycle(block: &Block) -> bool {
    block.has_any(b"XZ") && block.has(b'H') && block.has_any(b"BD")
}

/// F over J threads.
pub(super) fn box_lead(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Val<Lead> {
    let lead = super::lead(machine, block, words);
    if !block.has(b'J') {
        return lead;
    }
    let threads = block.number_of(b'J').and_then(|j| j.integer());
    match threads.and_then(|threads| u32::try_from(threads).ok()) {
        Some(threads @ 1..) => lead.map(|lead| lead.divided(threads)),
        _ => Val::Unknown("J is no number of threads".into()),
    }
}

const SEVERAL: &str = "Q makes several starts, which are not worked out";

/// G72 on a face: where it starts and ends along Z, and its lead. Its passes are not worked out,
/// because no source says whether D, H and W count along Z once or twice.
fn face(machine: &Machine, block: &Block) -> Draft {
    const DEPTHS: &str = "a thread on a face by G72 with H is not expanded: whether D and H count \
                          along Z once or twice is not known";
    fn unknown<T>() -> Val<T> {
        Val::Unknown(DEPTHS.into())
    }
    let mut words: Vec<RoleWord> = Vec::new();
    // X is where the spiral ends, no root.
    end_x(machine, block, &mut words);
    let end_z = end_z(machine, block, &mut words);
    let lead = match block.has(b'E') {
        true => Val::Unknown("the lead changes from turn to turn".into()),
        false => box_lead(machine, block, &mut words),
    };
    let (start_x, start_z) = start(machine);
    let cut = Cut {
        side: Val::Unknown("a thread on a face is on no bolt and in no bore".into()),
        start_x,
        start_z,
        root_x: unknown(),
        end_z,
        crest_x: unknown(),
        height: unknown(),
        taper: unknown(),
        lead,
        starts: 1,
        start_angle: None,
        law: Law::SquareRoot {
            first: unknown(),
            min: unknown(),
            finish: unknown(),
            repeats: Val::Exact(1),
        },
        infeed: Infeed::Unknown(DEPTHS.into()),
        // L would be along X, where no pass is known.
        pull_out: PullOut::Setting,
    };
    let mut why = vec![DEPTHS.to_owned()];
    if block.has(b'Q') {
        why.push(SEVERAL.into());
    }
    note_unknown(&cut, &mut why);
    Draft {
        syntax: Syntax::Compound,
        passes_certain: false,
        cut,
        passes: Vec::new(),
        words,
        unknown: why,
        missing: Vec::new(),
        span: block.span,
        line: block.line,
    }
}

/// Reads the cycle.
pub(crate) fn read(machine: &Machine, block: &Block, modes: Modes) -> Draft {
    if block.has_g(720) {
        return face(machine, block);
    }
    let mut words: Vec<RoleWord> = Vec::new();
    let mut unknown = Vec::new();
    let mut missing: Vec<Missing> = Vec::new();
    let root_x = end_x(machine, block, &mut words);
    let end_z = end_z(machine, block, &mut words);
    let lead = box_lead(machine, block, &mut words);
    let mut depth = |letter: &'static str, role, name| {
        let required = Required {
            role,
            letter,
            name,
            scale: position_scale(machine, block, letter.as_bytes()[0]),
            divisor: 2,
        };
        required.read(block, &mut words, &mut missing).map(Radial)
    };
    let height = depth("H", Role::Height, "the thread height H");
    let first = depth("D", Role::FirstCut, "the first cut D");
    let mut optional = |letter: u8, role, divisor| {
        let scale = position_scale(machine, block, letter);
        let word = role_word(block, letter, role, scale).map(|word| RoleWord { divisor, ..word });
        words.extend(word);
        match word {
            Some(word) => Val::or_unknown(word.length(), "a word is too long a number"),
            None if block.has(letter) => Val::Unknown(format!(
                "{} is a variable or an expression, which is not evaluated",
                letter as char
            )),
            None => Val::Exact(Length::ZERO),
        }
    };
    let finish = optional(b'U', Role::FinishAllowance, 2).map(Radial);
    let pull_out = optional(b'L', Role::PullOut, 1);
    let length = pull_out.get().filter(|_| block.has(b'L'));
    let taper = if block.has(b'A') {
        Val::Unknown("a taper by its angle A is not worked out".into())
    } else {
        taper(machine, block, b'I', &mut words)
    };
    let angle = role_word(block, b'B', Role::ToolAngle, Scale::Plain);
    words.extend(angle);
    let infeed = match angle {
        Some(angle) => modes.infeed(angle.number.value()),
        None if block.has(b'B') => Infeed::Unknown("the tool angle B is not a number".into()),
        None => Infeed::Unknown("the tool angle B is not written".into()),
    };
    for letter in *b"EQ" {
        if block.has(letter) {
            unknown.push(match letter {
                b'E' => "E changes the lead from turn to turn, which is not worked out".to_owned(),
                _ => SEVERAL.to_owned(),
            });
        }
    }
    let law = match (modes.pattern, &finish) {
        (Some(75), Val::Exact(finish)) if finish.0.is_zero() => Law::Method { first, method: 1 },
        (Some(75), _) => Law::SquareRoot {
            first,
            min: Val::Exact(Radial::default()),
            finish: finish.clone(),
            repeats: Val::Exact(1),
        },
        _ => {
            let why = "how the depth is split without M75 is not known to this reader";
            Law::SquareRoot {
                first: Val::Unknown(why.into()),
                min: Val::Unknown(why.into()),
                finish: finish.clone(),
                repeats: Val::Exact(1),
            }
        }
    };
    let (start_x, start_z) = start(machine);
    let mut cut = Cut {
        side: side_of(&start_x, &root_x),
        start_x,
        start_z,
        root_x,
        end_z,
        crest_x: Val::Unknown(String::new()),
        height,
        taper,
        lead: if block.has(b'E') {
            Val::Unknown("the lead changes from turn to turn".into())
        } else {
            lead
        },
        starts: 1,
        start_angle: None,
        law,
        infeed,
        pull_out: modes.exit(length),
    };
    mirror(&mut cut, &mut unknown);
    cut.crest_x = crest_of(&cut);
    let passes = passes_of(&cut, &Origin::of(machine, block));
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    if let Law::SquareRoot { first, .. } | Law::Method { first, .. } = &cut.law
        && let Some(why) = first.why()
    {
        unknown.push(why.to_owned());
    }
    if let Some(why) = finish.why() {
        unknown.push(why.to_owned());
    }
    Draft {
        syntax: Syntax::Compound,
        passes_certain: !block.has_any(b"EQ") && finish.get().is_some() && !passes.is_empty(),
        cut,
        passes,
        words,
        unknown,
        missing,
        span: block.span,
        line: block.line,
    }
}

/// The G31 or G33 box: which letters it has beside X and Z, the pull-out, and what is in doubt.
pub(super) fn box_words(
    machine: &Machine,
    block: &Block,
    words: &mut Vec<RoleWord>,
) -> (Val<Lead>, Vec<String>) {
    let lead = box_lead(machine, block, words);
    let mut why = Vec::new();
    for letter in *b"AEKCQ" {
        if block.has(letter) {
            why.push(format!(
                "what {} changes in this box is not worked out",
                letter as char
            ));
        }
    }
    (lead, why)
}

/// Writes a cut: one block a start, with the M words that its infeed and its depths need.
pub(super) fn write(cut: &Cut, law: &Law, runs: &[Run], style: &Style) -> Result<String, Cannot> {
    let (first, finish) = match law {
        Law::SquareRoot {
            first,
            min,
            finish,
            repeats,
        } if min.get() == Some(Radial::default()) && repeats.get() == Some(1) => {
            (first, need(finish, "the finishing allowance")?)
        }
        Law::Method { first, method: 1 } => (first, Radial::default()),
        _ => return Cannot::because("the depths follow no law of this cycle"),
    };
    let first = need(first, "the first cut")?;
    let root_x = need(&cut.root_x, "the end diameter")?;
    let end_z = need(&cut.end_z, "the end")?;
    let lead = need(&cut.lead, "the lead")?;
    let height = need(&cut.height, "the thread height")?;
    let taper = need(&cut.taper, "the taper")?;
    let (half_angle, flank) = match &cut.infeed {
        Infeed::Radial => (0.0, None),
        Infeed::Alternating(angle) => (*angle, Some("M33")),
        Infeed::Flank(angle) if *angle < 0.0 => (-angle, Some("M34")),
        Infeed::Flank(angle) => (*angle, Some("M32")),
        Infeed::Unknown(why) => return Cannot::because(format!("the infeed: {why}")),
    };
    let (length, exit) = match &cut.pull_out {
        PullOut::None => (None, Some("M22")),
        PullOut::TenthsOfLead(10) => (None, Some("M23")),
        PullOut::TenthsOfLead(tenths) => {
            let length = Length::from_mm(lead.mm().abs() * f64::from(*tenths) / 10.0);
            (Some(length), Some("M23"))
        }
        PullOut::Axial(length) => (Some(*length), Some("M23")),
        PullOut::Setting => (None, None),
    };
    let mut text = Text::new(style);
    let mut at = cut.start_z.get();
    let doubled = |depth: Radial| depth.0.double();
    for run in runs {
        if run.angle.is_some_and(|angle| angle != 0) {
            return Cannot::because("this cycle has no word for a start angle");
        }
        text.skip = run.skip;
        if run.z != at
            && let Some(z) = run.z
        {
            text.rapid_z(z);
            at = run.z;
        }
        let mut words = Words::new(style, Syntax::Compound);
        words.add(Role::EndX, style.x(root_x));
        words.add(Role::EndZ, style.position('Z', end_z));
        let written = if style.mirrored { -taper } else { taper };
        words.add_unless(taper.is_zero(), Role::Taper, style.position('I', written));
        words.add(Role::ToolAngle, style.plain('B', half_angle * 2.0));
        words.add(Role::FirstCut, style.position('D', doubled(first)));
        words.add_unless(
            finish == Radial::default(),
            Role::FinishAllowance,
            style.position('U', doubled(finish)),
        );
        words.add(Role::Height, style.position('H', doubled(height)));
        if let Some(length) = length {
            words.add(Role::PullOut, style.position('L', length));
        }
        words.add(Role::Lead, style.lead_word(Syntax::Compound, lead));
        let mut line = words.line(style.code(710));
        line.extend(flank.map(str::to_owned));
        line.push("M75".into());
        line.extend(exit.map(str::to_owned));
        text.line(&line);
    }
    Ok(text.finish())
}
