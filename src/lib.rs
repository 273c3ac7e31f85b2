//! First heat of a refractory lining: the wall's heat, water and steam, a pulsed heat-up plan, and following it live.
//!
//! Imports run one way (`tests/layering.rs` holds `src/` to it):
//! `units`, `thermocouple`, `reading` -> `lining` -> `physics` -> `plan` -> `run` -> `ageing` -> `report` -> the edges (`probe`, `log`, `dashboard`, `files`,
//! `clock`, `cli`) -> `app` -> `main`. Everything up to `report` is pure: no clock, file, port, screen, task or print.

pub mod units;

pub mod thermocouple;

pub mod reading;

pub mod lining;

pub mod physics;

pub mod plan;

pub mod run;

pub mod ageing;

pub mod report;

pub mod probe;

pub mod log;

pub mod dashboard;

pub mod files;

pub mod clock;

pub mod cli;

pub mod app;
