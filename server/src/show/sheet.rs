//! One side of a thread for a person at a terminal, below 100 columns.

mod more;

use std::fmt::Write as _;

use lexer::units::Units;
use rules::measure::sheet::Sheet;
use rules::measure::tool::{Cut, Fit, Nose};
use rules::standards::limits::Band;
use rules::standards::{Hand, Side};

use super::lengths::{Lengths, trimmed};

/// How a sheet is shown.
#[derive(Clone, Copy, Default)]
pub(crate) struct Look {
    /// Units that come first; those of the family where none are asked for.
    pub(crate) units: Option<Units>,
    /// With the lines of a first-article sheet.
    pub(crate) first_article: bool,
}

/// Cautions for diameters and depths to cut; printed once below all sheets.
pub(crate) const CAUTION: &str = "\
caution: what to cut is plane geometry of the form and its limits. It takes the tool to be measured
  at the tip of its nose and knows no offset, no wear, no deflection. Prove the program out (dry
  run, a hand near feed hold), cut the first part on the safe side and gauge it: the gauge decides.
  The manuals of control and machine, the rules of the shop and qualified staff come first.
";

/// Most characters of a line.
const WIDTH: usize = 98;
/// Width of the name before the figures.
const LABEL: usize = 17;

type Done = std::fmt::Result;

/// The sheet; ends with an empty line.
pub(crate) fn sheet(sheet: &Sheet, look: Look) -> String {
    let units = look.units.unwrap_or(sheet.limits.units);
    let page = Page {
        sheet,
        first: Lengths(units),
        second: second(units, sheet.limits.units).map(Lengths),
        mark: if sheet.limits.unverified { "*" } else { "" },
    };
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = page.print(&mut out, look.first_article);
    out.push('\n');
    out
}

/// The units shown beside the first ones: whenever inches are in play, both.
fn second(first: Units, family: Units) -> Option<Units> {
    match (first, family) {
        (Units::Millimetre, Units::Millimetre) => None,
        (Units::Inch, _) => Some(Units::Millimetre),
        (Units::Millimetre, Units::Inch) => Some(Units::Inch),
    }
}

struct Page<'a> {
    sheet: &'a Sheet,
    first: Lengths,
    second: Option<Lengths>,
    /// Stands behind figures that rest on memory.
    mark: &'static str,
}

impl Page<'_> {
    fn print(&self, out: &mut String, first_article: bool) -> Done {
        self.head(out)?;
        out.push('\n');
        self.limits(out)?;
        out.push('\n');
        self.cuts(out)?;
        self.tool(out)?;
        out.push('\n');
        self.measures(out)?;
        self.taper(out)?;
        self.planes(out)?;
        self.starts(out)?;
        self.coating(out)?;
        self.gauges(out)?;
        if first_article {
            self.first_article(out)?;
        }
        self.notes(out)
    }

    fn head(&self, out: &mut String) -> Done {
        let sheet = self.sheet;
        let thread = &sheet.thread;
        let hand = match thread.hand {
            Hand::Right => "right-hand",
            Hand::Left => "LEFT-HAND",
        };
        writeln!(
            out,
            "{}  {}, {} thread, {hand}",
            thread.designation_for(sheet.side),
            thread.family.standard().name,
            sheet.side.name()
        )?;
        let (pitch, lead) = (thread.pitch.mm(), thread.lead().mm());
        let per_inch = if thread.units() == Units::Inch {
            format!(" ({} per inch)", trimmed(25.4 / pitch, 4))
        } else {
            String::new()
        };
        let starts = match thread.starts {
            1 => "1 start".to_owned(),
            n => format!("{n} starts"),
        };
        let flanks = match thread.form().flanks {
            None => "round, without straight flanks".to_owned(),
            Some(f) if f.included_deg() == 0.0 => "square".to_owned(),
            Some(f) if (f.leading_deg - f.trailing_deg).abs() < 1e-9 => {
                format!("flanks {}°", trimmed(f.included_deg(), 2))
            }
            Some(f) => format!(
                "flanks {}° leading, {}° trailing",
                trimmed(f.leading_deg, 2),
                trimmed(f.trailing_deg, 2)
            ),
        };
        writeln!(
            out,
            "  pitch {}{per_inch}, lead {}, {starts}, {flanks}",
            self.first.needed(pitch, 2),
            self.first.needed(lead, 2),
        )
    }

    fn limits(&self, out: &mut String) -> Done {
        let Sheet { limits, basic, .. } = self.sheet;
        let name = self.first.name();
        write!(out, "  {:LABEL$}", format!("limits, {name}"))?;
        for title in ["min", "max", "middle", "basic"] {
            write!(out, "{title:>10}")?;
        }
        if let Some(second) = self.second {
            write!(
                out,
                "   {:>9}{:>10}",
                format!("{} min", second.name()),
                "max"
            )?;
        }
        out.push('\n');
        let root = match self.sheet.side {
            Side::External => Some(basic.root),
            Side::Internal => None,
        };
        for (label, band, basic) in [
            ("major diameter", limits.major, Some(basic.major)),
            ("pitch diameter", limits.pitch, Some(basic.pitch)),
            ("minor diameter", limits.minor, Some(basic.minor)),
            ("root", limits.root, root),
        ] {
            if label == "root" && (band == Band::OPEN || band == limits.minor) {
                continue;
            }
            write!(out, "  {label:LABEL$}")?;
            for value in [band.min, band.max, band.middle()] {
                write!(out, "{:>10}", self.cell(self.first, value))?;
            }
            let basic = basic.map_or_else(String::new, |mm| self.first.fixed(mm));
            write!(out, "{basic:>10}")?;
            if let Some(second) = self.second {
                let (min, max) = (self.cell(second, band.min), self.cell(second, band.max));
                write!(out, "   {min:>9}{max:>10}")?;
            }
            out.truncate(out.trim_end_matches(' ').len());
            out.push('\n');
        }
        Ok(())
    }

    /// A limit, marked where it rests on memory; a dash where the standard leaves it open.
    fn cell(&self, lengths: Lengths, value: Option<f64>) -> String {
        match value {
            Some(mm) => format!("{}{}", lengths.fixed(mm), self.mark),
            None => "-".to_owned(),
        }
    }

    fn cuts(&self, out: &mut String) -> Done {
        let cuts = &self.sheet.cuts;
        let Some(first) = cuts.first() else {
            return writeln!(
                out,
                "  depth to cut: not computed, the form has no open flanks"
            );
        };
        let from = self.first.with_unit(first.from);
        let which = match self.sheet.side {
            Side::External => "basic major diameter",
            Side::Internal => "basic minor diameter",
        };
        let target = match self.sheet.limits.pitch.middle() {
            Some(_) => "the middle of the pitch diameter",
            None => "the basic pitch diameter, whose limits are not known",
        };
        let place = match self.sheet.taper {
            Some(_) => ", in the gauge plane",
            None => "",
        };
        let head = format!("to cut for {target}{place}; depth from X {from} ({which})");
        wrapped(out, [2, 4], &head)?;
        write!(
            out,
            "  {:24}",
            format!("nose of the tool, {}", self.first.name())
        )?;
        for (title, width) in [
            ("X", 10),
            ("X from", 10),
            ("X to", 10),
            ("depth", 10),
            ("from", 9),
            ("to", 9),
            ("on dia.", 10),
        ] {
            write!(out, "{title:>width$}")?;
        }
        out.push('\n');
        for cut in cuts {
            self.cut(out, cut)?;
        }
        Ok(())
    }

    fn cut(&self, out: &mut String, cut: &Cut) -> Done {
        let nose = match cut.nose {
            Nose::Radius(0.0) => cut.label.to_owned(),
            Nose::Radius(radius) => format!("r {}, {}", self.first.fixed(radius), cut.label),
            Nose::Flat(width) => format!("flat {}, {}", self.first.fixed(width), cut.label),
        };
        write!(out, "  {nose:24}")?;
        for (value, width) in [
            (Some(cut.middle), 10),
            (cut.tip.min, 10),
            (cut.tip.max, 10),
            (Some(cut.depth_middle), 10),
            (cut.depth.min, 9),
            (cut.depth.max, 9),
            (Some(2.0 * cut.depth_middle), 10),
        ] {
            // A nose so large that it would stand in the air has no depth.
            let value = value.filter(|_| cut.depth_middle > 0.0);
            write!(out, "{:>width$}", self.cell(self.first, value))?;
        }
        out.push('\n');
        match cut.fit {
            Fit::Fits => Ok(()),
            Fit::TooLarge => writeln!(
                out,
                "      larger than the root takes: a gauge would foul it"
            ),
            Fit::TooDeep { by, stop_at, widen } => writeln!(
                out,
                "      {} past the limit of the root; or stop at X {} and widen the groove by {}",
                self.first.fixed(by),
                self.first.fixed(stop_at),
                self.first.with_unit(widen)
            ),
        }
    }

    fn tool(&self, out: &mut String) -> Done {
        let sheet = self.sheet;
        let depth = self.first.band(sheet.depth);
        self.line(
            out,
            "depth of form",
            &format!("{depth} at basic size, whatever the nose"),
        )?;
        let largest = [
            sheet
                .largest_radius
                .map(|r| format!("radius {}", self.first.with_unit(r))),
            sheet
                .largest_flat
                .map(|f| format!("flat {}", self.first.with_unit(f))),
        ];
        let largest: Vec<String> = largest.into_iter().flatten().collect();
        if !largest.is_empty() {
            self.line(out, "largest nose", &largest.join(", or "))?;
        }
        let lead = sheet.lead_angles;
        let angles = format!(
            "{:.3}° at the pitch diameter, {:.3}° at the smallest diameter",
            lead.at_pitch, lead.at_root
        );
        self.line(out, "lead angle", &angles)?;
        let relief = match (lead.relief, sheet.thread.form().flanks) {
            (Some(relief), _) => format!(" ({relief:.1}° of relief at the tip)"),
            (None, Some(_)) => " (no usual relief gives it)".to_owned(),
            (None, None) => String::new(),
        };
        let clearance = format!(
            "{:.1}° beside the flanks of an upright tool{relief}, less when tilted",
            lead.clearance
        );
        self.line(out, "clearance", &clearance)
    }

    fn measures(&self, out: &mut String) -> Done {
        let (first, side) = (self.first, self.sheet.side);
        match &self.sheet.wires {
            Err(why) => self.line(out, over(side), &format!("not computed: {why}"))?,
            Ok(wires) => {
                let best = format!(
                    "best {}, usable {}",
                    first.with_unit(wires.best),
                    first.band(wires.usable)
                );
                let tool = match side {
                    Side::External => "wires",
                    Side::Internal => "balls",
                };
                self.line(out, tool, &best)?;
                let band = if wires.over == Band::OPEN {
                    format!("basic {}", first.with_unit(wires.over_basic))
                } else {
                    let basic = first.fixed(wires.over_basic);
                    format!("{}{}, basic {basic}", first.band(wires.over), self.mark)
                };
                let sign = if wires.lead_term < 0.0 { '-' } else { '+' };
                let doubt = if wires.fits() {
                    ""
                } else {
                    " OUTSIDE the usable range"
                };
                let read = format!(
                    "{band}; {} {tool}{doubt}, lead angle {sign}{}",
                    first.with_unit(wires.wire),
                    first.fixed(wires.lead_term.abs())
                );
                self.line(out, over(side), &read)?;
            }
        }
        self.hole(out)
    }

    fn hole(&self, out: &mut String) -> Done {
        let Some(hole) = &self.sheet.hole else {
            return Ok(());
        };
        let mut text = match &hole.drill {
            None => hole.rule.to_owned(),
            Some(drill) => {
                // A drill goes by its own units, whatever the sheet is in.
                let metric = Lengths(Units::Millimetre).needed(drill.size, 0);
                let size = self.first.needed(drill.size, 0);
                let name = match (drill.name.is_empty(), self.first.0) {
                    (true, Units::Millimetre) => metric,
                    (true, Units::Inch) => format!("{metric} = {size}"),
                    (false, _) => format!("{} = {size}", drill.name),
                };
                let basic = self.sheet.basic;
                let height = (basic.major - basic.minor) / self.sheet.thread.pitch.mm();
                let mut text = name;
                if let Some(percent) = hole.percent_basic {
                    let _ = write!(text, ": {percent:.0} % of {height:.4}P");
                }
                if let Some(percent) = hole.percent_three_quarters {
                    let _ = write!(text, ", {percent:.0} % of 1.2990P");
                }
                text
            }
        };
        let mark = if hole.limits.unverified { "*" } else { "" };
        let band = self.first.band(hole.band());
        let class = &hole.limits.class;
        let class = if class.is_empty() {
            String::new()
        } else {
            format!(" ({class})")
        };
        let _ = write!(text, "; hole {band}{mark}{class}");
        self.line(out, "tap drill", &text)
    }

    fn notes(&self, out: &mut String) -> Done {
        out.push('\n');
        if self.sheet.limits.unverified {
            let text = "* unverified: rests on memory or on a rule that was not confirmed; compare \
                        with the standard before you rely on it";
            wrapped(out, [2, 4], text)?;
        }
        for note in &self.sheet.limits.notes {
            wrapped(out, [2, 4], &format!("note: {note}"))?;
        }
        let sources = self.sheet.sources.join("; ");
        wrapped(out, [2, 4], &format!("source: {sources}"))
    }

    fn line(&self, out: &mut String, label: &str, text: &str) -> Done {
        let indent = LABEL + 2;
        let mut lines = String::new();
        wrapped(&mut lines, [indent; 2], text)?;
        write!(out, "  {label:LABEL$}{}", &lines[indent..])
    }
}

fn over(side: Side) -> &'static str {
    match side {
        Side::External => "over wires",
        Side::Internal => "over balls",
    }
}

/// Breaks a text between words; the lines behind the first have their own indent.
fn wrapped(out: &mut String, indent: [usize; 2], text: &str) -> Done {
    let mut line = " ".repeat(indent[0]);
    let mut fresh = true;
    for word in text.split_whitespace() {
        if !fresh && line.chars().count() + 1 + word.chars().count() > WIDTH {
            writeln!(out, "{line}")?;
            line = " ".repeat(indent[1]);
            fresh = true;
        }
        if !fresh {
            line.push(' ');
        }
        line.push_str(word);
        fresh = false;
    }
    writeln!(out, "{line}")
}
