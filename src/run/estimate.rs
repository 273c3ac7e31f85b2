//! What the lining is believed to be inside: the ensemble driven by the readings, and weighed by the deeper ones.

use super::cue::Fired;
use crate::lining::Lining;
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Belief, Danger, Drive, Ensemble, Furnace, Grid, SectionState, SolveError};
use crate::plan::Flame;
use crate::reading::Place;
use crate::units::{Celsius, KelvinPerHour, Metres, Seconds};

use super::RunError;
use super::health::Health;
use super::snapshot::DepthNow;
use super::verdict::{Range, SectionEstimate};

/// The ensemble is moved on in pieces of this length, s. It goes to where a straight line through the readings of the
/// piece ends, which takes most of the noise out and does not lag.
const PIECE_S: f64 = 10.0;

/// Longest piece after a gap in the readings, s.
const LONGEST_PIECE_S: f64 = 60.0;

/// After a time in which nothing was watched readings are waited for this long, s.
const BRIDGE_WAITS_S: f64 = 30.0;

/// What sees the chamber moves by no more than this over a calm piece, K: the noise of a reading.
const CALM_K: f64 = 2.0;

/// A drive needs readings for this part of a piece.
const COVERAGE: f64 = 0.5;

/// How long a probe's error and the model's error stay the same, s. Readings closer than this are not independent: a
/// tip that sits 2 mm too deep is wrong all day, so a second of readings counts as this fraction of one.
const ERROR_LASTS_S: f64 = 1800.0;

/// After how long older readings count for less, s. With [`ERROR_LASTS_S`] at most eight readings' worth of
/// knowledge is held, so a wrong tip cannot rule out every pessimistic member.
const FORGETS_AFTER_S: f64 = 14_400.0;

/// No reading counts as further off than so many standard deviations.
const FURTHEST_SD: f64 = 4.0;

/// A share of the weights that is always spread evenly, so that no member is ever gone for good.
const EVEN_SHARE: f64 = 0.05;

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
    ambient_c: f64,
    log_weights: Vec<f64>,
    piece: Piece,
    last: Option<Seen>,
    /// Time that could not be solved, s.
    behind_s: f64,
    /// What is believed now: states of each section by member, and their ranges.
    believed: Vec<SectionBelief>,
    /// Water at the start where each channel sits, middle member, kg/m³.
    water_start_kg_m3: Vec<f64>,
    /// Since when readings are waited for to bridge a time in which nothing was watched, s.
    bridging_s: Option<f64>,
}

/// What one probe channel sees.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Sight {
    Gas,
    HotFace(usize),
    Depth(usize, Metres),
    Contact(usize),
    Shell(usize),
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
    /// Weight of the members in which it is still wet.
    wet_weight: f64,
    /// The pessimistic member's worst place.
    worst: Danger,
}

impl SectionBelief {
    fn of(ensemble: &Ensemble, section: usize) -> Self {
        let states = ensemble.states(section);
        let mid = |value: &dyn Fn(&SectionState) -> f64| ensemble.percentile(0.5, |member| value(&states[member]));
        let danger = danger_of(ensemble, &states);
        let off = |state: &SectionState| (state.danger.number - danger.high).abs();
        let worst = states.iter().fold(states[0], |best, state| if off(state) < off(&best) { *state } else { best });
        let weighed = states.iter().zip(ensemble.weights());
        Self {
            danger,
            water_left_kg: rounded(range(ensemble, |member| states[member].water_left.0), 1e4),
            water_start_kg: mid(&|state| state.water_start.0),
            hot_face_c: mid(&|state| state.hot_face.0),
            wet_weight: weighed.filter(|(state, _)| state.wet_share > DRY_SHARE).map(|(_, weight)| weight).sum(),
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

/// What happened over a piece: its length, how long the burner burnt, and a line per channel.
#[derive(Clone, Debug, Default)]
struct Piece {
    span_s: f64,
    on_s: f64,
    /// Shares of the full fire, times how long each burnt, s.
    fire_s: f64,
    /// Where a control that holds ramps had the gas at the first and the last moment.
    gas: Option<(Celsius, Celsius)>,
    lines: Vec<Line>,
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
        let water_start_kg_m3 = sights.iter().map(|sight: &Sight| sight.water_kg_m3(&ensemble)).collect();
        let mut all = Self {
            believed: Vec::new(),
            water_start_kg_m3,
            log_weights: vec![0.0; ensemble.members()],
            ensemble,
            sections,
            sights,
            ambient_c: lining.surroundings.temp.0,
            piece: Piece::default(),
            last: None,
            behind_s: 0.0,
            bridging_s: None,
        };
        all.look();
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
        matches!(self.sights.get(index), Some(Sight::Gas | Sight::HotFace(_)))
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
            self.piece.add(span_s / parts, fired, &between(&last, &now, middle));
            if parts > 1.0 {
                outcome = outcome.and(self.finish_piece(&now.temps_c));
            }
        }
        self.last = Some(now);
        outcome
    }

    /// Nothing was watched until `now_s`. The next readings tell where the lining has got to; a straight line leads there.
    pub fn bridge(&mut self, now_s: f64) {
        self.bridging_s = Some(now_s);
    }

    /// Whether a whole piece has been gathered: longer ones while the burner is shut and nothing moves.
    pub fn is_piece_full(&self) -> bool {
        let span_s = self.piece.span_s;
        span_s >= PIECE_S - 1e-9 && (span_s >= LONGEST_PIECE_S - 1e-9 || !self.is_calm())
    }

    /// Time gathered since the last piece, s.
    pub fn gathered_s(&self) -> f64 {
        self.piece.span_s
    }

    /// Whether the burner is shut and whatever sees the chamber hardly moves.
    fn is_calm(&self) -> bool {
        let piece = &self.piece;
        let of_chamber = self.sights.iter().zip(&piece.lines);
        let mut seen = of_chamber
            .filter(|(sight, line)| matches!(sight, Sight::Gas | Sight::HotFace(_)) && line.span_s > 0.5 * piece.span_s)
            .map(|(_, line)| (line.at_c(piece.span_s) - line.at_c(0.0)).abs())
            .peekable();
        piece.on_s <= 0.0 && seen.peek().is_some() && seen.all(|moved_k| moved_k <= CALM_K)
    }

    /// Moves the ensemble on over what was gathered, and weighs its members by the deeper readings.
    pub fn finish(&mut self) -> Result<(), SolveError> {
        let temps_c = self.last.as_ref().map_or_else(Vec::new, |seen| seen.temps_c.clone());
        self.finish_piece(&temps_c)
    }

    fn finish_piece(&mut self, temps_c: &[Option<f64>]) -> Result<(), SolveError> {
        let piece = std::mem::take(&mut self.piece);
        let span_s = piece.span_s + self.behind_s;
        if span_s <= 0.0 {
            return Ok(());
        }
        let drive = self.drive_of(&piece);
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
        self.ensemble = next;
        self.weigh(span_s, drive, temps_c);
        self.look();
        Ok(())
    }

    /// Works out what is believed now; between pieces nothing changes.
    fn look(&mut self) {
        let sections = 0..self.sections.len();
        self.believed = sections.map(|section| SectionBelief::of(&self.ensemble, section)).collect();
    }

    /// The best known drive: a hot face (the first section that has one), else the gas, else the burner.
    fn drive_of(&self, piece: &Piece) -> Drive {
        let known = |wanted: &dyn Fn(Sight) -> bool| {
            self.sights.iter().enumerate().filter(|(_, sight)| wanted(**sight)).find_map(|(index, sight)| {
                let line = piece.lines.get(index).copied().unwrap_or_default();
                let is_covered = line.span_s >= COVERAGE * piece.span_s && line.span_s > 0.0;
                is_covered.then(|| (*sight, Celsius(line.at_c(piece.span_s))))
            })
        };
        if let Some((Sight::HotFace(section), temp)) = known(&|sight| matches!(sight, Sight::HotFace(_))) {
            return Drive::HotFace { section, temp };
        }
        if let Some((_, temp)) = known(&|sight| sight == Sight::Gas) {
            return Drive::Gas { temp };
        }
        piece.burner()
    }

    /// Shifts weight to the members that agree with the readings away from the driven face.
    fn weigh(&mut self, span_s: f64, drive: Drive, temps_c: &[Option<f64>]) {
        let states: Vec<Vec<SectionState>> =
            (0..self.sections.len()).map(|section| self.ensemble.states(section)).collect();
        let members = self.log_weights.len();
        let keep = (-span_s / FORGETS_AFTER_S).exp();
        for (member, believed) in self.log_weights.iter_mut().enumerate() {
            let mut gain = 0.0;
            for (sight, temp_c) in self.sights.iter().zip(temps_c) {
                let Some(read_c) = temp_c else { continue };
                let Some(expected_c) = expected_c((&self.ensemble, &states), *sight, member, drive) else { continue };
                let off = ((read_c - expected_c) / error_k(*read_c, self.ambient_c)).clamp(-FURTHEST_SD, FURTHEST_SD);
                gain -= 0.5 * off * off;
            }
            *believed = keep * *believed + gain * span_s / ERROR_LASTS_S;
        }
        let most = self.log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = self.log_weights.iter().map(|log_weight| (log_weight - most).exp()).sum();
        let wanted: Vec<f64> = self
            .log_weights
            .iter()
            .map(|log_weight| (1.0 - EVEN_SHARE) * (log_weight - most).exp() / sum + EVEN_SHARE / members as f64)
            .collect();
        let held = self.ensemble.weights().to_vec();
        self.ensemble.reweight(|member| match (wanted.get(member), held.get(member)) {
            (Some(wanted), Some(held)) if *held > 0.0 => wanted / held,
            _ => 1.0,
        });
    }

    /// Danger number of a section now.
    pub fn danger(&self, section: usize) -> Range {
        self.believed.get(section).map_or(NOTHING, |seen| seen.danger)
    }

    /// Water left in a section, kg.
    pub fn water_left_kg(&self, section: usize) -> Range {
        self.believed.get(section).map_or(NOTHING, |seen| seen.water_left_kg)
    }

    /// Highest pore pressure in a section now, Pa absolute.
    pub fn highest_pressure_pa(&self, section: usize) -> Range {
        range(&self.ensemble, |member| self.ensemble.highest_pressure(member, section).0.0)
    }

    /// What is believed of `count` even depths of a section, from the fire to its outside.
    pub fn depths(&self, section: usize, count: usize) -> Vec<DepthNow> {
        let described = self.ensemble.furnace().lining().sections.get(section);
        let Some(thickness_m) = described.map(|section| section.thickness().0) else { return Vec::new() };
        let depth_now = |step: usize| {
            let depth = Metres(thickness_m * step as f64 / (count.max(2) - 1) as f64);
            DepthNow {
                depth,
                temp_c: range(&self.ensemble, |member| self.ensemble.temp_at(member, section, depth).0),
                steam_mpa: range(&self.ensemble, |member| {
                    (self.ensemble.pressure_at(member, section, depth).0 - AIR_PA).max(0.0) / 1e6
                }),
                water_kg_m3: range(&self.ensemble, |member| self.ensemble.water_at(member, section, depth)),
            }
        };
        (0..count).map(depth_now).collect()
    }

    /// Weight of the members that hold no free water to speak of where the channel at `index` sits.
    pub fn dry_share_at(&self, index: usize) -> Option<f64> {
        let (section, depth) = match *self.sights.get(index)? {
            Sight::Depth(section, depth) => (section, depth),
            Sight::Contact(section) => (section, self.ensemble.furnace().lining().sections.get(section)?.thickness()),
            _ => return None,
        };
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

    /// Whether the section is dry, for 95 % of the weight.
    pub fn is_dry(&self, section: usize) -> bool {
        self.ramp_limit(section).is_none()
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

impl Sight {
    /// Water of the middle member where a probe inside the lining sits, kg/m³.
    fn water_kg_m3(self, ensemble: &Ensemble) -> f64 {
        match self {
            Self::Depth(section, depth) => ensemble.water_at(0, section, depth),
            Self::Contact(section) => {
                let thickness =
                    ensemble.furnace().lining().sections.get(section).map(crate::lining::Section::thickness);
                thickness.map_or(0.0, |depth| ensemble.water_at(0, section, depth))
            }
            _ => 0.0,
        }
    }

    fn of(channel: &super::health::ChannelHealth, sections: &[String]) -> Result<Self, RunError> {
        let find = |section: &str| {
            sections.iter().position(|name| name == section).ok_or_else(|| RunError::NoSuchSection {
                channel: channel.probe.channel.clone(),
                section: section.to_owned(),
                sections: sections.join(", "),
            })
        };
        Ok(match &channel.probe.place {
            Place::ChamberGas => Self::Gas,
            Place::HotFace { section } => Self::HotFace(find(section)?),
            Place::Depth { section, depth } => Self::Depth(find(section)?, *depth),
            Place::MetalContact { section } => Self::Contact(find(section)?),
            Place::Shell { section } => Self::Shell(find(section)?),
        })
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

/// Standard deviation of a reading against the right member: tolerance and drift of the couple, 3 K or 1 % (class 2
/// of IEC 60584-1 with a few years' drift), with 2 K and 5 % of the rise for the tip's place and what the model leaves out.
fn error_k(temp_c: f64, ambient_c: f64) -> f64 {
    super::ramp::dead_band_k(temp_c).hypot(2.0 + 0.05 * (temp_c - ambient_c).abs())
}

/// What `member` expects a channel to read; `None` when the channel drives it or a couple in the gas is not told by the
/// model, because flame and walls shine on it.
fn expected_c(
    (ensemble, states): (&Ensemble, &[Vec<SectionState>]),
    sight: Sight,
    member: usize,
    drive: Drive,
) -> Option<f64> {
    match sight {
        Sight::Gas => None,
        Sight::HotFace(section) => match drive {
            Drive::HotFace { section: driven, .. } if driven == section => None,
            _ => Some(states[section][member].hot_face.0),
        },
        Sight::Depth(section, depth) => Some(ensemble.temp_at(member, section, depth).0),
        Sight::Contact(section) => Some(states[section][member].contact.0),
        Sight::Shell(section) => Some(states[section][member].shell.0),
    }
}

/// Danger number over states of all members.
pub(super) fn danger_of(ensemble: &Ensemble, states: &[SectionState]) -> Range {
    rounded(range(ensemble, |member| states[member].danger.number), 1e3)
}

/// 5th, 50th and 95th percentile of a value over the weighted members.
pub(super) fn range(ensemble: &Ensemble, value: impl Fn(usize) -> f64) -> Range {
    let values: Vec<f64> = (0..ensemble.members()).map(value).collect();
    let [low, mid, high] = [0.05, 0.5, 0.95].map(|share| ensemble.percentile(share, |member| values[member]));
    Range { low, mid, high }
}

fn rounded(range: Range, per_unit: f64) -> Range {
    let round = |value: f64| (value * per_unit).round() / per_unit;
    Range { low: round(range.low), mid: round(range.mid), high: round(range.high) }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::lining::material::Materials;
    use crate::lining::text::parse_lining;

    #[test]
    fn the_range_of_unequal_weights_follows_the_weight() {
        let text = include_str!("../../schedules/thin-coat-forge.toml");
        let lining = parse_lining(text, Materials::built_in()).unwrap();
        let belief = Belief { members: 3, seed: 1 };
        let mut ensemble = Ensemble::new(&Furnace::of(&lining, Grid::Usual), belief).unwrap();
        ensemble.reweight(|member| [0.5, 0.46, 0.04][member]);
        let range = range(&ensemble, |member| [1.0, 2.0, 3.0][member]);
        assert_eq!([range.low, range.mid, range.high].map(|value| value.to_string()), ["1", "1", "2"]);
    }

    #[test]
    fn a_piece_ends_where_the_line_through_its_readings_ends() {
        let mut line = Line::default();
        (0..10).for_each(|second| line.add(1.0, f64::from(second) + 0.5, 100.0 + 2.0 * (f64::from(second) + 0.5)));
        assert!((line.at_c(10.0) - 120.0).abs() < 1e-9);
    }

    #[test]
    fn the_error_of_a_deep_reading_grows_with_the_rise() {
        assert!(error_k(20.0, 20.0) < 4.0 && error_k(400.0, 20.0) > 19.0);
    }
}
