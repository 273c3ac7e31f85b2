//! `probes watch`: what the boards send, and what it means, as it comes.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use serde_json::json;

use super::{Listening, read_probes};
use crate::app::{AppError, Outcome, print};
use crate::cli::WatchArgs;
use crate::probe::feed::{PortEvent, Told};
use crate::probe::source::in_words;
use crate::reading::Reading;
use crate::units::quantity::TIME;

/// Runs the command: until its time is over, all sources have ended, or it is interrupted.
pub(super) fn run(args: &WatchArgs) -> Result<Outcome, AppError> {
    let set = read_probes(&args.probes)?.value;
    let span_s = args.span.as_ref().map(|span| TIME.parse(span)).transpose()?;
    let began = Instant::now();
    let until = span_s.map(|span_s| began + Duration::try_from_secs_f64(span_s).unwrap_or(Duration::MAX / 4));
    let mut listening = Listening::start(&set)?;
    let mut heard_any = false;
    while let Some(told) = listening.next(until) {
        heard_any |= matches!(told.event, PortEvent::Line { .. });
        let seconds = told.at.saturating_duration_since(began).as_secs_f64();
        print(&if args.json { json_line(seconds, &told) } else { plain_line(seconds, &told) })?;
    }
    listening.stop();
    Ok(if heard_any { Outcome::Done } else { Outcome::AnswerIsNo })
}

fn plain_line(seconds: f64, told: &Told) -> String {
    let port = in_words(&told.port);
    let words = match &told.event {
        PortEvent::Line { text, readings, .. } => {
            let mut words = String::new();
            for reading in readings {
                let _ = write!(words, "{}  ", value_words(reading));
            }
            format!("{words}<- {}", text.trim_end())
        }
        PortEvent::Garbled { text, why } => format!("refused: {why}  <- {text}"),
        PortEvent::Missed { lines } => format!("{lines} lines came too fast and were dropped"),
        PortEvent::Remark { text } => format!("{port}: {text}"),
        PortEvent::Lost { why } => why.to_string(),
        PortEvent::Back => format!("{port} is there again"),
    };
    format!("{seconds:8.1} s  {words}\n")
}

fn value_words(reading: &Reading) -> String {
    match reading.value {
        Ok(temp) => format!("{} {:.1} °C", reading.channel, temp.0),
        Err(fault) => format!("{} {fault}", reading.channel),
    }
}

fn json_line(seconds: f64, told: &Told) -> String {
    let port = in_words(&told.port);
    let line = match &told.event {
        PortEvent::Line { text, readings, .. } => {
            let (mut values, mut faults) = (serde_json::Map::new(), serde_json::Map::new());
            for reading in readings {
                match reading.value {
                    Ok(temp) => values.insert(reading.channel.to_string(), json!(temp.0)),
                    Err(fault) => faults.insert(reading.channel.to_string(), json!(fault)),
                };
            }
            json!({"kind": "line", "at_s": seconds, "port": port, "raw": text, "values": values, "faults": faults})
        }
        PortEvent::Garbled { text, why } => {
            json!({"kind": "refused", "at_s": seconds, "port": port, "raw": text, "why": why.to_string()})
        }
        PortEvent::Missed { lines } => json!({"kind": "missed", "at_s": seconds, "port": port, "lines": lines}),
        PortEvent::Remark { text } => json!({"kind": "remark", "at_s": seconds, "port": port, "text": text}),
        PortEvent::Lost { why } => json!({"kind": "lost", "at_s": seconds, "port": port, "why": why.to_string()}),
        PortEvent::Back => json!({"kind": "back", "at_s": seconds, "port": port}),
    };
    format!("{line}\n")
}
