//! The files of tiles: WebP without loss for colour, PNG for numbers.

use super::PackError;
use super::rows::Texel;

/// How much of a colour image a tile keeps. Bands and region maps are always kept whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Keep {
    /// Every code value.
    #[default]
    Exact,
    /// Code values rounded where they pack badly.
    Near,
    /// What a photograph for looking at needs.
    Small,
}

/// Rounding of [`Keep::Near`], of libwebp's 0 (most) to 100 (none): one bit (libwebp, `near_lossless`).
const NEAR: i32 = 80;
/// Quality of [`Keep::Small`], 0 to 100; a choice of ours.
const SMALL: f32 = 92.0;

impl Keep {
    /// Its word on the command line and in records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::Near => "near",
            Self::Small => "small",
        }
    }

    /// Whether code values may change.
    #[must_use]
    pub fn loses(self) -> bool {
        self != Self::Exact
    }
}

impl std::str::FromStr for Keep {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        [Self::Exact, Self::Near, Self::Small]
            .into_iter()
            .find(|k| k.word() == word)
            .ok_or_else(|| "give exact, near or small".to_owned())
    }
}

/// End of a file's name.
#[must_use]
pub(crate) fn ending(texel: Texel) -> &'static str {
    match texel {
        Texel::Rgba8 => "webp",
        _ => "png",
    }
}

/// The bytes of a file with these texels.
pub(crate) fn encode(
    texels: &[u8],
    size: [u32; 2],
    texel: Texel,
    keep: Keep,
) -> Result<Vec<u8>, PackError> {
    match texel {
        Texel::Rgba8 => webp(texels, size, keep),
        _ => png(texels, size, texel),
    }
}

fn webp(rgba: &[u8], [width, height]: [u32; 2], keep: Keep) -> Result<Vec<u8>, PackError> {
    let failed = |e: String| PackError::Encoding(e);
    let mut config =
        webp::WebPConfig::new().map_err(|()| failed("libwebp refuses its settings".into()))?;
    config.lossless = i32::from(keep != Keep::Small);
    // The fastest: slower methods save a tenth of the bytes for ten times the time.
    config.method = 0;
    config.quality = if keep == Keep::Small { SMALL } else { 0.0 };
    config.near_lossless = if keep == Keep::Near { NEAR } else { 100 };
    config.alpha_quality = 100;
    // Colour under full transparency counts: layers are mixed by alpha.
    config.exact = 1;
    let memory = webp::Encoder::from_rgba(rgba, width, height)
        .encode_advanced(&config)
        .map_err(|e| failed(format!("{e:?}")))?;
    Ok(memory.to_vec())
}

fn png(samples: &[u8], [width, height]: [u32; 2], texel: Texel) -> Result<Vec<u8>, PackError> {
    let failed = |e: png::EncodingError| PackError::Encoding(e.to_string());
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_compression(png::Compression::Fast);
    let swapped: Vec<u8>;
    let samples = if texel == Texel::Grey16 {
        encoder.set_depth(png::BitDepth::Sixteen);
        swapped = samples
            .as_chunks::<2>()
            .0
            .iter()
            .flat_map(|[l, h]| [*h, *l])
            .collect();
        &swapped
    } else {
        encoder.set_depth(png::BitDepth::Eight);
        samples
    };
    let mut writer = encoder.write_header().map_err(failed)?;
    writer.write_image_data(samples).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(bytes)
}
