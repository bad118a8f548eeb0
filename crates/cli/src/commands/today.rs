//! The day, as ISO 8601 writes it.

use std::time::{SystemTime, UNIX_EPOCH};

/// Today in UTC: `YYYY-MM-DD`.
pub(super) fn today() -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let days = since.map_or(0, |since| since.as_secs() / 86_400);
    day(i64::try_from(days).unwrap_or(0))
}

/// The day that is so many days after 1 January 1970, in the Gregorian
/// calendar: months counted from March, in eras of 400 years (146,097 days).
fn day(since_1970: i64) -> String {
    let days = since_1970 + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 {
        from_march + 3
    } else {
        from_march - 9
    };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::day;

    /// Known days: the beginning of POSIX time, leap days, a century without one.
    #[test]
    fn days_are_those_of_the_calendar() {
        for (days, wanted) in [
            (0, "1970-01-01"),
            (11_016, "2000-02-29"),
            (11_017, "2000-03-01"),
            (20_454, "2026-01-01"),
            (47_540, "2100-02-28"),
            (47_541, "2100-03-01"),
        ] {
            assert_eq!(day(days), wanted);
        }
    }
}
