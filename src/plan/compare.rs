//! Which of several heat-ups to take on a lining, in one sentence.

use super::trial::Trial;

/// How good a heat-up is, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Grade {
    /// Keeps the ceiling, and the lining is dry at the end.
    Good,
    /// Keeps the ceiling, and some water is left though the danger has passed.
    Wet,
    /// Over the ceiling, but below the number at which spalling is a risk.
    Thin,
    /// Stops before the danger has passed.
    Short,
    /// Spalling is a risk.
    Spalls,
}

fn grade(trial: &Trial, ceiling: f64) -> Grade {
    match trial.danger[2] {
        risk if risk >= 1.0 => Grade::Spalls,
        over if over > ceiling => Grade::Thin,
        _ if !trial.is_past_its_peak() => Grade::Short,
        _ if trial.dry[2].is_some() => Grade::Good,
        _ => Grade::Wet,
    }
}

/// Which of the heat-ups, each with its name, to take on a lining with a `ceiling` on the danger number; `None` when there
/// are not at least two.
///
/// The shortest of those that keep the ceiling and dry the lining; failing that the one that comes nearest. Never one at
/// which spalling is a risk, nor one that stops while the danger still stands: it only seems gentle.
#[must_use]
pub fn answer(trials: &[(&str, &Trial)], ceiling: f64) -> Option<String> {
    let cost = |trial: &Trial| match grade(trial, ceiling) {
        Grade::Good | Grade::Wet | Grade::Short => trial.length.0,
        Grade::Thin | Grade::Spalls => trial.danger[2],
    };
    let order = |a: &Trial, b: &Trial| grade(a, ceiling).cmp(&grade(b, ceiling)).then(cost(a).total_cmp(&cost(b)));
    let (first, others) = (trials.len() > 1).then_some(trials)?.split_first()?;
    let best = others.iter().fold(first, |best, next| if order(next.1, best.1).is_lt() { next } else { best });
    let rest: Vec<String> = trials
        .iter()
        .filter(|other| !std::ptr::eq(*other, best))
        .map(|other| against(other, best.1, ceiling))
        .collect();
    Some(format!("{}; {}.", in_favour(best, ceiling), rest.join("; ")))
}

fn in_favour((name, trial): &(&str, &Trial), ceiling: f64) -> String {
    let (danger, hours) = (trial.danger[2], trial.length.hours());
    match grade(trial, ceiling) {
        Grade::Good => format!(
            "Take {name}: its danger number of {danger:.2} keeps the ceiling of {ceiling:.2}, and the lining is dry within its \
             {hours:.1} h"
        ),
        Grade::Wet => format!(
            "Take {name}, and then hold its last temperature until the lining is dry: its danger number of {danger:.2} keeps \
             the ceiling of {ceiling:.2}, but water is left after its {hours:.1} h"
        ),
        Grade::Thin => format!(
            "None keeps the ceiling of {ceiling:.2}; {name} comes nearest with a danger number of {danger:.2}, so ask \
             `firstheat plan` for a gentler one"
        ),
        Grade::Short => {
            "Take none: they stop before the danger has passed, so what they keep below says nothing of the heat \
                         that must follow"
                .to_owned()
        }
        Grade::Spalls => format!(
            "Take none: even {name} comes to a danger number of {danger:.2}, and spalling is a risk from 1 on, so dry the \
             lining longer, let steam out behind it, or ask `firstheat plan`"
        ),
    }
}

/// What speaks against one that was not taken, beside `best`.
fn against((name, trial): &(&str, &Trial), best: &Trial, ceiling: f64) -> String {
    let danger = trial.danger[2];
    match grade(trial, ceiling) {
        Grade::Spalls => format!("{name} comes to {danger:.2} ({})", trial.danger_place),
        Grade::Thin => format!("{name} passes the ceiling with {danger:.2}"),
        Grade::Short => {
            let (left_kg, start_kg) = trial.water_left_kg();
            format!("{name} stops before the danger has passed, with {left_kg:.1} of {start_kg:.1} kg of water in it")
        }
        Grade::Wet if grade(best, ceiling) == Grade::Good => format!("{name} leaves water in it"),
        Grade::Good | Grade::Wet => {
            format!("{name} is no worse ({danger:.2}) but {:.1} h longer", trial.length.hours() - best.length.hours())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;

    fn trial(danger: f64, hours: f64, is_dry: bool) -> Trial {
        let length = Seconds::from_hours(hours);
        Trial {
            length,
            danger: [danger; 3],
            danger_place: "sealed back of the wall, steam 1.00 MPa against 1.0 MPa strength".to_owned(),
            sections: Vec::new(),
            pressure_pa: [1e6; 3],
            pressure_place: crate::plan::trial::PressurePlace::default(),
            dry: [is_dry.then_some(length); 3],
            water_start_kg: [1.0; 3],
            shell_c: [60.0; 3],
            fuel: crate::units::Kilograms(1.0),
            rows: Vec::new(),
        }
    }

    fn said(trials: &[Trial]) -> String {
        let named: Vec<(&str, &Trial)> = ["C", "D", "N"].into_iter().zip(trials).collect();
        answer(&named, 0.5).unwrap_or_default()
    }

    #[test]
    fn the_shortest_that_keeps_the_ceiling_and_dries_is_taken() {
        let said = said(&[trial(0.9, 10.0, true), trial(0.3, 30.0, true), trial(0.4, 20.0, true)]);
        assert_eq!(
            said,
            "Take N: its danger number of 0.40 keeps the ceiling of 0.50, and the lining is dry within its 20.0 h; C passes the \
             ceiling with 0.90; D is no worse (0.30) but 10.0 h longer."
        );
    }

    #[test]
    fn one_that_leaves_water_is_not_taken_for_being_short() {
        assert!(said(&[trial(0.2, 5.0, false), trial(0.3, 30.0, true)]).starts_with("Take D: "));
    }

    #[test]
    fn one_that_stops_at_its_peak_only_seems_gentle() {
        let mut short = trial(0.3, 5.0, false);
        short.rows.push(crate::plan::trial::Row {
            elapsed: short.length,
            gas: crate::units::Celsius(250.0),
            hot_face_c: [200.0; 3],
            shell_c: [60.0; 3],
            water_out_kg: [0.2; 3],
            danger: [0.3; 3],
            pressure_pa: [1e6; 3],
        });
        let said = said(&[short, trial(0.7, 30.0, true)]);
        assert!(said.starts_with("None keeps the ceiling of 0.50; D comes nearest"), "{said}");
        assert!(said.ends_with("C stops before the danger has passed, with 0.8 of 1.0 kg of water in it."), "{said}");
    }

    #[test]
    fn where_all_are_a_risk_none_is_taken() {
        let said = said(&[trial(1.4, 5.0, true), trial(1.2, 30.0, true)]);
        assert!(said.starts_with("Take none: even D comes to a danger number of 1.20"), "{said}");
        assert!(said.contains("C comes to 1.40 (sealed back of the wall, steam"), "{said}");
    }

    #[test]
    fn one_over_the_ceiling_is_named_but_not_recommended() {
        assert!(
            said(&[trial(0.8, 5.0, true), trial(1.2, 3.0, true)])
                .starts_with("None keeps the ceiling of 0.50; C comes")
        );
    }

    #[test]
    fn a_single_one_is_not_compared() {
        assert_eq!(said(&[trial(0.8, 5.0, true)]), "");
    }
}
