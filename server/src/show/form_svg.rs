//! The form of a thread as a drawing: two pitches of the axial section to scale, with dimensions.
//!
//! The drawing has a ground of its own, so that it reads the same on a light and on a dark page,
//! and turns dark where the reader asks for dark.

mod parts;

use lexer::units::Units;
use rules::measure::outline::{Outline, Point, outline};
use rules::measure::sheet::Sheet;
use rules::measure::vee::Vee;
use rules::standards::limits::Band;
use rules::standards::{Hand, Side};
use svg::Document;
use svg::node::element::{Description, Group, Path, Rectangle, Style, Text, Title};

use super::lengths::{Lengths, plain, trimmed};
use parts::{STYLE, apart, arrow, centred, label, thin};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 420.0;
/// Where the profile is drawn: left, right, and the height of its middle.
const LEFT: f64 = 84.0;
const RIGHT: f64 = 484.0;
const MIDDLE: f64 = 216.0;
/// Most height of the profile.
const TALLEST: f64 = 170.0;
/// Where the names of the diameters stand.
const NAMES: f64 = 520.0;

/// The drawing as the text of an SVG file, dimensions in the units asked for or else in those of
/// the family; `None` where the form has no straight flanks.
pub(crate) fn drawing(sheet: &Sheet, units: Option<Units>) -> Option<String> {
    let outline = outline(&sheet.thread, sheet.side, 2)?;
    let pitch = sheet.thread.pitch.mm();
    let tall = (outline.crest - outline.root).abs() + outline.slope.abs() * 2.0 * pitch;
    let scale = ((RIGHT - LEFT) / (2.0 * pitch)).min(TALLEST / tall);
    let view = View {
        sheet,
        lengths: Lengths(units.unwrap_or(sheet.limits.units)),
        pitch,
        scale,
        middle_r: (outline.crest + outline.root) / 2.0,
        outline,
    };
    let document = Document::new()
        .set("viewBox", (0, 0, WIDTH, HEIGHT))
        .set("width", WIDTH)
        .set("height", HEIGHT)
        .set("role", "img")
        .set("aria-labelledby", "title desc")
        .add(Title::new(view.title()).set("id", "title"))
        .add(
            Description::new()
                .set("id", "desc")
                .add(svg::node::Text::new(view.words())),
        )
        .add(Style::new(STYLE))
        .add(
            Rectangle::new()
                .set("class", "ground")
                .set("width", WIDTH)
                .set("height", HEIGHT),
        )
        .add(view.headings())
        .add(view.profile())
        .add(view.pitch_dimension())
        .add(view.depth_dimension())
        .add(view.flats())
        .add(view.flank_angles())
        .add(view.diameters())
        .add(view.axis());
    Some(format!("{document}\n"))
}

struct View<'a> {
    sheet: &'a Sheet,
    lengths: Lengths,
    outline: Outline,
    pitch: f64,
    /// Pixels per mm.
    scale: f64,
    /// Distance from the axis at the middle of the drawing, mm.
    middle_r: f64,
}

impl View<'_> {
    fn x(&self, z: f64) -> f64 {
        f64::midpoint(LEFT, RIGHT) + z * self.scale
    }

    fn y(&self, r: f64) -> f64 {
        MIDDLE - (r - self.middle_r) * self.scale
    }

    /// 1 where larger diameters are solid material, for the side away from the axis.
    fn outward(&self) -> f64 {
        match self.sheet.side {
            Side::External => 1.0,
            Side::Internal => -1.0,
        }
    }

    fn title(&self) -> String {
        format!(
            "{}, {} thread",
            self.sheet.thread.designation_for(self.sheet.side),
            self.sheet.side.name()
        )
    }

    /// What the drawing shows, for those who cannot see it.
    fn words(&self) -> String {
        let (lengths, limits) = (self.lengths, &self.sheet.limits);
        let depth = (self.outline.crest - self.outline.root).abs();
        format!(
            "Axial section of two pitches of the form, to scale. Pitch {}, depth {}. Major diameter \
             {}, pitch diameter {}, minor diameter {}.",
            lengths.needed(self.pitch, 2),
            lengths.with_unit(depth),
            lengths.band(limits.major),
            lengths.band(limits.pitch),
            lengths.band(limits.minor)
        )
    }

    fn headings(&self) -> Group {
        let thread = &self.sheet.thread;
        let hand = match thread.hand {
            Hand::Right => "right-hand",
            Hand::Left => "left-hand",
        };
        let starts = match thread.starts {
            1 => String::new(),
            n => format!(
                ", {n} starts, lead {}",
                self.lengths.needed(thread.lead().mm(), 2)
            ),
        };
        let below = format!(
            "{}, {hand}{starts}; basic form to scale, dimensions in {}",
            thread.family.standard().name,
            match self.lengths.0 {
                Units::Millimetre => "mm",
                Units::Inch => "inches",
            }
        );
        Group::new()
            .add(label(24.0, 34.0, &self.title(), "name"))
            .add(label(24.0, 54.0, &below, "small"))
    }

    /// The material and its edge.
    fn profile(&self) -> Group {
        let points = &self.outline.points;
        let place = |p: &Point| format!("{:.2} {:.2}", self.x(p.z), self.y(p.r));
        let line: Vec<String> = points.iter().map(place).collect();
        let line = line.join(" L");
        let first = points.first().map_or(0.0, |p| self.x(p.z));
        let last = points.last().map_or(0.0, |p| self.x(p.z));
        // The material goes on a little behind the root.
        let depth = (self.outline.crest - self.outline.root).abs() * self.scale;
        let back = self.y(self.outline.root) + self.outward() * ((depth / 2.0).min(40.0) + 14.0);
        let solid = format!("M{line} L{last:.2} {back:.2} L{first:.2} {back:.2} Z");
        Group::new()
            .add(Path::new().set("class", "metal").set("d", solid))
            .add(
                Path::new()
                    .set("class", "edge")
                    .set("d", format!("M{line}")),
            )
    }

    /// The side of the profile where there is air, so far from its crest.
    fn above_crest(&self, distance: f64) -> f64 {
        let lean = self.outline.slope.abs() * self.pitch * self.scale;
        self.y(self.outline.crest) - self.outward() * (distance + lean)
    }

    fn pitch_dimension(&self) -> Group {
        let y = self.above_crest(42.0);
        let groove = self.outline.groove_root;
        let (a, b) = (self.x(groove), self.x(groove + self.pitch));
        let root = self.y(self.outline.root);
        let text = format!("P {}", self.lengths.needed(self.pitch, 2));
        let beside = if self.outward() > 0.0 { -6.0 } else { 16.0 };
        Group::new()
            .add(thin(a, root, a, y - self.outward() * 6.0).set("class", "thin dash"))
            .add(thin(b, root, b, y - self.outward() * 6.0).set("class", "thin dash"))
            .add(arrow(a, y, b, y))
            .add(centred(f64::midpoint(a, b), y + beside, &text))
    }

    fn depth_dimension(&self) -> Group {
        let x = LEFT - 30.0;
        let (crest, root) = (self.y(self.outline.crest), self.y(self.outline.root));
        let depth = (self.outline.crest - self.outline.root).abs();
        let left = self.x(-self.pitch);
        let middle = f64::midpoint(crest, root);
        let text = self.lengths.fixed(depth);
        let per_pitch = format!("{}P", plain(depth / self.pitch, 4));
        let turned = |text: &str, x: f64| {
            Text::new(text)
                .set("text-anchor", "middle")
                .set("x", x)
                .set("y", middle)
                .set("transform", format!("rotate(-90 {x:.1} {middle:.1})"))
        };
        Group::new()
            .add(thin(left, crest, x - 6.0, crest))
            .add(thin(self.x(self.outline.groove_root), root, x - 6.0, root))
            .add(arrow(x, crest, x, root))
            .add(turned(&text, x - 8.0))
            .add(turned(&per_pitch, x - 24.0).set("class", "small"))
    }

    /// Width of the crest at the middle ridge, of the root or its radius at the right groove.
    fn flats(&self) -> Group {
        let outward = self.outward();
        let profile = *self.sheet.thread.form().side(self.sheet.side);
        let told = |end: &rules::standards::form::End, flat: f64| {
            let radius = end.radius.map(|spread| spread.design.at(self.pitch));
            let whole = end.flat.is_none();
            match radius.filter(|radius| *radius > 0.0 && whole) {
                Some(radius) => format!("r {}", self.lengths.fixed(radius)),
                None => format!("flat {}", self.lengths.fixed(flat)),
            }
        };
        let crest = told(&profile.crest, self.outline.crest_flat);
        let y = self.y(self.outline.crest) - outward * 8.0;
        let beside = if outward > 0.0 { -2.0 } else { 12.0 };
        let group = Group::new().add(centred(self.x(0.0), y + beside, &crest));
        let root = told(&profile.root, self.outline.root_flat);
        let lean = self.outline.slope.abs() * self.pitch * self.scale;
        let y = self.y(self.outline.root) + outward * (8.0 + lean);
        let beside = if outward > 0.0 { 12.0 } else { -2.0 };
        group.add(centred(
            self.x(self.outline.groove_root + self.pitch),
            y + beside,
            &root,
        ))
    }

    /// The angle between equal flanks, or of each flank from the normal to the axis, in the left
    /// groove.
    fn flank_angles(&self) -> Group {
        let group = Group::new();
        let form = self.sheet.thread.form();
        let (Some(flanks), Some(vee)) = (form.flanks, Vee::of(&form)) else {
            return group;
        };
        let [leading, trailing] = vee.angles();
        let half_height = vee.sharp_height(self.pitch) / 2.0;
        // The leading flank faces the free end, on the right: it is the left edge of the groove.
        let apex = self.outline.groove - self.pitch / 4.0 + half_height * leading.tan();
        let line = self.outline.pitch_line + self.outline.slope * apex;
        let addendum = (self.outline.crest - self.outline.pitch_line).abs();
        let radius = half_height + 0.35 * addendum;
        let outward = self.outward();
        let at = |angle: f64, radius: f64| {
            let z = apex + radius * angle.sin();
            let r = line + outward * (radius * angle.cos() - half_height);
            (self.x(z), self.y(r))
        };
        let arc = |from: f64, to: f64| {
            let place = |step: i32| {
                let (x, y) = at(from + (to - from) * f64::from(step) / 16.0, radius);
                format!("{x:.1} {y:.1}")
            };
            let points: Vec<String> = (0..=16).map(place).collect();
            Path::new()
                .set("class", "thin")
                .set("d", format!("M{}", points.join(" L")))
        };
        let name = |degrees: f64, angle: f64| {
            let (x, y) = at(angle, radius);
            let beside = if outward > 0.0 { -6.0 } else { 16.0 };
            centred(x, y + beside, &format!("{}°", trimmed(degrees, 2))).set("class", "on")
        };
        if (leading - trailing).abs() < 1e-9 {
            return group
                .add(arc(-leading, trailing))
                .add(name(flanks.included_deg(), 0.0));
        }
        let (top, foot) = (at(0.0, half_height + addendum), at(0.0, half_height));
        // A name stands in its angle, or beside the flank where the angle is too narrow for it.
        let placed = |degrees: f64, angle: f64| {
            if degrees >= 15.0 {
                return name(degrees, angle / 2.0);
            }
            let (x, y) = at(angle, radius);
            let (aside, anchor) = if angle < 0.0 {
                (-9.0, "end")
            } else {
                (9.0, "start")
            };
            let text = format!("{}°", trimmed(degrees, 2));
            label(x + aside, y + 4.0, &text, "").set("text-anchor", anchor)
        };
        group
            .add(thin(top.0, top.1, foot.0, foot.1))
            .add(arc(-leading, 0.0))
            .add(arc(0.0, trailing))
            .add(placed(flanks.leading_deg, -leading))
            .add(placed(flanks.trailing_deg, trailing))
    }

    /// The diameters at the right, each with the line that it belongs to.
    fn diameters(&self) -> Group {
        let Sheet {
            limits,
            basic,
            side,
            ..
        } = self.sheet;
        let o = &self.outline;
        // The root is drawn at its basic size; where its own limits are not known, a gauge's are.
        let root_band = match (limits.root, side) {
            (Band::OPEN, Side::External) => limits.minor,
            (Band::OPEN, Side::Internal) => limits.major,
            (known, _) => known,
        };
        let root = ("root of this form", root_band, 2.0 * o.root, o.root);
        let pitch = ("pitch diameter", limits.pitch, basic.pitch, o.pitch_line);
        let rows = match side {
            Side::External => [
                ("major diameter", limits.major, basic.major, o.crest),
                pitch,
                root,
            ],
            Side::Internal => [
                root,
                pitch,
                ("minor diameter", limits.minor, basic.minor, o.crest),
            ],
        };
        let wanted = rows.map(|row| self.y(row.3));
        let places = apart(&wanted);
        let mut group = Group::new();
        for ((name, band, basic, r), y) in rows.into_iter().zip(places) {
            let level = self.y(r);
            let (from, class) = if name == pitch.0 {
                (self.x(-self.pitch) - 6.0, "thin dash")
            } else {
                (self.x(self.pitch), "thin")
            };
            let elbow = RIGHT + 14.0;
            let path = format!(
                "M{from:.1} {level:.1} L{elbow:.1} {level:.1} L{:.1} {y:.1} L{NAMES:.1} {y:.1}",
                NAMES - 8.0
            );
            let (value, name) = if band == Band::OPEN {
                let basic = self.lengths.with_unit(basic);
                (format!("basic ⌀ {basic}"), name.to_owned())
            } else {
                let basic = self.lengths.fixed(basic);
                let value = format!("⌀ {}", self.lengths.band(band));
                (value, format!("{name} (basic {basic})"))
            };
            group = group
                .add(Path::new().set("class", class).set("d", path))
                .add(label(NAMES + 4.0, y - 3.0, &value, ""))
                .add(label(NAMES + 4.0, y + 12.0, &name, "small"));
        }
        group
    }

    fn axis(&self) -> Group {
        let y = HEIGHT - 46.0;
        let taper = self.sheet.taper.map(|taper| {
            let one_in = trimmed(taper.one_in(), 4);
            format!("taper 1:{one_in} on the diameter, diameters in the gauge plane")
        });
        let unverified = self.sheet.limits.unverified;
        let unverified = unverified.then(|| "some figures unverified".to_owned());
        let foot: Vec<String> = taper.into_iter().chain(unverified).collect();
        Group::new()
            .add(thin(LEFT - 20.0, y, RIGHT + 20.0, y).set("class", "thin dash"))
            .add(label(LEFT - 20.0, y + 18.0, "axis (not to scale)", "small"))
            .add(label(LEFT - 20.0, y + 34.0, &foot.join("; "), "small"))
            .add(label(RIGHT + 20.0, y + 18.0, "free end →", "small").set("text-anchor", "end"))
    }
}
