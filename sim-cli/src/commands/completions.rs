//! `completions`: shell completions and the manual page, from the list of commands.

use super::Command;
use crate::args::{program, with_output};
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Report};
use clap::{Arg, ArgMatches};
use clap_complete::Shell;
use clap_mangen::Man;
use serde_json::json;

pub const COMMAND: Command = Command {
    name: "completions",
    group: "look-up",
    about: "Completions for a shell, or the manual page",
    example: "quarterturn completions bash",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    with_output(
        command.arg(
            Arg::new("for")
                .value_name("bash|zsh|fish|man")
                .required(true)
                .value_parser(["bash", "zsh", "fish", "man"]),
        ),
    )
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let wanted = matches.get_one::<String>("for").map_or("", String::as_str);
    let mut bytes = Vec::new();
    let mut program = program();
    let shell = match wanted {
        "bash" => Some(Shell::Bash),
        "zsh" => Some(Shell::Zsh),
        "fish" => Some(Shell::Fish),
        _ => None,
    };
    match shell {
        Some(shell) => clap_complete::generate(shell, &mut program, "quarterturn", &mut bytes),
        // Writing to memory cannot fail.
        None => manual(program, &mut bytes).expect("memory"),
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let mut report = Report::new("completions");
    report.put("text", json!(text));
    report.blocks.push(Block::Verbatim(text));
    Ok(report)
}

/// The manual page: the program, then a section for each command.
fn manual(program: clap::Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    use std::io::Write;
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
