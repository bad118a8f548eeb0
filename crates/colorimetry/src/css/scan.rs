//! The tokens of a colour function.

use super::CssError;
use crate::decimal::decimal;

/// A piece of text and where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Token<'a> {
    pub(super) kind: Kind<'a>,
    /// In characters from the start of the text, from 1.
    pub(super) column: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kind<'a> {
    /// A number with what stands directly behind it: nothing, `%`, or a unit.
    Number(f64, &'a str),
    Word(&'a str),
    Comma,
    Slash,
    Open,
    Close,
    End,
}

/// Reads tokens one by one.
pub(super) struct Scanner<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Scanner<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    pub(super) fn column(&self) -> usize {
        self.text[..self.at].chars().count() + 1
    }

    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn take(&mut self, bytes: usize) -> &'a str {
        let piece = &self.rest()[..bytes];
        self.at += bytes;
        piece
    }

    fn skip_white(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    /// The next token, white space left out.
    pub(super) fn next(&mut self) -> Result<Token<'a>, CssError> {
        self.skip_white();
        let column = self.column();
        let kind = match self.rest().chars().next() {
            None => Kind::End,
            Some(',') => self.sign(Kind::Comma),
            Some('/') => self.sign(Kind::Slash),
            Some('(') => self.sign(Kind::Open),
            Some(')') => self.sign(Kind::Close),
            Some(c) if c.is_ascii_digit() || "+-.".contains(c) => self.number(column)?,
            Some(c) if c.is_ascii_alphabetic() => Kind::Word(self.take(word_length(self.rest()))),
            Some(c) => {
                return Err(CssError::Unexpected {
                    column,
                    found: c.to_string(),
                    wanted: "a number, a word, a comma, a slash or a bracket".to_owned(),
                });
            }
        };
        Ok(Token { kind, column })
    }

    fn sign(&mut self, kind: Kind<'a>) -> Kind<'a> {
        self.take(1);
        kind
    }

    fn number(&mut self, column: usize) -> Result<Kind<'a>, CssError> {
        let length = number_length(self.rest());
        let text = self.take(length);
        let value = decimal(text).filter(|v| v.is_finite());
        let Some(value) = value else {
            return Err(CssError::Unexpected {
                column,
                found: if length == 0 { self.rest() } else { text }.to_owned(),
                wanted: "a number".to_owned(),
            });
        };
        let unit = if self.rest().starts_with('%') {
            1
        } else {
            word_length(self.rest())
        };
        Ok(Kind::Number(value, self.take(unit)))
    }
}

fn word_length(text: &str) -> usize {
    text.find(|c: char| !(c.is_ascii_alphanumeric() || c == '-'))
        .unwrap_or(text.len())
}

/// Length of `[+-]? digits? (. digits)? (e [+-]? digits)?` at the start; CSS Syntax Level 3, 4.3.12.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        let rest = bytes.iter().skip(from);
        from + rest.take_while(|b| b.is_ascii_digit()).count()
    };
    let is = |at: usize, set: &[u8]| bytes.get(at).is_some_and(|b| set.contains(b));
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut end = digits(usize::from(is(0, b"+-")));
    if is(end, b".") && digit(end + 1) {
        end = digits(end + 1);
    }
    if is(end, b"eE") {
        let exponent = end + 1 + usize::from(is(end + 1, b"+-"));
        if digit(exponent) {
            end = digits(exponent);
        }
    }
    end
}
