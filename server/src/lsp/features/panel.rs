//! Commands that an editor's own panel asks for.

use std::path::PathBuf;

use serde_json::{Value, json};
use tower_lsp::jsonrpc::{self, Error};
use tower_lsp::ls_types::*;

use super::Asked;
use crate::lsp::assist::Assist;
use crate::lsp::documents::path_of;

/// `flankwise.section` URI POSITION: the thread there, or null.
pub(super) const SECTION: &str = "flankwise.section";

/// `flankwise.checkWorkspace`: judges every program below the folders of the workspace.
const CHECK_WORKSPACE: &str = "flankwise.checkWorkspace";

/// `flankwise.audit` [URI [QUANTITIES]]: the audit of a file or folder, or of the workspace, as
/// Markdown; QUANTITIES is the URI of a CSV.
const AUDIT: &str = "flankwise.audit";

/// `flankwise.report` [URI [QUANTITIES]]: the same as one HTML page.
const REPORT: &str = "flankwise.report";

/// Every command.
pub(in crate::lsp) const COMMANDS: [&str; 4] = [SECTION, CHECK_WORKSPACE, AUDIT, REPORT];

/// A command with its arguments.
pub(in crate::lsp) enum Asking {
    /// The thread at a place.
    Section(Uri, Position),
    /// Every program of the workspace.
    CheckWorkspace,
    /// The audit of a file or folder, or of the workspace.
    Audit {
        /// What is audited; none for the workspace.
        path: Option<PathBuf>,
        /// A file of quantities.
        quantities: Option<PathBuf>,
        /// As a page and not as Markdown.
        page: bool,
    },
}

/// What a command asks about.
///
/// # Errors
///
/// For an unknown command or arguments of another shape.
pub(in crate::lsp) fn command(params: ExecuteCommandParams) -> jsonrpc::Result<Asking> {
    match params.command.as_str() {
        CHECK_WORKSPACE => return Ok(Asking::CheckWorkspace),
        AUDIT => return audit(&params.arguments, false),
        REPORT => return audit(&params.arguments, true),
        SECTION => {}
        _ => {
            let known = COMMANDS.join(", ");
            return Err(Error::invalid_params(format!(
                "unknown command; there are {known}"
            )));
        }
    }
    let mut arguments = params.arguments.into_iter();
    let uri = arguments
        .next()
        .and_then(|it| serde_json::from_value(it).ok());
    let at = arguments
        .next()
        .and_then(|it| serde_json::from_value(it).ok());
    uri.zip(at)
        .map(|(uri, at)| Asking::Section(uri, at))
        .ok_or_else(|| Error::invalid_params(format!("{SECTION} takes a URI and a position")))
}

fn audit(arguments: &[Value], page: bool) -> jsonrpc::Result<Asking> {
    let path = |at: usize| match arguments.get(at) {
        None | Some(Value::Null) => Ok(None),
        Some(uri) => serde_json::from_value::<Uri>(uri.clone())
            .ok()
            .and_then(|uri| path_of(&uri))
            .map(Some)
            .ok_or_else(|| Error::invalid_params(format!("{uri} is no URI of a file or folder"))),
    };
    Ok(Asking::Audit {
        path: path(0)?,
        quantities: path(1)?,
        page,
    })
}

/// The answer to `flankwise.section`.
pub(in crate::lsp) fn section<A: Assist>(asked: &Asked<A>, at: Position) -> Option<Value> {
    let view = asked.analysis.section(&asked.result, asked.offset(at))?;
    let mut answer = json!({
        "title": view.title,
        "summary": view.summary,
        "text": view.text,
    });
    if let Some(svg) = view.svg {
        answer["svg"] = svg.into();
    }
    Some(answer)
}
