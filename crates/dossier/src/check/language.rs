//! Language tags: BCP 47 (RFC 5646).

use std::collections::HashSet;

use super::{Findings, walk};
use crate::document::Dossier;
use crate::finding::member_path;

/// Fields of the format that may hold one text per language.
const TEXT_FIELDS: &[&str] = &[
    "title",
    "description",
    "notice",
    "identifier",
    "date",
    "material",
    "place",
    "dimensions",
    "credit",
    "name",
    "role",
    "source",
    "caution",
    "result",
    "instrument",
    "settings",
    "caption",
    "argument",
    "text",
];

const ADVICE: &str = "Use a BCP 47 tag such as en, de, pt-BR or zh-Hant.";

pub(super) fn check(document: &Dossier, found: &mut Findings) {
    let mut declared = HashSet::new();
    for (index, tag) in document.languages.iter().enumerate() {
        let path = format!("$.languages[{index}]");
        check_tag(&path, tag, found);
        if !declared.insert(tag.to_ascii_lowercase()) {
            let message = format!("the language \"{tag}\" is listed twice");
            found.warning("duplicate-language", path, message, "Take one of them out.");
        }
    }
    for (index, saved) in document.views.iter().enumerate() {
        if let Some(tag) = &saved.view.language {
            check_tag(&format!("$.views[{index}].view.language"), tag, found);
        }
    }
    walk(&document.to_value(), "$", &mut |path, fields| {
        for name in TEXT_FIELDS {
            let Some(texts) = fields.get(*name).and_then(|value| value.as_object()) else {
                continue;
            };
            let path = member_path(path, name);
            for tag in texts.keys() {
                let path = member_path(&path, tag);
                let good = check_tag(&path, tag, found);
                if good && !declared.is_empty() && !declared.contains(&tag.to_ascii_lowercase()) {
                    let message = format!("\"{tag}\" is not among the languages of the dossier");
                    found.warning(
                        "undeclared-language",
                        path,
                        message,
                        "Add it to $.languages, so that readers can choose it.",
                    );
                }
            }
        }
    });
}

fn check_tag(path: &str, tag: &str, found: &mut Findings) -> bool {
    let message = if !is_well_formed(tag) {
        format!("\"{tag}\" is no language tag")
    } else if !is_known_language(tag) {
        format!("\"{tag}\" begins with no language that ISO 639-1 lists")
    } else {
        return true;
    };
    found.error("unknown-language", path, message, ADVICE);
    false
}

/// ISO 639-1:2002 with later additions, as in the IANA Language Subtag
/// Registry (from memory; deprecated ones left out).
const TWO_LETTER: &str = "aa ab ae af ak am an ar as av ay az ba be bg bi bm bn bo br bs ca ce ch co \
    cr cs cu cv cy da de dv dz ee el en eo es et eu fa ff fi fj fo fr fy ga gd gl gn gu gv ha he hi ho \
    hr ht hu hy hz ia id ie ig ii ik io is it iu ja jv ka kg ki kj kk kl km kn ko kr ks ku kv kw ky la \
    lb lg li ln lo lt lu lv mg mh mi mk ml mn mr ms mt my na nb nd ne ng nl nn no nr nv ny oc oj om or \
    os pa pi pl ps pt qu rm rn ro ru rw sa sc sd se sg sh si sk sl sm sn so sq sr ss st su sv sw ta te \
    tg th ti tk tl tn to tr ts tt tw ty ug uk ur uz ve vi vo wa wo xh yi yo za zh zu";

/// True if the first subtag of a well-formed tag is a language that is
/// listed; three letters and more are not on our list and pass.
#[must_use]
pub fn is_known_language(tag: &str) -> bool {
    let first = tag.split('-').next().unwrap_or(tag).to_ascii_lowercase();
    first.len() != 2 || TWO_LETTER.split_whitespace().any(|known| known == first)
}

/// RFC 5646 section 2.1, irregular grandfathered tags.
const IRREGULAR: &[&str] = &[
    "en-gb-oed",
    "i-ami",
    "i-bnn",
    "i-default",
    "i-enochian",
    "i-hak",
    "i-klingon",
    "i-lux",
    "i-mingo",
    "i-navajo",
    "i-pwn",
    "i-tao",
    "i-tay",
    "i-tsu",
    "sgn-be-fr",
    "sgn-be-nl",
    "sgn-ch-de",
];

/// True if `tag` is well-formed by RFC 5646 sections 2.1 and 2.2.9, without
/// repeated variants and extensions.
#[must_use]
pub fn is_well_formed(tag: &str) -> bool {
    let tag = tag.to_ascii_lowercase();
    if IRREGULAR.contains(&tag.as_str()) {
        return true;
    }
    let parts: Vec<&str> = tag.split('-').collect();
    if !parts
        .iter()
        .all(|p| (1..=8).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()))
    {
        return false;
    }
    let alpha = |part: &str| part.bytes().all(|b| b.is_ascii_alphabetic());
    let mut rest = parts.as_slice();
    if rest[0] == "x" {
        return rest.len() > 1;
    }
    if !alpha(rest[0]) || rest[0].len() < 2 {
        return false;
    }
    let may_extend = rest[0].len() <= 3;
    rest = &rest[1..];
    let mut take = |fits: &dyn Fn(&str) -> bool| -> Option<String> {
        let first = rest.first().filter(|part| fits(part))?;
        let taken = (*first).to_owned();
        rest = &rest[1..];
        Some(taken)
    };
    for _ in 0..3 {
        take(&|part| may_extend && part.len() == 3 && alpha(part));
    }
    take(&|part| part.len() == 4 && alpha(part));
    take(&|part| {
        part.len() == 2 && alpha(part)
            || part.len() == 3 && part.bytes().all(|b| b.is_ascii_digit())
    });
    let mut seen = HashSet::new();
    let variant =
        |part: &str| part.len() >= 5 || part.len() == 4 && part.as_bytes()[0].is_ascii_digit();
    while let Some(part) = take(&variant) {
        if !seen.insert(part) {
            return false;
        }
    }
    extensions_are_well_formed(rest)
}

/// What may follow the variants: extensions, then private use.
fn extensions_are_well_formed(mut rest: &[&str]) -> bool {
    let mut seen = HashSet::new();
    while let Some((singleton, after)) = rest.split_first() {
        if *singleton == "x" {
            return !after.is_empty();
        }
        let length = after.iter().take_while(|part| part.len() >= 2).count();
        if singleton.len() != 1 || length == 0 || !seen.insert(*singleton) {
            return false;
        }
        rest = &after[length..];
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5646 appendix A.
    #[test]
    fn the_examples_of_rfc_5646_are_told_apart() {
        for good in [
            "de",
            "fr",
            "ja",
            "i-enochian",
            "zh-Hant",
            "zh-Hans",
            "sr-Cyrl",
            "sr-Latn",
            "zh-cmn-Hans-CN",
            "cmn-Hans-CN",
            "zh-yue-HK",
            "yue-HK",
            "zh-Hans-CN",
            "sr-Latn-RS",
            "sl-rozaj",
            "sl-rozaj-biske",
            "sl-nedis",
            "de-CH-1901",
            "sl-IT-nedis",
            "hy-Latn-IT-arevela",
            "de-DE",
            "en-US",
            "es-419",
            "de-CH-x-phonebk",
            "az-Arab-x-AZE-derbend",
            "x-whatever",
            "qaa-Qaaa-QM-x-southern",
            "de-Qaaa",
            "sr-Latn-QM",
            "sr-Qaaa-RS",
            "en-US-u-islamcal",
            "zh-CN-a-myext-x-private",
            "en-a-myext-b-another",
        ] {
            assert!(is_well_formed(good), "{good}");
            assert!(is_known_language(good), "{good}");
        }
        for bad in [
            "de-419-DE",
            "a-DE",
            "ar-a-aaa-b-bbb-a-ccc",
            "",
            "en_GB",
            "en-",
            "english-text-toolongsubtag",
            "sl-rozaj-rozaj",
            "x",
            "en-a",
        ] {
            assert!(!is_well_formed(bad), "{bad}");
        }
        assert!(!is_known_language("xx") && !is_known_language("qq-DE"));
    }
}
