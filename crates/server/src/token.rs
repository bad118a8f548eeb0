//! The word that lets a page write when other machines can reach the server.

use std::fmt::Write;
use std::hint::black_box;
use std::io;

/// 256 bits, written in hexadecimal: beyond guessing (RFC 6750 section 5.2
/// asks for at least 128 by way of RFC 6749 section 10.10).
const BYTES: usize = 32;

/// A random word.
#[derive(Clone)]
pub struct Token(String);

impl Token {
    /// A new one from the random source of the system.
    ///
    /// # Errors
    /// What the system says if it has none.
    pub fn random() -> io::Result<Self> {
        let mut bytes = [0_u8; BYTES];
        getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
        let mut word = String::with_capacity(2 * BYTES);
        for byte in bytes {
            // Writing to a string cannot fail.
            let _ = write!(word, "{byte:02x}");
        }
        Ok(Self(word))
    }

    /// The word, to be shown to the one who started the server.
    #[must_use]
    pub fn word(&self) -> &str {
        &self.0
    }

    /// True if `authorization`, the value of that header, carries this word
    /// (RFC 6750 section 2.1). Takes as long for a nearly right word as for a
    /// wrong one.
    pub(crate) fn is_in(&self, authorization: &str) -> bool {
        let Some((scheme, word)) = authorization.split_once(' ') else {
            return false;
        };
        let (ours, theirs) = (self.0.as_bytes(), word.trim().as_bytes());
        let differ = ours
            .iter()
            .zip(theirs)
            .fold(0_u8, |differ, (a, b)| black_box(differ | (a ^ b)));
        scheme.eq_ignore_ascii_case("bearer") && ours.len() == theirs.len() && differ == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_word_is_taken() {
        let token = Token::random().unwrap();
        let word = token.word().to_owned();
        assert_eq!(word.len(), 64);
        assert_ne!(word, Token::random().unwrap().word());
        assert!(token.is_in(&format!("Bearer {word}")));
        assert!(token.is_in(&format!("bearer {word}")));
        let mut wrong = word.clone();
        let last = if wrong.ends_with('0') { "1" } else { "0" };
        wrong.replace_range(63.., last);
        for header in [
            String::new(),
            word.clone(),
            "Bearer".to_owned(),
            "Bearer ".to_owned(),
            format!("Basic {word}"),
            format!("Bearer {}", &word[..63]),
            format!("Bearer {word}0"),
            format!("Bearer {wrong}"),
        ] {
            assert!(!token.is_in(&header), "{header}");
        }
    }
}
