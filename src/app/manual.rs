//! `completions` and `man`: made from the command line's own description, so that they cannot differ from it.

use std::io;
use std::path::Path;

use clap::{Command, CommandFactory as _};

use super::{AppError, Outcome, print};
use crate::cli::{Cli, CompletionsArgs, ManArgs};
use crate::files::{write_new, write_over};

/// Runs `completions`.
///
/// # Errors
/// When the system takes no output.
pub fn completions(args: &CompletionsArgs) -> Result<Outcome, AppError> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "firstheat", &mut script);
    print(&String::from_utf8_lossy(&script))?;
    Ok(Outcome::Done)
}

/// Runs `man`.
///
/// # Errors
/// When a page is there already or cannot be written.
pub fn man(args: &ManArgs) -> Result<Outcome, AppError> {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    match &args.all {
        None => print(&page(&program)?)?,
        Some(directory) => write_pages(args, directory, &program)?,
    }
    Ok(Outcome::Done)
}

/// A manual page (roff) of one command.
fn page(command: &Command) -> Result<String, AppError> {
    let mut page = Vec::new();
    let made = clap_mangen::Man::new(command.clone()).render(&mut page);
    made.map_err(|source| AppError::System { doing: "to make the manual page", source })?;
    Ok(String::from_utf8_lossy(&page).into_owned())
}

/// Writes the page of `command` and of everything below it: firstheat.1, firstheat-plan.1, firstheat-probes-emf.1.
fn write_pages(args: &ManArgs, directory: &Path, command: &Command) -> Result<(), AppError> {
    let name = command.get_display_name().unwrap_or_else(|| command.get_name()).replace(' ', "-");
    let path = directory.join(format!("{name}.1"));
    let text = page(command)?;
    if args.force {
        write_over(&path, &text)?;
    } else {
        write_new(&path, &text)?;
    }
    // What cannot be said has no reader; the file is there.
    let _ = io::Write::write_fmt(&mut io::stderr(), format_args!("written: {}\n", path.display()));
    command.get_subcommands().try_for_each(|below| write_pages(args, directory, below))
}
