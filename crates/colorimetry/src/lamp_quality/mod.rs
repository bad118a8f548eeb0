//! How good a lamp is to look by: its colour, and what it does to the colours of things.
//!
//! One number does not tell which colours suffer: a lamp of Ra 85 may show reds badly (R9) or purples
//! badly. For a painted object the pigments' own spectra say more; see [`crate::relight`].

mod ciecam02;
mod fidelity;
mod rendering;
mod temperature;

pub use fidelity::{Fidelity, fidelity};
pub use rendering::{Rendering, rendering};
pub use temperature::{Temperature, correlated_temperature, lamp_temperature};

use crate::illuminant::Lamp;
use crate::observer::Observer;

/// Power, and the observer, every 5 nm.
fn powers_5nm(lamp: &Lamp) -> Vec<f64> {
    lamp.powers_1nm().into_iter().step_by(STEP_NM).collect()
}

fn matching_5nm(observer: Observer) -> impl Iterator<Item = &'static [f64; 3]> {
    observer.matching_1nm().iter().step_by(STEP_NM)
}

/// The step that CIE 13.3 and CIE 224 tabulate their samples at.
const STEP_NM: usize = 5;

/// XYZ with Y = 100 for the perfect diffuser, by a sum at 5 nm.
fn xyz_100(power: &[f64], reflectance: &dyn Fn(usize) -> f64, observer: Observer) -> [f64; 3] {
    let (mut sum, mut white_y) = ([0.0; 3], 0.0);
    for (i, (power, matching)) in power.iter().zip(matching_5nm(observer)).enumerate() {
        let reflected = power * reflectance(i);
        white_y += power * matching[1];
        for k in 0..3 {
            sum[k] += reflected * matching[k];
        }
    }
    sum.map(|v| 100.0 * v / white_y)
}
