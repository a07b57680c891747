//! What bars are made of, with the figures that their sound depends on.

use std::f64::consts::PI;

/// A material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Young's modulus, pascals.
    pub youngs: f64,
    /// Density, kilograms a cubic metre.
    pub density: f64,
    /// The loss factor η of bending: the part of the energy, over 2π, that is lost in one vibration.
    pub loss: f64,
}

/// Steel: E and ρ as in the worked bars of Thomson; a loss factor of 2 to 6 in ten thousand is that of plain steel
/// with its joints (from memory, after Cremer, Heckl and Ungar, *Structure-borne Sound*).
pub const STEEL: Material = Material { youngs: 200e9, density: 7_850.0, loss: 4e-4 };

/// Ash or oak along the grain: E, ρ and η from memory, as handbooks of wood give them (10 to 14 GPa, 0.6 to 0.75 t/m³,
/// 0.006 to 0.015).
pub const HARDWOOD: Material = Material { youngs: 12e9, density: 680.0, loss: 1e-2 };

impl Material {
    /// The speed of sound along a bar of it, metres a second: √(E/ρ).
    pub fn speed(&self) -> f64 {
        (self.youngs / self.density).sqrt()
    }

    /// How fast a mode of this frequency falls by the loss in the material, as the rate of its exponential, 1/s: π f η,
    /// which is the rule T60 = 2.2 / (f η) of structure-borne sound (from memory, after Cremer, Heckl and Ungar).
    pub fn fall(&self, hertz: f64) -> f64 {
        PI * hertz * self.loss
    }
}
