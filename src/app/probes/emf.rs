//! `probes emf`: temperature to EMF and EMF to temperature.

use std::fmt::Write as _;

use serde_json::json;

use crate::app::{AppError, Outcome, print};
use crate::cli::EmfArgs;
use crate::thermocouple::{EmfError, Grade, Millivolts, Thermocouple};
use crate::units::Celsius;
use crate::units::quantity::{EMF, TEMPERATURE};

/// One figure turned round.
struct Pair {
    temp: Celsius,
    emf: Millivolts,
}

/// Runs the command.
pub(super) fn run(args: &EmfArgs) -> Result<Outcome, AppError> {
    let couple = Thermocouple::named(&args.couple).ok_or_else(|| AppError::NoCouple { asked: args.couple.clone() })?;
    let junction = Celsius(TEMPERATURE.parse(&args.cold_junction)?);
    let pairs = args.figures.iter().map(|figure| turned(couple, figure, junction));
    let pairs = pairs.collect::<Result<Vec<Pair>, AppError>>()?;
    let lines: String = if args.json {
        pairs.iter().map(|pair| in_json(couple, pair, junction)).collect()
    } else {
        pairs.iter().map(|pair| in_words(couple, pair, junction)).collect()
    };
    print(&lines)?;
    Ok(Outcome::Done)
}

/// Temperature and loop EMF of a figure that is either.
fn turned(couple: Thermocouple, figure: &str, junction: Celsius) -> Result<Pair, AppError> {
    let is_emf = EMF.parse(figure).is_ok();
    let pair = if is_emf {
        let emf = Millivolts(EMF.parse(figure)?);
        couple.compensated(emf, junction).map(|temp| Pair { temp, emf })
    } else {
        let temp = Celsius(TEMPERATURE.parse(figure)?);
        couple.loop_emf(temp, junction).map(|emf| Pair { temp, emf })
    };
    pair.map_err(|why: EmfError| AppError::Emf { figure: figure.to_owned(), source: why })
}

fn in_words(couple: Thermocouple, pair: &Pair, junction: Celsius) -> String {
    let (temp_c, emf_mv) = (pair.temp.0, pair.emf.0);
    let temp_f = temp_c * 1.8 + 32.0;
    let mut words = format!(
        "type {couple}, terminals at {:.1} °C: {temp_c:.2} °C ({temp_f:.2} °F) is {emf_mv:.4} mV\n",
        junction.0
    );
    for grade in Grade::ALL {
        if let Some(tolerance) = couple.tolerance(grade, pair.temp) {
            let _ = writeln!(words, "  {:20} ±{:.2} K", tolerance.source, tolerance.most.0);
        }
    }
    words
}

fn in_json(couple: Thermocouple, pair: &Pair, junction: Celsius) -> String {
    let tolerances: serde_json::Map<String, serde_json::Value> = Grade::ALL
        .into_iter()
        .filter_map(|grade| couple.tolerance(grade, pair.temp))
        .map(|tolerance| (tolerance.source.to_owned(), json!(tolerance.most.0)))
        .collect();
    let line = json!({
        "type": couple.letter(), "cold_junction_c": junction.0, "temp_c": pair.temp.0, "emf_mv": pair.emf.0,
        "tolerance_k": tolerances,
    });
    format!("{line}\n")
}
