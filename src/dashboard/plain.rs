//! The screen as single lines, for a pipe, a log of the terminal, or somebody who has it read out.

use crate::run::{Snapshot, Spoken, Weight};
use crate::units::Seconds;

use super::next::Next;
use super::panel::cue;
use super::words;

/// Time between two lines on how it stands when nothing else happens.
const EVERY: Seconds = Seconds(60.0);

/// Turns one snapshot after the other into the lines that are new.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plain {
    last: Option<Spoken>,
    stood: Option<Seconds>,
}

impl Plain {
    /// Lines for what was said since the last call, and every minute one on how it stands.
    pub fn lines(&mut self, snapshot: &Snapshot) -> Vec<String> {
        let said = match &self.last {
            Some(last) => snapshot.spoken.iter().rposition(|spoken| spoken == last).map_or(0, |index| index + 1),
            None => 0,
        };
        let mut lines: Vec<String> = snapshot.spoken[said..].iter().map(spoken).collect();
        self.last = snapshot.spoken.last().cloned().or(self.last.take());
        let is_due = self.stood.is_none_or(|stood| snapshot.elapsed.0 - stood.0 >= EVERY.0);
        if is_due || snapshot.ended.is_some() {
            self.stood = Some(snapshot.elapsed);
            lines.push(status(snapshot));
        }
        lines
    }
}

fn spoken(spoken: &Spoken) -> String {
    let kind = match spoken.weight {
        Weight::Notice => "notice",
        Weight::Cue => "burner",
        Weight::Fault => "fault",
        Weight::Warning => "WARNING",
    };
    one_line(&format!("{:>8}  {kind:<7}  {}", words::clock(spoken.elapsed), spoken.text))
}

/// How it stands, in one line.
fn status(snapshot: &Snapshot) -> String {
    let mut parts = vec![cue::in_full(Next::of(snapshot), snapshot)];
    parts.extend(snapshot.channels.iter().filter_map(|channel| {
        let value = match channel.value? {
            Ok(temp) => words::temp(temp),
            Err(fault) => words::fault(fault).to_owned(),
        };
        Some(format!("{} {value}", channel.channel))
    }));
    parts.extend(snapshot.sections.iter().map(|section| {
        let (danger, danger_range) = words::danger(section.danger);
        let (water, _) = words::share(section.water_left_kg, section.water_initial_kg);
        format!("{} danger {danger} ({danger_range}) of {:.2}, water {water}", section.section, section.ceiling)
    }));
    if !snapshot.warnings.is_empty() {
        parts.push(format!("warnings standing: {}", snapshot.warnings.len()));
    }
    parts.push(format!("left {}", words::until(snapshot.remaining)));
    one_line(&format!("{:>8}  {:<7}  {}", words::clock(snapshot.elapsed), "status", parts.join("; ")))
}

/// `text` without line ends and other control characters.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
