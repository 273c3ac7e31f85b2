//! The live screen of a followed heat-up, and the same in single lines where there is no screen.
//!
//! [`draw`] is pure: a [`Snapshot`](crate::run::Snapshot) and a [`ViewState`] give the same cells every time. [`pressed`]
//! is pure too. Only [`Screen`] touches the terminal.
//!
//! What can be read from 3 m is the next thing to do with the burner; everything else is quiet until it matters. No
//! meaning hangs on colour alone: a word and a glyph carry it, reverse video makes it loud.

mod big;
mod draw;
mod ink;
mod keys;
mod layout;
mod next;
mod panel;
mod plain;
mod screen;
mod view;
mod words;

pub use draw::draw;
pub use keys::{Pressed, pressed};
pub use layout::{LEAST_HEIGHT, LEAST_WIDTH, Panel, panels};
pub use plain::Plain;
pub use screen::{Screen, ScreenError};
pub use view::{Glyphs, Ink, Open, Span, ViewState};
