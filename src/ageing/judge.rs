//! What a series of heat-ups says of the lining, with its reasons.
//!
//! A lining is to be inspected when three like heat-ups in a row say that it lets through a fifth more heat than at its
//! baseline, the first heat-up that can be compared. That three in a row are asked for, and a fifth, is our own
//! proposal: there is no published figure.

use serde::Serialize;

use super::{Compared, Fitted};
use crate::units::quantity::{Shown as _, UnitSystem};
use crate::units::{Celsius, Pascals};

/// So much more conductivity than at the baseline calls for an inspection.
const INSPECT_AT: f64 = 1.2;

/// Below this it counts as new.
const AS_NEW_BELOW: f64 = 1.1;

/// Below this the readings are doubted rather than the lining praised.
const AS_NEW_ABOVE: f64 = 0.85;

/// So many like heat-ups in a row have to say it.
const IN_A_ROW: usize = 3;

/// A burner that gives less than this part of the heat at the baseline is not what it was.
const WEAK_BURNER: f64 = 0.85;

/// Temperatures that differ by no more than this count as alike, K.
const SAME_TEMP_K: f64 = 3.0;

/// A fit that is less sure than this says nothing, relative.
const LEAST_SURE: f64 = 0.15;

/// What is judged of the lining.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It lets through clearly more heat than it did.
    Inspect,
    /// It insulates as it did.
    AsNew,
    /// Too little is known, or it lies between.
    CannotTell,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Inspect => "inspect",
            Self::AsNew => "as new",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// What a series of heat-ups says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// The verdict on the lining.
    pub verdict: Verdict,
    /// Why.
    pub reasons: Vec<String>,
    /// What differed between the heat-ups besides the lining, and what was done about that.
    pub confounders: Vec<String>,
    /// Log of the heat-up that the others are compared with.
    pub baseline: Option<String>,
    /// Conductivity against the baseline, one for each heat-up; `None` where it cannot be compared.
    pub conductivity: Vec<Option<Fitted>>,
    /// Heat of the burner against the baseline.
    pub burner: Vec<Option<Fitted>>,
    /// The heat-ups, in the order they were given.
    pub heat_ups: Vec<Compared>,
}

/// Judges a series of heat-ups, the oldest first.
#[must_use]
pub fn judge(heat_ups: &[Compared], units: UnitSystem) -> Trend {
    let is_like = |one: &Compared| one.unlike.is_empty() && one.conductivity.is_some_and(is_sure);
    let baseline = heat_ups.iter().find(|one| is_like(one));
    let comparable = |one: &Compared| is_like(one) && baseline.is_some_and(|first| same_load(first, one));
    let against = |of: fn(&Compared) -> Option<Fitted>| -> Vec<Option<Fitted>> {
        let first = baseline.and_then(of);
        heat_ups.iter().map(|one| ratio(of(one).filter(|_| comparable(one))?, first?)).collect()
    };
    let conductivity = against(|one| one.conductivity);
    let burner = against(|one| one.burner);
    let (verdict, mut reasons) = verdict(&conductivity);
    reasons.extend(burner_reason(&burner, heat_ups));
    let strange = heat_ups.iter().filter(|one| !one.unlike.is_empty());
    reasons.extend(strange.map(|one| {
        let why: Vec<String> = one.unlike.iter().map(|unlike| unlike.words(units)).collect();
        format!("{} is left out: {}", one.log, why.join("; "))
    }));
    Trend {
        verdict,
        reasons,
        confounders: baseline.map_or_else(Vec::new, |first| confounders(first, heat_ups, units)),
        baseline: baseline.map(|first| first.log.clone()),
        conductivity,
        burner,
        heat_ups: heat_ups.to_vec(),
    }
}

fn is_sure(fitted: Fitted) -> bool {
    fitted.error <= LEAST_SURE
}

fn same_load(one: &Compared, other: &Compared) -> bool {
    match (&one.notes.load, &other.notes.load) {
        (Some(one), Some(other)) => one == other,
        _ => true,
    }
}

fn ratio(now: Fitted, first: Fitted) -> Option<Fitted> {
    let factor = now.factor / first.factor;
    factor.is_finite().then(|| Fitted { factor, error: now.error.hypot(first.error) })
}

/// Mean of the last heat-ups that count, when there are as many as have to agree.
fn last_in_a_row(ratios: &[Option<Fitted>]) -> Option<(f64, Vec<Fitted>)> {
    let known: Vec<Fitted> = ratios.iter().copied().flatten().collect();
    // The baseline itself is no evidence against itself.
    let last = known.get(1..)?;
    let last = last.get(last.len().checked_sub(IN_A_ROW)?..)?.to_vec();
    Some((last.iter().map(|one| one.factor).sum::<f64>() / last.len() as f64, last))
}

fn verdict(ratios: &[Option<Fitted>]) -> (Verdict, Vec<String>) {
    let known = ratios.iter().flatten().count();
    if known == 0 {
        let reason = "no heat-up can be compared yet: the lining has to be dry, its hot face and the outside behind it have to be read, and the outside has to get warm";
        return (Verdict::CannotTell, vec![reason.to_owned()]);
    }
    let Some((mean, last)) = last_in_a_row(ratios) else {
        let what = match known {
            1 => "one heat-up is the baseline; later ones are compared with it".to_owned(),
            _ => format!("{} like heat-ups after the baseline, expected {IN_A_ROW} in a row", known - 1),
        };
        return (Verdict::CannotTell, vec![what]);
    };
    let percent = 100.0 * (mean - 1.0);
    let error = 100.0 * last.iter().map(|one| one.error).sum::<f64>() / last.len() as f64;
    let said = format!(
        "the last {IN_A_ROW} like heat-ups put the conductivity of the lining {percent:+.0} % (±{error:.0} % each) from the baseline"
    );
    let all_high = last.iter().all(|one| one.factor >= INSPECT_AT * (1.0 - one.error));
    if mean >= INSPECT_AT && all_high {
        let next = "look for worn, wet or fluxed places and hot spots, and measure what is left of the thickness";
        (Verdict::Inspect, vec![said, next.to_owned()])
    } else if mean < AS_NEW_ABOVE {
        let why =
            "no lining gets better by so much: look for a shell probe that has lost its contact and for an old couple";
        (Verdict::CannotTell, vec![said, why.to_owned()])
    } else if mean < AS_NEW_BELOW {
        (Verdict::AsNew, vec![said])
    } else {
        let why = format!(
            "that is between {:.0} and {:.0} %: not enough to call it worn",
            (AS_NEW_BELOW - 1.0) * 100.0,
            (INSPECT_AT - 1.0) * 100.0
        );
        (Verdict::CannotTell, vec![said, why])
    }
}

fn burner_reason(ratios: &[Option<Fitted>], heat_ups: &[Compared]) -> Option<String> {
    let (mean, _) = last_in_a_row(ratios)?;
    if mean > WEAK_BURNER {
        return None;
    }
    let percent = 100.0 * mean;
    let pressure_known = heat_ups.last()?.notes.gas_pressure.is_some();
    Some(if pressure_known {
        format!(
            "the burner gives only {percent:.0} % of the heat it gave at the noted gas pressure: clean the jet, carbon in it is the usual cause; the lining is not to blame for the longer heat-up"
        )
    } else {
        format!(
            "the burner gives only {percent:.0} % of the heat it gave: a fouled jet, or less gas pressure than then (note it with `follow --note gas-pressure=...`)"
        )
    })
}

/// What differs from the baseline besides the lining.
fn confounders(first: &Compared, heat_ups: &[Compared], units: UnitSystem) -> Vec<String> {
    let mut all = Vec::new();
    let pressures: Vec<f64> = heat_ups.iter().filter_map(|one| Some(one.notes.gas_pressure?.0)).collect();
    let ambients: Vec<f64> = heat_ups.iter().filter_map(|one| Some(one.notes.ambient?.0)).collect();
    let span = |values: &[f64]| {
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
        (low, high)
    };
    let count = heat_ups.len();
    match span(&pressures) {
        _ if pressures.len() < count => all.push(format!(
            "gas pressure is noted for {} of {count}: time and gas may differ for that alone",
            pressures.len()
        )),
        (low, high) if high > 1.05 * low => {
            all.push(format!(
                "gas pressure from {} to {}: counted in, but time and gas are not alike",
                Pascals(low).shown(units),
                Pascals(high).shown(units)
            ));
        }
        _ => {}
    }
    match span(&ambients) {
        _ if ambients.len() < count => all.push(format!(
            "air temperature is noted for {} of {count}: taken from the lining file for the others",
            ambients.len()
        )),
        (low, high) if high > low + SAME_TEMP_K => {
            all.push(format!("air from {} to {}: counted in", Celsius(low).shown(units), Celsius(high).shown(units)));
        }
        _ => {}
    }
    let starts: Vec<f64> = heat_ups.iter().filter_map(|one| one.start_c.map(f64::round)).collect();
    match span(&starts) {
        (low, high) if high > low + SAME_TEMP_K => all.push(format!(
            "the hot face began between {} and {}: what began clearly warmer than the air is left out",
            Celsius(low).shown(units),
            Celsius(high).shown(units)
        )),
        _ => {}
    }
    let other_load = heat_ups.iter().filter(|one| !same_load(first, one)).count();
    if other_load > 0 {
        all.push(format!("{other_load} with another load than the baseline: left out"));
    }
    let jets: Vec<&str> = heat_ups.iter().filter_map(|one| one.notes.jet.as_deref()).collect();
    if jets.iter().any(|jet| Some(*jet) != first.notes.jet.as_deref()) {
        all.push(format!("the jet: last noted as `{}`", jets.last().copied().unwrap_or("")));
    }
    let ages: Vec<&str> = heat_ups.iter().filter_map(|one| one.notes.probe_age.as_deref()).collect();
    match ages.last() {
        Some(age) => all.push(format!("probes in use for {age}: an old couple reads low, which looks like a better lining outside and a weaker burner inside")),
        None => all.push("the age of the probes is not noted: an old couple reads low".to_owned()),
    }
    all
}
