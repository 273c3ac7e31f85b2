//! Heat, water and pore pressure in the lining, solved together, for one wall or a whole ensemble of furnaces.

// The inner loops live in small functions over lanes: each must melt into its caller, or nothing vectorises.
#![allow(clippy::inline_always)]
// Formulas keep the symbols of their sources: h, m, n, x and their slopes.
#![allow(clippy::many_single_char_names, clippy::similar_names)]

mod balance;
mod cells;
pub mod chamber;
pub mod concrete;
pub mod danger;
mod drying;
mod elimination;
pub mod ensemble;
mod flow;
mod fullness;
pub mod furnace;
pub mod lanes;
pub mod matter;
pub mod mesh;
mod ramps;
mod real;
pub mod simulate;
pub mod solver;
pub mod steam;
pub mod wall;
pub mod wall_file;

pub use balance::Rates;
pub use ensemble::{Belief, CellState, Danger, Drive, Ensemble, SectionState};
pub use furnace::{Furnace, Grid};
pub use solver::SolveError;
