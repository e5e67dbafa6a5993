//! What drawings are made of: lines, arrows, words, and their style.

use svg::node::element::{Group, Line, Path, Text};

pub(super) const STYLE: &str = "\
.ground{fill:#ffffff}.metal{fill:#d9e2ec;stroke:none}.edge{fill:none;stroke:#102a43;stroke-width:2}\
.thin{fill:none;stroke:#52667a;stroke-width:1}.dash{stroke-dasharray:9 4 2 4}\
.tip{fill:#52667a}text{font-family:'DejaVu Sans',Verdana,sans-serif;font-size:12px;fill:#102a43}\
.name{font-size:17px;font-weight:bold}.small{fill:#3e5165}\
.on{paint-order:stroke;stroke:#ffffff;stroke-width:5px;stroke-linejoin:round}\
@media (prefers-color-scheme:dark){.ground{fill:#15202b}.metal{fill:#33475b}.edge{stroke:#e4ecf4}\
.thin{stroke:#a9b8c6}.tip{fill:#a9b8c6}text{fill:#e4ecf4}.small{fill:#c3ced9}.on{stroke:#15202b}}";

/// Least distance between two names of diameters.
const LEADING: f64 = 40.0;

/// Moves places that lie too near to each other apart, keeping their order and their middle.
pub(super) fn apart(wanted: &[f64]) -> Vec<f64> {
    let mut places = wanted.to_vec();
    for index in 1..places.len() {
        places[index] = places[index].max(places[index - 1] + LEADING);
    }
    let shift: f64 = wanted.iter().zip(&places).map(|(w, p)| w - p).sum();
    let shift = shift / wanted.len().max(1) as f64;
    places.into_iter().map(|place| place + shift).collect()
}

pub(super) fn thin(x1: f64, y1: f64, x2: f64, y2: f64) -> Line {
    Line::new()
        .set("class", "thin")
        .set("x1", tenths(x1))
        .set("y1", tenths(y1))
        .set("x2", tenths(x2))
        .set("y2", tenths(y2))
}

/// A line with an arrow at both ends.
pub(super) fn arrow(x1: f64, y1: f64, x2: f64, y2: f64) -> Group {
    let length = (x2 - x1).hypot(y2 - y1).max(1e-9);
    let (ux, uy) = ((x2 - x1) / length, (y2 - y1) / length);
    let tip = |x: f64, y: f64, back: f64| {
        let (bx, by) = (x + ux * back, y + uy * back);
        let (nx, ny) = (-uy * 3.0, ux * 3.0);
        Path::new().set("class", "tip").set(
            "d",
            format!(
                "M{x:.1} {y:.1} L{:.1} {:.1} L{:.1} {:.1} Z",
                bx + nx,
                by + ny,
                bx - nx,
                by - ny
            ),
        )
    };
    Group::new()
        .add(thin(x1, y1, x2, y2))
        .add(tip(x1, y1, 9.0))
        .add(tip(x2, y2, -9.0))
}

pub(super) fn label(x: f64, y: f64, text: &str, class: &str) -> Text {
    let label = Text::new(text).set("x", tenths(x)).set("y", tenths(y));
    if class.is_empty() {
        label
    } else {
        label.set("class", class)
    }
}

pub(super) fn centred(x: f64, y: f64, text: &str) -> Text {
    label(x, y, text, "").set("text-anchor", "middle")
}

fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
