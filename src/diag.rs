//! What is wrong or doubtful with the input: [`Diagnostic`], collected, never printed here.
//!
//! A diagnostic says where (file, line, column), which text stood there, and what to do.
//! A design that fails a check is not a diagnostic but a `Finding` (room `checks`).

use std::fmt;

/// How bad a diagnostic is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Worth knowing; the result stands.
    Note,
    /// Doubtful; the result may be wrong.
    Warn,
    /// The step cannot go on.
    Error,
}

/// A place in an input file. Lines count from 1; 0 means the file as a whole.
#[derive(Clone, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct At {
    /// File as the user named it.
    pub file: String,
    /// Line, counted from 1; 0 for the whole file.
    pub line: usize,
    /// Column head, or key of the job, if one is meant.
    pub column: String,
    /// The text that stood there.
    pub text: String,
}

impl At {
    /// The file as a whole.
    pub fn file(file: impl Into<String>) -> At {
        At {
            file: file.into(),
            ..At::default()
        }
    }

    /// A line of a file.
    pub fn line(file: impl Into<String>, line: usize) -> At {
        At {
            file: file.into(),
            line,
            ..At::default()
        }
    }

    /// A cell: line, column head and what was written in it.
    pub fn cell(
        file: impl Into<String>,
        line: usize,
        column: impl Into<String>,
        text: impl Into<String>,
    ) -> At {
        At {
            file: file.into(),
            line,
            column: column.into(),
            text: text.into(),
        }
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if self.line > 0 {
            write!(f, " line {}", self.line)?;
        }
        if !self.column.is_empty() {
            write!(f, ", \"{}\"", self.column)?;
        }
        if !self.text.is_empty() {
            write!(f, ": \"{}\"", shorten(&self.text))?;
        }
        Ok(())
    }
}

/// Cell text cut to a length that fits a message, control characters shown as dots.
fn shorten(text: &str) -> String {
    let clean: String = text
        .chars()
        .map(|c| if c.is_control() { '.' } else { c })
        .take(60)
        .collect();
    if clean.chars().count() < text.chars().count() {
        format!("{clean}...")
    } else {
        clean
    }
}

/// One thing wrong or doubtful in the input.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Diagnostic {
    /// How bad it is.
    pub level: Level,
    /// Stable short name, such as `bad-number`.
    pub code: &'static str,
    /// What is wrong, in a sentence without a full stop.
    pub message: String,
    /// Where; several for a clash of two places.
    pub at: Vec<At>,
    /// What to do, in a sentence without a full stop; empty if there is nothing to do.
    pub help: String,
}

impl Diagnostic {
    /// Something that stops the step.
    pub fn error(code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::new(Level::Error, code, message)
    }

    /// Something doubtful.
    pub fn warn(code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::new(Level::Warn, code, message)
    }

    /// Something worth knowing.
    pub fn note(code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::new(Level::Note, code, message)
    }

    fn new(level: Level, code: &'static str, message: impl Into<String>) -> Diagnostic {
        Diagnostic {
            level,
            code,
            message: message.into(),
            at: Vec::new(),
            help: String::new(),
        }
    }

    /// Adds a place.
    pub fn at(mut self, at: At) -> Diagnostic {
        self.at.push(at);
        self
    }

    /// Says what to do.
    pub fn help(mut self, help: impl Into<String>) -> Diagnostic {
        self.help = help.into();
        self
    }
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let level = match self.level {
            Level::Note => "note",
            Level::Warn => "warning",
            Level::Error => "error",
        };
        write!(f, "{level}: ")?;
        for (i, at) in gathered(&self.at).iter().enumerate() {
            write!(f, "{}{at}", if i > 0 { " and " } else { "" })?;
        }
        if !self.at.is_empty() {
            write!(f, ": ")?;
        }
        write!(f, "{}", self.message)?;
        if !self.help.is_empty() {
            write!(f, "\n  help: {}", self.help)?;
        }
        Ok(())
    }
}

/// Places in words; many whole lines of one file in a row as one: `shots.csv lines 3 to 10, 12`.
fn gathered(places: &[At]) -> Vec<String> {
    const FEW: usize = 3;
    let is_line = |at: &At| at.line > 0 && at.column.is_empty() && at.text.is_empty();
    places
        .chunk_by(|a, b| is_line(a) && is_line(b) && a.file == b.file && a.line < b.line)
        .flat_map(|group| {
            if group.len() < FEW {
                return group.iter().map(ToString::to_string).collect();
            }
            let lines: Vec<String> = group
                .chunk_by(|a, b| a.line + 1 == b.line)
                .map(|run| match (run.first(), run.last()) {
                    (Some(first), Some(last)) if run.len() >= FEW => {
                        format!("{} to {}", first.line, last.line)
                    }
                    _ => {
                        let each: Vec<String> = run.iter().map(|at| at.line.to_string()).collect();
                        each.join(", ")
                    }
                })
                .collect();
            vec![format!("{} lines {}", group[0].file, lines.join(", "))]
        })
        .collect()
}

/// A step that could not go on: every diagnostic found until then, at least one an error.
#[derive(Clone, Debug, thiserror::Error)]
pub struct Failure(pub Vec<Diagnostic>);

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, diagnostic) in self.0.iter().enumerate() {
            write!(f, "{}{diagnostic}", if i > 0 { "\n" } else { "" })?;
        }
        Ok(())
    }
}

impl From<Diagnostic> for Failure {
    fn from(diagnostic: Diagnostic) -> Failure {
        Failure(vec![diagnostic])
    }
}

/// True if any of these stops the step.
pub fn has_error(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(|d| d.level == Level::Error)
}

/// The known name nearest to a mistyped one, if it is near enough to be meant.
pub fn nearest<'a>(wrong: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let first = wrong.chars().next();
    // Half the letters of a short word are another word, unless it begins alike.
    let is_alike = |distance: usize, name: &str| {
        distance <= 1 || name.len() > 4 || name.chars().next() == first
    };
    known
        .into_iter()
        .map(|name| (strsim::damerau_levenshtein(wrong, name), name))
        .filter(|&(distance, name)| distance <= 2.max(name.len() / 3) && is_alike(distance, name))
        .min()
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_lines_of_one_file_are_one_place() {
        let said = |lines: &[usize]| {
            let mut note = Diagnostic::note("n", "words");
            note.at = lines.iter().map(|&l| At::line("a.csv", l)).collect();
            note.to_string()
        };
        assert_eq!(said(&[3, 4]), "note: a.csv line 3 and a.csv line 4: words");
        assert_eq!(
            said(&[3, 4, 5, 6, 8, 9, 12]),
            "note: a.csv lines 3 to 6, 8, 9, 12: words"
        );
        let mut note = Diagnostic::note("n", "words");
        note.at = vec![
            At::line("a.csv", 1),
            At::line("b.csv", 2),
            At::line("b.csv", 3),
        ];
        assert_eq!(
            note.to_string(),
            "note: a.csv line 1 and b.csv line 2 and b.csv line 3: words"
        );
    }
}
