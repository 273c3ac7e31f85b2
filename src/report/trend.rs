//! A series of heat-ups as a page and as a short text.

use std::fmt::Write as _;

use maud::{Markup, html};

use super::figures::Figures;
use super::page::{figure, sheet};
use super::plot::{Along, Band, Line, Plot};
use super::span;
use crate::ageing::{Compared, Fitted, Trend, Verdict};
use crate::units::quantity::UnitSystem;

/// The trend as a table for a terminal.
#[must_use]
pub fn short(trend: &Trend, units: UnitSystem) -> String {
    let figures = Figures(units);
    let mut text = format!("lining: {}\n", trend.verdict.words());
    // Writing to a string cannot fail.
    for reason in &trend.reasons {
        let _ = writeln!(text, "  {reason}");
    }
    let target_c = trend.heat_ups.first().map_or(0.0, |first| first.target_c);
    let to = format!("to {}", figures.temp_words(target_c));
    let _ = writeln!(
        text,
        "\n{:>3}  {:<28} {to:>11}  {:>8}  {:>7}  {:>8}  {:>12}  {:>6}",
        "no", "log", "gas", "outside", "cooling", "conductivity", "burner"
    );
    for (index, one) in trend.heat_ups.iter().enumerate() {
        let [time, gas, outside, cooling] = cells(one, figures);
        let lining = shown(trend.conductivity.get(index).copied().flatten());
        let burner = shown(trend.burner.get(index).copied().flatten());
        let name: String = one.log.chars().take(28).collect();
        let _ = writeln!(
            text,
            "{:>3}  {name:<28} {time:>11}  {gas:>8}  {outside:>7}  {cooling:>8}  {lining:>12}  {burner:>6}",
            index + 1
        );
    }
    if !trend.confounders.is_empty() {
        text += "\nbesides the lining:\n";
        for confounder in &trend.confounders {
            let _ = writeln!(text, "  {confounder}");
        }
    }
    text
}

fn cells(one: &Compared, figures: Figures) -> [String; 4] {
    let none = || "–".to_owned();
    [
        one.time_s.map_or_else(none, span),
        one.gas_kg.map_or_else(none, |gas_kg| format!("{} {}", figures.small_mass(gas_kg), figures.small_mass_unit())),
        one.shell_rise_k.map_or_else(none, |rise_k| format!("+{}", figures.diff_words(rise_k))),
        one.cool_down_h.map_or_else(none, |constant_h| format!("{constant_h:.2} h")),
    ]
}

fn shown(ratio: Option<Fitted>) -> String {
    ratio.map_or_else(|| "–".to_owned(), |ratio| format!("{:.2}", ratio.factor))
}

/// The trend as a page.
#[must_use]
pub fn page(trend: &Trend, lining: &str, units: UnitSystem) -> String {
    let (class, words) = match trend.verdict {
        Verdict::Inspect => ("answer inspect", "Inspect the lining."),
        Verdict::AsNew => ("answer new", "The lining is as new."),
        Verdict::CannotTell => ("answer", "Whether the lining has worn cannot be told."),
    };
    let body = html! {
        header {
            h1 { "Wear of " (lining) }
            p .soft { (trend.heat_ups.len()) " heat-ups, compared with " (trend.baseline.as_deref().unwrap_or("none: no baseline yet")) "." }
        }
        div class=(class) {
            strong { (words) }
            @for reason in &trend.reasons { p { (reason) "." } }
        }
        section {
            h2 { "Besides the lining" }
            ul { @for confounder in &trend.confounders { li { (confounder) "." } } }
        }
        section {
            h2 { "Conductivity of the lining" }
            (ratios(&trend.conductivity, "conductivity", Some(1.2)))
        }
        section {
            h2 { "Heat of the burner" }
            (ratios(&trend.burner, "burner", Some(0.85)))
        }
        (table(trend, Figures(units)))
        footer {
            p { "Conductivity is the factor with which the wall engine, driven by the hot face that was read, makes the outside as hot as it was read; "
                "the burner's heat that with which the hot face gets as hot as it was. Pressure, air and start temperature are counted in as noted. "
                "Time and gas are as they were. An inspection is called for at a fifth more conductivity on three like heat-ups in a row: our own proposal." }
        }
    };
    sheet(&format!("Wear of {lining}"), &body)
}

fn ratios(ratios: &[Option<Fitted>], label: &str, limit: Option<f64>) -> Markup {
    let known = || ratios.iter().enumerate().filter_map(|(index, ratio)| Some((index as f64 + 1.0, (*ratio)?)));
    let count = ratios.len().max(2) as f64;
    let mut plot = Plot::over_hours(&format!("{label} against the baseline, heat-up by heat-up"), 3600.0);
    plot.along = Along::Count;
    (plot.from, plot.to) = (0.5, count + 0.5);
    (plot.low, plot.high) = (0.0, 1.4);
    plot.bands.push(Band {
        series: Some(0),
        label: String::new(),
        points: known().map(|(at, one)| (at, one.factor * (1.0 - one.error), one.factor * (1.0 + one.error))).collect(),
    });
    let points = known().map(|(at, one)| (at, one.factor)).collect();
    plot.dots.push(Line { series: 0, label: format!("{label}, baseline is 1"), points });
    plot.limits.extend(limit.map(|limit| Line {
        series: 0,
        label: format!("three in a row beyond {limit}"),
        points: vec![(0.5, limit), (count + 0.5, limit)],
    }));
    if plot.is_empty() || known().count() == 0 {
        return html! { p { "Nothing can be compared yet." } };
    }
    figure(&plot, "Against the number of the heat-up. Shade: one standard deviation.")
}

fn table(trend: &Trend, figures: Figures) -> Markup {
    let target_c = trend.heat_ups.first().map_or(0.0, |first| first.target_c);
    let rows = trend.heat_ups.iter().enumerate();
    html! {
        section {
            h2 { "Each heat-up" }
            table .stack {
                thead { tr { th { "log" } th .n { "to " (figures.temp_words(target_c)) } th .n { "gas" } th .n { "outside" } th .n { "cooling" } th .n { "lining" } th .n { "burner" } } }
                tbody { @for (index, one) in rows {
                    @let [time, gas, outside, cooling] = cells(one, figures);
                    tr {
                        td data-l="log" { span { (index + 1) ". " (one.log) @if let Some(begun) = &one.begun { span .small .soft { " " (begun) } } } }
                        td .n data-l="time" { (time) }
                        td .n data-l="gas" { (gas) }
                        td .n data-l="outside" { (outside) }
                        td .n data-l="cooling" { (cooling) }
                        td .n data-l="lining" { (shown(trend.conductivity.get(index).copied().flatten())) }
                        td .n data-l="burner" { (shown(trend.burner.get(index).copied().flatten())) }
                    }
                } }
            }
            p .small .soft { "Outside: hottest above the air. Cooling: time constant of the hot face, from a quarter of an hour after the last flame." }
        }
    }
}
