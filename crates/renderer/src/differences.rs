//! Statistics of the differences that [`crate::Renderer::measure_differences`] draws.

/// Differences of a picture or of one region in it (CIEDE2000), each pixel counted once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Statistics {
    /// Pixels counted.
    pub pixels: usize,
    /// Mean.
    pub mean: f64,
    /// Half of the pixels differ by no more.
    pub median: f64,
    /// 95 of 100 pixels differ by no more.
    pub percentile_95: f64,
    /// Largest.
    pub largest: f64,
    /// Share 0..1 of the pixels that differ by at least the threshold asked about.
    pub share_above: f64,
}

/// What stands for "no surface here", in the difference and in the region's number alike.
const NOTHING: u16 = u16::MAX;

/// Statistics of `rgba` bytes as read back: over all of the surface, or over one region.
/// Nothing where no pixel shows it.
#[must_use]
pub fn statistics(rgba: &[u8], region: Option<u16>, threshold: f64) -> Option<Statistics> {
    let mut hundredths: Vec<u16> = rgba
        .chunks_exact(4)
        .map(|p| {
            (
                u16::from_le_bytes([p[0], p[1]]),
                u16::from_le_bytes([p[2], p[3]]),
            )
        })
        .filter(|(difference, number)| {
            *difference != NOTHING && region.is_none_or(|wanted| wanted == *number)
        })
        .map(|(difference, _)| difference)
        .collect();
    if hundredths.is_empty() {
        return None;
    }
    hundredths.sort_unstable();
    let pixels = hundredths.len();
    let value = |v: u16| f64::from(v) / 100.0;
    // Nearest rank: the smallest value that is not less than the share asked for.
    let rank = |share: f64| {
        let index = (share * pixels as f64).ceil() as usize;
        value(hundredths[index.clamp(1, pixels) - 1])
    };
    let below = hundredths.partition_point(|v| value(*v) < threshold);
    Some(Statistics {
        pixels,
        mean: hundredths.iter().map(|v| value(*v)).sum::<f64>() / pixels as f64,
        median: rank(0.5),
        percentile_95: rank(0.95),
        largest: value(hundredths[pixels - 1]),
        share_above: (pixels - below) as f64 / pixels as f64,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pixel(difference: f64, region: u16) -> [u8; 4] {
        let [a, b] = ((difference * 100.0).round() as u16).to_le_bytes();
        let [c, d] = region.to_le_bytes();
        [a, b, c, d]
    }

    /// The percentiles of 1..100 by nearest rank are the numbers themselves.
    #[test]
    fn ranks_of_the_numbers_to_a_hundred() {
        let mut rgba: Vec<u8> = (1..=100).flat_map(|n| pixel(f64::from(n), 7)).collect();
        rgba.extend([255; 4]);
        rgba.extend(pixel(300.0, 8));
        let all = statistics(&rgba, Some(7), 91.0).expect("pixels");
        assert_eq!(
            (all.median, all.percentile_95, all.largest),
            (50.0, 95.0, 100.0)
        );
        assert!((all.mean - 50.5).abs() < 1e-9);
        assert!((all.share_above - 0.1).abs() < 1e-9);
        assert_eq!(statistics(&rgba, None, 0.0).map(|s| s.pixels), Some(101));
        assert_eq!(statistics(&rgba, Some(9), 0.0), None);
    }
}
