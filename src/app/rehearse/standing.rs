//! Which warnings stand that want the burner shut, and since when, as somebody knows who hears every verdict.

use crate::plan::Flame;
use crate::reading::Channel;
use crate::run::{About, Verdict, WarningCause};

/// What makes two warnings the same.
type Topic = (WarningCause, Option<Channel>, Option<String>);

/// Warnings that stand.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    topics: Vec<Topic>,
    since_s: Option<f64>,
    called_s: Option<f64>,
}

impl Standing {
    /// Hears a verdict.
    pub fn hear(&mut self, verdict: &Verdict) {
        match verdict {
            Verdict::Warning { elapsed_s, cause, channel, section, advice, .. }
                if cause.wants_of_burner() == Some(Flame::Off) =>
            {
                let topic = (*cause, channel.clone(), section.clone());
                if !self.topics.contains(&topic) {
                    self.topics.push(topic);
                }
                self.since_s.get_or_insert(*elapsed_s);
                if advice.action.starts_with("shut the gas") {
                    self.called_s.get_or_insert(*elapsed_s);
                }
            }
            Verdict::Notice { about: Some(About::Over { cause, channel, section }), .. } => {
                let over = (*cause, channel.clone(), section.clone());
                self.topics.retain(|topic| *topic != over);
                if self.topics.is_empty() {
                    self.since_s = None;
                    self.called_s = None;
                }
            }
            _ => {}
        }
    }

    /// Since when at least one has stood without a break, s.
    #[must_use]
    pub fn since_s(&self) -> Option<f64> {
        self.since_s
    }

    /// Since when there has been a call to shut the gas and leave, s.
    #[must_use]
    pub fn called_s(&self) -> Option<f64> {
        self.called_s
    }
}
