//! Thermocouple boards on serial lines: what they send, what the probe file makes of it, and a furnace to try it on.
//!
//! [`lines`] reads one line, [`set`] gives its values meaning, [`mod@file`] reads the probe file; all three are pure.
//! [`ask`] talks to boards that only answer, and is pure too. [`port`] and [`source`] do the reading on threads of their own; [`simulated`] plays furnace and board.

pub mod ask;
pub mod bath;
pub mod feed;
pub mod file;
pub mod guess;
pub mod lines;
mod modbus;
pub mod port;
mod scpi;
pub mod set;
pub mod simulated;
pub mod source;

pub use feed::{Lost, PortEvent, Told};
pub use set::{ChannelSpec, Column, PortSpec, ProbeSet};
