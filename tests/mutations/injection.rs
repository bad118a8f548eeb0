//! Text from a dossier is text in the report, whatever it says.

use ganosis_audit::report::{Materials, Picture, page};
use ganosis_dossier::Dossier;
use serde_json::Value;

use crate::sound;

/// Strings that would run somewhere if they were markup, an attribute, a
/// style or an address. Common practice, no source.
const HOSTILE: &[&str] = &[
    "<script>alert(1)</script>",
    "</title></style></script><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onmouseover='alert(1)' x='",
    "javascript:alert(1)",
    "https://a.example/\"onclick=\"alert(1)",
    "<svg/onload=alert(1)>",
    "-->]]><script>alert(1)</script><!--",
    "</text></svg><iframe src=javascript:alert(1)>",
    "red;background:url(https://a.example/x)",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "<\u{0}script>\u{202e}\u{feff}\u{7f}",
    "{{constructor.constructor('alert(1)')()}}",
];

/// Every string of the document but its format, texts and unknown fields included.
fn poison(value: &mut Value, with: &str) {
    match value {
        Value::String(text) if text != "ganosis-dossier/1" => *text = with.to_owned(),
        Value::Array(list) => list.iter_mut().for_each(|item| poison(item, with)),
        Value::Object(fields) => fields.values_mut().for_each(|item| poison(item, with)),
        _ => {}
    }
}

/// As [`poison`], but ids and words stay, so that every part of the report is filled.
fn poison_texts(value: &mut Value, with: &str) {
    const KEPT: &[&str] = &[
        "format",
        "id",
        "kind",
        "certainty",
        "technique",
        "verdict",
        "response",
        "states",
        "regions",
        "parts",
        "pigment",
        "evidence",
        "region",
        "layers",
        "sheet",
        "by",
        "author",
        "operator",
        "based_on",
        "proposed_by",
        "identified",
        "elements",
        "date",
        "finish",
        "material",
        "node",
    ];
    match value {
        Value::Array(list) => list.iter_mut().for_each(|item| match item {
            Value::String(text) => *text = with.to_owned(),
            item => poison_texts(item, with),
        }),
        Value::Object(fields) => {
            for (name, item) in fields {
                match item {
                    Value::String(_) if KEPT.contains(&name.as_str()) => {}
                    Value::String(text) => *text = with.to_owned(),
                    Value::Array(list)
                        if list.iter().all(Value::is_string) && KEPT.contains(&name.as_str()) => {}
                    item => poison_texts(item, with),
                }
            }
        }
        _ => {}
    }
}

struct Hostile<'a>(&'a str);

impl Materials for Hostile<'_> {
    fn file(&self, path: &str) -> Option<Vec<u8>> {
        let name = self.0.replace(['\n', '"'], " ");
        let csv = format!("energy_kev{name},counts\n1,2\n9.9,4\n12,5\n");
        Some(if path.len() % 2 == 1 {
            csv.into_bytes()
        } else {
            format!("\u{89}PNG{}", self.0).into_bytes()
        })
    }
    fn pictures_of_state(&self, _: &str) -> Vec<Picture> {
        vec![Picture {
            png: vec![1, 2, 3],
            width_px: 4,
            height_px: 3,
            mm_per_px: Some(0.5),
            view: self.0.to_owned(),
            caption: self.0.to_owned(),
        }]
    }
    fn picture_of_region(&self, _: &str) -> Option<Picture> {
        self.pictures_of_state("").pop()
    }
    fn picture_of_part(&self, _: &str) -> Option<Picture> {
        self.pictures_of_state("").pop()
    }
    fn about_pictures(&self) -> Vec<String> {
        vec![self.0.to_owned()]
    }
}

/// Tags and attributes of a page, as an HTML parser would see them.
fn tags(html: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut found = Vec::new();
    let mut rest = html;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let mut quote = None;
        let end = rest.char_indices().find(|(_, c)| {
            match (quote, *c) {
                (None, '"' | '\'') => quote = Some(*c),
                (Some(open), c) if c == open => quote = None,
                (None, '>') => return true,
                _ => {}
            }
            false
        });
        let (end, _) = end.expect("a tag that does not end");
        found.push(tag(&rest[..end]));
        rest = &rest[end + 1..];
    }
    found
}

fn tag(text: &str) -> (String, Vec<(String, String)>) {
    let (name, mut rest) = text.split_once(' ').unwrap_or((text, ""));
    let mut attributes = Vec::new();
    while let Some((key, after)) = rest.split_once("=\"") {
        let (value, next) = after
            .split_once('"')
            .expect("an attribute that does not end");
        attributes.push((key.trim().to_owned(), value.to_owned()));
        rest = next;
    }
    assert!(
        rest.trim().is_empty() || rest == "html",
        "left over in a tag: {rest}"
    );
    (name.to_owned(), attributes)
}

const TAGS: &[&str] = &[
    "!doctype",
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "main",
    "nav",
    "ol",
    "li",
    "a",
    "section",
    "article",
    "h1",
    "h2",
    "h3",
    "h4",
    "p",
    "dl",
    "dt",
    "dd",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "span",
    "div",
    "figure",
    "figcaption",
    "img",
    "svg",
    "image",
    "path",
    "text",
];
const ATTRIBUTES: &[&str] = &[
    "lang",
    "charset",
    "http-equiv",
    "content",
    "name",
    "class",
    "id",
    "href",
    "rel",
    "src",
    "alt",
    "style",
    "viewBox",
    "role",
    "d",
    "x",
    "y",
    "text-anchor",
    "aria-label",
    "width",
    "height",
    "font-size",
    "stroke-width",
];

fn check(html: &str, what: &str) {
    for (name, attributes) in tags(html) {
        let plain = name.trim_start_matches('/');
        assert!(TAGS.contains(&plain), "{what}: a tag {name}");
        for (key, value) in attributes {
            assert!(
                ATTRIBUTES.contains(&key.as_str()),
                "{what}: an attribute {key} on {name}"
            );
            let fits = match key.as_str() {
                "href" if plain == "image" => value.starts_with("data:image/png;base64,"),
                "href" => ["#", "https://", "http://"]
                    .iter()
                    .any(|start| value.starts_with(start)),
                "src" => value.starts_with("data:image/"),
                "style" if value.starts_with("width:") => {
                    let width = value["width:".len()..].strip_suffix('%');
                    width.is_some_and(|width| width.parse::<f64>().is_ok())
                }
                "style" => {
                    value.len() == "background:#000000".len() && value.starts_with("background:#")
                }
                _ => true,
            };
            assert!(fits, "{what}: {key} is {value}");
        }
    }
}

#[test]
fn text_of_a_dossier_runs_nothing_in_the_report() {
    let scene = sound::scene();
    let mut sound_page = 0;
    for hostile in HOSTILE {
        for all in [true, false] {
            let mut value = scene.document.to_value();
            if all {
                poison(&mut value, hostile)
            } else {
                poison_texts(&mut value, hostile)
            }
            let document: Dossier = Dossier::from_value(value).unwrap().document;
            let audit = ganosis_audit::run(&document, &scene);
            for language in ["en", hostile] {
                let html = page(&document, &audit, &Hostile(hostile), language);
                check(&html, hostile);
                assert!(!html.contains("<script"), "{hostile}");
                sound_page += html.len();
            }
        }
    }
    // The pages are not empty.
    assert!(sound_page > 52 * 10_000, "{sound_page}");
}

#[test]
fn the_check_itself_finds_what_it_looks_for() {
    let caught = |html: &'static str| std::panic::catch_unwind(|| check(html, "")).is_err();
    assert!(caught("<script>") && caught("<img src=\"x\">") && caught("<p onclick=\"x\">"));
    assert!(caught("<a href=\"javascript:x\">") && caught("<span style=\"background:url(x)\">"));
    assert!(!caught("<p class=\"id\">&lt;script&gt;</p>"));
}

#[test]
fn the_report_has_every_part_of_the_sound_dossier() {
    let scene = sound::scene();
    let audit = ganosis_audit::run(&scene.document, &scene);
    let html = page(&scene.document, &audit, &Hostile(""), "en");
    for part in [
        "A painted panel",
        "SM 1987.15",
        "Red field",
        "Restored bill",
        "80.0 cm²",
        "16.0 cm²",
        "measured",
        "conjectural",
        "Mercury in the spot.",
        "Could be red lead.",
        "Mercury is found.",
        "X-rays: licensed operators only.",
        "Mercury: toxic.",
        "consistent with",
        "24 patches",
        "L* 45.0, a* 50.0, b* 35.0",
        "CC0-1.0",
        "E. K.",
        "FADGI",
        "0 errors, 0 warnings, 0 notes",
        "<svg",
        "Local codes",
    ] {
        assert!(html.contains(part), "{part}");
    }
}
