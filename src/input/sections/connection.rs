//! What copper that is no pad is connected to.

use super::common::*;
use crate::panel::Connection;

words!(
    /// What copper that is no pad is connected to; the gain of a driven one is a key of its own.
    ConnectionKind as "Connection":
        "grounded" => Grounded, "floating" => Floating, "driven" => Driven
);

/// Gains beyond this are no follower's.
const LARGEST_GAIN: f64 = 2.0;

pub(crate) fn connection(
    (section, name): (&str, &str),
    state: Option<Word<ConnectionKind>>,
    gain: Option<One<Number>>,
    default: Connection,
) -> Result<Connection, Finding> {
    let at = |key: &str| steps![section, name, key];
    let kind = match (state, default) {
        (Some(word), _) => word.0,
        (None, Connection::Driven { .. }) => ConnectionKind::Driven,
        (None, Connection::Floating) => ConnectionKind::Floating,
        (None, Connection::Grounded | Connection::Body) => ConnectionKind::Grounded,
    };
    if let (Some(_), ConnectionKind::Grounded | ConnectionKind::Floating) = (gain, kind) {
        return Err(Finding::at_key(
            at("gain"),
            format!("{section} \"{name}\" is not driven: it has no gain"),
            "add state = \"driven\"",
        ));
    }
    Ok(match kind {
        ConnectionKind::Grounded => Connection::Grounded,
        ConnectionKind::Floating => Connection::Floating,
        ConnectionKind::Driven => {
            let gain = gain.map_or(1.0, |gain| gain.0);
            if !(0.0..=LARGEST_GAIN).contains(&gain) {
                return Err(Finding::at(
                    at("gain"),
                    "the gain is out of range",
                    format!("write 0 to {LARGEST_GAIN}; a follower has about 1"),
                ));
            }
            Connection::Driven { gain }
        }
    })
}
