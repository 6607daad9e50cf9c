//! Round steps: 1, 2, 5 times powers of ten.

/// The step of 1, 2 or 5 times a power of ten that divides `span` into at most `wanted` parts.
pub(crate) fn linear_step(span: f64, wanted: usize) -> f64 {
    let rough = span / wanted.max(1) as f64;
    one_two_five(rough * (1.0 - 1e-9), f64::ceil)
}

/// The next of 1, 2, 5 times a power of ten, below (`f64::floor`) or above (`f64::ceil`).
pub(crate) fn one_two_five(value: f64, towards: fn(f64) -> f64) -> f64 {
    let up = towards(0.5) > 0.5;
    let power = value.log10().floor();
    let digits = value / 10f64.powf(power);
    let near = 1e-9;
    let digit = if up {
        [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .find(|d| digits <= d * (1.0 + near))
            .unwrap_or(10.0)
    } else {
        [5.0, 2.0, 1.0]
            .into_iter()
            .find(|d| digits >= d * (1.0 - near))
            .unwrap_or(1.0)
    };
    // Through decimal text, so that 5 times 10⁻² is the double nearest to 0.05.
    format!("{digit:.0}e{power:.0}").parse().unwrap_or(value)
}
