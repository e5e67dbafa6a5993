//! What the HTML page is put together from: tables whose heads sort them, and safe texts.

use std::borrow::Cow;

use maud::{Markup, html};

use crate::show::visible;

/// A column: its name, and whether it holds figures.
pub(super) struct Column(pub(super) &'static str, pub(super) bool);

/// A table that its heads sort. `id` is for links and the filter.
pub(super) fn table(
    id: &str,
    caption: &str,
    columns: &[Column],
    rows: impl Iterator<Item = Vec<Markup>>,
) -> Markup {
    html! {
        div.scroll {
            table.sort id=(id) {
                caption { (caption) }
                thead {
                    tr {
                        @for Column(name, figures) in columns {
                            th scope="col" class=[figures.then_some("n")] {
                                button type="button" { (name) }
                            }
                        }
                    }
                }
                tbody {
                    @for row in rows {
                        tr {
                            @for (cell, Column(_, figures)) in row.into_iter().zip(columns) {
                                @if *figures { td.n { (cell) } } @else { td { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A text for the page: what drives terminals or turns the reading direction is made visible; the
/// page escapes the rest.
pub(super) fn safe(text: &str) -> Cow<'_, str> {
    visible::text(text)
}

/// A cell of text.
pub(super) fn cell(text: &str) -> Markup {
    html! { (safe(text)) }
}

/// A list of sentences.
pub(super) fn list<'a>(items: impl IntoIterator<Item = &'a str>) -> Markup {
    html! {
        ul {
            @for item in items {
                li { (safe(item)) }
            }
        }
    }
}

/// A section of the page with its heading.
pub(super) fn part(id: &str, heading: &str, inside: Markup) -> Markup {
    html! {
        section id=(id) aria-labelledby=(format!("{id}-h")) {
            h2 id=(format!("{id}-h")) { (heading) }
            (inside)
        }
    }
}
