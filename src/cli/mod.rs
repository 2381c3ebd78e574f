//! The command line: arguments in, one answer out, an exit code.
//!
//! Results go to standard output, everything else to standard error. The commands call the same
//! rooms as everybody else and compute nothing of their own.

mod align;
mod args;
mod commands;
mod contours;
mod cures;
mod disk;
mod export;
mod folder;
mod held;
mod progress;
mod reading;
mod source;
mod stages;
mod walls;
mod whole;

use std::ffi::OsString;
use std::io::Write;

use clap::Parser as _;

use crate::diag::{Diagnostic, Failure, Level};

use args::{Cli, Command, Output};

/// Done.
const DONE: u8 = 0;
/// Done, and at least one finding says stop.
const STOP: u8 = 1;
/// Could not run.
const FAILED: u8 = 2;

/// What a command has to say.
struct Answer {
    /// For standard output.
    text: String,
    /// Doubts about the input, for standard error.
    diagnostics: Vec<Diagnostic>,
    code: u8,
}

impl Answer {
    fn new(text: String, diagnostics: Vec<Diagnostic>) -> Answer {
        Answer {
            text,
            diagnostics,
            code: DONE,
        }
    }
}

/// Runs the command line given, and returns the exit code.
pub fn main(arguments: impl IntoIterator<Item = OsString>) -> u8 {
    let cli = match Cli::try_parse_from(join_line(arguments)) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version are answers; anything else is a call that could not run.
            let _ = error.print();
            return if error.use_stderr() { FAILED } else { DONE };
        }
    };
    let (result, quiet) = dispatch(cli.command);
    match result {
        Ok(answer) => {
            if !quiet {
                say(&answer.diagnostics);
            }
            // A closed pipe is not a fault: whoever read has seen enough.
            let mut out = std::io::stdout().lock();
            let _ = out
                .write_all(answer.text.as_bytes())
                .and_then(|()| out.flush());
            answer.code
        }
        Err(Failure(diagnostics)) => {
            say(&diagnostics);
            FAILED
        }
    }
}

/// Joins the points after `--line` into one argument: `--line 0,0 -5,10` is one line, and a
/// coordinate may begin with a minus without being taken for an option.
fn join_line(arguments: impl IntoIterator<Item = OsString>) -> Vec<OsString> {
    let is_point = |argument: &OsString| {
        let text = argument.to_string_lossy();
        let starts = text
            .trim_start()
            .starts_with(|c: char| c.is_ascii_digit() || "-+.".contains(c));
        starts && text.contains(',')
    };
    let mut joined: Vec<OsString> = Vec::new();
    let mut in_line = false;
    for argument in arguments {
        if in_line && is_point(&argument) {
            if let Some(last) = joined.last_mut() {
                if last != "--line=" {
                    last.push(" ");
                }
                last.push(argument);
            }
        } else {
            in_line = argument == "--line";
            joined.push(if in_line { "--line=".into() } else { argument });
        }
    }
    joined
}

fn dispatch(command: Command) -> (Result<Answer, Failure>, bool) {
    let quiet = |output: &Output| output.quiet;
    match command {
        Command::Report { job, out, output } => (
            commands::report(job.as_deref(), &out, output),
            quiet(&output),
        ),
        Command::New { dir } => (commands::new(&dir), false),
        Command::Check { job, output } => (commands::check(&job, output), quiet(&output)),
        Command::Cures {
            job,
            take,
            write,
            output,
        } => (cures::cures(&job, &take, write, output), quiet(&output)),
        Command::Levels {
            book,
            reading,
            adjust,
            allow,
            output,
        } => (
            commands::levels(&book, &reading, adjust, allow.as_deref(), output),
            quiet(&output),
        ),
        Command::Ground {
            source,
            above,
            export,
            taken_away,
            reading,
            output,
        } => (
            commands::ground(
                &source,
                above,
                export.as_deref(),
                taken_away.as_deref(),
                &reading,
                output,
            ),
            quiet(&output),
        ),
        Command::Contours {
            source,
            interval,
            levels,
            export,
            reading,
            output,
        } => (
            contours::contours_of(
                &source,
                interval,
                &levels,
                export.as_deref(),
                &reading,
                output,
            ),
            quiet(&output),
        ),
        Command::Volume {
            from,
            to,
            export,
            reading,
            output,
        } => (
            commands::volume(&from, &to, export.as_deref(), &reading, output),
            quiet(&output),
        ),
        Command::Walls { job, entry, output } => {
            (walls::walls(&job, entry, output), quiet(&output))
        }
        Command::Section {
            source,
            line,
            export,
            reading,
            output,
        } => (
            commands::section(&source, &line, export.as_deref(), &reading, output),
            quiet(&output),
        ),
    }
}

/// Writes diagnostics to standard error: notes last, so that an error is read first.
fn say(diagnostics: &[Diagnostic]) {
    let mut err = std::io::stderr().lock();
    for level in [Level::Error, Level::Warn, Level::Note] {
        for diagnostic in diagnostics.iter().filter(|d| d.level == level) {
            let _ = writeln!(err, "{diagnostic}");
        }
    }
}
