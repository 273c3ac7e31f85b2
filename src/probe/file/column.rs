//! The keys that say where a channel's value comes from: a label, a position, a query or a register.

use super::keys::{Bounds, Keys};
use super::{At, ProbeFileError};
use crate::probe::lines::{EmfUnit, TIME_KEY, UNIT_KEY};
use crate::probe::set::{Column, Junction, Number, Protocol, Register, Sends, Table, WordOrder};
use crate::units::Celsius;
use crate::units::quantity::TEMPERATURE;

/// Most values on a line.
pub(super) const MOST_COLUMNS: usize = 256;

/// Query sent when the probe file names none (SCPI-99, volume 2, 3; the commonest on instruments with one input).
const USUAL_QUERY: &str = "MEAS:TEMP?";

/// Longest query, bytes. IEEE 488.2 sets no limit; input buffers of small instruments hold 64 or more (memory).
const LONGEST_QUERY: usize = 64;

static JUNCTION: Bounds = Bounds { measure: &TEMPERATURE, unit: "C", per_base: 1.0, least: -40.0, most: 125.0 };

/// Keys of a channel that belong to one protocol.
pub(super) fn keys_of(protocol: Protocol) -> &'static [&'static str] {
    match protocol {
        Protocol::Text => &["label", "position"],
        Protocol::Scpi => &["query", "position"],
        Protocol::ModbusRtu => &["device", "register", "table", "number", "order", "scale"],
    }
}

/// Where the value of the channel called `name` comes from.
pub(super) fn column(keys: &Keys, protocol: Protocol, name: &str) -> Result<Column, ProbeFileError> {
    match protocol {
        Protocol::Text => match written_column(keys)? {
            Some(column) => Ok(column),
            None => label_column(name.to_owned(), keys.at("name")),
        },
        Protocol::Scpi => answer_column(keys, USUAL_QUERY),
        Protocol::ModbusRtu => register(keys, 1).map(Column::Register),
    }
}

/// Whether the channel sends temperatures or an EMF, and how warm its terminals are.
pub(super) fn sends(keys: &Keys, protocol: Protocol, column: &Column) -> Result<Sends, ProbeFileError> {
    let is_emf = keys.choice("sends", &[("temperature", false), ("emf", true)])?.unwrap_or(false);
    if !is_emf {
        return match keys.first_of(&["emf-unit", "junction"]) {
            None => Ok(Sends::Temp),
            Some(key) => Err(not_beside(keys, key, "a channel that sends temperatures", "with sends = \"emf\"")),
        };
    }
    if let Some(key) = keys.first_of(&["unit"]) {
        return Err(not_beside(keys, key, "sends = \"emf\"", "where temperatures are sent; `emf-unit` is for an EMF"));
    }
    let units = [("mV", EmfUnit::MV), ("uV", EmfUnit::UV), ("V", EmfUnit::V)];
    let unit = keys.choice("emf-unit", &units)?.unwrap_or_default();
    let Some(inner) = keys.inner("junction")? else {
        let expected = "how warm the terminals are: where the board sends it, or a fixed temperature";
        return Err(keys.missing("junction", expected, "junction = { label = \"CJ\" }"));
    };
    Ok(Sends::Emf { unit, junction: junction(&inner, protocol, column)? })
}

fn junction(keys: &Keys, protocol: Protocol, column: &Column) -> Result<Junction, ProbeFileError> {
    let known: Vec<&str> = ["fixed"].iter().chain(keys_of(protocol)).copied().collect();
    keys.refuse_unknown(&known)?;
    if let Some(fixed_c) = keys.quantity("fixed", &JUNCTION)? {
        return match keys.first_of(keys_of(protocol)) {
            None => Ok(Junction::Fixed(Celsius(fixed_c))),
            Some(key) => Err(not_beside(keys, key, "`fixed`", "where the board sends it")),
        };
    }
    let sent = match (protocol, column) {
        (Protocol::Text, _) => written_column(keys)?
            .ok_or_else(|| keys.missing("label", "where the board sends it", "junction = { label = \"CJ\" }"))?,
        (Protocol::Scpi, Column::Answer { query, .. }) => answer_column(keys, query)?,
        (Protocol::Scpi, _) => answer_column(keys, USUAL_QUERY)?,
        (Protocol::ModbusRtu, Column::Register(own)) => Column::Register(register(keys, own.device)?),
        (Protocol::ModbusRtu, _) => Column::Register(register(keys, 1)?),
    };
    if sent == *column {
        let (key, first_line) = (keys_of(protocol)[0], keys.line());
        return Err(ProbeFileError::Twice { at: keys.at(key), key, found: sent.to_string(), first_line });
    }
    Ok(Junction::Sent(sent))
}

fn not_beside(keys: &Keys, key: &'static str, beside: &str, expected: &'static str) -> ProbeFileError {
    ProbeFileError::NotBeside { at: keys.at(key), key, beside: beside.to_owned(), expected }
}

/// The label or position that is written down.
fn written_column(keys: &Keys) -> Result<Option<Column>, ProbeFileError> {
    let label = keys.optional_text("label")?;
    match (label, position(keys)?) {
        (Some(_), Some(_)) => Err(not_beside(keys, "position", "`label`", "on lines without labels")),
        (Some((label, at)), None) => label_column(label, at).map(Some),
        (None, place) => Ok(place.map(Column::Position)),
    }
}

fn position(keys: &Keys) -> Result<Option<usize>, ProbeFileError> {
    let Some((place, at)) = keys.whole("position")? else { return Ok(None) };
    match usize::try_from(place) {
        Ok(place) if (1..=MOST_COLUMNS).contains(&place) => Ok(Some(place)),
        _ => {
            let (found, most) = (place as f64, MOST_COLUMNS as f64);
            Err(ProbeFileError::Range { at, key: "position", found, least: 1.0, most, unit: "(1 is the first value)" })
        }
    }
}

fn label_column(label: String, at: At) -> Result<Column, ProbeFileError> {
    if [TIME_KEY, UNIT_KEY].contains(&label.as_str()) {
        let expected = "another label: t is the board's time and unit the unit";
        return Err(ProbeFileError::Text { at, key: "label", found: label, expected });
    }
    if !crate::probe::lines::is_label(&label) {
        let expected = "one word of letters, digits and _ - . # / as it stands on the line (a name with blanks needs a \
                        `label` or `position` of its own)";
        return Err(ProbeFileError::Text { at, key: "label", found: label, expected });
    }
    Ok(Column::Label(label))
}

fn answer_column(keys: &Keys, usual: &str) -> Result<Column, ProbeFileError> {
    let (query, at) = keys.optional_text("query")?.unwrap_or_else(|| (usual.to_owned(), keys.at("query")));
    let is_plain = query.bytes().all(|byte| matches!(byte, b' '..=b'~')) && query.trim() == query;
    if !is_plain || !query.contains('?') || query.contains(';') || query.len() > LONGEST_QUERY {
        let expected = "one query of plain characters with a ? in it, such as MEAS:TEMP? (@101), without ; and at most 64 \
                        characters long";
        return Err(ProbeFileError::Text { at, key: "query", found: query, expected });
    }
    Ok(Column::Answer { query, position: position(keys)?.unwrap_or(1) })
}

fn register(keys: &Keys, usual_device: u8) -> Result<Register, ProbeFileError> {
    let Some((address, at)) = keys.whole("register")? else {
        return Err(keys.missing("register", "the register's address on the wire, from 0", "register = 0"));
    };
    let range = |at, key, found: i64, [least, most]: [f64; 2], unit| ProbeFileError::Range {
        at,
        key,
        found: found as f64,
        least,
        most,
        unit,
    };
    let address = u16::try_from(address).map_err(|_| {
        let hint = "(as on the wire: a printed 30053 or 40053 is 52)";
        range(at, "register", address, [0.0, 65_535.0], hint)
    })?;
    let device = match keys.whole("device")? {
        None => usual_device,
        Some((device, at)) => u8::try_from(device)
            .ok()
            .filter(|device| (1..=247).contains(device))
            .ok_or_else(|| range(at, "device", device, [1.0, 247.0], "(0 speaks to all, and none answers)"))?,
    };
    let tables = [("holding", Table::Holding), ("input", Table::Input)];
    let scale = keys.number("scale", -1e6, 1e6)?.unwrap_or(1.0);
    let scale_millionths = (scale * 1e6).round() as i64;
    if scale_millionths == 0 {
        let (at, key) = (keys.at("scale"), "scale");
        return Err(ProbeFileError::Range { at, key, found: scale, least: 1e-6, most: 1e6, unit: "for a count" });
    }
    let table = keys.choice("table", &tables)?.unwrap_or_default();
    Ok(Register { device, table, address, number: number(keys)?, scale_millionths })
}

fn number(keys: &Keys) -> Result<Number, ProbeFileError> {
    let numbers = [("int16", Number::Int16), ("uint16", Number::Uint16), ("float32", Number::Float32(WordOrder::Abcd))];
    let number = keys.choice("number", &numbers)?.unwrap_or_default();
    let orders =
        [("ABCD", WordOrder::Abcd), ("CDAB", WordOrder::Cdab), ("BADC", WordOrder::Badc), ("DCBA", WordOrder::Dcba)];
    match (number, keys.choice("order", &orders)?) {
        (Number::Float32(_), Some(order)) => Ok(Number::Float32(order)),
        (number, None) => Ok(number),
        (_, Some(_)) => Err(not_beside(keys, "order", "a number of one register", "with number = \"float32\"")),
    }
}
