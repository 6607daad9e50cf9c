//! What the field engine sees: boxes of dielectric, boxes and sheets of conductor, sheets that
//! leak, an outer wall.
//!
//! A case knows nothing of pads, fingers or overlays. Every coordinate is in metres; planar and
//! axisymmetric cases use the first two axes only (x, y and r, z) and leave the third at `[0, 0]`.

/// The space a case lives in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Cross-section in x and y, endless in the third direction; capacitances per metre.
    Planar,
    /// Radius r and height z, rotated about r = 0.
    Axisymmetric,
    /// Full three dimensions.
    Volume,
}

impl Kind {
    /// Number of axes that carry a grid: 2 or 3.
    #[inline]
    pub fn dimensions(self) -> usize {
        if self == Kind::Volume { 3 } else { 2 }
    }
}

/// Condition on one face of the outer wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wall {
    /// A conductor at 0 V, the reference; not a row of the matrix.
    Grounded,
    /// No flux passes: also a mirror plane.
    Insulated,
    /// Stands for endless space: du/dn = -u (n.r)/r^2 with r counted from the middle of the conductors.
    Open,
}

/// Axis-aligned extent between two corners \[m\]; equal bounds make a sheet, a line or a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Corner with the smaller coordinates \[m\].
    pub low_m: [f64; 3],
    /// Corner with the larger coordinates \[m\].
    pub high_m: [f64; 3],
}

/// Body of revolution about a vertical axis \[m\]: flat contact disc, paraboloid shoulder, then a
/// straight wall. With equal radii it is a cylinder; with `bottom_m == top_m` a disc sheet.
///
/// The radius at height z is `sqrt(contact^2 + 2 dome (z - bottom))`, at most `dome`: the paraboloid
/// with the apex curvature of a sphere of the dome's radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundBody {
    /// Axis position: x, y for volumes; `[0, 0]` for axisymmetric cases \[m\].
    pub centre_m: [f64; 2],
    /// Radius of the flat end at `bottom_m` \[m\].
    pub contact_radius_m: f64,
    /// Radius of the straight part \[m\], at least the contact radius.
    pub dome_radius_m: f64,
    /// Height of the flat end \[m\].
    pub bottom_m: f64,
    /// Height of the other end \[m\].
    pub top_m: f64,
}

/// Upright prism (or sheet, with equal bounds) over closed outlines in x and y, volumes only.
///
/// A point is inside when a ray from it crosses the outlines an odd number of times, so a second
/// outline inside the first is a hole.
#[derive(Clone, Debug, PartialEq)]
pub struct Prism {
    /// Closed outlines, each a list of corners x, y \[m\]; the last corner joins the first.
    pub outlines_m: Vec<Vec<[f64; 2]>>,
    /// Lower level \[m\].
    pub bottom_m: f64,
    /// Upper level \[m\].
    pub top_m: f64,
    /// Smallest width or gap that the grid must resolve \[m\]; infinite when the outlines say enough.
    pub feature_m: f64,
}

/// One piece of a conductor.
#[derive(Clone, Debug, PartialEq)]
pub enum Solid {
    /// Axis-aligned box, sheet or line.
    Block(Extent),
    /// Body of revolution about a vertical axis.
    Round(RoundBody),
    /// Upright prism over any outline.
    Prism(Prism),
}

/// A region of one permittivity.
#[derive(Clone, Debug, PartialEq)]
pub struct Dielectric {
    /// Name used in energy shares and sensitivities.
    pub name: String,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: f64,
    /// Where it is; later regions are painted over earlier ones.
    pub extent: Extent,
    /// What it comes and goes with, air (or an earlier region) in its place: a conductor, as a glove goes
    /// with the finger in it, or a name of its own, as a film of water. None: it is always there.
    pub comes_with: Option<String>,
}

/// A named equipotential body of one or more pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Conductor {
    /// Name of its row in the capacitance matrix.
    pub name: String,
    /// Its pieces; they may touch or overlap. None only when a [`Screen`] bears its name.
    pub solids: Vec<Solid>,
}

/// A rectangle normal to the last axis through which field leaks: what a fine hatch of copper is to
/// everything farther away than about half its pitch.
///
/// The potential phi is the same on both sides. The normal displacement jumps by
/// `vacuum permittivity x (eps_below + eps_above)/2 / depth x (phi - v)`, with v the potential of the
/// conductor and eps the relative permittivities that adjoin the sheet. Depth 0 would be a solid
/// sheet, an endless one nothing at all. To the same field from both sides the sheet is a solid one
/// `2 x depth` farther away; a field that passes through does not see it.
///
/// Bounds of the [field engine](crate::field) hold for this condition; how far it is from the copper
/// it stands for is told in [`crate::hatch`].
///
/// Where a conductor is, the conductor wins; of two screens at the same place the later one. On an
/// insulated wall, a mirror plane, a screen counts with its inner half.
#[derive(Clone, Debug, PartialEq)]
pub struct Screen {
    /// Name of the conductor whose potential it has and whose row its charge belongs to; that
    /// conductor may have other pieces or none.
    pub conductor: String,
    /// Where it is \[m\]; without extent along the last axis.
    pub extent: Extent,
    /// Screen depth \[m\], positive; [`crate::hatch`] has those of copper patterns.
    pub depth_m: f64,
}

/// A complete field problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Short identifier.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// Planar, axisymmetric or volume.
    pub kind: Kind,
    /// The outer wall \[m\].
    pub domain: Extent,
    /// Condition per axis on the low and the high face.
    pub walls: [[Wall; 2]; 3],
    /// Permittivity relative to vacuum wherever no dielectric is painted.
    pub background_relative_permittivity: f64,
    /// Dielectric regions, painted in order.
    pub dielectrics: Vec<Dielectric>,
    /// Conductors, painted last, in order.
    pub conductors: Vec<Conductor>,
    /// Sheets through which field leaks, painted after the conductors but never over them, in order.
    pub screens: Vec<Screen>,
}

impl Case {
    /// Whether any conductor has an outline that grid lines cannot follow.
    pub fn has_shapes(&self) -> bool {
        let mut solids = self.conductors.iter().flat_map(|c| &c.solids);
        solids.any(|solid| !matches!(solid, Solid::Block(_)))
    }

    /// Whether anything comes and goes under this name: a conductor, or dielectrics that come with it.
    pub fn can_leave(&self, name: &str) -> bool {
        let goes = |d: &Dielectric| d.comes_with.as_deref() == Some(name);
        self.conductors.iter().any(|c| c.name == name) || self.dielectrics.iter().any(goes)
    }

    /// The case without what comes and goes under this name: its conductor with the screens of that, and
    /// the dielectrics that come with it. Those keep their places in the list, without extent, so that
    /// the index of every other material stays.
    #[must_use]
    pub fn without(&self, name: &str) -> Self {
        let mut left = self.clone();
        left.conductors.retain(|conductor| conductor.name != name);
        left.screens.retain(|screen| screen.conductor != name);
        for dielectric in &mut left.dielectrics {
            if dielectric.comes_with.as_deref() == Some(name) {
                dielectric.extent.high_m = dielectric.extent.low_m;
            }
        }
        left
    }
}
