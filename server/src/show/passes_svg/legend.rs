//! What has to be said beside the passes: legend, scale, and what the drawing rests on.

use lexer::section::Purpose;
use rules::measure::tool::Nose;
use svg::node::element::{Group, Line, Path, Rectangle};

use super::{HEIGHT, View, WIDEST, WIDTH, hundredths, label};
use crate::show::lengths::trimmed;
use crate::show::text::plural;

impl View<'_> {
    fn tip(&self) -> String {
        let size = match self.nose {
            Nose::Radius(0.0) => "a sharp point".to_owned(),
            Nose::Radius(radius) => format!("a nose of {} mm", trimmed(radius, 3)),
            Nose::Flat(flat) => format!("a nose flat of {} mm", trimmed(flat, 3)),
        };
        match self.nose_known {
            true => format!("drawn with {size}"),
            false => format!("drawn with {size}: the nose is not stated"),
        }
    }

    /// What has to be known to read the drawing.
    fn remarks(&self) -> Vec<String> {
        let mut all = vec![self.tip()];
        if self.springs > 0 {
            let passes = plural(self.springs, "pass", "passes");
            all.push(format!("{passes} without new depth not drawn"));
        }
        if self.starts > 1 {
            all.push(format!("first of {} starts", self.starts));
        }
        if self.centred.is_some() {
            all.push("shift along the axis is the control's own: drawn in the middle".to_owned());
        }
        all
    }

    pub(super) fn words(&self) -> String {
        let depths: Vec<String> = self
            .chips
            .iter()
            .map(|chip| format!("{} to {:.3}", chip.nth, chip.at.depth))
            .collect();
        format!(
            "One groove in the plane of the axis, to scale, pitch {} mm. Depth below the crest after \
             each pass, mm: {}. {}.",
            trimmed(self.pitch, 4),
            depths.join(", "),
            self.remarks().join("; ")
        )
    }

    pub(super) fn legend(&self) -> Group {
        let mut group = Group::new();
        let top = HEIGHT - 58.0;
        let finish = self
            .chips
            .iter()
            .any(|chip| chip.purpose == Purpose::Finish);
        let mut x = 16.0;
        let mut entries = vec![("fw-chip fw-a", "passes in turn"), ("fw-chip fw-b", "")];
        if finish {
            entries.push(("fw-chip fw-finish", "finishing cut"));
        }
        entries.push(("fw-metal", "material left"));
        // Both tones of the passes stand before their one name.
        entries.swap(0, 1);
        for (class, name) in entries {
            let swatch = Rectangle::new()
                .set("class", class)
                .set("x", x)
                .set("y", top)
                .set("width", 14)
                .set("height", 10);
            group = group.add(swatch);
            x += 16.0;
            if !name.is_empty() {
                group = group.add(label(x + 4.0, top + 9.0, name));
                x += 22.0 + 6.4 * name.len() as f64;
            }
        }
        let dash = Path::new()
            .set("class", "fw-form")
            .set("d", format!("M{x} {0}L{1} {0}", top + 5.0, x + 22.0));
        group = group
            .add(dash)
            .add(label(x + 28.0, top + 9.0, "form of the standard"));
        let bar = scale_bar(WIDEST / self.scale);
        let (left, y) = (WIDTH - 16.0 - bar * self.scale, 44.0);
        group = group
            .add(
                Line::new()
                    .set("class", "fw-rule")
                    .set("x1", hundredths(left))
                    .set("x2", WIDTH - 16.0)
                    .set("y1", y)
                    .set("y2", y),
            )
            .add(
                label(WIDTH - 16.0, y - 5.0, &format!("{} mm", trimmed(bar, 2)))
                    .set("text-anchor", "end"),
            );
        for (line, remark) in pairs(&self.remarks()).iter().enumerate() {
            group = group.add(label(16.0, top + 28.0 + 15.0 * line as f64, remark));
        }
        group
    }
}

/// A round length of about a sixth of what is seen.
fn scale_bar(seen: f64) -> f64 {
    let wanted = seen / 6.0;
    let rounds = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0];
    rounds
        .into_iter()
        .rev()
        .find(|round| *round <= wanted)
        .unwrap_or(0.02)
}

/// Remarks on as few lines as fit.
fn pairs(remarks: &[String]) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for remark in remarks {
        match lines.last_mut() {
            Some(line) if line.chars().count() + remark.chars().count() < 66 => {
                line.push_str("; ");
                line.push_str(remark);
            }
            _ => lines.push(remark.clone()),
        }
    }
    lines
}
