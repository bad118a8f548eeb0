//! The few words that a page without script has, in the languages of the viewer.

/// Words in one language.
pub(super) struct Words {
    pub(super) catalogue: &'static str,
    pub(super) report: &'static str,
    pub(super) no_script: &'static str,
}

const ENGLISH: Words = Words {
    catalogue: "Objects",
    report: "Report",
    no_script: "The object itself is drawn with JavaScript, which is switched off in this browser.",
};

/// Those of `language` (BCP 47), else English.
pub(super) fn words(language: &str) -> Words {
    match primary(language).as_str() {
        "de" => Words {
            catalogue: "Objekte",
            report: "Bericht",
            no_script: "Das Objekt selbst wird mit JavaScript gezeichnet, das in diesem Browser abgeschaltet ist.",
        },
        "es" => Words {
            catalogue: "Objetos",
            report: "Informe",
            no_script: "El objeto mismo se dibuja con JavaScript, que está desactivado en este navegador.",
        },
        "ar" => Words {
            catalogue: "القطع",
            report: "التقرير",
            no_script: "تُرسم القطعة نفسها بلغة جافاسكربت، وهي معطّلة في هذا المتصفح.",
        },
        _ => ENGLISH,
    }
}

/// Writing direction of a language, by its usual script (Unicode CLDR,
/// `characterOrder` of the languages listed).
pub(super) fn direction(language: &str) -> &'static str {
    match primary(language).as_str() {
        "ar" | "arc" | "ckb" | "dv" | "fa" | "he" | "ps" | "sd" | "syr" | "ug" | "ur" | "yi" => {
            "rtl"
        }
        _ => "ltr",
    }
}

fn primary(language: &str) -> String {
    language
        .split('-')
        .next()
        .unwrap_or(language)
        .to_ascii_lowercase()
}
