//! Heat, water and pore pressure in the lining, solved together, for one wall or a whole ensemble of furnaces.

pub mod ensemble;

pub use ensemble::{Belief, Danger, Drive, Ensemble, Furnace, Grid, SectionState, SolveError};
