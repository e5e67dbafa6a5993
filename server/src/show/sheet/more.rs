//! The parts of a sheet that only some threads or readers have: taper, starts, coating, gauges, the
//! first-article sheet.

use std::fmt::Write as _;

use rules::measure::coating::Coated;
use rules::measure::first_article::{Line, Wanted};
use rules::standards::limits::Band;

use super::{Done, LABEL, Page, trimmed, wrapped};

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
        let layer = Band::between(coated.coating.min, coated.coating.max);
        let factor = coated.factor.map_or_else(
            || "the pitch diameter of this form cannot be allowed for".to_owned(),
            |factor| format!("the pitch diameter changes by {factor:.2} times that"),
        );
        // A layer is given in µm: the usual digits are too few.
        let layer = format!(
            "{} to {} µm",
            trimmed(layer.min.unwrap_or(0.0) * 1000.0, 2),
            trimmed(layer.max.unwrap_or(0.0) * 1000.0, 2)
        );
        writeln!(out, "\n  coating of {layer} on every surface; {factor}")?;
        write!(out, "  {:LABEL$}", self.first.name())?;
        for title in ["cut min", "cut max", "coat min", "coat max"] {
            write!(out, "{title:>10}")?;
        }
        writeln!(out, "   {}", "changes by")?;
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
        let widest = gauges.iter().map(|gauge| gauge.name.chars().count());
        let width = widest.max().unwrap_or(0);
        for gauge in gauges {
            let size = gauge
                .size
                .map_or_else(String::new, |mm| self.first.fixed(mm));
            let line = format!("    {:width$}  {size:>8}  {}", gauge.name, gauge.passes);
            writeln!(out, "{}", line.trim_end())?;
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
