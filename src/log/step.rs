//! A step of the heat-up, one input with its verdicts, as rows and back.

use chrono::{DateTime, FixedOffset};

use super::entry::{Entry, StrangeCell};
use super::row::Row;
use crate::plan::text::{parse_plan, write_plan};
use crate::run::{Event, Input, SectionEstimate, TimeSource, Verdict};
use crate::units::Seconds;

/// One input and what was said to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Number of its first row.
    pub row: u64,
    /// Local wall time at which it was recorded; a label.
    pub wall_time: Option<DateTime<FixedOffset>>,
    /// What happened, bit for bit.
    pub input: Input,
    /// What was said, without the verdicts that are not written ([`Selection`]).
    pub verdicts: Vec<Verdict>,
}

/// Which verdicts go into the log: all but the echo of a probe line, and estimates only every so often.
///
/// It depends on the verdicts alone, so that a replay can put the same selection over its own verdicts and compare.
#[derive(Clone, Debug, PartialEq)]
pub struct Selection {
    every_s: f64,
    last_s: Option<f64>,
}

impl Selection {
    /// Keeps an estimate when the last one kept is at least `every` old.
    #[must_use]
    pub fn new(every: Seconds) -> Self {
        Self { every_s: every.0, last_s: None }
    }

    /// Whether this verdict, the next in order, goes into the log.
    pub fn keeps(&mut self, verdict: &Verdict) -> bool {
        match verdict {
            Verdict::Reading { .. } => false,
            Verdict::Estimate { elapsed_s, .. } => {
                let is_due = self.last_s.is_none_or(|last_s| elapsed_s - last_s >= self.every_s);
                if is_due {
                    self.last_s = Some(*elapsed_s);
                }
                is_due
            }
            _ => true,
        }
    }
}

/// The entries of an input, each with its elapsed time.
pub(super) fn entries_of_input(input: &Input) -> Vec<(Seconds, Entry)> {
    let entries = match &input.event {
        Event::Tick => vec![Entry::Tick],
        Event::Readings(readings) if readings.is_empty() => vec![Entry::NoReadings],
        Event::Readings(readings) => readings.iter().cloned().map(Entry::Reading).collect(),
        Event::Operator(word) => vec![Entry::Operator(*word)],
        Event::PortLost(text) => vec![Entry::PortLost(text.clone())],
        Event::PortBack(text) => vec![Entry::PortBack(text.clone())],
        Event::LogFailing(text) => vec![Entry::LogFailing(text.clone())],
        Event::LogBack => vec![Entry::LogBack],
        Event::TakenUp { missed } => vec![Entry::TakenUp { missed_s: missed.0 }],
        Event::Replanned(plan) => vec![Entry::Replanned(write_plan(plan))],
        Event::NotReplanned(why) => vec![Entry::NotReplanned(why.clone())],
    };
    entries.into_iter().map(|entry| (input.elapsed, entry)).collect()
}

/// The entries of a verdict, each with its elapsed time. None for the echo of a probe line.
pub(super) fn entries_of_verdict(verdict: &Verdict) -> Vec<(Seconds, Entry)> {
    let (elapsed_s, entry) = match verdict.clone() {
        Verdict::Reading { .. } => return Vec::new(),
        Verdict::Estimate { elapsed_s, sections } => return entries_of_estimate(Seconds(elapsed_s), sections),
        Verdict::Ready { elapsed_s, lining, planned_s, time_from_probe } => {
            let time_source = if time_from_probe { TimeSource::ProbeLine } else { TimeSource::Computer };
            (elapsed_s, Entry::Ready { lining, planned_s, time_source })
        }
        Verdict::Cue { elapsed_s, burner, in_s, set } => (elapsed_s, Entry::Cue { burner, in_s, set }),
        Verdict::Warning { elapsed_s, cause, channel, section, lead_s, advice } => {
            (elapsed_s, Entry::Warning { cause, channel, section, lead_s, advice })
        }
        Verdict::Notice { elapsed_s, text, about } => (elapsed_s, Entry::Notice { text, about }),
        Verdict::Fault { elapsed_s, channel, text, over } => (elapsed_s, Entry::Fault { channel, text, over }),
        Verdict::End { elapsed_s, reason, ending } => (elapsed_s, Entry::End { reason, ending }),
    };
    vec![(Seconds(elapsed_s), entry)]
}

fn entries_of_estimate(elapsed: Seconds, sections: Vec<SectionEstimate>) -> Vec<(Seconds, Entry)> {
    let mut entries = vec![(elapsed, Entry::Estimate { sections: sections.len() as u32 })];
    for SectionEstimate { section, danger, water_left_kg } in sections {
        entries.push((elapsed, Entry::Danger { section: section.clone(), range: danger }));
        entries.push((elapsed, Entry::WaterLeft { section, range: water_left_kg }));
    }
    entries
}

/// Why rows that belong together make no step, though each is sound.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StepError {
    /// A row of it is not understood.
    #[error(transparent)]
    Strange(#[from] StrangeCell),
    /// The plan in it does not read.
    #[error("the plan in it does not read: {0}; a later version of firstheat wrote it")]
    Plan(String),
    /// Its rows are sound but in an order nothing writes.
    #[error("its rows make no input with its verdicts: a later version of firstheat wrote it")]
    Order,
}

/// The input of a step's rows, and the rows of its verdicts.
pub(super) fn input_in(rows: &[Row]) -> Result<(Input, &[Row]), StepError> {
    let first = rows.first().ok_or(StepError::Order)?;
    let readings: Vec<_> = rows.iter().map_while(|row| as_reading(&row.entry)).cloned().collect();
    let taken = readings.len().max(1);
    let event = match &first.entry {
        Entry::Reading(_) => Event::Readings(readings),
        Entry::NoReadings => Event::Readings(Vec::new()),
        Entry::Tick => Event::Tick,
        Entry::Operator(word) => Event::Operator(*word),
        Entry::PortLost(text) => Event::PortLost(text.clone()),
        Entry::PortBack(text) => Event::PortBack(text.clone()),
        Entry::LogFailing(text) => Event::LogFailing(text.clone()),
        Entry::LogBack => Event::LogBack,
        Entry::TakenUp { missed_s } => Event::TakenUp { missed: Seconds(*missed_s) },
        Entry::Replanned(text) => {
            let plan = parse_plan(text).map_err(|error| StepError::Plan(error.to_string()))?;
            Event::Replanned(Box::new(plan))
        }
        Entry::NotReplanned(why) => Event::NotReplanned(why.clone()),
        Entry::Strange { why, .. } => return Err(why.clone().into()),
        _ => return Err(StepError::Order),
    };
    Ok((Input { elapsed: first.elapsed, event }, &rows[taken..]))
}

fn as_reading(entry: &Entry) -> Option<&crate::reading::Reading> {
    match entry {
        Entry::Reading(reading) => Some(reading),
        _ => None,
    }
}

/// The verdict at the beginning of these rows, and the rows after it.
pub(super) fn verdict_in(rows: &[Row]) -> Result<(Verdict, &[Row]), StepError> {
    let (first, rest) = rows.split_first().ok_or(StepError::Order)?;
    let elapsed_s = first.elapsed.0;
    let verdict = match first.entry.clone() {
        Entry::Estimate { sections } => return estimate_in(elapsed_s, sections as usize, rest),
        Entry::Ready { lining, planned_s, time_source } => {
            let time_from_probe = time_source == TimeSource::ProbeLine;
            Verdict::Ready { elapsed_s, lining, planned_s, time_from_probe }
        }
        Entry::Cue { burner, in_s, set } => Verdict::Cue { elapsed_s, burner, in_s, set },
        Entry::Warning { cause, channel, section, lead_s, advice } => {
            Verdict::Warning { elapsed_s, cause, channel, section, lead_s, advice }
        }
        Entry::Notice { text, about } => Verdict::Notice { elapsed_s, text, about },
        Entry::Fault { channel, text, over } => Verdict::Fault { elapsed_s, channel, text, over },
        Entry::End { reason, ending } => Verdict::End { elapsed_s, reason, ending },
        Entry::Strange { why, .. } => return Err(why.into()),
        _ => return Err(StepError::Order),
    };
    Ok((verdict, rest))
}

fn estimate_in(elapsed_s: f64, sections: usize, rows: &[Row]) -> Result<(Verdict, &[Row]), StepError> {
    let (own, rest) = rows.split_at_checked(sections.saturating_mul(2)).ok_or(StepError::Order)?;
    let sections = own.chunks_exact(2).map(|pair| match (&pair[0].entry, &pair[1].entry) {
        (Entry::Danger { section, range: danger }, Entry::WaterLeft { section: same, range: water_left_kg })
            if section == same =>
        {
            Ok(SectionEstimate { section: section.clone(), danger: *danger, water_left_kg: *water_left_kg })
        }
        _ => Err(StepError::Order),
    });
    Ok((Verdict::Estimate { elapsed_s, sections: sections.collect::<Result<_, _>>()? }, rest))
}
