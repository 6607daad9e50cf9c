//! What can be varied in a section, and which numbers nothing varies: rows beside the keys they are about.

use crate::input::quantity::measure::Measure;
use Role::{Disturbance, Doubt, Remedy, Spread};

/// How the field problem follows a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// It moves edges and faces, which grid lines carry: the engine's derivatives hold where outlines
    /// go along.
    Lines,
    /// It changes permittivities: the engine's derivatives hold.
    Permittivity,
    /// It changes what no grid line carries (the depth of a hatch, a round profile, an angle, a
    /// potential): the field is solved again.
    Solved,
    /// The field stays: circuit, stray capacitance and the finger's return make something else of it.
    Circuit,
    /// A touch stays: only the events that `window` and `tolerance` weigh move.
    Events,
}

impl Motion {
    /// Whether the field changes.
    pub const fn changes_field(self) -> bool {
        matches!(self, Self::Lines | Self::Permittivity | Self::Solved)
    }

    /// Whether derivatives to it come with a solution; a round outline that edges move across has to be
    /// solved again even so.
    pub const fn has_derivatives(self) -> bool {
        matches!(self, Self::Lines | Self::Permittivity)
    }
}

/// What a value is taken for beside a search or a study, which take any.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A design can turn it: a lever of the window.
    Remedy,
    /// It spreads from unit to unit: `tolerance` gives its effect without being asked.
    Spread,
    /// What is on the bench may differ from what the file says: it may explain measured values.
    Doubt,
    /// It adds noise to every touch: looked at where that leaves nothing of one.
    Disturbance,
}

/// A value that can be varied.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Varied {
    /// Section; empty for a key at the top of the file.
    pub section: &'static str,
    /// Key.
    pub key: &'static str,
    /// What it measures.
    pub measure: Measure,
    /// How the field follows it.
    pub motion: Motion,
    /// Smallest and largest value that makes sense on a panel, in the usual unit of its measure. Common
    /// practice, no source; what a file may say is wider.
    pub range: [f64; 2],
    /// What it is taken for.
    pub roles: &'static [Role],
}

impl Varied {
    /// Whether it is taken for that.
    pub fn is(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }

    /// Unit of its range; empty for plain numbers.
    pub fn unit(&self) -> &'static str {
        self.measure.usual_unit()
    }
}

/// Numbers of one section that nothing varies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fixed {
    /// Section; empty for keys at the top of the file.
    pub section: &'static str,
    /// Keys.
    pub keys: &'static [&'static str],
    /// Why: completes "it cannot be varied".
    pub reason: &'static str,
    /// Whether a study may list it all the same: there are other values, but none between them.
    pub is_choice: bool,
}

/// The rows of one section.
#[derive(Clone, Copy, Debug)]
pub struct Rows {
    /// What can be varied.
    pub varied: &'static [Varied],
    /// Numbers that nothing varies.
    pub fixed: &'static [Fixed],
}

const fn row(
    key: &'static str,
    measure: Measure,
    motion: Motion,
    range: [f64; 2],
    roles: &'static [Role],
) -> Varied {
    Varied {
        section: "",
        key,
        measure,
        motion,
        range,
        roles,
    }
}

/// A length in millimetres that grid lines carry.
pub const fn edge(key: &'static str, range: [f64; 2], roles: &'static [Role]) -> Varied {
    row(key, Measure::Length, Motion::Lines, range, roles)
}

/// A point or an offset in millimetres.
pub const fn place(key: &'static str) -> Varied {
    edge(key, [-500.0, 500.0], NONE)
}

macro_rules! rows_of {
    ($($(#[$doc:meta])* $name:ident: $motion:ident;)*) => {$(
        $(#[$doc])*
        pub const fn $name(
            key: &'static str,
            measure: Measure,
            range: [f64; 2],
            roles: &'static [Role],
        ) -> Varied {
            row(key, measure, Motion::$motion, range, roles)
        }
    )*};
}
rows_of! {
    /// Something that changes permittivities.
    permittivity: Permittivity;
    /// Something no grid line carries.
    solved: Solved;
    /// A value of the circuit, of stray capacitance, of a return.
    circuit: Circuit;
    /// Something only `window` and `tolerance` weigh.
    event: Events;
}

/// Numbers that nothing varies.
pub const fn still(keys: &'static [&'static str], reason: &'static str) -> Fixed {
    Fixed {
        section: "",
        keys,
        reason,
        is_choice: false,
    }
}

/// Numbers with other values, but none between them: a study may list those.
pub const fn choice(keys: &'static [&'static str], reason: &'static str) -> Fixed {
    Fixed {
        is_choice: true,
        ..still(keys, reason)
    }
}

pub const COUNTED: &str = "it is counted, not measured";
pub const OF_DRIFT: &str = "it moves drift only, which padfield drift tells";
pub const OF_DISCHARGE: &str = "it moves discharge paths only, which padfield discharge tells";

pub const NONE: &[Role] = &[];
pub const SPREAD: &[Role] = &[Spread];
pub const REMEDY: &[Role] = &[Remedy];
pub const TURNED: &[Role] = &[Remedy, Spread];
pub const DOUBTED: &[Role] = &[Remedy, Spread, Doubt];
pub const UNSURE: &[Role] = &[Spread, Doubt];
pub const DISTURBING: &[Role] = &[Disturbance];
