//! Titles of the layers that draping makes.

use std::collections::BTreeMap;

use ganosis_dossier::Text;

use super::output::KNOWN;
use crate::trouble::Trouble;

/// What is known of each texel, in the order of [`KNOWN`], by language; the first is for all others.
const WORDS: [(&str, [&str; 4]); 4] = [
    (
        "en",
        [
            "coverage",
            "number of photographs",
            "resolution",
            "photograph that gives the detail",
        ],
    ),
    (
        "de",
        [
            "Abdeckung",
            "Zahl der Fotografien",
            "Auflösung",
            "Fotografie, die die Einzelheiten gibt",
        ],
    ),
    (
        "es",
        [
            "cobertura",
            "número de fotografías",
            "resolución",
            "fotografía que da el detalle",
        ],
    ),
    (
        "ar",
        [
            "التغطية",
            "عدد الصور الفوتوغرافية",
            "الدقة",
            "الصورة الفوتوغرافية التي تعطي التفاصيل",
        ],
    ),
];

/// The title as it was given: one text, or several that each begin with a language; the id where there is none.
pub(super) fn of(given: &[String], id: &str) -> anyhow::Result<Text> {
    match given {
        [] => return Ok(Text::from(id)),
        [one] if by_language(one).is_none() => return Ok(Text::from(one.as_str())),
        _ => {}
    }
    let mut texts = BTreeMap::new();
    for one in given {
        let Some((tag, text)) = by_language(one) else {
            return Err(Trouble::error(
                format!("of several titles this one does not say its language: “{one}”"),
                "--title",
                "Begin each with its language, such as --title en=\"As found\" --title de=\"Vorgefunden\".",
            ));
        };
        if texts.insert(tag.to_owned(), text.to_owned()).is_some() {
            return Err(Trouble::error(
                format!("there are two titles in the language “{tag}”"),
                "--title",
                "Give one a language.",
            ));
        }
    }
    Ok(Text::Languages(texts))
}

/// A text after a language tag (RFC 5646, section 2.1: a language of two or three letters in lower case, here
/// with what may follow it) and an equals sign.
fn by_language(text: &str) -> Option<(&str, &str)> {
    let (tag, text) = text.split_once('=')?;
    let mut subtags = tag.split('-');
    let language = subtags.next()?;
    let is_language =
        matches!(language.len(), 2 | 3) && language.bytes().all(|b| b.is_ascii_lowercase());
    let follow = |subtag: &str| {
        matches!(subtag.len(), 2..=8) && subtag.bytes().all(|b| b.is_ascii_alphanumeric())
    };
    let is_tag = is_language && subtags.all(follow);
    (is_tag && !text.trim().is_empty()).then_some((tag, text))
}

/// The title of what is known of the texels of a layer, in the languages of the layer's own.
pub(super) fn of_known(title: &Text, end: &str) -> Text {
    let number = KNOWN.iter().position(|known| *known == end).unwrap_or(0);
    let word = |tag: &str| {
        let language = tag.split('-').next().unwrap_or(tag);
        let own = WORDS.iter().find(|(known, _)| *known == language);
        own.unwrap_or(&WORDS[0]).1[number]
    };
    match title {
        Text::Plain(title) => Text::from(format!("{title}: {}", word("en"))),
        Text::Languages(titles) => {
            let each = titles
                .iter()
                .map(|(tag, title)| (tag.clone(), format!("{title}: {}", word(tag))));
            Text::Languages(each.collect())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given(titles: &[&str]) -> anyhow::Result<Text> {
        let titles: Vec<String> = titles.iter().map(|t| (*t).to_owned()).collect();
        of(&titles, "irr")
    }

    #[test]
    fn a_title_is_one_text_or_one_a_language() {
        assert_eq!(given(&[]).unwrap(), Text::from("irr"));
        assert_eq!(given(&["Infrared"]).unwrap(), Text::from("Infrared"));
        // Neither is a language tag: a wavelength, and a text with an equals sign.
        for plain in ["λ=850 nm", "Band 3 = infrared", "en="] {
            assert_eq!(given(&[plain]).unwrap(), Text::from(plain));
        }
        let both = given(&["en=Infrared", "de-AT=Infrarot"]).unwrap();
        assert_eq!(
            both,
            Text::from([("en", "Infrared"), ("de-AT", "Infrarot")])
        );
        assert_eq!(
            of_known(&both, "coverage"),
            Text::from([
                ("en", "Infrared: coverage"),
                ("de-AT", "Infrarot: Abdeckung")
            ])
        );
    }

    #[test]
    fn of_several_titles_each_says_its_language_once() {
        for (wrong, words) in [
            (["Infrared", "de=Infrarot"], "does not say its language"),
            (["de=Infrarot", "de=Infrarot II"], "two titles"),
        ] {
            let error = given(&wrong).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
        }
    }
}
