//! The numbers of a panel file that nothing varies, each with the reason.

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

const fn still(
    section: &'static str,
    keys: &'static [&'static str],
    reason: &'static str,
) -> Fixed {
    Fixed {
        section,
        keys,
        reason,
        is_choice: false,
    }
}

const fn choice(
    section: &'static str,
    keys: &'static [&'static str],
    reason: &'static str,
) -> Fixed {
    Fixed {
        section,
        keys,
        reason,
        is_choice: true,
    }
}

const COUNTED: &str = "it is counted, not measured";
const OF_DRIFT: &str = "it moves drift only, which padfield drift tells";
const OF_DISCHARGE: &str = "it moves discharge paths only, which padfield discharge tells";
const OF_SLIDERS: &str = "it is a limit that a slider is judged by";
const TWO_ANGLES: &str = "lines run at 0 or at 45 degrees";

/// Every number that nothing varies.
pub const FIXED: &[Fixed] = &[
    still(
        "layer",
        &["temperature_coefficient", "moisture", "ageing"],
        OF_DRIFT,
    ),
    still(
        "layer",
        &["dielectric_strength", "strength_thickness"],
        OF_DISCHARGE,
    ),
    still(
        "material",
        &["temperature_coefficient", "moisture", "ageing"],
        OF_DRIFT,
    ),
    still(
        "material",
        &["dielectric_strength", "strength_thickness"],
        OF_DISCHARGE,
    ),
    choice("pads", &["segments", "teeth", "columns", "rows"], COUNTED),
    still(
        "pads",
        &["largest_deviation", "largest_ripple", "largest_dead_zone"],
        OF_SLIDERS,
    ),
    choice("ground", &["angle"], TWO_ANGLES),
    choice("shield", &["angle"], TWO_ANGLES),
    still(
        "film",
        &["conductivity"],
        "it tells how far a film conducts; what the field takes it for is said beside it",
    ),
    still(
        "finger",
        &["glove_layers"],
        "gloves of a list have no paths; glove and glove_permittivity have",
    ),
    still(
        "window",
        &[
            "noise_margin",
            "wanted_ratio",
            "release",
            "touches_per_day",
            "false_per_year",
        ],
        "it is a demand, no property of the panel",
    ),
    still("climate", &["lowest", "highest", "reference"], OF_DRIFT),
    still("climate", &["fastest_change", "held"], OF_DRIFT),
    still("discharge", &["level", "margin"], OF_DISCHARGE),
    choice(
        "circuit",
        &["thresholds"],
        "these are two shares of the supply, no single number",
    ),
    choice("circuit", &["periods"], COUNTED),
    still(
        "circuit",
        &["temperature_coefficient", "threshold_drift"],
        OF_DRIFT,
    ),
    still(
        "scan",
        &[
            "settle",
            "cycle",
            "debounce",
            "filter",
            "feedback",
            "on_current",
            "sleep_current",
        ],
        "it moves response time and current only, which padfield circuit tells",
    ),
    still(
        "battery",
        &["capacity", "self_discharge"],
        "it moves battery life only, which padfield circuit tells",
    ),
];
