//! `plan`: the shortest safe pulsed heat-up of a lining, as a card, a file or JSON.

use super::{AppError, Outcome};
use crate::cli::PlanArgs;
use crate::files::read_lining;

/// Runs the command.
///
/// # Errors
/// When the lining cannot be read, the search breaks off, or the plan cannot be written.
pub fn run(args: &PlanArgs) -> Result<Outcome, AppError> {
    let lining = read_lining(&args.lining)?;
    Err(AppError::NoSearch { lining: lining.value.name })
}
