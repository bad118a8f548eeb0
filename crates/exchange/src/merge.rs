//! Annotations into the pins of a dossier.

use std::collections::{HashMap, HashSet};

use ganosis_dossier::document::{Anchor, FILE_NAME, Pin};
use ganosis_dossier::gltf_json::percent_decoded;
use ganosis_dossier::{Dossier, Text};
use serde_json::{Value, json};

use crate::FROM;
use crate::items::{ReadError, has_type, items, list};
use crate::model::problems;
use crate::names::{Kind, is_of, name_of, name_of_pin, pin_of, split};
use crate::place::{PLACE_SYNTAX, anchor_of};
use crate::words::Gathered;

/// What came of reading annotations.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Merged {
    /// The document with them.
    pub document: Dossier,
    /// Ids of new pins.
    pub added: Vec<String>,
    /// Pins that say something else now.
    pub changed: Vec<Change>,
    /// Number of annotations that say what the dossier says.
    pub unchanged: usize,
    /// What was not taken, and why.
    pub left_out: Vec<LeftOut>,
    /// Where the file does not keep to the model; it was read all the same.
    pub notes: Vec<String>,
}

/// A pin that says something else now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Id of the pin.
    pub pin: String,
    /// What has changed: `title`, `text`, `place`, `links`.
    pub what: Vec<&'static str>,
}

/// An annotation, or a part of one, that was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// The annotation, or its place in the file.
    pub annotation: String,
    /// Why, and what to do.
    pub reason: String,
}

/// Reads annotations (`bytes`, JSON-LD) into a copy of `document`.
///
/// An annotation of a pin changes its title, text and place, and adds links; one that is not
/// known becomes a new pin, whose id is the same each time. Observations are
/// never changed: where an annotation says otherwise, that is reported.
///
/// # Errors
/// [`ReadError`] if there is no annotation to read.
pub fn merge(document: &Dossier, bytes: &[u8]) -> Result<Merged, ReadError> {
    let items = items(bytes)?;
    let mut merger = Merger::new(document);
    for (i, item) in items.iter().enumerate() {
        merger.take(i, item);
    }
    Ok(merger.merged)
}

/// What an annotation says.
struct Said {
    title: Gathered,
    text: Gathered,
    evidence: Vec<String>,
    claims: Vec<String>,
    states: Vec<String>,
}

struct Merger {
    merged: Merged,
    pins: HashMap<String, usize>,
    evidence: HashMap<String, usize>,
    seen: HashSet<String>,
    usual: String,
}

impl Merger {
    fn new(document: &Dossier) -> Self {
        let pins = document.pins.iter().enumerate();
        let evidence = document.evidence.iter().enumerate();
        Self {
            pins: pins
                .map(|(i, pin)| (name_of_pin(document, pin), i))
                .collect(),
            evidence: evidence
                .map(|(i, item)| (name_of(&document.id, Kind::Evidence, &item.id), i))
                .collect(),
            seen: HashSet::new(),
            usual: document.language().to_owned(),
            merged: Merged {
                document: document.clone(),
                ..Merged::default()
            },
        }
    }

    fn leave_out(&mut self, annotation: &str, reason: impl Into<String>) {
        self.merged.left_out.push(LeftOut {
            annotation: annotation.to_owned(),
            reason: reason.into(),
        });
    }

    fn take(&mut self, number: usize, item: &Value) {
        let Some(name) = item["id"].as_str().filter(|name| !name.is_empty()) else {
            let place = format!("annotation {}", number + 1);
            self.leave_out(
                &place,
                "it has no id, so it could not be known again. Give it one.",
            );
            return;
        };
        let within = problems(item, true);
        self.merged.notes.extend(
            within
                .into_iter()
                .map(|problem| format!("{name}: {problem}")),
        );
        if !self.seen.insert(name.to_owned()) {
            self.leave_out(name, "it is in the file twice; the first counts.");
            return;
        }
        let said = said(item);
        if let Some(&at) = self.evidence.get(name) {
            self.compare_evidence(name, at, said);
            return;
        }
        let anchor = match self.place(item) {
            Ok(anchor) => anchor,
            Err(reason) => return self.leave_out(name, reason),
        };
        match self.pins.get(name) {
            Some(&at) => self.change(name, at, anchor, said),
            None => self.add(name, item, anchor, said),
        }
    }

    /// Observations are records; they are not changed from here.
    fn compare_evidence(&mut self, name: &str, at: usize, said: Said) {
        let item = &self.merged.document.evidence[at];
        let same = same_text(&item.title, said.title, ", ", &self.usual)
            && same_text(&item.result, said.text, "\n\n", &self.usual);
        if same {
            self.merged.unchanged += 1;
            return;
        }
        let reason = format!(
            "it says something else of the observation {} than the dossier. Observations are not changed from annotations; change it in the dossier if it is wrong there.",
            item.id
        );
        self.leave_out(name, reason);
    }

    /// The place of the first target that is on our surface.
    fn place(&self, item: &Value) -> Result<Anchor, String> {
        let document = &self.merged.document;
        let file = &document.surface.file;
        let mut reason = format!("its target is not {file}, the surface of this dossier");
        for target in list(item.get("target")) {
            let source = [
                target,
                &target["source"],
                &target["source"]["id"],
                &target["id"],
            ]
            .into_iter()
            .find_map(Value::as_str);
            let Some(source) = source.filter(|source| is_of(source, file)) else {
                continue;
            };
            reason = "it names no place on the surface that is understood (a FragmentSelector with uv or position_m)".to_owned();
            let of_address = split(source).1.and_then(anchor_of);
            let mut selectors = list(target.get("selector")).filter_map(selected);
            let Some(anchor) = selectors.next().or(of_address) else {
                continue;
            };
            let known = |sheet: &str| {
                document
                    .surface
                    .sheets
                    .iter()
                    .any(|known| known.id == sheet)
            };
            if known(&anchor.sheet) {
                return Ok(anchor);
            }
            reason = format!("there is no sheet \"{}\" on this surface", anchor.sheet);
        }
        Err(format!("{reason}. Place it by hand, or export it again."))
    }

    fn change(&mut self, name: &str, at: usize, anchor: Anchor, said: Said) {
        let links = self.links(name, &said);
        let pin = &mut self.merged.document.pins[at];
        let mut what = Vec::new();
        if !same_text(&pin.title, said.title.clone(), ", ", &self.usual) {
            pin.title = said.title.text(", ", &self.usual);
            what.push("title");
        }
        if !same_text(&pin.text, said.text.clone(), "\n\n", &self.usual) {
            pin.text = said.text.text("\n\n", &self.usual);
            what.push("text");
        }
        let before = pin.anchor.get_or_insert_default();
        let place = |a: &Anchor| (a.sheet.clone(), a.uv, a.position_m, a.normal);
        if place(before) != place(&anchor) {
            before.sheet = anchor.sheet;
            before.uv = anchor.uv;
            before.position_m = anchor.position_m;
            before.normal = anchor.normal;
            what.push("place");
        }
        let fields = [&mut pin.evidence, &mut pin.claims, &mut pin.states];
        let mut linked = false;
        for (field, ids) in fields.into_iter().zip(links) {
            for id in ids {
                if !field.contains(&id) {
                    field.push(id);
                    linked = true;
                }
            }
        }
        if linked {
            what.push("links");
        }
        let pin = pin.id.clone();
        if what.is_empty() {
            self.merged.unchanged += 1;
        } else {
            self.merged.changed.push(Change { pin, what });
        }
    }

    fn add(&mut self, name: &str, item: &Value, anchor: Anchor, said: Said) {
        let [evidence, claims, states] = self.links(name, &said);
        let id = pin_of(name);
        if self.merged.document.pins.iter().any(|pin| pin.id == id) {
            self.leave_out(
                name,
                format!("another pin has the id {id}. Rename that one."),
            );
            return;
        }
        let mut from = json!({"id": name});
        for field in ["creator", "created"] {
            if !item[field].is_null() {
                from[field] = item[field].clone();
            }
        }
        let mut pin = Pin {
            id: id.clone(),
            title: said.title.text(", ", &self.usual),
            text: said.text.text("\n\n", &self.usual),
            anchor: Some(anchor),
            evidence,
            claims,
            states,
            ..Pin::default()
        };
        pin.other.insert(FROM.to_owned(), from);
        self.merged.document.pins.push(pin);
        self.merged.added.push(id);
    }

    /// Linked evidence, claims and states that are there; the rest is reported.
    fn links(&mut self, name: &str, said: &Said) -> [Vec<String>; 3] {
        let document = &self.merged.document;
        let evidence: HashSet<&str> = document.evidence.iter().map(|x| x.id.as_str()).collect();
        let claims: HashSet<&str> = document.claims.iter().map(|x| x.id.as_str()).collect();
        let states: HashSet<&str> = document.states.iter().map(|x| x.id.as_str()).collect();
        let mut missing = Vec::new();
        let mut there = |kind: &str, ids: &[String], known: &HashSet<&str>| -> Vec<String> {
            let (there, not): (Vec<_>, Vec<_>) = ids
                .iter()
                .cloned()
                .partition(|id| known.contains(id.as_str()));
            missing.extend(not.into_iter().map(|id| format!("{kind} {id}")));
            there
        };
        let links = [
            there("evidence", &said.evidence, &evidence),
            there("claim", &said.claims, &claims),
            there("state", &said.states, &states),
        ];
        for missing in missing {
            self.leave_out(name, format!("it links to the {missing}, which this dossier does not have; that link was left out."));
        }
        links
    }
}

fn same_text(text: &Text, said: Gathered, between: &str, usual: &str) -> bool {
    if said.is_empty() {
        return text.is_empty();
    }
    *text == said.text(between, usual)
}

/// The place that a selector names in the syntax of ours.
fn selected(selector: &Value) -> Option<Anchor> {
    let ours = selector["conformsTo"].is_null() || selector["conformsTo"] == PLACE_SYNTAX;
    if ours && has_type(selector, "FragmentSelector") {
        return anchor_of(selector["value"].as_str()?);
    }
    None
}

fn said(item: &Value) -> Said {
    let mut said = Said {
        title: Gathered::default(),
        text: Gathered::default(),
        evidence: Vec::new(),
        claims: Vec::new(),
        states: Vec::new(),
    };
    if let Some(text) = item["bodyValue"].as_str() {
        said.text.add(None, text);
    }
    for body in list(item.get("body")) {
        said.hear(body);
    }
    said
}

impl Said {
    fn hear(&mut self, body: &Value) {
        if has_type(body, "Choice") {
            return list(body.get("items")).for_each(|item| self.hear(item));
        }
        let purpose = body["purpose"].as_str().unwrap_or("commenting");
        if let Some(value) = body["value"].as_str() {
            let language = list(body.get("language")).find_map(Value::as_str);
            match purpose {
                "tagging" => self.title.add(language, value),
                // A word for machines, such as the technique.
                "classifying" => {}
                _ => self.text.add(language, value),
            }
            return;
        }
        let source = body["source"]
            .as_str()
            .filter(|source| is_of(source, FILE_NAME));
        let Some((kind, id)) = source
            .and_then(|source| split(source).1)
            .and_then(|fragment| fragment.split_once(':'))
        else {
            return;
        };
        let id = percent_decoded(id);
        match kind {
            "evidence" => self.evidence.push(id),
            "claim" => self.claims.push(id),
            "state" => self.states.push(id),
            _ => {}
        }
    }
}
