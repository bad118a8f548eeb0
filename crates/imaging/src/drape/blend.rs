//! One texel from the photographs that see it.

use glam::Vec4;

use super::mix::Mix;

// As in [`Mix`], the numbers are choices of this project, made on simulated photographs.

/// A photograph of this part of the best one's weight has a full voice in what is an outlier.
const FULL_VOICE: f32 = 0.1;

/// Finest light of a smaller share, against the best, is taken as its blurred light.
const LEAST_SHARE: f32 = 0.004;

/// Most photographs that are mixed in one texel: the best ones.
pub const MOST_MIXED: usize = 8;

/// What one photograph says of a texel.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sample {
    /// How well it sees the texel: pixels for each square metre, times falling weights of angle and
    /// of nearness to the end of its view.
    pub weight: f32,
    /// How far its finest light counts: less beside a step of depth, where that is of two surfaces.
    pub clear: f32,
    /// Linear light: itself, blurred, and more blurred. Numbers beyond the channels mean nothing.
    pub levels: [Vec4; 3],
    /// Detail about the place, relative to the light.
    pub detail: f32,
    /// Whether the light is as large as codes get, so that it may have been more.
    pub clipped: bool,
}

/// A texel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blend {
    /// Linear light; numbers beyond the channels mean nothing.
    pub light: Vec4,
    /// Index of the sample whose detail counts most.
    pub chosen: usize,
    /// Bit for each sample that was left out as an outlier.
    pub rejected: u32,
}

/// Whose finest light is taken in a mixture, and how much of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finest {
    /// That of each sample against the best; 0 beyond the last.
    shares: [f32; MOST_MIXED],
    /// The best.
    chosen: usize,
}

impl Finest {
    /// By its detail beside the sharpest too; `None` where nothing has any weight. The finest light itself need
    /// not be known yet.
    #[inline]
    pub fn of(samples: &[Sample], trust: &Trust, mix: &Mix) -> Option<Self> {
        let (mut weight, mut detail) = ([0.0; MOST_MIXED], [0.0; MOST_MIXED]);
        for (sample, (weight, detail)) in samples.iter().zip(weight.iter_mut().zip(&mut detail)) {
            (*weight, *detail) = (sample.weight * sample.clear, sample.detail);
        }
        let sharpest = most_of(&detail) + mix.hardly_any_detail;
        let per_sharpest = 1.0 / sharpest;
        let fine: [f32; MOST_MIXED] = std::array::from_fn(|i| {
            let sharpness = (detail[i] + mix.hardly_any_detail) * per_sharpest;
            // Where there is hardly any detail, none is sharper than another.
            weight[i] * trust[i] * sharpness.max(mix.least_sharpness)
        });
        let most = most_of(&fine);
        (most > 0.0).then(|| Self {
            shares: fine.map(|weight| power(weight / most, mix.exponents[0])),
            chosen: fine.iter().rposition(|w| *w == most).unwrap_or(0),
        })
    }

    /// A bit for each sample that has more than [`LEAST_SHARE`].
    #[inline]
    pub fn counting(&self) -> u32 {
        let bits = self.shares.iter().enumerate();
        bits.fold(0, |bits, (i, share)| {
            bits | u32::from(*share > LEAST_SHARE) << i
        })
    }
}

/// The most of some numbers, 0 at least.
#[inline]
fn most_of(values: &[f32; MOST_MIXED]) -> f32 {
    let larger = |a: f32, b: f32| if a > b { a } else { b };
    values.iter().copied().fold(0.0, larger)
}

/// Mixes samples, of which one has some weight, since its finest light is taken.
///
/// The most blurred light is a weighted mean, finer detail comes more and more from the best
/// photograph alone, so that photographs of different brightness meet without a seam and small
/// errors of pose do not double an edge. Where three or more see a texel, those whose blurred light
/// is far from the median count less, down to nothing; with two, only clipped light counts less.
pub fn blend(samples: &[Sample], trust: &Trust, finest: &Finest, mix: &Mix) -> Blend {
    let rejected = trust
        .iter()
        .enumerate()
        .fold(0, |bits, (i, t)| bits | u32::from(*t < 0.5) << i);
    let mut whole = [0.0; MOST_MIXED];
    for ((whole, sample), trust) in whole.iter_mut().zip(samples).zip(trust) {
        *whole = sample.weight * trust;
    }
    let most = most_of(&whole);
    let whole = whole.map(|weight| weight / most);
    let mut light = Vec4::ZERO;
    for (level, exponent) in mix.exponents.into_iter().enumerate() {
        // 0 is the finest.
        let shares = if level == 0 {
            finest.shares
        } else {
            whole.map(|weight| power(weight, exponent))
        };
        let mut sum = Vec4::ZERO;
        for (sample, share) in samples.iter().zip(shares) {
            let coarser = sample.levels.get(level + 1).copied().unwrap_or_default();
            sum += share * (sample.levels[level] - coarser);
        }
        let all: f32 = shares.iter().sum();
        light += sum / all;
    }
    Blend {
        light,
        chosen: finest.chosen,
        rejected,
    }
}

/// `base` to a whole power; those of [`Mix::default`] without a call.
#[inline]
fn power(base: f32, exponent: i32) -> f32 {
    let square = |v: f32| v * v;
    match exponent {
        1 => base,
        4 => square(square(base)),
        16 => square(square(square(square(base)))),
        _ => base.powi(exponent),
    }
}

/// How far each sample is believed, 0..1; never all 0.
pub type Trust = [f32; MOST_MIXED];

/// How far each sample is believed where none is an outlier: clipped light counts less.
#[inline]
pub fn trust_of_alike(samples: &[Sample], mix: &Mix) -> Trust {
    let mut trust = [1.0; MOST_MIXED];
    let clipped = samples.iter().filter(|s| s.clipped).count();
    if clipped > 0 && clipped < samples.len() {
        for (t, sample) in trust.iter_mut().zip(samples) {
            if sample.clipped {
                *t = mix.clipped_trust;
            }
        }
    }
    trust
}

/// Whether no two blurred lights differ by more than is tolerated, so that none is far from their median.
#[inline]
pub fn are_alike(blurred: impl Iterator<Item = Vec4> + Clone, channels: usize, mix: &Mix) -> bool {
    let least = blurred.clone().fold(Vec4::INFINITY, Vec4::min);
    let most = blurred.fold(Vec4::NEG_INFINITY, Vec4::max);
    let alike = (most - least).cmple(mix.tolerance * (least + mix.dark));
    let all = (1 << channels) - 1;
    alike.bitmask() & all == all
}

/// How far each sample is believed.
pub fn trust(samples: &[Sample], channels: usize, mix: &Mix) -> Trust {
    let mut trust = trust_of_alike(samples, mix);
    if are_alike(samples.iter().map(|s| s.levels[1]), channels, mix) {
        return trust;
    }
    let n = samples.len().min(MOST_MIXED);
    // A photograph near the end of its view counts less and less, so that nothing jumps where it ends.
    let best = samples.iter().map(|s| s.weight).fold(0.0, f32::max);
    let mut voice = [0.0; MOST_MIXED];
    for (voice, sample) in voice.iter_mut().zip(samples) {
        *voice = (sample.weight / (best * FULL_VOICE)).min(1.0);
    }
    let voices: f32 = voice[..n].iter().sum();
    let strength = ((voices - 2.0) * 2.0).clamp(0.0, 1.0);
    if strength <= 0.0 || strength.is_nan() {
        return trust;
    }
    let mut off = [0.0_f32; MOST_MIXED];
    for c in 0..channels {
        let middle = median((0..n).map(|i| (samples[i].levels[1][c], voice[i])));
        for (o, sample) in off.iter_mut().zip(samples) {
            *o = o.max((sample.levels[1][c] - middle).abs() / (middle + mix.dark));
        }
    }
    // 1.4826 times the median deviation is the standard deviation of normal noise.
    let spread = 1.4826 * median((0..n).map(|i| (off[i], voice[i])));
    let limit = mix.tolerance.max(3.0 * spread);
    for (t, o) in trust.iter_mut().zip(off) {
        let beyond = (o / limit - 1.0).clamp(0.0, 1.0);
        *t *= 1.0 - strength * beyond * beyond * (3.0 - 2.0 * beyond);
    }
    trust
}

/// The median of weighted values, going from one to the next as the weights change: the value at half
/// of the weight, between the middles of the values' shares. With equal weights it is the usual one.
fn median(values: impl Iterator<Item = (f32, f32)>) -> f32 {
    let mut sorted = [(f32::INFINITY, 0.0); MOST_MIXED];
    let mut n = 0;
    for value in values.take(MOST_MIXED) {
        let mut at = n;
        while at > 0 && sorted[at - 1].0 > value.0 {
            sorted[at] = sorted[at - 1];
            at -= 1;
        }
        sorted[at] = value;
        n += 1;
    }
    let half = 0.5 * sorted[..n].iter().map(|v| v.1).sum::<f32>();
    let mut before = 0.0;
    let mut last: Option<(f32, f32)> = None;
    for &(value, weight) in &sorted[..n] {
        let middle = before + 0.5 * weight;
        if middle >= half {
            return match last {
                Some((lower, at)) if middle > at => {
                    lower + (value - lower) * (half - at) / (middle - at)
                }
                _ => value,
            };
        }
        last = Some((value, middle));
        before += weight;
    }
    last.map_or(0.0, |l| l.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mixed(samples: &[Sample], channels: usize) -> Option<Blend> {
        let mix = Mix::default();
        let trust = trust(samples, channels, &mix);
        let finest = Finest::of(samples, &trust, &mix)?;
        Some(blend(samples, &trust, &finest, &mix))
    }

    fn sample(weight: f32, fine: f32, blurred: f32) -> Sample {
        Sample {
            weight,
            clear: 1.0,
            levels: [fine, blurred, blurred].map(Vec4::splat),
            detail: 0.1,
            clipped: false,
        }
    }

    #[test]
    fn one_photograph_alone_is_taken_as_it_is() {
        let out = mixed(&[sample(0.2, 0.37, 0.5)], 3).unwrap();
        assert!(out.light.to_array().iter().all(|v| (v - 0.37).abs() < 1e-6));
        assert_eq!(mixed(&[], 3), None);
    }

    #[test]
    fn brightness_is_shared_and_detail_is_of_the_better() {
        // The same place, the second photograph a tenth brighter, its detail elsewhere.
        let out = mixed(&[sample(2.0, 0.45, 0.40), sample(1.0, 0.44, 0.44)], 1).unwrap();
        // Mean brightness (2 × 0.40 + 0.44) / 3, plus the detail 0.05 of the first.
        assert!(
            (out.light[0] - (1.24 / 3.0 + 0.05)).abs() < 0.001,
            "{out:?}"
        );
        assert_eq!(out.chosen, 0);
    }

    #[test]
    fn a_highlight_among_three_is_left_out_even_from_the_best_photograph() {
        let three = [
            sample(5.0, 0.9, 0.8),
            sample(1.0, 0.30, 0.30),
            sample(1.0, 0.31, 0.31),
        ];
        let out = mixed(&three, 3).unwrap();
        assert_eq!(out.rejected, 1);
        assert!((out.light[0] - 0.305).abs() < 0.006, "{out:?}");
        // With two nobody can say which is right.
        assert_eq!(mixed(&three[..2], 3).unwrap().rejected, 0);
    }

    #[test]
    fn the_median_is_the_usual_one_and_moves_with_the_weights() {
        let of = |values: &[(f32, f32)]| median(values.iter().copied());
        assert_eq!(of(&[(3.0, 1.0), (1.0, 1.0), (7.0, 1.0)]), 3.0);
        assert_eq!(of(&[(3.0, 1.0), (1.0, 1.0), (7.0, 1.0), (4.0, 1.0)]), 3.5);
        let fading = of(&[(3.0, 1.0), (1.0, 1.0), (7.0, 1.0), (4.0, 1e-4)]);
        assert!((fading - 3.0).abs() < 1e-3, "{fading}");
    }

    #[test]
    fn a_shadow_among_four_is_left_out() {
        let out = mixed(
            &[
                sample(1.0, 0.50, 0.50),
                sample(1.0, 0.51, 0.51),
                sample(3.0, 0.20, 0.20),
                sample(1.0, 0.49, 0.49),
            ],
            3,
        )
        .unwrap();
        assert_eq!(out.rejected, 0b100);
        assert!((out.light[0] - 0.5).abs() < 0.01);
    }
}
