//! Where verdicts go: JSON lines, plain lines, or the dashboard.

use std::io::{self, Write};

use crossterm::event::Event as TerminalEvent;

use crate::app::AppError;
use crate::dashboard::{Plain, Pressed, Screen, ViewState, pressed};
use crate::run::{Snapshot, Verdict, Word};

/// Makes the snapshot when it is needed, which is not for every outlet.
pub type Now<'a> = &'a dyn Fn() -> Snapshot;

/// Where verdicts go.
pub trait Outlet {
    /// Takes what was said, as soon as it was.
    ///
    /// # Errors
    /// When it takes no more output.
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError>;

    /// Shows how it stands; called about once a second and after each key.
    ///
    /// # Errors
    /// When it takes no more output.
    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError>;

    /// What a key or other event of the terminal means.
    fn pressed(&mut self, event: &TerminalEvent, now: Now<'_>) -> Option<Word>;

    /// Whether it shows what lies ahead, which is worked out for it alone.
    fn shows_ahead(&self) -> bool;

    /// What is left to do when following is over.
    fn closing(&self) -> Closing;
}

/// What an outlet wants after the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Closing {
    /// Nothing: a program reads it.
    Silent,
    /// A last line for a person.
    LastLine,
    /// To stay until the person leaves, then a last line.
    Stays,
}

impl Closing {
    /// Whether the person is told where the log is.
    #[must_use]
    pub fn tells_where_the_log_is(self) -> bool {
        self != Self::Silent
    }
}

/// One JSON object a line.
pub struct Headless<W: Write> {
    writer: W,
}

impl<W: Write> Headless<W> {
    /// Lines go to `writer` and are flushed after each step.
    pub fn new(writer: W) -> Self {
        Self { writer }
    }

    fn write(&mut self, verdicts: &[Verdict]) -> io::Result<()> {
        for verdict in verdicts {
            let line = serde_json::to_string(verdict).map_err(io::Error::other)?;
            writeln!(self.writer, "{line}")?;
        }
        self.writer.flush()
    }
}

impl<W: Write> Outlet for Headless<W> {
    fn say(&mut self, verdicts: &[Verdict], _now: Now<'_>) -> Result<(), AppError> {
        self.write(verdicts).map_err(refused)
    }

    fn refresh(&mut self, _now: Now<'_>) -> Result<(), AppError> {
        Ok(())
    }

    fn pressed(&mut self, _event: &TerminalEvent, _now: Now<'_>) -> Option<Word> {
        None
    }

    fn shows_ahead(&self) -> bool {
        false
    }

    fn closing(&self) -> Closing {
        Closing::Silent
    }
}

/// Plain lines for a person without a screen.
pub struct PlainLines<W: Write> {
    writer: W,
    plain: Plain,
}

impl<W: Write> PlainLines<W> {
    /// Lines go to `writer`.
    pub fn new(writer: W) -> Self {
        Self { writer, plain: Plain::default() }
    }

    fn write(&mut self, now: Now<'_>) -> io::Result<()> {
        for line in self.plain.lines(&now()) {
            writeln!(self.writer, "{line}")?;
        }
        self.writer.flush()
    }
}

impl<W: Write> Outlet for PlainLines<W> {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        let only_echo = verdicts.iter().all(|said| matches!(said, Verdict::Reading { .. } | Verdict::Estimate { .. }));
        if only_echo { Ok(()) } else { self.write(now).map_err(refused) }
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        self.write(now).map_err(refused)
    }

    fn pressed(&mut self, _event: &TerminalEvent, _now: Now<'_>) -> Option<Word> {
        None
    }

    fn shows_ahead(&self) -> bool {
        false
    }

    fn closing(&self) -> Closing {
        Closing::LastLine
    }
}

/// The dashboard.
pub struct OnScreen {
    screen: Screen<io::Stdout>,
    state: ViewState,
}

impl OnScreen {
    /// Takes the terminal over until it is dropped.
    ///
    /// # Errors
    /// When there is no terminal, or it refuses.
    pub fn take() -> Result<Self, AppError> {
        let variable = |name: &str| std::env::var(name).ok();
        let locale =
            ["LC_ALL", "LC_CTYPE", "LANG"].iter().find_map(|name| variable(name).filter(|set| !set.is_empty()));
        let (no_color, term) = (variable("NO_COLOR"), variable("TERM"));
        let state = ViewState::for_terminal(no_color.as_deref(), term.as_deref(), locale.as_deref());
        Ok(Self { screen: Screen::take()?, state })
    }

    /// The same without the bell.
    #[must_use]
    pub fn silent(self) -> Self {
        Self { screen: self.screen.silent(), ..self }
    }
}

impl Outlet for OnScreen {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        let urgent = |said: &Verdict| {
            matches!(said, Verdict::Cue { .. } | Verdict::Warning { .. } | Verdict::Fault { .. } | Verdict::End { .. })
        };
        if verdicts.iter().any(urgent) { self.refresh(now) } else { Ok(()) }
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        Ok(self.screen.show(&now(), &self.state)?)
    }

    fn pressed(&mut self, event: &TerminalEvent, now: Now<'_>) -> Option<Word> {
        let TerminalEvent::Key(key) = event else { return None };
        match pressed(*key, &now(), &self.state) {
            Pressed::Say(word) => Some(word),
            Pressed::Show(state) => {
                self.state = state;
                None
            }
            Pressed::Nothing => None,
        }
    }

    fn shows_ahead(&self) -> bool {
        true
    }

    fn closing(&self) -> Closing {
        Closing::Stays
    }
}

fn refused(source: io::Error) -> AppError {
    AppError::System { doing: "output", source }
}
