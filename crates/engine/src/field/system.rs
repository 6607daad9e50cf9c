//! A conductance network together with the conductors that drive it.

use crate::grid::{FREE, Grid, REFERENCE};
use crate::multigrid::Network;

/// A conductance from a free node to a conductor of given potential, through a face of its cell.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Source {
    pub node: u32,
    pub axis: u8,
    /// 0: the face on the low side of the cell, 1: on the high side.
    pub side: u8,
    pub conductor: u16,
    /// Permittivity x area / length [m].
    pub conductance: f64,
    /// Whether it is one of the two ways from the cells beside a screen: what lies outside the cell
    /// is shared by both.
    pub shared: bool,
}

/// A network with the conductor of each fixed node and the conductances to conductors.
pub(crate) struct System {
    pub network: Network,
    /// Conductor of each node, or [`FREE`].
    pub conductor: Vec<u16>,
    /// Sorted by node.
    pub sources: Vec<Source>,
}

impl System {
    pub fn new(
        coordinates: [Vec<f64>; 3],
        rank: [Vec<u8>; 3],
        link: [Vec<f32>; 3],
        mut ground: Vec<f32>,
        conductor: Vec<u16>,
        mut sources: Vec<Source>,
    ) -> Self {
        sources.sort_by_key(|s| (s.node, s.axis, s.side, s.conductor));
        let fixed: Vec<bool> = conductor.iter().map(|&c| c != FREE).collect();
        sources.retain(|s| !fixed[s.node as usize]);
        for source in &sources {
            ground[source.node as usize] += source.conductance as f32;
        }
        Self {
            network: Network {
                coordinates,
                rank,
                link,
                ground,
                fixed,
            },
            conductor,
            sources,
        }
    }

    /// What conductor `driven` is linked to.
    pub fn linked(&self, driven: u16) -> Linked {
        let network = &self.network;
        let n = network.len();
        let strides = network.strides();
        let mut linked = Linked::default();
        let row = network.dims()[0];
        let rows = (0..n).step_by(row).map(|start| start..start + row);
        let rows = rows.filter(|row| self.conductor[row.clone()].contains(&driven));
        for node in rows
            .flatten()
            .filter(|&node| self.conductor[node] == driven)
        {
            linked.ground += f64::from(network.ground[node]);
            for d in 0..3 {
                if network.coordinates[d].len() == 1 {
                    continue;
                }
                let ahead = node + strides[d];
                let neighbours = [
                    (ahead < n).then(|| (ahead, network.link[d][node])),
                    node.checked_sub(strides[d])
                        .map(|before| (before, network.link[d][before])),
                ];
                for (other, c) in neighbours.into_iter().flatten() {
                    match self.conductor[other] {
                        _ if c == 0.0 => {}
                        FREE => linked.nodes.push((other, f64::from(c))),
                        conductor if conductor == driven => {}
                        conductor => linked.conductors.push((conductor, f64::from(c))),
                    }
                }
            }
        }
        let sources = self.sources.iter().filter(|s| s.conductor == driven);
        linked.nodes.extend(sources.map(|source| {
            let conductance = f64::from(source.conductance as f32);
            (source.node as usize, conductance)
        }));
        linked
    }

    /// Right-hand side for conductor `driven` at 1 V and all others at 0 V, and the energy (twice,
    /// over vacuum permittivity) of that drive with every free node at 0 V [m].
    pub fn drive(&self, driven: u16) -> (Vec<f64>, f64) {
        let linked = self.linked(driven);
        let mut b = vec![0.0; self.network.len()];
        for &(node, conductance) in &linked.nodes {
            b[node] += conductance;
        }
        (b, linked.total())
    }

    /// Potentials of the free nodes, 0 at the others.
    pub fn free_part(&self, x: &[f64]) -> Vec<f64> {
        x.iter()
            .zip(&self.conductor)
            .map(|(&value, &conductor)| if conductor == FREE { value } else { 0.0 })
            .collect()
    }

    /// Puts the conductor potentials of a drive into a solution.
    pub fn complete(&self, x: &mut [f64], driven: u16) {
        for (value, &conductor) in x.iter_mut().zip(&self.conductor) {
            if conductor != FREE {
                *value = f64::from(u8::from(conductor == driven));
            }
        }
    }
}

/// What a conductor is linked to: conductances over vacuum permittivity [m].
#[derive(Default)]
pub(crate) struct Linked {
    /// To free nodes, one node as often as there are links.
    nodes: Vec<(usize, f64)>,
    /// To other conductors.
    conductors: Vec<(u16, f64)>,
    /// To ground.
    ground: f64,
}

impl Linked {
    fn total(&self) -> f64 {
        let nodes: f64 = self.nodes.iter().map(|link| link.1).sum();
        let conductors: f64 = self.conductors.iter().map(|link| link.1).sum();
        self.ground + nodes + conductors
    }

    /// Charge on the conductor while it is at 0 V and conductor `driven` at 1 V, at these potentials, over vacuum
    /// permittivity [m].
    pub fn charge(&self, potentials: &[f64], driven: u16) -> f64 {
        let nodes = self.nodes.iter();
        let through_nodes: f64 = nodes.map(|&(node, c)| c * potentials[node]).sum();
        let direct = self.conductors.iter();
        let direct: f64 = direct
            .filter(|link| link.0 == driven)
            .map(|link| link.1)
            .sum();
        -(through_nodes + direct)
    }
}

/// Potential of a conductor mark when `driven` is at 1 V.
pub(crate) fn potential(conductor: u16, driven: u16) -> f64 {
    f64::from(u8::from(conductor == driven && conductor != REFERENCE))
}

/// Open-wall conductance per area over permittivity, -du/dn / u = (n.r)/r^2 [1/m], on a wall
/// face of `grid` with middle `at_m` and outward normal `sign` along `axis`.
pub(crate) fn open_wall(grid: &Grid, at_m: [f64; 3], axis: usize, sign: f64) -> f64 {
    let centre = grid.open_centre_m();
    let mut square = 0.0;
    for d in 0..grid.dimensions() {
        square += (at_m[d] - centre[d]).powi(2);
    }
    (sign * (at_m[axis] - centre[axis]) / square).max(0.0)
}
