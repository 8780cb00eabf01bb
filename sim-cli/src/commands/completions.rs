//! `completions`: shell completions and the manual page, from the list of commands.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Text;
use crate::report::Report;
use crate::results::completions::{Completions, report};
use clap::ArgMatches;
use clap_complete::Shell;
use clap_mangen::Man;
use std::io::{self, Write};

pub const COMMAND: Command = Command {
    name: "completions",
    group: "look-up",
    about: "Completions for a shell, or the manual page",
    example: "quarterturn completions bash",
    options: &[&FOR],
    run,
    ..PLAIN
};

const WORDS: &[&str] = &["bash", "zsh", "fish", "man"];

static FOR: Text = Text {
    offered: WORDS,
    required: true,
    bare: true,
    ..Text::new("for", "bash|zsh|fish|man", "the shell, or man for the manual page")
};

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let mut bytes = Vec::new();
    let mut program = context.program.definition();
    let shell = match FOR.read(matches).unwrap_or_default() {
        "bash" => Some(Shell::Bash),
        "zsh" => Some(Shell::Zsh),
        "fish" => Some(Shell::Fish),
        "man" => None,
        found => return Err(Error::not_a_word("shell", found, WORDS)),
    };
    match shell {
        Some(shell) => clap_complete::generate(shell, &mut program, "quarterturn", &mut bytes),
        // Writing to memory cannot fail.
        None => manual(program, &mut bytes).expect("memory"),
    }
    Ok(report(Completions { text: String::from_utf8_lossy(&bytes).into_owned() }))
}

/// The manual page: the program, then a section for each command.
fn manual(program: clap::Command, page: &mut Vec<u8>) -> io::Result<()> {
    let man = Man::new(program.clone());
    man.render_title(page)?;
    man.render_name_section(page)?;
    man.render_synopsis_section(page)?;
    man.render_description_section(page)?;
    for command in program.get_subcommands() {
        let name = command.get_name();
        let about = command.get_about().map(ToString::to_string).unwrap_or_default();
        writeln!(page, ".SH \"QUARTERTURN {}\"\n{about}", name.to_uppercase())?;
        let mut options = Vec::new();
        Man::new(command.clone()).render_options_section(&mut options)?;
        let options = String::from_utf8_lossy(&options).replace(".SH ", ".SS ");
        page.write_all(options.as_bytes())?;
        for child in command.get_subcommands() {
            let about = child.get_about().map(ToString::to_string).unwrap_or_default();
            writeln!(page, ".TP\n\\fB{} {}\\fR\n{about}", name, child.get_name())?;
        }
    }
    Ok(())
}
