//! Charts of an audit as SVG elements. Every chart has a title, its figures in words, and a legend
//! of its own; colours are turned round on dark pages by the page's style.

use maud::{Markup, html};
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use rules::audit::detail::Bar;
use rules::rewrite::plan::{Point, State};
use rules::table::Seconds;

use crate::show::visible;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Failed = Box<dyn std::error::Error>;

/// Colours by what they stand for; the page's style knows them by these values.
const INK: RGBColor = RGBColor(0x1f, 0x29, 0x33);
const GRID: RGBColor = RGBColor(0xd5, 0xdc, 0xe3);
pub(super) const BEFORE: RGBColor = RGBColor(0xb4, 0x58, 0x1c);
pub(super) const AFTER: RGBColor = RGBColor(0x1f, 0x6f, 0x8b);
const PARTS: [(RGBColor, &str); 4] = [
    (RGBColor(0x1f, 0x6f, 0x8b), "in the thread"),
    (RGBColor(0xc9, 0xa2, 0x27), "run-in, in the air"),
    (RGBColor(0x7a, 0x5c, 0x99), "out and in"),
    (RGBColor(0x8a, 0x94, 0xa0), "return and waiting"),
];

const WIDTH: u32 = 720;
/// Where the bars of a list begin.
const NAMES: u32 = 250;
/// Most characters of a name beside a bar.
const NAME: usize = 34;

/// What a chart is called and says.
pub(super) struct Words<'a> {
    /// Makes the ids of a page's charts differ.
    pub(super) id: &'a str,
    /// The title.
    pub(super) title: &'a str,
    /// The figures in words.
    pub(super) words: &'a str,
}

/// Bars of the pass areas, before and after side by side.
pub(super) fn pass_areas(words: &Words<'_>, before: &[Bar], after: &[Bar]) -> Option<Markup> {
    let known = |bars: &[Bar]| {
        bars.iter()
            .filter_map(|bar| bar.area_mm2)
            .fold(0.0, f64::max)
    };
    let tallest = known(before).max(known(after));
    let count = before.len().max(after.len());
    if tallest <= 0.0 || count > 200 {
        return None;
    }
    draw(words, 460, 300, |root| {
        let entries: &[_] = if after.is_empty() {
            &[(BEFORE, "as written")]
        } else {
            &[(BEFORE, "as written"), (AFTER, "by the plan")]
        };
        legend(root, 60, 8, entries)?;
        let mut chart = ChartBuilder::on(root)
            .margin_top(30)
            .margin_right(12)
            .margin_left(8)
            .x_label_area_size(36)
            .y_label_area_size(58)
            .build_cartesian_2d(0.4..count as f64 + 0.6, 0.0..tallest * 1.08)?;
        chart
            .configure_mesh()
            .disable_x_mesh()
            .axis_style(INK)
            .light_line_style(TRANSPARENT)
            .bold_line_style(GRID)
            .label_style(text(13))
            .x_labels(count.min(16))
            .x_label_formatter(&whole)
            .y_label_formatter(&|value| format!("{value:.3}"))
            .x_desc("pass")
            .y_desc("chip area, mm²")
            .draw()?;
        let bars = |bars: &[Bar], left: f64, colour: RGBColor| {
            let bars = bars.iter().enumerate();
            let bars = bars.filter_map(|(at, bar)| Some((at as f64 + 1.0, bar.area_mm2?)));
            let bars = bars.map(|(at, area)| {
                let from = at + left;
                Rectangle::new([(from, 0.0), (from + 0.38, area)], colour.filled())
            });
            bars.collect::<Vec<_>>()
        };
        // A thread without a plan has its bars in the middle.
        let left = if after.is_empty() { -0.19 } else { -0.39 };
        chart.draw_series(bars(before, left, BEFORE))?;
        chart.draw_series(bars(after, 0.01, AFTER))?;
        Ok(())
    })
}

/// Seconds of threads by what they are spent on, before and after.
pub(super) fn stacked_time(
    words: &Words<'_>,
    threads: &[(String, Seconds, Option<Seconds>)],
) -> Option<Markup> {
    let totals = threads
        .iter()
        .flat_map(|(_, b, a)| [Some(*b), *a])
        .flatten();
    let longest = totals.map(|seconds| seconds.total()).fold(0.0, f64::max);
    if longest <= 0.0 {
        return None;
    }
    let height = 74 + 34 * threads.len() as u32;
    draw(words, WIDTH, height, |root| {
        legend(root, 60, 8, &PARTS)?;
        let mut chart = list(
            root,
            threads.len(),
            longest,
            "seconds a part; above as written, below by the plan",
        )?;
        for (at, (name, before, after)) in threads.iter().enumerate() {
            let row = at as f64;
            let bars = [
                (Some(*before), row + 0.08, row + 0.46),
                (*after, row + 0.5, row + 0.88),
            ];
            for (seconds, top, foot) in bars {
                let Some(seconds) = seconds else { continue };
                let mut from = 0.0;
                for ((colour, _), part) in PARTS.iter().zip(parts(&seconds)) {
                    let bar = [(from, top), (from + part, foot)];
                    chart.draw_series([Rectangle::new(bar, colour.filled())])?;
                    from += part;
                }
            }
            name_beside(root, chart.backend_coord(&(0.0, row + 0.48)), name)?;
        }
        Ok(())
    })
}

/// Hours a year, or seconds a part, of the programs with most of them.
pub(super) fn top_programs(
    words: &Words<'_>,
    unit: &str,
    programs: &[(String, f64, f64)],
) -> Option<Markup> {
    let most = programs
        .iter()
        .map(|(_, before, _)| *before)
        .fold(0.0, f64::max);
    if most <= 0.0 {
        return None;
    }
    let height = 74 + 26 * programs.len() as u32;
    draw(words, WIDTH, height, |root| {
        legend(
            root,
            60,
            8,
            &[(BEFORE, "as written"), (AFTER, "with the plans")],
        )?;
        let mut chart = list(root, programs.len(), most, unit)?;
        for (at, (name, before, after)) in programs.iter().enumerate() {
            let row = at as f64;
            let bar = |top: f64, value: f64, colour: RGBColor| {
                Rectangle::new(
                    [(0.0, row + top), (value, row + top + 0.36)],
                    colour.filled(),
                )
            };
            chart.draw_series([bar(0.1, *before, BEFORE), bar(0.48, *after, AFTER)])?;
            name_beside(root, chart.backend_coord(&(0.0, row + 0.48)), name)?;
        }
        Ok(())
    })
}

/// Time against the heaviest pass: the lightest split of every number of passes, with the thread as
/// written and its plan.
pub(super) fn front(
    words: &Words<'_>,
    points: &[Point],
    before: &State,
    after: Option<&State>,
) -> Option<Markup> {
    let timed: Vec<(f64, f64, usize)> = points
        .iter()
        .filter_map(|point| Some((point.seconds?, point.peak_mm2, point.passes)))
        .filter(|(seconds, peak, _)| seconds.is_finite() && peak.is_finite())
        .collect();
    let state = |state: &State| Some((state.seconds?, state.peak_mm2));
    let was = state(before)?;
    let is = after.and_then(state);
    if timed.len() < 2 {
        return None;
    }
    // A single pass is far off the scale of all others.
    let ceiling = 3.0 * was.1.max(is.map_or(0.0, |is| is.1));
    let shown: Vec<_> = timed
        .into_iter()
        .filter(|point| point.1 <= ceiling)
        .collect();
    let all = || {
        shown
            .iter()
            .map(|point| (point.0, point.1))
            .chain([was])
            .chain(is)
    };
    let longest = all().map(|point| point.0).fold(0.0, f64::max);
    let heaviest = all().map(|point| point.1).fold(0.0, f64::max);
    draw(words, 460, 300, |root| {
        let entries = [
            (INK, "lightest split of each number of passes"),
            (BEFORE, "as written"),
            (AFTER, "plan"),
        ];
        legend(root, 16, 8, &entries)?;
        let mut chart = ChartBuilder::on(root)
            .margin_top(30)
            .margin_right(16)
            .margin_left(8)
            .x_label_area_size(36)
            .y_label_area_size(58)
            .build_cartesian_2d(0.0..longest * 1.08, 0.0..heaviest * 1.12)?;
        chart
            .configure_mesh()
            .axis_style(INK)
            .light_line_style(TRANSPARENT)
            .bold_line_style(GRID)
            .label_style(text(13))
            .x_labels(8)
            .y_label_formatter(&|value| format!("{value:.2}"))
            .x_desc("seconds a part")
            .y_desc("heaviest pass, mm²")
            .draw()?;
        let line = shown.iter().map(|point| (point.0, point.1));
        chart.draw_series(LineSeries::new(line, INK.stroke_width(1)))?;
        let dots = shown.iter();
        chart.draw_series(dots.map(|point| Circle::new((point.0, point.1), 3, INK.filled())))?;
        // Numbers that would lie on one another are left out.
        let mut last = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (seconds, peak, passes) in &shown {
            let (x, y) = chart.backend_coord(&(*seconds, *peak));
            if (f64::from(x) - last.0).hypot(f64::from(y) - last.1) < 20.0 {
                continue;
            }
            last = (f64::from(x), f64::from(y));
            let style = text(12).pos(Pos::new(HPos::Left, VPos::Bottom));
            root.draw(&Text::new(passes.to_string(), (x + 4, y - 2), style))?;
        }
        chart.draw_series([Circle::new(was, 6, BEFORE.stroke_width(3))])?;
        if let Some(is) = is {
            chart.draw_series([TriangleMarker::new(is, 8, AFTER.filled())])?;
        }
        Ok(())
    })
}

/// The parts of a time in the order of [`PARTS`].
fn parts(seconds: &Seconds) -> [f64; 4] {
    let between = &seconds.between;
    [
        seconds.cut,
        seconds.air,
        between.retract + between.infeed,
        between.back + between.wait,
    ]
}

type List<'a> = ChartContext<
    'a,
    SVGBackend<'a>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

/// The axes of a list of bars, the first on top.
fn list<'a>(root: &Area<'a>, count: usize, most: f64, unit: &str) -> Result<List<'a>, Failed> {
    let mut chart = ChartBuilder::on(root)
        .margin_top(30)
        .margin_right(20)
        .x_label_area_size(38)
        .y_label_area_size(NAMES)
        .build_cartesian_2d(0.0..most * 1.04, count as f64..0.0)?;
    chart
        .configure_mesh()
        .disable_y_mesh()
        .axis_style(INK)
        .light_line_style(TRANSPARENT)
        .bold_line_style(GRID)
        .label_style(text(13))
        .y_labels(0)
        .x_labels(10)
        .x_desc(unit)
        .draw()?;
    Ok(chart)
}

fn name_beside(root: &Area<'_>, (x, y): (i32, i32), name: &str) -> Result<(), Failed> {
    let style = text(13).pos(Pos::new(HPos::Right, VPos::Center));
    root.draw(&Text::new(shortened(name), (x - 8, y), style))?;
    Ok(())
}

/// The end of a name, which tells programs of one folder apart.
fn shortened(name: &str) -> String {
    let count = name.chars().count();
    if count <= NAME {
        return name.to_owned();
    }
    let end: String = name.chars().skip(count - NAME + 1).collect();
    format!("…{end}")
}

fn whole(value: &f64) -> String {
    if (value - value.round()).abs() < 1e-6 {
        format!("{value:.0}")
    } else {
        String::new()
    }
}

fn text(size: u32) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(&INK)
}

fn legend(root: &Area<'_>, x: i32, y: i32, entries: &[(RGBColor, &str)]) -> Result<(), Failed> {
    let mut x = x;
    for (colour, name) in entries {
        root.draw(&Rectangle::new([(x, y), (x + 12, y + 12)], colour.filled()))?;
        let style = text(13).pos(Pos::new(HPos::Left, VPos::Top));
        root.draw(&Text::new((*name).to_owned(), (x + 17, y + 1), style))?;
        x += 34 + 6 * name.chars().count() as i32;
    }
    Ok(())
}

/// Draws and names a chart; none where the library refuses, which it has no reason to.
fn draw(
    words: &Words<'_>,
    width: u32,
    height: u32,
    paint: impl FnOnce(&Area<'_>) -> Result<(), Failed>,
) -> Option<Markup> {
    let mut drawn = String::new();
    {
        let root = SVGBackend::with_string(&mut drawn, (width, height)).into_drawing_area();
        paint(&root).ok()?;
        root.present().ok()?;
    }
    let inner = drawn.split_once('>')?.1;
    let inner = inner.trim_end().strip_suffix("</svg>")?;
    let (title, desc) = (format!("{}-t", words.id), format!("{}-d", words.id));
    Some(html! {
        svg.chart width=(width) height=(height) viewBox=(format!("0 0 {width} {height}"))
            role="img" aria-labelledby=(format!("{title} {desc}")) xmlns="http://www.w3.org/2000/svg" {
            title id=(title) { (visible::text(words.title)) }
            desc id=(desc) { (visible::text(words.words)) }
            (maud::PreEscaped(inner))
        }
    })
}
