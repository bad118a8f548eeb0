//! The CIE standard observers, at 1 nm, and the reading of the crate's tables.

use crate::decimal::decimal;
use std::sync::OnceLock;

/// A CIE standard observer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Observer {
    /// CIE 1931, 2°.
    #[default]
    TwoDegree,
    /// CIE 1964, 10°.
    TenDegree,
}

/// The range of wavelengths that sums run over. CIE 15:2018 allows 380 to 780 nm in steps of 1 or
/// 5 nm; LED lamps are tabulated no farther.
pub const FIRST_NM: usize = 380;

/// The other end of the range.
pub const LAST_NM: usize = 780;

/// How many wavelengths the range has at 1 nm.
pub const COUNT_1NM: usize = LAST_NM - FIRST_NM + 1;

/// Where the observers' tables begin; they end at 830 nm.
const TABLE_FIRST_NM: usize = 360;

impl Observer {
    /// `[x̄, ȳ, z̄]` at 380, 381 … 780 nm. CIE 15:2018, tables at 1 nm.
    pub fn matching_1nm(self) -> &'static [[f64; 3]] {
        &self.matching_360_to_830()[FIRST_NM - TABLE_FIRST_NM..=LAST_NM - TABLE_FIRST_NM]
    }

    /// `[x̄, ȳ, z̄]` at 360, 361 … 830 nm, for what is known beyond 380 to 780 nm.
    pub fn matching_360_to_830(self) -> &'static [[f64; 3]] {
        // A table each, so that a program that knows one observer only carries one.
        static TWO_DEGREE: Matching = OnceLock::new();
        static TEN_DEGREE: Matching = OnceLock::new();
        match self {
            Self::TwoDegree => matching(&TWO_DEGREE, include_str!("../data/observer_2deg_1nm.csv")),
            Self::TenDegree => {
                matching(&TEN_DEGREE, include_str!("../data/observer_10deg_1nm.csv"))
            }
        }
    }
}

type Matching = OnceLock<Vec<[f64; 3]>>;

fn matching(kept: &'static Matching, text: &'static str) -> &'static [[f64; 3]] {
    kept.get_or_init(|| table(text).iter().map(|r| [r[1], r[2], r[3]]).collect())
}

/// The numbers of one of the crate's own tables: comments and the header left out.
pub(crate) fn table(text: &'static str) -> Vec<Vec<f64>> {
    let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    rows.map(|l| l.split(',').filter_map(decimal).collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_observers_have_every_nanometre_and_their_published_maximum() {
        // CIE 15: ȳ is 1.0000 at 555 nm (1931) and at 557 nm (1964).
        for (observer, peak_nm) in [(Observer::TwoDegree, 555), (Observer::TenDegree, 557)] {
            let rows = observer.matching_1nm();
            assert_eq!(rows.len(), COUNT_1NM);
            assert!((rows[peak_nm - FIRST_NM][1] - 1.0).abs() < 1e-3);
            assert!(rows.iter().all(|r| r[1] <= 1.000_01));
        }
    }
}
