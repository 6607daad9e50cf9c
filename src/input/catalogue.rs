//! What can be varied in a panel file: one list for studies, searches, levers, tolerances, rules and the
//! comparison with measured values.
//!
//! Every key of the file that holds a number is either a [`Varied`] value (its unit, the range that makes
//! sense, how the field follows it, who may turn it) or [`Fixed`] with the reason why nothing varies it;
//! the rows stand in the files of the sections, and `tests/catalogue.rs` holds them against the schema, so
//! that a new key cannot be forgotten. Words (materials, states, layers) are neither: they are chosen, not
//! varied.

pub use super::sections::variation::{Fixed, Motion, Role, Varied};
pub use super::sections::{FIXED, VARIED};

use super::document::keys::{is_section_with_names, named_or_plain};

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
pub(crate) fn refused(path: &str) -> Option<(String, String)> {
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
