//! `replay`: a log's inputs through the same engine again, and whether it says the same.

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

use super::setup::Documents;
use super::{AppError, Outcome};
use crate::cli::ReplayArgs;
use crate::files::Read;
use crate::lining::material::Materials;
use crate::lining::text::parse_lining;
use crate::log::{self, Head, LogBook, Selection, Step};
use crate::physics::Belief;
use crate::plan::text::parse_plan;
use crate::probe::file;
use crate::run::{Run, Setup, Verdict};

/// Members that a log without the option was followed with.
const USUAL_MEMBERS: usize = 16;

/// A step whose verdicts are not those that were recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Row of the log.
    pub row: u64,
    /// What was recorded.
    pub recorded: Vec<Verdict>,
    /// What the engine says now.
    pub now: Vec<Verdict>,
}

/// Runs the command.
///
/// # Errors
/// When the log cannot be read, or what it was followed with cannot.
pub fn run(args: &ReplayArgs) -> Result<Outcome, AppError> {
    let book = log::read(&args.log)?;
    let head = book.head()?;
    let mut run = Run::new(setup_of(head, &args.log)?)?;
    let mut selection = Selection::new(head.estimates_every);
    let mut differences = Vec::new();
    for step in &book.steps {
        let verdicts = run.step(&step.input);
        if args.json {
            super::print(&json_lines(&verdicts))?;
        }
        differences.extend(difference(step, verdicts, &mut selection));
    }
    if !args.json {
        super::print(&summary(&book, &run, &differences))?;
    }
    Ok(if differences.is_empty() { Outcome::Done } else { Outcome::AnswerIsNo })
}

/// What the heat-up of a log was followed with.
///
/// # Errors
/// When a document in its head does not read any more.
pub fn setup_of(head: &Head, path: &Path) -> Result<Setup, AppError> {
    Ok(documents_of(head, path)?.setup(belief_of(head), head.time_source))
}

/// The ensemble that a heat-up was followed with.
pub(super) fn belief_of(head: &Head) -> Belief {
    let members = head.options.iter().find(|(name, _)| name == "members").and_then(|(_, value)| value.parse().ok());
    Belief { members: members.unwrap_or(USUAL_MEMBERS), seed: head.seed }
}

/// The three files as they stand in a log.
///
/// # Errors
/// When one of them does not read any more.
pub fn documents_of(head: &Head, path: &Path) -> Result<Documents, AppError> {
    let old = |what: &'static str| {
        move |source: Box<dyn Error + Send + Sync>| AppError::OldLog { path: path.to_owned(), what, source }
    };
    let lining = parse_lining(&head.lining.text, Materials::built_in()).map_err(|error| old("lining")(error.into()))?;
    let plan = parse_plan(&head.plan.text).map_err(|error| old("plan")(error.into()))?;
    let probes = file::parse(&head.probes.text).map_err(|error| old("probe file")(error.into()))?;
    Ok(Documents {
        lining: Read { value: lining, text: head.lining.text.clone() },
        plan: Read { value: plan, text: head.plan.text.clone() },
        probes: Read { value: probes, text: head.probes.text.clone() },
    })
}

/// What the verdicts of a step differ in, as far as they are recorded at all.
fn difference(step: &Step, verdicts: Vec<Verdict>, selection: &mut Selection) -> Option<Difference> {
    let now: Vec<Verdict> = verdicts.into_iter().filter(|verdict| selection.keeps(verdict)).collect();
    (now != step.verdicts).then(|| Difference { row: step.row, recorded: step.verdicts.clone(), now })
}

fn json_lines(verdicts: &[Verdict]) -> String {
    // A verdict holds nothing that JSON cannot.
    verdicts.iter().filter_map(|verdict| serde_json::to_string(verdict).ok()).map(|line| line + "\n").collect()
}

fn summary(book: &LogBook, run: &Run, differences: &[Difference]) -> String {
    // Writing to a string cannot fail.
    let steps = book.steps.len();
    let mut text = format!("{}: {steps} steps", book.path.display());
    if let Some(last) = book.steps.last() {
        let _ = write!(text, " over {:.2} h", last.input.elapsed.hours());
    }
    text += "\n";
    let warnings = book.verdicts().filter(|verdict| matches!(verdict, Verdict::Warning { .. })).count();
    let _ = write!(text, "{warnings} warnings; the pessimistic danger number ");
    text += if run.was_danger_reached() { "reached 1\n" } else { "stayed below 1\n" };
    for damage in &book.damage {
        let _ = writeln!(text, "damage: {damage}");
    }
    if !book.is_whole() {
        text += "some steps are missing, so differences after them are to be expected\n";
    }
    match differences.first() {
        None => text += "the engine says the same as it did then\n",
        Some(first) => {
            let count = differences.len();
            let row = first.row;
            let _ = writeln!(text, "the engine says something else at {count} of {steps} steps, first at row {row}:");
            let _ = write!(text, "then: {}now:  {}", joined(&first.recorded), joined(&first.now));
        }
    }
    text
}

fn joined(verdicts: &[Verdict]) -> String {
    let lines = json_lines(verdicts);
    if lines.is_empty() { "nothing\n".to_owned() } else { lines }
}
