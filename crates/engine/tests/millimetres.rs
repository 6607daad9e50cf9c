//! Lengths of the tests' own panels, written in millimetres.

use padfield_engine::case::Extent;

pub const MM: f64 = 1e-3;

pub fn extent(low_mm: [f64; 3], high_mm: [f64; 3]) -> Extent {
    Extent {
        low_m: low_mm.map(|v| v * MM),
        high_m: high_mm.map(|v| v * MM),
    }
}
