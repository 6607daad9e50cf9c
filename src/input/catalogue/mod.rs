//! What can be varied in a panel file: one list for studies, searches, levers, tolerances, rules and the
//! comparison with measured values.
//!
//! Every key of the file that holds a number is either a [`Varied`] value (its unit, the range that makes
//! sense, how the field follows it, who may turn it) or [`Fixed`] with the reason why nothing varies it;
//! `tests/catalogue.rs` holds the list against the schema, so that a new key cannot be forgotten. Words
//! (materials, states, layers) are neither: they are chosen, not varied.

mod fixed;
mod varied;

pub use fixed::{FIXED, Fixed};
pub use varied::VARIED;

use super::keys::{is_section_with_names, named_or_plain};
use super::measure::Measure;

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

/// What the catalogue says of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Known {
    /// It can be varied.
    Varied(&'static Varied),
    /// It is a number, but nothing varies it.
    Fixed(&'static Fixed),
}

/// What is known of a dotted path in full, parts of a value among them; none for words.
pub fn known(path: &str) -> Option<Known> {
    let (section, key) = section_and_key(path)?;
    let varied = VARIED
        .iter()
        .find(|one| (one.section, one.key) == (section, key));
    if let Some(varied) = varied {
        return Some(Known::Varied(varied));
    }
    let fixed = FIXED.iter();
    let mut fixed = fixed.filter(|one| one.section == section && one.keys.contains(&key));
    fixed.next().map(Known::Fixed)
}

/// The entry of a path that can be varied.
pub fn varied(path: &str) -> Option<&'static Varied> {
    match known(path)? {
        Known::Varied(varied) => Some(varied),
        Known::Fixed(_) => None,
    }
}

/// Section and key of a dotted path in full; names and parts are left out.
fn section_and_key(path: &str) -> Option<(&str, &str)> {
    let mut steps = path.split('.');
    let first = steps.next()?;
    if !named_or_plain(first) {
        return Some(("", first));
    }
    if is_section_with_names(first) {
        steps.next()?;
    }
    Some((first, steps.next()?))
}

/// Why a search or a study cannot vary a path: message and hint.
pub(super) fn refused(path: &str) -> Option<(String, String)> {
    match known(path)? {
        Known::Varied(Varied {
            motion: Motion::Events,
            ..
        }) => Some((
            format!("\"{path}\" moves no quantity of a touch"),
            "padfield window and padfield tolerance weigh it: change it there with --set"
                .to_owned(),
        )),
        Known::Fixed(fixed) if !fixed.is_choice => Some((
            format!("\"{path}\" cannot be varied: {}", fixed.reason),
            "change it with --set where it counts".to_owned(),
        )),
        Known::Varied(_) | Known::Fixed(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_found_whatever_its_names_and_parts() {
        let entry = |path: &str| varied(path).map(|one| (one.section, one.key));
        assert_eq!(
            entry("layer.overlay.thickness.nominal"),
            Some(("layer", "thickness"))
        );
        assert_eq!(entry("pads.keys.size.width"), Some(("pads", "size")));
        // A name may be that of a key.
        assert_eq!(entry("finger.contact.dome"), Some(("finger", "dome")));
        assert_eq!(entry("stray.pin"), Some(("stray", "pin")));
        assert_eq!(entry("wall_distance"), Some(("", "wall_distance")));
        assert_eq!(entry("pads.keys.layer"), None);
        assert_eq!(entry("pads"), None);
        assert!(refused("window.body").is_some_and(|(message, _)| message.contains("no quantity")));
        assert!(refused("scan.cycle").is_some_and(|(message, _)| message.contains("time")));
        assert!(
            refused("pads.keys.columns").is_none(),
            "a study may list counts"
        );
        assert!(refused("layer.overlay.material").is_none());
    }

    #[test]
    fn ranges_are_ranges_and_nothing_is_listed_twice() {
        for (index, one) in VARIED.iter().enumerate() {
            let [least, most] = one.range;
            assert!(least < most && most.is_finite(), "{one:?}");
            let same = |other: &Varied| (other.section, other.key) == (one.section, one.key);
            assert!(!VARIED[..index].iter().any(same), "{one:?}");
            let in_fixed = FIXED
                .iter()
                .any(|fixed| fixed.section == one.section && fixed.keys.contains(&one.key));
            assert!(!in_fixed, "{one:?}");
            // What only events show is no remedy of the panel.
            assert!(
                !(one.motion == Motion::Events && one.is(Role::Remedy)),
                "{one:?}"
            );
        }
    }
}
