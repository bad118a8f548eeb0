//! Images of one or more bands.

use std::fmt;

use crate::error::{ImagingError, Result};

/// What a value is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unit {
    /// Light relative to the largest code: not comparable between photographs.
    Relative,
    /// Percent, such as reflectance.
    Percent,
    /// A ratio or index.
    Dimensionless,
    /// Degrees of angle.
    Degrees,
    /// Another, as a layer names it.
    Other(String),
}

impl fmt::Display for Unit {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Self::Relative => "relative",
            Self::Percent => "%",
            Self::Dimensionless => "dimensionless",
            Self::Degrees => "°",
            Self::Other(name) => name,
        })
    }
}

impl From<&str> for Unit {
    fn from(name: &str) -> Self {
        match name {
            "relative" => Self::Relative,
            "%" => Self::Percent,
            "dimensionless" => Self::Dimensionless,
            "°" => Self::Degrees,
            other => Self::Other(other.to_owned()),
        }
    }
}

/// One band.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its name, such as `red`.
    pub name: String,
    /// A value for each pixel, page after page, row by row; NaN where there is none.
    pub values: Vec<f32>,
}

/// Bands over the same pixels, in one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct BandImage {
    /// Its name, for messages.
    pub name: String,
    /// Width and height in pixels of each page: one for a photograph, one a sheet for a layer.
    pub pages_px: Vec<(usize, usize)>,
    /// What the values are.
    pub unit: Unit,
    /// The bands, one or more.
    pub bands: Vec<Band>,
    /// Whether ultraviolet light was used to make it.
    pub ultraviolet: bool,
}

impl BandImage {
    /// Number of pixels of all pages.
    pub fn pixels(&self) -> usize {
        self.pages_px.iter().map(|(w, h)| w * h).sum()
    }

    /// An image of the same pixels with other bands.
    pub(crate) fn like(&self, name: &str, unit: Unit, bands: Vec<Band>) -> Self {
        Self {
            name: name.to_owned(),
            pages_px: self.pages_px.clone(),
            unit,
            bands,
            ultraviolet: self.ultraviolet,
        }
    }

    /// The band of this name as an image of its own.
    ///
    /// # Errors
    /// There is none.
    pub fn band(&self, name: &str) -> Result<Self> {
        let found = self.bands.iter().find(|b| b.name == name);
        let band = found.ok_or_else(|| {
            let names: Vec<&str> = self.bands.iter().map(|b| b.name.as_str()).collect();
            ImagingError::new(
                format!("the image has no band “{name}”"),
                self.name.clone(),
                format!("Its bands are: {}.", names.join(", ")),
            )
        })?;
        Ok(self.like(
            &format!("{}.{name}", self.name),
            self.unit.clone(),
            vec![band.clone()],
        ))
    }

    /// Which band of another image belongs to this one's: the same, or the last where it has fewer, as a grey
    /// image beside a coloured one.
    pub(crate) fn band_for(&self, band: usize) -> usize {
        band.min(self.bands.len().saturating_sub(1))
    }

    /// The only band.
    ///
    /// # Errors
    /// There are several.
    pub fn single(&self) -> Result<&Band> {
        match self.bands.as_slice() {
            [band] => Ok(band),
            bands => Err(ImagingError::new(
                format!("one band is needed here, and the image has {}", bands.len()),
                self.name.clone(),
                format!(
                    "Name one of them, such as {}.{}.",
                    self.name,
                    bands.first().map_or("red", |b| b.name.as_str())
                ),
            )),
        }
    }

    /// An error if the pixels of `other` are not the same ones.
    pub fn same_pixels(&self, other: &Self) -> Result<()> {
        if self.pages_px == other.pages_px {
            return Ok(());
        }
        Err(ImagingError::new(
            format!(
                "{} is of size {:?} px, {} of {:?} px",
                self.name, self.pages_px, other.name, other.pages_px
            ),
            other.name.clone(),
            "Register the photographs first, or drape the layers at one size.",
        ))
    }

    /// An error if `other` is in another unit.
    pub fn same_unit(&self, other: &Self) -> Result<()> {
        if self.unit == other.unit {
            return Ok(());
        }
        Err(ImagingError::new(
            format!(
                "{} is in {}, {} in {}: their values cannot be set against each other",
                self.name, self.unit, other.name, other.unit
            ),
            other.name.clone(),
            "Scale both to reflectance standards first (do = \"reflectance\").",
        ))
    }

    /// Mean of a band over a box of the first page, x0 y0 x1 y1 in pixels, x1 and y1 excluded.
    ///
    /// # Errors
    /// The box is not within the page, or holds nothing.
    pub fn mean_in(&self, band: usize, [x0, y0, x1, y1]: [usize; 4]) -> Result<f64> {
        let (width, height) = self.pages_px.first().copied().unwrap_or_default();
        let bad = |what: &str| {
            ImagingError::new(
                format!("the box ({x0}, {y0}) to ({x1}, {y1}) {what}"),
                self.name.clone(),
                format!("Give x0 y0 x1 y1 in pixels within {width} × {height}."),
            )
        };
        if x0 >= x1 || y0 >= y1 || x1 > width || y1 > height {
            return Err(bad("is not within the image"));
        }
        let values = &self.bands[band].values;
        let inside = (y0..y1).flat_map(|y| &values[y * width + x0..y * width + x1]);
        let (sum, count) = inside
            .filter(|v| v.is_finite())
            .fold((0.0, 0_u32), |(s, n), v| (s + f64::from(*v), n + 1));
        if count == 0 {
            return Err(bad("holds no value"));
        }
        Ok(sum / f64::from(count))
    }
}
