//! What a sheet stands, and layers one behind the other.

use padfield_engine::units::{Length, Toleranced, Voltage};

/// Ends of the exponent with which the strength of a solid falls with its thickness: from memory.
pub const EXPONENT: [f64; 2] = [0.3, 0.5];

/// Thickness of the tested sheet where nobody says it: an eighth of an inch, from memory.
pub const ASSUMED_STRENGTH_THICKNESS: Length = Length::from_mm(3.175);

/// Dielectric strength of a material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// Field at which the tested sheet is punctured \[V/m\].
    pub field_v_per_m: Toleranced<f64>,
    /// Thickness of the tested sheet.
    pub tested: Length,
    /// Whether the field does not change with the thickness.
    pub is_even: bool,
}

impl Strength {
    /// Without tolerance.
    #[cfg(any(test, feature = "rooms"))]
    pub const fn exact(field_v_per_m: f64, tested: Length) -> Self {
        Self {
            field_v_per_m: Toleranced::exact(field_v_per_m),
            tested,
            is_even: false,
        }
    }

    /// Careful and hopeful end of the field that a sheet stands \[V/m\].
    pub fn at(&self, thickness: Length) -> [f64; 2] {
        let Toleranced { least, most, .. } = self.field_v_per_m;
        if self.is_even {
            return [least, most];
        }
        let ratio = self.tested / thickness;
        let [low, high] = EXPONENT.map(|exponent| ratio.powf(exponent));
        [least * low.min(high).min(1.0), most * low.max(high)]
    }

    /// Careful and hopeful end of the voltage that a sheet stands.
    pub fn hold(&self, thickness: Length) -> [Voltage; 2] {
        self.at(thickness)
            .map(|field| Voltage::from_volts(field * thickness.metres()))
    }
}

/// Least thickness that stands a voltage at the careful end.
pub fn least_thickness(strength: &Strength, voltage: Voltage) -> Length {
    let field = strength.field_v_per_m.least;
    let plain = voltage.volts() / field;
    let tested = strength.tested.metres();
    if strength.is_even || plain <= tested {
        return Length::from_metres(plain);
    }
    // E t_ref^n t^(1 - n) = V with the exponent that takes most away.
    let [_, exponent] = EXPONENT;
    Length::from_metres((plain / tested.powf(exponent)).powf(1.0 / (1.0 - exponent)))
}

/// A layer of a stack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeriesLayer {
    pub thickness: Length,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: f64,
    /// Field at which it breaks \[V/m\]; none: it holds nothing.
    pub field_v_per_m: Option<f64>,
}

/// Voltage that layers in series hold against a surge, for which they share the voltage like capacitors:
/// `E_k = V/eps_k / sum of t_j/eps_j` over the layers that are whole. Where one breaks, the others hold
/// it all; the stack stands the largest voltage at which some layer stays whole.
pub fn series_hold(layers: &[SeriesLayer]) -> Voltage {
    let mut whole: Vec<(&SeriesLayer, f64)> = layers
        .iter()
        .filter_map(|layer| Some((layer, layer.field_v_per_m?)))
        .collect();
    let mut holds: f64 = 0.0;
    while !whole.is_empty() {
        let sum: f64 = whole
            .iter()
            .map(|(layer, _)| layer.thickness.metres() / layer.relative_permittivity)
            .sum();
        let breaks_at =
            |(layer, field): &(&SeriesLayer, f64)| field * layer.relative_permittivity * sum;
        let first = whole
            .iter()
            .enumerate()
            .map(|(index, one)| (index, breaks_at(one)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((index, volts)) = first else { break };
        holds = holds.max(volts);
        whole.remove(index);
    }
    Voltage::from_volts(holds)
}
