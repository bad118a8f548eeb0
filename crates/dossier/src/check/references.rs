//! Every id that is named must be the id of something.

use std::collections::HashSet;

use super::Findings;
use crate::document::{Anchor, Dossier, LayerImage, LayerKind};

/// Ids of one kind, with its name for messages.
struct Known<'a> {
    kind: &'static str,
    ids: HashSet<&'a str>,
}

impl<'a> Known<'a> {
    fn new(kind: &'static str, ids: impl Iterator<Item = &'a String>) -> Self {
        let ids = ids.map(String::as_str).collect();
        Self { kind, ids }
    }

    fn one(&self, path: String, id: &str, found: &mut Findings) {
        if self.ids.contains(id) {
            return;
        }
        let mut near: Vec<&str> = self.ids.iter().copied().collect();
        near.sort_unstable();
        let some = near.iter().take(8).copied().collect::<Vec<_>>().join(", ");
        let message = format!("there is no {} with the id \"{id}\"", self.kind);
        let advice = if some.is_empty() {
            format!("Add this {}, or take the id out.", self.kind)
        } else {
            format!(
                "Correct the id (there is: {some}) or add this {}.",
                self.kind
            )
        };
        found.error("unknown-id", path, message, &advice);
    }

    fn many(&self, path: &str, ids: &[String], found: &mut Findings) {
        for (index, id) in ids.iter().enumerate() {
            self.one(format!("{path}[{index}]"), id, found);
        }
    }

    fn maybe(&self, path: String, id: Option<&String>, found: &mut Findings) {
        if let Some(id) = id {
            self.one(path, id, found);
        }
    }
}

macro_rules! known {
    ($kind:literal, $list:expr) => {
        Known::new($kind, $list.iter().map(|item| &item.id))
    };
}

pub(super) fn check(document: &Dossier, found: &mut Findings) {
    layers_and_states(document, found);
    evidence_and_claims(document, found);
    pins_and_views(document, found);
}

fn layers_and_states(document: &Dossier, found: &mut Findings) {
    let sheets = known!("sheet", document.surface.sheets);
    for (l, layer) in document.layers.iter().enumerate() {
        images(
            &sheets,
            &format!("$.layers[{l}].images"),
            &layer.images,
            found,
        );
    }
    if let Some(map) = &document.region_map {
        images(&sheets, "$.region_map.images", &map.images, found);
    }
    let layers = known!("layer", document.layers);
    let states = known!("state", document.states);
    let parts = known!("part", document.surface.parts);
    let people = known!("person", document.people);
    for (s, state) in document.states.iter().enumerate() {
        let at = format!("$.states[{s}]");
        layers.many(&format!("{at}.layers"), &state.layers, found);
        parts.many(&format!("{at}.parts"), &state.parts, found);
        people.many(&format!("{at}.proposed_by"), &state.proposed_by, found);
        states.many(&format!("{at}.based_on"), &state.based_on, found);
        let colour = |id: &String| {
            let layer = document.layer(id);
            layer.is_some_and(|layer| layer.kind == LayerKind::Colour)
        };
        if !state.layers.iter().any(colour) {
            let message = format!(
                "the state \"{}\" has no colour layer, so its ground is blank",
                state.id
            );
            found.warning(
                "state-without-ground",
                format!("{at}.layers"),
                message,
                "Name a colour layer first.",
            );
        }
    }
}

fn images(sheets: &Known, at: &str, images: &[LayerImage], found: &mut Findings) {
    let mut seen = HashSet::new();
    for (index, image) in images.iter().enumerate() {
        let path = format!("{at}[{index}].sheet");
        if !seen.insert(&image.sheet) {
            let message = format!("a second image for the sheet \"{}\"", image.sheet);
            found.error(
                "duplicate-sheet",
                path.clone(),
                message,
                "Keep one image per sheet.",
            );
        }
        sheets.one(path, &image.sheet, found);
    }
    let mut missing: Vec<&str> = sheets.ids.iter().copied().collect();
    missing.retain(|id| !images.iter().any(|image| image.sheet == *id));
    missing.sort_unstable();
    if !missing.is_empty() {
        let message = format!("no image for the sheet {}", missing.join(", "));
        found.warning(
            "sheet-without-image",
            at,
            message,
            "Add the image, or leave that sheet blank on purpose.",
        );
    }
}

fn evidence_and_claims(document: &Dossier, found: &mut Findings) {
    let regions = known!("region", document.regions);
    let people = known!("person", document.people);
    let palette = known!("palette entry", document.palette);
    let parts = known!("part", document.surface.parts);
    let states = known!("state", document.states);
    let evidence = known!("evidence", document.evidence);
    for (e, item) in document.evidence.iter().enumerate() {
        let at = format!("$.evidence[{e}]");
        anchor(document, &at, item.anchor.as_ref(), found);
        regions.maybe(format!("{at}.region"), item.region.as_ref(), found);
        people.maybe(format!("{at}.operator"), item.operator.as_ref(), found);
        palette.many(&format!("{at}.identified"), &item.identified, found);
    }
    for (c, claim) in document.claims.iter().enumerate() {
        let at = format!("$.claims[{c}]");
        regions.many(&format!("{at}.regions"), &claim.regions, found);
        parts.many(&format!("{at}.parts"), &claim.parts, found);
        states.many(&format!("{at}.states"), &claim.states, found);
        palette.maybe(format!("{at}.pigment"), claim.pigment.as_ref(), found);
        for (m, part) in claim.mixture.iter().enumerate() {
            palette.one(format!("{at}.mixture[{m}].pigment"), &part.pigment, found);
        }
        palette.maybe(format!("{at}.over"), claim.over.as_ref(), found);
        evidence.many(&format!("{at}.evidence"), &claim.evidence, found);
        people.maybe(format!("{at}.author"), claim.author.as_ref(), found);
        for (r, review) in claim.reviews.iter().enumerate() {
            let at = format!("{at}.reviews[{r}]");
            people.one(format!("{at}.by"), &review.by, found);
            if let Some(answer) = &review.answer {
                people.one(format!("{at}.answer.by"), &answer.by, found);
            }
        }
        if claim.regions.is_empty() && claim.parts.is_empty() {
            let message = format!("the claim \"{}\" covers no region and no part", claim.id);
            found.error(
                "claim-of-nothing",
                at.clone(),
                message,
                "Name the regions or parts it speaks of.",
            );
        }
        if claim.states.is_empty() {
            let message = format!("the claim \"{}\" holds in no state", claim.id);
            found.error(
                "claim-in-no-state",
                at,
                message,
                "Name the states it holds in.",
            );
        }
    }
    for (s, aside) in document.set_aside.iter().enumerate() {
        people.one(format!("$.set_aside[{s}].by"), &aside.by, found);
    }
}

fn pins_and_views(document: &Dossier, found: &mut Findings) {
    let evidence = known!("evidence", document.evidence);
    let claims = known!("claim", document.claims);
    let states = known!("state", document.states);
    let pins = known!("pin", document.pins);
    let regions = known!("region", document.regions);
    let bands = document
        .layers
        .iter()
        .filter(|layer| layer.kind == LayerKind::Band);
    let shown = Known::new(
        "state or band layer",
        document
            .states
            .iter()
            .map(|state| &state.id)
            .chain(bands.map(|layer| &layer.id)),
    );
    for (p, pin) in document.pins.iter().enumerate() {
        let at = format!("$.pins[{p}]");
        if pin.anchor.is_none() {
            let message = format!("the pin \"{}\" has no anchor", pin.id);
            found.error(
                "pin-without-place",
                at.clone(),
                message,
                "Give its place: sheet, uv, position_m, normal.",
            );
        }
        anchor(document, &at, pin.anchor.as_ref(), found);
        evidence.many(&format!("{at}.evidence"), &pin.evidence, found);
        claims.many(&format!("{at}.claims"), &pin.claims, found);
        states.many(&format!("{at}.states"), &pin.states, found);
    }
    for (v, saved) in document.views.iter().enumerate() {
        let at = format!("$.views[{v}].view");
        let view = &saved.view;
        shown.maybe(format!("{at}.left"), view.left.as_ref(), found);
        shown.maybe(format!("{at}.right"), view.right.as_ref(), found);
        pins.maybe(format!("{at}.pin"), view.pin.as_ref(), found);
        regions.maybe(format!("{at}.region"), view.region.as_ref(), found);
    }
}

fn anchor(document: &Dossier, at: &str, anchor: Option<&Anchor>, found: &mut Findings) {
    if let Some(anchor) = anchor {
        let sheets = known!("sheet", document.surface.sheets);
        sheets.one(format!("{at}.anchor.sheet"), &anchor.sheet, found);
    }
}
