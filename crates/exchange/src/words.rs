//! Texts as bodies, and back.

use std::collections::BTreeMap;

use ganosis_dossier::Text;
use serde_json::{Value, json};

/// The body of a text: one `TextualBody`, or a `Choice` of one per language
/// (sections 3.2.4 and 3.2.7 of the model). `None` for an empty text.
pub(crate) fn body_of(text: &Text, purpose: &str) -> Option<Value> {
    let body = |value: &str| json!({"type": "TextualBody", "value": value, "format": "text/plain", "purpose": purpose});
    let map = match text {
        Text::Plain(text) => return (!text.is_empty()).then(|| body(text)),
        Text::Languages(map) => map,
    };
    let mut bodies: Vec<Value> = map
        .iter()
        .map(|(tag, text)| {
            let mut body = body(text);
            body["language"] = tag.as_str().into();
            body
        })
        .collect();
    match bodies.len() {
        0 => None,
        1 => bodies.pop(),
        _ => Some(json!({"type": "Choice", "items": bodies})),
    }
}

/// A text that is put together from bodies.
#[derive(Debug, Clone, Default)]
pub(crate) struct Gathered {
    plain: Vec<String>,
    languages: BTreeMap<String, Vec<String>>,
}

impl Gathered {
    /// Adds the value of a body.
    pub(crate) fn add(&mut self, language: Option<&str>, value: &str) {
        match language {
            Some(tag) => self.languages.entry(tag.to_owned()).or_default(),
            None => &mut self.plain,
        }
        .push(value.to_owned());
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.plain.is_empty() && self.languages.is_empty()
    }

    /// The text; several in one language are joined. What has no language is
    /// taken to be in `usual` where the others have one.
    pub(crate) fn text(mut self, between: &str, usual: &str) -> Text {
        if self.languages.is_empty() {
            return Text::Plain(self.plain.join(between));
        }
        if !self.plain.is_empty() {
            self.languages
                .entry(usual.to_owned())
                .or_default()
                .append(&mut self.plain);
        }
        let join = |(tag, values): (String, Vec<String>)| (tag, values.join(between));
        Text::Languages(self.languages.into_iter().map(join).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn languages_become_a_choice() {
        let text = Text::Languages(BTreeMap::from([
            ("de".to_owned(), "Der Schnabel".to_owned()),
            ("en".to_owned(), "The bill".to_owned()),
        ]));
        let body = body_of(&text, "commenting").unwrap();
        assert_eq!(body["type"], "Choice");
        assert_eq!(body["items"][1]["language"], "en");
        assert_eq!(body_of(&Text::default(), "tagging"), None);
    }

    #[test]
    fn what_has_no_language_joins_the_usual_one() {
        let mut gathered = Gathered::default();
        gathered.add(None, "a");
        gathered.add(Some("en"), "b");
        gathered.add(Some("cy"), "c");
        let text = gathered.text("\n\n", "en");
        assert_eq!((text.get("en"), text.get("cy")), ("b\n\na", "c"));
    }
}
