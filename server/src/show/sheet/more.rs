//! The parts of a sheet that only some threads or readers have: taper, starts, coating, gauges, the
//! first-article sheet.

use std::fmt::Write as _;

use rules::measure::coating::Coated;
use rules::measure::first_article::{Line, Wanted};
use rules::standards::limits::Band;
use rules::standards::planes::Datum;

use super::{Done, LABEL, Page, WIDTH, wrapped};
use crate::show::lengths::trimmed;

impl Page<'_> {
    pub(super) fn taper(&self, out: &mut String) -> Done {
        let Some(taper) = self.sheet.taper else {
            return Ok(());
        };
        let text = format!(
            "1 in {} on the diameter, {} in per foot, {:.4}° to the axis",
            trimmed(taper.one_in(), 4),
            trimmed(taper.inches_per_foot(), 4),
            taper.half_angle_deg()
        );
        self.line(out, "taper", &text)?;
        match self.sheet.taper_word {
            None => self.line(
                out,
                "taper word",
                &format!(
                    "{} per {} of stroke, run-in included, on the radius",
                    trimmed(taper.word(1.0), 6),
                    self.first.name()
                ),
            ),
            Some((stroke, word)) => self.line(
                out,
                "taper word",
                &format!(
                    "{} on the radius over a stroke of {}; sign by the cycle",
                    self.first.with_unit(word),
                    self.first.needed(stroke, 0)
                ),
            ),
        }
    }

    pub(super) fn planes(&self, out: &mut String) -> Done {
        let Some(planes) = &self.sheet.planes else {
            return Ok(());
        };
        let first = self.first;
        let datum = match planes.datum {
            Datum::SmallEnd => "the small end",
            Datum::LargeEnd => "the large end",
        };
        let mark = if planes.unverified { "*" } else { "" };
        writeln!(
            out,
            "\n  planes; places from {datum}, toward larger diameters"
        )?;
        write!(out, "  {:34}", first.name())?;
        for title in ["place", "major", "pitch", "minor", "root"] {
            write!(out, "{title:>10}")?;
        }
        out.push('\n');
        let mut all = vec![&planes.gauge];
        all.extend(&planes.others);
        all.sort_by(|a, b| a.z_mm.total_cmp(&b.z_mm));
        for plane in all {
            write!(out, "  {:34}", plane.name)?;
            let at = plane.at;
            for mm in [plane.z_mm, at.major, at.pitch, at.minor, at.root] {
                write!(out, "{:>10}", format!("{}{mark}", first.fixed(mm)))?;
            }
            out.push('\n');
        }
        if planes.travel != Band::OPEN {
            let travel = first.band(planes.travel);
            let text = format!("the gauge plane of a piece lies at {travel}{mark}");
            wrapped(out, [2, 4], &text)?;
        }
        if let Some(useful) = planes.useful_mm {
            let text = format!("useful thread at least {}{mark}", first.with_unit(useful));
            wrapped(out, [2, 4], &text)?;
        }
        for note in &planes.notes {
            wrapped(out, [2, 4], &format!("note: {note}"))?;
        }
        Ok(())
    }

    pub(super) fn starts(&self, out: &mut String) -> Done {
        for (index, start) in self.sheet.starts.iter().enumerate().skip(1) {
            let text = format!(
                "at {}° of the spindle, or start shifted by {} along the axis",
                trimmed(start.angle_deg, 4),
                self.first.needed(start.shift, 2)
            );
            self.line(out, &format!("start {}", index + 1), &text)?;
        }
        Ok(())
    }

    pub(super) fn coating(&self, out: &mut String) -> Done {
        let Some(coated) = &self.sheet.coated else {
            return Ok(());
        };
        let factor = coated.factor.map_or_else(
            || "the pitch diameter of this form cannot be allowed for".to_owned(),
            |factor| format!("the pitch diameter changes by {factor:.2} times that"),
        );
        // A layer is given in µm: the usual digits are too few.
        let layer = format!(
            "{} to {} µm",
            trimmed(coated.coating.min * 1000.0, 2),
            trimmed(coated.coating.max * 1000.0, 2)
        );
        writeln!(out, "\n  coating of {layer} on every surface; {factor}")?;
        write!(out, "  {:LABEL$}", self.first.name())?;
        for title in ["cut min", "cut max", "coat min", "coat max"] {
            write!(out, "{title:>10}")?;
        }
        writeln!(out, "   changes by")?;
        let rows = [
            ("major diameter", Some(&coated.major)),
            ("pitch diameter", coated.pitch.as_ref()),
            ("minor diameter", Some(&coated.minor)),
        ];
        for (label, row) in rows {
            if let Some(row) = row {
                self.coated(out, label, row)?;
            }
        }
        let text = "cut: the limits to cut to where the class must hold after coating. coat: what \
                    the class itself becomes; ISO 965-1 and ASME B1.1 apply it before coating \
                    unless the drawing says otherwise, and then no diameter may pass its basic size.";
        wrapped(out, [2, 4], text)
    }

    fn coated(&self, out: &mut String, label: &str, row: &Coated) -> Done {
        let first = self.first;
        write!(out, "  {label:LABEL$}")?;
        for value in [
            row.cut_to.min,
            row.cut_to.max,
            row.becomes.min,
            row.becomes.max,
        ] {
            write!(out, "{:>10}", self.cell(first, value))?;
        }
        writeln!(out, "   {}", first.band(row.change))?;
        if let Some(by) = row.short_by {
            writeln!(
                out,
                "      no band is left to cut to: the layer spreads {} more than the tolerance",
                first.with_unit(by)
            )?;
        }
        if let Some(by) = row.past_basic {
            writeln!(
                out,
                "      coated after cutting to the class it passes the basic size by {}",
                first.with_unit(by)
            )?;
        }
        Ok(())
    }

    pub(super) fn gauges(&self, out: &mut String) -> Done {
        writeln!(out, "\n  gauges")?;
        let gauges = &self.sheet.gauges;
        if gauges.is_empty() {
            return writeln!(out, "    not named: the limits are not known here");
        }
        let widest = gauges.iter().map(|gauge| gauge.name.chars().count());
        let width = widest.max().unwrap_or(0);
        for gauge in gauges {
            let size = gauge
                .size
                .map_or_else(String::new, |mm| self.first.fixed(mm));
            let head = format!("    {:width$}  {size:>8}", gauge.name);
            if head.chars().count() + 2 + gauge.passes.chars().count() > WIDTH {
                writeln!(out, "{}\n        {}", head.trim_end(), gauge.passes)?;
            } else {
                writeln!(out, "{head}  {}", gauge.passes)?;
            }
        }
        Ok(())
    }

    pub(super) fn first_article(&self, out: &mut String) -> Done {
        writeln!(out, "\n  first article")?;
        let what = |line: &Line| match line.with {
            Some(mm) => format!("{} {}", line.what, self.first.with_unit(mm)),
            None => line.what.clone(),
        };
        let lines = &self.sheet.first_article;
        let width = lines.iter().map(|line| what(line).chars().count()).max();
        let width = width.unwrap_or(0);
        for line in lines {
            let wanted = match &line.wanted {
                Wanted::Between(band) => self.first.band(*band),
                Wanted::Words(words) => words.clone(),
                Wanted::ByHand => "________".to_owned(),
            };
            writeln!(out, "    [ ] {:width$}  {wanted}", what(line))?;
            writeln!(out, "        {}", line.how)?;
        }
        Ok(())
    }
}
