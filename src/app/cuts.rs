//! `cuts`: what to cut, mix, buy and weigh for a lining, as text, CSV and a drawing.

use std::io::{self, Write as _};
use std::path::Path;

use super::{AppError, Outcome, print};
use crate::cli::CutsArgs;
use crate::files::{read_lining, write_new, write_over};
use crate::lining::cuts::{CutList, drawing, page, table};

/// Runs the command.
///
/// # Errors
/// When the lining cannot be read, or a file cannot be written.
pub fn run(args: &CutsArgs) -> Result<Outcome, AppError> {
    let lining = read_lining(&args.lining)?.value;
    let list = CutList::of(&lining);
    let units = args.units.into();
    if let Some(path) = &args.csv {
        let csv = table(&list);
        let csv =
            csv.map_err(|error| AppError::System { doing: "to make the table", source: io::Error::other(error) })?;
        write(args, path, &csv)?;
    }
    if let Some(path) = &args.svg {
        write(args, path, &drawing(&list, units))?;
    }
    if args.json {
        // A cut list holds nothing that JSON cannot.
        print(&(serde_json::to_string_pretty(&list).unwrap_or_default() + "\n"))?;
    } else {
        print(&page(&list, units))?;
    }
    Ok(Outcome::Done)
}

fn write(args: &CutsArgs, path: &Path, text: &str) -> Result<(), AppError> {
    let written = if args.force { write_over(path, text) } else { write_new(path, text) };
    written?;
    // What cannot be said has no reader; the file is there.
    let _ = writeln!(io::stderr(), "written: {}", path.display());
    Ok(())
}
