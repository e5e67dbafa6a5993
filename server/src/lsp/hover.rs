//! What stands under the mouse.

use std::sync::Arc;

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use tower_lsp::jsonrpc;
use tower_lsp::ls_types::*;

use super::analysis::{Analysis, Picture};
use super::backend::Shared;
use super::documents::Snapshot;
use super::position;
use super::work::blocking;

/// Answers `textDocument/hover`.
pub(super) async fn hover<A: Analysis>(
    shared: Arc<Shared<A>>,
    snapshot: Arc<Snapshot<A::Result>>,
    at: Position,
) -> jsonrpc::Result<Option<Hover>> {
    let result = shared.result(&snapshot).await?;
    let facts = shared.facts();
    blocking("hover", move || {
        let byte = position::offset(&snapshot.text, at, facts.encoding);
        let found = shared.analysis.hover(&result, byte)?;
        let kind = if facts.markdown {
            MarkupKind::Markdown
        } else {
            MarkupKind::PlainText
        };
        let mut value = found.markdown;
        if facts.markdown
            && facts.pictures
            && let Some(picture) = shared.analysis.picture(&result, byte)
            && let Some(image) = image(&picture)
        {
            value.push_str("\n\n");
            value.push_str(&image);
        }
        Some(Hover {
            contents: HoverContents::Markup(MarkupContent { kind, value }),
            range: Some(position::range(&snapshot.text, found.bytes, facts.encoding)),
        })
    })
    .await
}

/// What may stand as it is in the address of a Markdown image: nothing that ends it.
const PLAIN: &AsciiSet = &NON_ALPHANUMERIC
    .remove(b'-')
    .remove(b'.')
    .remove(b'_')
    .remove(b'/')
    .remove(b':')
    .remove(b';')
    .remove(b'=')
    .remove(b',');
/// Most bytes of an image; a larger one is left out.
const LARGEST: usize = 64 * 1024;

/// A picture as a Markdown image that carries itself; `None` where it is too large.
fn image(picture: &Picture) -> Option<String> {
    let words: String = picture
        .words
        .chars()
        .filter(|c| !c.is_control() && !matches!(c, '[' | ']' | '\\' | '!' | '<' | '>'))
        .collect();
    let svg = utf8_percent_encode(&picture.svg, PLAIN);
    let image = format!("![{words}](data:image/svg+xml,{svg})");
    (image.len() <= LARGEST).then_some(image)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_image_carries_itself_and_ends_where_it_should() {
        let picture = |svg: &str| Picture {
            words: "M24x3-6g [a](b)\n".to_owned(),
            svg: svg.to_owned(),
        };
        assert_eq!(
            image(&picture("<svg d=\"M0 0)\">ä</svg>")).as_deref(),
            Some(
                "![M24x3-6g a(b)](data:image/svg+xml,%3Csvg%20d=%22M0%200%29%22%3E%C3%A4%3C/svg%3E)"
            )
        );
        assert_eq!(image(&picture(&"x".repeat(LARGEST))), None);
    }
}
