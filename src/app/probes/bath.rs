//! `probes bath`: probes in ice water or boiling water, and the offset that makes them right.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use super::{Listening, read_probes};
use crate::app::{AppError, Outcome, print};
use crate::cli::{BathArgs, BathKind};
use crate::clock::date_label;
use crate::files::write_over;
use crate::probe::bath::{Bath, Finding, LARGEST_OFFSET, judge};
use crate::probe::feed::PortEvent;
use crate::probe::file::store::with_offset;
use crate::probe::set::{ChannelSpec, ProbeSet};
use crate::units::quantity::{LENGTH, TIME};
use crate::units::{Celsius, Metres};

/// Runs the command; answers no when a probe is not within its tolerance, or cannot be judged.
pub(super) fn run(args: &BathArgs) -> Result<Outcome, AppError> {
    let bath = match args.bath {
        BathKind::Ice => Bath::Ice,
        BathKind::Boiling => Bath::Boiling { altitude: Metres(LENGTH.parse(&args.altitude)?.clamp(-400.0, 6000.0)) },
    };
    let probes = read_probes(&args.probes)?;
    let specs = chosen(&probes.value, &args.channels)?;
    print(&format!("listening for {} to probes in {}\n", args.span, bath.words()))?;
    let heard = listen(&probes.value, &specs, TIME.parse(&args.span)?)?;
    let (mut outcome, mut text) = (Outcome::Done, probes.text.clone());
    for (spec, temps) in specs.iter().zip(heard) {
        let found = match judge(spec, bath, &temps) {
            Ok(found) => found,
            Err(why) => {
                outcome = Outcome::AnswerIsNo;
                print(&format!("{}: {why}\n", spec.channel))?;
                continue;
            }
        };
        print(&in_words(spec, &found))?;
        if found.suspect.is_some() || found.error.0.abs() > LARGEST_OFFSET.0 {
            outcome = Outcome::AnswerIsNo;
        } else if args.store {
            text = with_offset(&text, &spec.channel.0, found.offset, &date_label())?;
        }
    }
    if args.store && text != probes.text {
        write_over(&args.probes, &text)?;
        print(&format!("stored in {}\n", args.probes.display()))?;
    }
    Ok(outcome)
}

fn chosen<'a>(set: &'a ProbeSet, names: &[String]) -> Result<Vec<&'a ChannelSpec>, AppError> {
    if names.is_empty() {
        return Ok(set.channels().collect());
    }
    let known = || set.channels().map(|spec| spec.channel.to_string()).collect::<Vec<_>>().join(", ");
    let find = |name: &String| {
        set.channels()
            .find(|spec| *spec.channel.0 == **name)
            .ok_or_else(|| AppError::NoChannel { asked: name.clone(), known: known() })
    };
    names.iter().map(find).collect()
}

/// The temperatures of each of `specs` in the last half of `span_s`.
fn listen(set: &ProbeSet, specs: &[&ChannelSpec], span_s: f64) -> Result<Vec<Vec<Celsius>>, AppError> {
    let span = Duration::try_from_secs_f64(span_s.clamp(1.0, 3600.0)).unwrap_or(Duration::from_secs(30));
    let began = Instant::now();
    let mut listening = Listening::start(set)?;
    let mut heard: Vec<Vec<(Instant, Celsius)>> = vec![Vec::new(); specs.len()];
    while let Some(told) = listening.next(Some(began + span)) {
        let PortEvent::Line { readings, .. } = &told.event else { continue };
        for reading in readings {
            let place = specs.iter().position(|spec| spec.channel == reading.channel);
            if let (Some(place), Ok(temp)) = (place, reading.value) {
                heard[place].push((told.at, temp));
            }
        }
    }
    listening.stop();
    let late = |list: Vec<(Instant, Celsius)>| {
        let first = began + span / 2;
        let late: Vec<Celsius> = list.iter().filter(|(at, _)| *at >= first).map(|(_, temp)| *temp).collect();
        // A recording is read at once: then the last half of its readings counts.
        if late.is_empty() { list[list.len() / 2..].iter().map(|(_, temp)| *temp).collect() } else { late }
    };
    Ok(heard.into_iter().map(late).collect())
}

fn in_words(spec: &ChannelSpec, found: &Finding) -> String {
    let mut words =
        format!("{}: reads {:.1} °C, off by {:+.2} K without its offset", spec.channel, found.mean.0, found.error.0);
    if let Some(tolerance) = found.tolerance {
        let is_in = found.error.0.abs() <= tolerance.most.0;
        let verdict = if is_in { "within" } else { "NOT within" };
        let _ = write!(words, "; {verdict} {} (±{:.1} K)", tolerance.source, tolerance.most.0);
    }
    words.push('\n');
    if let (Some(moved), Some(date)) = (found.moved, &spec.offset_date) {
        let _ = writeln!(words, "  moved by {:+.2} K since its offset was found on {date}", moved.0);
    }
    match found.suspect {
        Some(couple) => {
            let set = spec.couple;
            let _ = writeln!(
                words,
                "  reads as a type {couple} probe on a board set to type {set}: look at the wire's colours"
            );
        }
        None if found.error.0.abs() > LARGEST_OFFSET.0 => {
            let most_k = LARGEST_OFFSET.0;
            let _ = writeln!(words, "  more than {most_k:.0} K is no offset: look at the type, the wires and the bath");
        }
        None => {
            let _ = writeln!(words, "  offset = \"{:.2} K\" makes it right here", found.offset.0);
        }
    }
    words
}
