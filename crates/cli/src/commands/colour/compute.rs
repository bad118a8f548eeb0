//! The numbers: colour, colour under the lamp, what the target shows, differences.

use ganosis_colorimetry::css::CssSpace;
use ganosis_colorimetry::relight::{Adaptation, Metamers, REFERENCE_LAMP, metamers, see_under};
use ganosis_colorimetry::{
    LabD50, Observer, OpRgb, P3, Rec2020, RgbSpace, Romm, Spectrum, Srgb, delta_e_2000,
    map_to_gamut,
};

use super::light::Light;
use super::sources::{Known, Swatch};
use crate::trouble::Trouble;

/// One colour, converted.
pub(super) struct Row {
    pub(super) name: String,
    pub(super) from_spectrum: bool,
    /// What is asked for: the colour, or how it looks under the lamp.
    pub(super) asked: LabD50,
    /// ΔE00 between the colour under D50 and that under the lamp.
    pub(super) moved_by_light: Option<f64>,
    /// Whether the target cannot show it.
    pub(super) outside: bool,
    /// ΔE00 between asked and shown; 0 where nothing was mapped.
    pub(super) off: f64,
    /// Components in the target space, mapped into its gamut.
    pub(super) components: [f64; 3],
    /// 8-bit sRGB for the swatch.
    pub(super) swatch: [u8; 3],
    /// ΔE00 from the first.
    pub(super) from_first: f64,
}

/// All of them.
pub(super) struct Result<'a> {
    pub(super) to: CssSpace,
    pub(super) observer: Observer,
    pub(super) light: Option<&'a Light>,
    pub(super) rows: Vec<Row>,
    /// Pairs that match only under D50, by name.
    pub(super) metamers: Vec<(String, String, Metamers)>,
}

/// Computes; an error where a colour without a spectrum is to be relit.
pub(super) fn compute<'a>(
    swatches: &[Swatch],
    to: CssSpace,
    light: Option<&'a Light>,
    observer: Observer,
) -> anyhow::Result<Result<'a>> {
    let mut rows: Vec<Row> = Vec::new();
    for swatch in swatches {
        let (asked, moved_by_light) = asked(swatch, light, observer)?;
        let (components, off, outside) = shown(asked, to);
        let first = rows.first().map_or(asked, |row| row.asked);
        rows.push(Row {
            name: swatch.name.clone(),
            from_spectrum: matches!(swatch.known, Known::Spectrum(_)),
            asked,
            moved_by_light,
            outside,
            off,
            components,
            swatch: map_to_gamut::<Srgb>(asked).encoded.to_u8(),
            from_first: delta_e_2000(first, asked),
        });
    }
    Ok(Result {
        to,
        observer,
        light,
        rows,
        metamers: light.map_or_else(Vec::new, |light| named_metamers(swatches, light, observer)),
    })
}

fn asked(
    swatch: &Swatch,
    light: Option<&Light>,
    observer: Observer,
) -> anyhow::Result<(LabD50, Option<f64>)> {
    let by_day = |spectrum: &Spectrum| {
        see_under(spectrum, &REFERENCE_LAMP, observer, Adaptation::ToLamp).shown
    };
    match (&swatch.known, light) {
        (Known::Lab(lab), None) => Ok((*lab, None)),
        (Known::Spectrum(spectrum), None) => Ok((by_day(spectrum), None)),
        (Known::Spectrum(spectrum), Some(light)) => {
            let seen = see_under(spectrum, &light.lamp, observer, light.adaptation).shown;
            Ok((seen, Some(delta_e_2000(by_day(spectrum), seen))))
        }
        (Known::Lab(_), Some(_)) => Err(Trouble::error(
            "it has no spectrum, and a colour alone does not say how it looks under another light",
            &swatch.name,
            "Give its reflectance spectrum as CSV, or leave out --light.",
        )),
    }
}

/// Components in the target, ΔE00 of the gamut mapping, and whether one was needed.
fn shown(asked: LabD50, to: CssSpace) -> ([f64; 3], f64, bool) {
    fn within<S: RgbSpace>(asked: LabD50) -> ([f64; 3], f64, bool) {
        let shown = map_to_gamut::<S>(asked);
        (shown.encoded.to_array(), shown.delta_e_2000, shown.outside)
    }
    match to {
        CssSpace::Rgb | CssSpace::Srgb => within::<Srgb>(asked),
        CssSpace::SrgbLinear => {
            let shown = map_to_gamut::<Srgb>(asked);
            let linear = shown.encoded.decode().to_array();
            (linear, shown.delta_e_2000, shown.outside)
        }
        CssSpace::DisplayP3 => within::<P3>(asked),
        CssSpace::A98Rgb => within::<OpRgb>(asked),
        CssSpace::ProphotoRgb => within::<Romm>(asked),
        CssSpace::Rec2020 => within::<Rec2020>(asked),
        other => (other.from_lab(asked), 0.0, false),
    }
}

fn named_metamers(
    swatches: &[Swatch],
    light: &Light,
    observer: Observer,
) -> Vec<(String, String, Metamers)> {
    let spectra: Vec<(&str, &Spectrum)> = (swatches.iter())
        .filter_map(|s| match &s.known {
            Known::Spectrum(spectrum) => Some((s.name.as_str(), spectrum)),
            Known::Lab(_) => None,
        })
        .collect();
    let only: Vec<&Spectrum> = spectra.iter().map(|(_, s)| *s).collect();
    let name = |i: usize| spectra[i].0.to_owned();
    (metamers(&only, &light.lamp, observer).into_iter())
        .map(|pair| (name(pair.first), name(pair.second), pair))
        .collect()
}
