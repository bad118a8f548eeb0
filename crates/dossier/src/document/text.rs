//! A text in one or in several languages.

use std::collections::BTreeMap;
use std::fmt;

use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

/// A text: a plain string, or one string per language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum Text {
    /// The same string whatever the language.
    Plain(String),
    /// BCP 47 language tag to string.
    Languages(BTreeMap<String, String>),
}

impl Default for Text {
    fn default() -> Self {
        Self::Plain(String::new())
    }
}

impl Text {
    /// The string for `language`, a BCP 47 tag.
    ///
    /// Follows the lookup of RFC 4647 section 3.4: the tag is shortened from
    /// its end until something fits (tags compare without case). Failing that
    /// a longer tag of the same language is taken, then English, then whatever
    /// comes first, because a text in a foreign language is better than none.
    #[must_use]
    pub fn get(&self, language: &str) -> &str {
        let map = match self {
            Self::Plain(text) => return text,
            Self::Languages(map) => map,
        };
        let mut range = language;
        loop {
            if let Some(found) = find(map, |tag| tag.eq_ignore_ascii_case(range)) {
                return found;
            }
            match shorten(range) {
                Some(shorter) => range = shorter,
                None => break,
            }
        }
        find(map, |tag| primary(tag).eq_ignore_ascii_case(range))
            .or_else(|| find(map, |tag| primary(tag).eq_ignore_ascii_case("en")))
            .or_else(|| map.values().next().map(String::as_str))
            .unwrap_or("")
    }

    /// True if there is no text in any language.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        match self {
            Self::Plain(text) => text.is_empty(),
            Self::Languages(map) => map.is_empty(),
        }
    }

    /// The language tags in use; none for a plain string.
    pub fn tags(&self) -> impl Iterator<Item = &str> {
        let map = match self {
            Self::Plain(_) => None,
            Self::Languages(map) => Some(map),
        };
        map.into_iter()
            .flat_map(|map| map.keys().map(String::as_str))
    }
}

fn find(map: &BTreeMap<String, String>, fits: impl Fn(&str) -> bool) -> Option<&str> {
    map.iter()
        .find(|(tag, _)| fits(tag))
        .map(|(_, text)| text.as_str())
}

fn primary(tag: &str) -> &str {
    tag.split('-').next().unwrap_or(tag)
}

/// RFC 4647 section 3.4: drop the last subtag, and a single-letter one before it.
fn shorten(range: &str) -> Option<&str> {
    let (mut shorter, _) = range.rsplit_once('-')?;
    if let Some((before, last)) = shorter.rsplit_once('-')
        && last.len() == 1
    {
        shorter = before;
    }
    Some(shorter)
}

impl From<&str> for Text {
    fn from(text: &str) -> Self {
        Self::Plain(text.to_owned())
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        Self::Plain(text)
    }
}

impl<const N: usize> From<[(&str, &str); N]> for Text {
    fn from(entries: [(&str, &str); N]) -> Self {
        Self::Languages(
            entries
                .into_iter()
                .map(|(tag, text)| (tag.to_owned(), text.to_owned()))
                .collect(),
        )
    }
}

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(TextVisitor)
    }
}

struct TextVisitor;

impl<'de> Visitor<'de> for TextVisitor {
    type Value = Text;

    fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str("a text, or texts by language tag")
    }

    fn visit_str<E>(self, text: &str) -> Result<Text, E> {
        Ok(Text::Plain(text.to_owned()))
    }

    fn visit_string<E>(self, text: String) -> Result<Text, E> {
        Ok(Text::Plain(text))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Text, A::Error> {
        let mut map = BTreeMap::new();
        while let Some((tag, text)) = entries.next_entry()? {
            map.insert(tag, text);
        }
        Ok(Text::Languages(map))
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Text {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Text".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "A text, or one text per language (BCP 47 tag).",
            "oneOf": [
                {"type": "string"},
                {"type": "object", "additionalProperties": {"type": "string"}}
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lookup_follows_rfc_4647_section_3_4() {
        // The range and its fall-backs are the worked example of the section.
        let text = Text::from([
            ("zh-Hant", "a"),
            ("zh-Hant-CN-x-private1", "b"),
            ("de", "c"),
        ]);
        assert_eq!(text.get("zh-Hant-CN-x-private1-private2"), "b");
        assert_eq!(text.get("zh-Hant-CN-x-other"), "a");
        assert_eq!(text.get("ZH-HANT-CN"), "a");
    }

    #[test]
    fn something_is_shown_when_the_language_is_missing() {
        let text = Text::from([("de-AT", "Reiher"), ("en-GB", "heron")]);
        assert_eq!(text.get("de"), "Reiher");
        assert_eq!(text.get("ar"), "heron");
        assert_eq!(Text::from([("de", "Reiher")]).get("ar"), "Reiher");
        assert_eq!(Text::from("heron").get("ar"), "heron");
        assert_eq!(Text::Languages(BTreeMap::new()).get("en"), "");
    }
}
