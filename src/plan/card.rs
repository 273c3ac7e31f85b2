//! The card of a plan: one page to print and take to the furnace. What it says is put together once, for plain text of 80
//! columns here and for a page to tape to the wall elsewhere.

mod closing;
pub mod fires;
mod table;
mod unit_words;

use std::fmt::Write as _;

use chrono::NaiveDateTime;

use super::Plan;
use super::check::Findings;
use super::firing::{FULL, Fire, Firing};
use super::pauses::attended;
use crate::lining::{Fuel, Lining, MarkAt};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Kilograms, Seconds};
use closing::closing;
pub use table::{DRAWN, HOT_FACE, Reason, TableRow};
use table::{table, write_table};
pub use unit_words::in_units;

/// Columns of a card.
pub const WIDTH: usize = 80;

/// Lines of a printed page (common practice, no source: six to the inch on A4 or letter).
const PAGE_LINES: usize = 66;
/// A table is not drawn together to fewer lines than this, even if the page overflows.
const FEWEST_LINES: usize = 12;

/// What a card says beside the plan itself.
#[derive(Clone, Copy, Debug)]
pub struct CardOf<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What a simulation of its pulses found.
    pub findings: &'a Findings,
    /// The lining it is for.
    pub lining: &'a Lining,
    /// What stands at the top right, such as a date; may be empty.
    pub label: &'a str,
    /// When the first pulse begins, where that is known: then times are clock times.
    pub start: Option<NaiveDateTime>,
}

/// All that a card says, in the words and units of its reader.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// "First heat of: box forge".
    pub title: String,
    /// What stands at the top right; may be empty.
    pub label: String,
    /// Names and words of what is kept and found.
    pub summary: Vec<(&'static str, String)>,
    /// Rounds, in order.
    pub rows: Vec<TableRow>,
    /// Unit of the hot face.
    pub temp_unit: &'static str,
    /// Why it is not quicker: the letters of the rounds.
    pub reasons: Vec<Reason>,
    /// Headings with their sentences.
    pub closing: Vec<(&'static str, Vec<String>)>,
}

/// What the card of a plan says, with quantities in `units` and at most `lines` lines of rounds.
#[must_use]
pub fn told(of: &CardOf<'_>, units: UnitSystem, lines: usize) -> Told {
    let (rows, reasons) = table(of.plan, Clock::of(of.plan, of.start), units, lines);
    Told {
        title: format!("First heat of: {}", of.plan.lining),
        label: of.label.to_owned(),
        summary: summary_of(of, units),
        rows,
        temp_unit: match units {
            UnitSystem::Metric => "°C",
            UnitSystem::Us => "°F",
        },
        reasons,
        closing: closing(units, of.plan),
    }
}

/// The card as text, with quantities in `units`: a page where the rounds allow it. Neighbouring rounds of a long plan share a
/// line.
#[must_use]
pub fn card(of: &CardOf<'_>, units: UnitSystem) -> String {
    let whole = laid_out(&told(of, units, usize::MAX));
    let over = whole.lines().count().saturating_sub(PAGE_LINES);
    if over == 0 {
        return whole;
    }
    // Three more lines say what a line of several rounds means.
    let lines = of.plan.rounds.len().saturating_sub(over + 3).max(FEWEST_LINES);
    laid_out(&told(of, units, lines))
}

fn laid_out(told: &Told) -> String {
    let mut page = headline(&told.title, &told.label);
    page += "\n";
    page += &named_lines(&told.summary);
    page += "\n";
    write_table(&mut page, told);
    for (heading, sentences) in &told.closing {
        let _ = writeln!(page, "\n{heading}");
        for sentence in sentences {
            put(&mut page, "- ", sentence);
        }
    }
    page
}

/// What is kept and what was found: the head of the card, and all that a check of a plan says.
#[must_use]
pub fn summary(of: &CardOf<'_>, units: UnitSystem) -> String {
    named_lines(&summary_of(of, units))
}

fn named_lines(lines: &[(&str, String)]) -> String {
    let mut text = String::new();
    for (name, words) in lines {
        put(&mut text, &format!("{name:<9}"), words);
    }
    text
}

fn summary_of(of: &CardOf<'_>, units: UnitSystem) -> Vec<(&'static str, String)> {
    let (plan, found, limits) = (of.plan, of.findings, &of.plan.limits);
    let length = plan.length().shown(units);
    let mut lines = vec![("length", format!("{length}, {}", fires::made_of(plan)))];
    lines.extend(of.start.map(|start| ("begin", begin(plan, start))));
    lines.extend(people(of).map(|words| ("people", words)));
    lines.push(("gas", gas(of.lining, found.fuel, units)));
    lines.extend(marks(of, units).map(|words| ("fires", words)));
    let (danger, ceiling) = (found.danger, limits.danger_ceiling);
    let place = in_units(&found.danger_place, units);
    lines.push((
        "danger",
        format!("{danger:.2} of {ceiling:.2} for 95 of 100 possible linings (1 is spalling risk); {place}"),
    ));
    let (ramp, allowed) = (whole(found.ramp.shown(units)), whole(limits.ramp.shown(units)));
    let pulsed = plan.rounds.iter().any(|round| !matches!(round.firing, Firing::Ramp { .. }));
    let mean = if pulsed { ", as the mean over the pulses" } else { "" };
    lines.push(("ramp", format!("{ramp} of {allowed} while wet{mean}")));
    let (hottest, service) = (whole(found.hottest.shown(units)), whole(limits.service.shown(units)));
    let shell = whole(found.shell.shown(units));
    let service = format!("the material's service limit is {service}");
    let top = if pulsed { " at the top of a pulse" } else { "" };
    lines.push(("hottest", format!("hot face {hottest}{top}; {service}; shell {shell}")));
    let (soak, soak_temp) = (limits.soak.shown(units), whole(limits.soak_temp.shown(units)));
    lines.push(("soak", format!("{soak} at {soak_temp}, at the end")));
    lines
}

fn begin(plan: &Plan, start: NaiveDateTime) -> String {
    let day = |at: NaiveDateTime| at.format("%a %-d %B %Y, %H:%M").to_string();
    format!("{}; done {}", day(start), day(moment(start, plan.length())))
}

/// Which hours need a person, where there are pauses; else nothing, since all of them do.
fn people(of: &CardOf<'_>) -> Option<String> {
    let spans = attended(&of.plan.rounds);
    if spans.len() < 2 {
        return None;
    }
    let total = spans.iter().map(|(from, to)| to.0 - from.0).sum::<f64>();
    let clock = Clock::of(of.plan, of.start);
    let each: Vec<String> = spans.iter().map(|(from, to)| clock.span(*from, *to)).collect();
    Some(format!(
        "needed for {:.1} h: {}; between, the gas is shut at the cylinder, the opening covered, and nothing is done",
        total / 3600.0,
        each.join(", ")
    ))
}

/// A moment of the heat-up by the clock on the wall, to the minute.
fn moment(start: NaiveDateTime, elapsed: Seconds) -> NaiveDateTime {
    start + chrono::Duration::minutes((elapsed.0 / 60.0).round() as i64)
}

/// How times are told: by the clock on the wall where the start is known, else since the first flame.
#[derive(Clone, Copy, Debug)]
struct Clock {
    start: Option<NaiveDateTime>,
    /// How a clock time is written: with its weekday where the heat-up goes over midnight.
    form: &'static str,
}

impl Clock {
    fn of(plan: &Plan, start: Option<NaiveDateTime>) -> Self {
        let ends = start.map(|start| moment(start, plan.length()).date());
        let is_one_day = start.map(|start| start.date()) == ends;
        Self { start, form: if is_one_day { "%H:%M" } else { "%a %H:%M" } }
    }

    /// "08:05", "Sat 08:05" or "0:05".
    fn at(&self, elapsed: Seconds) -> String {
        if let Some(start) = self.start {
            return moment(start, elapsed).format(self.form).to_string();
        }
        let minutes = (elapsed.0 / 60.0).round() as u64;
        format!("{}:{:02}", minutes / 60, minutes % 60)
    }

    /// "Sat 08:05 to 09:30".
    fn span(&self, from: Seconds, to: Seconds) -> String {
        let is_same_day = self.start.is_some_and(|start| moment(start, from).date() == moment(start, to).date());
        let ends = if is_same_day { Self { form: "%H:%M", ..*self }.at(to) } else { self.at(to) };
        format!("{} to {ends}", self.at(from))
    }
}

fn gas(lining: &Lining, fuel: Kilograms, units: UnitSystem) -> String {
    let burner = match lining.burner.fuel {
        Fuel::Power(power) => format!("burner of {}", power.shown(units)),
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            format!("jet of {} at {}", diameter.shown(units), gauge_pressure.shown(units))
        }
    };
    format!("about {} of propane, {burner}", fuel.shown(units))
}

/// The marks that the plan names, with what they are: "low is 25 % of the full fire (gauge 0.1 bar)".
fn marks(of: &CardOf<'_>, units: UnitSystem) -> Option<String> {
    let known = of.lining.burner.control.marks();
    let gauge = |fire: &Fire| {
        known.iter().filter(|mark| mark.name == fire.mark).find_map(|mark| match mark.at {
            MarkAt::Pressure(pressure) => Some(format!(" (gauge {})", pressure.shown(units))),
            MarkAt::Share(_) => None,
        })
    };
    let fires = of.plan.fires();
    let words = fires.iter().filter(|fire| fire.mark != FULL).map(|fire| {
        let gauge = gauge(fire).unwrap_or_default();
        format!("{} is {:.0} % of the full fire{gauge}", fire.mark, 100.0 * fire.share)
    });
    let words: Vec<String> = words.collect();
    (!words.is_empty()).then(|| words.join(", "))
}

fn many(count: u32, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

/// A shown quantity with its number rounded to a whole one.
pub(crate) fn whole(shown: String) -> String {
    match shown.split_once(' ').and_then(|(number, unit)| Some((number.parse::<f64>().ok()?, unit))) {
        Some((number, unit)) => format!("{number:.0} {unit}"),
        None => shown,
    }
}

fn headline(left: &str, right: &str) -> String {
    let gap = WIDTH.saturating_sub(left.chars().count() + right.chars().count());
    let mut lines = String::new();
    if gap == 0 {
        put(&mut lines, "", left);
        put(&mut lines, "", right);
    } else {
        let _ = writeln!(lines, "{}", format!("{left}{}{right}", " ".repeat(gap)).trim_end());
    }
    lines
}

/// Appends `words` after `lead`, wrapped to the width of the card, with later lines set in as far as the first.
fn put(text: &mut String, lead: &str, words: &str) {
    let indent = " ".repeat(lead.chars().count());
    let options = textwrap::Options::new(WIDTH).initial_indent(lead).subsequent_indent(&indent);
    for line in textwrap::wrap(&held_together(words), options) {
        text.push_str(&line.replace(NO_BREAK, " "));
        text.push('\n');
    }
}

/// A blank at which no line is broken.
const NO_BREAK: char = '\u{a0}';

/// `words` with each number kept on the line of its unit.
fn held_together(words: &str) -> String {
    let mut held = String::with_capacity(words.len());
    let mut before = ' ';
    for (at, c) in words.char_indices() {
        let next = words[at + c.len_utf8()..].chars().next().unwrap_or(' ');
        held.push(if c == ' ' && before.is_ascii_digit() && !next.is_ascii_digit() { NO_BREAK } else { c });
        before = c;
    }
    held
}
