//! Observers, lamps, and the tristimulus values of a reflectance under them.

use std::sync::OnceLock;

use crate::lab::{LabD50, lab_from_xyz};
use crate::spectrum::Spectrum;
use crate::xyz::Xyz;

/// A CIE standard observer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Observer {
    /// CIE 1931, 2°.
    #[default]
    TwoDegree,
    /// CIE 1964, 10°.
    TenDegree,
}

/// A lamp by name, by temperature or as measured.
#[derive(Debug, Clone, PartialEq)]
pub enum Lamp {
    /// A column of CIE 15:2018 or CIE 018:2019: one of [`LAMP_NAMES`].
    Cie(&'static str),
    /// A Planckian radiator, temperature in kelvin (ITS-90, c2 = 1.4388e-2 m K).
    Planckian(f64),
    /// A measured relative power.
    Measured(Spectrum),
}

/// The tabulated lamps.
pub const LAMP_NAMES: [&str; 13] = [
    "A", "D50", "D55", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1",
    "LED-RGB1", "LED-V1", "LED-V2",
];

fn table(text: &'static str) -> Vec<Vec<f64>> {
    let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    rows.map(|l| l.split(',').filter_map(|c| c.parse().ok()).collect())
        .collect()
}

fn observers() -> &'static [Vec<f64>] {
    static TABLE: OnceLock<Vec<Vec<f64>>> = OnceLock::new();
    TABLE.get_or_init(|| table(include_str!("../data/observers_1nm.csv")))
}

fn lamps() -> &'static [Spectrum] {
    static TABLE: OnceLock<Vec<Spectrum>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let rows = table(include_str!("../data/illuminants_5nm.csv"));
        let column = |k: usize| rows.iter().map(|r| (0, r[0], r[k + 1])).collect::<Vec<_>>();
        (0..LAMP_NAMES.len())
            .filter_map(|k| Spectrum::from_rows(&column(k)).ok())
            .collect()
    })
}

impl Lamp {
    /// Relative spectral power at a wavelength; 0 for a name that is not tabulated.
    pub fn power_at(&self, wavelength_nm: f64) -> f64 {
        match self {
            Self::Cie(name) => LAMP_NAMES
                .iter()
                .position(|n| n == name)
                .and_then(|i| lamps().get(i))
                .map_or(0.0, |s| s.at_linear(wavelength_nm)),
            Self::Planckian(temperature_k) => {
                // CIE 15:2018, annex E; relative to 560 nm.
                let power = |nm: f64| {
                    let exponent = 1.4388e-2 / (nm * 1e-9 * temperature_k);
                    (560.0 / nm).powi(5) / exponent.exp_m1()
                };
                power(wavelength_nm) / power(560.0)
            }
            Self::Measured(spectrum) => spectrum.at_linear(wavelength_nm),
        }
    }

    /// The white: the lamp on the perfect diffuser, Y = 1, summed as [`Lamp::xyz_of`].
    pub fn white(&self, observer: Observer) -> Xyz {
        self.sum(observer, |_| 1.0)
    }

    /// Tristimulus values of a reflectance: the sum at 1 nm over 380 to 780 nm, Y = 1 for the
    /// perfect diffuser. CIE 15:2018, section 7.
    pub fn xyz_of(&self, reflectance: &Spectrum, observer: Observer) -> Xyz {
        self.sum(observer, |nm| reflectance.at(nm))
    }

    fn sum(&self, observer: Observer, reflectance: impl Fn(f64) -> f64) -> Xyz {
        let first = if observer == Observer::TwoDegree {
            1
        } else {
            4
        };
        let (mut sum, mut white_y) = ([0.0; 3], 0.0);
        for row in observers()
            .iter()
            .filter(|r| (380.0..=780.0).contains(&r[0]))
        {
            let power = self.power_at(row[0]);
            let reflected = power * reflectance(row[0]);
            white_y += power * row[first + 1];
            for k in 0..3 {
                sum[k] += reflected * row[first + k];
            }
        }
        Xyz::from_array(sum.map(|v| v / white_y))
    }

    /// CIELAB relative to this lamp's own white. Under D50 this is the [`LabD50`] of the crate (the
    /// sum's white differs from CSS D50 in the fourth decimal and is divided out).
    pub fn lab_of(&self, reflectance: &Spectrum, observer: Observer) -> [f64; 3] {
        lab_from_xyz(self.xyz_of(reflectance, observer), self.white(observer))
    }
}

/// CIELAB under D50 for the 2° observer.
pub fn lab_d50_of(reflectance: &Spectrum) -> LabD50 {
    LabD50::from_array(Lamp::Cie("D50").lab_of(reflectance, Observer::TwoDegree))
}
