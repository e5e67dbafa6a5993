//! Programs with variables, jumps or calls: their blocks come in the order of execution.

use super::*;

impl Walker<'_> {
    /// Runs a program with variables, jumps or calls.
    pub(super) fn run(&mut self, style: Style, library: &dyn Library) {
        if let Some(effects) = self.effects.as_mut() {
            effects.run();
        }
        let ran = run(self.bytes, style, library, self);
        self.flush();
        self.program.parts = ran
            .programs
            .iter()
            .map(|&(number, first_line)| Part { number, first_line })
            .collect();
        let lines = ran
            .repeated
            .iter()
            .map(|&line| self.program.lines.span(line));
        self.program.shared = merged(lines.chain(ran.computed.iter().copied()).collect());
        let program = &mut self.program;
        for section in &mut program.sections {
            section
                .words
                .retain(|word| !touches(&program.shared, word.span));
        }
        self.not_reached(&ran.skipped);
    }

    /// Threading that the values of the program leave out is said.
    pub(super) fn not_reached(&mut self, skipped: &[u32]) {
        let mut block = Block::default();
        let mut said = 0;
        for &line in skipped {
            let start = self.program.lines.span(line).start;
            Blocks::at(self.bytes, start, line).read(&mut block);
            let threads = block.g_codes().any(|(code, _)| {
                matches!(code, 320 | 330 | 760 | 780) || code == 920 && block.has(b'F')
            });
            if threads && said < 100 {
                said += 1;
                self.unread(
                    &block,
                    "threading that is not reached with the values of this program",
                );
            }
        }
    }
}

impl run::Reader for Walker<'_> {
    fn block(&mut self, block: &Block, how: &How<'_>) {
        self.orders.unknown.clear();
        self.orders.doubtful = how.doubt.is_some();
        self.orders.near |= how.near;
        self.orders.multiples.clear();
        self.orders.multiples.extend_from_slice(how.multiples);
        if !how.arguments {
            self.machine.tied.see(block, how.multiples);
        }
        self.orders.returns = how.returns;
        let from = how
            .elsewhere
            .map(|file| format!("the thread stands in the file {file}, which this block calls"));
        let reasons = how.reasons.iter().cloned();
        let doubt = how.doubt.map(str::to_owned);
        self.orders.unknown.extend(reasons.chain(doubt).chain(from));
        if how.doubt.is_some()
            && let Some(effects) = self.effects.as_mut()
        {
            effects.unsure();
        }
        if how.arguments {
            if let Some(effects) = self.effects.as_mut() {
                effects.arguments(block);
            }
            return;
        }
        Walker::block(self, block, how.bytes);
        let at = self.machine.at;
        if !how.reasons.is_empty() {
            self.orders.lost = how.reasons.to_vec();
        } else if at.x.is_some() && at.z.is_some() {
            self.orders.lost.clear();
        }
    }

    fn lost(&mut self) {
        self.machine.go(Position::default());
    }

    fn unknown_call(&mut self, place: (Span, u32)) {
        self.contour.called(place);
        self.forget();
    }

    fn uncertain(&mut self, from: u32, why: &'static str) {
        if let Some(effects) = self.effects.as_mut() {
            effects.unsure();
        }
        // What was marked before need not be looked at again.
        let known = self
            .marked
            .filter(|known| known.from <= from && known.why == why);
        let counts = known.map_or((0, 0), |known| (known.strokes, known.sections));
        let first = counts.0.min(self.strokes.len());
        let strokes = self.strokes[first..].iter_mut().rev();
        for stroke in strokes.take_while(|stroke| stroke.block.line >= from) {
            if !stroke.why.iter().any(|known| known == why) {
                stroke.why.push(why.to_owned());
            }
        }
        let first = counts.1.min(self.program.sections.len());
        let sections = self.program.sections[first..].iter_mut().rev();
        for section in sections.take_while(|section| section.last_line >= from) {
            section.passes_certain = false;
            if !section.unknown.iter().any(|known| known == why) {
                section.unknown.push(why.to_owned());
            }
        }
        self.marked = Some(Marked {
            from: known.map_or(from, |known| known.from),
            why,
            strokes: self.strokes.len(),
            sections: self.program.sections.len(),
        });
    }

    fn unread(&mut self, mark: Mark<&'static str>) {
        // What is called is compared by its call.
        if let Some(effects) = self.effects.as_mut()
            && mark.value != run::NOT_FOUND
        {
            effects.unsure();
        }
        self.program.unread.push(mark);
    }

    fn endless(&mut self, endless: Endless) {
        self.program.endless.push(endless);
    }

    fn restart(&mut self) {
        self.flush();
        self.forget();
    }
}

/// Spans in order; those that meet are one.
fn merged(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_unstable();
    let mut all: Vec<Span> = Vec::new();
    for span in spans {
        match all.last_mut() {
            Some(last) if span.start <= last.end => last.end = last.end.max(span.end),
            _ => all.push(span),
        }
    }
    all
}

/// Whether a span meets one of the spans, which are in order.
fn touches(all: &[Span], span: Span) -> bool {
    let behind = all.partition_point(|known| known.end <= span.start);
    all.get(behind).is_some_and(|known| known.start < span.end)
}
