//! What happened inside each section: danger, pressure and water, with their ranges.

use serde::Serialize;

use super::BUCKETS;
use super::account::Told;
use super::engine::Engine;
use crate::run::{Range, Verdict};

/// A range at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RangePoint {
    /// Since the heat-up began, s.
    pub elapsed_s: f64,
    /// 5th percentile.
    pub low: f64,
    /// Median.
    pub mid: f64,
    /// 95th percentile.
    pub high: f64,
}

/// One section over the whole heat-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionAccount {
    /// The builder's name for it.
    pub section: String,
    /// Danger number as it was recorded.
    pub danger: Vec<RangePoint>,
    /// Highest steam pressure anywhere in its pores, MPa, by the engine from the readings.
    pub pressure_mpa: Vec<RangePoint>,
    /// Water left as it was recorded, kg.
    pub water_left_kg: Vec<RangePoint>,
    /// Water before the first flame, kg.
    pub water_start_kg: f64,
    /// When all possible linings were dry, s; `None` when one was wet to the end.
    pub dry_from_s: Option<f64>,
}

impl SectionAccount {
    /// Highest pessimistic danger number.
    #[must_use]
    pub fn danger_peak(&self) -> Option<f64> {
        self.danger.iter().map(|point| point.high).reduce(f64::max)
    }

    /// The moment of highest pressure.
    #[must_use]
    pub fn pressure_peak(&self) -> Option<RangePoint> {
        self.pressure_mpa.iter().copied().max_by(|a, b| a.high.total_cmp(&b.high))
    }

    /// Pessimistic water left at the end, kg; `None` when none was recorded.
    #[must_use]
    pub fn water_left_at_end_kg(&self) -> Option<f64> {
        self.water_left_kg.last().map(|point| point.high)
    }
}

/// What happened inside each section.
pub(super) fn account(told: &Told<'_>, engine: &Engine, length_s: f64) -> Vec<SectionAccount> {
    let names = told.setup.lining.sections.iter().map(|section| section.name.clone());
    let mut sections: Vec<SectionAccount> = names.map(empty).collect();
    for moment in &told.moments {
        for verdict in moment.verdicts {
            if let Verdict::Estimate { elapsed_s, sections: estimates } = verdict {
                for estimate in estimates {
                    if let Some(section) = sections.iter_mut().find(|known| known.section == estimate.section) {
                        section.danger.push(point(*elapsed_s, estimate.danger));
                        section.water_left_kg.push(point(*elapsed_s, estimate.water_left_kg));
                    }
                }
            }
        }
    }
    for (index, section) in sections.iter_mut().enumerate() {
        let pressure = engine.pressure.get(index).map_or(&[][..], Vec::as_slice);
        section.pressure_mpa = thinned(pressure.iter().map(|(at_s, range)| point(*at_s, *range)).collect(), length_s);
        section.danger = thinned(std::mem::take(&mut section.danger), length_s);
        section.water_left_kg = thinned(std::mem::take(&mut section.water_left_kg), length_s);
        section.water_start_kg = engine.water_start_kg.get(index).copied().unwrap_or(0.0);
        section.dry_from_s = engine.wet_until_s(index);
    }
    sections
}

fn empty(section: String) -> SectionAccount {
    SectionAccount {
        section,
        danger: Vec::new(),
        pressure_mpa: Vec::new(),
        water_left_kg: Vec::new(),
        water_start_kg: 0.0,
        dry_from_s: None,
    }
}

fn point(elapsed_s: f64, range: Range) -> RangePoint {
    let round = |value: f64| (value * 1e4).round() / 1e4;
    RangePoint { elapsed_s, low: round(range.low), mid: round(range.mid), high: round(range.high) }
}

/// At most one point for each short while: the one with the highest high end, so that no peak is lost, and always the last.
fn thinned(points: Vec<RangePoint>, length_s: f64) -> Vec<RangePoint> {
    let bucket_s = length_s / BUCKETS as f64;
    let last = points.last().copied();
    let mut kept: Vec<RangePoint> = Vec::new();
    let mut bucket = -1_i64;
    for point in points {
        let own = (point.elapsed_s / bucket_s.max(1e-9)) as i64;
        match kept.last_mut().filter(|_| own == bucket) {
            Some(held) if point.high > held.high => *held = point,
            Some(_) => {}
            None => kept.push(point),
        }
        bucket = own;
    }
    if let Some(last) = last.filter(|last| kept.last().is_none_or(|held| held.elapsed_s < last.elapsed_s)) {
        kept.push(last);
    }
    kept
}
