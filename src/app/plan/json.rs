//! A plan with what was found, as `--json` gives it.

use std::io;

use chrono::NaiveDateTime;
use serde::Serialize;

use super::advice::Advice;
use crate::app::AppError;
use crate::physics::danger::CAUTION;
use crate::plan::Plan;
use crate::plan::pauses::attended;
use crate::plan::search::Found;
use crate::plan::why::{Stretch, stretches};

#[derive(Serialize)]
struct PlanJson<'a> {
    #[serde(flatten)]
    plan: &'a Plan,
    length_s: f64,
    /// Least time of an ideal stepless burner, and how many times as long this plan is.
    #[serde(skip_serializing_if = "Option::is_none")]
    bound_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    start: Option<String>,
    /// Hours that need a person, s since the first flame.
    attended_s: Vec<[f64; 2]>,
    findings: FindingsJson<'a>,
    others: OthersJson,
    why: Vec<Stretch>,
    #[serde(flatten)]
    advice: &'a Advice,
    caution: &'static str,
}

/// What linings drawn anew found.
#[derive(Serialize)]
struct OthersJson {
    members: usize,
    danger: f64,
    danger_most: f64,
    ramp_k_per_h: f64,
}

/// What the simulation of the pulses found.
#[derive(Serialize)]
struct FindingsJson<'a> {
    danger: f64,
    danger_most: f64,
    danger_place: &'a str,
    danger_steam: f64,
    danger_thermal: f64,
    ramp_k_per_h: f64,
    hottest_c: f64,
    shell_c: f64,
    fuel_kg: f64,
}

/// The plan as JSON.
pub(super) fn of(found: &Found, start: Option<NaiveDateTime>, advice: &Advice) -> Result<String, AppError> {
    let of = &found.findings;
    let findings = FindingsJson {
        danger: of.danger,
        danger_most: of.danger_most,
        danger_place: &of.danger_place,
        danger_steam: of.danger_parts[0],
        danger_thermal: of.danger_parts[1],
        ramp_k_per_h: of.ramp.0,
        hottest_c: of.hottest.0,
        shell_c: of.shell.0,
        fuel_kg: of.fuel.0,
    };
    let of = &found.others.findings;
    let others = OthersJson {
        members: found.others.members,
        danger: of.danger,
        danger_most: of.danger_most,
        ramp_k_per_h: of.ramp.0,
    };
    let plan = &found.plan;
    written(&PlanJson {
        plan,
        length_s: plan.length().0,
        bound_s: found.bound.map(|bound| bound.0),
        ratio: found.ratio(),
        start: start.map(|start| start.format("%Y-%m-%dT%H:%M").to_string()),
        attended_s: attended(&plan.rounds).iter().map(|(from, to)| [from.0, to.0]).collect(),
        findings,
        others,
        why: stretches(plan),
        advice,
        caution: CAUTION,
    })
}

/// Anything of ours as lines of JSON.
pub(super) fn written(value: &impl Serialize) -> Result<String, AppError> {
    let refused = |error| AppError::System { doing: "to write the plan as JSON", source: io::Error::other(error) };
    Ok(serde_json::to_string_pretty(value).map_err(refused)? + "\n")
}
