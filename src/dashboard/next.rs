//! What to do next with the burner, decided once for the screen, the keys and the plain lines.

use crate::plan::Flame;
use crate::run::{PlanClock, Snapshot};
use crate::units::Seconds;

/// From this long before a change on, the cue is loud: time to walk to the valve.
pub(super) const GET_READY: Seconds = Seconds(10.0);

/// The next thing to do with the burner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Next {
    /// Light it whenever all is ready: the plan waits for it.
    Begin,
    /// Change it in this time.
    In(Flame, Seconds),
    /// Change it now.
    Now(Flame),
    /// Set the burning burner, or its control, to something else in this time.
    SetIn(Seconds),
    /// The same now.
    SetNow,
    /// Nothing while the plan's clock stands.
    Paused,
    /// The burner is as it should be, with no change to come.
    Stay(Flame),
    /// The plan is over.
    Done,
    /// Following is over.
    Ended,
}

impl Next {
    /// What `snapshot` asks for. A warning about the burner goes before the plan.
    pub(super) fn of(snapshot: &Snapshot) -> Self {
        if snapshot.ended.is_some() {
            return Self::Ended;
        }
        let burner = snapshot.burner.map(|burner| burner.flame);
        let warned = snapshot.warnings.iter().find_map(|warning| warning.burner);
        if let Some(wanted) = warned.filter(|_| warned != burner) {
            return Self::Now(wanted);
        }
        match snapshot.clock {
            PlanClock::Waiting => Self::Begin,
            PlanClock::Paused { .. } => Self::Paused,
            PlanClock::Done if burner == Some(Flame::On) => Self::Now(Flame::Off),
            PlanClock::Done => Self::Done,
            PlanClock::Runs => Self::of_plan(snapshot, burner, warned),
        }
    }

    fn of_plan(snapshot: &Snapshot, burner: Option<Flame>, warned: Option<Flame>) -> Self {
        let Some(cue) = &snapshot.cue else { return Self::Done };
        if let Some(flame) = warned.filter(|flame| *flame != cue.burner) {
            return Self::Stay(flame);
        }
        if burner.is_some_and(|flame| flame != cue.burner) {
            return Self::Now(cue.burner);
        }
        let turns = cue.fires.as_ref().filter(|_| cue.burner == Flame::On && burner == Some(Flame::On));
        if turns.is_some_and(|fires| fires.turn_is_due) {
            return Self::SetNow;
        }
        match (cue.next, cue.changes_in) {
            (Some(Flame::On), Some(span)) if turns.is_some() => {
                if span.0 > 0.0 {
                    Self::SetIn(span)
                } else {
                    Self::SetNow
                }
            }
            (Some(flame), Some(span)) if span.0 > 0.0 => Self::In(flame, span),
            (Some(flame), Some(_)) => Self::Now(flame),
            _ => Self::Stay(cue.burner),
        }
    }

    /// Whether it is time to be at the valve.
    pub(super) fn is_loud(self) -> bool {
        match self {
            Self::Now(_) | Self::SetNow => true,
            Self::In(_, span) | Self::SetIn(span) => span.0 <= GET_READY.0,
            _ => false,
        }
    }

    /// What the burner is about to be made, once it is time to be at the valve.
    pub(super) fn due(self) -> Option<Flame> {
        match self {
            Self::Begin => Some(Flame::On),
            Self::SetIn(_) | Self::SetNow if self.is_loud() => Some(Flame::On),
            Self::In(flame, _) | Self::Now(flame) if self.is_loud() => Some(flame),
            _ => None,
        }
    }
}

/// The deed that makes the burner `flame`.
pub(super) fn deed(flame: Flame) -> &'static str {
    match flame {
        Flame::On => "LIGHT",
        Flame::Off => "SHUT",
    }
}
