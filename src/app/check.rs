//! `check`: what a file of ours means, or what is wrong with it.

use std::fmt::Write as _;
use std::path::Path;

use super::{AppError, Outcome, chain};
use crate::cli::CheckArgs;
use crate::clock::date_label;
use crate::files::{Read, begins_with, read_lining, read_plan, read_text, write_new};
use crate::lining::text::digest;
use crate::lining::{Control, Lining};
use crate::log::{self, LogBook};
use crate::physics::danger::CAUTION;
use crate::physics::{Belief, Ensemble, Furnace, Grid};
use crate::plan::card::fires::{burner, made_of};
use crate::plan::card::{self, CardOf};
use crate::plan::firing::{FULL, Fire, Firing};
use crate::plan::pauses::parse_start;
use crate::plan::recheck::{Passed, recheck};
use crate::plan::search::{PROMISED_SHARE, PlanError, limits_of};
use crate::plan::{Limits, Plan};
use crate::probe::file;
use crate::probe::set::ProbeSet;
use crate::report::card::page;
use crate::run::Verdict;
use crate::units::quantity::UnitSystem;

/// Runs the command: says something of every file. The answer is no when a plan passes a limit on the lining it is held
/// against; a file that cannot be used makes the whole unusable.
///
/// # Errors
/// When that lining cannot be read, or output is refused.
pub fn run(args: &CheckArgs) -> Result<Outcome, AppError> {
    let mut outcome = Outcome::Done;
    let bench = args.lining.as_ref().map(|path| read_lining(path).map(|lining| Bench { args, lining })).transpose()?;
    for path in &args.files {
        match words_for(path, bench.as_ref()) {
            Ok((words, answer)) => {
                super::print(&format!("{}: {words}", path.display()))?;
                if answer == Outcome::AnswerIsNo && outcome == Outcome::Done {
                    outcome = answer;
                }
            }
            Err(error) => {
                outcome = Outcome::Unusable;
                super::print(&format!("{}\n", chain(&error)))?;
            }
        }
    }
    Ok(outcome)
}

fn words_for(path: &Path, bench: Option<&Bench<'_>>) -> Result<(String, Outcome), AppError> {
    if begins_with(path, "row,")? {
        return Ok((log_words(&log::read(path)?), Outcome::Done));
    }
    let text = read_text(path)?;
    let words = match text.lines().find(|line| line.trim_start().starts_with("format")) {
        Some(line) if line.contains("firstheat lining") => {
            let lining = read_lining(path)?;
            lining_words(&lining.value, &lining.text)
        }
        Some(line) if line.contains("firstheat plan") => {
            let plan = read_plan(path)?.value;
            match bench {
                Some(bench) => return bench.hold(plan),
                None => plan_words(&plan),
            }
        }
        Some(line) if line.contains("firstheat probes") => {
            let set = file::parse(&text)
                .map_err(|wrong| AppError::Probes { path: path.to_owned(), source: Box::new(wrong) })?;
            probe_words(&set)
        }
        _ => return Err(AppError::Foreign { path: path.to_owned() }),
    };
    Ok((words, Outcome::Done))
}

/// A lining on which plans are simulated pulse by pulse.
struct Bench<'a> {
    args: &'a CheckArgs,
    lining: Read<Lining>,
}

impl Bench<'_> {
    /// Simulates `plan` and holds it against the limits of the lining, whatever limits the plan's file gives.
    fn hold(&self, mut plan: Plan) -> Result<(String, Outcome), AppError> {
        let lining = &self.lining.value;
        let furnace = Furnace::of(lining, if self.args.fine { Grid::Fine } else { Grid::Usual });
        let limits = limits_of(lining, &furnace);
        let mut words = plan_words(&plan);
        for odd in self.oddities(&plan, &limits) {
            let _ = writeln!(words, "  note: {odd}");
        }
        plan.limits = limits.clone();
        let belief = Belief { members: usize::from(self.args.belief.members), seed: self.args.belief.seed };
        let start = Ensemble::new(&furnace, belief).map_err(PlanError::from)?;
        let checked = recheck(&plan, start, PROMISED_SHARE).map_err(PlanError::from)?;
        let findings = &checked.findings;
        let units = self.args.units.into();
        let _ = writeln!(words, "simulated pulse by pulse on `{}`:", lining.name);
        words += &card::summary(&CardOf { plan: &plan, findings, lining, label: "", start: None }, units);
        let _ = writeln!(words, "{CAUTION}");
        if findings.keeps(&limits) && checked.passed.is_empty() {
            words += "it keeps danger and ramp within the limits of the lining\n";
            if let Some(path) = &self.args.page {
                let start = self.args.start.as_deref().map(parse_start).transpose()?;
                let label = format!("plan as checked {}", date_label());
                let of = CardOf { plan: &plan, findings, lining, label: &label, start };
                write_new(path, &page(&of, units, &[]))?;
                let _ = writeln!(words, "page to print: {}", path.display());
            }
            return Ok((words, Outcome::Done));
        }
        words += &not_safe(&checked.passed, &findings.worst_in_words(&limits), units);
        Ok((words, Outcome::AnswerIsNo))
    }

    /// Marks and ramps that this burner does not have.
    fn other_marks(&self, plan: &Plan) -> Vec<String> {
        let furnace = Furnace::of(&self.lining.value, Grid::Coarse);
        let odd = |fire: &Fire| match furnace.marks().iter().find(|(mark, _)| *mark == fire.mark) {
            _ if fire.mark == FULL => None,
            None => Some(format!("the burner of this lining has no mark `{}`", fire.mark)),
            Some((_, share)) if (share - fire.share).abs() > 0.005 => Some(format!(
                "the plan takes `{}` as {:.1} % of the full fire, and on this lining it is {:.1} %",
                fire.mark,
                100.0 * fire.share,
                100.0 * share
            )),
            Some(_) => None,
        };
        let mut words: Vec<String> = plan.fires().iter().filter_map(odd).collect();
        let ramps = plan.rounds.iter().any(|round| matches!(round.firing, Firing::Ramp { .. }));
        if ramps && *furnace.control() != Control::Ramps {
            words.push(
                "the plan has ramps, and the burner of this lining is not said to hold them (`holds-ramps`)".into(),
            );
        }
        words
    }

    /// What a person should know before they trust what is found.
    fn oddities(&self, plan: &Plan, limits: &Limits) -> Vec<String> {
        let (lining, text) = (&self.lining.value, &self.lining.text);
        let mut odd = Vec::new();
        if plan.lining != lining.name {
            odd.push(format!("the plan was made for `{}`, and this lining is called `{}`", plan.lining, lining.name));
        } else if !plan.lining_digest.is_empty() && plan.lining_digest != digest(text) {
            odd.push("the lining file has changed since the plan was made".to_owned());
        }
        odd.extend(self.other_marks(plan));
        if plan.limits != *limits {
            odd.push("the plan file gives other limits than the lining; those of the lining are used here".to_owned());
        }
        odd
    }
}

/// Which limits are passed, where, and what to change there.
fn not_safe(passed: &[Passed], worst: &str, units: UnitSystem) -> String {
    let worst = card::in_units(worst, units);
    let mut words = String::new();
    if passed.is_empty() {
        let _ = writeln!(words, "NOT SAFE: {worst}; shorten the pulses there or lengthen the pauses");
    }
    for Passed { round, pulse, elapsed, what, change } in passed {
        let minutes = (elapsed.0 / 60.0).round() as u64;
        let (what, at) = (card::in_units(what, units), format!("{}:{:02}", minutes / 60, minutes % 60));
        let _ = writeln!(words, "NOT SAFE: round {round}, pulse {pulse}, {at} after the first flame: {what}");
        let _ = writeln!(words, "  change: {change}");
    }
    if !passed.is_empty() {
        let _ = writeln!(words, "  at its worst: {worst}");
    }
    words
}

fn lining_words(lining: &Lining, text: &str) -> String {
    let mut words = format!("lining `{}`, digest {}\n", lining.name, digest(text));
    for section in &lining.sections {
        let layers =
            section.layers.iter().map(|layer| format!("{:.0} mm {}", layer.thickness.mm(), layer.material.key));
        // Writing to a string cannot fail.
        let _ = writeln!(words, "  section {}: {}", section.name, layers.collect::<Vec<_>>().join(", "));
    }
    words
}

fn plan_words(plan: &Plan) -> String {
    let hours = plan.length().hours();
    let mut words = format!("plan for `{}`: {}, {hours:.1} h\n", plan.lining, made_of(plan));
    for round in &plan.rounds {
        if !round.firing.is_on_off() {
            let does = burner(std::slice::from_ref(round), UnitSystem::Metric);
            let _ = writeln!(words, "  {} ({})", does.trim(), round.binds);
            continue;
        }
        let (count, on_s, off_s) = (round.count, round.on.0, round.off.0);
        let _ = writeln!(words, "  {count} x {on_s:.0} s on, {off_s:.0} s off ({})", round.binds);
    }
    words
}

fn probe_words(set: &ProbeSet) -> String {
    let mut words = format!("{} on {}\n", counted(set.channels().count(), "probe"), counted(set.ports.len(), "port"));
    for port in &set.ports {
        let _ = writeln!(words, "  port {} at {} baud", port.path, port.speed);
        for spec in &port.channels {
            let (letter, limit_c) = (spec.couple.letter(), spec.limit.0);
            let _ = writeln!(words, "    {} type {letter}, bears {limit_c:.0} °C", spec.channel);
        }
    }
    words
}

fn log_words(book: &LogBook) -> String {
    let length = book.steps.last().map_or(0.0, |step| step.input.elapsed.hours());
    let warnings = book.verdicts().filter(|verdict| matches!(verdict, Verdict::Warning { .. })).count();
    let mut words = format!("log of {} steps over {length:.2} h with {warnings} warnings\n", book.steps.len());
    for damage in &book.damage {
        let _ = writeln!(words, "  damage: {damage}");
    }
    words
}

/// "1 port", "2 ports".
fn counted(count: usize, what: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {what}{plural}")
}
