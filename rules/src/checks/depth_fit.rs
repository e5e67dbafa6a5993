//! A thread with its last diameter: the sums, the words and the mend that the rule about depth
//! and form shares.

use lexer::section::{Role, RoleWord, Scale, Section, Side, Syntax, Val};
use lexer::source::Span;
use lexer::units::{Diameter, Length, Radial};

use super::constants::{Constant, constant};
use super::meant::other_thread;
use super::text::{length_of_mm, number, quoted};
use super::words::{at_line, spell_length, text_of};
use super::{Context, Rule, restate};
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::standards::form::{Flanks, ROUNDED_ROOT};
use crate::standards::limits::Limits;
use crate::standards::thread::Thread;

/// Part of a pitch within which two depths are the same.
pub(super) const SAME: f64 = 0.01;

/// What the sums rest on.
pub(super) struct Judged<'a, 'c> {
    pub rule: &'a Rule,
    pub cx: &'a Context<'c>,
    pub thread: &'a Thread,
    pub side: Side,
    pub root: f64,
    pub limits: Limits,
}

impl Judged<'_, '_> {
    pub(super) fn pitch(&self) -> f64 {
        self.thread.pitch.mm()
    }

    /// Radial depth below the nominal crest: of a bolt from its major diameter, of a nut from its
    /// basic bore.
    pub(super) fn depth(&self) -> f64 {
        match self.side {
            Side::External => (self.thread.major.mm() - self.root) / 2.0,
            Side::Internal => (self.root - self.thread.basic().minor) / 2.0,
        }
    }

    pub(super) fn constant(&self) -> Option<Constant> {
        constant(self.thread, self.side, self.depth() / self.pitch())
    }

    pub(super) fn text(&self, value: f64) -> String {
        length_of_mm(value, self.cx.section.units)
    }

    /// The word that makes the last diameter.
    fn place(&self) -> (Span, u32) {
        self.guilty()
            .map_or_else(|| self.cx.place(), |word| (word.span, word.line))
    }

    fn guilty(&self) -> Option<&RoleWord> {
        let section = self.cx.section;
        if section.syntax.counts_from_crest() {
            return section.word(Role::Height);
        }
        let deepest = section.passes.iter().find(|pass| {
            pass.x
                .is_some_and(|x| (x.abs().mm() - self.root).abs() < 1e-6)
        });
        at_line(
            section,
            Role::EndX,
            deepest.map_or(section.last_line, |pass| pass.line),
        )
    }

    /// A finding with the sum that all share.
    pub(super) fn begin(&self, message: String) -> Finding {
        let basic = self.thread.basic();
        let mut finding = self
            .rule
            .found(self.place(), message)
            .severity(Severity::Warning);
        if let Some(word) = self.guilty() {
            finding = finding.because(format!(
                "{}: the deepest pass ends at {}",
                quoted(self.cx.bytes, word.span, word.line),
                self.text(self.root)
            ));
        }
        let (from, what) = match self.side {
            Side::External => (self.thread.major.mm(), "nominal major diameter"),
            Side::Internal => (basic.minor, "basic minor diameter"),
        };
        let depth = format!(
            "{} ({}): {what} {}; depth {} = {} of the pitch {}",
            self.thread.designation(),
            self.cx.identified.why,
            self.text(from),
            self.text(self.depth()),
            number(self.depth() / self.pitch(), 4),
            self.text(self.pitch())
        );
        finding = finding.because(depth);
        if self.cx.section.syntax.counts_from_crest()
            && let Some(crest) = self.cx.section.cut.crest_x.get()
            && !self.crest_is_nominal()
        {
            finding = finding.because(format!(
                "the words put the crest at {}",
                self.text(crest.abs().mm())
            ));
        }
        if let Some(constant) = self.constant() {
            finding = finding.because(format!(
                "{} P is {}",
                number(constant.per_pitch, 4),
                constant.what
            ));
        }
        if let Some((span, line)) = self.cx.identified.place {
            finding = finding.related((span, line), "the thread is named here");
        }
        let mut sources = vec![self.thread.form().source];
        for source in &self.limits.sources {
            if !sources.contains(source) {
                sources.push(source);
            }
        }
        finding.source(sources.join(", "))
    }

    pub(super) fn stated_severity(&self, finding: Finding) -> Finding {
        if self.cx.stated() {
            finding.severity(Severity::Error)
        } else {
            finding
        }
    }

    /// Named in the message, where a wrong constant is recognised.
    pub(super) fn named(&self) -> String {
        self.constant()
            .map_or(String::new(), |constant| format!(" ({})", constant.what))
    }

    /// Root diameter of a bolt with the rounded root that the finding advises.
    pub(super) fn rounded_root(&self) -> Option<f64> {
        let form = self.thread.form();
        let sixty = form.flanks? == Flanks::symmetric(30.0);
        let p = self.pitch();
        let design = form.design_depth(Side::External, p);
        let depth = if sixty && design < ROUNDED_ROOT * p && !self.rounded_by_name() {
            ROUNDED_ROOT * p
        } else {
            design
        };
        Some(self.thread.major.mm() - 2.0 * depth)
    }

    /// Forms whose own drawing has a rounded root, less deep than that of M.
    fn rounded_by_name(&self) -> bool {
        let root = self.thread.form().external.root;
        root.flat.is_none() && root.radius.is_some()
    }

    /// What to do, and a fix where a wrong constant is recognised.
    pub(super) fn help(&self, finding: Finding) -> Finding {
        if let Some(other) = other_thread(self.cx, self.thread) {
            return finding.help(format!(
                "the diameters and the lead are those of {other}: either the designation or the \
                 numbers are wrong; correct what the drawing does not say"
            ));
        }
        if self.side == Side::Internal {
            return finding.help(format!(
                "a nut ends at its nominal diameter, {}, or a little beyond with a fine nose",
                self.text(self.thread.major.mm())
            ));
        }
        let Some(right) = self.rounded_root() else {
            return finding.help("correct the last diameter and the height");
        };
        let finding = finding.help(format!(
            "the root of {} lies at {}",
            self.thread.designation(),
            self.text(right)
        ));
        let sure = self.cx.stated() && self.constant().is_some();
        match self.fix(right).filter(|_| sure) {
            Some(fix) => finding.fix(fix),
            None => finding,
        }
    }

    /// Writes the right root: the last diameter with the height that keeps the crest, or in the
    /// drive-line cycle the height alone.
    fn fix(&self, right: f64) -> Option<Fix> {
        let section = self.cx.section;
        let change = Length::from_mm((right - self.root) / 2.0);
        let height = section.word(Role::Height)?;
        let mut wanted = Radial(section.cut.height.get()?.0 - change);
        if let Scale::Increments(units) = height.scale {
            // Rounded up: the crest must not come to lie inside the nominal one.
            let least = units.least_increment();
            let count = (wanted.0.pm() as f64 / least.pm() as f64 - 0.05).ceil();
            wanted = Radial(least * count as i64);
        }
        // A height that is nonsense itself has a rule of its own.
        if wanted.0 <= Length::ZERO || wanted.mm() > 4.0 * self.pitch() {
            return None;
        }
        let mut edits = Vec::new();
        let mut titles = Vec::new();
        let mut replace = |word: &RoleWord, value: Length| {
            let text = spell_length(word, value);
            titles.push(format!(
                "{}{text} for {}",
                word.address(),
                text_of(self.cx.bytes, word.span)
            ));
            edits.push(Edit {
                span: word.value_span,
                text,
            });
        };
        match section.syntax {
            Syntax::TwoBlock | Syntax::OneBlock => {
                let mirrored = section.word(Role::EndX)?.length()? < Length::ZERO;
                let end = Length::from_mm(if mirrored { -right } else { right });
                replace(section.word(Role::EndX)?, end);
                replace(height, wanted.0);
            }
            // Only where the crest is the nominal one does the height alone make the root.
            syntax if syntax.counts_from_crest() && self.crest_is_nominal() => {
                replace(height, wanted.0);
            }
            _ => return None,
        }
        edits.sort_by_key(|edit| edit.span.start);
        let after = self.after(right, wanted);
        Some(Fix {
            title: format!(
                "write {}: root {} -> {}; {}",
                titles.join(" and "),
                self.text(self.root),
                self.text(right),
                restate::before_after(self.cx, &after)
            ),
            kind: FixKind::Motion,
            edits,
        })
    }

    fn crest_is_nominal(&self) -> bool {
        let crest = self.cx.section.cut.crest_x.get();
        crest.is_some_and(|crest| {
            (crest.abs().mm() - self.thread.major.mm()).abs() <= 0.05 * self.pitch()
        })
    }

    fn after(&self, right: f64, height: Radial) -> Section {
        let syntax = self.cx.section.syntax;
        restate::changed(self.cx.section, |cut| {
            if !syntax.counts_from_crest() {
                cut.root_x = Val::Exact(Diameter::from_mm(right));
            }
            restate::set_height(cut, height, syntax);
        })
    }
}
