//! How far the corrected chart is from what it is.

use ganosis_colorimetry::delta_e::{Weights2000, delta_e_2000_weighted};
use ganosis_colorimetry::{LabD50, delta_e_2000, delta_e_ab};
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::reading::ChartReading;
use crate::fit::Candidate;
use crate::reference::Reference;

/// One patch, corrected.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchResult {
    /// Its name.
    pub name: String,
    /// What it is.
    pub asked: LabD50,
    /// What the corrected photograph shows.
    pub got: LabD50,
    /// ΔE00 between the two.
    pub delta_e_00: f64,
    /// ΔE00 where the model was fitted without this patch; none for patches left out of the fit.
    pub left_out_delta_e_00: Option<f64>,
    /// L* got minus asked.
    pub delta_l: f64,
    /// C* got minus asked.
    pub delta_c: f64,
}

/// Sums over patches, in units of the difference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Mean.
    pub mean: f64,
    /// Median.
    pub median: f64,
    /// 90th percentile.
    pub p90: f64,
    /// 95th percentile.
    pub p95: f64,
    /// Largest.
    pub max: f64,
}

impl Summary {
    /// Of a list that is not empty.
    pub fn of(values: &[f64]) -> Self {
        Self {
            mean: values.iter().sum::<f64>() / values.len() as f64,
            median: percentile(values, 50.0),
            p90: percentile(values, 90.0),
            p95: percentile(values, 95.0),
            max: percentile(values, 100.0),
        }
    }
}

/// A percentile, linear between the ordered values (R. J. Hyndman, Y. Fan, "Sample Quantiles in
/// Statistical Packages", The American Statistician 50(4), 1996, definition 7). NaN for an empty list.
pub fn percentile(values: &[f64], percent: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = percent / 100.0 * sorted.len().saturating_sub(1) as f64;
    let low = at.floor() as usize;
    match (sorted.get(low), sorted.get(low + 1)) {
        (Some(a), Some(b)) => a + (b - a) * (at - low as f64),
        (Some(a), None) => *a,
        _ => f64::NAN,
    }
}

/// A grey patch, corrected.
#[derive(Debug, Clone, PartialEq)]
pub struct GreyResult {
    /// Index of the patch.
    pub patch: usize,
    /// Distance in a*, b* from what it is.
    pub delta_ab: f64,
    /// ΔE00 without the difference of lightness.
    pub delta_e_00_without_l: f64,
    /// L* got minus asked.
    pub delta_l: f64,
}

/// How evenly the field of patches was lit, from what is left after the correction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Evenness {
    /// (brightest - darkest) / brightest over the field, percent of light.
    pub non_uniformity_percent: f64,
    /// One standard error of it.
    pub standard_error_percent: f64,
    /// The same for a mid grey (L* 50) as a difference of L*.
    pub delta_l: f64,
}

/// The whole judgement of one photograph under one model.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// Every patch.
    pub patches: Vec<PatchResult>,
    /// Indices of those the model was fitted to; the sums are over them.
    pub used: Vec<usize>,
    /// ΔE00 of the fit.
    pub fit: Summary,
    /// ΔE00 of patches left out in turn.
    pub left_out: Summary,
    /// |ΔL*|.
    pub delta_l: Summary,
    /// |ΔC*|.
    pub delta_c: Summary,
    /// ΔE*ab.
    pub delta_e_ab: Summary,
    /// ΔE00 with S_L = 1.
    pub delta_e_00_unit_sl: Summary,
    /// Usable greys, lightest first.
    pub greys: Vec<GreyResult>,
    /// Evenness of the light, where enough patches say it.
    pub evenness: Option<Evenness>,
}

impl Assessment {
    /// Judges a candidate.
    pub fn new(reading: &ChartReading, reference: &Reference, candidate: &Candidate) -> Self {
        let mut left_out = reading.used.iter().zip(&candidate.left_out_errors);
        let mut next = left_out.next();
        let mut patches = Vec::with_capacity(reference.patches.len());
        for (i, (patch, read)) in reference.patches.iter().zip(&reading.readings).enumerate() {
            let got = candidate.model.predict_lab(read.camera);
            let mut result = patch_result(&patch.name, patch.lab, got);
            if let Some((&used, &error)) = next
                && used == i
            {
                result.left_out_delta_e_00 = Some(error);
                next = left_out.next();
            }
            patches.push(result);
        }
        let of = |f: &dyn Fn(&PatchResult) -> f64| {
            let values: Vec<f64> = reading.used.iter().map(|&i| f(&patches[i])).collect();
            Summary::of(&values)
        };
        let unit_sl = Weights2000 {
            unit_sl: true,
            ..Weights2000::default()
        };
        Self {
            fit: of(&|p| p.delta_e_00),
            left_out: Summary::of(&candidate.left_out_errors),
            delta_l: of(&|p| p.delta_l.abs()),
            delta_c: of(&|p| p.delta_c.abs()),
            delta_e_ab: of(&|p| delta_e_ab(p.asked, p.got)),
            delta_e_00_unit_sl: of(&|p| delta_e_2000_weighted(p.asked, p.got, unit_sl)),
            greys: greys(&patches, reading, reference),
            evenness: evenness(&patches, reading, reference),
            used: reading.used.clone(),
            patches,
        }
    }

    /// The largest of a quantity over the greys; `None` without greys.
    pub fn worst_grey(&self, quantity: fn(&GreyResult) -> f64) -> Option<f64> {
        self.greys.iter().map(quantity).reduce(f64::max)
    }
}

fn patch_result(name: &str, asked: LabD50, got: LabD50) -> PatchResult {
    PatchResult {
        name: name.to_owned(),
        asked,
        got,
        delta_e_00: delta_e_2000(asked, got),
        left_out_delta_e_00: None,
        delta_l: got.l - asked.l,
        delta_c: got.to_lch().c - asked.to_lch().c,
    }
}

fn greys(
    patches: &[PatchResult],
    reading: &ChartReading,
    reference: &Reference,
) -> Vec<GreyResult> {
    let usable = reference
        .greys()
        .into_iter()
        .filter(|i| reading.used.contains(i));
    usable
        .map(|patch| {
            let PatchResult { asked, got, .. } = patches[patch];
            let level = LabD50::new(asked.l, got.a, got.b);
            GreyResult {
                patch,
                delta_ab: (got.a - asked.a).hypot(got.b - asked.b),
                delta_e_00_without_l: delta_e_2000(asked, level),
                delta_l: got.l - asked.l,
            }
        })
        .collect()
}

/// Patches darker than this say little about the light.
const EVENNESS_FROM_L: f64 = 25.0;

/// A plane through the logarithms of got over asked luminance, by least squares.
fn evenness(
    patches: &[PatchResult],
    reading: &ChartReading,
    reference: &Reference,
) -> Option<Evenness> {
    let used: Vec<usize> = reading
        .used
        .iter()
        .copied()
        .filter(|&i| patches[i].asked.l > EVENNESS_FROM_L && patches[i].got.l > 0.0)
        .collect();
    // Three parameters and as many patches again to judge them by.
    if used.len() < 6 || reference.columns < 2 || reference.rows < 2 {
        return None;
    }
    let (columns, rows) = (reference.columns as f64, reference.rows as f64);
    let a = DMatrix::from_fn(used.len(), 3, |k, j| {
        let (column, row) = (used[k] % reference.columns, used[k] / reference.columns);
        [
            1.0,
            (column as f64 + 0.5) / columns - 0.5,
            (row as f64 + 0.5) / rows - 0.5,
        ][j]
    });
    let y = |lab: LabD50| lab.to_xyz_d50().y;
    let b = DVector::from_iterator(
        used.len(),
        used.iter()
            .map(|&i| (y(patches[i].got) / y(patches[i].asked)).ln()),
    );
    let inverse = (a.transpose() * &a).try_inverse()?;
    let plane = &inverse * a.transpose() * &b;
    let rest = (&b - &a * &plane).norm_squared() / (used.len() - 3) as f64;
    let range = plane[1].abs() + plane[2].abs();
    let error = (rest * (inverse[(1, 1)] + inverse[(2, 2)])).sqrt();
    // Luminance of L* 50 (CIE 15): ((50 + 16) / 116)^3.
    let mid = (66.0_f64 / 116.0).powi(3);
    let l = |y: f64| 116.0 * y.cbrt() - 16.0;
    Some(Evenness {
        non_uniformity_percent: 100.0 * (1.0 - (-range).exp()),
        standard_error_percent: 100.0 * error,
        delta_l: l(mid * (range / 2.0).exp()) - l(mid * (-range / 2.0).exp()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_follow_definition_7() {
        // Worked by hand from the definition: position 1 + 0.9 * 3 = 3.7 of 1, 2, 4, 8.
        assert!((percentile(&[8.0, 1.0, 4.0, 2.0], 90.0) - 6.8).abs() < 1e-12);
        assert!((percentile(&[8.0, 1.0, 4.0, 2.0], 50.0) - 3.0).abs() < 1e-12);
        assert!(percentile(&[], 50.0).is_nan());
    }
}
