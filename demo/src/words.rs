//! The languages of the dossier: translations of its English texts, word list by word list.

use anyhow::{Context, Result};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Language tags with their lists: English text to translation.
const LISTS: [(&str, &str); 3] = [
    ("es", include_str!("../story/words/es.json")),
    ("de", include_str!("../story/words/de.json")),
    ("ar", include_str!("../story/words/ar.json")),
];

/// Gives every text that the lists know its translations, and names the languages. Texts that
/// they do not know (observations and arguments) stay English.
pub(crate) fn translate(document: &mut Value) -> Result<()> {
    let mut tags = vec![json!("en")];
    for (tag, text) in LISTS {
        let list: BTreeMap<String, String> = serde_json::from_str(text)
            .with_context(|| format!("demo/story/words/{tag}.json is not as expected"))?;
        visit(document, &mut |texts| {
            let known = texts.get("en").and_then(Value::as_str);
            if let Some(word) = known.and_then(|english| list.get(english)) {
                texts.insert(tag.to_owned(), json!(word));
            }
        });
        tags.push(json!(tag));
    }
    document["languages"] = Value::Array(tags);
    Ok(())
}

fn visit(value: &mut Value, change: &mut impl FnMut(&mut Map<String, Value>)) {
    match value {
        Value::Object(fields) => {
            change(fields);
            fields.values_mut().for_each(|v| visit(v, change));
        }
        Value::Array(items) => items.iter_mut().for_each(|v| visit(v, change)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// A translation whose English has changed would silently be lost.
    #[test]
    fn every_list_translates_the_same_texts() {
        let keys = LISTS.map(|(tag, text)| -> (&str, BTreeSet<String>) {
            let list: BTreeMap<String, String> = serde_json::from_str(text).expect(tag);
            assert!(
                list.values().all(|word| !word.trim().is_empty()),
                "{tag}: an empty translation"
            );
            (tag, list.into_keys().collect())
        });
        for (tag, list) in &keys {
            assert_eq!(list, &keys[0].1, "{tag} and {} differ", keys[0].0);
        }
    }

    #[test]
    fn no_translation_is_left_over() {
        let mut document = crate::story::read().expect("story").document;
        let mut known = BTreeSet::new();
        visit(&mut document, &mut |texts| {
            known.extend(texts.get("en").and_then(Value::as_str).map(str::to_owned));
        });
        // The titles of attachments are given when they are made.
        known.extend(["Spectrum", "Reflectance", "Micrograph", "Section"].map(str::to_owned));
        let list: BTreeMap<String, String> = serde_json::from_str(LISTS[0].1).expect("JSON");
        let idle: Vec<&String> = list.keys().filter(|k| !known.contains(*k)).collect();
        assert!(idle.is_empty(), "in no text of the story: {idle:#?}");
    }
}
