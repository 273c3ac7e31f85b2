//! A wall cut into cells: nodes that hold heat and water, and links that let them through.
//!
//! A node is a cell of one layer, or a place of no volume: a contact between two layers, or a face. Balances are solved
//! for cells and faces, the rows; a contact follows from the cells beside it, since what flows into it flows out of it.
//! All areas and volumes are per square metre of hot face.

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
    /// Width of the middle cells over that of the cells at both ends; 1 is even, and the most accurate inside.
    pub grading: f64,
}

impl Cut {
    /// The usual even cut of a layer of dense material. `fineness` 1 keeps peaks within 1 % of converged; 2 is twice as
    /// fine.
    #[must_use]
    pub fn usual(thickness_m: f64, fineness: usize) -> Self {
        /// Width aimed at, m.
        const WIDTH_M: f64 = 0.7e-3;
        Self::even(thickness_m, WIDTH_M, fineness)
    }

    /// The usual cut of a fibre layer, through which fronts pass quickly.
    #[must_use]
    pub fn coarse(thickness_m: f64, fineness: usize) -> Self {
        /// Width aimed at, m.
        const WIDTH_M: f64 = 2.5e-3;
        Self::even(thickness_m, WIDTH_M, fineness)
    }

    fn even(thickness_m: f64, width_m: f64, fineness: usize) -> Self {
        /// Cells of a layer however thin, and however thick.
        const CELLS: (f64, f64) = (14.0, 110.0);
        let cells = (thickness_m / width_m).clamp(CELLS.0, CELLS.1).round() as usize;
        Self { thickness_m, cells: cells * fineness, grading: 1.0 }
    }

    /// The same layer in half as many cells.
    #[must_use]
    pub fn halved(self) -> Self {
        Self { cells: self.cells.div_ceil(2), ..self }
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

/// How a row hangs together with the next, with area over length of the way between, 1/m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Join {
    /// Two cells of one layer.
    Inside(f64),
    /// Two cells of two layers: to the contact, and from it.
    Contact([f64; 2]),
    /// The hot face and the first cell, or the last cell and the cold face.
    Face(f64),
}

/// Nodes from the hot face (first) to the cold face (last).
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    /// The nodes.
    pub nodes: Vec<Node>,
    /// The node of each row: all but the contacts.
    pub rows: Vec<usize>,
    /// How each row but the last hangs together with the next.
    pub joins: Vec<Join>,
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
        let last = nodes.len() - 1;
        let rows: Vec<usize> =
            (0..=last).filter(|&index| index == 0 || index == last || nodes[index].is_cell()).collect();
        let ease = |before: usize| geometry.ease_1_m(nodes[before].depth_m, nodes[before + 1].depth_m);
        let join = |pair: &[usize]| match (pair[0], pair[1]) {
            (before, after) if after == before + 2 => Join::Contact([ease(before), ease(before + 1)]),
            (before, after) if before == 0 || after == last => Join::Face(ease(before)),
            (before, _) => Join::Inside(ease(before)),
        };
        let joins = rows.windows(2).map(join).collect();
        Self { nodes, rows, joins, cold_area: geometry.area(from_m) }
    }

    /// The layer at a depth; at a contact the one on its hot side.
    #[must_use]
    pub fn layer_at(&self, depth_m: f64) -> usize {
        let ends = |node: &&Node| !node.is_cell() && node.depth_m >= depth_m - 1e-12 && node.depth_m > 0.0;
        self.nodes.iter().find(ends).or(self.nodes.last()).map_or(0, |node| node.layer_before)
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
    fn a_depth_lies_in_its_layer() {
        let cut = Cut { thickness_m: 0.05, cells: 20, grading: 1.0 };
        let mesh = Mesh::cut(Geometry::Planar, &[cut, cut]);
        let layers = [0.0, 0.02, 0.05, 0.07, 0.1].map(|depth_m| mesh.layer_at(depth_m));
        assert_eq!(layers, [0, 0, 0, 1, 1]);
    }

    #[test]
    fn a_round_wall_holds_the_volume_of_its_ring() {
        let cut = Cut { thickness_m: 0.05, cells: 20, grading: 3.0 };
        let mesh = Mesh::cut(Geometry::Radial { inner_radius_m: 0.075 }, &[cut]);
        let volume_m: f64 = mesh.nodes.iter().map(|node| node.volume_m).sum();
        let ring_m = (0.125_f64.powi(2) - 0.075_f64.powi(2)) / (2.0 * 0.075);
        assert!((volume_m - ring_m).abs() < 1e-12, "{volume_m} instead of {ring_m}");
    }
}
