//! The wall engine against closed forms, handbook cases and independently computed walls.

#![allow(clippy::unwrap_used, clippy::float_cmp, clippy::print_stdout)]

mod build;
mod computed;
mod conduction;
mod experiments;
mod frozen;
mod moisture;
mod steam;
