//! A drawing of levels over distance, on plotters' SVG backend counting hundredths of a millimetre.
//!
//! Takes millimetres on paper or metres in the section, gives SVG. Plotters rounds to whole
//! units, so a unit is a hundredth of a millimetre; the head of the SVG is then rewritten to
//! millimetres. No font is loaded: the backend only writes font names.

use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, Drawable, PathElement, PointCollection, Polygon, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle};

use super::ink::{Anchor, escape, fit, num, text_width_mm};
use super::scale::{axis_number, bar_part, round_step};
use super::{FONT, width_mm};
use crate::show::Show;

/// Units of the canvas in a millimetre.
const UNITS_PER_MM: f64 = 100.0;
/// The backend writes font sizes divided by this.
const FONT_SIZE_DIVISOR: f64 = 1.24;
/// Furthest point of a canvas, mm: whole units stay inside 32 bits.
const FURTHEST_MM: f64 = 1.0e6;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// Paper that plotters draws on, spoken to in millimetres.
pub(super) struct Canvas<'a> {
    area: Area<'a>,
}

/// Draws a sheet of a size and gives its SVG.
pub(super) fn draw(
    width_mm: f64,
    height_mm: f64,
    title: &str,
    ink: impl FnOnce(&Canvas<'_>),
) -> String {
    let mut text = String::new();
    let size = [width_mm, height_mm].map(|mm| units(mm).max(1) as u32);
    {
        let area = SVGBackend::with_string(&mut text, (size[0], size[1])).into_drawing_area();
        let canvas = Canvas { area };
        canvas.block([0.0, 0.0], [width_mm, height_mm], "#FFFFFF");
        ink(&canvas);
        // Writing into a string has no way to fail.
        let _ = canvas.area.present();
    }
    let head = format!("<svg width=\"{}\" height=\"{}\"", size[0], size[1]);
    let title = escape(title);
    let new_head = format!(
        "<svg role=\"img\" aria-label=\"{title}\" width=\"{}mm\" height=\"{}mm\"",
        num(width_mm),
        num(height_mm)
    );
    text.replacen(&head, &new_head, 1)
}

fn units(mm: f64) -> i32 {
    let mm = if mm.is_finite() { mm } else { 0.0 };
    (mm.clamp(-FURTHEST_MM, FURTHEST_MM) * UNITS_PER_MM).round() as i32
}

fn at([x, y]: [f64; 2]) -> (i32, i32) {
    (units(x), units(y))
}

/// A colour written as `#RRGGBB`; black for anything else.
fn colour(hex: &str) -> RGBColor {
    let part = |from: usize| {
        hex.get(from..from + 2)
            .and_then(|h| u8::from_str_radix(h, 16).ok())
            .unwrap_or(0)
    };
    RGBColor(part(1), part(3), part(5))
}

fn pen(width_mm: f64, hex: &str) -> ShapeStyle {
    ShapeStyle {
        color: colour(hex).to_rgba(),
        filled: false,
        stroke_width: units(width_mm).max(1) as u32,
    }
}

fn paint(hex: &str) -> ShapeStyle {
    ShapeStyle {
        color: colour(hex).to_rgba(),
        filled: true,
        stroke_width: 0,
    }
}

impl<'b> Canvas<'b> {
    fn put<E>(&self, element: &E)
    where
        for<'e> &'e E: PointCollection<'e, (i32, i32)>,
        E: Drawable<SVGBackend<'b>>,
    {
        // Writing into a string has no way to fail.
        let _ = self.area.draw(element);
    }

    pub(super) fn line(&self, points: &[[f64; 2]], width_mm: f64, hex: &str) {
        let mut places: Vec<(i32, i32)> = points.iter().map(|p| at(*p)).collect();
        places.dedup();
        if places.len() > 1 {
            self.put(&PathElement::new(places, pen(width_mm, hex)));
        }
    }

    /// A line in dashes of a length with gaps of a length.
    pub(super) fn dashed(&self, points: &[[f64; 2]], dash: [f64; 2], width_mm: f64, hex: &str) {
        for piece in dashes(points, dash) {
            self.line(&piece, width_mm, hex);
        }
    }

    pub(super) fn area(&self, ring: &[[f64; 2]], hex: &str) {
        let places: Vec<(i32, i32)> = ring.iter().map(|p| at(*p)).collect();
        self.put(&Polygon::new(places, paint(hex)));
    }

    pub(super) fn block(&self, corner: [f64; 2], size: [f64; 2], hex: &str) {
        let end = [corner[0] + size[0], corner[1] + size[1]];
        self.put(&Rectangle::new([at(corner), at(end)], paint(hex)));
    }

    pub(super) fn frame(&self, corner: [f64; 2], size: [f64; 2], width_mm: f64, hex: &str) {
        let [x, y] = corner;
        let [w, h] = size;
        let ring = [[x, y], [x + w, y], [x + w, y + h], [x, y + h], [x, y]];
        self.line(&ring, width_mm, hex);
    }

    pub(super) fn dot(&self, place: [f64; 2], diameter_mm: f64, hex: &str) {
        let radius = (units(diameter_mm) / 2).max(1);
        self.put(&Circle::new(at(place), radius, paint(hex)));
    }

    /// Text with the middle of its height at the place.
    pub(super) fn text(&self, place: [f64; 2], anchor: Anchor, text: &Written<'_>) {
        let style = if text.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let font = FontDesc::new(
            FontFamily::Name(FONT),
            text.size_mm * UNITS_PER_MM * FONT_SIZE_DIVISOR,
            style,
        );
        let across = match anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let colour = colour(text.colour);
        let style = TextStyle::from(font)
            .color(&colour)
            .pos(Pos::new(across, VPos::Center));
        let clean: String = text
            .words
            .chars()
            .map(|c| {
                if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') {
                    ' '
                } else {
                    c
                }
            })
            .collect();
        self.put(&Text::new(clean, at(place), style));
    }

    /// The same on a white box.
    pub(super) fn text_on_white(&self, place: [f64; 2], text: &Written<'_>) {
        let width = text_width_mm(text.words, text.size_mm) + 1.0;
        let height = text.size_mm * 1.25;
        let corner = [place[0] - width / 2.0, place[1] - height / 2.0];
        self.block(corner, [width, height], "#FFFFFF");
        self.text(place, Anchor::Middle, text);
    }
}

/// A text and how it looks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Written<'a> {
    pub(super) words: &'a str,
    pub(super) size_mm: f64,
    pub(super) bold: bool,
    pub(super) colour: &'a str,
}

impl<'a> Written<'a> {
    /// Black, 2.5 mm.
    pub(super) fn plain(words: &'a str) -> Written<'a> {
        Written {
            words,
            size_mm: 2.5,
            bold: false,
            colour: "#000000",
        }
    }

    pub(super) fn bold(words: &'a str, size_mm: f64) -> Written<'a> {
        Written {
            size_mm,
            bold: true,
            ..Written::plain(words)
        }
    }
}

/// Most dashes of one line; a longer line is drawn with longer dashes.
const MOST_DASHES: f64 = 2000.0;

fn dashes(points: &[[f64; 2]], [on, off]: [f64; 2]) -> Vec<Vec<[f64; 2]>> {
    let whole: f64 = points
        .windows(2)
        .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
        .sum();
    let stretch = (whole / (on + off) / MOST_DASHES).max(1.0);
    let (on, off) = (on * stretch, off * stretch);
    let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
    let (mut drawing, mut left) = (true, on);
    if let Some(&first) = points.first() {
        pieces.push(vec![first]);
    }
    for w in points.windows(2) {
        let far = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
        let mut done = 0.0;
        while far - done > left {
            done += left;
            let t = done / far;
            let p = [
                w[0][0] + t * (w[1][0] - w[0][0]),
                w[0][1] + t * (w[1][1] - w[0][1]),
            ];
            match (drawing, pieces.last_mut()) {
                (true, Some(piece)) => piece.push(p),
                _ => pieces.push(vec![p]),
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
        }
        left -= far - done;
        if drawing && let Some(piece) = pieces.last_mut() {
            piece.push(w[1]);
        }
    }
    pieces.retain(|p| p.len() > 1);
    pieces
}

/// Where metres of distance and level lie on paper.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    /// Upper left of the drawn field, mm.
    pub(super) corner: [f64; 2],
    /// Length of the field, metres.
    pub(super) length_m: f64,
    /// Lowest and highest level of the field, metres.
    pub(super) levels_m: [f64; 2],
    /// Between lines of level, metres.
    pub(super) step_m: f64,
    /// Millimetres for a metre along.
    pub(super) mm_per_m: f64,
    /// How much taller heights are drawn.
    pub(super) taller: f64,
}

impl Grid {
    /// A field that takes these levels, its lower and upper edge on whole steps.
    pub(super) fn new(
        corner: [f64; 2],
        length_m: f64,
        [low, high]: [f64; 2],
        mm_per_m: f64,
        taller: f64,
        show: Show,
    ) -> Grid {
        let unit = show.unit();
        let step = unit.to_m(round_step(unit.from_m(12.0 / mm_per_m / taller)));
        // Room above and below for letters.
        let above = 5.0 / mm_per_m / taller;
        Grid {
            corner,
            length_m,
            levels_m: [
                ((low - above * 1.3) / step).floor() * step,
                ((high + above) / step).ceil() * step,
            ],
            step_m: step,
            mm_per_m,
            taller,
        }
    }

    pub(super) fn at(&self, distance_m: f64, z_m: f64) -> [f64; 2] {
        [
            self.corner[0] + distance_m * self.mm_per_m,
            self.corner[1] + (self.levels_m[1] - z_m) * self.mm_per_m * self.taller,
        ]
    }

    pub(super) fn size_mm(&self) -> [f64; 2] {
        [
            self.length_m * self.mm_per_m,
            (self.levels_m[1] - self.levels_m[0]) * self.mm_per_m * self.taller,
        ]
    }

    /// Level lines and numbers, distances below, levels below the benchmark on the right.
    pub(super) fn axes(
        &self,
        canvas: &Canvas<'_>,
        show: Show,
        along: &str,
        benchmark: Option<(&str, f64)>,
    ) {
        let unit = show.unit();
        let [left, top] = self.corner;
        let [width, height] = self.size_mm();
        let (right, bottom) = (left + width, top + height);
        let step = unit.from_m(self.step_m);
        let lines = (height / (self.step_m * self.mm_per_m * self.taller)).round() as i64;
        for k in 0..=lines {
            let z = self.levels_m[0] + k as f64 * self.step_m;
            let y = self.at(0.0, z)[1];
            canvas.line(&[[left, y], [right, y]], width_mm::HATCH, "#C9C9C5");
            canvas.line(&[[left - 1.2, y], [left, y]], width_mm::THIN, "#000000");
            let words = axis_number(unit.from_m(z), step);
            canvas.text([left - 1.8, y], Anchor::End, &Written::plain(&words));
            if let Some((_, level)) = benchmark {
                canvas.line(&[[right, y], [right + 1.2, y]], width_mm::THIN, "#000000");
                let drop = unit.from_m(level - z);
                let words = if drop < -1.0e-9 {
                    format!("{} ABOVE", axis_number(-drop, step / 10.0))
                } else {
                    axis_number(drop, step / 10.0)
                };
                canvas.text([right + 1.8, y], Anchor::Start, &Written::plain(&words));
            }
        }
        let level = format!("level, {}", show.length_unit());
        canvas.text(
            [left - 14.0, top - 3.4],
            Anchor::Start,
            &Written::plain(&level),
        );
        if let Some((name, _)) = benchmark {
            let words = format!("below {name}, {}", show.length_unit());
            let words = fit(&words, 2.5, 24.0);
            let at = [right + 4.5, top - 3.4];
            canvas.text(at, Anchor::Start, &Written::plain(&words));
        }
        let step = round_step(unit.from_m(24.0 / self.mm_per_m));
        let mut d = 0.0;
        while unit.to_m(d) <= self.length_m * (1.0 + 1.0e-9) {
            let x = self.at(unit.to_m(d), 0.0)[0];
            canvas.line(&[[x, bottom], [x, bottom + 1.4]], width_mm::THIN, "#000000");
            let words = axis_number(d, step);
            canvas.text([x, bottom + 3.2], Anchor::Middle, &Written::plain(&words));
            d += step;
        }
        canvas.text([left, bottom + 7.2], Anchor::Start, &Written::plain(along));
        canvas.frame(self.corner, [width, height], width_mm::THIN, "#000000");
    }
}

/// A bar scale with four parts; words stand below it.
pub(super) fn bar(canvas: &Canvas<'_>, [x, y]: [f64; 2], mm_per_m: f64, show: Show, words: &str) {
    let (step, step_m) = bar_part(show, mm_per_m, 12.0);
    let part = step_m * mm_per_m;
    for k in 0..4 {
        let hex = if k % 2 == 0 { "#000000" } else { "#FFFFFF" };
        canvas.block([x + part * f64::from(k), y], [part, 1.5], hex);
    }
    canvas.frame([x, y], [part * 4.0, 1.5], width_mm::THIN, "#000000");
    for k in [0, 1, 2, 4] {
        let mut label = axis_number(step * f64::from(k), step);
        if k == 4 {
            label = format!("{label} {}", show.length_unit());
        }
        let anchor = if k == 4 {
            Anchor::Start
        } else {
            Anchor::Middle
        };
        let shift = if k == 4 { -1.0 } else { 0.0 };
        let at = [x + part * f64::from(k) + shift, y - 2.0];
        canvas.text(at, anchor, &Written::plain(&label));
    }
    canvas.text([x, y + 3.8], Anchor::Start, &Written::plain(words));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_their_share() {
        let line = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]];
        let pieces = dashes(&line, [3.0, 1.0]);
        let drawn: f64 = pieces
            .iter()
            .flat_map(|p| p.windows(2))
            .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
            .sum();
        // Twenty millimetres in steps of four, three of them drawn.
        assert!((drawn - 15.0).abs() < 1.0e-9, "{drawn}");
        assert_eq!(pieces.len(), 5);
    }

    #[test]
    fn the_head_counts_millimetres() {
        let svg = draw(297.0, 80.0, "a <b>", |canvas| {
            canvas.line(&[[10.0, 10.0], [110.0, 10.0]], 0.35, "#000000");
            let words = Written::plain("x & \u{1}y");
            canvas.text([20.0, 20.0], Anchor::Start, &words);
        });
        assert!(svg.contains("width=\"297mm\" height=\"80mm\" viewBox=\"0 0 29700 8000\""));
        // 100 mm are 10,000 units of 0.01 mm, for a page of 29,700 units on 297 mm.
        assert!(svg.contains("points=\"1000,1000 11000,1000 \""));
        assert!(svg.contains("stroke-width=\"35\""));
        assert!(svg.contains("font-size=\"250\""), "{svg}");
        assert!(svg.contains("x &amp;  y"));
        assert!(svg.contains("aria-label=\"a &lt;b&gt;\""));
    }
}
