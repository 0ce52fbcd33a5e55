//! `completions` and `man`: the command line described by itself.

use super::Failure;
use super::args::{Arguments, Output};
use super::files::write;
use crate::finding::Findings;
use crate::input::hint;
use clap::CommandFactory;
use clap_complete::Shell;

/// Prints what lets a shell complete commands and options.
pub(super) fn completions(shell: Shell, output: &Output) -> Result<Findings, Failure> {
    let mut script = Vec::new();
    let mut program = Arguments::command();
    let name = program.get_name().to_owned();
    clap_complete::generate(shell, &mut program, name, &mut script);
    write(output.out.as_deref(), &script, &[])?;
    Ok(Findings::new())
}

/// Prints the manual page of the program, or of one command.
pub(super) fn man(command: Option<&str>, output: &Output) -> Result<Findings, Failure> {
    let mut program = Arguments::command();
    program.build();
    let program = match command {
        None => program,
        Some(name) => {
            let known: Vec<&str> = program.get_subcommands().map(clap::Command::get_name).collect();
            let found = program.find_subcommand(name).cloned();
            found.ok_or_else(|| {
                Failure::Usage(format!("there is no command `{name}`; {}", hint(name, &known)))
            })?
        }
    };
    let mut page = Vec::new();
    render(program, &mut page).map_err(|error| Failure::Program(error.to_string()))?;
    write(output.out.as_deref(), &page, &[])?;
    Ok(Findings::new())
}

/// The page as clap_mangen lays it out, with the examples kept in their lines.
fn render(command: clap::Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    let after = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    let has_commands = command.get_subcommands().next().is_some();
    let has_version = command.get_version().is_some();
    let man = clap_mangen::Man::new(command);
    man.render_title(page)?;
    man.render_name_section(page)?;
    man.render_synopsis_section(page)?;
    man.render_description_section(page)?;
    man.render_options_section(page)?;
    if has_commands {
        man.render_subcommands_section(page)?;
    }
    let mut examples = clap_mangen::roff::Roff::new();
    examples.control("SH", ["EXAMPLES"]).control("nf", []);
    for line in after.lines().skip(1) {
        examples.text([clap_mangen::roff::roman(line)]);
    }
    examples.control("fi", []);
    examples.to_writer(page)?;
    if has_version { man.render_version_section(page) } else { Ok(()) }
}
