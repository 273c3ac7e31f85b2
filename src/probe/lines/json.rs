//! One JSON object a line.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};

use super::{Items, Line, LineError, TIME_KEY, TempUnit, UNIT_KEY, Value, number_value, text};
use crate::reading::Fault;
use crate::units::Seconds;

/// Reads a line that begins with `{`.
pub(super) fn parse(body: &str) -> Result<Line, LineError> {
    let Members(members) = serde_json::from_str(body).map_err(|wrong| refused(&wrong, body))?;
    let mut board_time = None;
    let mut unit = None;
    let mut labelled: Vec<(String, Value)> = Vec::new();
    for (key, member) in members {
        match key.as_str() {
            TIME_KEY => set_once(&mut board_time, time(&member)?, TIME_KEY)?,
            UNIT_KEY => set_once(&mut unit, line_unit(&member)?, UNIT_KEY)?,
            _ if labelled.iter().any(|(known, _)| *known == key) => return Err(LineError::Twice { label: key }),
            _ => {
                let value = value(&key, &member)?;
                labelled.push((key, value));
            }
        }
    }
    if labelled.is_empty() {
        return Err(LineError::Json { why: "no label in it".to_owned() });
    }
    for (_, value) in &mut labelled {
        if let Value::Number { unit: own, .. } = value {
            *own = own.or(unit);
        }
    }
    Ok(Line { board_time, items: Items::Labelled(labelled) })
}

/// The members of an object in the order sent, doubles and all.
struct Members(Vec<(String, serde_json::Value)>);

impl<'de> Deserialize<'de> for Members {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Members;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object of labels and values")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Members, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Members(members))
            }
        }
        from.deserialize_map(InOrder)
    }
}

fn refused(wrong: &serde_json::Error, body: &str) -> LineError {
    if wrong.is_eof() {
        let mut after: Vec<char> = body.chars().rev().take(12).collect();
        after.reverse();
        return LineError::CutShort { after: after.into_iter().collect() };
    }
    LineError::Json { why: wrong.to_string() }
}

fn set_once<T>(slot: &mut Option<T>, value: T, key: &str) -> Result<(), LineError> {
    match slot.replace(value) {
        None => Ok(()),
        Some(_) => Err(LineError::Twice { label: key.to_owned() }),
    }
}

fn time(member: &serde_json::Value) -> Result<Seconds, LineError> {
    match member {
        serde_json::Value::Number(_) => text::time(&member.to_string()),
        other => Err(LineError::Time { found: other.to_string() }),
    }
}

fn line_unit(member: &serde_json::Value) -> Result<TempUnit, LineError> {
    let unit = member.as_str().and_then(TempUnit::named);
    unit.ok_or_else(|| LineError::Json { why: format!("unit is {member}, not C, F or K") })
}

fn value(key: &str, member: &serde_json::Value) -> Result<Value, LineError> {
    match member {
        serde_json::Value::Null => Ok(Value::Fault(Fault::Unnamed)),
        serde_json::Value::String(words) => text::value(words.trim()),
        serde_json::Value::Number(number) => match number.as_f64() {
            Some(number) => Ok(number_value(number, None)),
            None => Err(LineError::NotAValue { found: number.to_string() }),
        },
        _ => Err(LineError::Json { why: format!("{key} holds {member}") }),
    }
}
