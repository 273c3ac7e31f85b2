//! The report as one HTML page: no script, nothing fetched, right on a screen, a telephone and on paper.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::account::{Account, PlanCheck};
use super::burner::{Pulse, ToldOfBurner};
use super::channels::ChannelAccount;
use super::dryness::{Evidence, Verdict};
use super::figures::Figures;
use super::happenings::{Interruption, WarningAccount};
use super::plot::{Band, Line, Plot, SERIES, Width};
use super::sections::{RangePoint, SectionAccount};
use super::text::{danger_words, ended};
use super::{clock, count, span};
use crate::run::Word;

const STYLE: &str = include_str!("page.css");

/// A whole page round `body`. The policy in its head keeps a browser from fetching anything.
#[must_use]
pub fn sheet(title: &str, body: &Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    }
    .into_string()
}

/// The page of one heat-up.
#[must_use]
pub fn page(account: &Account) -> String {
    let body = html! {
        header {
            h1 { "Heat-up of " (account.lining) }
            p .soft { @if let Some(begun) = &account.begun { "Begun " (begun) ". " } "From the log " (account.log) "." }
        }
        (answer(account))
        (next(account))
        (overview(account))
        (dryness(account))
        (temperatures(account))
        (ramps(account))
        (inside(account))
        (burner(account))
        (warnings(&account.warnings))
        (interruptions(account))
        (probes(&account.channels, account.figures()))
        (about(account))
    };
    sheet(&format!("Heat-up of {}", account.lining), &body)
}

fn answer(account: &Account) -> Markup {
    let (class, words) = match account.dryness.verdict {
        Verdict::Dry => ("answer dry", "The lining is dry."),
        Verdict::NotDry => ("answer not-dry", "The lining is not dry yet."),
        Verdict::CannotTell => ("answer", "Whether the lining is dry cannot be told."),
    };
    html! {
        div class=(class) {
            strong { (words) }
            @if account.was_danger_reached() {
                p .against { "Danger was reached: the lining may have spalled inside. Inspect it cold before any further heat." }
            }
            p { (span(account.length_s)) ", planned " (span(account.planned_s)) ". "
                "Danger number " (danger_words(account)) ". "
                (count(account.warnings.len(), "warning")) "." }
        }
    }
}

fn next(account: &Account) -> Markup {
    html! {
        section {
            h2 { "What to do next" }
            ol { @for step in &account.next { li { (step) } } }
        }
    }
}

fn overview(account: &Account) -> Markup {
    let figures = account.figures();
    html! {
        section {
            h2 { "The heat-up in short" }
            dl {
                dt { "Ended" } dd { (ended(account)) }
                dt { "Length" } dd { (span(account.length_s)) " of " (span(account.planned_s)) " planned" }
                dt { "Pulses" } dd { (account.burner.pulses.len()) " of " (account.burner.planned_pulses) " planned" }
                dt { "Gas" } dd { "about " (figures.small_mass(account.burner.gas_kg)) " " (figures.small_mass_unit()) " of propane at the burner's fuel rate" }
                @for (name, value) in &account.notes { dt { (name) } dd { (value) } }
            }
            @if !account.troubles.is_empty() {
                p .against { "The log is not whole; what follows holds for what it has:" }
                ul { @for trouble in &account.troubles { li { (trouble) } } }
            }
        }
    }
}

fn dryness(account: &Account) -> Markup {
    let mark = |evidence: &Evidence| match evidence.says {
        Some(Verdict::Dry) => ("for", "+ for"),
        Some(Verdict::NotDry) => ("against", "− against"),
        Some(Verdict::CannotTell) => ("doubt", "? in doubt"),
        None => ("soft", "· no vote"),
    };
    html! {
        section {
            h2 { "Dryness: " (account.dryness.verdict.words()) }
            ul .evidence {
                @for evidence in &account.dryness.evidence {
                    li { span class=(mark(evidence).0) { (mark(evidence).1) } span { (evidence.what) } }
                }
            }
        }
    }
}

fn temperatures(account: &Account) -> Markup {
    let (figures, unit) = (account.figures(), account.figures().temp_unit());
    let temp = |temp_c: f64| figures.temp(temp_c);
    let mut plot = over(account, "Temperature of each probe over time, with what the plan expected of the hot face");
    plot.bands.push(Band {
        series: None,
        label: "hot face as planned".into(),
        points: account
            .expected
            .iter()
            .map(|(at_s, low_c, high_c)| (at_s / 3600.0, temp(*low_c), temp(*high_c)))
            .collect(),
    });
    for (series, channel) in account.channels.iter().enumerate() {
        let points = channel.curve.iter();
        plot.bands.push(Band {
            series: Some(series),
            label: String::new(),
            points: points
                .clone()
                .map(|point| (point.elapsed_s / 3600.0, temp(point.low_c), temp(point.high_c)))
                .collect(),
        });
        let points = points.map(|point| (point.elapsed_s / 3600.0, temp(point.mean_c))).collect();
        plot.lines.push(Line { series, label: channel.channel.clone(), points });
    }
    plot.strip = account.burner.pulses.iter().map(|pulse| (pulse.lit_s / 3600.0, pulse.shut_s / 3600.0)).collect();
    html! {
        section {
            h2 { "Plan against reality" }
            (figure(&plot, &format!("{unit} over hours. Each line is the mean, the shade round it what the pulses did to it; the strip below shows the burner.")))
            @if account.plan.is_empty() {
                p { "The plan was never begun." }
            } @else {
                table {
                    thead { tr { th { "time" } th .n { "planned, " (unit) } th .n { "read, " (unit) } th { "" } } }
                    tbody { @for check in &account.plan { (plan_row(check, figures)) } }
                }
                p .small .soft { "Read: the hottest hot face on the mean over a pulse with its pause. Times move with pauses and late pulses." }
            }
        }
    }
}

fn plan_row(check: &PlanCheck, figures: Figures) -> Markup {
    let off = match check.off_k() {
        None => "no reading".to_owned(),
        Some(off_k) if off_k > 0.5 => format!("{} above", figures.diff_words(off_k)),
        Some(off_k) if off_k < -0.5 => format!("{} below", figures.diff_words(-off_k)),
        Some(_) => "as planned".to_owned(),
    };
    html! {
        tr {
            td data-l="time" { (clock(check.elapsed_s)) }
            td .n data-l="planned" { (format!("{:.0} to {:.0}", figures.temp(check.low_c), figures.temp(check.high_c))) }
            td .n data-l="read" { (check.read_c.map_or("–".to_owned(), |read_c| format!("{:.0}", figures.temp(read_c)))) }
            td data-l="" { (off) }
        }
    }
}

fn ramps(account: &Account) -> Markup {
    let (figures, unit) = (account.figures(), account.figures().ramp_unit());
    let mut plot =
        over(account, "Rise of each hot face on the mean over the pulses, with the steepest that was allowed");
    for (series, channel) in account.channels.iter().enumerate().filter(|(_, channel)| !channel.ramp.is_empty()) {
        let points =
            channel.ramp.iter().map(|point| (point.elapsed_s / 3600.0, figures.ramp(point.ramp_k_h))).collect();
        plot.lines.push(Line { series, label: channel.channel.clone(), points });
        let limits =
            channel.ramp.iter().filter_map(|point| Some((point.elapsed_s / 3600.0, figures.ramp(point.limit_k_h?))));
        let label = format!("limit while wet, {}", channel.channel);
        plot.limits.push(Line { series, label, points: limits.collect() });
    }
    html! {
        section {
            h2 { "Ramps and their limits" }
            @if plot.is_empty() {
                p { "No hot face was read long enough to know how fast it rose." }
            } @else {
                (figure(&plot, &format!("{unit} over hours, on the mean over whole pulses. The limit ends where every possible lining was dry.")))
            }
            @for channel in &account.channels {
                @if let Some(steepest) = channel.steepest() {
                    p { (channel.channel) ": at most " (format!("{:.0}", figures.ramp(steepest.ramp_k_h))) " " (unit) " of "
                        (format!("{:.0}", figures.ramp(steepest.limit_k_h.unwrap_or(f64::NAN)))) " allowed while wet, at " (clock(steepest.elapsed_s)) "." }
                }
            }
        }
    }
}

fn inside(account: &Account) -> Markup {
    let figures = account.figures();
    let sections = &account.sections;
    let mut danger = ranges(
        account,
        "Danger number of each section over time, with its ceiling",
        |section| &section.danger,
        |danger| danger,
    );
    danger.high = account.danger_ceiling;
    danger.limits.push(level(account, "ceiling", account.danger_ceiling));
    if account.was_danger_reached() {
        danger.limits.push(level(account, "spalling risk", 1.0));
    }
    let pressure = ranges(
        account,
        "Highest pore pressure in each section over time",
        |section| &section.pressure_mpa,
        |mpa| figures.pressure(mpa),
    );
    let water = ranges(
        account,
        "Water left in each section over time",
        |section| &section.water_left_kg,
        |kg| figures.water(kg),
    );
    html! {
        section {
            h2 { "Danger" }
            @if danger.is_empty() { p { "No estimate was recorded." } }
            @else { (figure(&danger, "Danger number as it was estimated then: 1 is spalling risk. Line: middle; shade: 90 of 100 possible linings.")) }
        }
        section {
            h2 { "Steam pressure" }
            (figure(&pressure, &format!("Highest steam pressure in the pores, {}. Line: middle; shade: from the lowest to the highest of the linings it was worked out for. Made for this report by driving the wall engine with the readings; models of this kind miss measured peaks by half and more.", figures.pressure_unit())))
            @for section in sections {
                @if let Some(peak) = section.pressure_peak() {
                    p { (section.section) ": peak of " (figures.pressure_words([peak.low, peak.high])) ", at " (clock(peak.elapsed_s)) "." }
                }
            }
        }
        section {
            h2 { "Water" }
            @if water.is_empty() { p { "No estimate was recorded." } }
            @else { (figure(&water, &format!("Water left, {}, free and bound, as it was estimated then. Water that was driven into fibre counts here, but is harmless there: dry is judged on the layers that can spall.", figures.water_unit()))) }
            table {
                thead { tr { th { "section" } th .n { "at the start" } th .n { "at the end" } th { "dry from" } } }
                tbody { @for section in sections { (water_row(section, figures)) } }
            }
        }
    }
}

fn water_row(section: &SectionAccount, figures: Figures) -> Markup {
    let (mass, unit) = (|kg: f64| figures.small_mass(kg), figures.small_mass_unit());
    let end = section
        .water_left_kg
        .last()
        .map_or("not recorded".to_owned(), |last| format!("{} to {} {unit}", mass(last.low), mass(last.high)));
    html! {
        tr {
            td data-l="section" { (section.section) }
            td .n data-l="at the start" { (mass(section.water_start_kg)) " " (unit) }
            td .n data-l="at the end" { (end) }
            td data-l="dry from" { (section.dry_from_s.map_or("wet to the end".to_owned(), clock)) }
        }
    }
}

fn burner(account: &Account) -> Markup {
    let burner = &account.burner;
    let odd: Vec<&Pulse> = burner.odd_pulses().collect();
    html! {
        section {
            h2 { "Pulses done" }
            dl {
                dt { "Pulses" } dd { (burner.pulses.len()) ", planned " (burner.planned_pulses) }
                dt { "Burner on" } dd { (span(burner.on_s)) ", planned " (span(burner.planned_on_s)) }
                @if !burner.at_marks.is_empty() { dt { "Fires" } dd { (burner.fires_in_words()) } }
                dt { "Known from" } dd { @match burner.told_by {
                    ToldOfBurner::Operator => "the operator's word",
                    ToldOfBurner::Cues => "the cues; nobody said what was done",
                } }
            }
            @if odd.is_empty() { p { "Every pulse began and ended within 10 s of its cue." } }
            @else {
                p { (count(burner.pulses.len() - odd.len(), "pulse")) " as asked; these were not:" }
                table .stack {
                    thead { tr { th { "lit at" } th .n { "burnt for" } th { "begun" } th { "ended" } } }
                    tbody { @for pulse in odd { (pulse_row(pulse)) } }
                }
            }
        }
    }
}

fn pulse_row(pulse: &Pulse) -> Markup {
    let begun = match pulse.late_s {
        None => "unasked".to_owned(),
        Some(late_s) if late_s >= 1.0 => format!("{} late", span(late_s)),
        Some(_) => "in time".to_owned(),
    };
    let ended = match pulse.over_s {
        None => "before its cue".to_owned(),
        Some(over_s) if over_s >= 1.0 => format!("{} late", span(over_s)),
        Some(over_s) if over_s <= -1.0 => format!("{} early", span(-over_s)),
        Some(_) => "in time".to_owned(),
    };
    html! {
        tr {
            td data-l="lit at" { (clock(pulse.lit_s)) }
            td .n data-l="burnt for" { (span(pulse.length_s())) }
            td data-l="begun" { (begun) }
            td data-l="ended" { (ended) }
        }
    }
}

fn warnings(warnings: &[WarningAccount]) -> Markup {
    html! {
        section {
            h2 { "Warnings and answers" }
            @if warnings.is_empty() { p { "None was given." } }
            @else {
                table .stack {
                    thead { tr { th { "time" } th { "warning" } th { "answer" } th { "over" } } }
                    tbody { @for warning in warnings { (warning_row(warning)) } }
                }
            }
        }
    }
}

fn warning_row(warning: &WarningAccount) -> Markup {
    let answer = warning.answer.as_ref().map_or("none".to_owned(), |(word, after_s)| {
        let word = match word {
            Word::On => "said lit",
            Word::Off => "said shut",
            Word::Pause => "paused",
            Word::Resume => "went on",
            Word::Silence => "silenced",
            Word::Replan => "a new plan asked for",
            Word::Quit => "ended it",
        };
        format!("{word} after {}", span(*after_s))
    });
    let place = warning.place.as_ref().map_or_else(String::new, |place| format!(", {place}"));
    html! {
        tr {
            td data-l="time" { (clock(warning.at_s)) }
            td data-l="warning" { div { b { (warning.cause.title()) (place) } br; (warning.action) ": " (warning.reason) } }
            td data-l="answer" { (answer) }
            td data-l="over" { (warning.over_s.map_or("stood to the end".to_owned(), clock)) }
        }
    }
}

fn interruptions(account: &Account) -> Markup {
    let length = |one: &Interruption| match one.to_s {
        Some(to_s) if to_s - one.from_s >= 1.0 => span(to_s - one.from_s),
        Some(_) => String::new(),
        None => "to the end".to_owned(),
    };
    html! {
        section {
            h2 { "Interruptions" }
            @if account.interruptions.is_empty() { p { "None." } }
            @else {
                table .stack {
                    thead { tr { th { "time" } th { "what" } th { "for" } } }
                    tbody { @for one in &account.interruptions {
                        tr { td data-l="time" { (clock(one.from_s)) } td data-l="what" { (one.what) } td data-l="for" { (length(one)) } }
                    } }
                }
            }
        }
    }
}

fn probes(channels: &[ChannelAccount], figures: Figures) -> Markup {
    let highest = |channel: &ChannelAccount| match (channel.highest_c, channel.highest_at_s) {
        (Some(highest_c), Some(at_s)) => format!("{} at {}", figures.temp_words(highest_c), clock(at_s)),
        _ => "–".to_owned(),
    };
    html! {
        section {
            h2 { "Probe health" }
            table .stack {
                thead { tr { th { "probe" } th { "place" } th .n { "readings" } th { "highest" } th { "health" } } }
                tbody { @for channel in channels {
                    tr {
                        td data-l="probe" { (channel.channel) }
                        td data-l="place" { (channel.place) }
                        td .n data-l="readings" { (channel.readings) @if channel.bad_readings > 0 { ", " (channel.bad_readings) " bad" } }
                        td data-l="highest" { (highest(channel)) }
                        td data-l="health" { (channel.health()) }
                    }
                } }
            }
        }
    }
}

fn about(account: &Account) -> Markup {
    html! {
        footer {
            p { "Temperatures, danger, water, warnings and words are as recorded by " (account.program)
                ". Pore pressure and the time of drying were worked out for this report: the wall engine, with up to 8 possible linings, "
                "was driven by the recorded readings in pieces of a minute or more. Times are hours and minutes since the heat-up began." }
            p { "This is a record and advice. It replaces no inspection, no gas detector and no judgement of the person at the furnace." }
        }
    }
}

fn over(account: &Account, told: &str) -> Plot {
    Plot::over_hours(told, account.length_s)
}

fn level(account: &Account, label: &str, value: f64) -> Line {
    Line { series: 0, label: label.into(), points: vec![(0.0, value), (account.length_s / 3600.0, value)] }
}

fn ranges(
    account: &Account,
    told: &str,
    of: impl Fn(&SectionAccount) -> &Vec<RangePoint>,
    shown: impl Fn(f64) -> f64,
) -> Plot {
    let mut plot = over(account, told);
    for (series, section) in account.sections.iter().enumerate() {
        let points = of(section);
        plot.bands.push(Band {
            series: Some(series),
            label: String::new(),
            points: points
                .iter()
                .map(|point| (point.elapsed_s / 3600.0, shown(point.low), shown(point.high)))
                .collect(),
        });
        let points = points.iter().map(|point| (point.elapsed_s / 3600.0, shown(point.mid))).collect();
        plot.lines.push(Line { series, label: section.section.clone(), points });
    }
    plot
}

/// A plot in both widths with its key and a caption.
#[must_use]
pub fn figure(plot: &Plot, caption: &str) -> Markup {
    html! {
        figure {
            (PreEscaped(plot.svg(Width::Wide)))
            (PreEscaped(plot.svg(Width::Narrow)))
            ul .key {
                @for line in &plot.lines { (key(&format!("line s{}", line.series % SERIES), &line.label)) }
                @for line in &plot.dots { (dot_key(line.series % SERIES, &line.label)) }
                @for line in &plot.limits { (key("limit", &line.label)) }
                @for band in plot.bands.iter().filter(|band| !band.label.is_empty()) { (band_key(&band.label)) }
            }
            figcaption { (caption) }
        }
    }
}

fn key(class: &str, label: &str) -> Markup {
    html! { li { svg viewBox="0 0 30 12" aria-hidden="true" { path class=(class) d="M0,6 L30,6" {} } (label) } }
}

fn dot_key(series: usize, label: &str) -> Markup {
    let class = format!("dot s{series}");
    let shape =
        if series.is_multiple_of(2) { "M11,6 a4,4 0 1 0 8,0 a4,4 0 1 0 -8,0 z" } else { "M15,1 l5,5 l-5,5 l-5,-5 z" };
    html! { li { svg viewBox="0 0 30 12" aria-hidden="true" { path class=(class) d=(shape) {} } (label) } }
}

fn band_key(label: &str) -> Markup {
    html! { li { svg viewBox="0 0 30 12" aria-hidden="true" { rect class="band planned" width="30" height="12" {} } (label) } }
}
