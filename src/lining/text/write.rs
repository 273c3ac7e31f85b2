//! Writes a lining file with comments, from answers that a person gave.

use std::fmt::{Display, Write};

use super::LINING_FORMAT;
use crate::lining::outline::Outline;
use crate::lining::{Back, Burner, Control, Cure, Fuel, Goal, Mark, MarkAt, Surroundings};
use crate::units::{Metres, Seconds, SquareMetres};

/// A lining as it is described, before it is read and checked.
#[derive(Clone, Debug, PartialEq)]
pub struct LiningDraft {
    /// The builder's name for the furnace.
    pub name: String,
    /// Air around it.
    pub place: Surroundings,
    /// What heats it.
    pub burner: Burner,
    /// Openings by name with their area.
    pub openings: Vec<(String, SquareMetres)>,
    /// What the heat-up has to reach.
    pub goal: Goal,
    /// Parts of the lining.
    pub sections: Vec<SectionDraft>,
}

/// One part of the lining.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionDraft {
    /// "wall", "floor", "lid".
    pub name: String,
    /// Form and size.
    pub shape: ShapeDraft,
    /// What stands behind the last layer.
    pub back: Back,
    /// From the hot face outwards.
    pub layers: Vec<LayerDraft>,
}

/// Form and size as a builder measures them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ShapeDraft {
    /// A part that lies flat, or an arch.
    Outline(Outline),
    /// A flat part by its area.
    Area(SquareMetres),
    /// A round wall by its finished bore.
    Bore {
        /// Inside diameter when done.
        bore: Metres,
        /// Along the axis.
        length: Metres,
    },
    /// A floor cast to a level (the thickness of its first layer) in a lying round bore.
    InBore {
        /// Diameter of the bore.
        bore: Metres,
        /// Along the bore.
        length: Metres,
    },
    /// A round wall standing on its end, by the shell it goes into.
    UprightShell {
        /// Inside diameter of the shell.
        inside: Metres,
        /// Height along the axis.
        length: Metres,
    },
    /// A round wall by the shell it goes into.
    Shell {
        /// Inside diameter of the shell.
        inside: Metres,
        /// Along the axis.
        length: Metres,
    },
}

/// One layer. What is `None` is left to the sheet value of the class.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LayerDraft {
    /// Key of its class.
    pub material: String,
    /// As built.
    pub thickness: Metres,
    /// Mix water, fraction of dry mass.
    pub mix_water: Option<f64>,
    /// Water soaked up by dry goods, fraction of dry mass.
    pub soaked_water: Option<f64>,
    /// Rigidiser, litres on each square metre.
    pub rigidiser_l_m2: Option<f64>,
    /// How it was cured.
    pub cure: Option<Cure>,
    /// How long it was kept damp.
    pub cure_time: Option<Seconds>,
    /// How long it dried in air.
    pub air_dried: Option<Seconds>,
    /// More water than the sheet says, amount unknown.
    pub over_watered: Option<bool>,
    /// Polymer fibres, fraction of dry mass.
    pub polymer_fibres: Option<f64>,
}

/// The text of a lining file that says what `draft` says. Lengths come out in millimetres.
#[must_use]
pub fn write_lining(draft: &LiningDraft) -> String {
    let mut sheet = Sheet::default();
    sheet.comment(
        "A refractory lining before its first heat. Every quantity has its unit; in, ft, F, lb and psi do as well.",
    );
    sheet.entry("format", quoted(LINING_FORMAT));
    sheet.entry("name", quoted(&draft.name));
    write_place(&mut sheet, &draft.place);
    write_burner(&mut sheet, &draft.burner);
    sheet.gap("Openings through which the fire radiates and breathes.");
    for (name, area) in &draft.openings {
        sheet.line("[[chamber.opening]]");
        sheet.entry("name", quoted(name));
        // To a square millimetre: an area that comes from a diameter has no end of decimals.
        sheet.entry("area", with_unit((area.0 * 1e6).round() / 100.0, "cm2"));
    }
    write_goal(&mut sheet, &draft.goal);
    for section in &draft.sections {
        write_section(&mut sheet, section);
    }
    sheet.text
}

#[derive(Default)]
struct Sheet {
    text: String,
}

impl Sheet {
    fn line(&mut self, line: impl Display) {
        // Writing to a text cannot fail.
        let _ = writeln!(self.text, "{line}");
    }

    fn comment(&mut self, comment: &str) {
        self.line(format_args!("# {comment}"));
    }

    fn gap(&mut self, comment: &str) {
        self.line("");
        self.comment(comment);
    }

    fn entry(&mut self, key: &str, value: impl Display) {
        self.line(format_args!("{key} = {value}"));
    }

    fn entry_if<T>(&mut self, key: &str, value: Option<T>, text: impl FnOnce(T) -> String) {
        if let Some(value) = value {
            self.entry(key, text(value));
        }
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// `value` to nine decimals, so that conversion noise does not show, with its unit and in quotes.
fn with_unit(value: f64, unit: &str) -> String {
    let text = format!("{value:.9}");
    format!("\"{} {unit}\"", text.trim_end_matches('0').trim_end_matches('.'))
}

fn length(length: Metres) -> String {
    with_unit(length.mm(), "mm")
}

fn share(fraction: f64) -> String {
    with_unit(fraction * 100.0, "%")
}

fn time(span: Seconds) -> String {
    match span.0 {
        span_s if span_s < 120.0 => with_unit(span_s, "s"),
        span_s if span_s < 3600.0 => with_unit(span_s / 60.0, "min"),
        _ => with_unit(span.hours(), "h"),
    }
}

fn write_place(sheet: &mut Sheet, place: &Surroundings) {
    sheet.gap("Where it stands. If it dried in other air, say so in a table [drying] with the same two keys.");
    sheet.line("[place]");
    sheet.entry("temperature", with_unit(place.temp.0, "C"));
    sheet.entry("humidity", share(place.humidity));
}

fn write_burner(sheet: &mut Sheet, burner: &Burner) {
    sheet.gap("The burner: its heat, or its propane jet with the gauge pressure before it.");
    sheet.line("[burner]");
    match burner.fuel {
        Fuel::Power(power) => sheet.entry("power", with_unit(power.0 / 1000.0, "kW")),
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            sheet.entry("jet", length(diameter));
            sheet.entry("pressure", with_unit(gauge_pressure.0 / 1e5, "bar"));
        }
    }
    sheet.entry("equivalence-ratio", burner.equivalence_ratio);
    sheet.entry("shortest-on", time(burner.shortest_on));
    sheet.entry("shortest-off", time(burner.shortest_off));
    match &burner.control {
        Control::OnOff => {}
        Control::Ramps => sheet.entry("holds-ramps", true),
        Control::Marks(marks) => marks.iter().for_each(|mark| write_mark(sheet, mark)),
    }
}

fn write_mark(sheet: &mut Sheet, mark: &Mark) {
    sheet.line("\n[[burner.mark]]");
    sheet.entry("name", quoted(&mark.name));
    match mark.at {
        MarkAt::Share(share) => sheet.entry("share", with_unit(100.0 * share, "%")),
        MarkAt::Pressure(pressure) => sheet.entry("pressure", with_unit(pressure.0 / 1e5, "bar")),
    }
}

fn write_goal(sheet: &mut Sheet, goal: &Goal) {
    sheet.gap("What the heat-up reaches at the end, and the share of the spalling risk it may use on the way.");
    sheet.line("[goal]");
    sheet.entry("soak-temperature", with_unit(goal.soak_temp.0, "C"));
    sheet.entry("soak-time", time(goal.soak));
    sheet.entry("danger-ceiling", goal.danger_ceiling);
    sheet.entry_if("ramp", goal.ramp, |ramp| with_unit(ramp.0, "C/h"));
}

fn write_section(sheet: &mut Sheet, section: &SectionDraft) {
    sheet.line("");
    sheet.line("[[section]]");
    sheet.entry("name", quoted(&section.name));
    write_shape(sheet, section.shape);
    match section.back {
        Back::SealedSteel { thickness } => {
            sheet.entry("back", quoted("sealed steel"));
            sheet.entry("steel", length(thickness));
        }
        Back::VentedSteel { thickness } => {
            sheet.entry("back", quoted("steel with weep holes"));
            sheet.entry("steel", length(thickness));
        }
        Back::Open => sheet.entry("back", quoted("open")),
    }
    for (index, layer) in section.layers.iter().enumerate() {
        if index == 0 {
            sheet.gap("Layers from the hot face outwards.");
        } else {
            sheet.line("");
        }
        write_layer(sheet, layer);
    }
}

fn write_shape(sheet: &mut Sheet, shape: ShapeDraft) {
    let (word, sizes): (&str, Vec<(&str, String)>) = match shape {
        ShapeDraft::Outline(Outline::Sides { width, length: along }) => {
            ("flat", vec![("width", length(width)), ("length", length(along))])
        }
        ShapeDraft::Area(area) => ("flat", vec![("area", with_unit(area.0 * 1e4, "cm2"))]),
        ShapeDraft::Outline(Outline::Disc { diameter }) => ("disc", vec![("diameter", length(diameter))]),
        ShapeDraft::Outline(Outline::Arch { span, rise, length: along }) => {
            ("arch", vec![("span", length(span)), ("rise", length(rise)), ("length", length(along))])
        }
        ShapeDraft::Bore { bore, length: along } => ("barrel", vec![("bore", length(bore)), ("length", length(along))]),
        ShapeDraft::InBore { bore, length: along } => {
            ("flat", vec![("cast-in-bore", length(bore)), ("length", length(along))])
        }
        ShapeDraft::UprightShell { inside, length: along } => (
            "barrel",
            vec![("lies", quoted("upright")), ("shell-inside-diameter", length(inside)), ("length", length(along))],
        ),
        ShapeDraft::Shell { inside, length: along } => {
            ("barrel", vec![("shell-inside-diameter", length(inside)), ("length", length(along))])
        }
    };
    sheet.entry("shape", quoted(word));
    for (key, size) in sizes {
        sheet.entry(key, size);
    }
}

fn write_layer(sheet: &mut Sheet, layer: &LayerDraft) {
    let cure = |cure| {
        quoted(match cure {
            Cure::Cold => "cold",
            Cure::Mixed => "mixed",
            Cure::Warm => "warm",
            Cure::Fired => "fired",
        })
    };
    sheet.line("[[section.layer]]");
    sheet.entry("material", quoted(&layer.material));
    sheet.entry("thickness", length(layer.thickness));
    sheet.entry_if("mix-water", layer.mix_water, share);
    sheet.entry_if("soaked-water", layer.soaked_water, share);
    sheet.entry_if("rigidiser", layer.rigidiser_l_m2, |water| with_unit(water, "L/m2"));
    sheet.entry_if("cure", layer.cure, cure);
    sheet.entry_if("cure-time", layer.cure_time, time);
    sheet.entry_if("air-dried", layer.air_dried, time);
    sheet.entry_if("over-watered", layer.over_watered, |over| over.to_string());
    sheet.entry_if("polymer-fibres", layer.polymer_fibres, share);
}
