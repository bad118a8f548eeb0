//! Writing.

use std::fmt;

use super::{CssColour, CssSpace};

/// Decimals after which a difference is below 0.0001 ΔE in any space; trailing zeros are left out.
const fn decimals(space: CssSpace) -> usize {
    match space {
        CssSpace::Lab | CssSpace::Lch => 4,
        CssSpace::Rgb => 3,
        _ => 6,
    }
}

fn number(out: &mut fmt::Formatter, value: Option<f64>, decimals: usize) -> fmt::Result {
    let Some(value) = value else {
        return out.write_str("none");
    };
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    out.write_str(if text == "-0" { "0" } else { text })
}

impl fmt::Display for CssColour {
    /// In the syntax that CSS Color 4 serialises to, with `rgb` as `#rrggbb` where all components
    /// are whole codes. A precision (`{:.2}`) sets the decimals.
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        if let Some(hash) = self.hash() {
            return out.write_str(&hash);
        }
        let decimals = out.precision().unwrap_or(decimals(self.space));
        let scale = if self.space == CssSpace::Rgb {
            255.0
        } else {
            1.0
        };
        if self.space.is_predefined() {
            write!(out, "color({} ", self.space.name())?;
        } else {
            write!(out, "{}(", self.space.name())?;
        }
        for (i, component) in self.components.iter().enumerate() {
            if i > 0 {
                out.write_str(" ")?;
            }
            number(out, component.map(|c| c * scale), decimals)?;
        }
        if self.alpha != Some(1.0) {
            out.write_str(" / ")?;
            number(out, self.alpha, 6)?;
        }
        out.write_str(")")
    }
}

impl CssColour {
    /// `#rrggbb` or `#rrggbbaa`, where the colour is one of 8-bit sRGB exactly.
    fn hash(&self) -> Option<String> {
        if self.space != CssSpace::Rgb {
            return None;
        }
        let mut text = String::from("#");
        let alpha = (self.alpha != Some(1.0)).then_some(self.alpha);
        for part in self.components.into_iter().chain(alpha) {
            let code = part? * 255.0;
            if (code - code.round()).abs() > 1e-6 || !(0.0..=255.0).contains(&code.round()) {
                return None;
            }
            text.push_str(&format!("{:02x}", code.round() as u8));
        }
        Some(text)
    }
}
