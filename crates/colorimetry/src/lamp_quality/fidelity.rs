//! The CIE colour fidelity index. CIE 224:2017.

use std::sync::OnceLock;

use super::ciecam02::UniformSpace;
use super::temperature::lamp_temperature;
use super::{matching_5nm, powers_5nm, xyz_100};
use crate::illuminant::{Lamp, columns};
use crate::observer::Observer;
use crate::spectrum::Spectrum;

/// How near the colours under a lamp are to those under its reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Fidelity {
    /// Rf, 0 to 100.
    pub rf: f64,
    /// Rf of each of the 99 samples.
    pub samples: Vec<f64>,
}

fn samples() -> &'static [Spectrum] {
    static TABLE: OnceLock<Vec<Spectrum>> = OnceLock::new();
    TABLE.get_or_init(|| columns(include_str!("../../data/fidelity_samples_5nm.csv")))
}

/// CIE 224, section 4.2: Planckian to 4000 K, daylight from 5000 K, a mixture between.
fn reference_power(kelvin: f64) -> Vec<f64> {
    let share = ((kelvin - 4000.0) / 1000.0).clamp(0.0, 1.0);
    let normalised = |lamp: Lamp| {
        let power = powers_5nm(&lamp);
        let y: f64 = (power.iter().zip(matching_5nm(Observer::TwoDegree)))
            .map(|(p, m)| p * m[1])
            .sum();
        power.into_iter().map(move |p| p / y).collect::<Vec<_>>()
    };
    let planckian = normalised(Lamp::Planckian(kelvin));
    // The formula of daylight ends at 4000 K, where its share is zero.
    let daylight = normalised(Lamp::Daylight(kelvin.max(4000.0)));
    (planckian.iter().zip(daylight))
        .map(|(p, d)| p + share * (d - p))
        .collect()
}

/// CIE 224, equation 12.
fn index(difference: f64) -> f64 {
    const FACTOR: f64 = 6.73;
    10.0 * ((100.0 - FACTOR * difference) / 10.0).exp().ln_1p()
}

/// The colour fidelity index of a lamp; sums at 5 nm, 10° observer.
pub fn fidelity(lamp: &Lamp) -> Fidelity {
    let observer = Observer::TenDegree;
    let lamp_power = powers_5nm(lamp);
    let reference_power = reference_power(lamp_temperature(lamp).kelvin);
    let lamp_space = UniformSpace::new(xyz_100(&lamp_power, &|_| 1.0, observer));
    let reference_space = UniformSpace::new(xyz_100(&reference_power, &|_| 1.0, observer));
    let differences: Vec<f64> = (samples().iter())
        .map(|sample| {
            let reflectance = |i: usize| sample.values()[i];
            let shown = lamp_space.coordinates(xyz_100(&lamp_power, &reflectance, observer));
            let wanted =
                reference_space.coordinates(xyz_100(&reference_power, &reflectance, observer));
            (0..3)
                .map(|k| (shown[k] - wanted[k]).powi(2))
                .sum::<f64>()
                .sqrt()
        })
        .collect();
    let mean = differences.iter().sum::<f64>() / differences.len().max(1) as f64;
    Fidelity {
        rf: index(mean),
        samples: differences.into_iter().map(index).collect(),
    }
}
