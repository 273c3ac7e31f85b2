//! A face to the world that can be heard: the terminal's bell, and a command of the operator's own.

use std::io::{self, Write as _};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crossterm::event::Event as TerminalEvent;
use tokio::time::Instant;

use super::outlet::{Closing, Now, Outlet};
use crate::app::AppError;
use crate::run::{Snapshot, Verdict, Word};

/// The bell rings again as long as a warning stands that nobody has silenced.
const AGAIN_AFTER: Duration = Duration::from_secs(20);

/// What rings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bell {
    /// The terminal that standard output is.
    Terminal,
    /// The same, but for a face that rings by itself when a warning is new.
    OnlyAgain,
    /// Nothing.
    Silent,
}

/// Another outlet, with sound.
pub struct Sounding {
    face: Box<dyn Outlet>,
    bell: Bell,
    command: Option<String>,
    running: Option<Child>,
    rang: Option<Instant>,
    was_told_of_no_command: bool,
}

impl Sounding {
    /// `face` with a bell, and a command for each warning if there is one.
    #[must_use]
    pub fn new(face: Box<dyn Outlet>, bell: Bell, command: Option<String>) -> Self {
        Self { face, bell, command, running: None, rang: None, was_told_of_no_command: false }
    }

    fn ring(&mut self) {
        self.rang = Some(Instant::now());
        if self.bell != Bell::Silent {
            // A terminal that takes no bell is told of by the next line that it does not take.
            let mut out = io::stdout();
            let _ = out.write_all(b"\x07").and_then(|()| out.flush());
        }
    }

    /// Rings once more when something stands that nobody has answered.
    fn ring_again(&mut self, snapshot: &Snapshot) {
        let is_open = snapshot.ended.is_none() && snapshot.warnings.iter().any(|warning| !warning.silenced);
        if is_open && self.rang.is_none_or(|rang| rang.elapsed() >= AGAIN_AFTER) {
            self.ring();
        }
    }

    /// Runs the operator's command for a warning, unless the one before still runs. Says what keeps it from running, once.
    fn call(&mut self, warning: &Verdict) -> Option<Verdict> {
        let Verdict::Warning { elapsed_s, cause, advice, .. } = warning else { return None };
        let command = self.command.as_ref()?;
        if self.running.as_mut().is_some_and(|child| matches!(child.try_wait(), Ok(None))) {
            return None;
        }
        let begun = Command::new("sh")
            .arg("-c")
            .arg(command)
            .env("FIRSTHEAT_CAUSE", cause.title())
            .env("FIRSTHEAT_ACTION", &advice.action)
            .env("FIRSTHEAT_REASON", &advice.reason)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        match begun {
            Ok(child) => {
                self.running = Some(child);
                None
            }
            Err(_) if self.was_told_of_no_command => None,
            Err(error) => {
                self.was_told_of_no_command = true;
                let text = format!("the alarm command cannot be run: {error}; warnings are shown as before");
                Some(Verdict::Notice { elapsed_s: *elapsed_s, text, about: None })
            }
        }
    }
}

impl Outlet for Sounding {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        self.face.say(verdicts, now)?;
        for verdict in verdicts.iter().filter(|said| matches!(said, Verdict::Warning { .. })) {
            if self.bell == Bell::OnlyAgain {
                self.rang = Some(Instant::now());
            } else {
                self.ring();
            }
            if let Some(trouble) = self.call(verdict) {
                self.face.say(&[trouble], now)?;
            }
        }
        Ok(())
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        if self.bell != Bell::Silent {
            self.ring_again(&now());
        }
        self.face.refresh(now)
    }

    fn pressed(&mut self, event: &TerminalEvent, now: Now<'_>) -> Option<Word> {
        self.face.pressed(event, now)
    }

    fn shows_ahead(&self) -> bool {
        self.face.shows_ahead()
    }

    fn closing(&self) -> Closing {
        self.face.closing()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::run::{Advice, WarningCause};

    struct Deaf;

    impl Outlet for Deaf {
        fn say(&mut self, _verdicts: &[Verdict], _now: Now<'_>) -> Result<(), AppError> {
            Ok(())
        }
        fn refresh(&mut self, _now: Now<'_>) -> Result<(), AppError> {
            Ok(())
        }
        fn pressed(&mut self, _event: &TerminalEvent, _now: Now<'_>) -> Option<Word> {
            None
        }
        fn shows_ahead(&self) -> bool {
            true
        }
        fn closing(&self) -> Closing {
            Closing::Silent
        }
    }

    #[test]
    fn what_the_face_shows_ahead_is_worked_out_for_it() {
        assert!(Sounding::new(Box::new(Deaf), Bell::Silent, None).shows_ahead());
    }

    #[test]
    fn the_command_hears_what_the_warning_says() {
        let directory = tempfile::tempdir().unwrap();
        let file = directory.path().join("heard");
        let command = format!("printf '%s|%s' \"$FIRSTHEAT_CAUSE\" \"$FIRSTHEAT_ACTION\" > '{}'", file.display());
        let mut sounding = Sounding::new(Box::new(Deaf), Bell::Silent, Some(command));
        let advice = Advice { action: "shut the burner; now".into(), reason: "too steep".into() };
        let warning = Verdict::Warning {
            elapsed_s: 1.0,
            cause: WarningCause::Ramp,
            channel: None,
            section: None,
            lead_s: None,
            advice,
        };
        assert_eq!(sounding.call(&warning), None);
        sounding.running.take().unwrap().wait().unwrap();
        assert_eq!(std::fs::read_to_string(file).unwrap(), "ramp too steep|shut the burner; now");
    }
}
