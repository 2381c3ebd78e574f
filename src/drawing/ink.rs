//! SVG text with one user unit a millimetre.
//!
//! Takes points in millimetres on paper (y down), gives elements. Knows no job and no scale.

use std::fmt::Write as _;

use super::FONT;

/// Text as it may stand in XML or HTML, in an element or in a quoted attribute.
///
/// Characters that XML does not allow become a space.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// A length on paper, to a hundredth of a millimetre, without needless zeros.
pub(super) fn num(mm: f64) -> String {
    let text = format!("{mm:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// Width of a line of text on paper, estimated for a plain sans serif, mm.
pub(super) fn text_width_mm(text: &str, size_mm: f64) -> f64 {
    let ems: f64 = text
        .chars()
        .map(|c| match c {
            'i' | 'l' | 'j' | '.' | ',' | ':' | ';' | '\'' | '|' | ' ' | 'I' => 0.33,
            'f' | 't' | 'r' | '(' | ')' | '-' | '/' => 0.41,
            'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.95,
            c if c.is_uppercase() => 0.71,
            c if c.is_ascii() => 0.63,
            _ => 1.0,
        })
        .sum();
    ems * size_mm
}

/// A text cut to a width, with dots where something is left out.
pub(super) fn fit(text: &str, size_mm: f64, width_mm: f64) -> String {
    if text_width_mm(text, size_mm) <= width_mm {
        return text.to_owned();
    }
    let mut kept = String::new();
    for c in text.chars() {
        kept.push(c);
        if text_width_mm(&kept, size_mm) + size_mm > width_mm {
            break;
        }
    }
    format!("{}...", kept.trim_end())
}

/// A text broken into lines of a width; words longer than a line are cut.
pub(super) fn wrap(text: &str, size_mm: f64, width_mm: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        if let Some(last) = lines.last_mut() {
            let longer = format!("{last} {word}");
            if text_width_mm(&longer, size_mm) <= width_mm {
                *last = longer;
                continue;
            }
        }
        lines.push(fit(word, size_mm, width_mm));
    }
    lines
}

/// Where a text stands to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    fn word(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

/// Path data of a line through points.
pub(super) fn path_data(points: &[[f64; 2]], closed: bool) -> String {
    let mut data = String::new();
    let mut last = String::new();
    for [x, y] in points {
        let at = format!("{} {}", num(*x), num(*y));
        if at != last {
            let _ = write!(data, "{}{at}", if last.is_empty() { 'M' } else { 'L' });
            last = at;
        }
    }
    if closed && !data.is_empty() {
        data.push('Z');
    }
    data
}

/// A sheet being drawn.
#[derive(Debug)]
pub(super) struct Svg {
    width_mm: f64,
    height_mm: f64,
    title: String,
    body: String,
}

impl Svg {
    pub(super) fn new(width_mm: f64, height_mm: f64, title: &str) -> Svg {
        Svg {
            width_mm,
            height_mm,
            title: escape(title),
            body: String::new(),
        }
    }

    /// Opens a group; every one is to be closed with [`Svg::end_group`].
    pub(super) fn group(&mut self, class: &str) {
        let _ = writeln!(self.body, "<g class=\"{}\">", escape(class));
    }

    pub(super) fn end_group(&mut self) {
        self.body.push_str("</g>\n");
    }

    /// A path; `style` holds further attributes as written.
    pub(super) fn path(&mut self, data: &str, style: &str) {
        if !data.is_empty() {
            let _ = writeln!(self.body, "<path d=\"{data}\" {style}/>");
        }
    }

    /// A line through points without fill.
    pub(super) fn line(
        &mut self,
        points: &[[f64; 2]],
        closed: bool,
        width_mm: f64,
        colour: &str,
        dash: &str,
    ) {
        let style = stroke(width_mm, colour, dash);
        self.path(&path_data(points, closed), &style);
    }

    /// Many short lines of one look as one path.
    pub(super) fn lines(&mut self, lines: &[[[f64; 2]; 2]], width_mm: f64, colour: &str) {
        let data: String = lines.iter().map(|l| path_data(l, false)).collect();
        self.path(&data, &stroke(width_mm, colour, ""));
    }

    /// Dots of a diameter as one path.
    pub(super) fn dots(&mut self, places: &[[f64; 2]], diameter_mm: f64, colour: &str) {
        let data: String = places
            .iter()
            .map(|[x, y]| format!("M{} {}h0", num(*x), num(*y)))
            .collect();
        let style = format!(
            "fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linecap=\"round\"",
            num(diameter_mm)
        );
        self.path(&data, &style);
    }

    /// Rings filled by the even-odd rule.
    pub(super) fn fill(&mut self, rings: &[Vec<[f64; 2]>], colour: &str) {
        let data: String = rings.iter().map(|r| path_data(r, true)).collect();
        self.path(&data, &format!("fill=\"{colour}\" fill-rule=\"evenodd\""));
    }

    pub(super) fn rect(&mut self, corner: [f64; 2], size: [f64; 2], style: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {style}/>",
            num(corner[0]),
            num(corner[1]),
            num(size[0]),
            num(size[1])
        );
    }

    /// A text on its base line, with a white edge so that lines below do not touch it.
    pub(super) fn text(&mut self, at: [f64; 2], size_mm: f64, anchor: Anchor, look: Look) {
        if look.words.is_empty() {
            return;
        }
        let weight = if look.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        let halo = if look.halo {
            " stroke=\"#FFFFFF\" stroke-width=\"0.7\" stroke-linejoin=\"round\" paint-order=\"stroke\""
        } else {
            ""
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{}\" fill=\"{}\"{weight}{halo}>{}</text>",
            num(at[0]),
            num(at[1]),
            num(size_mm),
            anchor.word(),
            look.colour,
            escape(look.words)
        );
    }

    pub(super) fn finish(self) -> String {
        let (w, h) = (num(self.width_mm), num(self.height_mm));
        format!(
            "<svg width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"{title}\" font-family=\"{FONT}\">\n<title>{title}</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"#FFFFFF\"/>\n{}</svg>\n",
            self.body,
            title = self.title
        )
    }
}

/// How a text looks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look<'a> {
    pub(super) words: &'a str,
    pub(super) colour: &'a str,
    pub(super) bold: bool,
    pub(super) halo: bool,
}

impl<'a> Look<'a> {
    /// Plain black on empty paper.
    pub(super) fn plain(words: &'a str) -> Look<'a> {
        Look {
            words,
            colour: "#000000",
            bold: false,
            halo: false,
        }
    }

    pub(super) fn bold(words: &'a str) -> Look<'a> {
        Look {
            bold: true,
            ..Look::plain(words)
        }
    }

    /// Black with a white edge.
    pub(super) fn over_lines(words: &'a str) -> Look<'a> {
        Look {
            halo: true,
            ..Look::plain(words)
        }
    }
}

/// Attributes of a line without fill.
pub(super) fn stroke(width_mm: f64, colour: &str, dash: &str) -> String {
    let dash = if dash.is_empty() {
        String::new()
    } else {
        format!(" stroke-dasharray=\"{dash}\"")
    };
    format!(
        "fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dash}",
        num(width_mm)
    )
}
