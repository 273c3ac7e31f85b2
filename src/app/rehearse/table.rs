//! What a rehearsal came to.

use std::fmt::Write as _;

use super::heat_up::Outcome;
use super::operator::Manner;

/// Least median lead, s.
const LEAD_S: f64 = 60.0;

/// Most alarms an hour in obedient heat-ups.
const ALARMS_PER_HOUR: f64 = 1.0;

/// Least share of the time that the true pressure is in its range.
const INSIDE: f64 = 0.85;

/// Figures over all heat-ups.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    heat_ups: usize,
    with_errors: usize,
    done: usize,
    wet: usize,
    passed: usize,
    unwarned: usize,
    median_lead_s: Option<f64>,
    alarms_per_hour: f64,
    most_in_ten_minutes: usize,
    inside: f64,
    inside_high: Option<f64>,
    replans: u32,
}

impl Table {
    /// The table of these heat-ups.
    #[must_use]
    pub fn of(each: &[Outcome]) -> Self {
        let leads = || each.iter().flat_map(|one| &one.leads_s);
        let mut known_s: Vec<f64> = leads().flatten().copied().collect();
        known_s.sort_by(f64::total_cmp);
        let obedient = || each.iter().filter(|one| one.manner == Manner::Obedient);
        let hours: f64 = obedient().map(|one| one.length.hours()).sum();
        let alarms: usize = obedient().map(|one| one.warnings_s.len()).sum();
        let share = |counts: fn(&Outcome) -> (u32, u32)| {
            let (all, inside) =
                each.iter().map(counts).fold((0, 0), |(all, inside), next| (all + next.0, inside + next.1));
            (all > 0).then(|| f64::from(inside) / f64::from(all))
        };
        Self {
            heat_ups: each.len(),
            with_errors: each.iter().filter(|one| one.manner != Manner::Obedient).count(),
            done: each.iter().filter(|one| one.is_done).count(),
            wet: each.iter().filter(|one| one.is_done && one.wet_share > 0.05).count(),
            passed: leads().count(),
            unwarned: leads().filter(|lead_s| lead_s.is_none()).count(),
            median_lead_s: middle(&known_s),
            alarms_per_hour: if hours > 0.0 { alarms as f64 / hours } else { 0.0 },
            most_in_ten_minutes: each.iter().map(most_in_ten_minutes).max().unwrap_or(0),
            inside: share(|one| one.compared).unwrap_or(1.0),
            inside_high: share(|one| one.compared_high),
            replans: each.iter().map(|one| one.replans).sum(),
        }
    }

    /// Bars that are missed, in words.
    #[must_use]
    pub fn misses(&self) -> Vec<String> {
        let mut misses = Vec::new();
        if self.unwarned > 0 {
            misses.push(format!("danger 1 was passed {} times without a warning before it", self.unwarned));
        }
        if self.median_lead_s.is_some_and(|lead_s| lead_s < LEAD_S) {
            misses.push(format!("the median lead is below {LEAD_S:.0} s"));
        }
        if self.alarms_per_hour >= ALARMS_PER_HOUR {
            misses.push("obedient operators hear more than one alarm an hour".to_owned());
        }
        if self.most_in_ten_minutes > 10 {
            misses.push("an upset gives more than ten alarms in ten minutes".to_owned());
        }
        if self.inside < INSIDE {
            misses.push(format!("the true pressure is in its range for less than {:.0} % of the time", 100.0 * INSIDE));
        }
        misses
    }

    /// The table for a person.
    #[must_use]
    pub fn text(&self) -> String {
        let lead = self.median_lead_s.map_or_else(|| "-".to_owned(), |lead_s| format!("{lead_s:.0} s"));
        let high = self.inside_high.map_or_else(|| "-".to_owned(), |share| format!("{:.1} %", 100.0 * share));
        let rows = [
            ("heat-ups", self.heat_ups.to_string(), String::new()),
            ("  of them with an operator's error", self.with_errors.to_string(), String::new()),
            ("  done and dry by the program", self.done.to_string(), String::new()),
            ("  of these, more than 5 % of the water still free", self.wet.to_string(), String::new()),
            ("danger 1 truly passed", format!("{} times", self.passed), String::new()),
            ("  without a warning before it", self.unwarned.to_string(), "bar: 0".to_owned()),
            ("  median lead of the first warning", lead, format!("bar: {LEAD_S:.0} s or more")),
            (
                "alarms an hour, obedient operators",
                format!("{:.2}", self.alarms_per_hour),
                format!("bar: under {ALARMS_PER_HOUR:.0}"),
            ),
            ("most alarms in ten minutes", self.most_in_ten_minutes.to_string(), "bar: 10 at most".to_owned()),
            (
                "true pressure in its 90 % range",
                format!("{:.1} %", 100.0 * self.inside),
                format!("bar: {:.0} % or more", 100.0 * INSIDE),
            ),
            ("  while 0.02 MPa or more over the air", high, String::new()),
            ("plans that took over", self.replans.to_string(), String::new()),
        ];
        table(&rows, &self.misses())
    }
}

/// What became of heat-ups whose operator left with the burner lit.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftTable {
    heat_ups: usize,
    passed: usize,
    unwarned: usize,
    leads_s: Vec<f64>,
    calls_s: Vec<f64>,
}

impl LeftTable {
    /// The table of these heat-ups.
    #[must_use]
    pub fn of(each: &[Outcome]) -> Self {
        let sorted = |of: fn(&Outcome) -> &Vec<Option<f64>>| {
            let mut known_s: Vec<f64> = each.iter().flat_map(of).copied().flatten().collect();
            known_s.sort_by(f64::total_cmp);
            known_s
        };
        let passed: usize = each.iter().map(|one| one.leads_s.len()).sum();
        let leads_s = sorted(|one| &one.leads_s);
        Self {
            heat_ups: each.len(),
            passed,
            unwarned: passed - leads_s.len(),
            leads_s,
            calls_s: sorted(|one| &one.calls_s),
        }
    }

    /// Bars that are missed, in words.
    #[must_use]
    pub fn misses(&self) -> Vec<String> {
        let mut misses = Vec::new();
        if self.unwarned > 0 {
            misses.push(format!("danger 1 was passed {} times without a warning before it", self.unwarned));
        }
        if middle(&self.leads_s).is_some_and(|lead_s| lead_s < LEAD_S) {
            misses.push(format!("the median lead is below {LEAD_S:.0} s"));
        }
        misses
    }

    /// The table for a person.
    #[must_use]
    pub fn text(&self) -> String {
        let seconds = |lead_s: Option<f64>| lead_s.map_or_else(|| "-".to_owned(), |lead_s| format!("{lead_s:.0} s"));
        let called = format!("{} times", self.calls_s.len());
        table(
            &[
                ("heat-ups left with the burner lit", self.heat_ups.to_string(), String::new()),
                ("danger 1 truly passed", format!("{} times", self.passed), String::new()),
                ("  without a warning before it", self.unwarned.to_string(), "bar: 0".to_owned()),
                (
                    "  median lead of the first warning",
                    seconds(middle(&self.leads_s)),
                    format!("bar: {LEAD_S:.0} s or more"),
                ),
                ("  shortest", seconds(self.leads_s.first().copied()), String::new()),
                ("  after a call to shut the gas and step away", called, String::new()),
                ("  median lead of that call", seconds(middle(&self.calls_s)), String::new()),
            ],
            &self.misses(),
        )
    }
}

/// The middle of numbers in order.
fn middle(sorted: &[f64]) -> Option<f64> {
    sorted.get(sorted.len() / 2).copied()
}

/// Rows of what was looked for, what was found and its bar, then what was missed.
fn table(rows: &[(&str, String, String)], misses: &[String]) -> String {
    let mut text = String::new();
    for (what, found, bar) in rows {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{}", format!("{what:<52}{found:>10}   {bar}").trim_end());
    }
    for miss in misses {
        let _ = writeln!(text, "missed: {miss}");
    }
    text
}

fn most_in_ten_minutes(one: &Outcome) -> usize {
    let within =
        |from_s: f64| one.warnings_s.iter().filter(|(at_s, _)| (from_s..from_s + 600.0).contains(at_s)).count();
    one.warnings_s.iter().map(|(at_s, _)| within(*at_s)).max().unwrap_or(0)
}

/// One line for each heat-up.
pub(super) fn lines(each: &[Outcome]) -> String {
    let mut text = String::from(
        "number,manner,permeability,water,conductivity,power,hours,done,danger,wet,leads,warnings,inside,inside_high,replans\n",
    );
    for one in each {
        let lead = |lead_s: &Option<f64>| lead_s.map_or_else(|| "none".to_owned(), |lead_s| format!("{lead_s:.0}"));
        let leads: Vec<String> = one.leads_s.iter().map(lead).collect();
        let warnings: Vec<String> = one.warnings_s.iter().map(|(at_s, cause)| format!("{cause:?}@{at_s:.0}")).collect();
        let share = |(all, inside): (u32, u32)| format!("{inside}/{all}");
        let truth = &one.truth;
        let _ = writeln!(
            text,
            "{},{:?},{:.2},{:.2},{:.2},{:.2},{:.2},{},{:.2},{:.2},{},{},{},{},{}",
            one.number,
            one.manner,
            truth.permeability,
            truth.water,
            truth.conductivity,
            truth.power,
            one.length.hours(),
            one.is_done,
            one.danger,
            one.wet_share,
            leads.join(" "),
            warnings.join(" "),
            share(one.compared),
            share(one.compared_high),
            one.replans
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::truth::Truth;
    use super::*;
    use crate::run::WarningCause;
    use crate::units::Seconds;

    fn outcome(manner: Manner, leads_s: &[Option<f64>], warnings: usize) -> Outcome {
        Outcome {
            number: 0,
            truth: Truth::draw(1, 1),
            manner,
            length: Seconds(3600.0),
            is_done: true,
            danger: 1.2,
            wet_share: 0.0,
            leads_s: leads_s.to_vec(),
            calls_s: Vec::new(),
            warnings_s: (0..warnings).map(|at| (at as f64, WarningCause::Ramp)).collect(),
            compared: (100, 90),
            compared_high: (10, 9),
            replans: 1,
        }
    }

    #[test]
    fn a_heat_up_that_passes_danger_one_unwarned_misses_the_bar() {
        let table = Table::of(&[outcome(Manner::MissedCue, &[None, Some(80.0)], 1)]);
        assert_eq!(table.misses(), ["danger 1 was passed 1 times without a warning before it"]);
    }

    #[test]
    fn leads_of_heat_ups_left_alone_have_their_own_bars() {
        let late = LeftTable::of(&[outcome(Manner::Heedless, &[Some(50.0)], 1)]);
        let good =
            LeftTable::of(&[outcome(Manner::Heedless, &[Some(50.0)], 1), outcome(Manner::Heedless, &[Some(90.0)], 1)]);
        assert_eq!((late.misses().len(), good.misses().len()), (1, 0));
    }

    #[test]
    fn only_obedient_operators_count_for_alarms_an_hour() {
        let quiet = Table::of(&[outcome(Manner::LongPulse, &[], 9), outcome(Manner::Obedient, &[], 0)]);
        let loud = Table::of(&[outcome(Manner::Obedient, &[], 2)]);
        assert_eq!((quiet.misses().len(), loud.misses().len()), (0, 1));
    }

    #[test]
    fn a_flood_of_alarms_misses_the_bar() {
        assert_eq!(Table::of(&[outcome(Manner::LongPulse, &[], 11)]).misses().len(), 1);
    }
}
