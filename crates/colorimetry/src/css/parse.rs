//! Reading.

use std::str::FromStr;

use super::scan::{Kind, Scanner, Token};
use super::{CssColour, CssSpace};

/// What is wrong with a colour written as text. `column` counts characters from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CssError {
    /// Nothing there.
    #[error(
        "no colour: write for example lab(43.5 61 45), #c02b1d or color(display-p3 0.7 0.2 0.1)"
    )]
    Empty,
    /// A hash with a wrong number of digits, or something that is no digit.
    #[error("column {column}: {found:?}: after # stand 3, 4, 6 or 8 hexadecimal digits")]
    Hash {
        /// Where.
        column: usize,
        /// What stands there.
        found: String,
    },
    /// A function that is not read.
    #[error(
        "column {column}: {found:?} is not read here: write #rrggbb, rgb(), lab(), lch(), oklab(), oklch() or color(); for a measured colour lab()"
    )]
    Function {
        /// Where.
        column: usize,
        /// What stands there.
        found: String,
    },
    /// A space that `color()` does not know.
    #[error(
        "column {column}: {found:?} is no space of color(): write srgb, srgb-linear, display-p3, a98-rgb, prophoto-rgb, rec2020, xyz, xyz-d50 or xyz-d65"
    )]
    Space {
        /// Where.
        column: usize,
        /// What stands there.
        found: String,
    },
    /// A unit or a percentage where none can be.
    #[error("column {column}: {found:?} cannot be {component}: {advice}")]
    Unit {
        /// Where.
        column: usize,
        /// What stands there.
        found: String,
        /// Which component.
        component: String,
        /// What to write.
        advice: &'static str,
    },
    /// Something else than what belongs there.
    #[error("column {column}: {found} where {wanted} was expected")]
    Unexpected {
        /// Where.
        column: usize,
        /// What stands there.
        found: String,
        /// What should.
        wanted: String,
    },
}

impl FromStr for CssColour {
    type Err = CssError;

    fn from_str(text: &str) -> Result<Self, CssError> {
        let trimmed = text.trim();
        if trimmed.is_empty() {
            return Err(CssError::Empty);
        }
        if let Some(digits) = trimmed.strip_prefix('#') {
            let column = text.chars().take_while(|c| c.is_whitespace()).count() + 1;
            return hash(digits).ok_or_else(|| CssError::Hash {
                column,
                found: trimmed.to_owned(),
            });
        }
        Reader {
            scanner: Scanner::new(text),
        }
        .function()
    }
}

fn hash(digits: &str) -> Option<CssColour> {
    let values: Option<Vec<u32>> = digits.chars().map(|c| c.to_digit(16)).collect();
    let values = values?;
    let bytes: Vec<u32> = match values.len() {
        3 | 4 => values.iter().map(|v| v * 17).collect(),
        6 | 8 => values.chunks(2).map(|v| v[0] * 16 + v[1]).collect(),
        _ => return None,
    };
    let part = |i: usize| bytes.get(i).map(|v| f64::from(*v) / 255.0);
    Some(CssColour {
        space: CssSpace::Rgb,
        components: [part(0), part(1), part(2)],
        alpha: part(3).or(Some(1.0)),
    })
}

struct Reader<'a> {
    scanner: Scanner<'a>,
}

impl<'a> Reader<'a> {
    fn function(mut self) -> Result<CssColour, CssError> {
        let name = self.scanner.next()?;
        let Kind::Word(word) = name.kind else {
            return Err(unexpected(name, "the name of a colour function"));
        };
        let lower = word.to_ascii_lowercase();
        let plain = match lower.as_str() {
            "rgb" | "rgba" => Some(CssSpace::Rgb),
            "lab" | "lch" | "oklab" | "oklch" => CssSpace::from_name(&lower),
            "color" => None,
            _ => {
                return Err(CssError::Function {
                    column: name.column,
                    found: word.to_owned(),
                });
            }
        };
        let open = self.scanner.next()?;
        if open.kind != Kind::Open {
            return Err(unexpected(open, "an opening bracket"));
        }
        let space = match plain {
            Some(space) => space,
            None => self.space()?,
        };
        self.components(space)
    }

    fn space(&mut self) -> Result<CssSpace, CssError> {
        let token = self.scanner.next()?;
        let Kind::Word(word) = token.kind else {
            return Err(unexpected(token, "the name of a colour space"));
        };
        CssSpace::from_name(word)
            .filter(|space| space.is_predefined())
            .ok_or_else(|| CssError::Space {
                column: token.column,
                found: word.to_owned(),
            })
    }

    /// The components, alpha, the bracket, and nothing after it.
    fn components(mut self, space: CssSpace) -> Result<CssColour, CssError> {
        let mut components = [None; 3];
        let mut token = self.scanner.next()?;
        let mut commas = None;
        for (i, component) in components.iter_mut().enumerate() {
            if i > 0 {
                let comma = token.kind == Kind::Comma;
                // The older syntax, of rgb() only: all commas or none.
                if commas.is_some_and(|c| c != comma) || (comma && space != CssSpace::Rgb) {
                    return Err(unexpected(token, "a space (decimals with a point)"));
                }
                commas = Some(comma);
                if comma {
                    token = self.scanner.next()?;
                }
            }
            *component = component_value(space, i, token, commas == Some(true))?;
            token = self.scanner.next()?;
        }
        let separator = if commas == Some(true) {
            Kind::Comma
        } else {
            Kind::Slash
        };
        let mut alpha = Some(1.0);
        if token.kind == separator {
            alpha = alpha_value(self.scanner.next()?)?;
            token = self.scanner.next()?;
        }
        if token.kind != Kind::Close {
            return Err(unexpected(token, "the closing bracket"));
        }
        let end = self.scanner.next()?;
        if end.kind != Kind::End {
            return Err(unexpected(end, "the end"));
        }
        Ok(CssColour {
            space,
            components: limited(space, components),
            alpha,
        })
    }
}

/// One component in the unit of [`CssColour::components`].
fn component_value(
    space: CssSpace,
    index: usize,
    token: Token,
    older: bool,
) -> Result<Option<f64>, CssError> {
    let name = space.components()[index];
    let hue = space.has_hue() && index == 2;
    match token.kind {
        Kind::Word(word) if word.eq_ignore_ascii_case("none") && !older => Ok(None),
        Kind::Number(value, unit) => {
            let factor = match (unit.to_ascii_lowercase().as_str(), hue) {
                ("", _) => Some(1.0),
                ("%", false) => space.hundred_percent()[index].map(|whole| whole / 100.0),
                ("deg", true) => Some(1.0),
                ("grad", true) => Some(0.9),
                ("rad", true) => Some(1.0_f64.to_degrees()),
                ("turn", true) => Some(360.0),
                _ => None,
            };
            let Some(factor) = factor else {
                let advice = if hue {
                    "a hue is a number or an angle in deg, grad, rad or turn"
                } else {
                    "it is a number or a percentage"
                };
                return Err(CssError::Unit {
                    column: token.column,
                    found: format!("{value}{unit}"),
                    component: name.to_owned(),
                    advice,
                });
            };
            let scale = if space == CssSpace::Rgb { 255.0 } else { 1.0 };
            Ok(Some(value * factor / scale))
        }
        _ => Err(unexpected(token, &format!("{name} (a number or none)"))),
    }
}

fn alpha_value(token: Token) -> Result<Option<f64>, CssError> {
    match token.kind {
        Kind::Word(word) if word.eq_ignore_ascii_case("none") => Ok(None),
        Kind::Number(value, "") => Ok(Some(value.clamp(0.0, 1.0))),
        Kind::Number(value, "%") => Ok(Some((value / 100.0).clamp(0.0, 1.0))),
        _ => Err(unexpected(token, "alpha (a number, a percentage or none)")),
    }
}

/// What the standard clamps when it is read.
fn limited(space: CssSpace, components: [Option<f64>; 3]) -> [Option<f64>; 3] {
    let [first, second, third] = components;
    let clamp = |v: Option<f64>, most: f64| v.map(|v| v.clamp(0.0, most));
    match space {
        CssSpace::Rgb => components.map(|c| clamp(c, 1.0)),
        CssSpace::Lab => [clamp(first, 100.0), second, third],
        CssSpace::Oklab => [clamp(first, 1.0), second, third],
        CssSpace::Lch => [clamp(first, 100.0), clamp(second, f64::MAX), third],
        CssSpace::Oklch => [clamp(first, 1.0), clamp(second, f64::MAX), third],
        _ => components,
    }
}

fn unexpected(token: Token, wanted: &str) -> CssError {
    let found = match token.kind {
        Kind::Number(value, unit) => format!("{value}{unit}"),
        Kind::Word(word) => format!("{word:?}"),
        Kind::Comma => "a comma".to_owned(),
        Kind::Slash => "a slash".to_owned(),
        Kind::Open => "an opening bracket".to_owned(),
        Kind::Close => "the closing bracket".to_owned(),
        Kind::End => "the end".to_owned(),
    };
    CssError::Unexpected {
        column: token.column,
        found,
        wanted: wanted.to_owned(),
    }
}
