//! What the lining is believed to be inside: the ensemble driven by the readings, and weighed by the deeper ones.

use super::cue::Fired;
use crate::lining::Lining;
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Belief, Danger, Drive, Ensemble, Furnace, Grid, SectionState, SolveError};
use crate::plan::Flame;
use crate::units::{Celsius, KelvinPerHour, Metres, Seconds};

use super::RunError;
use super::health::Health;
use super::lag::{Behind, Surroundings};
use super::sight::{Sight, tolerance_k};
use super::snapshot::DepthNow;
use super::spread::{blurred, range, rounded};
use super::verdict::{Range, SectionEstimate};
use super::weigh::{Told, Weigher};

/// The ensemble is moved on in pieces of this length, s, to where the driving probe's surroundings are by then.
const PIECE_S: f64 = 10.0;

/// Longest piece, s.
const LONGEST_PIECE_S: f64 = 60.0;

/// While the burner is shut a piece may be this part of the time since then. A face that falls as the square root of time strays
/// from a straight line by less than 0.3 % of its fall over such a piece.
const PIECE_OF_PAUSE: f64 = 0.3;

/// After a time in which nothing was watched readings are waited for this long, s.
const BRIDGE_WAITS_S: f64 = 30.0;

/// What sees the chamber rises by no more than this over a piece with the burner shut, K: noise makes that much of the line
/// through five readings.
const RISES_K: f64 = 6.0;

/// A drive needs readings for this part of a piece.
const COVERAGE: f64 = 0.5;

/// Pressure of the air, Pa.
const AIR_PA: f64 = 101_325.0;

/// A place with less than this part of its water at the start is dry.
const DRY_PART: f64 = 0.05;

/// Less water than this is none, kg/m³: what the air's own humidity leaves in pores.
const NO_WATER_KG_M3: f64 = 2.0;

/// Part of the weight that has to be wet for a section to count as wet.
const WET_SHARE: f64 = 0.05;

/// The ensemble as it follows the furnace.
#[derive(Clone, Debug)]
pub(super) struct Estimator {
    /// The members.
    pub ensemble: Ensemble,
    sections: Vec<String>,
    sights: Vec<Sight>,
    /// What each channel stands in, behind its lag.
    behind: Vec<Behind>,
    ambient_c: f64,
    weigher: Weigher,
    piece: Piece,
    last: Option<Seen>,
    /// The burner as it was last, and since when, s.
    burner: (Flame, f64),
    /// The channel that drives the members and where it last drove them to; `None` where the burner drives them.
    driven: Option<(usize, Surroundings)>,
    /// Time that could not be solved, s.
    behind_s: f64,
    /// What is believed now: states of each section by member, and their ranges.
    believed: Vec<SectionBelief>,
    /// Water at the start where each channel sits, middle member, kg/m³.
    water_start_kg_m3: Vec<f64>,
    /// Since when readings are waited for to bridge a time in which nothing was watched, s.
    bridging_s: Option<f64>,
}

/// No belief at all.
const NOTHING: Range = Range { low: f64::NAN, mid: f64::NAN, high: f64::NAN };

/// What is believed of a section.
#[derive(Clone, Debug)]
struct SectionBelief {
    danger: Range,
    water_left_kg: Range,
    water_start_kg: f64,
    hot_face_c: f64,
    /// Weight of the members in which it is still wet, bound water counted.
    wet_weight: f64,
    /// Weight of the members in which water is still free.
    free_weight: f64,
    /// The pessimistic member's worst place.
    worst: Danger,
}

impl SectionBelief {
    fn of(ensemble: &Ensemble, states: &[SectionState]) -> Self {
        let mid = |value: &dyn Fn(&SectionState) -> f64| ensemble.percentile(0.5, |member| value(&states[member]));
        let danger = danger_of(ensemble, states);
        let off = |state: &SectionState| (state.danger.number - danger.high).abs();
        let worst = states.iter().fold(states[0], |best, state| if off(state) < off(&best) { *state } else { best });
        let weight_of = |is_so: &dyn Fn(&SectionState) -> bool| -> f64 {
            states.iter().zip(ensemble.weights()).filter(|(state, _)| is_so(state)).map(|(_, weight)| weight).sum()
        };
        Self {
            danger,
            water_left_kg: rounded(range(ensemble, |member| states[member].water_left.0), 1e4),
            water_start_kg: mid(&|state| state.water_start.0),
            hot_face_c: mid(&|state| state.hot_face.0),
            wet_weight: weight_of(&|state| state.wet_share > DRY_SHARE),
            free_weight: weight_of(&|state| state.free_share > DRY_SHARE),
            worst: worst.danger,
        }
    }
}

/// What is known at one moment.
#[derive(Clone, Debug, PartialEq)]
struct Seen {
    at_s: f64,
    temps_c: Vec<Option<f64>>,
}

/// What happened over a piece: its length, how long the burner burnt, a line per channel, and where the surroundings of each
/// have got to.
#[derive(Clone, Debug, Default)]
struct Piece {
    span_s: f64,
    on_s: f64,
    /// Shares of the full fire, times how long each burnt, s.
    fire_s: f64,
    /// Where a control that holds ramps had the gas at the first and the last moment.
    gas: Option<(Celsius, Celsius)>,
    lines: Vec<Line>,
    ends: Vec<Option<Surroundings>>,
}

/// Sums for the straight line through the readings of a piece against the time into it, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Line {
    span_s: f64,
    time: f64,
    time_time: f64,
    temp: f64,
    time_temp: f64,
}

impl Estimator {
    /// The ensemble before the first flame.
    pub fn new(lining: &Lining, belief: Belief, health: &Health) -> Result<Self, RunError> {
        // Half the cells move peaks by less than 1 %, far less than the members differ, and let a small computer keep up.
        let furnace = Furnace::of(lining, Grid::Coarse);
        let ensemble = Ensemble::new(&furnace, belief)?;
        let sections = furnace.section_names().to_vec();
        let sights =
            health.channels().iter().map(|channel| Sight::of(channel, &sections)).collect::<Result<Vec<_>, _>>()?;
        let water_start_kg_m3 = sights.iter().map(|sight: &Sight| water_kg_m3(*sight, &ensemble)).collect();
        let mut all = Self {
            believed: Vec::new(),
            water_start_kg_m3,
            weigher: Weigher::new(ensemble.members(), sights.len()),
            behind: health.channels().iter().map(|channel| Behind::new(channel.probe.sheath)).collect(),
            ensemble,
            sections,
            sights,
            ambient_c: lining.surroundings.temp.0,
            piece: Piece::default(),
            last: None,
            burner: (Flame::Off, f64::NEG_INFINITY),
            driven: None,
            behind_s: 0.0,
            bridging_s: None,
        };
        let states: Vec<Vec<SectionState>> =
            (0..all.sections.len()).map(|section| all.ensemble.states(section)).collect();
        all.look(&states);
        Ok(all)
    }

    /// Names of the sections.
    pub fn sections(&self) -> &[String] {
        &self.sections
    }

    /// Water of a section before the first flame, median, kg.
    pub fn water_initial_kg(&self, section: usize) -> f64 {
        self.believed.get(section).map_or(0.0, |seen| seen.water_start_kg)
    }

    /// Section whose hot face the channel at `index` sees.
    pub fn hot_face_of(&self, index: usize) -> Option<usize> {
        match self.sights.get(index) {
            Some(Sight::HotFace(section)) => Some(*section),
            _ => None,
        }
    }

    /// Channels that see the chamber: the gas and hot faces.
    pub fn sees_fire(&self, index: usize) -> bool {
        self.sights.get(index).is_some_and(|sight| sight.is_of_chamber())
    }

    /// Time passed up to `now_s` with the burner in this state; the channels are believed as `health` has them.
    pub fn pass(&mut self, now_s: f64, fired: Fired, health: &Health) -> Result<(), SolveError> {
        if let Some(since_s) = self.bridging_s {
            if !health.has_heard_since(since_s) && now_s - since_s < BRIDGE_WAITS_S {
                return Ok(());
            }
            self.bridging_s = None;
        }
        let temps_c: Vec<Option<f64>> = (0..self.sights.len()).map(|index| health.believed_c(index)).collect();
        self.look_behind(now_s, fired.flame, health);
        let now = Seen { at_s: now_s, temps_c };
        // The heat-up begins with the first reading or the first flame; before that nothing is known to have happened.
        let heard = now.temps_c.iter().any(Option::is_some) || fired.flame == Flame::On;
        let Some(last) = self.last.take() else {
            self.last = heard.then_some(now);
            return Ok(());
        };
        let span_s = now_s - last.at_s;
        let parts = (span_s / LONGEST_PIECE_S).ceil().max(1.0);
        let mut outcome = Ok(());
        for part in 0..parts as u32 {
            let middle = (f64::from(part) + 0.5) / parts;
            let temps_c = between(&last, &now, middle);
            self.piece.add(span_s / parts, fired, &temps_c);
            if parts > 1.0 {
                // Nothing is known of the way; a straight line is as good as any.
                let ends_c = between(&last, &now, (f64::from(part) + 1.0) / parts);
                let end = |temp_c: f64| Surroundings { temp_c, sd_k: tolerance_k(temp_c) };
                self.piece.ends = ends_c.into_iter().map(|temp_c| temp_c.map(end)).collect();
                outcome = outcome.and(self.finish_piece(&now.temps_c));
            }
        }
        self.last = Some(now);
        outcome
    }

    /// Lets each channel that sees the chamber tell what it stands in.
    fn look_behind(&mut self, now_s: f64, burner: Flame, health: &Health) {
        let (was, since_s) = self.burner;
        if was != burner {
            // It changed after the last look.
            self.burner = (burner, self.last.as_ref().map_or(now_s, |last| last.at_s));
            self.behind.iter_mut().for_each(Behind::burner_changed);
        }
        let since_s = now_s - if was == burner { since_s } else { self.burner.1 };
        let channels = self.behind.iter_mut().zip(&self.sights).zip(health.channels()).enumerate();
        for (index, ((behind, sight), channel)) in channels {
            let is_fresh = sight.is_of_chamber() && channel.heard_s.is_some_and(|heard_s| behind.is_before(heard_s));
            if let (true, Some(temp_c)) = (is_fresh, health.believed_c(index)) {
                behind.take(now_s, temp_c, since_s);
            }
        }
    }

    /// Nothing was watched until `now_s`. The next readings tell where the lining has got to; a straight line leads there.
    pub fn bridge(&mut self, now_s: f64) {
        self.bridging_s = Some(now_s);
    }

    /// Whether a whole piece has been gathered: longer ones while the burner is shut, the longer the longer it has been.
    pub fn is_piece_full(&self) -> bool {
        let span_s = self.piece.span_s;
        let shut_s = self.last.as_ref().map_or(0.0, |last| last.at_s - span_s - self.burner.1);
        let enough_s = if self.piece.on_s > 0.0 || !self.falls() { PIECE_S } else { PIECE_OF_PAUSE * shut_s };
        span_s >= enough_s.clamp(PIECE_S, LONGEST_PIECE_S) - 1e-9
    }

    /// Time gathered since the last piece, s.
    pub fn gathered_s(&self) -> f64 {
        self.piece.span_s
    }

    /// Whether what sees the chamber rises no more than noise does, as it has to with the burner shut. Where nothing sees it,
    /// nothing can contradict.
    fn falls(&self) -> bool {
        let piece = &self.piece;
        let of_chamber = self.sights.iter().zip(&piece.lines);
        let mut seen = of_chamber
            .filter(|(sight, line)| sight.is_of_chamber() && line.span_s > 0.5 * piece.span_s)
            .map(|(_, line)| line.at_c(piece.span_s) - line.at_c(0.0));
        seen.all(|rise_k| rise_k <= RISES_K)
    }

    /// Moves the ensemble on over what was gathered, and weighs its members by the deeper readings.
    pub fn finish(&mut self) -> Result<(), SolveError> {
        let Some(last) = &self.last else { return Ok(()) };
        let (now_s, temps_c) = (last.at_s, last.temps_c.clone());
        self.piece.ends = self.behind.iter().map(|behind| behind.at(now_s)).collect();
        self.finish_piece(&temps_c)
    }

    fn finish_piece(&mut self, temps_c: &[Option<f64>]) -> Result<(), SolveError> {
        let piece = std::mem::take(&mut self.piece);
        let span_s = piece.span_s + self.behind_s;
        if span_s <= 0.0 {
            return Ok(());
        }
        let (drive, driven) = self.drive_of(&piece);
        let burner = piece.burner();
        let mut next = self.ensemble.clone();
        if let Err(error) = next.advance(drive, Seconds(span_s)) {
            next = self.ensemble.clone();
            if drive == burner || next.advance(burner, Seconds(span_s)).is_err() {
                self.behind_s = span_s;
                return Err(error);
            }
        }
        self.behind_s = 0.0;
        self.driven = driven;
        self.ensemble = next;
        let states: Vec<Vec<SectionState>> =
            (0..self.sections.len()).map(|section| self.ensemble.states(section)).collect();
        let told = Told { span_s, drive, temps_c, ambient_c: self.ambient_c };
        self.weigher.weigh(&mut self.ensemble, &states, (&self.sights, &self.behind), &told);
        self.look(&states);
        Ok(())
    }

    /// Works out what is believed now; between pieces nothing changes.
    fn look(&mut self, states: &[Vec<SectionState>]) {
        self.believed = states.iter().map(|states| SectionBelief::of(&self.ensemble, states)).collect();
    }

    /// The best known drive: a hot face (the first section that has one), else the gas, else the burner; with its channel and
    /// temperature.
    fn drive_of(&self, piece: &Piece) -> (Drive, Option<(usize, Surroundings)>) {
        let known = |wanted: &dyn Fn(Sight) -> bool| {
            self.sights.iter().enumerate().filter(|(_, sight)| wanted(**sight)).find_map(|(index, sight)| {
                let heard_s = piece.lines.get(index).map_or(0.0, |line| line.span_s);
                let end = piece.ends.get(index).copied().flatten()?;
                (heard_s > 0.0 && heard_s >= COVERAGE * piece.span_s).then_some((index, *sight, end))
            })
        };
        let face = known(&|sight| matches!(sight, Sight::HotFace(_)));
        let Some((index, sight, end)) = face.or_else(|| known(&|sight| sight == Sight::Gas)) else {
            return (piece.burner(), None);
        };
        let temp = Celsius(end.temp_c);
        let drive = match sight {
            Sight::HotFace(section) => Drive::HotFace { section, temp },
            _ => Drive::Gas { temp },
        };
        (drive, Some((index, end)))
    }

    /// Danger number of a section now.
    pub fn danger(&self, section: usize) -> Range {
        self.believed.get(section).map_or(NOTHING, |seen| seen.danger)
    }

    /// Water left in a section, kg.
    pub fn water_left_kg(&self, section: usize) -> Range {
        self.believed.get(section).map_or(NOTHING, |seen| seen.water_left_kg)
    }

    /// Standard deviation of the temperature that drives the members, K: the couple's, what its lag and noise leave unknown, and how
    /// far it has gone since the last piece. 0 where the burner drives them.
    fn drive_sd_k(&self) -> f64 {
        let (Some((index, then)), Some(last)) = (self.driven, &self.last) else { return 0.0 };
        let now = self.behind.get(index).and_then(|behind| behind.at(last.at_s)).unwrap_or(then);
        then.sd_k.hypot(tolerance_k(then.temp_c)).hypot(now.temp_c - then.temp_c)
    }

    /// Highest pore pressure in a section now, Pa absolute.
    pub fn highest_pressure_pa(&self, section: usize) -> Range {
        blurred(&self.ensemble, self.drive_sd_k(), |member| self.ensemble.highest_pressure(member, section).0.0)
    }

    /// What is believed of `count` even depths of a section, from the fire to its outside.
    pub fn depths(&self, section: usize, count: usize) -> Vec<DepthNow> {
        let described = self.ensemble.furnace().lining().sections.get(section);
        let Some(thickness_m) = described.map(|section| section.thickness().0) else { return Vec::new() };
        let drive_sd_k = self.drive_sd_k();
        let depth_now = |step: usize| {
            let depth = Metres(thickness_m * step as f64 / (count.max(2) - 1) as f64);
            DepthNow {
                depth,
                temp_c: range(&self.ensemble, |member| self.ensemble.temp_at(member, section, depth).0),
                steam_mpa: over_air_mpa(blurred(&self.ensemble, drive_sd_k, |member| {
                    self.ensemble.pressure_at(member, section, depth).0
                })),
                water_kg_m3: range(&self.ensemble, |member| self.ensemble.water_at(member, section, depth)),
            }
        };
        (0..count).map(depth_now).collect()
    }

    /// Weight of the members that hold no free water to speak of where the channel at `index` sits.
    pub fn dry_share_at(&self, index: usize) -> Option<f64> {
        let (section, depth) = self.sights.get(index)?.inside(&self.ensemble)?;
        let start_kg_m3 = self.water_start_kg_m3.get(index).copied()?;
        let is_dry = |member: usize| {
            let (start, left) = (start_kg_m3.max(NO_WATER_KG_M3), self.ensemble.water_at(member, section, depth));
            left <= NO_WATER_KG_M3 || left <= DRY_PART * start
        };
        let weights = self.ensemble.weights().iter().enumerate();
        Some(weights.filter(|(member, _)| is_dry(*member)).map(|(_, weight)| weight).sum())
    }

    /// Median hot face of a section, °C.
    pub fn hot_face_c(&self, section: usize) -> f64 {
        self.believed.get(section).map_or(f64::NAN, |seen| seen.hot_face_c)
    }

    /// What the channel at `index` can read inside the wall, °C; `None` for one that sees the fire or sits outside.
    pub fn expects(&self, index: usize) -> Option<Range> {
        match *self.sights.get(index)? {
            Sight::Depth(section, depth) => {
                Some(range(&self.ensemble, |member| self.ensemble.temp_at(member, section, depth).0))
            }
            Sight::Contact(section) => {
                Some(range(&self.ensemble, |member| self.ensemble.section(member, section).contact.0))
            }
            Sight::Gas | Sight::HotFace(_) | Sight::Shell(_) => None,
        }
    }

    /// Whether the section is dry, for 95 % of the weight: what is still bound behind a cool back is let go by a hotter heat.
    pub fn is_dry(&self, section: usize) -> bool {
        self.believed.get(section).is_none_or(|seen| seen.free_weight < WET_SHARE)
    }

    /// Pessimistic (95th percentile) temperature at a depth, °C.
    pub fn high_at_c(&self, section: usize, depth: Metres) -> f64 {
        range(&self.ensemble, |member| self.ensemble.temp_at(member, section, depth).0).high
    }

    /// The ramp limit of a section while it may still be wet.
    pub fn ramp_limit(&self, section: usize) -> Option<KelvinPerHour> {
        let limit = self.ensemble.furnace().ramp_limit(section);
        let wet = self.believed.get(section).map_or(0.0, |seen| seen.wet_weight);
        (wet >= WET_SHARE).then_some(limit)
    }

    /// The pessimistic member's worst place in a section.
    pub fn worst(&self, section: usize) -> Danger {
        self.believed.get(section).map_or_else(|| self.ensemble.section(0, section).danger, |seen| seen.worst)
    }

    /// What is believed of each section.
    pub fn estimates(&self) -> Vec<SectionEstimate> {
        let estimate = |(section, name): (usize, &String)| SectionEstimate {
            section: name.clone(),
            danger: self.danger(section),
            water_left_kg: self.water_left_kg(section),
        };
        self.sections.iter().enumerate().map(estimate).collect()
    }
}

impl Piece {
    /// What the burner did, on the mean over the piece.
    fn burner(&self) -> Drive {
        let on = self.on_s / self.span_s.max(1e-9);
        match self.gas {
            Some((from, to)) if on > 0.5 => Drive::Ramp { from, to },
            _ if self.fire_s < self.on_s - 1e-9 => Drive::Fires { high: self.fire_s / self.on_s, low: 0.0, on },
            _ => Drive::Burner { on },
        }
    }

    fn add(&mut self, span_s: f64, fired: Fired, temps_c: &[Option<f64>]) {
        let at_s = self.span_s + 0.5 * span_s;
        self.span_s += span_s;
        if fired.flame == Flame::On {
            self.on_s += span_s;
        }
        self.fire_s += fired.fire * span_s;
        self.gas = fired.gas.map(|(at, _)| (self.gas.map_or(at, |(first, _)| first), at));
        self.lines.resize(temps_c.len(), Line::default());
        for (line, temp_c) in self.lines.iter_mut().zip(temps_c) {
            if let Some(temp_c) = temp_c {
                line.add(span_s, at_s, *temp_c);
            }
        }
    }
}

impl Line {
    fn add(&mut self, span_s: f64, at_s: f64, temp_c: f64) {
        self.span_s += span_s;
        self.time += span_s * at_s;
        self.time_time += span_s * at_s * at_s;
        self.temp += span_s * temp_c;
        self.time_temp += span_s * at_s * temp_c;
    }

    /// Temperature on the least-squares line at a time into the piece, °C; the mean when all is one reading.
    fn at_c(&self, at_s: f64) -> f64 {
        let (time_s, temp_c) = (self.time / self.span_s, self.temp / self.span_s);
        let spread = self.time_time / self.span_s - time_s * time_s;
        if spread < 1e-6 {
            return temp_c;
        }
        let slope = (self.time_temp / self.span_s - time_s * temp_c) / spread;
        temp_c + slope * (at_s - time_s)
    }
}

/// Temperatures a part of the way from `last` to `now`; where only one is known, that one.
fn between(last: &Seen, now: &Seen, part: f64) -> Vec<Option<f64>> {
    let mean = |(last, now): (&Option<f64>, &Option<f64>)| match (last, now) {
        (Some(last), Some(now)) => Some(last + part * (now - last)),
        (_, now) => *now,
    };
    last.temps_c.iter().zip(&now.temps_c).map(mean).collect()
}

/// Water of the middle member where a probe inside the lining sits, kg/m³.
fn water_kg_m3(sight: Sight, ensemble: &Ensemble) -> f64 {
    sight.inside(ensemble).map_or(0.0, |(section, depth)| ensemble.water_at(0, section, depth))
}

/// Absolute pressures, Pa, as overpressure, MPa.
fn over_air_mpa(pressure_pa: Range) -> Range {
    let over = |pressure_pa: f64| (pressure_pa - AIR_PA).max(0.0) / 1e6;
    Range { low: over(pressure_pa.low), mid: over(pressure_pa.mid), high: over(pressure_pa.high) }
}

/// Danger number over states of all members.
pub(super) fn danger_of(ensemble: &Ensemble, states: &[SectionState]) -> Range {
    rounded(range(ensemble, |member| states[member].danger.number), 1e3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_ends_where_the_line_through_its_readings_ends() {
        let mut line = Line::default();
        (0..10).for_each(|second| line.add(1.0, f64::from(second) + 0.5, 100.0 + 2.0 * (f64::from(second) + 0.5)));
        assert!((line.at_c(10.0) - 120.0).abs() < 1e-9);
    }
}
