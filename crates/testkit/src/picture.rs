//! Comparing two pictures of the same size, code value by code value.

use std::path::{Path, PathBuf};

use image::{Rgba, RgbaImage};

/// What may differ. The default is nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tolerance {
    /// Code values (0 to 255) by which any channel may differ without being an outlier.
    pub code_values: u8,
    /// Fraction of pixels (0 to 1) that may be outliers.
    pub outliers: f64,
}

/// How two pictures differ.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Largest difference of any channel, in code values.
    pub max: u8,
    /// Mean difference over all channels of all pixels, in code values.
    pub mean: f64,
    /// Fraction of pixels with a channel that differs by more than the tolerance.
    pub outlier_fraction: f64,
    /// Column and row of the pixel that differs most.
    pub worst_px: (u32, u32),
    /// The two colours there: wanted, got.
    pub worst: ([u8; 4], [u8; 4]),
}

/// Why two pictures do not agree.
#[derive(Debug, thiserror::Error)]
pub enum Mismatch {
    /// The sizes differ, so nothing else could be compared.
    #[error("wanted {wanted:?} px, got {got:?} px")]
    Size {
        /// Width and height wanted.
        wanted: (u32, u32),
        /// Width and height got.
        got: (u32, u32),
    },
    /// An empty picture agrees with everything, so it agrees with nothing.
    #[error("both pictures are empty: nothing was compared")]
    Empty,
    /// The colours differ by more than allowed.
    #[error(
        "{outliers:.4} % of pixels differ by more than {allowed} code values (max {max}, mean {mean:.3}); worst at {at:?}: wanted {wanted:?}, got {got:?}; see {picture}"
    )]
    Colour {
        /// Percentage of pixels that are outliers.
        outliers: f64,
        /// Code values allowed.
        allowed: u8,
        /// Largest difference.
        max: u8,
        /// Mean difference.
        mean: f64,
        /// Column and row of the worst pixel.
        at: (u32, u32),
        /// Colour wanted there.
        wanted: [u8; 4],
        /// Colour got there.
        got: [u8; 4],
        /// Where the picture of the difference was written, or why it was not.
        picture: String,
    },
}

/// Measures the difference of two pictures.
///
/// # Errors
/// The sizes differ, or there is nothing to compare.
pub fn difference(
    wanted: &RgbaImage,
    got: &RgbaImage,
    code_values: u8,
) -> Result<Difference, Mismatch> {
    if wanted.dimensions() != got.dimensions() {
        return Err(Mismatch::Size {
            wanted: wanted.dimensions(),
            got: got.dimensions(),
        });
    }
    let mut found: Option<Difference> = None;
    let (mut sum, mut outliers, mut count) = (0_u64, 0_u64, 0_u64);
    for ((x, y, a), b) in wanted.enumerate_pixels().zip(got.pixels()) {
        let channels = channel_differences(*a, *b);
        let largest = channels.into_iter().max().unwrap_or_default();
        sum += channels.into_iter().map(u64::from).sum::<u64>();
        outliers += u64::from(largest > code_values);
        count += 1;
        if found.as_ref().is_none_or(|worst| largest > worst.max) {
            found = Some(Difference {
                max: largest,
                mean: 0.0,
                outlier_fraction: 0.0,
                worst_px: (x, y),
                worst: (a.0, b.0),
            });
        }
    }
    let mut found = found.ok_or(Mismatch::Empty)?;
    found.mean = sum as f64 / (4 * count) as f64;
    found.outlier_fraction = outliers as f64 / count as f64;
    Ok(found)
}

/// Compares and, where they do not agree, writes wanted, got and their
/// difference (amplified) side by side to `report`.
///
/// # Errors
/// What differs and where, with the path of the report.
pub fn check(
    wanted: &RgbaImage,
    got: &RgbaImage,
    tolerance: Tolerance,
    report: &Path,
) -> Result<Difference, Mismatch> {
    let found = difference(wanted, got, tolerance.code_values)?;
    if found.outlier_fraction <= tolerance.outliers {
        return Ok(found);
    }
    let picture = match write_report(wanted, got, report) {
        Ok(path) => path.display().to_string(),
        Err(error) => format!("no picture, because {}: {error}", report.display()),
    };
    Err(Mismatch::Colour {
        outliers: found.outlier_fraction * 100.0,
        allowed: tolerance.code_values,
        max: found.max,
        mean: found.mean,
        at: found.worst_px,
        wanted: found.worst.0,
        got: found.worst.1,
        picture,
    })
}

fn channel_differences(a: Rgba<u8>, b: Rgba<u8>) -> [u8; 4] {
    std::array::from_fn(|channel| a.0[channel].abs_diff(b.0[channel]))
}

/// Differences are drawn this much stronger, so that one code value can be seen.
const AMPLIFY: u8 = 32;

fn write_report(
    wanted: &RgbaImage,
    got: &RgbaImage,
    report: &Path,
) -> Result<PathBuf, image::ImageError> {
    let (width, height) = wanted.dimensions();
    let mut sheet = RgbaImage::new(width * 3, height);
    for ((x, y, a), b) in wanted.enumerate_pixels().zip(got.pixels()) {
        let [r, g, blue, alpha] =
            channel_differences(*a, *b).map(|value| value.saturating_mul(AMPLIFY));
        sheet.put_pixel(x, y, *a);
        sheet.put_pixel(x + width, y, *b);
        sheet.put_pixel(
            x + 2 * width,
            y,
            Rgba([r.max(alpha), g.max(alpha), blue.max(alpha), 255]),
        );
    }
    if let Some(folder) = report.parent() {
        std::fs::create_dir_all(folder)?;
    }
    sheet.save(report)?;
    Ok(report.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(level: u8) -> RgbaImage {
        RgbaImage::from_pixel(10, 10, Rgba([level, level, level, 255]))
    }

    #[test]
    fn equal_pictures_agree_without_tolerance() {
        let found = difference(&grey(7), &grey(7), 0).expect("same size");
        assert_eq!(
            (found.max, found.mean, found.outlier_fraction),
            (0, 0.0, 0.0)
        );
    }

    #[test]
    fn one_wrong_pixel_is_found_where_it_is_and_drawn() {
        let folder = tempfile::tempdir().expect("a folder");
        let report = folder.path().join("deep/difference.png");
        let mut got = grey(100);
        got.put_pixel(3, 4, Rgba([100, 103, 100, 255]));
        let error = check(
            &grey(100),
            &got,
            Tolerance {
                code_values: 2,
                outliers: 0.0,
            },
            &report,
        )
        .expect_err("differs");
        let Mismatch::Colour {
            max,
            mean,
            at,
            outliers,
            ..
        } = error
        else {
            panic!("{error}")
        };
        assert_eq!((max, at), (3, (3, 4)));
        assert!((mean - 3.0 / 400.0).abs() < 1e-12 && (outliers - 1.0).abs() < 1e-12);
        let drawn = image::open(&report).expect("written").to_rgba8();
        assert_eq!(drawn.dimensions(), (30, 10));
        assert_eq!(drawn.get_pixel(23, 4).0, [0, 96, 0, 255]);
    }

    #[test]
    fn tolerance_is_met_exactly_at_its_limit() {
        let mut got = grey(100);
        got.put_pixel(0, 0, Rgba([103, 100, 100, 255]));
        let unused = Path::new("unused.png");
        assert!(
            check(
                &grey(100),
                &got,
                Tolerance {
                    code_values: 3,
                    outliers: 0.0
                },
                unused
            )
            .is_ok()
        );
        assert!(
            check(
                &grey(100),
                &got,
                Tolerance {
                    code_values: 2,
                    outliers: 0.01
                },
                unused
            )
            .is_ok()
        );
    }

    #[test]
    fn pictures_that_cannot_be_compared_do_not_agree() {
        assert!(matches!(
            difference(&grey(0), &RgbaImage::new(9, 10), 255),
            Err(Mismatch::Size { .. })
        ));
        assert!(matches!(
            difference(&RgbaImage::new(0, 0), &RgbaImage::new(0, 0), 0),
            Err(Mismatch::Empty)
        ));
    }
}
