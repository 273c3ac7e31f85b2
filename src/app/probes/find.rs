//! `probes find`: what hangs on a port, at which speed, and a probe file to begin with.

use std::iter;
use std::time::Duration;

use crate::app::{AppError, Outcome, print};
use crate::cli::FindArgs;
use crate::files::{refuse_taken, write_new};
use crate::probe::guess::{
    BUS_DEVICES, BUS_SETTINGS, Found, Guess, SPEEDS, bus_device_in, bus_question, instrument_in, instrument_question,
    lines_in, probe_file,
};
use crate::probe::port::Tryout;
use crate::probe::set::Parity;

/// Boards restart when their port is opened, and send a line a second.
const BOOT: Duration = Duration::from_millis(2500);

/// Long enough for two lines.
const LISTEN: Duration = Duration::from_millis(2500);

/// Long enough for an instrument to say its name.
const NAME: Duration = Duration::from_millis(400);

/// Long enough for a device on a bus.
const BUS: Duration = Duration::from_millis(120);

/// Runs the command; answers no when nothing was found.
pub(super) fn run(args: &FindArgs) -> Result<Outcome, AppError> {
    if let Some(output) = &args.output {
        refuse_taken(output)?;
    }
    let Some(found) = find(&args.port)? else {
        print(
            "nothing that speaks lines, scpi or modbus-rtu was found; look at power and wires, and write the probe file by \
             hand if its speed is a rare one\n",
        )?;
        return Ok(Outcome::AnswerIsNo);
    };
    let text = probe_file(&found);
    match &args.output {
        Some(output) => {
            write_new(output, &text)?;
            print(&format!(
                "{}\nwritten to {}; put place and type of each probe right there\n",
                words(&found),
                output.display()
            ))?;
        }
        None => print(&text)?,
    }
    Ok(Outcome::Done)
}

fn words(found: &Found) -> String {
    let what = match &found.guess {
        Guess::Lines { .. } => "lines of readings".to_owned(),
        Guess::Instrument { identity } => format!("the instrument {identity:?}"),
        Guess::BusDevice { device } => format!("device {device} on a bus"),
    };
    format!("found {what} on {} at {} baud", found.path, found.speed)
}

fn find(path: &str) -> Result<Option<Found>, AppError> {
    let mut search = Search { port: Tryout::open(path)?, path: path.to_owned(), is_silent: true };
    search.is_silent = search.port.exchange(b"", BOOT)?.is_empty();
    // A board that sends by itself is heard at any speed, if only as noise: on a silent line one is enough.
    if let Some(found) = search.lines(&SPEEDS)? {
        return Ok(Some(found));
    }
    if let Some(found) = search.instrument()? {
        return Ok(Some(found));
    }
    if let Some(found) = search.bus_device()? {
        return Ok(Some(found));
    }
    // One that was slow to start, or sends seldom.
    if search.is_silent { search.lines_at(&SPEEDS) } else { Ok(None) }
}

/// A port that is being tried.
struct Search {
    port: Tryout,
    path: String,
    /// Whether nothing at all has come by itself.
    is_silent: bool,
}

impl Search {
    fn found(&self, speed: u32, parity: Parity, guess: Guess) -> Found {
        Found { path: self.path.clone(), speed, parity, guess }
    }

    /// Lines that come by themselves; on a silent port the first speed alone is listened at.
    fn lines(&mut self, speeds: &[u32]) -> Result<Option<Found>, AppError> {
        let first = speeds.len().min(1);
        if let Some(found) = self.lines_at(&speeds[..first])? {
            return Ok(Some(found));
        }
        if self.is_silent { Ok(None) } else { self.lines_at(&speeds[first..]) }
    }

    fn lines_at(&mut self, speeds: &[u32]) -> Result<Option<Found>, AppError> {
        for &speed in speeds {
            self.port.set_line(speed, Parity::None)?;
            let heard = self.port.exchange(b"", LISTEN)?;
            self.is_silent &= heard.is_empty();
            if let Some(guess) = lines_in(&heard) {
                return Ok(Some(self.found(speed, Parity::None, guess)));
            }
        }
        Ok(None)
    }

    fn instrument(&mut self) -> Result<Option<Found>, AppError> {
        for speed in SPEEDS {
            self.port.set_line(speed, Parity::None)?;
            if let Some(guess) = instrument_in(&self.port.exchange(&instrument_question(), NAME)?) {
                return Ok(Some(self.found(speed, Parity::None, guess)));
            }
        }
        Ok(None)
    }

    fn bus_device(&mut self) -> Result<Option<Found>, AppError> {
        for (speed, parity) in BUS_SETTINGS {
            self.port.set_line(speed, parity)?;
            // The first is asked twice: what was sent before at other settings may still stand in its way.
            for device in iter::once(*BUS_DEVICES.start()).chain(BUS_DEVICES) {
                if let Some(guess) = bus_device_in(device, &self.port.exchange(&bus_question(device), BUS)?) {
                    return Ok(Some(self.found(speed, parity, guess)));
                }
            }
        }
        Ok(None)
    }
}
