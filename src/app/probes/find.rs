//! `probes find`: what hangs on a port, at which speed, and a probe file to begin with.

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
    let mut port = Tryout::open(path)?;
    port.exchange(b"", BOOT)?;
    let found = |speed, parity, guess| Found { path: path.to_owned(), speed, parity, guess };
    for speed in SPEEDS {
        port.set_line(speed, Parity::None)?;
        if let Some(guess) = lines_in(&port.exchange(b"", LISTEN)?) {
            return Ok(Some(found(speed, Parity::None, guess)));
        }
    }
    for speed in SPEEDS {
        port.set_line(speed, Parity::None)?;
        if let Some(guess) = instrument_in(&port.exchange(&instrument_question(), NAME)?) {
            return Ok(Some(found(speed, Parity::None, guess)));
        }
    }
    for (speed, parity) in BUS_SETTINGS {
        port.set_line(speed, parity)?;
        for device in BUS_DEVICES {
            if let Some(guess) = bus_device_in(device, &port.exchange(&bus_question(device), BUS)?) {
                return Ok(Some(found(speed, parity, guess)));
            }
        }
    }
    Ok(None)
}
