//! Lamps: their spectral power, their white, and what they make of a reflectance.

use std::fmt;
use std::str::FromStr;
use std::sync::OnceLock;

use crate::decimal::decimal;
use crate::lab::{LabD50, lab_from_xyz};
use crate::observer::{COUNT_1NM, FIRST_NM, LAST_NM, Observer, table};
use crate::spectrum::Spectrum;
use crate::xyz::{Chromaticity, Xyz};

macro_rules! cie_illuminants {
    ($($variant:ident $name:literal $doc:literal,)*) => {
        /// The tabulated lamps.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum CieIlluminant {
            $(#[doc = $doc] $variant,)*
        }

        impl CieIlluminant {
            /// All of them, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The CIE's name.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }
        }
    };
}

cie_illuminants! {
    A "A" "Tungsten, 2856 K. CIE 15:2018.",
    D50 "D50" "Daylight, 5003 K. CIE 15:2018.",
    D55 "D55" "Daylight, 5503 K. CIE 15:2018.",
    D65 "D65" "Daylight, 6504 K. CIE 15:2018.",
    LedB1 "LED-B1" "Phosphor-converted blue LED, 2733 K. CIE 15:2018.",
    LedB2 "LED-B2" "Phosphor-converted blue LED, 2998 K. CIE 15:2018.",
    LedB3 "LED-B3" "Phosphor-converted blue LED, 4103 K. CIE 15:2018.",
    LedB4 "LED-B4" "Phosphor-converted blue LED, 5109 K. CIE 15:2018.",
    LedB5 "LED-B5" "Phosphor-converted blue LED, 6598 K. CIE 15:2018.",
    LedBH1 "LED-BH1" "Blue LED with phosphor and a red LED, 2851 K. CIE 15:2018.",
    LedRgb1 "LED-RGB1" "Red, green and blue LEDs, 2840 K. CIE 15:2018.",
    LedV1 "LED-V1" "Phosphor-converted violet LED, 2724 K. CIE 15:2018.",
    LedV2 "LED-V2" "Phosphor-converted violet LED, 4070 K. CIE 15:2018.",
    Fl2 "FL2" "Fluorescent, halophosphate, 4230 K. CIE 15:2018.",
    Fl7 "FL7" "Fluorescent, broad band, 6500 K. CIE 15:2018.",
    Fl11 "FL11" "Fluorescent, three narrow bands, 4000 K. CIE 15:2018.",
}

impl CieIlluminant {
    fn spectrum(self) -> Option<&'static Spectrum> {
        static TABLE: OnceLock<Vec<Spectrum>> = OnceLock::new();
        let spectra = TABLE.get_or_init(|| columns(include_str!("../data/illuminants_5nm.csv")));
        spectra.get(self as usize)
    }
}

/// The columns of a table of ours as spectra.
pub(crate) fn columns(text: &'static str) -> Vec<Spectrum> {
    let rows = table(text);
    let count = rows.first().map_or(0, |r| r.len().saturating_sub(1));
    (0..count)
        .filter_map(|k| {
            let column: Vec<_> = rows.iter().map(|r| (0, r[0], r[k + 1])).collect();
            Spectrum::from_rows(&column).ok()
        })
        .collect()
}

/// A lamp by name, by temperature or as measured.
#[derive(Debug, Clone, PartialEq)]
pub enum Lamp {
    /// As tabulated.
    Cie(CieIlluminant),
    /// Equal power at every wavelength, illuminant E.
    EqualEnergy,
    /// A Planckian radiator, temperature in kelvin (ITS-90, c2 = 1.4388e-2 m K). CIE 15:2018.
    Planckian(f64),
    /// A phase of daylight, correlated colour temperature in kelvin. CIE 15:2018, section 4.1.2.
    Daylight(f64),
    /// A measured relative power.
    Measured(Spectrum),
}

/// A lamp that is not known.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LampError {
    /// No such name.
    #[error(
        "{name:?} is no lamp: write one of {known}; candle; a temperature of 1000 to 25000 K such as 2700K (Planckian) or D5600K (daylight, 4000 to 25000 K); or the path of a CSV with a measured spectrum", known = known_names()
    )]
    Unknown {
        /// What was asked for.
        name: String,
    },
    /// A temperature for which the formula is not made.
    #[error("{kelvin} K is outside {least} to {most} K")]
    Temperature {
        /// What was asked for.
        kelvin: f64,
        /// The lowest.
        least: f64,
        /// The highest.
        most: f64,
    },
}

fn known_names() -> String {
    let names: Vec<_> = CieIlluminant::ALL.iter().map(|i| i.name()).collect();
    names.join(", ") + ", E"
}

/// The flame of a candle as a Planckian radiator, in kelvin (from memory; published values lie
/// between 1800 and 2000 K).
pub const CANDLE_K: f64 = 1900.0;

impl FromStr for Lamp {
    type Err = LampError;

    /// `A`, `D65`, `LED-B3`, `E`, `candle`, `2700K`, `D5600K`; upper or lower case.
    fn from_str(name: &str) -> Result<Self, LampError> {
        let word = name.trim().to_ascii_uppercase();
        let named = CieIlluminant::ALL.iter().find(|i| i.name() == word);
        if let Some(illuminant) = named {
            return Ok(Self::Cie(*illuminant));
        }
        match word.as_str() {
            "E" => return Ok(Self::EqualEnergy),
            "CANDLE" => return Ok(Self::Planckian(CANDLE_K)),
            _ => {}
        }
        let unknown = || LampError::Unknown {
            name: name.trim().to_owned(),
        };
        let kelvin = word.strip_suffix('K').ok_or_else(unknown)?.trim();
        let number = |text: &str| decimal(text.trim()).ok_or_else(unknown);
        match kelvin.strip_prefix('D') {
            Some(rest) => Self::daylight(number(rest)?),
            None => Self::planckian(number(kelvin)?),
        }
    }
}

impl fmt::Display for Lamp {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Self::Cie(illuminant) => out.write_str(illuminant.name()),
            Self::EqualEnergy => out.write_str("E"),
            Self::Planckian(kelvin) => write!(out, "{kelvin} K"),
            Self::Daylight(kelvin) => write!(out, "daylight {kelvin} K"),
            Self::Measured(_) => out.write_str("measured"),
        }
    }
}

fn within(kelvin: f64, least: f64, most: f64) -> Result<f64, LampError> {
    if (least..=most).contains(&kelvin) {
        Ok(kelvin)
    } else {
        Err(LampError::Temperature {
            kelvin,
            least,
            most,
        })
    }
}

impl Lamp {
    /// A Planckian radiator of 1000 to 25000 K.
    pub fn planckian(kelvin: f64) -> Result<Self, LampError> {
        Ok(Self::Planckian(within(kelvin, 1000.0, 25000.0)?))
    }

    /// Daylight of 4000 to 25000 K, where the formula of the CIE holds.
    pub fn daylight(kelvin: f64) -> Result<Self, LampError> {
        Ok(Self::Daylight(within(kelvin, 4000.0, 25000.0)?))
    }

    /// Relative spectral power at 380, 381 … 780 nm; straight lines between tabulated values
    /// (CIE 15:2018), the end values beyond them.
    pub fn powers_1nm(&self) -> [f64; COUNT_1NM] {
        let by_nm = |f: &dyn Fn(f64) -> f64| std::array::from_fn(|i| f((FIRST_NM + i) as f64));
        match self {
            Self::Cie(illuminant) => match illuminant.spectrum() {
                Some(spectrum) => by_nm(&|nm| spectrum.at_linear(nm)),
                None => [0.0; COUNT_1NM],
            },
            Self::EqualEnergy => [1.0; COUNT_1NM],
            Self::Planckian(kelvin) => by_nm(&|nm| planck(nm, *kelvin) / planck(560.0, *kelvin)),
            Self::Daylight(kelvin) => {
                let [s0, s1, s2] = daylight_components();
                let [m1, m2] = daylight_factors(*kelvin);
                by_nm(&|nm| s0.at_linear(nm) + m1 * s1.at_linear(nm) + m2 * s2.at_linear(nm))
            }
            Self::Measured(spectrum) => by_nm(&|nm| spectrum.at_linear(nm)),
        }
    }

    /// The white: the lamp on the perfect diffuser, Y = 1, summed as [`Lamp::xyz_of`].
    pub fn white(&self, observer: Observer) -> Xyz {
        self.sum(observer, |_| 1.0)
    }

    /// Tristimulus values of a reflectance: the sum at 1 nm over 380 to 780 nm, Y = 1 for the
    /// perfect diffuser. CIE 15:2018, section 7. For many spectra on one grid see
    /// [`crate::weights::Weights`].
    pub fn xyz_of(&self, reflectance: &Spectrum, observer: Observer) -> Xyz {
        self.sum(observer, |nm| reflectance.at(nm))
    }

    fn sum(&self, observer: Observer, reflectance: impl Fn(f64) -> f64) -> Xyz {
        let (mut sum, mut white_y) = ([0.0; 3], 0.0);
        let powers = self.powers_1nm();
        for ((nm, power), matching) in (FIRST_NM..=LAST_NM)
            .zip(powers)
            .zip(observer.matching_1nm())
        {
            let reflected = power * reflectance(nm as f64);
            white_y += power * matching[1];
            for k in 0..3 {
                sum[k] += reflected * matching[k];
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

/// `λ⁻⁵ / (exp(c2 / λT) - 1)`, relative to 560 nm. CIE 15:2018, annex E.
pub(crate) fn planck(nm: f64, kelvin: f64) -> f64 {
    let exponent = 1.4388e-2 / (nm * 1e-9 * kelvin);
    (560.0 / nm).powi(5) / exponent.exp_m1()
}

/// S0, S1 and S2; the last two have negative values, as no measured spectrum has.
fn daylight_components() -> &'static [Spectrum; 3] {
    static TABLE: OnceLock<[Spectrum; 3]> = OnceLock::new();
    TABLE.get_or_init(|| {
        let rows = table(include_str!("../data/daylight_components_5nm.csv"));
        std::array::from_fn(|k| {
            let values = rows.iter().map(|r| r[k + 1]).collect();
            Spectrum::from_grid_unchecked(FIRST_NM as f64, 5.0, values)
        })
    })
}

/// The chromaticity of daylight. CIE 15:2018, equations 4.1 to 4.3.
pub fn daylight_chromaticity(kelvin: f64) -> Chromaticity {
    let t = 1e3 / kelvin;
    let x = if kelvin <= 7000.0 {
        ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244063
    } else {
        ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237040
    };
    Chromaticity::new(x, (-3.000 * x + 2.870) * x - 0.275)
}

/// M1 and M2, CIE 15:2018, equations 4.5 and 4.6; not rounded.
fn daylight_factors(kelvin: f64) -> [f64; 2] {
    let Chromaticity { x, y } = daylight_chromaticity(kelvin);
    let m = 0.0241 + 0.2562 * x - 0.7341 * y;
    [
        (-1.3515 - 1.7703 * x + 5.9114 * y) / m,
        (0.0300 - 31.4424 * x + 30.0717 * y) / m,
    ]
}

/// CIELAB under D50 for the 2° observer.
pub fn lab_d50_of(reflectance: &Spectrum) -> LabD50 {
    let d50 = Lamp::Cie(CieIlluminant::D50);
    LabD50::from_array(d50.lab_of(reflectance, Observer::TwoDegree))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_has_its_column() {
        let header = include_str!("../data/illuminants_5nm.csv").lines().nth(2);
        let names: Vec<_> = CieIlluminant::ALL.iter().map(|i| i.name()).collect();
        assert_eq!(
            header,
            Some(format!("wavelength_nm,{}", names.join(",")).as_str())
        );
        for illuminant in CieIlluminant::ALL {
            assert!(
                illuminant
                    .spectrum()
                    .is_some_and(|s| s.check_lamp().is_ok())
            );
            let lamp: Lamp = illuminant.name().to_lowercase().parse().expect("a name");
            assert_eq!(lamp, Lamp::Cie(*illuminant));
        }
    }

    #[test]
    fn what_is_no_lamp_is_said() {
        let wrong = |name: &str| name.parse::<Lamp>().expect_err("no lamp");
        assert!(wrong("LED-B9").to_string().contains("LED-B3"));
        assert!(matches!(wrong("DK"), LampError::Unknown { .. }));
        assert!(matches!(wrong("300K"), LampError::Temperature { .. }));
        assert!(matches!(wrong("D3000K"), LampError::Temperature { .. }));
        assert!(matches!(wrong("NaNK"), LampError::Temperature { .. }));
        assert_eq!("candle".parse(), Ok(Lamp::Planckian(CANDLE_K)));
        assert_eq!("D6504K".parse(), Ok(Lamp::Daylight(6504.0)));
    }

    #[test]
    fn daylight_of_6504_k_is_d65_and_planck_of_2856_k_is_a() {
        // CIE 15: D65 is the daylight of 6500 (1.4388/1.4380) K with M1, M2 rounded to three
        // decimals; A is the Planckian of 2848 (1.4388/1.4350) K.
        let pairs = [
            (
                Lamp::Daylight(6500.0 * 1.4388 / 1.4380),
                CieIlluminant::D65,
                0.04,
            ),
            (
                Lamp::Planckian(2848.0 * 1.4388 / 1.4350),
                CieIlluminant::A,
                0.002,
            ),
        ];
        for (computed, tabulated, tolerance) in pairs {
            let (got, want) = (computed.powers_1nm(), Lamp::Cie(tabulated).powers_1nm());
            let at_560 = 560 - FIRST_NM;
            for i in (0..COUNT_1NM).step_by(5) {
                let (got, want) = (got[i] / got[at_560], want[i] / want[at_560]);
                assert!(
                    (got - want).abs() < tolerance / 100.0,
                    "{tabulated:?} {i} {got} {want}"
                );
            }
        }
    }
}
