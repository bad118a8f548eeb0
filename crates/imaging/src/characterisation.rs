//! From a photograph of a chart to a characterised camera, for one or several tables of the chart.

use crate::chart::{
    Assessment, ChartReading, Finding, FindingKind, Placement, Severity, at_corners, examine, find,
    percentile, spots,
};
use crate::error::{ImagingError, Result};
use crate::fit::{Candidate, Options, characterise};
use crate::geometry::Point;
use crate::photo::{LinearPhoto, Photo};
use crate::reference::Reference;

/// One photograph against one table.
#[derive(Debug, Clone, PartialEq)]
pub struct Characterisation {
    /// The table.
    pub reference: Reference,
    /// Where the chart is.
    pub placement: Placement,
    /// What its patches say.
    pub reading: ChartReading,
    /// The models tried, the preferred first; never empty.
    pub tried: Vec<Candidate>,
    /// The preferred model judged.
    pub assessment: Assessment,
}

impl Characterisation {
    fn new(
        view: &LinearPhoto,
        placement: Placement,
        reference: Reference,
        tone: bool,
    ) -> Result<Self> {
        let reading = examine(view, &placement, &reference)?;
        let options = Options {
            white_balance: reading.white_balance,
            tone,
        };
        let tried = characterise(&reading.samples(&reference), &options)?;
        let assessment = Assessment::new(&reading, &reference, &tried[0]);
        Ok(Self {
            reference,
            placement,
            reading,
            tried,
            assessment,
        })
    }

    /// The preferred model.
    pub fn preferred(&self) -> &Candidate {
        &self.tried[0]
    }

    /// The first finding that makes a calibration from this photograph worthless. A wrong encoding is
    /// none where a tone curve was asked for, which takes it in.
    pub fn fault(&self, tone: bool) -> Option<&Finding> {
        let taken_in =
            |kind| tone && matches!(kind, FindingKind::LooksEncoded | FindingKind::LooksLinear);
        self.reading
            .findings
            .iter()
            .find(|f| f.kind.severity() == Severity::Fault && !taken_in(f.kind))
    }
}

/// Characterises the camera by each table, the best first: the one with the smallest mean error of
/// patches left out. With `corners_px` the chart is laid at four points; without, it is looked for.
pub fn compare(
    view: &LinearPhoto,
    references: &[Reference],
    corners_px: Option<[Point; 4]>,
    tone: bool,
) -> Result<Vec<Characterisation>> {
    let spots = spots(view);
    let mut all = Vec::new();
    let mut refused = None;
    for reference in references {
        let placed = match corners_px {
            Some(corners) => {
                at_corners(view, corners, reference, &spots[1]).and_then(|placement| {
                    placement.require_clear(&view.photo.name)?;
                    Ok(placement)
                })
            }
            None => find(view, reference, &spots),
        };
        let done = placed.and_then(|p| Characterisation::new(view, p, reference.clone(), tone));
        match done {
            Ok(one) => all.push(one),
            Err(error) => refused = refused.or(Some(error)),
        }
    }
    if all.is_empty() {
        let error = refused.unwrap_or_else(|| {
            ImagingError::new(
                "there is no reference to compare with",
                view.photo.name.clone(),
                "Name a table of the chart with --reference.",
            )
        });
        return Err(with_exposure(error, view.photo));
    }
    all.sort_by(|a, b| {
        let mean = |c: &Characterisation| c.preferred().left_out_mean();
        mean(a).total_cmp(&mean(b))
    });
    Ok(all)
}

/// A part of the photograph that is clipped, or a code that most of it stays below, from which on the
/// exposure may be why no chart was recognised (common practice, no source).
const MUCH_CLIPPED: f64 = 0.05;
const NEARLY_BLACK: f64 = 0.05;

/// Adds to an error what the exposure of the photograph may have to do with it.
fn with_exposure(mut error: ImagingError, photo: &Photo) -> ImagingError {
    // Some ten thousand pixels say it.
    let step = (photo.samples.len() / 30_000).max(1);
    let codes: Vec<f64> = photo
        .samples
        .chunks_exact(3)
        .step_by(step)
        .map(|p| f64::from(p.iter().copied().max().unwrap_or(0)) / 65535.0)
        .collect();
    let clipped = codes.iter().filter(|&&c| c >= 0.998).count() as f64 / codes.len().max(1) as f64;
    if clipped > MUCH_CLIPPED {
        error.what.push_str(&format!(
            "; {:.0} % of the photograph is clipped at the largest code",
            clipped * 100.0
        ));
        error.advice.push_str(
            " If the chart is among it, photograph it again with white below the largest code.",
        );
    } else if percentile(&codes, 95.0) < NEARLY_BLACK {
        error.what.push_str("; the photograph is nearly black");
        error
            .advice
            .push_str(" Expose more, so that white is just below the largest code.");
    }
    error
}

/// How far ahead one table is of another, by the errors of the same patches left out in turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Mean of the differences, other minus best, ΔE00.
    pub mean: f64,
    /// One standard error of it.
    pub standard_error: f64,
}

impl Lead {
    /// Of `best` over `other`; `None` where their patches are not the same.
    pub fn of(best: &Characterisation, other: &Characterisation) -> Option<Self> {
        if best.reading.used != other.reading.used {
            return None;
        }
        let (a, b) = (
            &best.preferred().left_out_errors,
            &other.preferred().left_out_errors,
        );
        let n = a.len() as f64;
        let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| b - a).collect();
        let mean = differences.iter().sum::<f64>() / n;
        let squares: f64 = differences.iter().map(|d| (d - mean).powi(2)).sum();
        Some(Self {
            mean,
            standard_error: (squares / (n - 1.0) / n).sqrt(),
        })
    }

    /// Whether the lead is more than chance: two standard errors, about 95 in 100 (common practice).
    pub fn is_clear(self) -> bool {
        self.mean > 2.0 * self.standard_error
    }
}
