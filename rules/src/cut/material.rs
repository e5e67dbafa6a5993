//! Constants of materials for the cutting force.
//!
//! From a printed table of machining data (5th edition 2022, ISBN 978-3-7585-1315-2, p. 215–216),
//! as quoted with the page in openly licensed material cards; seen as quoted, not in the book. They
//! hold for the rake angle that stands beside them. For titanium, nickel alloys and hardened steel
//! no value that may be cited was found: a shop states its own.

use super::load::Kienzle;

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Name for configuration and messages.
    pub name: &'static str,
    /// Force for a chip of 1 mm × 1 mm, N/mm².
    pub kc11: f64,
    /// Exponent.
    pub mc: f64,
    /// Rake angle in degrees that the force holds for.
    pub rake_deg: f64,
}

const fn material(name: &'static str, kc11: f64, mc: f64, rake_deg: f64) -> Material {
    Material {
        name,
        kc11,
        mc,
        rake_deg,
    }
}

/// The table.
pub const MATERIALS: [Material; 7] = [
    material("unalloyed steel", 1800.0, 0.20, 6.0),
    material("low-alloy steel", 2200.0, 0.24, 6.0),
    material("austenitic stainless steel", 2000.0, 0.20, 6.0),
    material("grey cast iron", 1050.0, 0.23, 2.0),
    material("malleable cast iron", 1500.0, 0.28, 2.0),
    material("wrought aluminium", 470.0, 0.27, 12.0),
    material("cast aluminium with silicon", 680.0, 0.27, 12.0),
];

/// Where the table comes from.
pub const SOURCE: &str = "table of machining data, 5th ed. 2022, ISBN 978-3-7585-1315-2, p. 215-216, \
                          as quoted in openly licensed material cards";

impl Material {
    /// The line of a name; case does not matter.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Material> {
        MATERIALS
            .iter()
            .find(|material| material.name.eq_ignore_ascii_case(name.trim()))
    }

    /// The constants for another rake angle in degrees: about 1 % of force per degree,
    /// kc · (1 − γ / 100) / (1 − γ0 / 100), as the same table corrects.
    #[must_use]
    pub fn at_rake(&self, rake_deg: f64) -> Kienzle {
        let factor = (1.0 - rake_deg / 100.0) / (1.0 - self.rake_deg / 100.0);
        Kienzle {
            kc11: self.kc11 * factor,
            ..self.constants()
        }
    }

    /// The constants as they stand in the table.
    #[must_use]
    pub fn constants(&self) -> Kienzle {
        Kienzle {
            kc11: self.kc11,
            mc: self.mc,
            source: format!("{} ({SOURCE})", self.name),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_rakes() {
        let steel = Material::named(" Unalloyed Steel ").unwrap();
        assert_eq!(steel.constants().kc11, 1800.0);
        assert_eq!(Material::named("titanium"), None);
        // A tool without rake needs 6 % more, roughly.
        assert!((steel.at_rake(0.0).kc11 - 1800.0 / 0.94).abs() < 1e-9);
        assert!((steel.at_rake(6.0).kc11 - 1800.0).abs() < 1e-9);
    }
}
