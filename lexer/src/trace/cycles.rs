//! Multi-pass cycles and calls: each block that orders one becomes a section.

use super::*;

impl Walker<'_> {
    pub(super) fn multi_pass(&mut self, block: &Block) -> Option<Consumed> {
        if self.machine.family == Family::Mill {
            return None;
        }
        if self.listed >= LISTED {
            self.unread(block, TOO_MANY);
            return None;
        }
        if self.machine.family == Family::Compound {
            return self.compound_cycle(block);
        }
        if drive_line::is_drive_line(block, self.machine.family) {
            let draft = drive_line::read(&self.machine, block);
            // The cycle ends at the far end of the drive line.
            let end = Position {
                z: draft.cut.end_z.get(),
                ..self.machine.at
            };
            let consumed = self.finished(draft, block, effects::DRIVE_LINE);
            self.machine.go(end);
            return consumed;
        }
        if one_block::is_one_block(block) {
            let draft = one_block::read(&self.machine, block);
            return self.finished(draft, block, effects::ONE_BLOCK);
        }
        if two_block::is_setup(block) {
            two_block::read_setup(&self.machine, block, &mut self.setup);
            self.setup_used = false;
            let digits = block.number_of(b'P');
            let read = digits.is_none_or(|digits| two_block::unpack(digits).is_some());
            return read.then_some(effects::SETUP);
        }
        if self.bores(block) {
            // A hole cycle of another machine.
            return None;
        }
        if two_block::is_main(block, &self.setup) {
            let draft = two_block::read(&self.machine, block, &self.setup, self.settings);
            return self.finished(draft, block, effects::TWO_BLOCK);
        }
        self.unread(
            block,
            "a multi-pass code whose words fit none of its known ways",
        );
        None
    }

    /// G71 or G72 in the family where it threads.
    pub(super) fn compound_cycle(&mut self, block: &Block) -> Option<Consumed> {
        if !compound::is_cycle(block) {
            return None;
        }
        let draft = compound::read(&self.machine, block, self.compound);
        self.finished(draft, block, effects::COMPOUND)
    }

    /// A block with names: a call cuts at once, or at every motion behind it.
    pub(super) fn named(&mut self, block: &Block, bytes: &[u8]) {
        match call::found(block, bytes) {
            // What stays in force is read again later, from the text of the program itself.
            Some((_, _, true)) if !std::ptr::eq(bytes, self.bytes) => self.unread(
                block,
                "a threading call that stays in force stands in another file",
            ),
            Some((_, _, true)) => self.modal_call = Some((block.clone(), false)),
            Some(_) => self.call(block, bytes, block, false),
            None if call::ends_modal(block, bytes) => self.modal_call = None,
            None => {}
        }
    }

    /// Runs a threading cycle that is called by its name in a block, at another that causes it.
    /// The first cut of a modal call holds the block of the call, the others only their own.
    pub(super) fn call(&mut self, block: &Block, bytes: &[u8], at: &Block, used: bool) {
        let Some((call, name, _)) = call::found(block, bytes) else {
            return;
        };
        if self.listed >= LISTED {
            return self.unread(at, TOO_MANY);
        }
        match call::read(&self.machine, block, bytes, call, name) {
            Ok((mut draft, milling)) => {
                for pass in &mut draft.passes {
                    (pass.line, pass.span) = (at.line, at.span);
                }
                self.finished(draft, at, effects::CALL);
                let mut section = self.program.sections.last_mut();
                if let (Some(section), Some(milling)) = (section.as_mut(), milling) {
                    section.kind = Kind::Milled;
                    section.milling = Some(Box::new(milling));
                }
                let modal = block.line != at.line;
                if let Some(section) = section.filter(|_| modal) {
                    if used {
                        section.span = at.span;
                        (section.first_line, section.last_line) = (at.line, at.line);
                    } else {
                        // A subprogram may stand behind what it makes move.
                        section.span = block.span.to(at.span);
                        section.first_line = block.line.min(at.line);
                        section.last_line = block.line.max(at.line);
                        section.blocks.push(place(block.span, block.line));
                        section.blocks.sort_by_key(|block| block.span.start);
                    }
                }
                // The cycle ends at its own start point.
                self.machine.go(Position::default());
            }
            Err(why) => self.unread(at, why),
        }
    }

    /// Fine boring on a machine that the text does not settle: a hole cycle moves along Z alone,
    /// with R as a plane and no height P.
    pub(super) fn bores(&self, block: &Block) -> bool {
        let per_minute = block.number_of(b'F').is_some_and(|f| f.value() > 10.0);
        block.has(b'Y')
            || (self.machine.family == Family::Undecided
                && self.setup.block.is_none()
                && per_minute)
            || (self.setup.block.is_none() && !block.has_any(b"XU") && block.has(b'R'))
            || !block.has_any(b"XU") && !block.has(b'P')
    }

    /// Adds a multi-pass cycle as a section; `letters` are those that its passes stand for.
    pub(super) fn finished(
        &mut self,
        draft: Draft,
        block: &Block,
        letters: Consumed,
    ) -> Option<Consumed> {
        // The moves before a cycle lead to it, unless they belong to strokes that end here.
        let mut moves = if self.strokes.is_empty() {
            self.latest_moves();
            std::mem::take(&mut self.moves)
        } else {
            Vec::new()
        };
        if draft.unknown.iter().any(|why| why == MIRRORED) {
            moves = moves.into_iter().map(Move::mirrored).collect();
        }
        self.flush();
        self.listed += draft.passes.len();
        self.contour.thread(block.line);
        let with_setup = draft.syntax == Syntax::TwoBlock;
        let consumed = (!draft.passes.is_empty()).then_some(letters);
        let setup = two_block::setup_span(&self.setup).filter(|_| with_setup && !self.setup_used);
        self.setup_used |= with_setup;
        let mut blocks = Vec::new();
        let mut span = draft.span;
        let mut first_line = draft.line;
        if let Some((setup_span, line)) = setup {
            blocks.push(place(setup_span, line));
            span = setup_span.to(span);
            first_line = line;
        }
        blocks.push(place(block.span, block.line));
        let mut unknown = draft.unknown;
        for why in &self.orders.unknown {
            if !unknown.contains(why) {
                unknown.push(why.clone());
            }
        }
        self.assumptions(&mut unknown);
        let last_line = block.line.max(first_line);
        first_line = first_line.min(block.line);
        let section = Section {
            syntax: draft.syntax,
            kind: Kind::Turned,
            span,
            first_line,
            last_line,
            blocks,
            cut: draft.cut,
            passes: draft.passes,
            passes_certain: draft.passes_certain && !self.orders.doubtful,
            words: draft.words,
            units: self.machine.units,
            radius_mode: self.machine.radius_mode,
            spindle: self.machine.spindle,
            tool: self.machine.tool,
            notes: self.looked(block.line),
            unknown,
            chase: false,
            missing: draft.missing,
            moves,
            tapping: None,
            milling: None,
            height_over_lead: None,
        };
        let mut section = section;
        section.height_over_lead = height_over_lead(
            section.syntax,
            &self.orders.multiples,
            section.units,
            section.radius_mode,
        );
        if let Some(ratio) = section.height_over_lead {
            section.unknown.push(format!(
                "the height is {} of the lead, whatever the variable is",
                (ratio.value * 1e4).round() / 1e4
            ));
        }
        section.cut.make_near(std::mem::take(&mut self.orders.near));
        self.program.sections.push(section);
        self.last_was_stroke = false;
        consumed
    }
}
