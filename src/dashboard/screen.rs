//! The terminal: taken over, drawn to, and given back whatever happens.

use std::io::{self, IsTerminal, Stdout, Write};
use std::panic;
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};

use crossterm::cursor::{Hide, Show};
use crossterm::terminal::{
    BeginSynchronizedUpdate, EndSynchronizedUpdate, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode,
};
use crossterm::{execute, queue};
use ratatui::backend::CrosstermBackend;
use ratatui::layout::{Rect, Size};
use ratatui::{Terminal, TerminalOptions, Viewport};
use thiserror::Error;

use crate::reading::Channel;
use crate::run::{Snapshot, StandingWarning, WarningCause};
use crate::units::Seconds;

use super::draw::draw;
use super::view::ViewState;

/// Whether this process has the terminal now. The panic hook must know, and a hook can only look at what is static.
static TAKEN: AtomicBool = AtomicBool::new(false);
/// The hook is put in place once; it does nothing while the terminal is not taken.
static HOOK: Once = Once::new();

/// Why the screen cannot be shown.
#[derive(Debug, Error)]
pub enum ScreenError {
    /// The terminal refused to be taken over.
    #[error("the terminal cannot be used as a screen; run in a terminal, or with --plain for lines")]
    Take(#[source] io::Error),
    /// Something could not be written to it.
    #[error("the terminal takes no more output; the heat-up goes on in the log")]
    Write(#[source] io::Error),
}

/// A screen whose bytes go to a writer: the terminal, or whatever a test wants to look at.
pub struct Screen<W: Write> {
    terminal: Terminal<CrosstermBackend<W>>,
    extent: Extent,
    shown: Option<(Snapshot, ViewState, Size)>,
    rung: Vec<Identity>,
    bell: Bell,
    /// Gives the terminal back; the last field, so that it is dropped last.
    _guard: Option<Guard>,
}

/// What makes a warning the same as one that was there before.
type Identity = (WarningCause, Option<Channel>, Option<String>, Seconds);

/// How large a screen is.
/// Whether new warnings ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bell {
    /// They do.
    Rings,
    /// They do not.
    Silent,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Extent {
    /// As large as the terminal is at the moment.
    Terminal,
    /// Always this large.
    Fixed(Size),
}

impl Screen<Stdout> {
    /// Takes the terminal over: raw input, the other screen, no cursor. It is given back when the screen is dropped, and
    /// before the message of a panic is written. A signal ends a process without dropping anything, so whoever runs the
    /// screen has to catch SIGTERM, SIGINT and SIGHUP and drop it.
    ///
    /// # Errors
    /// When there is no terminal, or it refuses.
    pub fn take() -> Result<Self, ScreenError> {
        let guard = Guard::take().map_err(ScreenError::Take)?;
        let terminal = Terminal::new(CrosstermBackend::new(io::stdout())).map_err(ScreenError::Take)?;
        Ok(Self {
            terminal,
            extent: Extent::Terminal,
            shown: None,
            rung: Vec::new(),
            bell: Bell::Rings,
            _guard: Some(guard),
        })
    }
}

impl<W: Write> Screen<W> {
    /// A screen of a fixed size whose bytes go to `writer`; no terminal is touched.
    ///
    /// # Errors
    /// When `writer` refuses.
    pub fn fixed(writer: W, columns: u16, rows: u16) -> Result<Self, ScreenError> {
        let viewport = Viewport::Fixed(Rect::new(0, 0, columns, rows));
        let terminal = Terminal::with_options(CrosstermBackend::new(writer), TerminalOptions { viewport });
        let extent = Extent::Fixed(Size::new(columns, rows));
        let terminal = terminal.map_err(ScreenError::Write)?;
        Ok(Self { terminal, extent, shown: None, rung: Vec::new(), bell: Bell::Rings, _guard: None })
    }

    /// The same screen without its bell.
    #[must_use]
    pub fn silent(self) -> Self {
        Self { bell: Bell::Silent, ..self }
    }

    /// Shows `snapshot` as `state` says, and rings once if a warning is new. Writes nothing when nothing changed, and
    /// otherwise only the cells that did, so it may be called as often as is handy.
    ///
    /// # Errors
    /// When the terminal takes no more output.
    pub fn show(&mut self, snapshot: &Snapshot, state: &ViewState) -> Result<(), ScreenError> {
        let size = match self.extent {
            Extent::Fixed(size) => size,
            Extent::Terminal => self.terminal.size().map_err(ScreenError::Write)?,
        };
        let is_same =
            self.shown.as_ref().is_some_and(|(old, view, at)| old == snapshot && view == state && *at == size);
        if is_same {
            return Ok(());
        }
        self.write(snapshot, state).map_err(ScreenError::Write)?;
        self.shown = Some((snapshot.clone(), *state, size));
        Ok(())
    }

    fn write(&mut self, snapshot: &Snapshot, state: &ViewState) -> io::Result<()> {
        queue!(self.terminal.backend_mut(), BeginSynchronizedUpdate)?;
        self.terminal.draw(|frame| draw(frame, snapshot, state))?;
        let rings = self.rings(&snapshot.warnings);
        let backend = self.terminal.backend_mut();
        if rings && self.bell == Bell::Rings {
            backend.write_all(b"\x07")?;
        }
        queue!(backend, EndSynchronizedUpdate)?;
        backend.flush()
    }

    /// Whether a warning is new that is not silenced. Warnings that ended are forgotten, so the same limit rings again.
    fn rings(&mut self, warnings: &[StandingWarning]) -> bool {
        let standing: Vec<Identity> = warnings.iter().map(identity).collect();
        let is_new =
            |(warning, identity): (&StandingWarning, &Identity)| !warning.silenced && !self.rung.contains(identity);
        let rings = warnings.iter().zip(&standing).any(is_new);
        self.rung = standing;
        rings
    }
}

fn identity(warning: &StandingWarning) -> Identity {
    (warning.cause, warning.channel.clone(), warning.section.clone(), warning.since)
}

/// Has the terminal, and gives it back when dropped.
struct Guard;

impl Guard {
    fn take() -> io::Result<Self> {
        if !io::stdout().is_terminal() {
            return Err(io::Error::new(io::ErrorKind::Unsupported, "the output is not a terminal"));
        }
        HOOK.call_once(give_back_before_a_panic_speaks);
        enable_raw_mode()?;
        TAKEN.store(true, Ordering::SeqCst);
        let guard = Self;
        execute!(io::stdout(), EnterAlternateScreen, Hide)?;
        Ok(guard)
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        give_back();
    }
}

/// Gives the terminal back if it was taken. What fails is left: there is nobody to tell and the rest is still worth trying.
fn give_back() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        let written = execute!(io::stdout(), EndSynchronizedUpdate, LeaveAlternateScreen, Show);
        let cooked = disable_raw_mode();
        drop((written, cooked));
    }
}

fn give_back_before_a_panic_speaks() {
    let speak = panic::take_hook();
    panic::set_hook(Box::new(move |info| {
        give_back();
        speak(info);
    }));
}
