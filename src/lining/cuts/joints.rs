//! Where the joints of blankets go round a barrel: staggered, clear of ports, the inner one where it is covered.

use serde::Serialize;

use crate::lining::make::{Lie, Port, PortPlace};
use crate::units::{Degrees, Metres};

/// Least distance between the joints of neighbouring blankets along the wall. Source: at least 100 mm; common practice, no source.
const STAGGER_M: f64 = 0.100;

/// Share of a small ring's way round that does when it is too short for [`STAGGER_M`]: nearly opposite.
const SMALL_RING_SHARE: f64 = 0.45;

/// Least distance of a joint from the edge of a port. An assumption of this project (no source): half the stagger.
const PORT_CLEARANCE_M: f64 = 0.050;

/// How far on the next joint is wanted: a third of the way round.
const NEXT_DEG: f64 = 120.0;

/// Steps in which joints are tried.
const STEP_DEG: usize = 5;

/// One blanket round the barrel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// At mid thickness.
    pub mid_radius: Metres,
}

/// Where the joint of one ring is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Joint {
    /// Counted as ports are ([`PortPlace::Around`]).
    #[serde(rename = "at_deg")]
    pub at: Degrees,
    /// Whether it keeps its distance from ports and from the joint inside it.
    pub is_clear: bool,
}

/// Joints of `rings` from the hot face outwards. Lying, the inner one is on the lowest line, where the floor covers it.
#[must_use]
pub fn place_joints(rings: &[Ring], lie: Lie, ports: &[Port]) -> Vec<Joint> {
    let mut joints: Vec<Joint> = Vec::new();
    let mut inside: Option<(Degrees, Ring)> = None;
    for &ring in rings {
        let wanted = match inside {
            Some((at, _)) => Degrees((at.0 + NEXT_DEG) % 360.0),
            None => first_wanted(lie, ports),
        };
        let joint = place(ring, wanted, inside, ports);
        inside = Some((joint.at, ring));
        joints.push(joint);
    }
    joints
}

/// Lying: the lowest line. Upright: opposite the first port, or the front.
fn first_wanted(lie: Lie, ports: &[Port]) -> Degrees {
    match (lie, ports.first().map(|port| port.place)) {
        (Lie::Upright, Some(PortPlace::Around(at))) => Degrees((at.0 + 180.0) % 360.0),
        _ => Degrees(0.0),
    }
}

fn place(ring: Ring, wanted: Degrees, inside: Option<(Degrees, Ring)>, ports: &[Port]) -> Joint {
    let tried = (0..360_u16).step_by(STEP_DEG).map(|step| Degrees((wanted.0 + f64::from(step)) % 360.0));
    let margin_m = |at: Degrees| {
        let stagger = inside.map_or(f64::INFINITY, |(inner_at, inner)| {
            let needed_m = STAGGER_M.min(SMALL_RING_SHARE * std::f64::consts::TAU * inner.mid_radius.0);
            arc_m(at, inner_at, inner) - needed_m
        });
        stagger.min(port_clearance_m(at, ring, ports) - PORT_CLEARANCE_M)
    };
    let clear = tried
        .clone()
        .filter(|&at| margin_m(at) >= -1e-9)
        .min_by(|a, b| apart_deg(*a, wanted).total_cmp(&apart_deg(*b, wanted)));
    if let Some(at) = clear {
        return Joint { at, is_clear: true };
    }
    let at = tried.max_by(|a, b| margin_m(*a).total_cmp(&margin_m(*b))).unwrap_or(wanted);
    Joint { at, is_clear: false }
}

/// Along the wall from a joint to the edge of the nearest port.
fn port_clearance_m(at: Degrees, ring: Ring, ports: &[Port]) -> f64 {
    let each = ports.iter().filter_map(|port| match port.place {
        PortPlace::Around(around) => Some(arc_m(at, around, ring) - port.diameter.0 / 2.0),
        PortPlace::Across(_) => None,
    });
    each.fold(f64::INFINITY, f64::min)
}

fn arc_m(one: Degrees, other: Degrees, ring: Ring) -> f64 {
    apart_deg(one, other).to_radians() * ring.mid_radius.0
}

/// The smaller angle between two directions, degrees.
fn apart_deg(one: Degrees, other: Degrees) -> f64 {
    let apart = (one.0 - other.0).rem_euclid(360.0);
    apart.min(360.0 - apart)
}
