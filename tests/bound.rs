//! How short a plan is: the bound of an ideal burner, what changes of a lining do to plan and bound, and that nothing but
//! the input decides what is found.

#![allow(clippy::unwrap_used)]

use std::sync::OnceLock;

use firstheat::lining::Lining;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::{Belief, Ensemble, Furnace, Grid};
use firstheat::plan::bound::stepless;
use firstheat::plan::search::{Asked, SearchOptions, bound_of, limits_of, search, search_within};
use firstheat::units::Seconds;

/// A small slab that need not get hot, so that a plan is found in seconds.
struct Slab {
    temp: &'static str,
    ceiling: f64,
    mm: f64,
    mix_water: &'static str,
    /// At 100 and at 400 °C, m².
    permeability: [f64; 2],
    back: &'static str,
}

const SLAB: Slab = Slab {
    temp: "20 C",
    ceiling: 0.4,
    mm: 25.0,
    mix_water: "11.5 %",
    permeability: [1e-16, 2e-15],
    back: "sealed steel\"\nsteel = \"2 mm",
};

impl Slab {
    fn lining(&self) -> Lining {
        let Self { temp, ceiling, mm, mix_water, permeability: [cold, hot], back } = self;
        let text = format!(
            r#"
format = "firstheat lining 1"
name = "slab"
[place]
temperature = "{temp}"
humidity = "50 %"
[burner]
power = "12 kW"
[[chamber.opening]]
name = "mouth"
diameter = "80 mm"
[goal]
soak-temperature = "240 C"
soak-time = "10 min"
danger-ceiling = {ceiling}
[[section]]
name = "slab"
shape = "flat"
area = "0.3 m2"
back = "{back}"
[[section.layer]]
material = "tight"
thickness = "{mm} mm"
mix-water = "{mix_water}"
[material.tight]
like = "dense-castable"
ramp-limit = "200 C/h"
permeability = {{ points = [[100, {cold:e}], [400, {hot:e}]], unit = "m2", source = "made up for this test" }}
"#
        );
        parse_lining(&text, Materials::built_in()).unwrap()
    }

    /// Bound and plan of the same members, h. What others make of it would only add its own steps.
    fn hours(&self) -> [f64; 2] {
        let lining = self.lining();
        let (plan, _) = search_within(&Asked::of(&lining, OPTIONS), A_WEEK).unwrap();
        [bound_of(&lining, OPTIONS).unwrap().hours(), plan.length().hours()]
    }
}

const OPTIONS: SearchOptions = SearchOptions { belief: Belief { members: 8, seed: 3 } };

const A_WEEK: Seconds = Seconds(7.0 * 24.0 * 3600.0);

fn coat() -> Lining {
    parse_lining(include_str!("../schedules/yardstick-coat-3.toml"), Materials::built_in()).unwrap()
}

/// Bound and plan of the plain slab, h.
fn plain_hours() -> [f64; 2] {
    static HOURS: OnceLock<[f64; 2]> = OnceLock::new();
    *HOURS.get_or_init(|| SLAB.hours())
}

/// Bounds follow from physics alone up to the steps they are solved in; pulses add the steps a hand can keep, over a limit that a
/// hundredth more fire uses a tenth more of, and the rounds.
fn assert_not_shorter(harder: &Slab) {
    let ([bound_h, plan_h], [harder_bound_h, harder_plan_h]) = (plain_hours(), harder.hours());
    assert!(harder_bound_h > 0.99 * bound_h, "bound {harder_bound_h} h, was {bound_h} h");
    assert!(harder_plan_h > 0.95 * plan_h, "plan {harder_plan_h} h, was {plan_h} h");
}

/// The slab above is bound by danger all the way, where margins cost most (1.3 times its bound): DEVELOPERS.md has the table.
#[test]
fn the_plan_of_a_thin_coat_is_at_most_a_fifth_longer_than_its_bound() {
    let ratio = search(&Asked::of(&coat(), OPTIONS), &mut |_| {}).unwrap().ratio().unwrap();
    assert!((1.0..=1.2).contains(&ratio), "{ratio}");
}

#[test]
fn no_plan_is_shorter_than_its_bound() {
    let [bound_h, plan_h] = plain_hours();
    assert!(plan_h > bound_h, "{plan_h} h, bound {bound_h} h");
}

/// Fires held back now and then, and full again, as far as is safe, after that.
#[test]
fn a_burner_that_holds_back_is_never_quicker_than_the_bound() {
    let lining = SLAB.lining();
    let furnace = Furnace::of(&lining, Grid::Coarse);
    let limits = limits_of(&lining, &furnace);
    let bound_s = bound_of(&lining, OPTIONS).unwrap().0;
    let patterns: [fn(f64) -> f64; 4] = [
        |h| if h < 0.3 { 0.5 } else { 1.0 },
        |h| if (0.5..0.9).contains(&h) { 0.3 } else { 1.0 },
        |h| if h > 0.8 { 0.9 } else { 1.0 },
        |h| if ((h * 4.0) as u64).is_multiple_of(2) { 0.85 } else { 1.0 },
    ];
    for pattern in patterns {
        let start = Ensemble::new(&furnace, OPTIONS.belief).unwrap();
        let held_s = stepless(start, &limits, &mut |now: &Ensemble| pattern(now.elapsed().hours())).unwrap().0;
        assert!(held_s > 0.995 * bound_s, "{held_s} s, bound {bound_s} s");
    }
}

#[test]
fn one_thread_and_two_find_the_same_to_the_last_bit() {
    let lining = coat();
    let options = SearchOptions { belief: Belief { members: 16, seed: 3 } };
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let proven = search(&Asked::of(&lining, options), &mut |_| {}).unwrap();
            let held_by_danger = search_within(&Asked::of(&SLAB.lining(), options), A_WEEK).unwrap();
            (proven, held_by_danger)
        })
    };
    assert_eq!(with(1), with(2));
}

#[test]
fn more_water_never_gives_a_shorter_plan() {
    assert_not_shorter(&Slab { mix_water: "13 %", ..SLAB });
}

#[test]
fn less_permeability_never_gives_a_shorter_plan() {
    assert_not_shorter(&Slab { permeability: [3e-17, 6e-16], ..SLAB });
}

#[test]
fn a_thicker_wall_never_gives_a_shorter_plan() {
    assert_not_shorter(&Slab { mm: 35.0, ..SLAB });
}

#[test]
fn a_colder_place_never_gives_a_shorter_plan() {
    assert_not_shorter(&Slab { temp: "8 C", ..SLAB });
}

#[test]
fn a_lower_ceiling_never_gives_a_shorter_plan() {
    assert_not_shorter(&Slab { ceiling: 0.25, ..SLAB });
}
