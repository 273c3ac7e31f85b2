//! The simulated furnace behind a port: it heats when told, lags as its probes do, and reads like a board.

#![allow(clippy::unwrap_used)]

use std::sync::Arc;
use std::thread::sleep;
use std::time::{Duration, Instant};

use firstheat::lining::make::Make;
use firstheat::lining::material::{Dehydration, Kind, Material};
use firstheat::lining::{
    Back, Burner as LiningBurner, Chamber, Control, Cure, Fuel, Goal, Layer, Lining, Section, Shape, Surroundings,
    Water,
};
use firstheat::physics::{Furnace, Grid};
use firstheat::probe::feed::channel;
use firstheat::probe::port::PortReader;
use firstheat::probe::simulated::{BehindPort, Burner, Habits, Order, Pace, SimulateError, SimulatedFurnace};
use firstheat::probe::{PortEvent, PortSpec, Told, file};
use firstheat::reading::Reading;
use firstheat::units::{Celsius, Curve, KelvinPerHour, Metres, Seconds, SquareMetres, Watts};
use tokio::sync::mpsc::Receiver;

/// Longest wait for an event that must come.
const PATIENCE: Duration = Duration::from_secs(10);

/// A box of dense castable, 25 mm thick: figures of the class, rounded, good enough to be heated.
fn furnace() -> Furnace {
    let flat = Curve::constant;
    let release = Curve::new(vec![(100.0, 0.0), (230.0, 0.35), (600.0, 1.0)]).unwrap();
    let material = Material {
        key: "dense-castable".to_owned(),
        title: "dense castable".to_owned(),
        kind: Kind::Castable,
        density_kg_m3: 2200.0,
        conductivity_w_mk: flat(1.2),
        wet_conductivity_w_mk: 0.3,
        heat_capacity_j_kgk: flat(1000.0),
        porosity: 0.2,
        mix_water: [0.10, 0.11, 0.12],
        bound_water: 0.045,
        dehydration: Dehydration {
            cold: release.clone(),
            mixed: release.clone(),
            warm: release,
            heat_j_kg: 1.5e6,
            time_s: 600.0,
        },
        permeability_log10_m2: Curve::new(vec![(100.0, -15.0), (400.0, -14.0), (800.0, -13.0)]).unwrap(),
        permeability_spread: 0.5,
        rupture_mpa: 6.0,
        rupture_factor: flat(1.0),
        strength_spread: 0.15,
        youngs_gpa: 20.0,
        expansion_per_k: 7e-6,
        emissivity: 0.8,
        service_limit: Celsius(1500.0),
        ramp_limit: KelvinPerHour(56.0),
    };
    let water = Water { mix_fraction: 0.06, cure: Cure::Mixed, air_dried: Seconds::from_hours(24.0) };
    let layer = Layer { material: Arc::new(material), thickness: Metres::from_mm(25.0), water };
    let lining = Lining {
        name: "box".to_owned(),
        surroundings: Surroundings { temp: Celsius(20.0), humidity: 0.5 },
        drying: Surroundings { temp: Celsius(20.0), humidity: 0.5 },
        chamber_drying: None,
        burner: LiningBurner {
            fuel: Fuel::Power(Watts(9000.0)),
            equivalence_ratio: 1.0,
            shortest_on: Seconds(5.0),
            shortest_off: Seconds(20.0),
            control: Control::OnOff,
        },
        chamber: Chamber { opening: SquareMetres(0.004) },
        sections: vec![Section {
            name: "wall".to_owned(),
            shape: Shape::Flat { area: SquareMetres(0.25) },
            make: Make::unsaid(std::slice::from_ref(&layer)),
            layers: vec![layer],
            back: Back::Open,
        }],
        goal: Goal { soak_temp: Celsius(600.0), soak: Seconds(3600.0), danger_ceiling: 0.5, ramp: None },
        stock: Vec::new(),
    };
    Furnace::of(&lining, Grid::Usual)
}

/// A board with a thin and a thick probe at the hot face, one in the wall and one outside.
const BOARD: &str = r#"
format = "firstheat probes 1"
[[port]]
path = "-"
check = "crc16"
[[port.channel]]
name = "thin"
place = "hot-face"
section = "wall"
type = "K"
sheath = "1.5 mm"
[[port.channel]]
name = "thick"
place = "hot-face"
section = "wall"
type = "K"
sheath = "6 mm"
[[port.channel]]
name = "middle"
place = "depth"
section = "wall"
depth = "12 mm"
type = "K"
unit = "F"
offset = "-2 K"
[[port.channel]]
name = "outside"
place = "shell"
section = "wall"
type = "K"
"#;

fn board() -> PortSpec {
    file::parse(BOARD).unwrap().ports.remove(0)
}

const QUIET: Habits = Habits { period: Seconds(1.0), noise_k: 0.0, seed: 1 };

fn simulated(habits: Habits) -> SimulatedFurnace {
    SimulatedFurnace::new(&furnace(), board(), habits).unwrap()
}

/// Temperatures that a line of the board gives when it is read as a board's line.
fn temps(line: &str) -> Vec<f64> {
    let mut feed = firstheat::probe::feed::Feed::new(board(), firstheat::probe::lines::Start::OnALine);
    match feed.take(format!("{line}\n").as_bytes()).remove(0) {
        PortEvent::Line { readings, .. } => values(&readings),
        other => panic!("{line}: {other:?}"),
    }
}

fn values(readings: &[Reading]) -> Vec<f64> {
    readings.iter().map(|reading| reading.value.unwrap().0).collect()
}

fn next_line(told: &mut Receiver<Told>) -> (Seconds, Vec<f64>) {
    let began = Instant::now();
    loop {
        match told.try_recv().map(|told| told.event) {
            Ok(PortEvent::Line { board_time, readings, .. }) => return (board_time.unwrap(), values(&readings)),
            Ok(other) => panic!("{other:?} instead of a line"),
            Err(_) if began.elapsed() < PATIENCE => sleep(Duration::from_millis(1)),
            Err(why) => panic!("no line within {PATIENCE:?}: {why}"),
        }
    }
}

#[test]
fn a_cold_furnace_shows_the_air_on_every_channel() {
    for temp in temps(&simulated(QUIET).line()) {
        assert!((temp - 20.0).abs() < 0.02, "{temp}");
    }
}

#[test]
fn the_hot_face_leads_and_the_outside_follows() {
    let mut furnace = simulated(QUIET);
    furnace.turn(Burner::Lit);
    furnace.advance_to(Seconds(120.0)).unwrap();
    let shown = temps(&furnace.line());
    assert!(shown[0] > shown[2] + 10.0 && shown[2] > shown[3], "{shown:?}");
}

/// Makers' data sheets: a step shows by half after 8 s at 1.5 mm and after 60 s at 6 mm, so the thick one is behind.
#[test]
fn a_thick_probe_is_behind_while_it_heats_and_above_while_it_cools() {
    let mut furnace = simulated(QUIET);
    furnace.turn(Burner::Lit);
    furnace.advance_to(Seconds(60.0)).unwrap();
    let heating = temps(&furnace.line());
    furnace.turn(Burner::Shut);
    furnace.advance_to(Seconds(240.0)).unwrap();
    let cooling = temps(&furnace.line());
    assert!(heating[1] < heating[0] - 5.0 && cooling[1] > cooling[0], "heating {heating:?}, cooling {cooling:?}");
}

#[test]
fn a_probe_long_still_shows_what_the_wall_is() {
    let mut furnace = simulated(QUIET);
    furnace.turn(Burner::Lit);
    furnace.advance_to(Seconds(30.0)).unwrap();
    furnace.turn(Burner::Shut);
    furnace.advance_to(Seconds(1800.0)).unwrap();
    let shown = temps(&furnace.line());
    let depth = Metres::from_mm(12.0);
    assert!((shown[2] - furnace.wall().temp_at(0, 0, depth).0).abs() < 0.5, "{shown:?}");
}

#[test]
fn the_same_seed_gives_the_same_lines_and_another_one_others() {
    let noisy = |seed| {
        let mut furnace = simulated(Habits { noise_k: 0.25, seed, ..QUIET });
        [furnace.line(), furnace.next_line().unwrap(), furnace.next_line().unwrap()]
    };
    assert_eq!(noisy(3), noisy(3));
    assert_ne!(noisy(3), noisy(4));
}

#[test]
fn a_probe_in_no_section_of_the_lining_is_refused() {
    let spec = file::parse(&BOARD.replace("\"wall\"", "\"lid\"")).unwrap().ports.remove(0);
    let refused = SimulatedFurnace::new(&furnace(), spec, QUIET).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "found channel thin in section \"lid\", expected one of wall; correct the probe file"
    );
}

#[test]
fn a_pace_that_no_clock_keeps_is_refused() {
    for times in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let refused = BehindPort::start(simulated(QUIET), Pace::Times(times)).unwrap_err();
        assert!(matches!(refused, SimulateError::NotPositive { .. }), "{times}: {refused}");
    }
}

#[test]
fn words_are_orders_and_others_are_refused() {
    let orders: Vec<Order> = ["on", "off ", "next", "quit"].iter().map(|word| word.parse().unwrap()).collect();
    assert_eq!(orders, [Order::Turn(Burner::Lit), Order::Turn(Burner::Shut), Order::Next, Order::Quit]);
    assert!("hotter".parse::<Order>().is_err());
}

/// A reader of a simulated furnace.
fn read(simulated: &BehindPort) -> (PortReader, Receiver<Told>) {
    let (sender, told) = channel();
    let spec = PortSpec { path: simulated.path().into(), ..board() };
    (PortReader::start(spec, sender).unwrap(), told)
}

#[test]
fn in_lockstep_each_order_gives_one_line_through_the_port() {
    let simulated = BehindPort::start(simulated(QUIET), Pace::Lockstep).unwrap();
    let (_reader, mut told) = read(&simulated);
    simulated.orders().send(Order::Turn(Burner::Lit)).unwrap();
    let mut before = 20.0;
    for second in 1..=5 {
        simulated.orders().send(Order::Next).unwrap();
        let (at, shown) = next_line(&mut told);
        assert_eq!(at, Seconds(f64::from(second)));
        assert!(shown[0] > before, "at {second} s: {} after {before}", shown[0]);
        before = shown[0];
    }
    simulated.stop().unwrap();
}

#[test]
fn an_accelerated_furnace_is_as_fast_as_it_is_told() {
    let simulated = BehindPort::start(simulated(QUIET), Pace::Times(100.0)).unwrap();
    let (_reader, mut told) = read(&simulated);
    let (first, _) = next_line(&mut told);
    let began = Instant::now();
    let (last, _) = (0..50).map(|_| next_line(&mut told)).last().unwrap();
    assert_eq!(last, first + Seconds(50.0));
    assert!(began.elapsed() > Duration::from_millis(400), "50 s went by in {:?}", began.elapsed());
    simulated.stop().unwrap();
}

#[test]
fn a_furnace_that_nobody_reads_can_be_stopped() {
    let simulated = BehindPort::start(simulated(QUIET), Pace::Times(1e6)).unwrap();
    sleep(Duration::from_millis(300));
    let asked = Instant::now();
    simulated.stop().unwrap();
    assert!(asked.elapsed() < Duration::from_secs(3), "after {:?}", asked.elapsed());
}

#[test]
fn a_furnace_that_is_dropped_is_seen_unplugged() {
    let simulated = BehindPort::start(simulated(QUIET), Pace::Lockstep).unwrap();
    let (_reader, mut told) = read(&simulated);
    drop(simulated);
    let began = Instant::now();
    while !matches!(told.try_recv().map(|told| told.event), Ok(PortEvent::Lost { .. })) {
        assert!(began.elapsed() < PATIENCE, "not told");
        sleep(Duration::from_millis(5));
    }
}

/// The same probes in registers of a device on a bus, and behind queries to an instrument.
fn asked_boards() -> [PortSpec; 2] {
    let head = |protocol: &str| {
        BOARD
            .replace("\"-\"", "\"/dev/board\"")
            .replace("check = \"crc16\"", &format!("protocol = \"{protocol}\"\nevery = \"0.2 s\""))
    };
    let keyed = |text: String, keys: [&str; 4]| {
        let mut text = text;
        for (name, keys) in ["thin", "thick", "middle", "outside"].iter().zip(keys) {
            text = text.replace(&format!("name = \"{name}\""), &format!("name = \"{name}\"\n{keys}"));
        }
        file::parse(&text).unwrap().ports.remove(0)
    };
    let registers = [
        "register = 0\nscale = 0.1",
        "register = 1\nnumber = \"uint16\"\nscale = 0.1\ntable = \"input\"",
        "register = 2\nnumber = \"float32\"\norder = \"CDAB\"",
        "register = 4\nnumber = \"float32\"\ndevice = 2",
    ];
    let queries = [
        "query = \"READ?\"",
        "query = \"READ?\"\nposition = 2",
        "query = \"MEAS:TEMP? 3\"",
        "query = \"MEAS:TEMP? 4\"",
    ];
    [keyed(head("modbus-rtu"), registers), keyed(head("scpi"), queries)]
}

/// The next whole round of a board that is asked.
fn next_round(told: &mut Receiver<Told>) -> Vec<f64> {
    let began = Instant::now();
    loop {
        match told.try_recv().map(|told| told.event) {
            Ok(PortEvent::Line { readings, .. }) if readings.len() == 4 => return values(&readings),
            Ok(_) | Err(_) if began.elapsed() < PATIENCE => sleep(Duration::from_millis(1)),
            other => panic!("no round within {PATIENCE:?}: {other:?}"),
        }
    }
}

#[test]
fn a_furnace_can_be_asked_on_a_bus_and_as_an_instrument() {
    for board in asked_boards() {
        let words = format!("{:?}", board.protocol);
        let simulated = SimulatedFurnace::new(&furnace(), board.clone(), QUIET).unwrap();
        let simulated = BehindPort::start(simulated, Pace::Lockstep).unwrap();
        let (sender, mut told) = channel();
        let _reader = PortReader::start(PortSpec { path: simulated.path().into(), ..board }, sender).unwrap();
        let cold = next_round(&mut told);
        assert!(cold.iter().all(|temp| (temp - 20.0).abs() < 0.1), "{words}: {cold:?}");
        simulated.orders().send(Order::Turn(Burner::Lit)).unwrap();
        (0..30).for_each(|_| simulated.orders().send(Order::Next).unwrap());
        let began = Instant::now();
        let hot = loop {
            let hot = next_round(&mut told);
            if hot[0] > 60.0 || began.elapsed() > PATIENCE {
                break hot;
            }
        };
        assert!(hot[0] > hot[1] && hot[1] > hot[3], "{words}: {hot:?}");
        simulated.stop().unwrap();
    }
}
