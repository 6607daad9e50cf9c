//! Which command shows a check.

/// A command that registers checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// `padfield solve`.
    Solve,
    /// `padfield field`.
    Field,
    /// `padfield window`.
    Window,
    /// `padfield tolerance`.
    Tolerance,
    /// `padfield walk`.
    Walk,
    /// `padfield drift`.
    Drift,
    /// `padfield return-path`.
    ReturnPath,
    /// `padfield discharge`.
    Discharge,
    /// `padfield rules`.
    Rules,
    /// `padfield circuit`.
    Circuit,
    /// `padfield find`.
    Find,
    /// `padfield compare`.
    Compare,
    /// `padfield sweep`, and `padfield merge` of its shards.
    Sweep,
    /// `padfield verify`.
    Verify,
}

impl Source {
    /// All of them.
    #[cfg(test)]
    pub const ALL: [Self; 14] = [
        Self::Solve,
        Self::Field,
        Self::Window,
        Self::Tolerance,
        Self::Walk,
        Self::Drift,
        Self::ReturnPath,
        Self::Discharge,
        Self::Rules,
        Self::Circuit,
        Self::Find,
        Self::Compare,
        Self::Sweep,
        Self::Verify,
    ];

    /// Name of the command.
    pub const fn command(self) -> &'static str {
        match self {
            Self::Solve => "solve",
            Self::Field => "field",
            Self::Window => "window",
            Self::Tolerance => "tolerance",
            Self::Walk => "walk",
            Self::Drift => "drift",
            Self::ReturnPath => "return-path",
            Self::Discharge => "discharge",
            Self::Rules => "rules",
            Self::Circuit => "circuit",
            Self::Find => "find",
            Self::Compare => "compare",
            Self::Sweep => "sweep",
            Self::Verify => "verify",
        }
    }
}
