//! Outline, folding, selection.

use tower_lsp::ls_types::*;

use super::Asked;
use crate::lsp::assist::{self, Assist};

/// Answers `textDocument/documentSymbol`.
pub(in crate::lsp) fn symbols<A: Assist>(asked: &Asked<A>) -> DocumentSymbolResponse {
    let found = asked.analysis.symbols(&asked.result);
    if asked.facts.nested_symbols {
        let nested = found.into_iter().map(|one| nested(asked, one)).collect();
        return DocumentSymbolResponse::Nested(nested);
    }
    let mut flat = Vec::new();
    for symbol in found {
        flatten(asked, symbol, None, &mut flat);
    }
    DocumentSymbolResponse::Flat(flat)
}

#[allow(deprecated)] // the field has to be written
fn nested<A: Assist>(asked: &Asked<A>, symbol: assist::Symbol) -> DocumentSymbol {
    let children: Vec<_> = symbol
        .children
        .into_iter()
        .map(|child| nested(asked, child))
        .collect();
    DocumentSymbol {
        name: symbol.name,
        detail: (!symbol.detail.is_empty()).then_some(symbol.detail),
        kind: kind(symbol.kind),
        tags: None,
        deprecated: None,
        range: asked.range(symbol.bytes),
        selection_range: asked.range(symbol.select),
        children: (!children.is_empty()).then_some(children),
    }
}

#[allow(deprecated)] // the field has to be written
fn flatten<A: Assist>(
    asked: &Asked<A>,
    symbol: assist::Symbol,
    container: Option<&str>,
    flat: &mut Vec<SymbolInformation>,
) {
    flat.push(SymbolInformation {
        name: symbol.name.clone(),
        kind: kind(symbol.kind),
        tags: None,
        deprecated: None,
        location: Location::new(asked.snapshot.uri.clone(), asked.range(symbol.bytes)),
        container_name: container.map(str::to_owned),
    });
    for child in symbol.children {
        flatten(asked, child, Some(&symbol.name), flat);
    }
}

pub(super) fn kind(kind: assist::SymbolKind) -> SymbolKind {
    match kind {
        assist::SymbolKind::Program => SymbolKind::MODULE,
        assist::SymbolKind::Tool => SymbolKind::NAMESPACE,
        assist::SymbolKind::Thread => SymbolKind::FUNCTION,
        assist::SymbolKind::Pass => SymbolKind::EVENT,
    }
}

/// Answers `textDocument/foldingRange`.
pub(in crate::lsp) fn folds<A: Assist>(asked: &Asked<A>) -> Vec<FoldingRange> {
    let folds = asked.analysis.folds(&asked.result);
    folds
        .into_iter()
        .map(|bytes| asked.range(bytes))
        .filter(|range| range.end.line > range.start.line)
        .map(|range| FoldingRange {
            start_line: range.start.line,
            end_line: range.end.line,
            start_character: None,
            end_character: None,
            kind: Some(FoldingRangeKind::Region),
            collapsed_text: None,
        })
        .collect()
}

/// Answers `textDocument/selectionRange`.
pub(in crate::lsp) fn selections<A: Assist>(
    asked: &Asked<A>,
    places: &[Position],
) -> Vec<SelectionRange> {
    let one = |&at: &Position| {
        let around = asked.analysis.around(&asked.result, asked.offset(at));
        let outward = around.into_iter().rev();
        let nested = outward.fold(None, |parent, bytes| {
            Some(SelectionRange {
                range: asked.range(bytes),
                parent: parent.map(Box::new),
            })
        });
        nested.unwrap_or_else(|| SelectionRange {
            range: Range::new(at, at),
            parent: None,
        })
    };
    places.iter().map(one).collect()
}
