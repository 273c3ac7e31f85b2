//! The cut list as CSV, for a spreadsheet: one row for each sheet, hole, place on a roll, mix, soak and pack. Millimetres,
//! kilograms, litres.

use super::{CutList, Form, PackSize};

/// Columns. A row leaves out what it does not have.
const COLUMNS: [&str; 18] = [
    "item",
    "number",
    "section",
    "layer",
    "blanket",
    "what",
    "thickness_mm",
    "length_mm",
    "width_mm",
    "along_mm",
    "across_mm",
    "joint_deg",
    "count",
    "dry_kg",
    "water_least_g",
    "water_g",
    "water_most_g",
    "volume_l",
];

/// One row under construction.
#[derive(Default)]
struct Row {
    cells: [String; COLUMNS.len()],
}

impl Row {
    fn of(item: &str, number: usize) -> Self {
        Self::default().with("item", item).with("number", number)
    }

    fn with(mut self, column: &str, value: impl std::fmt::Display) -> Self {
        if let Some(at) = COLUMNS.iter().position(|name| *name == column) {
            self.cells[at] = format!("{value}");
        }
        self
    }

    fn figure(self, column: &str, value: f64, decimals: usize) -> Self {
        self.with(column, format_args!("{value:.decimals$}"))
    }
}

/// `list` as CSV (RFC 4180), with a head row.
///
/// # Errors
/// When the writer refuses a row, which a table in memory does not.
pub fn table(list: &CutList) -> Result<String, csv::Error> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(COLUMNS)?;
    for row in rows(list) {
        out.write_record(&row.cells)?;
    }
    let bytes = out.into_inner().map_err(|refused| csv::Error::from(refused.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn rows(list: &CutList) -> Vec<Row> {
    let mut rows = sheet_rows(list);
    for (number, plan) in list.rolls.iter().enumerate() {
        for (index, roll) in plan.rolls.iter().enumerate() {
            for placed in roll {
                let row = Row::of("place", placed.sheet + 1)
                    .with("what", format_args!("roll {} of blanket {}", index + 1, number + 1))
                    .figure("length_mm", placed.along.mm(), 0)
                    .figure("width_mm", placed.across.mm(), 0)
                    .figure("along_mm", placed.from.mm(), 0)
                    .figure("across_mm", placed.aside.mm(), 0);
                rows.push(row);
            }
        }
    }
    rows.extend(mix_rows(list));
    rows.extend(pack_rows(list));
    rows
}

fn sheet_rows(list: &CutList) -> Vec<Row> {
    let mut rows = Vec::new();
    for (index, sheet) in list.sheets.iter().enumerate() {
        let row = Row::of("sheet", index + 1)
            .with("section", &sheet.section)
            .with("layer", sheet.layer)
            .with("blanket", sheet.ply)
            .with("what", &sheet.material)
            .figure("thickness_mm", sheet.thickness.mm(), 1)
            .figure("length_mm", sheet.length.mm(), 1)
            .figure("width_mm", sheet.width.mm(), 1);
        rows.push(match sheet.form {
            Form::Wrap { joint, .. } => row.figure("joint_deg", joint.at.0, 0),
            _ => row,
        });
        for hole in &sheet.holes {
            let row = Row::of("hole", index + 1)
                .with("section", &sheet.section)
                .with("what", &hole.name)
                .figure("length_mm", hole.diameter.mm(), 1)
                .figure("width_mm", hole.diameter.mm(), 1)
                .figure("along_mm", hole.along.mm(), 1)
                .figure("across_mm", hole.across.mm(), 1);
            rows.push(row);
        }
    }
    rows
}

fn mix_rows(list: &CutList) -> Vec<Row> {
    let mixes = list.mixes.iter().enumerate().map(|(index, mix)| {
        let [least, decided, most] = mix.batch_water();
        Row::of("batch", index + 1)
            .with("section", &mix.section)
            .with("layer", mix.layer)
            .with("what", &mix.material)
            .with("count", mix.batches)
            .figure("dry_kg", mix.batch().0, 3)
            .figure("water_least_g", least.0 * 1000.0, 0)
            .figure("water_g", decided.0 * 1000.0, 0)
            .figure("water_most_g", most.0 * 1000.0, 0)
            .figure("volume_l", mix.volume_m3 * 1000.0, 3)
    });
    let soaks = list.soaks.iter().enumerate().map(|(index, soak)| {
        Row::of("rigidiser", index + 1)
            .with("section", &soak.section)
            .with("layer", soak.layer)
            .with("what", "powder and water")
            .figure("dry_kg", soak.powder.0, 3)
            .figure("water_g", soak.water_l * 1000.0, 0)
            .figure("volume_l", soak.powder_l, 3)
    });
    mixes.chain(soaks).collect()
}

fn pack_rows(list: &CutList) -> Vec<Row> {
    let packs = list.packs.iter().enumerate().map(|(index, pack)| {
        let row = Row::of("buy", index + 1).with("what", &pack.title).with("count", pack.count);
        match pack.size {
            PackSize::Roll { thickness, width, length } => row
                .figure("thickness_mm", thickness.mm(), 1)
                .figure("length_mm", length.mm(), 0)
                .figure("width_mm", width.mm(), 0),
            PackSize::Bag(bag) => row.figure("dry_kg", bag.0, 3),
        }
    });
    packs.collect()
}
