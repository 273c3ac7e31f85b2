//! A wall cut into cells: nodes that hold heat and water, and links that let them through.
//!
//! A node is a cell of one layer, or a contact of no volume: between two layers, or at a face. Every link therefore runs
//! through one material only, and at a contact both layers see the same temperature and pressure. All areas and volumes
//! are per square metre of hot face.

use serde::{Deserialize, Serialize};

/// Form of a wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Geometry {
    /// Flat: the area is the same at every depth.
    Planar,
    /// Round, heated inside: the area grows with the radius.
    Radial {
        /// Radius of the hot face, m.
        inner_radius_m: f64,
    },
}

/// Thickness and cutting of one layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Thickness, m.
    pub thickness_m: f64,
    /// Number of cells.
    pub cells: usize,
    /// Width of the middle cells over that of the cells at both ends; 1 is uniform.
    pub grading: f64,
}

impl Cut {
    /// The usual cut of a layer: fine towards both ends, where fronts start and stop. `fineness` 1 keeps peaks within
    /// 1 % of converged; 2 is twice as fine.
    #[must_use]
    pub fn usual(thickness_m: f64, fineness: usize) -> Self {
        /// Cells of a layer however thin, and however thick.
        const CELLS: std::ops::RangeInclusive<f64> = 12.0..=60.0;
        /// Middle width aimed at, m.
        const WIDTH_M: f64 = 1.25e-3;
        let cells = (thickness_m / WIDTH_M).clamp(*CELLS.start(), *CELLS.end()).round() as usize;
        Self { thickness_m, cells: cells * fineness, grading: 3.0 }
    }

    /// Distances of the cell borders from the hot side of the layer, m: `cells + 1` of them.
    #[must_use]
    pub fn borders_m(&self) -> Vec<f64> {
        let weight = |cell: usize| {
            let x = (cell as f64 + 0.5) / self.cells as f64;
            1.0 + (self.grading - 1.0) * (std::f64::consts::PI * x).sin()
        };
        let total: f64 = (0..self.cells).map(weight).sum();
        let mut borders = vec![0.0];
        let mut sum = 0.0;
        for cell in 0..self.cells {
            sum += weight(cell);
            borders.push(self.thickness_m * sum / total);
        }
        borders
    }
}

/// A place in the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Node {
    /// Volume per area of hot face, m; zero at contacts and faces.
    pub volume_m: f64,
    /// Distance from the hot face, m.
    pub depth_m: f64,
    /// Layer on its hot side (its own, for a cell).
    pub layer_before: usize,
    /// Layer on its cold side (its own, for a cell).
    pub layer_after: usize,
}

impl Node {
    /// Whether it is a cell, with a volume.
    #[must_use]
    pub fn is_cell(&self) -> bool {
        self.volume_m > 0.0
    }
}

/// Nodes from the hot face (first) to the cold face (last) and the ease of the link behind each but the last.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    /// The nodes.
    pub nodes: Vec<Node>,
    /// Area over length of the link from each node to the next, 1/m.
    pub ease_1_m: Vec<f64>,
    /// Area of the cold face over that of the hot face.
    pub cold_area: f64,
}

impl Mesh {
    /// Cuts a wall of `layers`, hot side first.
    #[must_use]
    pub fn cut(geometry: Geometry, layers: &[Cut]) -> Self {
        let mut nodes = vec![contact(0.0, 0, 0)];
        let mut from_m = 0.0;
        for (layer, cut) in layers.iter().enumerate() {
            for pair in cut.borders_m().windows(2) {
                nodes.push(Node {
                    volume_m: geometry.volume_m(from_m + pair[0], from_m + pair[1]),
                    depth_m: from_m + 0.5 * (pair[0] + pair[1]),
                    layer_before: layer,
                    layer_after: layer,
                });
            }
            from_m += cut.thickness_m;
            nodes.push(contact(from_m, layer, (layer + 1).min(layers.len() - 1)));
        }
        let ease_1_m = nodes.windows(2).map(|pair| geometry.ease_1_m(pair[0].depth_m, pair[1].depth_m)).collect();
        Self { nodes, ease_1_m, cold_area: geometry.area(from_m) }
    }
}

fn contact(depth_m: f64, layer_before: usize, layer_after: usize) -> Node {
    Node { volume_m: 0.0, depth_m, layer_before, layer_after }
}

impl Geometry {
    /// Area at a depth over that of the hot face.
    #[must_use]
    pub fn area(self, depth_m: f64) -> f64 {
        match self {
            Self::Planar => 1.0,
            Self::Radial { inner_radius_m } => 1.0 + depth_m / inner_radius_m,
        }
    }

    /// Volume between two depths per area of hot face, m.
    fn volume_m(self, from_m: f64, to_m: f64) -> f64 {
        (to_m - from_m) * self.area(0.5 * (from_m + to_m))
    }

    /// Area over length between two depths per area of hot face, 1/m; exact for steady conduction.
    fn ease_1_m(self, from_m: f64, to_m: f64) -> f64 {
        match self {
            Self::Planar => 1.0 / (to_m - from_m),
            Self::Radial { inner_radius_m } => {
                1.0 / (inner_radius_m * ((inner_radius_m + to_m) / (inner_radius_m + from_m)).ln())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_round_wall_holds_the_volume_of_its_ring() {
        let cut = Cut { thickness_m: 0.05, cells: 20, grading: 3.0 };
        let mesh = Mesh::cut(Geometry::Radial { inner_radius_m: 0.075 }, &[cut]);
        let volume_m: f64 = mesh.nodes.iter().map(|node| node.volume_m).sum();
        let ring_m = (0.125_f64.powi(2) - 0.075_f64.powi(2)) / (2.0 * 0.075);
        assert!((volume_m - ring_m).abs() < 1e-12, "{volume_m} instead of {ring_m}");
    }
}
