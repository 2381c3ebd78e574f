//! The frame of a page and the pieces its body is made of: headings, tables, pictures.
//!
//! Knows no job: what is said stands in the modules beside it.

use std::fmt::Write as _;

use crate::diag::{Diagnostic, Level};
use crate::drawing::escape;
use crate::files::Input;
use crate::outcome::Outcome;
use crate::show::Show;

const STYLE: &str = include_str!("../page.css");
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// A page about something: an outcome, or what else has an answer of its own.
pub(super) struct Page<'a, T = Outcome> {
    pub(super) outcome: &'a T,
    pub(super) show: Show,
    pub(super) body: String,
    contents: Vec<(&'static str, &'static str)>,
}

/// A column of a table.
pub(super) enum Head<'a> {
    Text(&'a str),
    Number(String),
}

/// What stands round the body of a page.
pub(super) struct Frame<'a> {
    /// Name of the job.
    pub(super) name: &'a str,
    /// What the page is about, for its title.
    pub(super) title: &'a str,
    /// Day it was made.
    pub(super) date: &'a str,
    /// The line below the name.
    pub(super) line: &'a str,
}

impl<'a, T> Page<'a, T> {
    pub(super) fn new(outcome: &'a T, show: Show) -> Page<'a, T> {
        Page {
            outcome,
            show,
            body: String::new(),
            contents: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, html: &str) {
        self.body.push_str(html);
        self.body.push('\n');
    }

    pub(super) fn heading(&mut self, id: &'static str, words: &'static str) {
        self.contents.push((id, words));
        let _ = writeln!(self.body, "<h2 id=\"{id}\">{words}</h2>");
    }

    pub(super) fn paragraph(&mut self, words: &str) {
        let _ = writeln!(self.body, "<p>{}</p>", escape(words));
    }

    pub(super) fn quiet(&mut self, words: &str) {
        let _ = writeln!(self.body, "<p class=\"quiet\">{}</p>", escape(words));
    }

    /// A table in a box of its own that scrolls sideways where the page is narrow. Every row
    /// starts with its head; cells are text.
    pub(super) fn table(&mut self, caption: &str, heads: &[Head], rows: &[(&str, Vec<String>)]) {
        let caption = escape(caption);
        let _ = writeln!(
            self.body,
            "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\n<table>\n<caption>{caption}</caption>\n<thead><tr>"
        );
        for head in heads {
            let _ = match head {
                Head::Text(words) => write!(self.body, "<th scope=\"col\">{}</th>", escape(words)),
                Head::Number(words) => write!(
                    self.body,
                    "<th scope=\"col\" class=\"n\">{}</th>",
                    escape(words)
                ),
            };
        }
        self.add("</tr></thead>\n<tbody>");
        for (class, cells) in rows {
            let _ = write!(self.body, "<tr class=\"{class}\">");
            for (k, cell) in cells.iter().enumerate() {
                let cell = escape(cell);
                let _ = match (k, heads.get(k)) {
                    (0, Some(Head::Number(_))) => {
                        write!(self.body, "<th scope=\"row\" class=\"n\">{cell}</th>")
                    }
                    (0, _) => write!(self.body, "<th scope=\"row\">{cell}</th>"),
                    (_, Some(Head::Number(_))) => write!(self.body, "<td class=\"n\">{cell}</td>"),
                    _ => write!(self.body, "<td>{cell}</td>"),
                };
            }
            self.add("</tr>");
        }
        self.add("</tbody>\n</table>\n</div>");
    }

    /// Facts as a table of two columns.
    pub(super) fn facts(&mut self, caption: &str, facts: &[(&str, String)]) {
        let rows: Vec<(&str, Vec<String>)> = facts
            .iter()
            .map(|(name, value)| ("", vec![(*name).to_owned(), value.clone()]))
            .collect();
        self.table(caption, &[Head::Text("what"), Head::Text("value")], &rows);
    }

    pub(super) fn picture(&mut self, svg: &str, caption: &str) {
        // Inside a page the name space is known; without it no address stands in the file.
        let svg = svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
        let caption = escape(caption);
        let _ = writeln!(
            self.body,
            "<figure>\n<div class=\"picture scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\n{svg}</div>\n<figcaption>{caption}</figcaption>\n</figure>"
        );
    }

    pub(super) fn pairs(&mut self, rows: &[(&str, String)]) {
        if rows.is_empty() {
            return;
        }
        self.body.push_str("<dl>");
        for (name, value) in rows {
            let _ = write!(self.body, "<dt>{name}</dt><dd>{}</dd>", escape(value));
        }
        self.add("</dl>");
    }

    pub(super) fn doubts(&mut self, diagnostics: &[Diagnostic]) {
        self.heading("diagnostics", "Doubts about the input");
        if diagnostics.is_empty() {
            self.paragraph("None.");
            return;
        }
        let rows: Vec<(&str, Vec<String>)> = diagnostics
            .iter()
            .map(|d| {
                let level = match d.level {
                    Level::Note => "note",
                    Level::Warn => "warning",
                    Level::Error => "error",
                };
                let at: Vec<String> = d.at.iter().map(ToString::to_string).collect();
                (
                    "",
                    vec![
                        level.to_owned(),
                        d.message.clone(),
                        at.join("; "),
                        d.help.clone(),
                    ],
                )
            })
            .collect();
        let heads = [
            Head::Text("level"),
            Head::Text("what"),
            Head::Text("where"),
            Head::Text("what to do"),
        ];
        self.table("What was doubtful", &heads, &rows);
    }

    pub(super) fn files(&mut self, inputs: &[Input]) {
        self.heading("inputs", "Inputs");
        let rows: Vec<(&str, Vec<String>)> = inputs
            .iter()
            .map(|i| {
                (
                    "",
                    vec![i.file.clone(), i.bytes.to_string(), i.digest.clone()],
                )
            })
            .collect();
        let heads = [
            Head::Text("file"),
            Head::Number("bytes".to_owned()),
            Head::Text("digest (FNV-1a, 64 bits)"),
        ];
        self.table("Files this report was made from", &heads, &rows);
    }

    pub(super) fn finish(self, frame: &Frame) -> String {
        let mut contents = String::new();
        for (id, words) in &self.contents {
            let _ = writeln!(contents, "<li><a href=\"#{id}\">{words}</a></li>");
        }
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta name=\"format-detection\" content=\"telephone=no\">\n<title>{name}: {title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<header>\n<h1>{name}</h1>\n<p>{line}</p>\n</header>\n<nav aria-label=\"On this page\">\n<ul>\n{contents}</ul>\n</nav>\n<main>\n{body}</main>\n<footer>\n<p>Made by {program} {version} on {date} from the <a href=\"#inputs\">inputs</a> named above. Not a boundary survey and not an engineer's design. Before an old print is used, compare its date with the newest.</p>\n</footer>\n</body>\n</html>\n",
            name = escape(frame.name),
            title = escape(frame.title),
            date = escape(frame.date),
            line = escape(frame.line),
            body = self.body,
            program = env!("CARGO_PKG_NAME"),
            version = env!("CARGO_PKG_VERSION"),
        )
    }
}
