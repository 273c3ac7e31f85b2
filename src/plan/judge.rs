//! What a stretch of heating does to each limit, and the strongest heating that passes none.
//!
//! A stretch is tried with the mean over the pulses as the drive: the wet zone feels only that. Its danger is that of the
//! stretch itself and of the time after it with the burner shut, until pressure falls again. So every moment of what is
//! found is one from which shutting the burner saves the lining.

use super::check::worst_peak;
use super::firing::drive_at;
use super::search::{PROMISED_SHARE, PlanError};
use super::{Limits, check};
use crate::lining::Control;
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Danger, Drive, Ensemble, Furnace, SolveError};
use crate::units::{Celsius, Seconds};

/// The hot face may stand this far below the soak temperature and still soak, K: what a person at a valve holds.
pub(super) const SOAK_BAND_K: f64 = 15.0;
/// The middle member may come this far above the soak temperature, K.
const OVER_SOAK_K: f64 = 5.0;
/// A limit counts as used up from this share on.
const USED_UP: f64 = 0.985;
/// Trials for one stretch.
const TRIALS: usize = 9;

/// Shares of the limits that a search allows itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shares {
    /// Of the ramp limit.
    pub ramp: f64,
    /// Of the ceiling of the danger number.
    pub danger: f64,
}

impl Shares {
    /// All of both.
    pub const FULL: Self = Self { ramp: 1.0, danger: 1.0 };
}

/// Holds stretches of heating against the limits of one lining.
#[derive(Clone, Copy, Debug)]
pub(super) struct Judge<'a> {
    pub furnace: &'a Furnace,
    pub limits: &'a Limits,
    pub shares: Shares,
}

/// The members at one moment of a heat-up, with what is remembered of the way there.
#[derive(Clone, Debug)]
pub(super) struct Stand {
    /// The members.
    pub ensemble: Ensemble,
    /// Highest danger number of each so far.
    worst: Vec<f64>,
    /// How much higher the danger last became after the burner was shut than it was before, as a factor.
    lag: f64,
    /// What a change of duty last changed each limit's value by.
    slopes: [f64; LIMITS.len()],
    /// Time soaked.
    pub soaked: Seconds,
    /// Where a control that holds ramps has taken the gas.
    pub set_point: Celsius,
}

/// The limits of a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    /// Rise of a wet hot face.
    Ramp,
    /// Middle hot face over the soak temperature.
    Soak,
    /// What the hot face stands.
    Service,
    /// The danger number.
    Danger,
    /// The fire that a ramp of the gas takes.
    Fire,
}

const LIMITS: [Limit; 5] = [Limit::Ramp, Limit::Soak, Limit::Service, Limit::Danger, Limit::Fire];

/// What a stretch did.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// At its end.
    pub stand: Stand,
    /// Value of each limit's quantity and what it may be.
    values: [(f64, f64); LIMITS.len()],
    /// Section whose ramp is nearest to its limit.
    steepest: usize,
    /// Where the danger was.
    peak: Option<(usize, Danger)>,
}

/// The strongest stretch that passes no limit.
#[derive(Clone, Debug)]
pub(super) struct Strongest {
    /// Share of the time with the burner on.
    pub duty: f64,
    /// What it does.
    pub stretch: Stretch,
    /// The limit that keeps it from being stronger, in words.
    pub binds: String,
}

impl Stand {
    /// At the first flame.
    pub fn new(ensemble: Ensemble) -> Self {
        let worst = vec![0.0; ensemble.members()];
        let set_point = ensemble.furnace().lining().surroundings.temp;
        Self { ensemble, worst, lag: 3.0, slopes: [0.0; LIMITS.len()], soaked: Seconds(0.0), set_point }
    }

    /// Whether the soak is over and nearly all members have lost the free water of the layers that can spall. What is
    /// still bound behind a cool back is let go by a hotter heat, and counted then.
    pub fn is_done(&self, limits: &Limits) -> bool {
        self.soaked.0 >= limits.soak.0 - 0.5 && self.wet() <= DRY_SHARE
    }

    /// Share of the water that is still free in the wettest of the promised members.
    pub fn wet(&self) -> f64 {
        wet(&self.ensemble)
    }

    /// Hot face of the middle member.
    pub fn middle(&self) -> Celsius {
        middle_hot_face(&self.ensemble)
    }
}

impl Stretch {
    /// Whether every limit is kept.
    pub fn keeps(&self) -> bool {
        self.passed().is_none()
    }

    fn passed(&self) -> Option<Limit> {
        let over = |limit: &&Limit| {
            let (value, most) = self.values[**limit as usize];
            value.is_nan() || value > most
        };
        LIMITS.iter().find(over).copied()
    }

    /// How far the time is used: 1 when a limit is used in full, less the quicker a stronger stretch would have been.
    pub fn use_of_time(&self, limits: &Limits) -> f64 {
        let value = |limit: Limit| self.values[limit as usize].0;
        let danger = value(Limit::Danger) / limits.danger_ceiling;
        // A danger short of the ceiling keeps nothing back.
        let is_near = danger >= USED_UP - 0.05;
        let is_hot = value(Limit::Soak) >= limits.soak_temp.0 - SOAK_BAND_K + OVER_SOAK_K
            || value(Limit::Service) >= USED_UP * limits.service.0
            || value(Limit::Fire) >= USED_UP;
        if is_hot || is_near { 1.0 } else { value(Limit::Ramp).min(1.0) }
    }

    fn is_used_up(&self) -> bool {
        LIMITS.into_iter().any(|limit| {
            let (value, most) = self.values[limit as usize];
            if limit == Limit::Soak { value >= most - 1.0 } else { value >= USED_UP * most }
        })
    }

    /// Share of the ramp limit and danger number, as far as they go into what is tracked.
    pub fn ramp_and_danger(&self) -> [f64; 2] {
        [self.values[Limit::Ramp as usize].0, self.values[Limit::Danger as usize].0]
    }
}

impl Judge<'_> {
    /// Runs the burner at the strength `duty` over `span` on a copy of the members, then looks ahead with the burner shut where
    /// danger may still rise.
    pub fn stretch(&self, from: &Stand, duty: f64, span: Seconds) -> Result<Stretch, SolveError> {
        let mut stand = from.clone();
        stand.ensemble.forget_peaks();
        let drive = drive_at(self.furnace, duty, (from.set_point, span), self.limits.ramp);
        let (ramp, steepest) = self.heat(from, &mut stand, (drive, span))?;
        let fire = self.fire(&mut stand, drive);
        stand.soaked = stand.soaked + self.soaked(from, &stand, span);
        let middle = stand.middle();
        let high = stand.ensemble.percentile(PROMISED_SHARE, |member| hottest(&stand.ensemble, member).0);
        let ceiling = self.limits.danger_ceiling * self.shares.danger;
        let (danger, peak) = self.danger(&mut stand, ceiling)?;
        let values = [
            (ramp, self.shares.ramp),
            (middle.0, self.limits.soak_temp.0 + OVER_SOAK_K),
            (high, self.limits.service.0),
            (danger, ceiling),
            (fire, 1.0),
        ];
        Ok(Stretch { stand, values, steepest, peak })
    }

    /// The strongest stretch of `span` with the burner on for `guess` of the time or so, from `least` to `most`. Where
    /// even `least` passes a limit, the stretch with `least` does.
    pub fn strongest(
        &self,
        from: &Stand,
        guess: f64,
        span: Seconds,
        (least, most): (f64, f64),
    ) -> Result<Strongest, PlanError> {
        let mut low: Option<(f64, Stretch)> = None;
        let mut high: Option<(f64, Stretch)> = None;
        let mut binds = String::from(match self.furnace.control() {
            Control::OnOff => "the burner at its strongest pulses",
            Control::Marks(_) | Control::Ramps => "the burner at its full fire",
        });
        let mut slopes = from.slopes;
        let mut recent: Option<(f64, Stretch)> = None;
        let mut duty = guess.clamp(least, most);
        for _ in 0..TRIALS {
            let Ok(tried) = self.stretch(from, duty, span) else {
                // Beyond anything the wall can be: as strong as too strong comes.
                if duty <= least {
                    self.stretch(from, duty, span)?;
                }
                duty = low.as_ref().map_or(least.max(0.5 * duty), |low| 0.5 * (low.0 + duty));
                continue;
            };
            if let Some((before, stretch)) = &recent {
                slopes = slopes_between((*before, stretch), (duty, &tried), slopes);
            }
            recent = Some((duty, tried.clone()));
            if let Some(passed) = tried.passed() {
                binds = self.words(passed, &tried);
                high = Some((duty, tried));
            } else {
                let done = tried.is_used_up() || duty >= most - 1e-9;
                low = Some((duty, tried));
                if done {
                    break;
                }
            }
            let floor = low.as_ref().map_or(least, |low| low.0);
            let ceiling = high.as_ref().map_or(most, |high| high.0);
            if (low.is_some() || ceiling <= least + 1e-9) && ceiling - floor < 0.004 * ceiling + 1e-4 {
                break;
            }
            duty = next_duty(recent.as_ref(), &slopes, (floor, ceiling), (low.is_some(), high.is_some()));
        }
        let (duty, mut stretch) = match low {
            Some(low) => low,
            None => (least, self.stretch(from, least, span)?),
        };
        if let (true, Some(nearest)) = (high.is_none(), nearest_limit(&stretch)) {
            binds = self.words(nearest, &stretch);
        }
        stretch.stand.slopes = slopes;
        Ok(Strongest { duty, stretch, binds })
    }

    /// Moves `stand` on from `from`, and gives the steepest ramp. Under a gas that rises evenly a face rises ever quicker, and goes
    /// on to when the gas stands still: there the end of the span counts too.
    fn heat(
        &self,
        from: &Stand,
        stand: &mut Stand,
        (drive, span): (Drive, Seconds),
    ) -> Result<(f64, usize), SolveError> {
        /// Part of the span that is its end.
        const END: f64 = 0.25;
        let Drive::Ramp { from: begin, to } = drive else {
            stand.ensemble.advance(drive, span)?;
            return Ok(self.ramp(&from.ensemble, &stand.ensemble, span));
        };
        let near = Celsius(to.0 + END * (begin.0 - to.0));
        stand.ensemble.advance(Drive::Ramp { from: begin, to: near }, Seconds((1.0 - END) * span.0))?;
        let before = stand.ensemble.clone();
        stand.ensemble.advance(Drive::Ramp { from: near, to }, Seconds(END * span.0))?;
        let whole = self.ramp(&from.ensemble, &stand.ensemble, span);
        let end = self.ramp(&before, &stand.ensemble, Seconds(END * span.0));
        Ok(if end.0 > whole.0 { end } else { whole })
    }

    /// Where a ramp of the gas has led, and the share of the full fire that it takes there for the promised members; 0 of a
    /// burner that is set by hand.
    fn fire(&self, stand: &mut Stand, drive: Drive) -> f64 {
        let Drive::Ramp { to, .. } = drive else { return 0.0 };
        stand.set_point = to;
        let full_kg_s = self.furnace.full_fire_kg_s();
        let ensemble = &stand.ensemble;
        ensemble.percentile(PROMISED_SHARE, |member| ensemble.fuel_rate_to_hold(member, to) / full_kg_s)
    }

    /// How much of `span` counts towards the soak.
    fn soaked(&self, from: &Stand, to: &Stand, span: Seconds) -> Seconds {
        let (before, after, least) = (from.middle().0, to.middle().0, self.limits.soak_temp.0 - SOAK_BAND_K);
        if after < least {
            Seconds(0.0)
        } else if before >= least {
            span
        } else {
            Seconds(span.0 * (after - least) / (after - before))
        }
    }

    /// Mean rise of the wet hot faces as a share of their limits, and the section nearest to its own.
    fn ramp(&self, before: &Ensemble, after: &Ensemble, span: Seconds) -> (f64, usize) {
        let share = |section: usize| {
            let limit = self.furnace.ramp_limit(section).0.min(self.limits.ramp_of_goal(self.furnace));
            let ramp = after.percentile(PROMISED_SHARE, |member| {
                if before.ramp_limit(member, section).is_none() {
                    return 0.0;
                }
                let rise = after.hot_face(member, section) - before.hot_face(member, section);
                rise.0 / span.hours()
            });
            (ramp / limit, section)
        };
        (0..self.furnace.section_names().len()).map(share).fold((0.0, 0), |a, b| if b.0 > a.0 { b } else { a })
    }

    /// Danger number of the promised share, of the stretch and of what follows when the burner is shut.
    fn danger(&self, stand: &mut Stand, ceiling: f64) -> Result<(f64, Option<(usize, Danger)>), SolveError> {
        /// Below this share of the ceiling, with what it may still rise, there is no need to look ahead.
        const QUIET: f64 = 0.6;
        let here = stand.ensemble.percentile(PROMISED_SHARE, |member| peak_of(&stand.ensemble, member));
        let mut danger = here;
        let mut peak = None;
        let mut worst_ahead = None;
        if here * stand.lag > QUIET * ceiling {
            let ahead = self.look_ahead(&stand.ensemble, ceiling)?;
            danger = ahead.percentile(PROMISED_SHARE, |member| peak_of(&ahead, member));
            stand.lag = (danger / here.max(1e-3)).clamp(1.0, 4.0);
            peak = Some(telling_peak(&ahead, danger));
            // What members had behind them is not this stretch's doing.
            let before = ahead.percentile(PROMISED_SHARE, |member| stand.worst[member]);
            let ever = ahead.percentile(PROMISED_SHARE, |member| peak_of(&ahead, member).max(stand.worst[member]));
            worst_ahead = Some(ever).filter(|&ever| ever > ceiling.max(before));
        }
        for (member, worst) in stand.worst.iter_mut().enumerate() {
            *worst = worst.max(peak_of(&stand.ensemble, member));
        }
        Ok((worst_ahead.unwrap_or(danger), peak))
    }

    /// The members after some time with the burner shut: until danger falls, or is far below the ceiling.
    fn look_ahead(&self, from: &Ensemble, ceiling: f64) -> Result<Ensemble, SolveError> {
        /// Longest look, in units of the first.
        const LOOKS: usize = 12;
        let mut ahead = from.clone();
        let now = |ahead: &Ensemble| ahead.percentile(PROMISED_SHARE, |member| check::worst_now(ahead, member));
        let mut before = now(&ahead);
        for _ in 0..LOOKS {
            ahead.advance(Drive::Burner { on: 0.0 }, self.first_look())?;
            let after = now(&ahead);
            if after < before || after < 0.5 * ceiling {
                break;
            }
            before = after;
        }
        Ok(ahead)
    }

    /// How long the peak lags behind the flame at least: a quarter of the diffusion time of the thickest section, at most
    /// half an hour.
    fn first_look(&self) -> Seconds {
        /// Diffusivity of a dense castable, m²/s.
        const DIFFUSIVITY_M2_S: f64 = 5e-7;
        let thickest_m = self.furnace.lining().sections.iter().map(|section| section.thickness().0).fold(0.0, f64::max);
        Seconds((0.25 * thickest_m * thickest_m / DIFFUSIVITY_M2_S).clamp(120.0, 1800.0))
    }

    /// A limit as a stretch met it, in plain words.
    fn words(&self, limit: Limit, stretch: &Stretch) -> String {
        match limit {
            Limit::Ramp => {
                let name = &self.furnace.section_names()[stretch.steepest];
                let limit = self.furnace.ramp_limit(stretch.steepest).0.min(self.limits.ramp_of_goal(self.furnace));
                format!("the hot face of the {name} may rise {limit:.0} K/h while it is wet")
            }
            Limit::Soak => format!("the soak is at {:.0} °C", self.limits.soak_temp.0),
            Limit::Service => format!("the hot face stands {:.0} °C", self.limits.service.0),
            Limit::Fire => "the burner at its full fire".to_owned(),
            Limit::Danger => {
                let number = stretch.values[Limit::Danger as usize].0;
                let place = stretch.peak.as_ref().map_or_else(String::new, |(section, danger)| {
                    format!(": {}", self.furnace.describe(*section, danger))
                });
                format!("danger {number:.2}{place}")
            }
        }
    }
}

/// The limit that a stretch comes nearest to, when it comes near to any.
fn nearest_limit(stretch: &Stretch) -> Option<Limit> {
    let share = |limit: &Limit| stretch.values[*limit as usize].0 / stretch.values[*limit as usize].1;
    let nearest = LIMITS.into_iter().max_by(|a, b| share(a).total_cmp(&share(b)))?;
    (share(&nearest) >= USED_UP).then_some(nearest)
}

/// By how much each value changes with duty, from two trials of the same stretch; of the first that are no rise the old.
fn slopes_between(a: (f64, &Stretch), b: (f64, &Stretch), old: [f64; LIMITS.len()]) -> [f64; LIMITS.len()] {
    let mut slopes = old;
    let by = b.0 - a.0;
    if by.abs() < 1e-6 {
        return old;
    }
    for (index, slope) in slopes.iter_mut().enumerate() {
        let new = (b.1.values[index].0 - a.1.values[index].0) / by;
        if new.is_finite() && new > 0.0 {
            *slope = new;
        }
    }
    slopes
}

/// The duty at which the first limit is just about used up, kept between what passes none and what passes one.
fn next_duty(
    recent: Option<&(f64, Stretch)>,
    slopes: &[f64; LIMITS.len()],
    (floor, ceiling): (f64, f64),
    (has_low, has_high): (bool, bool),
) -> f64 {
    let Some((duty, stretch)) = recent else { return 0.5 * (floor + ceiling) };
    let aim = |index: usize| {
        let (value, most) = stretch.values[index];
        let aimed = if index == Limit::Soak as usize { most - 0.5 } else { 0.993 * most };
        if slopes[index] > 0.0 { duty + (aimed - value) / slopes[index] } else { f64::INFINITY }
    };
    let wanted = (0..LIMITS.len()).map(aim).fold(f64::INFINITY, f64::min);
    let width = ceiling - floor;
    if has_low && has_high {
        return wanted.clamp(floor + 0.08 * width, ceiling - 0.08 * width);
    }
    let (up, down) = (ceiling.min(2.0 * duty + 0.002), floor.max(0.4 * duty));
    let wanted = if wanted.is_finite() { wanted } else { 1.4 * duty };
    let wanted = if stretch.keeps() { wanted.max(1.01 * duty) } else { wanted.min(0.985 * duty) };
    if has_high && wanted < floor + 0.02 * duty { floor } else { wanted.clamp(down.min(up), up) }
}

fn peak_of(ensemble: &Ensemble, member: usize) -> f64 {
    worst_peak(ensemble, member).1.number
}

/// The peak of the member that stands nearest to `number`.
fn telling_peak(after: &Ensemble, number: f64) -> (usize, Danger) {
    (0..after.members())
        .map(|member| worst_peak(after, member))
        .min_by(|a, b| (a.1.number - number).abs().total_cmp(&(b.1.number - number).abs()))
        .unwrap_or_else(|| worst_peak(after, 0))
}

/// Hottest hot face of a member now.
pub(super) fn hottest(ensemble: &Ensemble, member: usize) -> Celsius {
    let sections = 0..ensemble.furnace().section_names().len();
    Celsius(sections.map(|section| ensemble.hot_face(member, section).0).fold(f64::NEG_INFINITY, f64::max))
}

fn middle_hot_face(ensemble: &Ensemble) -> Celsius {
    Celsius(ensemble.percentile(0.5, |member| hottest(ensemble, member).0))
}

/// Share of the water that is still free in the wettest of the promised members.
pub(super) fn wet(ensemble: &Ensemble) -> f64 {
    ensemble.percentile(PROMISED_SHARE, |member| wettest_share(ensemble, member))
}

fn wettest_share(ensemble: &Ensemble, member: usize) -> f64 {
    let sections = 0..ensemble.furnace().section_names().len();
    sections.map(|section| ensemble.water_shares(member, section)[1]).fold(0.0, f64::max)
}
