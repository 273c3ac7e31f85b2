//! Warnings with what was done about them, and everything that interrupted the heat-up.

use serde::Serialize;

use super::account::{Moment, Told};
use crate::reading::Channel;
use crate::run::{About, Event, Verdict, WarningCause, Word};

/// An answer counts when it came within this of the warning, s.
const ANSWERED_WITHIN_S: f64 = 900.0;

/// No step for so long is a gap, s.
const GAP_S: f64 = 60.0;

/// A warning, and what followed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WarningAccount {
    /// When it was given, s.
    pub at_s: f64,
    /// Which limit.
    pub cause: WarningCause,
    /// Channel or section, if one.
    pub place: Option<String>,
    /// Forecast time to the limit, s; `None` when it was passed already.
    pub lead_s: Option<f64>,
    /// What was advised.
    pub action: String,
    /// Why.
    pub reason: String,
    /// The operator's next word, and how long it took, s.
    pub answer: Option<(Word, f64)>,
    /// When it was over, s; `None` when it stood to the end.
    pub over_s: Option<f64>,
}

/// Something that interrupted the heat-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Interruption {
    /// Began, s.
    pub from_s: f64,
    /// Ended, s; `None` when it lasted to the end or has no length.
    pub to_s: Option<f64>,
    /// What it was.
    pub what: String,
}

/// Channel and section in words.
fn place_of(channel: Option<&Channel>, section: Option<&str>) -> Option<String> {
    match (section, channel) {
        (Some(section), Some(channel)) => Some(format!("{section} (probe {channel})")),
        (section, channel) => section.map(str::to_owned).or(channel.map(ToString::to_string)),
    }
}

impl WarningAccount {
    /// Whether it is of this place. When a warning was over, the first logs named the section alone.
    fn is_at(&self, channel: Option<&Channel>, section: Option<&str>) -> bool {
        let own = self.place.as_deref().unwrap_or("");
        let section_alone = section.is_some_and(|section| {
            channel.is_none() && (own == section || own.starts_with(&format!("{section} (probe ")))
        });
        self.place == place_of(channel, section) || section_alone
    }
}

/// Every warning.
pub(super) fn warnings(told: &Told<'_>) -> Vec<WarningAccount> {
    let mut warnings: Vec<WarningAccount> = Vec::new();
    for moment in &told.moments {
        if let Event::Operator(word) = &moment.input.event {
            let now_s = moment.input.elapsed.0;
            let open = warnings.iter_mut().filter(|warning| warning.answer.is_none());
            for warning in open.filter(|warning| now_s - warning.at_s <= ANSWERED_WITHIN_S) {
                warning.answer = Some((*word, now_s - warning.at_s));
            }
        }
        for verdict in moment.verdicts {
            note(&mut warnings, verdict);
        }
    }
    warnings
}

fn note(warnings: &mut Vec<WarningAccount>, verdict: &Verdict) {
    match verdict {
        Verdict::Warning { elapsed_s, cause, channel, section, lead_s, advice } => {
            let place = place_of(channel.as_ref(), section.as_deref());
            warnings.push(WarningAccount {
                at_s: *elapsed_s,
                cause: *cause,
                place,
                lead_s: *lead_s,
                action: advice.action.clone(),
                reason: advice.reason.clone(),
                answer: None,
                over_s: None,
            });
        }
        Verdict::Notice { elapsed_s, about: Some(About::Over { cause, channel, section }), .. } => {
            let is_it = |warning: &&mut WarningAccount| {
                warning.over_s.is_none()
                    && warning.cause == *cause
                    && warning.is_at(channel.as_ref(), section.as_deref())
            };
            for warning in warnings.iter_mut().filter(is_it) {
                warning.over_s = Some(*elapsed_s);
            }
        }
        _ => {}
    }
}

/// Everything that interrupted it, in order of time.
pub(super) fn interruptions(told: &Told<'_>) -> Vec<Interruption> {
    let mut all: Vec<Interruption> = Vec::new();
    let mut last_s: Option<f64> = None;
    for moment in &told.moments {
        let now_s = moment.input.elapsed.0;
        if let Some(from_s) = last_s.filter(|last_s| now_s - last_s > GAP_S) {
            all.push(Interruption { from_s, to_s: Some(now_s), what: "nothing was recorded".into() });
        }
        last_s = Some(now_s);
        take_event(&mut all, moment);
        all.extend(moment.verdicts.iter().filter_map(in_a_notice));
    }
    all.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    all
}

fn take_event(all: &mut Vec<Interruption>, moment: &Moment<'_>) {
    let now_s = moment.input.elapsed.0;
    let begin = |what: String| Interruption { from_s: now_s, to_s: None, what };
    let mut end = |begins: &str| {
        let open = all.iter_mut().rfind(|one| one.to_s.is_none() && one.what.starts_with(begins));
        if let Some(open) = open {
            open.to_s = Some(now_s);
        }
    };
    match &moment.input.event {
        Event::Operator(Word::Pause) => all.push(begin("paused by the operator".into())),
        Event::Operator(Word::Resume) => end("paused by the operator"),
        Event::PortLost(text) => all.push(begin(format!("probe port lost: {text}"))),
        Event::PortBack(name) => end(&format!("probe port lost: {name}")),
        Event::LogFailing(text) => all.push(begin(format!("log could not be written: {text}"))),
        Event::LogBack => end("log could not be written"),
        Event::TakenUp { missed } => all.push(Interruption {
            from_s: now_s - missed.0,
            to_s: Some(now_s),
            what: "the program had stopped, and nothing was watched".into(),
        }),
        Event::Replanned(_) => {
            let what = "the rest was planned anew".into();
            all.push(Interruption { from_s: now_s, to_s: Some(now_s), what });
        }
        Event::NotReplanned(_) | Event::Operator(_) | Event::Readings(_) | Event::Tick => {}
    }
}

/// What a notice or warning says of an interruption: a late light-up, a step back in the plan, a flame that went out.
fn in_a_notice(verdict: &Verdict) -> Option<Interruption> {
    match verdict {
        Verdict::Notice {
            elapsed_s,
            text,
            about: Some(About::LitLate | About::LitEarly | About::BackToRound { .. }),
        } => Some(Interruption { from_s: *elapsed_s, to_s: Some(*elapsed_s), what: text.clone() }),
        Verdict::Warning { elapsed_s, cause: WarningCause::FlameOut, .. } => {
            Some(Interruption { from_s: *elapsed_s, to_s: Some(*elapsed_s), what: "the flame went out".into() })
        }
        _ => None,
    }
}
