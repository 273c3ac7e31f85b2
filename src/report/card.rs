//! The card of a plan as a page to print on A4 and tape to the wall: what the text card says, with a plot of what to expect and
//! boxes to tick.

use maud::{Markup, html};

use super::page::{figure, sheet};
use super::plot::{Band, Line, Plot};
use crate::plan::card::{CardOf, DRAWN, HOT_FACE, TableRow, Told, told};
use crate::plan::{Expected, Flame, Plan};
use crate::units::quantity::UnitSystem;

/// Rounds of a longer plan are drawn together on the first sheet and stand one by one on the next.
const ON_ONE_SHEET: usize = 60;
/// A table longer than this stands in two halves side by side.
const HALVED: usize = 14;

/// The page of a plan with quantities in `units`; `advice` are headings with sentences that stand on a sheet of their own.
#[must_use]
pub fn page(of: &CardOf<'_>, units: UnitSystem, advice: &[(String, Vec<String>)]) -> String {
    let front = told(of, units, ON_ONE_SHEET);
    let is_drawn = front.rows.iter().any(|row| row.is_drawn);
    let body = html! {
        main .card {
            header { h1 { (front.title) } p .soft { (front.label) } }
            div .top {
                dl .short { @for (name, words) in &front.summary { dt { (name) } dd { (words) } } }
                (figure(&plot(of.plan, units), &format!("{} over hours: hot face expected, middle and 90 of 100 possible linings; the strip shows the burner.", front.temp_unit)))
            }
            (rounds(&front.rows, &front))
            @if is_drawn { p .small { (DRAWN) } }
            (reasons(&front))
            (closing(&front))
            p .call { "Emergency number and this address: " span .line {} }
        }
        @if is_drawn { (every_round(of, units)) }
        @if !advice.is_empty() {
            main .card .next {
                @for (heading, sentences) in advice {
                    section { h2 { (heading) } ul { @for sentence in sentences { li { (sentence) } } } }
                }
            }
        }
    };
    sheet(&front.title, &body)
}

fn every_round(of: &CardOf<'_>, units: UnitSystem) -> Markup {
    let all = told(of, units, usize::MAX);
    html! { main .card .next { h2 { "Every round" } (rounds(&all.rows, &all)) } }
}

fn rounds(rows: &[TableRow], told: &Told) -> Markup {
    let halves = if rows.len() > HALVED { rows.chunks(rows.len().div_ceil(2)) } else { rows.chunks(rows.len().max(1)) };
    html! {
        div .halves {
            @for half in halves {
                table {
                    thead { tr { th { "" } th .n { "round" } th { "begins" } th { "burner" } th { "hot face, " (told.temp_unit) } th { "why" } } }
                    tbody { @for row in half {
                        tr {
                            td { span .tick {} }
                            td .n { (row.rounds) }
                            td { (row.begins) }
                            td { (row.burner.trim()) }
                            td { (row.hot_face) }
                            td { (row.why) }
                        }
                    } }
                }
            }
        }
    }
}

fn reasons(told: &Told) -> Markup {
    html! {
        p .small { (HOT_FACE) }
        dl .why {
            @for reason in &told.reasons {
                dt { (reason.letter) }
                dd { @if !reason.when.is_empty() { (reason.when) ": " } (reason.words) }
            }
        }
    }
}

fn closing(told: &Told) -> Markup {
    html! {
        div .cautions {
            @for (heading, sentences) in &told.closing {
                section { h2 { (heading) } ul { @for sentence in sentences { li { (sentence) } } } }
            }
        }
    }
}

/// What the hot face should do, with the pulses of the burner.
fn plot(plan: &Plan, units: UnitSystem) -> Plot {
    let temp = |temp_c: f64| match units {
        UnitSystem::Metric => temp_c,
        UnitSystem::Us => 1.8 * temp_c + 32.0,
    };
    let mut plot = Plot::over_hours("Hot face expected over the heat-up, and when the burner burns", plan.length().0);
    let hours = |at: &Expected| at.elapsed.0 / 3600.0;
    let [low, middle, high] = [0, 1, 2].map(|which| move |at: &Expected| temp(at.hot_face[which].0));
    plot.bands.push(Band {
        series: None,
        label: "90 of 100 possible linings".into(),
        points: plan.expected.iter().map(|at| (hours(at), low(at), high(at))).collect(),
    });
    plot.lines.push(Line {
        series: 0,
        label: "middle".into(),
        points: plan.expected.iter().map(|at| (hours(at), middle(at))).collect(),
    });
    plot.strip = pulses(plan);
    plot
}

/// When the burner burns, h.
fn pulses(plan: &Plan) -> Vec<(f64, f64)> {
    let mut at_s = 0.0;
    let mut pulses: Vec<(f64, f64)> = Vec::new();
    for round in &plan.rounds {
        let [_, off] = round.firing.settings();
        for _ in 0..round.count {
            let between_s = if off.flame() == Flame::On { round.off.0 } else { 0.0 };
            let (from_h, to_h) = (at_s / 3600.0, (at_s + round.on.0 + between_s) / 3600.0);
            match pulses.last_mut() {
                Some(last) if from_h - last.1 < 1e-9 => last.1 = to_h,
                _ => pulses.push((from_h, to_h)),
            }
            at_s += round.on.0 + round.off.0;
        }
    }
    pulses
}
