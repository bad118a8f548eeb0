//! Regions with their claims, and the evidence with its attachments.

use std::collections::HashMap;

use ganosis_dossier::document::{Attachment, Claim, Evidence};

use super::html::{Html, terms};
use super::palette::swatch;
use super::plot::{Series, plot};
use super::{Report, area, figure, image, picture, place};
use crate::hints;
use crate::index::pigments;
use crate::measure::CM2_PER_M2;

/// Largest attachment that is put into the page, bytes. A choice of ours:
/// larger ones are named.
const LARGEST_BYTES: usize = 8 << 20;

impl<'a> Report<'a> {
    pub(super) fn regions(&self) -> Html {
        let document = self.index.document;
        let mut of_region: HashMap<&str, Vec<&'a Claim>> = HashMap::new();
        let mut of_part: HashMap<&str, Vec<&'a Claim>> = HashMap::new();
        for claim in &document.claims {
            for id in &claim.regions {
                of_region.entry(id).or_default().push(claim);
            }
            for id in &claim.parts {
                of_part.entry(id).or_default().push(claim);
            }
        }
        let mut out = Html::default();
        for region in &document.regions {
            let mut head = Html::tag("h3", self.titled(&region.title, &region.id));
            let cm2 = self.audit.measures.region_cm2(region.number);
            head.push(terms([("Area", area(cm2))]));
            if let Some(found) = self.materials.picture_of_region(&region.id) {
                head.push(Html::element("div", &[("class", "where")], picture(&found)));
            }
            let mut inner = Html::element("div", &[("class", "head")], head);
            inner.push(self.claims(of_region.get(region.id.as_str())));
            out.push(Html::tag("article", inner));
        }
        for part in &document.surface.parts {
            let mut head = Html::tag("h3", self.titled(&part.title, &part.id));
            let areas = self.audit.measures.parts.get(&part.id);
            head.push(terms([
                (
                    "Kind",
                    Html::text("part, shown only in the states that name it"),
                ),
                ("Area", area(areas.map(|areas| areas.m2 * CM2_PER_M2))),
            ]));
            if let Some(found) = self.materials.picture_of_part(&part.id) {
                head.push(Html::element("div", &[("class", "where")], picture(&found)));
            }
            let mut inner = Html::element("div", &[("class", "head")], head);
            inner.push(self.claims(of_part.get(part.id.as_str())));
            out.push(Html::tag("article", inner));
        }
        out
    }

    fn claims(&self, claims: Option<&Vec<&'a Claim>>) -> Html {
        match claims {
            None => Html::tag("p", "No claim."),
            Some(claims) => claims.iter().map(|claim| self.claim(claim)).collect(),
        }
    }

    fn claim(&self, claim: &'a Claim) -> Html {
        let paints: Vec<String> = pigments(claim).map(|id| self.entry_title(id)).collect();
        let mut paint = match paints.as_slice() {
            [] => "no paint".to_owned(),
            some => some.join(" with "),
        };
        if let Some(over) = &claim.over {
            paint.push_str(&format!(" over {}", self.entry_title(over)));
        }
        let mut colour = self
            .index
            .colour(claim)
            .map(|lab| swatch(lab.to_array()))
            .unwrap_or_default();
        colour.push(" ");
        colour.push(paint);
        let cited: Html = claim
            .evidence
            .iter()
            .map(|id| match self.index.evidence(id) {
                Some(item) => Html::tag(
                    "p",
                    format!("{}, {}", self.evidence_title(item), item.technique),
                ),
                None => Html::tag("p", id.as_str()),
            })
            .collect();
        let by = claim
            .author
            .as_deref()
            .map(|id| self.person(id))
            .unwrap_or_default();
        let when = claim.date.clone().unwrap_or_default();
        let mut out = Html::tag("h4", format!("Claim {}", claim.id));
        out.push(terms([
            ("Paint", colour),
            (
                "Finish",
                Html::text(claim.finish.as_ref().map_or("", |f| f.as_str())),
            ),
            ("In the states", Html::from(claim.states.join(", "))),
            ("Certainty", Html::text(claim.certainty.as_str())),
            ("Evidence", cited),
            ("Argument", self.paragraphs(&claim.argument)),
            ("By", Html::from([by, when].join(" ").trim().to_owned())),
            ("Reviews", self.reviews(claim)),
        ]));
        out
    }

    fn reviews(&self, claim: &'a Claim) -> Html {
        let mut out = Html::default();
        for review in &claim.reviews {
            let head = format!(
                "{} ({}) {}: {}",
                self.person(&review.by),
                review.verdict,
                review.date.as_deref().unwrap_or_default(),
                self.text(&review.reason)
            );
            out.push(Html::tag("p", head));
            if let Some(answer) = &review.answer {
                let text = format!(
                    "Answer of {}: {}",
                    self.person(&answer.by),
                    self.text(&answer.text)
                );
                out.push(Html::tag("p", text));
            }
        }
        out
    }

    pub(super) fn evidence(&self) -> Html {
        self.index
            .document
            .evidence
            .iter()
            .map(|item| self.item(item))
            .collect()
    }

    fn item(&self, item: &'a Evidence) -> Html {
        let mut out = Html::tag("h3", self.titled(&item.title, &item.id));
        let region = item.region.as_ref().map(|id| match self.index.region(id) {
            Some(region) => self.titled(&region.title, &region.id),
            None => Html::text(id),
        });
        let operator = item
            .operator
            .as_deref()
            .map(|id| self.person(id))
            .unwrap_or_default();
        let when = item.date.clone().unwrap_or_default();
        let identified: Vec<String> = item
            .identified
            .iter()
            .map(|id| self.entry_title(id))
            .collect();
        out.push(terms([
            ("Technique", Html::text(item.technique.as_str())),
            ("Result", self.paragraphs(&item.result)),
            ("Elements", Html::from(item.elements.join(", "))),
            (
                "Identified by the analyst",
                Html::from(identified.join(", ")),
            ),
            (
                "Response",
                Html::text(item.response.as_ref().map_or("", |r| r.as_str())),
            ),
            ("Region", region.unwrap_or_default()),
            (
                "Place",
                Html::from(item.anchor.as_ref().map(place).unwrap_or_default()),
            ),
            ("Instrument", Html::text(self.text(&item.instrument))),
            ("Settings", Html::text(self.text(&item.settings))),
            (
                "By",
                Html::from([operator, when].join(" ").trim().to_owned()),
            ),
            ("Hint", self.hint(item)),
        ]));
        if !item.caution.is_empty() {
            out.push(Html::element(
                "p",
                &[("class", "caution")],
                self.text(&item.caution),
            ));
        }
        for attachment in &item.attachments {
            out.push(self.attachment(item, attachment));
        }
        Html::tag("article", out)
    }

    fn hint(&self, item: &Evidence) -> Html {
        let Some(hint) = hints::for_evidence(self.index.document, item) else {
            return Html::default();
        };
        let mut out = Html::tag("p", hint.sentence);
        out.push(
            hint.remarks
                .iter()
                .map(|remark| Html::tag("p", remark.as_str()))
                .collect::<Html>(),
        );
        out
    }

    fn attachment(&self, item: &'a Evidence, attachment: &'a Attachment) -> Html {
        let title = self.text(&attachment.title);
        let mut caption = Html::text(title);
        let more = self.text(&attachment.caption);
        if !more.is_empty() {
            caption.push(if title.is_empty() { "" } else { ". " });
            caption.push(more);
        }
        caption.push(" ");
        caption.push(Html::element(
            "span",
            &[("class", "id")],
            attachment.file.as_str(),
        ));
        let bytes = self
            .materials
            .file(&attachment.file)
            .filter(|bytes| bytes.len() <= LARGEST_BYTES);
        let alt = if title.is_empty() {
            attachment.file.as_str()
        } else {
            title
        };
        let content = bytes.and_then(|bytes| shown(&bytes, alt, &item.elements));
        match content {
            Some(content) => figure(with_scale_bar(content, attachment.width_mm), caption),
            None => {
                let mut out = Html::text("Attached: ");
                out.push(caption);
                Html::tag("p", out)
            }
        }
    }
}

/// A picture with a bar of a round length, where its width is known.
fn with_scale_bar(content: Html, width_mm: Option<f64>) -> Html {
    let Some((length_mm, share)) = width_mm.and_then(scale_bar) else {
        return content;
    };
    let mut inner = content;
    let style = format!("width: {:.2}%", 100.0 * share);
    let bar = Html::element("span", &[("class", "length"), ("style", &style)], "");
    inner.push(bar);
    inner.push(Html::element(
        "span",
        &[("class", "id")],
        format!("{length_mm} mm"),
    ));
    Html::element("div", &[("class", "scaled")], inner)
}

/// The longest of 1, 2, 5, 10 … mm (or tenths, hundredths) that takes at most a third of the width,
/// and its share of it.
fn scale_bar(width_mm: f64) -> Option<(f64, f64)> {
    if !(width_mm.is_finite() && width_mm > 0.0) {
        return None;
    }
    let most = width_mm / 3.0;
    let power = 10_f64.powi(most.log10().floor() as i32);
    let steps = [5.0, 2.0, 1.0].map(|step| step * power);
    let length = steps.into_iter().find(|l| *l <= most).unwrap_or(power);
    // Binary fractions show themselves beyond the digits that matter.
    let told = (length * 1e6).round() / 1e6;
    Some((told, length / width_mm))
}

/// What an attachment is, its first bytes say (PNG: ISO/IEC 15948 section 5.2;
/// JPEG: ISO/IEC 10918-1 annex B), whatever it is called.
fn shown(bytes: &[u8], alt: &str, elements: &[String]) -> Option<Html> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        return Some(image("image/png", bytes, alt));
    }
    if bytes.starts_with(b"\xff\xd8\xff") {
        return Some(image("image/jpeg", bytes, alt));
    }
    std::str::from_utf8(bytes).ok()?;
    Some(plot(&Series::from_csv(bytes)?, alt, elements))
}

#[cfg(test)]
mod tests {
    use super::scale_bar;

    #[test]
    fn a_scale_bar_is_round_and_takes_its_share_of_the_width() {
        for (width_mm, length_mm) in [
            (2.0, 0.5),
            (0.35, 0.1),
            (30.0, 10.0),
            (90.0, 20.0),
            (1.6, 0.5),
        ] {
            let (length, share) = scale_bar(width_mm).expect("a bar");
            assert!((length - length_mm).abs() < 1e-9, "{width_mm}: {length}");
            assert!((share - length_mm / width_mm).abs() < 1e-9);
        }
        assert_eq!([0.0, -1.0, f64::NAN].map(scale_bar), [None; 3]);
    }
}
