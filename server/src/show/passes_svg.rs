//! The passes of a thread drawn in its form, to scale: what each one takes, as wide and as deep as
//! the words and the nose make it.
//!
//! Classes begin with `fw-`, so that a page which holds several drawings styles them once; a
//! drawing that stands alone carries [`STYLE`] itself.

mod legend;

use std::fmt::Write as _;

use lexer::section::{Purpose, Section, Side};
use rules::gauge::groove::Placement;
use rules::gauge::laid::laid;
use rules::gauge::profile::Profile;
use rules::identify::Identified;
use rules::measure::outline::outline;
use rules::measure::tool::Nose;
use rules::table::Table;
use svg::Document;
use svg::node::element::{Description, Group, Path, Rectangle, Style, Text, Title};

/// How the classes look, on light and on dark pages.
pub(crate) const STYLE: &str = "\
.fw-ground{fill:#fff}.fw-metal{fill:#d9e2ec}.fw-a{fill:#7fb3d5}.fw-b{fill:#b9d7ea}.fw-finish{fill:#f2c14e}\
.fw-chip{stroke:#123047;stroke-width:.6}.fw-form{fill:none;stroke:#a3300b;stroke-width:1.6;stroke-dasharray:6 3}\
.fw-rule{stroke:#52667a;stroke-width:1}\
.fw-passes text{font:11px 'DejaVu Sans',Verdana,sans-serif;fill:#102a43}.fw-passes .fw-name{font-size:14px;font-weight:bold}\
.fw-passes .fw-nth{text-anchor:middle;font-size:10px}\
@media screen and (prefers-color-scheme:dark){.fw-ground{fill:#15202b}.fw-metal{fill:#33475b}.fw-a{fill:#2f6f99}\
.fw-b{fill:#1f4d6b}.fw-finish{fill:#8a6510}.fw-chip{stroke:#dfe9f2}.fw-form{stroke:#ff9b73}.fw-rule{stroke:#a9b8c6}\
.fw-passes text{fill:#e4ecf4}}";

const WIDTH: f64 = 460.0;
const HEIGHT: f64 = 330.0;
/// Middle of the groove and the line of the crest on the drawing, for a bolt.
const MIDDLE: f64 = 230.0;
const CREST: f64 = 60.0;
/// Most width and height of the groove with its crests.
const WIDEST: f64 = 400.0;
const TALLEST: f64 = 170.0;
/// More passes than these are one blur.
const MOST: usize = 200;
/// Least height in pixels of a chip with a number in it.
const NUMBERED: f64 = 12.0;
/// Points of a nose's arc on each side.
const ARC: u32 = 8;

/// A drawing.
pub(crate) struct Drawing {
    /// The text of the SVG element.
    pub(crate) svg: String,
}

/// What is drawn.
#[derive(Clone, Copy)]
pub(crate) struct Passes<'a> {
    pub(crate) section: &'a Section,
    pub(crate) identified: &'a Identified,
    pub(crate) table: &'a Table,
}

/// The drawing; `None` where side, crest, depths or flanks are not known. `id` makes the ids of a
/// page's drawings differ; `alone` adds the style.
pub(crate) fn drawing(of: Passes<'_>, heading: &str, id: &str, alone: bool) -> Option<Drawing> {
    let view = View::of(of)?;
    let title = format!("{heading}: {}", view.name);
    let words = view.words();
    let mut document = Document::new()
        .set("class", "fw-passes")
        .set("viewBox", (0, 0, WIDTH, HEIGHT))
        .set("width", WIDTH)
        .set("height", HEIGHT)
        .set("role", "img")
        .set("aria-labelledby", format!("{id}-t {id}-d"))
        .add(Title::new(&title).set("id", format!("{id}-t")))
        .add(
            Description::new()
                .set("id", format!("{id}-d"))
                .add(svg::node::Text::new(&words)),
        );
    if alone {
        document = document.add(Style::new(STYLE));
    }
    let document = document
        .add(
            Rectangle::new()
                .set("class", "fw-ground")
                .set("width", WIDTH)
                .set("height", HEIGHT),
        )
        .add(label(16.0, 24.0, &title).set("class", "fw-name"))
        .add(view.metal())
        .add(view.chips())
        .add(view.form())
        .add(view.legend());
    Some(Drawing {
        svg: document.to_string(),
    })
}

/// A pass that takes something.
struct Chip {
    nth: usize,
    at: Placement,
    /// Depth of the tool before it.
    before: f64,
    purpose: Purpose,
}

struct View<'a> {
    of: Passes<'a>,
    name: String,
    side: Side,
    profile: Profile,
    nose: Nose,
    nose_known: bool,
    /// Why the shifts along the axis are left out.
    centred: Option<&'static str>,
    chips: Vec<Chip>,
    /// Passes of the start that is drawn without new depth.
    springs: usize,
    starts: usize,
    pitch: f64,
    height: f64,
    /// u of the deepest pass, which stands in the middle.
    u: f64,
    scale: f64,
}

impl<'a> View<'a> {
    fn of(of: Passes<'a>) -> Option<View<'a>> {
        let (section, table) = (of.section, of.table);
        let (thread, _) = of.identified.thread.as_ref()?;
        let (side, flanks) = (section.side()?, thread.form().flanks?);
        if section.passes.len() > MOST {
            return None;
        }
        let pitch = thread.pitch.mm();
        let stated = of.identified.nose.as_ref().map(|nose| nose.value);
        let by_form = thread.form().tip_flat_mm(side, pitch).map(Nose::Flat);
        let nose = stated.or(by_form).unwrap_or(Nose::Radius(table.nose_mm));
        let profile = Profile::of(flanks, nose, section.feed_direction() != Some(1));
        let (placed, centred) = match laid(section, &table.rows, 0) {
            Ok(placed) => (
                placed.iter().map(|one| (one.pass, one.placement)).collect(),
                None,
            ),
            Err(why) => (in_the_middle(table)?, Some(why)),
        };
        let mut chips = Vec::new();
        let (mut springs, mut before) = (0, 0.0f64);
        for (pass, at) in placed {
            if !(at.depth.is_finite() && at.u.is_finite()) {
                return None;
            }
            let purpose = section.passes.get(pass)?.purpose;
            if at.depth <= before + 1e-9 {
                springs += usize::from(at.depth > 0.0);
                continue;
            }
            chips.push(Chip {
                nth: pass + 1,
                at,
                before,
                purpose,
            });
            before = at.depth;
        }
        let deepest = chips.last()?.at;
        let height = deepest.depth;
        let sound = height < 4.0 * pitch && pitch > 0.0;
        sound.then(|| View {
            of,
            name: thread.designation_for(side),
            side,
            profile,
            nose,
            nose_known: stated.is_some(),
            centred,
            chips,
            springs,
            starts: table.rows.iter().map(|row| row.start).max().unwrap_or(0) + 1,
            pitch,
            height,
            u: deepest.u,
            scale: (WIDEST / (1.3 * pitch)).min(TALLEST / height),
        })
    }

    /// -1 where the tool feeds to the left, as it does from the free end on the right.
    fn ahead(&self) -> f64 {
        match self.of.section.feed_direction() {
            Some(1) => 1.0,
            _ => -1.0,
        }
    }

    fn x(&self, u: f64) -> f64 {
        MIDDLE + self.ahead() * (u - self.u) * self.scale
    }

    /// Depths run towards the axis for a bolt, away from it for a nut.
    fn y(&self, depth: f64) -> f64 {
        match self.side {
            Side::External => CREST + depth * self.scale,
            Side::Internal => CREST + (self.height - depth) * self.scale + 14.0,
        }
    }

    fn metal(&self) -> Rectangle {
        let back = 14.0;
        let top = match self.side {
            Side::External => self.y(0.0),
            Side::Internal => self.y(self.height) - back,
        };
        Rectangle::new()
            .set("class", "fw-metal")
            .set("x", hundredths(MIDDLE - 0.65 * self.pitch * self.scale))
            .set("y", hundredths(top))
            .set("width", hundredths(1.3 * self.pitch * self.scale))
            .set("height", hundredths(self.height * self.scale + back))
    }

    /// The edge of the tool from the crest in front of it to the crest behind.
    fn edge(&self, at: Placement) -> String {
        let [front, back] = self.profile.straight_from();
        let heights = |straight: f64| {
            let straight = straight.min(at.depth);
            let arc = (0..=ARC).map(move |step| {
                // Denser near the tip, where the arc is flat.
                let part = f64::from(step) / f64::from(ARC);
                straight * part * part
            });
            arc.chain([at.depth])
        };
        let mut path = String::new();
        let mut add = |u: f64, height: f64| {
            let sign = if path.is_empty() { 'M' } else { 'L' };
            let (x, y) = (self.x(u), self.y(at.depth - height));
            // Writing to a string cannot fail.
            let _ = write!(path, "{sign}{x:.2} {y:.2}");
        };
        let ahead: Vec<f64> = heights(front).collect();
        for height in ahead.into_iter().rev() {
            add(at.u + self.profile.ahead(height), height);
        }
        for height in heights(back) {
            add(at.u - self.profile.behind(height), height);
        }
        path.push('Z');
        path
    }

    /// The deepest first: what an earlier pass took lies on top, so that each shows its own chip.
    fn chips(&self) -> Group {
        let mut group = Group::new();
        for (place, chip) in self.chips.iter().enumerate().rev() {
            let class = match (chip.purpose, place % 2) {
                (Purpose::Finish, _) => "fw-chip fw-finish",
                (_, 0) => "fw-chip fw-a",
                _ => "fw-chip fw-b",
            };
            let path = Path::new().set("class", class).set("d", self.edge(chip.at));
            group = group.add(path);
        }
        for chip in &self.chips {
            let tall = (chip.at.depth - chip.before) * self.scale;
            if tall < NUMBERED {
                continue;
            }
            let y = self.y(f64::midpoint(chip.at.depth, chip.before)) + 3.5;
            let number = label(self.x(chip.at.u), y, &chip.nth.to_string());
            group = group.add(number.set("class", "fw-nth"));
        }
        group
    }

    /// The form as the standard designs it, its root where the deepest pass stands.
    fn form(&self) -> Group {
        let group = Group::new();
        let (Some((thread, _)), Some(crest)) = (&self.of.identified.thread, self.of.table.crest)
        else {
            return group;
        };
        let Some(outline) = outline(thread, self.side, 1) else {
            return group;
        };
        let crest = crest.mm() / 2.0;
        let points = outline.points.iter().map(|point| {
            let depth = match self.side {
                Side::External => crest - point.r,
                Side::Internal => point.r - crest,
            };
            let x = MIDDLE + (point.z - outline.groove_root) * self.scale;
            format!("{x:.2} {:.2}", self.y(depth))
        });
        let points: Vec<String> = points.collect();
        group.add(
            Path::new()
                .set("class", "fw-form")
                .set("d", format!("M{}", points.join("L"))),
        )
    }
}

/// The placements without a shift along the axis.
fn in_the_middle(table: &Table) -> Option<Vec<(usize, Placement)>> {
    let rows = table.rows.iter().filter(|row| row.start == 0);
    rows.map(|row| {
        let depth = row.depth?.mm();
        Some((row.pass, Placement { u: 0.0, depth }))
    })
    .collect()
}

fn label(x: f64, y: f64, text: &str) -> Text {
    Text::new(text)
        .set("x", hundredths(x))
        .set("y", hundredths(y))
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
