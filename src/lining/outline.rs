//! Outlines of parts as a builder measures them, and the handbook geometry of circles that goes with them.

use crate::units::{Metres, SquareMetres};

/// Outline of a part that lies flat, or nearly so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outline {
    /// By its sides.
    Sides {
        /// Across.
        width: Metres,
        /// Along.
        length: Metres,
    },
    /// Round.
    Disc {
        /// Across the hot face.
        diameter: Metres,
    },
    /// A segment of a circle over a chamber.
    Arch {
        /// From springing to springing.
        span: Metres,
        /// Height above the springing.
        rise: Metres,
        /// Along the chamber.
        length: Metres,
    },
}

impl Outline {
    /// Area of the hot face; of an arch, along its curve.
    #[must_use]
    pub fn area(&self) -> SquareMetres {
        match *self {
            Self::Sides { width, length } => SquareMetres(width.0 * length.0),
            Self::Disc { diameter } => SquareMetres(std::f64::consts::FRAC_PI_4 * diameter.0 * diameter.0),
            Self::Arch { span, rise, length } => SquareMetres(arch_m(span, rise, Metres(0.0)).0 * length.0),
        }
    }

    /// Volume between two depths from the hot face, m³. An arch grows outwards.
    #[must_use]
    pub fn volume_m3(&self, from: Metres, to: Metres) -> f64 {
        match *self {
            Self::Arch { span, rise, length } => {
                let (radius_m, angle) = arch(span, rise);
                let (inner_m, outer_m) = (radius_m + from.0, radius_m + to.0);
                0.5 * angle * (outer_m * outer_m - inner_m * inner_m) * length.0
            }
            _ => self.area().0 * (to.0 - from.0),
        }
    }
}

/// Area of a segment of a circle of diameter `bore` up to `level` above its lowest point, m²:
/// `r² acos((r - h) / r) - (r - h) sqrt(2 r h - h²)` (any handbook of geometry).
#[must_use]
pub fn segment_m2(bore: Metres, level: Metres) -> f64 {
    let radius_m = bore.0 / 2.0;
    let level_m = level.0.clamp(0.0, bore.0);
    let above_m = radius_m - level_m;
    radius_m * radius_m * (above_m / radius_m).acos()
        - above_m * (2.0 * radius_m * level_m - level_m * level_m).max(0.0).sqrt()
}

/// Length over an arch at `depth` from its hot face.
#[must_use]
pub fn arch_m(span: Metres, rise: Metres, depth: Metres) -> Metres {
    let (radius_m, angle) = arch(span, rise);
    Metres((radius_m + depth.0) * angle)
}

/// Radius of the hot face of an arch, m, and its angle.
fn arch(span: Metres, rise: Metres) -> (f64, f64) {
    let half_m = span.0 / 2.0;
    let radius_m = (half_m * half_m + rise.0 * rise.0) / (2.0 * rise.0);
    (radius_m, 2.0 * (half_m / radius_m).min(1.0).asin())
}
