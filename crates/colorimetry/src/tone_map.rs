//! Ways of turning a scalar band value into a colour.

use crate::band_map::{band_map, nearest_in_lightness};
use crate::lab::LabD50;

/// How the values of a band are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToneMap {
    /// Dark to light through several hues: [`crate::band_map`].
    #[default]
    Sequence,
    /// Black to white, even in L*: as scientific images are printed (common practice, no source).
    Grey,
    /// Blue and brown on either side of a light middle, for values that part from a reference.
    Diverging,
    /// [`ToneMap::Sequence`] in eight flat steps, so that a colour can be found in the legend.
    Steps,
}

/// Classes that can still be told apart in a legend: between the five and seven advised for maps of one
/// hue and what several hues allow (common practice, no source).
const STEPS: usize = 8;

/// L* at the ends and in the middle of [`ToneMap::Diverging`], and a*, b* at its ends. A choice of
/// ours: the same lightness and chroma on both sides, hues that part without red and green, which
/// the usual colour vision deficiencies confuse (a test computes it).
const DIVERGING_L: [f64; 2] = [35.0, 92.0];
const DIVERGING_AB: [[f64; 2]; 2] = [[2.0, -42.0], [24.0, 34.5]];

impl ToneMap {
    /// All of them, in the order of their numbers.
    pub const ALL: [Self; 4] = [Self::Sequence, Self::Grey, Self::Diverging, Self::Steps];

    /// Its name in a view.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Sequence => "sequence",
            Self::Grey => "grey",
            Self::Diverging => "diverging",
            Self::Steps => "steps",
        }
    }

    /// The map of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|map| map.name() == name)
    }

    /// The 256 encoded sRGB colours of the map, from the lower to the upper end.
    #[must_use]
    pub fn colours(self) -> [[u8; 3]; 256] {
        let at = |i: usize| i as f64 / 255.0;
        match self {
            Self::Sequence => band_map(),
            Self::Grey => std::array::from_fn(|i| {
                // Lies within 0 to 1: rounding cannot leave eight bits.
                [(LabD50::new(100.0 * at(i), 0.0, 0.0).to_srgb().g * 255.0).round() as u8; 3]
            }),
            Self::Diverging => std::array::from_fn(|i| nearest_in_lightness(diverging(at(i)))),
            Self::Steps => {
                let whole = band_map();
                std::array::from_fn(|i| {
                    let step = i * STEPS / 256;
                    whole[(2 * step + 1) * 256 / (2 * STEPS)]
                })
            }
        }
    }
}

/// The diverging map at a value 0..1.
fn diverging(value: f64) -> LabD50 {
    let from_middle = 2.0 * value - 1.0;
    let away = from_middle.abs();
    let [l_end, l_middle] = DIVERGING_L;
    let [a, b] = DIVERGING_AB[usize::from(from_middle > 0.0)];
    LabD50::new(l_middle + (l_end - l_middle) * away, a * away, b * away)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delta_e::delta_e_2000;
    use crate::rgb::{Encoded, Srgb};

    fn labs(map: ToneMap) -> Vec<LabD50> {
        let colours = map.colours();
        colours
            .iter()
            .map(|&c| Encoded::<Srgb>::from_u8(c).into())
            .collect()
    }

    #[test]
    fn grey_is_neutral_and_even_in_lightness() {
        for (i, lab) in labs(ToneMap::Grey).iter().enumerate() {
            let l = 100.0 * i as f64 / 255.0;
            assert!((lab.l - l).abs() < 0.3, "{i}: {} for {l}", lab.l);
            assert!(lab.a.hypot(lab.b) < 0.1, "{i} is tinted");
        }
    }

    #[test]
    fn both_sides_of_the_diverging_map_are_alike_in_lightness_and_lie_in_srgb() {
        let labs = labs(ToneMap::Diverging);
        for i in 0..128 {
            assert!((labs[i].l - labs[255 - i].l).abs() < 0.4, "{i}");
            assert!(i == 0 || labs[i].l > labs[i - 1].l, "{i} is not lighter");
        }
        for i in 0..=1000 {
            let rgb = diverging(f64::from(i) / 1000.0).to_srgb().to_array();
            assert!(rgb.iter().all(|v| (0.0..=1.0).contains(v)), "{i}: {rgb:?}");
        }
    }

    /// The ends differ in b* by far more than in a*: what red-green deficiencies lose is a* mostly.
    #[test]
    fn the_ends_of_the_diverging_map_differ_without_red_and_green() {
        let [low, high] = DIVERGING_AB.map(|[_, b]| LabD50::new(DIVERGING_L[0], 0.0, b));
        assert!(delta_e_2000(low, high) > 40.0);
    }

    #[test]
    fn steps_are_eight_colours_of_the_sequence() {
        let steps = ToneMap::Steps.colours();
        let mut seen = steps.to_vec();
        seen.dedup();
        assert_eq!(seen.len(), STEPS);
        assert!(seen.iter().all(|colour| band_map().contains(colour)));
    }

    #[test]
    fn names_are_read_back() {
        for map in ToneMap::ALL {
            assert_eq!(ToneMap::named(map.name()), Some(map));
        }
    }
}
