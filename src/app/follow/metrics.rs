//! Figures of the followed heat-up as `OpenMetrics` text, for shops that keep time series anyway. Off unless asked for, and
//! only to be reached from this computer.
//!
//! The format is that of the `OpenMetrics` specification 1.0.0: a `TYPE`, `UNIT` and `HELP` line for each family, samples with
//! escaped label values, and `# EOF` as the last line.

use std::fmt::Write as _;
use std::io::{self, BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crossterm::event::Event as TerminalEvent;

use super::outlet::{Closing, Now, Outlet};
use crate::app::AppError;
use crate::plan::Flame;
use crate::run::{LogNow, Range, Snapshot, Verdict, Word};

/// What the answer is.
const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Longest request head that is read, bytes.
const LONGEST_REQUEST: u64 = 8192;

/// A caller that says nothing for this long is let go.
const PATIENCE: Duration = Duration::from_secs(2);

/// An address that answers once something is to be said.
pub struct Server {
    listener: TcpListener,
}

impl Server {
    /// Takes the address.
    ///
    /// # Errors
    /// When it is not one of this computer alone, or the system does not give it.
    pub fn bind(address: SocketAddr) -> Result<Self, AppError> {
        if !address.ip().is_loopback() {
            return Err(AppError::NotLoopback { found: address });
        }
        let listener = TcpListener::bind(address).map_err(|source| AppError::NoAddress { address, source })?;
        Ok(Self { listener })
    }

    /// Where it answers.
    ///
    /// # Errors
    /// When the system does not tell.
    pub fn address(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }

    /// Answers on a thread of its own with what `face` is shown, as long as the program runs.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn serve(self, face: Box<dyn Outlet>) -> Result<Metered, AppError> {
        let page = Arc::new(Mutex::new(String::from("# EOF\n")));
        let seen = Arc::clone(&page);
        let answer_all = move || {
            for caller in self.listener.incoming().flatten() {
                // A caller that goes away early has itself to thank.
                let _ = answer(caller, &seen);
            }
        };
        thread::Builder::new()
            .name("metrics".to_owned())
            .spawn(answer_all)
            .map_err(|source| AppError::System { doing: "a thread for the figures", source })?;
        Ok(Metered { face, page })
    }
}

/// Answers one request: `GET /metrics` (or `/`) with the page, all else with a refusal.
fn answer(caller: TcpStream, page: &Mutex<String>) -> io::Result<()> {
    caller.set_read_timeout(Some(PATIENCE))?;
    caller.set_write_timeout(Some(PATIENCE))?;
    let mut lines = BufReader::new(caller.try_clone()?.take(LONGEST_REQUEST)).lines();
    let first = lines.next().transpose()?.unwrap_or_default();
    for line in lines {
        if line?.is_empty() {
            break;
        }
    }
    let (status, kind, body) = match first.split_whitespace().collect::<Vec<_>>()[..] {
        ["GET", "/metrics" | "/", ..] => {
            ("200 OK", CONTENT_TYPE, page.lock().unwrap_or_else(PoisonError::into_inner).clone())
        }
        ["GET", ..] => ("404 Not Found", "text/plain", "the figures are at /metrics\n".to_owned()),
        _ => ("405 Method Not Allowed", "text/plain", "only GET is answered\n".to_owned()),
    };
    let head = format!(
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        body.len()
    );
    let mut caller = caller;
    caller.write_all(head.as_bytes())?;
    caller.write_all(body.as_bytes())
}

/// Another outlet whose figures are served.
pub struct Metered {
    face: Box<dyn Outlet>,
    page: Arc<Mutex<String>>,
}

impl Outlet for Metered {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        self.face.say(verdicts, now)
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        let text = page_of(&now());
        *self.page.lock().unwrap_or_else(PoisonError::into_inner) = text;
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

/// A family of gauges being written.
struct Family<'a> {
    page: &'a mut String,
    name: &'static str,
}

impl<'a> Family<'a> {
    /// `unit` is the end of the name, or empty where there is none.
    fn begin(page: &'a mut String, name: &'static str, unit: &str, help: &str) -> Self {
        // Writing to a string cannot fail.
        let _ = writeln!(page, "# TYPE {name} gauge");
        if !unit.is_empty() {
            let _ = writeln!(page, "# UNIT {name} {unit}");
        }
        let _ = writeln!(page, "# HELP {name} {help}");
        Self { page, name }
    }

    fn sample(&mut self, labels: &[(&str, &str)], value: f64) {
        let labels: Vec<String> = labels.iter().map(|(name, text)| format!("{name}=\"{}\"", escaped(text))).collect();
        let labels = if labels.is_empty() { String::new() } else { format!("{{{}}}", labels.join(",")) };
        let _ = writeln!(self.page, "{}{labels} {}", self.name, number(value));
    }

    fn ranges<'b>(&mut self, ranges: impl Iterator<Item = (&'b str, Range)>) {
        for (section, range) in ranges {
            for (bound, value) in [("low", range.low), ("mid", range.mid), ("high", range.high)] {
                self.sample(&[("section", section), ("bound", bound)], value);
            }
        }
    }
}

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace('"', "\\\"").replace('\n', "\\n")
}

fn number(value: f64) -> String {
    if value.is_nan() {
        "NaN".to_owned()
    } else if value.is_infinite() {
        if value > 0.0 { "+Inf".to_owned() } else { "-Inf".to_owned() }
    } else {
        format!("{value}")
    }
}

/// The page for a heat-up as it stands.
#[must_use]
pub fn page_of(snapshot: &Snapshot) -> String {
    let mut page = String::new();
    let elapsed = "Time since the heat-up began.";
    Family::begin(&mut page, "firstheat_elapsed_seconds", "seconds", elapsed).sample(&[], snapshot.elapsed.0);
    let remaining = "Time to the end of the plan if nothing holds it up.";
    Family::begin(&mut page, "firstheat_remaining_seconds", "seconds", remaining).sample(&[], snapshot.remaining.0);
    let mut temps =
        Family::begin(&mut page, "firstheat_probe_celsius", "celsius", "What a probe reads, if it can be believed.");
    for channel in &snapshot.channels {
        if let Some(Ok(temp)) = channel.value {
            temps.sample(&[("channel", &channel.channel.0), ("place", &channel.place)], temp.0);
        }
    }
    let mut faults = Family::begin(&mut page, "firstheat_probe_faulty", "", "1 while a probe cannot be believed.");
    for channel in &snapshot.channels {
        let is_faulty = matches!(channel.value, Some(Err(_)));
        faults.sample(&[("channel", &channel.channel.0)], f64::from(u8::from(is_faulty)));
    }
    let sections = || snapshot.sections.iter();
    Family::begin(&mut page, "firstheat_danger_number", "", "Danger number: at 1 the lining may spall.")
        .ranges(sections().map(|section| (section.section.as_str(), section.danger)));
    Family::begin(&mut page, "firstheat_water_left_kilograms", "kilograms", "Water left in a section.")
        .ranges(sections().map(|section| (section.section.as_str(), section.water_left_kg)));
    let mut burner = Family::begin(&mut page, "firstheat_burner_lit", "", "1 while the burner is believed to burn.");
    if let Some(now) = snapshot.burner {
        burner.sample(&[], f64::from(u8::from(now.flame == Flame::On)));
    }
    Family::begin(&mut page, "firstheat_warnings_standing", "", "Warnings that stand.")
        .sample(&[], snapshot.warnings.len() as f64);
    let is_failing = matches!(snapshot.log, LogNow::Failing { .. });
    Family::begin(&mut page, "firstheat_log_failing", "", "1 while the log cannot be written.")
        .sample(&[], f64::from(u8::from(is_failing)));
    page.push_str("# EOF\n");
    page
}
