//! What happened in a heat-up, told from its log: one HTML page, a short text, or JSON.
//!
//! [`Account::of`] reads what was recorded and asks the wall engine for what was not (pore pressure, when each section was
//! dry); [`page`] and [`text`] only lay it out. All of it is pure.

mod account;
mod burner;
pub mod card;
mod channels;
mod dryness;
mod engine;
mod figures;
mod happenings;
mod heat_up;
pub mod page;
pub mod plot;
mod sections;
pub mod text;
pub mod trend;

pub use account::{Account, Moment, PlanCheck, Told};
pub use burner::{AtMark, BurnerAccount, Pulse, ToldOfBurner};
pub use channels::{ChannelAccount, ChannelFault, Envelope, RampPoint};
pub use dryness::{Dryness, Evidence, Verdict};
pub use happenings::{Interruption, WarningAccount};
pub use heat_up::heat_up;
pub use sections::{RangePoint, SectionAccount};

/// Points that a curve keeps at most: about one for every second dot of a printed line.
const BUCKETS: usize = 360;

/// A time as hours and minutes, "3:07"; a report's clock.
fn clock(elapsed_s: f64) -> String {
    let minutes = (elapsed_s / 60.0).round() as i64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// A span in words, "4 min 10 s".
fn span(span_s: f64) -> String {
    use crate::units::quantity::{Shown as _, UnitSystem};
    crate::units::Seconds(if span_s >= 10.0 { span_s.round() } else { span_s }).shown(UnitSystem::Metric)
}

/// A number of things, "1 pulse" or "3 pulses".
fn count(number: usize, thing: &str) -> String {
    if number == 1 { format!("1 {thing}") } else { format!("{number} {thing}s") }
}
