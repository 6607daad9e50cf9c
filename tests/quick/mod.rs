//! Scenarios that can be asked everything in seconds.

/// Their names, with what makes their fields small: a section that holds their pads.
pub const QUICK: [(&str, &[(&str, &str)]); 6] = [
    ("clover", &[]),
    ("fern", &[("model", "section")]),
    ("guide", &[("model", "section")]),
    ("lantern", &[("model", "section")]),
    ("slider", &[("model", "section")]),
    ("two_pads", &[("model", "section")]),
];
