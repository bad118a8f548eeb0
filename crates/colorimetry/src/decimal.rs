//! Decimal numbers from text.
//!
//! As `str::parse` reads them, without its table of ten thousand bytes, which nothing compresses on
//! the way to a browser.

use std::num::{IntErrorKind, ParseIntError};

/// Powers of ten that f64 holds exactly.
const EXACT: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];
/// Significant digits that a u64 holds.
const MOST_DIGITS: u32 = 19;

/// A decimal number: sign, digits, point, exponent, or `inf`, `infinity`, `nan` in any case; none for
/// anything else.
///
/// Correctly rounded up to 15 significant digits and exponents within 22 (W. D. Clinger, "How to read
/// floating point numbers accurately", PLDI 1990: one exact operation); else within a few units in the
/// last place.
#[must_use]
pub fn decimal(text: &str) -> Option<f64> {
    let (negative, digits) = match text.as_bytes().first()? {
        b'-' => (true, &text[1..]),
        b'+' => (false, &text[1..]),
        _ => (false, text),
    };
    let says = |word: &str| digits.eq_ignore_ascii_case(word);
    let size = if says("nan") {
        f64::NAN
    } else if says("inf") || says("infinity") {
        f64::INFINITY
    } else {
        unsigned(digits.as_bytes())?
    };
    Some(if negative { -size } else { size })
}

fn unsigned(text: &[u8]) -> Option<f64> {
    let (mut mantissa, mut kept) = (0_u64, 0);
    let (mut exponent, mut scale) = (0_i32, 0_i32);
    let (mut seen, mut after_point) = (false, false);
    for (at, byte) in text.iter().copied().enumerate() {
        match byte {
            b'0'..=b'9' => {
                seen = true;
                if kept < MOST_DIGITS {
                    mantissa = mantissa * 10 + u64::from(byte - b'0');
                    kept += u32::from(mantissa > 0);
                    exponent -= i32::from(after_point);
                } else {
                    exponent += i32::from(!after_point);
                }
            }
            b'.' if !after_point => after_point = true,
            b'e' | b'E' if seen => {
                scale = exponent_of(std::str::from_utf8(&text[at + 1..]).ok()?)?;
                break;
            }
            _ => return None,
        }
    }
    seen.then(|| scaled(mantissa as f64, exponent.saturating_add(scale)))
}

/// The number after an `e`; one too long to count stands for as far as can be counted.
fn exponent_of(text: &str) -> Option<i32> {
    text.parse().map_or_else(
        |error: ParseIntError| match error.kind() {
            IntErrorKind::PosOverflow => Some(i32::MAX),
            IntErrorKind::NegOverflow => Some(i32::MIN),
            _ => None,
        },
        Some,
    )
}

/// `value` times ten to the power of `exponent`.
fn scaled(value: f64, exponent: i32) -> f64 {
    let mut value = value;
    // Beyond these everything is nothing or infinite, whatever the digits.
    let mut left = exponent.clamp(-400, 400);
    while left != 0 && value != 0.0 && value.is_finite() {
        let step = left.abs().min(22);
        let power = EXACT[step as usize];
        if left > 0 {
            value *= power;
            left -= step;
        } else {
            value /= power;
            left += step;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lehmer's generator (Park and Miller 1988), for repeatable texts.
    fn numbers() -> impl Iterator<Item = u64> {
        let mut state = 20_260_101_u64;
        std::iter::repeat_with(move || {
            state = state * 48_271 % 2_147_483_647;
            state
        })
    }

    /// Against the standard library's reader, which rounds correctly.
    #[test]
    fn fifteen_digits_are_read_as_the_standard_library_reads_them() {
        let mut numbers = numbers();
        let mut next = |below: u64| numbers.next().unwrap_or(0) % below;
        for _ in 0..20_000 {
            let digits = next(1_000_000_000) * 1_000_000 + next(1_000_000);
            let (whole, part) = (digits / 1_000_000, digits % 1_000_000);
            let text = match next(4) {
                0 => format!("{whole}.{part:06}"),
                1 => format!("-.{digits}"),
                2 => format!("{digits}e-{}", next(15)),
                _ => format!("+{whole}E{}", next(14)),
            };
            assert_eq!(decimal(&text), text.parse().ok(), "{text}");
        }
    }

    #[test]
    fn longer_numbers_are_read_to_a_few_units_in_the_last_place() {
        for text in [
            "0.1234567890123456789012345",
            "98765432109876543210987.5",
            "1e-300",
            "6.02214076e123",
            "4.9e-320",
        ] {
            let wanted: f64 = text.parse().expect("a number");
            let got = decimal(text).expect("a number");
            assert!(
                (got - wanted).abs() <= 4.0 * f64::EPSILON * wanted.abs() + 5e-324,
                "{text}: {got}"
            );
        }
        assert_eq!(decimal("1e999"), Some(f64::INFINITY));
        assert_eq!(decimal("1e99999999999"), Some(f64::INFINITY));
        assert_eq!(decimal("1e-99999999999"), Some(0.0));
        assert_eq!(decimal("1e-999"), Some(0.0));
    }

    #[test]
    fn what_is_no_number_is_refused_as_by_the_standard_library() {
        for text in [
            "", ".", "-", "e5", "1e", "1e+", "1.2.3", "1,5", "0x10", " 1", "1 ", "1_000", "--1",
            "infin", "é",
        ] {
            assert_eq!(decimal(text), None, "{text:?}");
            assert!(text.parse::<f64>().is_err(), "{text:?}");
        }
        assert!(decimal("NaN").is_some_and(f64::is_nan));
        assert_eq!(decimal("-inf"), Some(f64::NEG_INFINITY));
        assert_eq!(decimal("5."), Some(5.0));
    }
}
