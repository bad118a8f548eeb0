//! Whether photographs of the same chart, each corrected by its own calibration, show the same
//! colours: what lets their images be laid over one another.

use ganosis_colorimetry::delta_e_2000;

use crate::characterisation::Characterisation;
use crate::chart::Summary;

/// Two corrected photographs, patch by patch.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Indices of the two photographs.
    pub photos: [usize; 2],
    /// Index of the patch and ΔE00 between the two, for patches that both can use.
    pub patches: Vec<(usize, f64)>,
    /// In sum.
    pub delta_e_00: Summary,
}

/// Every pair of photographs. Pairs whose charts differ in their number of patches, or that share no
/// usable patch, are left out.
pub fn agreements(photos: &[&Characterisation]) -> Vec<Agreement> {
    let mut out = Vec::new();
    for i in 0..photos.len() {
        for j in i + 1..photos.len() {
            out.extend(agreement([i, j], photos[i], photos[j]));
        }
    }
    out
}

fn agreement(photos: [usize; 2], a: &Characterisation, b: &Characterisation) -> Option<Agreement> {
    let (of_a, of_b) = (&a.assessment.patches, &b.assessment.patches);
    if of_a.len() != of_b.len() {
        return None;
    }
    let shared = a.reading.used.iter().filter(|i| b.reading.used.contains(i));
    let patches: Vec<(usize, f64)> = shared
        .map(|&i| (i, delta_e_2000(of_a[i].got, of_b[i].got)))
        .collect();
    let values: Vec<f64> = patches.iter().map(|p| p.1).collect();
    (!values.is_empty()).then(|| Agreement {
        photos,
        delta_e_00: Summary::of(&values),
        patches,
    })
}
