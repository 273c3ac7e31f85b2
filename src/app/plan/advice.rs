//! What would shorten a plan, what drying before it would save, and what would make one possible where none is.

use std::fmt::Write as _;

use serde::Serialize;

use super::progress::Searches;
use super::{belief, json, tell};
use crate::app::{AppError, Outcome, chain, print};
use crate::cli::PlanArgs;
use crate::lining::Lining;
use crate::physics::Belief;
use crate::plan::Plan;
use crate::plan::advice::{Dryings, Effects, LONGEST, Remedy, SKETCHED, dryings, effects, remedies, remedy_words};
use crate::plan::bound::sketch;
use crate::plan::card::in_units;
use crate::plan::search::PlanError;
use crate::units::quantity::UnitSystem;

/// Members of a sketch: as many as are solved side by side.
const MEMBERS: usize = 8;

/// Advice that was asked for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(super) struct Advice {
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Effects>,
    #[serde(skip_serializing_if = "Option::is_none")]
    drying: Option<Dryings>,
}

impl Advice {
    /// Searches what is asked for, with progress on standard error. A sketch that fails where the plan did not is no reason to
    /// lose the plan: then there is no advice.
    pub(super) fn of(args: &PlanArgs, lining: &Lining, plan: &Plan) -> Result<Self, AppError> {
        let belief = sketched(args);
        let mut advice = Self::default();
        if args.advice.why {
            advice.changes = kept(watched("what one change would do", |done| effects(lining, plan, belief, done)))?;
        }
        if args.advice.dry {
            advice.drying = kept(watched("what drying would save", |done| dryings(lining, belief, done)))?;
        }
        Ok(advice)
    }

    /// Headings with their sentences.
    pub(super) fn sections(&self, units: UnitSystem) -> Vec<(String, Vec<String>)> {
        let changes = self.changes.as_ref().map(|effects| ("What one change would do", effects.sentences(units)));
        let drying = self.drying.as_ref().map(|dryings| ("Drying before the first flame", dryings.sentences(units)));
        [changes, drying].into_iter().flatten().map(|(heading, sentences)| (heading.to_owned(), sentences)).collect()
    }

    /// The same as text below the card.
    pub(super) fn text(&self, units: UnitSystem) -> String {
        let mut text = String::new();
        for (heading, sentences) in self.sections(units) {
            let _ = writeln!(text, "\n{heading}");
            listed(&mut text, &sentences);
        }
        text
    }
}

fn kept<T>(searched: Result<T, PlanError>) -> Result<Option<T>, AppError> {
    match searched {
        Ok(found) => Ok(Some(found)),
        Err(error @ PlanError::Solve(_)) => Err(error.into()),
        Err(no) => {
            tell(&format!("no advice: a sketch on coarse cells found no heat-up ({})\n", chain(&no)))?;
            Ok(None)
        }
    }
}

fn sketched(args: &PlanArgs) -> Belief {
    Belief { members: MEMBERS, ..belief(args) }
}

fn watched<T>(what: &'static str, search: impl FnOnce(&(dyn Fn(usize) + Sync)) -> T) -> T {
    let searches = Searches::start(what);
    let found = search(&|count| searches.hear(count));
    searches.finish();
    found
}

/// Appends sentences as a list of 80 columns.
fn listed(text: &mut String, sentences: &[String]) {
    for sentence in sentences {
        let options = textwrap::Options::new(80).initial_indent("- ").subsequent_indent("  ");
        for line in textwrap::wrap(sentence, options) {
            let _ = writeln!(text, "{line}");
        }
    }
}

#[derive(Serialize)]
struct NoPlanJson<'a> {
    lining: &'a str,
    no_plan: String,
    remedies: Vec<Remedy>,
}

/// Says that there is no plan, why, and the least of each kind of change with which there is one.
pub(super) fn no_plan(args: &PlanArgs, lining: &Lining, no: &PlanError) -> Result<Outcome, AppError> {
    let units = args.units.into();
    let reason = in_units(&chain(no), units);
    tell(&format!("firstheat: `{}`: {reason}\n", lining.name))?;
    if args.watch.is_some()
        && let Ok(length) = sketch(lining, sketched(args), LONGEST)
    {
        let hours = length.hours();
        tell(&format!(
            "nearest change: a longer watch; with somebody always there a heat-up takes about {hours:.1} h\n"
        ))?;
        return Ok(Outcome::AnswerIsNo);
    }
    let remedies = watched("what would make it possible", |done| remedies(lining, sketched(args), done))?;
    if args.json {
        print(&json::written(&NoPlanJson { lining: &lining.name, no_plan: chain(no), remedies })?)?;
        return Ok(Outcome::AnswerIsNo);
    }
    let mut text = String::new();
    match remedy_words(&remedies, units).as_slice() {
        [] => text += "no single change that was tried makes it possible: combine them, or line it otherwise\n",
        [nearest, others @ ..] => {
            listed(&mut text, &[format!("nearest change: {nearest}")]);
            listed(&mut text, &others.iter().map(|other| format!("or: {other}")).collect::<Vec<_>>());
            listed(&mut text, &[SKETCHED.to_owned()]);
        }
    }
    tell(&text)?;
    Ok(Outcome::AnswerIsNo)
}
