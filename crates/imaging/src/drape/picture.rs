//! A photograph as draping takes it: codes of one channel or three, and the light of each code.

use crate::error::{ImagingError, Result};
use crate::photo::Photo;

/// A code this near to the largest is clipped: one step of 8 bits.
pub(crate) const CLIPPED: u16 = u16::MAX - 257;

/// Codes and their light.
#[derive(Debug, Clone)]
pub struct Picture {
    /// Width in pixels.
    pub width_px: usize,
    /// Height in pixels.
    pub height_px: usize,
    /// 1 or 3.
    pub channels: usize,
    /// Row by row, channels interleaved.
    pub codes: Vec<u16>,
    /// Linear light of each code, 0..1.
    pub light_of_code: Vec<f32>,
}

/// Which channel of a photograph with three is the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// All three, as colour.
    Colour,
    /// One of them: 0 red, 1 green, 2 blue.
    One(usize),
}

impl std::fmt::Display for Channel {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        out.write_str(match self {
            Self::Colour => "colour",
            Self::One(0) => "red",
            Self::One(1) => "green",
            Self::One(_) => "blue",
        })
    }
}

impl std::str::FromStr for Channel {
    type Err = ImagingError;

    fn from_str(text: &str) -> Result<Self> {
        let all = [Self::Colour, Self::One(0), Self::One(1), Self::One(2)];
        let named = all.into_iter().find(|channel| channel.to_string() == text);
        named.ok_or_else(|| {
            ImagingError::new(
                format!("no channel is called “{text}”"),
                "--channel",
                "Say colour, red, green or blue.",
            )
        })
    }
}

impl Picture {
    /// From a photograph; a grey one has its channel three times.
    pub fn new(photo: Photo, channel: Channel) -> Self {
        let light_of_code = photo.encoding.light_of_code();
        let (channels, codes) = match channel {
            Channel::Colour => (3, photo.samples),
            Channel::One(c) => (1, photo.samples.into_iter().skip(c).step_by(3).collect()),
        };
        Self {
            width_px: photo.width_px,
            height_px: photo.height_px,
            channels,
            codes,
            light_of_code,
        }
    }
}
