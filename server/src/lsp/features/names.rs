//! Names in a program: program numbers, line numbers, variables, and who calls whom.

use std::path::Path;

use tower_lsp::ls_types::*;

use super::Asked;
use crate::lsp::assist::{Assist, Routine};

/// Answers `textDocument/definition`.
pub(in crate::lsp) fn definition<A: Assist>(
    asked: &Asked<A>,
    at: Position,
) -> Option<GotoDefinitionResponse> {
    let byte = asked.offset(at);
    let places: Vec<_> = asked
        .analysis
        .occurrences(&asked.result, byte)
        .into_iter()
        .filter(|one| one.defines)
        .map(|one| location(asked, one.bytes))
        .collect();
    if !places.is_empty() {
        return Some(places.into());
    }
    // A program in another file: its first line.
    let folder = asked.snapshot.path.as_deref()?.parent()?;
    let links = asked.analysis.links(&asked.result);
    let link = links
        .iter()
        .find(|link| link.bytes.start <= byte && byte <= link.bytes.end)?;
    let file = existing(folder, &link.names)?;
    Some(Location::new(file, Range::default()).into())
}

/// Answers `textDocument/references`.
pub(in crate::lsp) fn references<A: Assist>(
    asked: &Asked<A>,
    at: Position,
    with_definition: bool,
) -> Vec<Location> {
    let places = asked
        .analysis
        .occurrences(&asked.result, asked.offset(at))
        .into_iter();
    places
        .filter(|one| with_definition || !one.defines)
        .map(|one| location(asked, one.bytes))
        .collect()
}

/// Answers `textDocument/documentHighlight`: the places of a name, or the blocks that cut a thread
/// together.
pub(in crate::lsp) fn highlights<A: Assist>(
    asked: &Asked<A>,
    at: Position,
) -> Vec<DocumentHighlight> {
    let byte = asked.offset(at);
    let named = asked.analysis.occurrences(&asked.result, byte);
    if !named.is_empty() {
        let named = named.into_iter();
        return named
            .map(|one| DocumentHighlight {
                range: asked.range(one.bytes),
                kind: Some(if one.defines {
                    DocumentHighlightKind::WRITE
                } else {
                    DocumentHighlightKind::READ
                }),
            })
            .collect();
    }
    let companions = asked.analysis.companions(&asked.result, byte).into_iter();
    companions
        .map(|bytes| DocumentHighlight {
            range: asked.range(bytes),
            kind: Some(DocumentHighlightKind::TEXT),
        })
        .collect()
}

/// Answers `textDocument/documentLink`: programs in files beside this one, where there are such.
pub(in crate::lsp) fn links<A: Assist>(asked: &Asked<A>) -> Vec<DocumentLink> {
    let Some(folder) = asked.snapshot.path.as_deref().and_then(Path::parent) else {
        return Vec::new();
    };
    let links = asked.analysis.links(&asked.result).into_iter();
    links
        .filter_map(|link| {
            Some(DocumentLink {
                target: Some(existing(folder, &link.names)?),
                range: asked.range(link.bytes),
                tooltip: None,
                data: None,
            })
        })
        .collect()
}

fn existing(folder: &Path, names: &[String]) -> Option<Uri> {
    let file = names
        .iter()
        .map(|name| folder.join(name))
        .find(|file| file.is_file())?;
    Uri::from_file_path(file)
}

/// Answers `textDocument/prepareCallHierarchy`.
pub(in crate::lsp) fn prepare<A: Assist>(
    asked: &Asked<A>,
    at: Position,
) -> Option<Vec<CallHierarchyItem>> {
    let byte = asked.offset(at);
    let routines = asked.analysis.routines(&asked.result);
    let called = routines
        .iter()
        .flat_map(|routine| &routine.calls)
        .find(|(bytes, _)| bytes.start <= byte && byte <= bytes.end)
        .map(|(_, name)| name.clone());
    let routine = match called {
        Some(name) => routines.iter().find(|routine| routine.name == name)?,
        None => routines
            .iter()
            .rfind(|routine| routine.bytes.start <= byte && byte <= routine.bytes.end)?,
    };
    Some(vec![item(asked, routine)])
}

/// Answers `callHierarchy/incomingCalls`.
pub(in crate::lsp) fn calls_to<A: Assist>(
    asked: &Asked<A>,
    name: &str,
) -> Vec<CallHierarchyIncomingCall> {
    let routines = asked.analysis.routines(&asked.result);
    let mut calls = Vec::new();
    for routine in &routines {
        let from_ranges: Vec<_> = routine
            .calls
            .iter()
            .filter(|(_, called)| called == name)
            .map(|(bytes, _)| asked.range(bytes.clone()))
            .collect();
        if !from_ranges.is_empty() {
            calls.push(CallHierarchyIncomingCall {
                from: item(asked, routine),
                from_ranges,
            });
        }
    }
    calls
}

/// Answers `callHierarchy/outgoingCalls`.
pub(in crate::lsp) fn calls_from<A: Assist>(
    asked: &Asked<A>,
    name: &str,
) -> Vec<CallHierarchyOutgoingCall> {
    let routines = asked.analysis.routines(&asked.result);
    let Some(caller) = routines.iter().find(|routine| routine.name == name) else {
        return Vec::new();
    };
    let mut calls: Vec<CallHierarchyOutgoingCall> = Vec::new();
    for (bytes, called) in &caller.calls {
        let range = asked.range(bytes.clone());
        if let Some(known) = calls.iter_mut().find(|call| call.to.name == *called) {
            known.from_ranges.push(range);
        } else if let Some(routine) = routines.iter().find(|routine| routine.name == *called) {
            calls.push(CallHierarchyOutgoingCall {
                to: item(asked, routine),
                from_ranges: vec![range],
            });
        }
    }
    calls
}

fn item<A: Assist>(asked: &Asked<A>, routine: &Routine) -> CallHierarchyItem {
    CallHierarchyItem {
        name: routine.name.clone(),
        kind: SymbolKind::MODULE,
        tags: None,
        detail: None,
        uri: asked.snapshot.uri.clone(),
        range: asked.range(routine.bytes.clone()),
        selection_range: asked.range(routine.select.clone()),
        data: None,
    }
}

fn location<A: Assist>(asked: &Asked<A>, bytes: std::ops::Range<usize>) -> Location {
    Location::new(asked.snapshot.uri.clone(), asked.range(bytes))
}
