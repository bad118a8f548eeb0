//! The report: one page of HTML that holds all of a dossier's argument.
//!
//! The page is self-contained: no script, no address is fetched; pictures are
//! in it as data. It prints to A4 and Letter. Its own words are English; texts
//! of the dossier are taken in the language asked for.

mod argument;
mod findings;
mod html;
mod object;
mod palette;
mod picture;
mod plot;
mod states;

use base64::Engine;
use ganosis_dossier::document::{Anchor, Evidence, PaletteEntry};
use ganosis_dossier::{Dossier, Text};

use crate::Audit;
use crate::index::Index;
pub use html::Html;
use picture::picture;
pub use plot::{Series, plot};

/// A picture of the object in parallel projection, rendered for the report.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Picture {
    /// PNG.
    pub png: Vec<u8>,
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// Scale, from which the scale bar is drawn; none without one.
    pub mm_per_px: Option<f64>,
    /// From where it is seen, in a word or two: `front`, `above`.
    pub view: String,
    /// What is seen.
    pub caption: String,
}

/// What the report needs beside the document and its audit. The rendered
/// pictures are those of a renderer that the caller has; without one the
/// report says nothing in their place.
pub trait Materials {
    /// Bytes of an attachment.
    fn file(&self, path: &str) -> Option<Vec<u8>>;

    /// Pictures of a state from the standard views.
    fn pictures_of_state(&self, _state: &str) -> Vec<Picture> {
        Vec::new()
    }

    /// A picture that shows where a region lies.
    fn picture_of_region(&self, _region: &str) -> Option<Picture> {
        None
    }

    /// A picture that shows a part.
    fn picture_of_part(&self, _part: &str) -> Option<Picture> {
        None
    }

    /// How the pictures were made, or why some or all are missing.
    fn about_pictures(&self) -> Vec<String> {
        Vec::new()
    }
}

/// For a report without attachments.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoMaterials;

impl Materials for NoMaterials {
    fn file(&self, _: &str) -> Option<Vec<u8>> {
        None
    }
}

/// What every part of the report is made from.
struct Report<'a> {
    index: Index<'a>,
    audit: &'a Audit,
    materials: &'a dyn Materials,
    language: &'a str,
}

type Part = (&'static str, &'static str, Html);

fn contents(parts: &[Part]) -> Html {
    let links: Html = parts
        .iter()
        .map(|(id, title, _)| {
            let address = format!("#{id}");
            Html::tag("li", Html::element("a", &[("href", &address)], *title))
        })
        .collect();
    Html::element("nav", &[("aria-label", "Contents")], Html::tag("ol", links))
}

/// Content security policy of the page: nothing runs, nothing is fetched
/// (W3C Content Security Policy Level 3).
const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";

/// The page.
#[must_use]
pub fn page(
    document: &Dossier,
    audit: &Audit,
    materials: &dyn Materials,
    language: &str,
) -> String {
    let report = Report {
        index: Index::new(document),
        audit,
        materials,
        language,
    };
    let mut head = Html::open("meta", &[("charset", "utf-8")]);
    head.push(Html::open(
        "meta",
        &[
            ("http-equiv", "Content-Security-Policy"),
            ("content", POLICY),
        ],
    ));
    head.push(Html::open(
        "meta",
        &[
            ("name", "viewport"),
            ("content", "width=device-width, initial-scale=1"),
        ],
    ));
    head.push(Html::tag("title", report.text(&document.title)));
    head.push(Html::tag(
        "style",
        Html::constant(include_str!("style.css")),
    ));
    let parts = report.parts();
    let mut body = report.cover();
    body.push(contents(&parts));
    for (id, title, content) in parts {
        body.push(html::section(id, title, content));
    }
    let mut inner = Html::tag("head", head);
    inner.push(Html::tag("body", Html::tag("main", body)));
    let page = Html::element("html", &[("lang", language)], inner);
    format!("<!doctype html>\n{}\n", page.into_string())
}

impl<'a> Report<'a> {
    /// Id, title and content of the sections that have something to say.
    fn parts(&self) -> Vec<Part> {
        let mut parts = vec![
            ("audit", "What does not hold", self.findings()),
            ("states", "States", self.states()),
            ("partings", "Where the states part", self.partings()),
            ("certainty", "Certainty", self.certainty()),
            ("palette", "Palette", self.palette()),
            ("regions", "Regions and parts", self.regions()),
            ("evidence", "Evidence", self.evidence()),
            ("layers", "How the layers were made", self.layers()),
            ("cautions", "Cautions", self.cautions()),
            ("credits", "Credits and rights", self.credits()),
            ("methods", "How this report was made", self.methods()),
        ];
        parts.retain(|(_, _, content)| !content.is_empty());
        parts
    }

    /// A text of the dossier.
    fn text(&self, text: &'a Text) -> &'a str {
        text.get(self.language)
    }

    /// Paragraphs of a text.
    fn paragraphs(&self, text: &'a Text) -> Html {
        let lines = self
            .text(text)
            .split("\n\n")
            .filter(|p| !p.trim().is_empty());
        lines.map(|p| Html::tag("p", p)).collect()
    }

    /// A title, with the id small beside it.
    fn titled(&self, title: &'a Text, id: &str) -> Html {
        let title = self.text(title);
        if title.is_empty() || title == id {
            return Html::text(id);
        }
        let mut out = Html::text(title);
        out.push(" ");
        out.push(Html::element("span", &[("class", "id")], id));
        out
    }

    fn person(&self, id: &str) -> String {
        let people = &self.index.document.people;
        let name = people
            .iter()
            .find(|p| p.id == id)
            .map(|p| self.text(&p.name));
        name.filter(|name| !name.is_empty())
            .unwrap_or(id)
            .to_owned()
    }

    fn people(&self, ids: &[String]) -> String {
        ids.iter()
            .map(|id| self.person(id))
            .collect::<Vec<_>>()
            .join(", ")
    }

    fn entry_title(&self, id: &str) -> String {
        let entry: Option<&'a PaletteEntry> = self.index.entry(id);
        let title = entry
            .map(|entry| self.text(&entry.title))
            .filter(|t| !t.is_empty());
        title.unwrap_or(id).to_owned()
    }

    fn evidence_title(&self, item: &'a Evidence) -> String {
        let title = self.text(&item.title);
        if title.is_empty() {
            item.id.clone()
        } else {
            format!("{title} ({})", item.id)
        }
    }
}

/// An area in cm².
fn area(cm2: Option<f64>) -> Html {
    cm2.map(|cm2| Html::text(&format!("{cm2:.1} cm²")))
        .unwrap_or_default()
}

/// A place in words: sheet, UV and millimetres.
fn place(anchor: &Anchor) -> String {
    let mut parts = Vec::new();
    if !anchor.sheet.is_empty() {
        parts.push(format!("sheet {}", anchor.sheet));
    }
    if let Some([u, v]) = anchor.uv {
        parts.push(format!("UV {u:.4}, {v:.4}"));
    }
    if let Some(position) = anchor.position_m {
        let [x, y, z] = position.map(|m| m * 1e3);
        parts.push(format!("x {x:.1}, y {y:.1}, z {z:.1} mm"));
    }
    parts.join("; ")
}

/// An address that holds a file.
fn data_address(media_type: &str, bytes: &[u8]) -> String {
    let data = base64::engine::general_purpose::STANDARD.encode(bytes);
    format!("data:{media_type};base64,{data}")
}

fn png_address(bytes: &[u8]) -> String {
    data_address("image/png", bytes)
}

/// A PNG or JPEG within the page.
fn image(media_type: &str, bytes: &[u8], alt: &str) -> Html {
    let source = data_address(media_type, bytes);
    Html::open("img", &[("src", &source), ("alt", alt)])
}

/// A figure with its caption.
fn figure(content: Html, caption: Html) -> Html {
    let mut inner = content;
    if !caption.is_empty() {
        inner.push(Html::tag("figcaption", caption));
    }
    Html::tag("figure", inner)
}

/// Ids in a row.
fn ids(ids: &[String]) -> Html {
    Html::text(&ids.join(", "))
}
