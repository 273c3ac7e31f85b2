//! Whether the lining is dry, how that is known, and what to do next.

use serde::Serialize;

use super::account::{Account, Told};
use super::channels::{Heard, place_in_words, window_at};
use super::engine::Engine;
use super::figures::Figures;
use super::sections::SectionAccount;
use super::{clock, span};
use crate::run::{self, Ending};

/// The engine's word counts when a hot face or the gas was believed for this part of the time.
const ENOUGH_SEEN: f64 = 0.9;

/// The soak counts within so much of its temperature, K; as in following.
const SOAK_WITHIN_K: f64 = 15.0;

/// Water turns to steam on its way out below this; a couple past it has no free water left beside it, °C (dense castable
/// shows its plateau at 115 to 125 °C; common practice, no source).
const PAST_THE_PLATEAU_C: f64 = 150.0;

/// Steepest that a lining should cool, K/h. Source: makers' general sheets.
const COOLING_K_H: f64 = 56.0;

/// What is judged of the lining.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Everything that was looked at says dry.
    Dry,
    /// Something says that it is not.
    NotDry,
    /// Too little was seen to say.
    CannotTell,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Dry => "dry",
            Self::NotDry => "not dry yet",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// One thing that speaks for or against it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Evidence {
    /// What it speaks for; `None` when it decides nothing by itself.
    pub says: Option<Verdict>,
    /// What was seen.
    pub what: String,
}

/// The verdict with its evidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dryness {
    /// The verdict.
    pub verdict: Verdict,
    /// What it rests on, the strongest first.
    pub evidence: Vec<Evidence>,
}

/// Judges the lining. The engine has to say dry of every section, and nothing may speak against it.
pub(super) fn judge(told: &Told<'_>, heard: &Heard, sections: &[SectionAccount], engine: &Engine) -> Dryness {
    let length_s = told.moments.last().map_or(0.0, |moment| moment.input.elapsed.0);
    let mut evidence: Vec<Evidence> =
        sections.iter().map(|section| of_engine(section, engine, length_s, Figures(told.units))).collect();
    evidence.push(of_soak(told, heard, length_s));
    evidence.extend(of_following(told));
    evidence.extend(of_deepest(told, heard));
    evidence.push(of_what_was_seen(heard, length_s));
    let against = evidence.iter().any(|one| one.says == Some(Verdict::NotDry));
    let unsure = evidence.iter().any(|one| one.says == Some(Verdict::CannotTell));
    let verdict = match (unsure, against) {
        (_, true) => Verdict::NotDry,
        (true, false) => Verdict::CannotTell,
        (false, false) => Verdict::Dry,
    };
    Dryness { verdict, evidence }
}

fn of_engine(section: &SectionAccount, engine: &Engine, length_s: f64, figures: Figures) -> Evidence {
    let name = &section.section;
    let left = section.water_left_at_end_kg().map_or_else(String::new, |left_kg| {
        let share = 100.0 * left_kg / section.water_start_kg.max(1e-9);
        format!(
            "; at the end at most {} of {} {} of water were left ({share:.0} %), what fibre holds included",
            figures.small_mass(left_kg),
            figures.small_mass(section.water_start_kg),
            figures.small_mass_unit()
        )
    });
    if engine.solved_to_s < length_s - 1.0 {
        let what = format!("{name}: the engine could only be driven up to {}{left}", clock(engine.solved_to_s));
        return Evidence { says: Some(Verdict::CannotTell), what };
    }
    match section.dry_from_s {
        Some(dry_s) => Evidence {
            says: Some(Verdict::Dry),
            what: format!("{name}: dry from {} on in every lining the readings were run through{left}", clock(dry_s)),
        },
        None => Evidence {
            says: Some(Verdict::NotDry),
            what: format!("{name}: still wet at the end in some of the linings the readings were run through{left}"),
        },
    }
}

fn of_soak(told: &Told<'_>, heard: &Heard, length_s: f64) -> Evidence {
    let limits = &told.setup.plan.limits;
    let window_s = window_at(&told.setup.plan, told.setup.plan.length().0);
    let step_s = heard.bucket_s().max(10.0);
    let count = (length_s / step_s) as u32;
    let is_soaking = |step: &u32| {
        let mean_c = heard.hottest_face_c(f64::from(*step) * step_s, window_s);
        mean_c.is_some_and(|mean_c| mean_c >= limits.soak_temp.0 - SOAK_WITHIN_K)
    };
    let soaked_s = (1..=count).filter(is_soaking).count() as f64 * step_s;
    let asked = format!("{} at {}", span(limits.soak.0), Figures(told.units).temp_words(limits.soak_temp.0));
    if heard.hottest_face_c(length_s, length_s).is_none() {
        return Evidence {
            says: Some(Verdict::CannotTell),
            what: format!("no hot face was read; {asked} were asked for"),
        };
    }
    if says_soaked(told) {
        let what = format!("following, which saw every reading, counted the soak as done; {asked} were asked for");
        return Evidence { says: Some(Verdict::Dry), what };
    }
    let what = format!(
        "the hottest hot face soaked for {} on the mean over the pulses; {asked} were asked for",
        span(soaked_s)
    );
    let is_enough = soaked_s + 2.0 * step_s >= limits.soak.0;
    Evidence { says: Some(if is_enough { Verdict::Dry } else { Verdict::NotDry }), what }
}

/// Whether following, which saw every reading, ended because the soak was done.
pub(super) fn says_soaked(told: &Told<'_>) -> bool {
    endings(told).any(|(_, ending)| ending == Some(Ending::DryAndSoaked))
}

/// Every end that was recorded, in words and as far as it is known how.
fn endings<'a>(told: &'a Told<'_>) -> impl DoubleEndedIterator<Item = (&'a str, Option<Ending>)> {
    let verdicts = told.moments.iter().flat_map(|moment| moment.verdicts);
    verdicts.filter_map(|verdict| match verdict {
        run::Verdict::End { reason, ending, .. } => Some((reason.as_str(), *ending)),
        _ => None,
    })
}

fn of_following(told: &Told<'_>) -> Option<Evidence> {
    let (reason, ending) = endings(told).next_back()?;
    let says = match ending? {
        Ending::DryAndSoaked => Verdict::Dry,
        Ending::Wet | Ending::NotSoaked => Verdict::NotDry,
        Ending::Stopped => return None,
    };
    Some(Evidence { says: Some(says), what: format!("following ended with: {reason}") })
}

fn of_deepest(told: &Told<'_>, heard: &Heard) -> Option<Evidence> {
    let (index, curve) = heard.deepest()?;
    let probe = told.setup.probes.get(index)?;
    let figures = Figures(told.units);
    let place = place_in_words(&probe.place, told.units);
    let highest_c = curve.iter().map(|point| point.mean_c).reduce(f64::max)?;
    let past = curve.iter().find(|point| point.mean_c > PAST_THE_PLATEAU_C);
    Some(match past {
        Some(point) => Evidence {
            says: Some(Verdict::Dry),
            what: format!(
                "the deepest probe ({}, {place}) went past {} at {}: no free water is left beside it",
                probe.channel,
                figures.temp_words(PAST_THE_PLATEAU_C),
                clock(point.elapsed_s)
            ),
        },
        None => Evidence {
            says: None,
            what: format!(
                "the deepest probe ({}, {place}) reached {} and shows no plateau's end",
                probe.channel,
                figures.temp_words(highest_c)
            ),
        },
    })
}

fn of_what_was_seen(heard: &Heard, length_s: f64) -> Evidence {
    let share = heard.fire_seen_share(length_s);
    let what = format!("a hot face or the gas could be believed for {:.0} % of the time", 100.0 * share);
    Evidence { says: Some(if share >= ENOUGH_SEEN { Verdict::Dry } else { Verdict::CannotTell }), what }
}

/// What to do next, in order.
pub(super) fn next_steps(account: &Account) -> Vec<String> {
    let figures = account.figures();
    let cooling = format!("{:.0} {}", figures.ramp(COOLING_K_H), figures.ramp_unit());
    let mut steps: Vec<String> = vec![format!(
        "Gas shut at the cylinder. Let the lining cool shut, no faster than {cooling} while hot; never with water or a fan."
    )];
    if account.was_danger_reached() {
        steps.push("The danger number reached 1: once cold, tap the whole lining and look for spalls, hollow spots and cracks wider than a hair before any further heat.".into());
    }
    match account.dryness.verdict {
        Verdict::Dry => steps.push("Cold glass held at the opening while still warm should no longer fog: a last check that costs nothing.".into()),
        Verdict::NotDry => steps.push("Repeat the end of the plan, from the round whose temperature the lining has, until it is dry; do not go to working heat.".into()),
        Verdict::CannotTell => steps.push("Treat the lining as wet: hold cold glass at the warm opening, mend what could not be seen, and repeat the last rounds of the plan.".into()),
    }
    for channel in account.channels.iter().filter(|channel| channel.health() != "no fault seen") {
        steps.push(format!(
            "Probe {}: {}. See to it, and check it in ice and in boiling water (firstheat probes bath).",
            channel.channel,
            channel.health()
        ));
    }
    if !account.troubles.is_empty() {
        steps.push("The log is not whole: keep the file as it is beside this report.".into());
    }
    if account.dryness.verdict == Verdict::Dry {
        steps.push(
            "Cold, inspect: hairline cracks are meant to be there; mark and photograph any that takes a fingernail."
                .into(),
        );
        steps.push("Then the first full heat in steps, cool, inspect again; the heat after it is the baseline: log it, and compare later ones with firstheat trend.".into());
    }
    steps
}
