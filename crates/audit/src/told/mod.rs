//! What the audit says, as a key with its values and as the sentence in English: pages say it in their own language.

pub mod sentences;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use ganosis_dossier::Text;
use serde::Serialize;

/// Language of the sentences here; names in them are taken in it where there are.
const LANGUAGE: &str = "en";

/// A sentence with places for values in braces. Its key begins with the id of its rule, if it belongs to one; further
/// sentences of a rule have more after a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sentence {
    /// By which pages know it.
    pub key: &'static str,
    /// The sentence in English.
    pub english: &'static str,
    /// The sentence in English if the value `count` is 1 and that makes a difference.
    pub one: Option<&'static str>,
}

impl Sentence {
    /// The rule it belongs to.
    pub(crate) fn rule(self) -> &'static str {
        self.key.split('.').next().unwrap_or(self.key)
    }

    /// With its values.
    pub(crate) fn with<const N: usize>(self, values: [(&'static str, Value); N]) -> Told {
        let values = BTreeMap::from(values);
        let single =
            matches!(values.get("count"), Some(Value::Number { value, .. }) if *value == 1.0);
        let template = self.one.filter(|_| single).unwrap_or(self.english);
        Told {
            message: filled(template, &values),
            key: self.key,
            values,
        }
    }
}

/// A sentence with its values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// The whole in English.
    pub message: String,
    /// Key of the [`Sentence`].
    pub key: &'static str,
    /// What stands in its places, by their names.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub values: BTreeMap<&'static str, Value>,
}

/// What stands in a place of a sentence.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Value {
    /// The same in every language: an id, a date, the sign of an element.
    Text(String),
    /// A text of the dossier.
    Written(Text),
    /// A thing of the dossier.
    Named {
        /// Its title, perhaps empty.
        title: Text,
        /// Its id.
        id: String,
    },
    /// A number.
    Number {
        /// The value.
        value: f64,
        /// How many digits after the point are told.
        digits: usize,
    },
    /// A sentence or words within another.
    Told(Told),
    /// Several.
    List {
        /// How they are joined.
        how: Joined,
        /// Each of them.
        items: Vec<Value>,
    },
}

/// How the items of a list are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Joined {
    /// "a, b and c".
    And,
    /// "a, b or c".
    Or,
    /// "a; b; c".
    Apart,
}

impl Value {
    pub(crate) fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    pub(crate) fn named(title: &Text, id: &str) -> Self {
        let (title, id) = (title.clone(), id.to_owned());
        Self::Named { title, id }
    }

    pub(crate) fn number(value: f64, digits: usize) -> Self {
        Self::Number { value, digits }
    }

    pub(crate) fn list(how: Joined, items: impl IntoIterator<Item = Self>) -> Self {
        let items = items.into_iter().collect();
        Self::List { how, items }
    }

    fn english(&self) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Written(text) => text.get(LANGUAGE).to_owned(),
            Self::Named { title, id } => match title.get(LANGUAGE) {
                "" => format!("\"{id}\""),
                title if title == id => format!("\"{id}\""),
                title => format!("\"{title}\" ({id})"),
            },
            Self::Number { value, digits } => format!("{value:.digits$}"),
            Self::Told(told) => told.message.clone(),
            Self::List { how, items } => {
                let items: Vec<String> = items.iter().map(Self::english).collect();
                match how {
                    Joined::And => joined(&items, "and"),
                    Joined::Or => joined(&items, "or"),
                    Joined::Apart => items.join("; "),
                }
            }
        }
    }
}

impl From<Told> for Value {
    fn from(told: Told) -> Self {
        Self::Told(told)
    }
}

impl From<Sentence> for Value {
    fn from(words: Sentence) -> Self {
        Self::Told(words.with([]))
    }
}

/// "a, b and c".
fn joined(items: &[String], word: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} {word} {last}", first.join(", ")),
    }
}

/// Values are filled in once: braces in them stay as they are.
fn filled(template: &str, values: &BTreeMap<&'static str, Value>) -> String {
    let mut out = String::with_capacity(2 * template.len());
    let mut rest = template;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let Some((name, behind)) = after.split_once('}') else {
            out.push('{');
            rest = after;
            continue;
        };
        match values.get(name) {
            Some(value) => out.push_str(&value.english()),
            None => _ = write!(out, "{{{name}}}"),
        }
        rest = behind;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_stand_in_their_places_and_braces_in_them_stay() {
        let sentence = Sentence {
            key: "x",
            english: "{names} lie {mm} mm from {place}",
            one: Some("{names} lies {mm} mm from {place}"),
        };
        let told = |names: &[&str]| {
            let items = names.iter().map(|name| Value::text(*name));
            sentence.with([
                ("names", Value::list(Joined::And, items)),
                ("count", Value::number(names.len() as f64, 0)),
                ("mm", Value::number(1.25, 1)),
                ("place", Value::named(&"{mm}".into(), "p")),
            ])
        };
        assert_eq!(told(&["a"]).message, "a lies 1.2 mm from \"{mm}\" (p)");
        assert_eq!(
            told(&["a", "b", "c"]).message,
            "a, b and c lie 1.2 mm from \"{mm}\" (p)"
        );
    }
}
