//! One run of the program: arguments to command, command to report, report to its outputs.

use crate::args::{self, Format, Output};
use crate::browser;
use crate::command::{Command, Context, Program, leaf};
use crate::drawing::picture::FileKind;
use crate::error::Error;
use crate::files::{Batch, same_place};
use crate::output;
use crate::program::Quarterturn;
use crate::progress::Progress;
use crate::report::Report;
use crate::text::harmless;
use clap::ArgMatches;
use std::ffi::OsString;
use std::io::{self, BufWriter, ErrorKind, IsTerminal, Write};
use std::path::Path;

/// Runs the program on arguments (the first is its own name) and returns its exit code.
pub fn run(args: &[OsString], out: &mut dyn Write, err: &mut (dyn Write + Send)) -> u8 {
    let mut definition = Quarterturn.definition();
    let matches = match definition.try_get_matches_from_mut(args) {
        Ok(matches) => matches,
        Err(error) => {
            if error.use_stderr() {
                let _ = err.write_all(words_of(&error).as_bytes());
                return 2;
            }
            let help = error.to_string();
            return match print(out, |to| to.write_all(help.as_bytes())) {
                Ok(()) => 0,
                Err(error) => {
                    let _ = writeln!(err, "quarterturn: {}", harmless(&error.to_string()));
                    error.code()
                }
            };
        }
    };
    let Some((name, matches)) = matches.subcommand() else { return 2 };
    let placed = definition.find_subcommand(name).map_or(Ok(()), |at| places_named(at, matches));
    let done = placed.and_then(|()| {
        Quarterturn.command(name).map_or(Ok(0), |command| job(command, matches, out, err))
    });
    done.unwrap_or_else(|error| {
        let again = if error.is_forceable() { forced(args) } else { String::new() };
        let _ = writeln!(err, "quarterturn {name}: {}{again}", harmless(&error.to_string()));
        error.code()
    })
}

/// The same command with `--force`, to be typed.
fn forced(args: &[OsString]) -> String {
    let bare = |c: char| c.is_alphanumeric() || "-_./=+,:@%~".contains(c);
    let typed = |word: &OsString| match word.to_str() {
        Some(word) if !word.is_empty() && word.chars().all(bare) => word.to_string(),
        _ => format!("'{}'", word.to_string_lossy().replace('\'', "'\\''")),
    };
    let words: Vec<String> = args.iter().skip(1).map(typed).collect();
    harmless(&format!(": quarterturn {} --force", words.join(" ")))
}

/// Our own short form of a usage error: what is wrong and where help is.
fn words_of(error: &clap::Error) -> String {
    let text = error.to_string();
    let text = text.strip_prefix("error: ").unwrap_or(&text);
    format!("quarterturn: {}\n", harmless(text.trim_end()))
}

fn job(
    command: &Command,
    matches: &ArgMatches,
    out: &mut dyn Write,
    err: &mut (dyn Write + Send),
) -> Result<u8, Error> {
    let output = args::output(leaf(matches), command.report_to_file)?;
    if let (Some(chart), Some(file)) = (&output.chart, output.file())
        && same_place(Path::new(chart), file)
    {
        return Err(Error::same_place(chart));
    }
    let mut batch = Batch::new(output.force);
    let places = || output.chart.as_deref().map(Path::new).into_iter().chain(output.file());
    if let Some(path) = places().find(|path| reads(leaf(matches), path)) {
        return Err(Error::read_and_written(path));
    }
    let report = {
        let to: Option<&mut (dyn Write + Send)> = if output.quiet { None } else { Some(&mut *err) };
        let progress = &mut Progress::new(command.name, to);
        let unwritable = places().find_map(|path| batch.check_writable(path).err());
        (command.run)(matches, &mut Context { progress, program: &Quarterturn, unwritable })?
    };
    if let (Some(path), None) = (&output.chart, &report.chart) {
        let words = format!("{path} is not written: there is nothing to draw of this");
        let _ = writeln!(err, "quarterturn {}: {}", command.name, harmless(&words));
    }
    if let (Some(path), Some(chart)) = (&output.chart, &report.chart) {
        let kind = FileKind::of_path(path)?;
        batch.check(Path::new(path))?;
        batch.stage_with(Path::new(path), |to| match kind {
            FileKind::Csv => output::csv::write(&report, to),
            kind => to.write_all(&chart.bytes(kind)?),
        })?;
    }
    if let Some(folder) = &report.folder {
        batch.folder(folder)?;
    }
    for (path, bytes) in &report.files {
        if reads(leaf(matches), path) {
            return Err(Error::read_and_written(path));
        }
        batch.check(path)?;
        batch.stage(path, bytes)?;
    }
    let coloured = output.coloured(output.to_stdout() && std::io::stdout().is_terminal());
    if let Some(path) = output.file() {
        batch.check(path)?;
        batch.stage_with(path, |to| write(&report, &output, coloured, to))?;
    }
    // All outputs or none: what is staged takes its place once stdout has taken its part.
    if output.to_stdout() {
        print(out, |to| write(&report, &output, coloured, to))?;
    }
    let written = batch.finish()?;
    if !output.quiet {
        for path in written {
            let _ = writeln!(err, "wrote {}", harmless(&path.display().to_string()));
        }
    }
    if let Some(path) = &report.opens
        && !browser::open(path)
        && !output.quiet
    {
        let _ = writeln!(
            err,
            "no browser to open it in: open {} yourself",
            harmless(&path.display().to_string())
        );
    }
    Ok(report.exit)
}

/// Refuses a place without a name, and stdin in two places: what it holds is read once.
fn places_named(definition: &clap::Command, matches: &ArgMatches) -> Result<(), Error> {
    if let Some((name, below)) = matches.subcommand() {
        return definition.find_subcommand(name).map_or(Ok(()), |at| places_named(at, below));
    }
    let mut from_stdin: Vec<String> = Vec::new();
    for arg in definition.get_arguments() {
        let flag = match arg.get_long() {
            Some(long) => format!("--{long}"),
            None => arg.get_id().as_str().to_uppercase(),
        };
        let values = arg.get_value_names().unwrap_or_default();
        let takes_a_place = values.iter().any(|name| name.contains("FILE") || *name == "DIR");
        let words = matches.try_get_many::<String>(arg.get_id().as_str()).ok().flatten();
        for word in words.into_iter().flatten() {
            if takes_a_place && word.is_empty() {
                return Err(Error::usage(format!("{flag}: the name of a place is empty")));
            }
            let reads = takes_a_place && word == "-" && !written(arg.get_id());
            if reads || word == "rig=-" {
                from_stdin.push(flag.clone());
            }
        }
    }
    match &from_stdin[..] {
        [first, second, ..] => Err(Error::usage(format!(
            "{first} and {second} both read stdin (-), and it can be read once: give one of them as a file"
        ))),
        _ => Ok(()),
    }
}

/// Whether an option names a place to be written.
fn written(id: &clap::Id) -> bool {
    WRITTEN.contains(&id.as_str()) || id == "data"
}

/// Options that name a place to be written.
const WRITTEN: [&str; 2] = ["output", "chart"];

/// Whether a command reads a file from a place: whether any other word of its arguments names
/// that file.
fn reads(matches: &ArgMatches, place: &Path) -> bool {
    let names = |word: &String| {
        let word = word.strip_prefix("rig=").unwrap_or(word);
        Path::new(word).is_file() && same_place(Path::new(word), place)
    };
    let given = |id: &clap::Id| {
        let words = matches.try_get_many::<String>(id.as_str()).ok().flatten();
        words.into_iter().flatten().any(names)
    };
    matches.ids().filter(|id| !WRITTEN.contains(&id.as_str())).any(given)
}

fn print(
    out: &mut dyn Write,
    write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), Error> {
    let mut out = BufWriter::new(out);
    match write(&mut out).and_then(|()| out.flush()) {
        // Who closed the pipe has read enough.
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        other => other.map_err(Error::writing("stdout")),
    }
}

fn write(report: &Report, output: &Output, coloured: bool, to: &mut dyn Write) -> io::Result<()> {
    match output.format {
        Format::Table => {
            to.write_all(output::table::text(report, &output.wanted, coloured).as_bytes())
        }
        Format::Csv => output::csv::write(report, to),
        Format::Json => output::json::write(report, to),
    }
}
