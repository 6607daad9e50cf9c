//! Conductors of a case that are neither pad nor ground nor finger, and what each is connected to.

use super::super::metal::Connection;

/// A guard, a shield, a trace of its own, a frame, an object or a wet film that became a conductor.
#[derive(Clone, Debug, PartialEq)]
pub struct LoweredPart {
    /// Name of its conductor.
    pub name: String,
    pub connection: Connection,
    /// The finger touches it: its pieces belong to the finger's conductor as well, which is painted
    /// later, so that with the finger its own conductor is covered and its row is zero.
    pub is_touched: bool,
}
