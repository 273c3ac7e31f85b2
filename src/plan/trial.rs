//! Any heat-up tried on a lining's ensemble: pressures, danger, water, shell.

use serde::Serialize;

use super::check::{hottest_shell, worst_now, worst_peak};
use super::firing::Firing;
use super::search::PROMISED_SHARE;
use super::{Plan, Round};
use crate::physics::{CellState, Drive, Ensemble, SolveError};
use crate::units::{Celsius, Curve, Kilograms, Metres, Pascals, Seconds};

/// Low, middle and high over the ensemble: what 5, 50 and 95 % of the members do not exceed.
pub type Range = [f64; 3];

/// Shares of the members that low, middle and high stand for.
const SHARES: Range = [1.0 - PROMISED_SHARE, 0.5, PROMISED_SHARE];
/// Rows of the table over time.
const ROWS: usize = 12;
/// Share of all water that is left when 95 % is out.
const LEFT: f64 = 0.05;

/// A heat-up that can be tried.
#[derive(Clone, Debug, PartialEq)]
pub enum Course {
    /// The chamber gas follows a curve, °C against s.
    Gas(Curve),
    /// The burner is pulsed.
    Pulses(Plan),
}

/// What a heat-up did to the ensemble.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trial {
    /// From the first flame to the end.
    pub length: Seconds,
    /// Highest danger number of each member.
    pub danger: Range,
    /// Where the promised share's danger was, and from what, in words.
    pub danger_place: String,
    /// The same for each section, with steam and thermal tension apart.
    pub sections: Vec<SectionTrial>,
    /// Highest pore pressure of each member, Pa absolute.
    pub pressure_pa: Range,
    /// Where and when the promised share's pressure was highest.
    pub pressure_place: PressurePlace,
    /// When 95 % of all water was out: of the quick, the middle and the slow members; `None` when not within the heat-up.
    pub dry: [Option<Seconds>; 3],
    /// All water before the first flame, free and bound, kg.
    pub water_start_kg: Range,
    /// Hottest shell, °C.
    pub shell_c: Range,
    /// Fuel of the middle member: what its burner burnt; where the gas is given, what a stepless burner without excess air
    /// would have burnt to hold it there.
    pub fuel: Kilograms,
    /// Evenly over the time, the start and the end among them.
    pub rows: Vec<Row>,
}

/// What a heat-up did to one section.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionTrial {
    /// Its name.
    pub section: String,
    /// Highest danger number of each member.
    pub danger: Range,
    /// Part of the promised share's danger that comes from steam pressure.
    pub steam: f64,
    /// Part of it that comes from thermal tension.
    pub thermal: f64,
    /// Where that was and from what, in words.
    pub place: String,
    /// Highest pore pressure of each member, Pa absolute.
    pub pressure_pa: Range,
    /// Every cell that can break, of the middle member when it was nearest to spalling.
    pub cells: Vec<CellRow>,
}

/// One cell at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CellRow {
    /// From the hot face.
    pub depth: Metres,
    /// Its temperature.
    pub temp: Celsius,
    /// Pore pressure, absolute.
    pub pressure: Pascals,
    /// Tensile strength.
    pub strength: Pascals,
    /// Part of its danger number that comes from steam pressure.
    pub steam: f64,
    /// Part that comes from thermal tension.
    pub thermal: f64,
}

/// Place and time of a pressure.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PressurePlace {
    /// Name of the section.
    pub section: String,
    /// From the hot face.
    pub depth: Metres,
    /// Since the first flame.
    pub elapsed: Seconds,
}

/// The ensemble at one moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Since the first flame.
    pub elapsed: Seconds,
    /// Chamber gas of the middle member, mean over pulses.
    pub gas: Celsius,
    /// Hottest hot face, °C.
    pub hot_face_c: Range,
    /// Hottest shell, °C.
    pub shell_c: Range,
    /// Water gone since the first flame, kg.
    pub water_out_kg: Range,
    /// Danger number now.
    pub danger: Range,
    /// Highest pore pressure now, Pa absolute.
    pub pressure_pa: Range,
}

impl Trial {
    /// Whether it went on until the danger fell again. One that stops before says nothing of what comes after.
    #[must_use]
    pub fn is_past_its_peak(&self) -> bool {
        /// Danger too small to have a peak worth the name.
        const NONE: f64 = 0.05;
        let end = self.rows.last().map_or(0.0, |row| row.danger[2]);
        self.danger[2] < NONE || end < 0.5 * self.danger[2]
    }

    /// Water of the middle member at the end, and at the start, kg.
    #[must_use]
    pub fn water_left_kg(&self) -> (f64, f64) {
        let out_kg = self.rows.last().map_or(0.0, |row| row.water_out_kg[1]);
        (self.water_start_kg[1] - out_kg, self.water_start_kg[1])
    }

    /// Whether the promised share of the members stayed below the number at which spalling is a risk.
    #[must_use]
    pub fn is_safe(&self) -> bool {
        self.danger[2] < 1.0
    }
}

/// Tries `course` on the members of `ensemble`, which is at the start of its heat-up.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn try_out(course: &Course, mut ensemble: Ensemble) -> Result<Trial, SolveError> {
    let stretches = stretches(course);
    let length_s: f64 = stretches.iter().map(|stretch| stretch.1).sum();
    ensemble.forget_peaks();
    let mut watch = Watch::new(&ensemble, length_s);
    for (drive, span_s) in stretches {
        ensemble.advance(drive, Seconds(span_s))?;
        watch.see(&ensemble);
    }
    Ok(watch.trial(&ensemble, has_burner(course)))
}

/// Whether the course is that of a burner, not of the gas.
fn has_burner(course: &Course) -> bool {
    let is_ramp = |round: &Round| matches!(round.firing, Firing::Ramp { .. });
    matches!(course, Course::Pulses(plan) if !plan.rounds.iter().any(is_ramp))
}

/// The course in spans short enough to see every peak.
fn stretches(course: &Course) -> Vec<(Drive, f64)> {
    match course {
        Course::Gas(gas) => gas.points().windows(2).flat_map(|pair| ramp(pair[0], pair[1])).collect(),
        Course::Pulses(plan) => plan.rounds.iter().flat_map(pulses).collect(),
    }
}

fn ramp(from: (f64, f64), to: (f64, f64)) -> Vec<(Drive, f64)> {
    /// Longest span between two looks, s.
    const LOOK_S: f64 = 180.0;
    let looks = ((to.0 - from.0) / LOOK_S).ceil().max(1.0);
    let temp = |look: f64| Celsius(from.1 + (to.1 - from.1) * look / looks);
    (1..=looks as usize).map(|look| (Drive::Gas { temp: temp(look as f64) }, (to.0 - from.0) / looks)).collect()
}

fn pulses(round: &Round) -> impl Iterator<Item = (Drive, f64)> {
    let stretches = round.beats().flat_map(|beat| [beat.on, beat.off]);
    stretches.map(|(drive, span)| (drive, span.0)).filter(|stretch| stretch.1 > 0.0)
}

/// What is kept of every member.
struct Watch {
    next_row_s: f64,
    row_step_s: f64,
    start_kg: Vec<f64>,
    /// Highest pressure, its section, depth and time.
    highest: Vec<(f64, usize, f64, f64)>,
    /// Highest pressure of each section by member.
    pressures_pa: Vec<Vec<f64>>,
    /// Cells of each section of the middle member when it was worst, and how bad that was.
    cells: Vec<(f64, Vec<CellRow>)>,
    dry_s: Vec<f64>,
    shell_c: Vec<f64>,
    /// When the members were last looked at, what fuel rate held the gas of the middle one then (kg/s), and all it took.
    seen_s: f64,
    fuel_kg_s: f64,
    fuel_kg: f64,
    rows: Vec<Row>,
}

impl Watch {
    fn new(ensemble: &Ensemble, length_s: f64) -> Self {
        let members = ensemble.members();
        let mut watch = Self {
            next_row_s: 0.0,
            row_step_s: length_s / ROWS as f64,
            start_kg: (0..members).map(|member| water_kg(ensemble, member)).collect(),
            highest: vec![(0.0, 0, 0.0, 0.0); members],
            pressures_pa: vec![vec![0.0; members]; sections(ensemble).len()],
            cells: vec![(0.0, Vec::new()); sections(ensemble).len()],
            dry_s: vec![f64::INFINITY; members],
            shell_c: vec![f64::NEG_INFINITY; members],
            seen_s: 0.0,
            fuel_kg_s: 0.0,
            fuel_kg: 0.0,
            rows: Vec::new(),
        };
        watch.see(ensemble);
        watch
    }

    fn see(&mut self, ensemble: &Ensemble) {
        let now_s = ensemble.elapsed().0;
        for member in 0..ensemble.members() {
            let (section, pressure_pa, depth_m) = highest_now(ensemble, member);
            if pressure_pa > self.highest[member].0 {
                self.highest[member] = (pressure_pa, section, depth_m, now_s);
            }
            if self.dry_s[member].is_infinite() && water_kg(ensemble, member) <= LEFT * self.start_kg[member] {
                self.dry_s[member] = now_s;
            }
            self.shell_c[member] = self.shell_c[member].max(hottest_shell(ensemble, member));
        }
        self.see_sections(ensemble);
        let fuel_kg_s = ensemble.fuel_rate_to_hold(0, ensemble.gas(0));
        self.fuel_kg += 0.5 * (self.fuel_kg_s + fuel_kg_s) * (now_s - self.seen_s);
        (self.seen_s, self.fuel_kg_s) = (now_s, fuel_kg_s);
        // Half a second of rounding must not lose the last row.
        if now_s + 0.5 >= self.next_row_s {
            self.next_row_s += self.row_step_s;
            let row = self.row(ensemble);
            self.rows.push(row);
        }
    }

    fn see_sections(&mut self, ensemble: &Ensemble) {
        for section in sections(ensemble) {
            for (member, highest_pa) in self.pressures_pa[section].iter_mut().enumerate() {
                *highest_pa = highest_pa.max(ensemble.highest_pressure(member, section).0.0);
            }
            let number = ensemble.section(0, section).danger.number;
            if number > self.cells[section].0 {
                self.cells[section] = (number, ensemble.cells(0, section).iter().map(CellRow::of).collect());
            }
        }
    }

    /// What became of `section`.
    fn section(&self, ensemble: &Ensemble, section: usize) -> SectionTrial {
        let number = |member: usize| ensemble.peak(member, section).number;
        let danger = range(ensemble, number);
        let peak = ensemble.peak(nearest(ensemble, number, danger[2]), section);
        SectionTrial {
            section: ensemble.furnace().section_names()[section].clone(),
            danger,
            steam: peak.steam,
            thermal: peak.thermal,
            place: ensemble.furnace().describe(section, &peak),
            pressure_pa: range(ensemble, |member| self.pressures_pa[section][member]),
            cells: self.cells[section].1.clone(),
        }
    }

    fn row(&self, ensemble: &Ensemble) -> Row {
        Row {
            elapsed: ensemble.elapsed(),
            gas: ensemble.gas(0),
            hot_face_c: range(ensemble, |member| {
                hottest(ensemble, |section| ensemble.section(member, section).hot_face.0)
            }),
            shell_c: range(ensemble, |member| hottest_shell(ensemble, member)),
            water_out_kg: range(ensemble, |member| (self.start_kg[member] - water_kg(ensemble, member)).max(0.0)),
            danger: range(ensemble, |member| worst_now(ensemble, member)),
            pressure_pa: range(ensemble, |member| highest_now(ensemble, member).1),
        }
    }

    fn trial(self, ensemble: &Ensemble, has_burner: bool) -> Trial {
        let number = |member: usize| worst_peak(ensemble, member).1.number;
        let danger = range(ensemble, number);
        let (section, peak) = worst_peak(ensemble, nearest(ensemble, number, danger[2]));
        let pressure_pa = range(ensemble, |member| self.highest[member].0);
        let (_, at, depth_m, time_s) = self.highest[nearest(ensemble, |member| self.highest[member].0, pressure_pa[2])];
        Trial {
            length: ensemble.elapsed(),
            danger,
            danger_place: ensemble.furnace().describe(section, &peak),
            sections: sections(ensemble).map(|section| self.section(ensemble, section)).collect(),
            pressure_pa,
            pressure_place: PressurePlace {
                section: ensemble.furnace().section_names()[at].clone(),
                depth: Metres(depth_m),
                elapsed: Seconds(time_s),
            },
            dry: range(ensemble, |member| self.dry_s[member]).map(|dry_s| dry_s.is_finite().then_some(Seconds(dry_s))),
            water_start_kg: range(ensemble, |member| self.start_kg[member]),
            shell_c: range(ensemble, |member| self.shell_c[member]),
            fuel: if has_burner { ensemble.fuel(0) } else { Kilograms(self.fuel_kg) },
            rows: self.rows,
        }
    }
}

impl CellRow {
    fn of(cell: &CellState) -> Self {
        let CellState { temp, danger } = *cell;
        Self {
            depth: danger.depth,
            temp,
            pressure: danger.pressure,
            strength: danger.strength,
            steam: danger.steam,
            thermal: danger.thermal,
        }
    }
}

fn range(ensemble: &Ensemble, value: impl Fn(usize) -> f64) -> Range {
    SHARES.map(|share| ensemble.percentile(share, &value))
}

/// The member whose value is nearest to `wanted`.
fn nearest(ensemble: &Ensemble, value: impl Fn(usize) -> f64, wanted: f64) -> usize {
    let off = |member: &usize| (value(*member) - wanted).abs();
    (0..ensemble.members()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0)
}

fn sections(ensemble: &Ensemble) -> std::ops::Range<usize> {
    0..ensemble.furnace().section_names().len()
}

fn hottest(ensemble: &Ensemble, temp_c: impl Fn(usize) -> f64) -> f64 {
    sections(ensemble).map(temp_c).fold(f64::NEG_INFINITY, f64::max)
}

fn water_kg(ensemble: &Ensemble, member: usize) -> f64 {
    sections(ensemble).map(|section| ensemble.section(member, section).water_left.0).sum()
}

/// Section, pressure (Pa) and depth (m) of a member's highest pressure now.
fn highest_now(ensemble: &Ensemble, member: usize) -> (usize, f64, f64) {
    let of_section = |section: usize| {
        let (pressure, depth) = ensemble.highest_pressure(member, section);
        (section, pressure.0, depth.0)
    };
    sections(ensemble).map(of_section).fold((0, 0.0, 0.0), |best, next| if next.1 > best.1 { next } else { best })
}
