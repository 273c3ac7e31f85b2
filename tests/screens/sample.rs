//! A heat-up to draw: the upright melting furnace of a school foundry, cast floor, coated barrel, lid.

use firstheat::plan::Flame;
use firstheat::plan::firing::{Fire, Setting};
use firstheat::reading::{Channel, Fault};
use firstheat::run::{
    Advice, BurnerNow, ChannelNow, Course, CourseNow, CueNow, DepthNow, DryingNow, Ended, FiresNow, LimitAhead, LogNow,
    PlanClock, PlanPoint, Range, SectionNow, Snapshot, Spoken, StandingWarning, TimeSource, ToldBy, Trace, TracePoint,
    WarningCause, Weight,
};
use firstheat::units::{Celsius, KelvinPerHour, Metres, Seconds};

const PLANNED_S: f64 = 5.0 * 3600.0 + 16.0 * 60.0;

/// Before the first flame.
pub fn before_start() -> Snapshot {
    let mut snapshot = counting();
    snapshot.elapsed = Seconds(0.0);
    snapshot.remaining = snapshot.planned;
    snapshot.clock = PlanClock::Waiting;
    snapshot.cue = Some(CueNow { round: 1, pulse: 1, changes_in: Some(Seconds(10.0)), ..on_cue() });
    snapshot.burner = None;
    snapshot.channels.iter_mut().for_each(|channel| {
        channel.value = Some(Ok(Celsius(19.0)));
        channel.ramp = None;
        channel.trace = Trace::default();
    });
    snapshot.forecast.clear();
    snapshot.courses.clear();
    for section in &mut snapshot.sections {
        section.danger = Range { low: 0.0, mid: 0.0, high: 0.0 };
        let initial_kg = section.water_initial_kg;
        section.water_left_kg = Range { low: 0.94 * initial_kg, mid: initial_kg, high: 1.06 * initial_kg };
        "nowhere yet, all is cold".clone_into(&mut section.worst);
    }
    snapshot.spoken = vec![spoken(0.0, Weight::Notice, "following the upright melter against its plan of 5:16:00")];
    snapshot.log = LogNow::Writing { rows: 1 };
    snapshot
}

/// The burner is shut and the next pulse is minutes away.
pub fn counting() -> Snapshot {
    let elapsed_s = 4360.0;
    Snapshot {
        lining: "Upright melter, school foundry".to_owned(),
        elapsed: Seconds(elapsed_s),
        planned: Seconds(PLANNED_S),
        remaining: Seconds(PLANNED_S - elapsed_s),
        clock: PlanClock::Runs,
        cue: Some(CueNow { burner: Flame::Off, changes_in: Some(Seconds(244.0)), next: Some(Flame::On), ..on_cue() }),
        burner: Some(BurnerNow { flame: Flame::Off, since: Seconds(elapsed_s - 56.0), told_by: ToldBy::Operator }),
        channels: channels(elapsed_s),
        plan_curve: plan_curve(),
        old_plan_curve: Vec::new(),
        forecast: forecast(elapsed_s, -40.0),
        courses: courses(Vec::new(), Vec::new()),
        sections: sections(),
        warnings: Vec::new(),
        spoken: said(),
        ports_lost: Vec::new(),
        log: LogNow::Writing { rows: 4312 },
        time_source: TimeSource::ProbeLine,
        ended: None,
    }
}

/// A new plan took over; the one before would have gone up more steeply.
pub fn replanned() -> Snapshot {
    let mut snapshot = counting();
    let old = |point: &PlanPoint| plan_point(point.elapsed.0, 1.3 * point.mid.0, 10.0);
    snapshot.old_plan_curve = plan_curve().iter().filter(|point| point.elapsed.0 > 4360.0).map(old).collect();
    let text = "a new plan for the rest takes over: 4 h 3 min to go, 3 h 10 min by the one before";
    snapshot.spoken.push(spoken(4358.0, Weight::Notice, text));
    snapshot
}

/// The burner burns and is to be shut soon.
pub fn on_pulse() -> Snapshot {
    let mut snapshot = counting();
    snapshot.cue = Some(on_cue());
    snapshot.burner = Some(BurnerNow { flame: Flame::On, since: Seconds(4336.0), told_by: ToldBy::Operator });
    snapshot.forecast = forecast(4360.0, 900.0);
    let limit = |cause, section: &str, lead_s| LimitAhead { cause, section: section.to_owned(), lead: Seconds(lead_s) };
    let stays = vec![limit(WarningCause::Ramp, "barrel", 95.0), limit(WarningCause::Danger, "floor", 310.0)];
    snapshot.courses = courses(stays, vec![limit(WarningCause::Danger, "floor", 480.0)]);
    snapshot
}

/// The three ways of the burner with what comes on the first two.
fn courses(stays: Vec<LimitAhead>, planned: Vec<LimitAhead>) -> Vec<CourseNow> {
    let course = |course, limits| CourseNow { course, looks: Seconds(594.0), limits };
    vec![course(Course::AsIs, stays), course(Course::AsPlanned, planned), course(Course::ShutNow, Vec::new())]
}

/// The pulse is over in seconds.
pub fn pulse_ending() -> Snapshot {
    let mut snapshot = on_pulse();
    snapshot.cue = Some(CueNow { changes_in: Some(Seconds(6.4)), ..on_cue() });
    snapshot
}

/// A burner that burns at a low mark is to be turned up soon.
pub fn turning() -> Snapshot {
    let mark = |mark: &str, share| Setting::Mark(Fire { mark: mark.to_owned(), share });
    let fires = FiresNow {
        set: mark("low", 0.15),
        wanted: mark("low", 0.15),
        next: mark("half", 0.5),
        turn_is_due: false,
        set_point: None,
    };
    let mut snapshot = on_pulse();
    snapshot.cue = Some(CueNow { next: Some(Flame::On), fires: Some(fires), ..on_cue() });
    snapshot
}

/// The same, and it is time.
pub fn turn_due() -> Snapshot {
    let mut snapshot = turning();
    if let Some(CueNow { fires: Some(fires), .. }) = &mut snapshot.cue {
        fires.turn_is_due = true;
        fires.wanted = fires.next.clone();
    }
    snapshot
}

/// A control holds a ramp, and the next is minutes away.
pub fn ramping() -> Snapshot {
    let ramp = |to_c, k_per_h| Setting::Ramp { to: Celsius(to_c), ramp: KelvinPerHour(k_per_h) };
    let fires = FiresNow {
        set: ramp(120.0, 50.0),
        wanted: ramp(120.0, 50.0),
        next: ramp(120.0, 0.0),
        turn_is_due: false,
        set_point: Some(Celsius(96.4)),
    };
    let mut snapshot = on_pulse();
    let changes_in = Some(Seconds(1699.0));
    snapshot.cue = Some(CueNow { next: Some(Flame::On), fires: Some(fires), changes_in, ..on_cue() });
    snapshot
}

/// Two warnings stand; one asks for the burner to be shut.
pub fn warned() -> Snapshot {
    let mut snapshot = on_pulse();
    snapshot.channels[0].ramp = Some(KelvinPerHour(96.0));
    snapshot.channels[0].ramp_limit = Some(KelvinPerHour(56.0));
    snapshot.sections[1].danger = Range { low: 0.31, mid: 0.44, high: 0.58 };
    snapshot.warnings = vec![
        StandingWarning {
            cause: WarningCause::Ramp,
            channel: Some(Channel::new("barrel face")),
            section: None,
            since: Seconds(4352.0),
            lead: Some(Seconds(40.0)),
            advice: Advice {
                action: "shut the burner for 2 min".to_owned(),
                reason: "the hot face rises 96 K/h, the coat stands 56".to_owned(),
            },
            burner: Some(Flame::Off),
            silenced: false,
        },
        StandingWarning {
            cause: WarningCause::Danger,
            channel: None,
            section: Some("floor".to_owned()),
            since: Seconds(4318.0),
            lead: None,
            advice: Advice {
                action: "hold at 180 °C until the floor has dried".to_owned(),
                reason: "steam at its sealed back may reach 1.2 MPa, it stands 2.1".to_owned(),
            },
            burner: None,
            silenced: false,
        },
    ];
    snapshot.spoken.push(spoken(
        4352.0,
        Weight::Warning,
        "barrel face: shut the burner for 2 min: the hot face rises 96 K/h, the coat stands 56",
    ));
    snapshot
}

/// The warnings stand and are silenced.
pub fn silenced() -> Snapshot {
    let mut snapshot = warned();
    snapshot.warnings.iter_mut().for_each(|warning| warning.silenced = true);
    snapshot.warnings[0].burner = None;
    snapshot
}

/// A probe is open, another has been silent for a while, and a port is gone.
pub fn probe_fault() -> Snapshot {
    let mut snapshot = counting();
    snapshot.channels[1].value = Some(Err(Fault::Open));
    snapshot.channels[1].ramp = None;
    snapshot.channels[2].value = Some(Err(Fault::Stale));
    snapshot.channels[2].age = Some(Seconds(74.0));
    snapshot.ports_lost = vec!["probe port usb-shell is gone, is it unplugged; tried again every second".to_owned()];
    snapshot.spoken.push(spoken(4301.0, Weight::Fault, "floor 30: open, a wire is off or the junction burnt through"));
    snapshot
}

/// The log cannot be written.
pub fn log_failing() -> Snapshot {
    let mut snapshot = counting();
    snapshot.log = LogNow::Failing { rows: 4311, why: "no space left on the disk".to_owned() };
    snapshot
}

/// The plan's clock stands.
pub fn paused() -> Snapshot {
    let mut snapshot = counting();
    snapshot.clock = PlanClock::Paused { since: Seconds(4310.0) };
    snapshot
}

/// Following is over.
pub fn ended() -> Snapshot {
    let mut snapshot = counting();
    snapshot.elapsed = Seconds(PLANNED_S);
    snapshot.remaining = Seconds(0.0);
    snapshot.clock = PlanClock::Done;
    snapshot.cue = None;
    snapshot.forecast.clear();
    snapshot.channels = channels(PLANNED_S);
    snapshot.ended = Some(Ended {
        elapsed: Seconds(PLANNED_S),
        reason: "the lining is dry and the soak is done; let it cool shut, no faster than 56 K/h".to_owned(),
    });
    snapshot
}

fn on_cue() -> CueNow {
    CueNow {
        burner: Flame::On,
        changes_in: Some(Seconds(24.0)),
        next: Some(Flame::Off),
        round: 3,
        rounds: 9,
        pulse: 2,
        pulses: 6,
        binds: "steam at the sealed back of the floor".to_owned(),
        fires: None,
    }
}

fn channels(elapsed_s: f64) -> Vec<ChannelNow> {
    let channel = |name: &str, place: &str, share: f64, limit: Option<f64>| {
        let trace = trace(elapsed_s, share);
        ChannelNow {
            channel: Channel::new(name),
            place: place.to_owned(),
            value: trace.points().last().map(|point| Ok(point.temp)),
            age: Some(Seconds(0.8)),
            ramp: Some(KelvinPerHour(62.0 * share)),
            ramp_limit: limit.map(KelvinPerHour),
            drying: place.contains("deep").then_some(DryingNow { dry_share: 0.31, plateau: Some(Celsius(112.0)) }),
            trace,
        }
    };
    vec![
        channel("barrel face", "barrel, hot face", 1.0, Some(84.0)),
        channel("floor 30", "floor, 30 mm deep", 0.62, Some(84.0)),
        channel("lid face", "lid, hot face", 0.86, Some(110.0)),
        channel("shell", "barrel, outside of the shell", 0.12, None),
    ]
}

fn mean_c(elapsed_s: f64) -> f64 {
    let hours = elapsed_s / 3600.0;
    if hours < 2.0 { 20.0 + 76.0 * hours } else { 172.0 + 120.0 * (hours - 2.0) }
}

fn trace(elapsed_s: f64, share: f64) -> Trace {
    let mut trace = Trace::default();
    let mut time_s = 0.0;
    while time_s <= elapsed_s {
        let ripple_c = 9.0 * (time_s / 300.0 * std::f64::consts::TAU).sin();
        let temp_c = 20.0 + share * (mean_c(time_s) - 20.0 + ripple_c);
        trace.push(TracePoint { elapsed: Seconds(time_s), temp: Celsius(temp_c) });
        time_s += 5.0;
    }
    trace
}

fn plan_curve() -> Vec<PlanPoint> {
    let point = |index: i32| {
        let elapsed_s = PLANNED_S * f64::from(index) / 60.0;
        let mid_c = mean_c(elapsed_s);
        let spread_c = 6.0 + 0.06 * mid_c;
        plan_point(elapsed_s, mid_c, spread_c)
    };
    (0..=60).map(point).collect()
}

fn forecast(elapsed_s: f64, ramp_k_h: f64) -> Vec<PlanPoint> {
    let point = |index: i32| {
        let ahead_s = 60.0 * f64::from(index);
        let rise_k = ramp_k_h * ahead_s / 3600.0;
        plan_point(elapsed_s + ahead_s, mean_c(elapsed_s) + rise_k, 2.0 + 0.25 * rise_k.abs())
    };
    (0..=15).map(point).collect()
}

fn plan_point(elapsed_s: f64, mid_c: f64, spread_c: f64) -> PlanPoint {
    PlanPoint {
        elapsed: Seconds(elapsed_s),
        low: Celsius(mid_c - spread_c),
        mid: Celsius(mid_c),
        high: Celsius(mid_c + spread_c),
    }
}

/// A front of water and steam 20 mm deep in 65 mm.
fn depths() -> Vec<DepthNow> {
    let depth = |step: i32| {
        let share = f64::from(step) / 8.0;
        let range = |mid: f64, spread: f64| Range { low: mid * (1.0 - spread), mid, high: mid * (1.0 + spread) };
        DepthNow {
            depth: Metres(0.065 * share),
            temp_c: range(180.0 - 130.0 * share, 0.05),
            steam_mpa: range(0.6 * (1.0 - (share - 0.3).abs()).powi(3), 0.3),
            water_kg_m3: range(if step < 2 { 5.0 } else { 120.0 + 20.0 * share }, 0.15),
        }
    };
    (0..9).map(depth).collect()
}

fn sections() -> Vec<SectionNow> {
    let section = |name: &str, danger: [f64; 3], water_kg: [f64; 3], worst: &str| SectionNow {
        section: name.to_owned(),
        danger: Range { low: danger[0], mid: danger[1], high: danger[2] },
        ceiling: 0.5,
        worst: worst.to_owned(),
        water_left_kg: Range { low: water_kg[0], mid: water_kg[1], high: water_kg[2] },
        water_initial_kg: 1.1 * water_kg[2],
        depths: depths(),
    };
    vec![
        section(
            "barrel",
            [0.08, 0.14, 0.22],
            [0.9, 1.2, 1.5],
            "coat of the barrel, 9 mm deep: steam 0.3 MPa against 2.4 MPa strength",
        ),
        section(
            "floor",
            [0.18, 0.31, 0.42],
            [1.8, 2.1, 2.4],
            "sealed back of the floor: steam 0.9 MPa against 2.1 MPa strength",
        ),
        section(
            "lid",
            [0.02, 0.05, 0.09],
            [0.2, 0.3, 0.45],
            "lid, 12 mm deep: thermal tension 0.1 MPa against 1.9 MPa strength",
        ),
    ]
}

fn said() -> Vec<Spoken> {
    vec![
        spoken(
            3610.0,
            Weight::Notice,
            "floor 30 stands at 108 °C: water is boiling there; the hold goes on until it rises again",
        ),
        spoken(4004.0, Weight::Cue, "burner on"),
        spoken(4034.0, Weight::Cue, "burner off"),
        spoken(4130.0, Weight::Notice, "pulse 1 of round 3 was 12 s short; the plan takes them up again in round 4"),
        spoken(4274.0, Weight::Cue, "burner on"),
        spoken(4304.0, Weight::Cue, "burner off"),
    ]
}

fn spoken(elapsed_s: f64, weight: Weight, text: &str) -> Spoken {
    Spoken { elapsed: Seconds(elapsed_s), weight, text: text.to_owned() }
}
