//! The report as a short text for a terminal.

use std::fmt::Write as _;

use super::account::Account;
use super::{clock, count, span};

/// The account in at most two dozen lines or so.
#[must_use]
pub fn short(account: &Account) -> String {
    let figures = account.figures();
    let mut text = String::new();
    // Writing to a string cannot fail.
    let begun = account.begun.as_ref().map_or_else(String::new, |begun| format!(", {begun}"));
    let _ = writeln!(text, "Heat-up of {}{begun}", account.lining);
    let _ = writeln!(text, "\ndryness    {}", account.dryness.verdict.words());
    let _ = writeln!(text, "length     {}, planned {}", span(account.length_s), span(account.planned_s));
    let _ = writeln!(text, "ended      {}", ended(account));
    let burner = &account.burner;
    let _ = writeln!(
        text,
        "burner     {} of {} planned, {} on of {}, about {} {} of propane",
        count(burner.pulses.len(), "pulse"),
        burner.planned_pulses,
        span(burner.on_s),
        span(burner.planned_on_s),
        figures.small_mass(burner.gas_kg),
        figures.small_mass_unit()
    );
    if !burner.at_marks.is_empty() {
        let _ = writeln!(text, "fires      {}", burner.fires_in_words());
    }
    let _ = writeln!(text, "danger     {}", danger_words(account));
    for section in &account.sections {
        if let Some(peak) = section.pressure_peak() {
            let _ = writeln!(
                text,
                "pressure   {}: peak of {}, at {}",
                section.section,
                figures.pressure_words([peak.low, peak.high]),
                clock(peak.elapsed_s)
            );
        }
    }
    if let Some(steepest) = account
        .channels
        .iter()
        .filter_map(super::ChannelAccount::steepest)
        .max_by(|a, b| a.ramp_k_h.total_cmp(&b.ramp_k_h))
    {
        let limit = figures.ramp(steepest.limit_k_h.unwrap_or(f64::NAN));
        let _ = writeln!(
            text,
            "ramp       at most {:.0} of {limit:.0} {} while wet, at {}",
            figures.ramp(steepest.ramp_k_h),
            figures.ramp_unit(),
            clock(steepest.elapsed_s)
        );
    }
    let answered = account.warnings.iter().filter(|warning| warning.answer.is_some()).count();
    let answered = if account.warnings.is_empty() { String::new() } else { format!(", {answered} answered") };
    let _ = writeln!(text, "warnings   {}{answered}", account.warnings.len());
    let _ = writeln!(text, "breaks     {}", count(account.interruptions.len(), "interruption"));
    for channel in &account.channels {
        let _ = writeln!(text, "probe      {}: {}", channel.channel, channel.health());
    }
    for trouble in &account.troubles {
        let _ = writeln!(text, "log        {trouble}");
    }
    text
}

/// Why it ended, in words.
pub(super) fn ended(account: &Account) -> String {
    account.ended.clone().unwrap_or_else(|| "the log stops without an end".to_owned())
}

/// The peak of danger against its ceiling, in words.
pub(super) fn danger_words(account: &Account) -> String {
    match account.danger_peak {
        Some(peak) => format!(
            "at most {peak:.2} of {:.2} for 95 of 100 possible linings (1 is spalling risk)",
            account.danger_ceiling
        ),
        None => "not recorded".to_owned(),
    }
}
