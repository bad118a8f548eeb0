//! The document without what is withheld.

use std::collections::{BTreeSet, HashSet};

use ganosis_dossier::document::{CLEARANCE_FIELD, Claim, Cleared, Layer, SavedView};
use ganosis_dossier::{Dossier, Text};
use serde_json::Value;

use super::PublicError;

/// Something that is in the dossier and not in its public copy.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Absent {
    /// What it is: `layer:uvl`, as the audit names things.
    pub what: String,
    /// Why: "not cleared", or what it cannot be shown without.
    pub why: String,
}

/// A document for everybody.
#[derive(Debug, Clone, PartialEq)]
pub struct PublicCopy {
    /// The document.
    pub document: Dossier,
    /// What was left out, in the order of the document.
    pub left_out: Vec<Absent>,
    /// References that were taken out of what stays: `claim:c-07`, and what it no longer names.
    pub shortened: Vec<Absent>,
    /// Numbers that the region map must no longer have.
    pub region_numbers: Vec<u32>,
    /// Words by which the public could learn of what was left out: ids, names, files.
    pub(super) words: BTreeSet<String>,
    /// Files that only what was left out names.
    pub(super) withheld_files: BTreeSet<String>,
}

/// Takes out what is withheld and what cannot be shown without it.
///
/// # Errors
/// [`PublicError`] where it is not certain what is cleared.
pub fn public_copy(document: &Dossier) -> Result<PublicCopy, PublicError> {
    if !document.is_public() {
        return Err(PublicError::Nothing);
    }
    if let Some(first) = document.left_out.first() {
        let first = first.clone();
        return Err(PublicError::Unclear { first });
    }
    let mut maker = Maker::new(document);
    maker.people_and_layers();
    maker.regions_and_palette();
    maker.evidence();
    maker.claims();
    maker.pins_and_views();
    let copy = maker.finish(document);
    // What is left that says "public" stands where nobody looks, or says true.
    match misplaced(&copy.document.to_value(), "$") {
        Some(path) => Err(PublicError::Misplaced { path }),
        None => Ok(copy),
    }
}

/// A clearance that is still there and does not clear.
fn misplaced(value: &Value, path: &str) -> Option<String> {
    match value {
        Value::Object(fields) => fields.iter().find_map(|(name, value)| {
            let at = ganosis_dossier::finding::member_path(path, name);
            if name == CLEARANCE_FIELD && *value != Value::Bool(true) {
                return Some(at);
            }
            misplaced(value, &at)
        }),
        Value::Array(list) => list
            .iter()
            .enumerate()
            .find_map(|(i, value)| misplaced(value, &format!("{path}[{i}]"))),
        _ => None,
    }
}

struct Maker {
    out: Dossier,
    left_out: Vec<Absent>,
    shortened: Vec<Absent>,
    region_numbers: Vec<u32>,
    words: BTreeSet<String>,
    /// Strings within what was left out; those that are files go with it.
    strings: BTreeSet<String>,
}

/// Ids of one kind that are left out.
type Ids = HashSet<String>;

const NOT_CLEARED: &str = "not cleared";

/// Leaves entries of a list out: those that are not cleared, and those for which `why` has a reason.
macro_rules! leave_out {
    ($maker:expr, $list:ident, $kind:literal, $why:expr) => {{
        let all = std::mem::take(&mut $maker.out.$list);
        let twice: HashSet<String> = all
            .iter()
            .filter(|item| !item.is_public())
            .map(|item| item.id.clone())
            .collect();
        let mut ids = Ids::new();
        for item in all {
            let why: Option<String> = if twice.contains(&item.id) {
                Some(NOT_CLEARED.to_owned())
            } else {
                $why(&item)
            };
            match why {
                None => $maker.out.$list.push(item),
                Some(why) => {
                    $maker.note($kind, &item.id, why, serde_json::to_value(&item));
                    ids.insert(item.id);
                }
            }
        }
        ids
    }};
}

impl Maker {
    fn new(document: &Dossier) -> Self {
        Self {
            out: document.clone(),
            left_out: Vec::new(),
            shortened: Vec::new(),
            region_numbers: Vec::new(),
            words: BTreeSet::new(),
            strings: BTreeSet::new(),
        }
    }

    fn note(&mut self, kind: &str, id: &str, why: String, item: serde_json::Result<Value>) {
        let what = format!("{kind}:{id}");
        if !id.is_empty() {
            self.words.insert(id.to_owned());
        }
        gather(&item.unwrap_or_default(), &mut self.strings);
        self.left_out.push(Absent { what, why });
    }

    fn shorten(&mut self, what: String, of: &str, ids: &[String]) {
        if !ids.is_empty() {
            let why = format!("no longer names {of} {}", ids.join(", "));
            self.shortened.push(Absent { what, why });
        }
    }

    fn people_and_layers(&mut self) {
        let names: Vec<Text> = {
            let people = self.out.people.iter();
            let withheld = people.filter(|person| !person.is_public());
            withheld.map(|person| person.name.clone()).collect()
        };
        for name in &names {
            self.words.extend(texts(name));
        }
        let people = leave_out!(self, people, "person", |_: &_| None);
        self.without_people(&people);
        let layers = leave_out!(self, layers, "layer", |_: &_| None);
        let withheld_files: BTreeSet<String> = self.strings.clone();
        let mut cut = Vec::new();
        for layer in &mut self.out.layers {
            cut.extend(without_inputs(layer, &withheld_files));
        }
        for (what, files) in cut {
            self.shorten(what, "its source", &files);
        }
        self.states_without(&layers);
    }

    fn without_people(&mut self, people: &Ids) {
        if people.is_empty() {
            return;
        }
        let mut short = Vec::new();
        let mut gone = Vec::new();
        for state in &mut self.out.states {
            short.push((
                format!("state:{}", state.id),
                take_from(&mut state.proposed_by, people),
            ));
        }
        for item in &mut self.out.evidence {
            short.push((
                format!("evidence:{}", item.id),
                take_one(&mut item.operator, people),
            ));
        }
        for claim in &mut self.out.claims {
            short.push((
                format!("claim:{}", claim.id),
                take_one(&mut claim.author, people),
            ));
            let of = format!("review of claim:{}", claim.id);
            claim.reviews.retain(|review| {
                let keep = !people.contains(&review.by);
                if !keep {
                    gone.push((of.clone(), review.by.clone()));
                }
                keep
            });
            for review in &mut claim.reviews {
                if let Some(answer) = review.answer.take_if(|a| people.contains(&a.by)) {
                    gone.push((format!("answer to a {of}"), answer.by));
                }
            }
        }
        self.out.set_aside.retain(|aside| {
            let keep = !people.contains(&aside.by);
            if !keep {
                gone.push((
                    format!("set aside: {} {}", aside.rule, aside.about),
                    aside.by.clone(),
                ));
            }
            keep
        });
        for (what, ids) in short {
            self.shorten(what, "person", &ids);
        }
        for (what, by) in gone {
            let why = format!("by person:{by}, who is not cleared");
            self.left_out.push(Absent { what, why });
        }
    }

    fn states_without(&mut self, layers: &Ids) {
        let states = leave_out!(
            self,
            states,
            "state",
            |state: &ganosis_dossier::document::State| {
                let layer = state.layers.iter().find(|id| layers.contains(*id))?;
                Some(format!("shows layer:{layer}, which is not cleared"))
            }
        );
        let mut short = Vec::new();
        for state in &mut self.out.states {
            let ids = take_from(&mut state.based_on, &states);
            short.push((format!("state:{}", state.id), ids));
        }
        for (what, ids) in short {
            self.shorten(what, "state", &ids);
        }
        let hidden: Ids = states.union(layers).cloned().collect();
        let claims = leave_out!(self, claims, "claim", |claim: &Claim| {
            none_left(&claim.states, &states)
                .then(|| "holds only in states that are left out".to_owned())
        });
        for claim in &mut self.out.claims {
            claim.states.retain(|id| !states.contains(id));
        }
        self.without_claims(&claims);
        let pins = leave_out!(self, pins, "pin", |pin: &ganosis_dossier::document::Pin| {
            none_left(&pin.states, &states)
                .then(|| "stands only in states that are left out".to_owned())
        });
        for pin in &mut self.out.pins {
            pin.states.retain(|id| !states.contains(id));
        }
        self.without_pins(&pins);
        leave_out!(self, views, "view", |saved: &SavedView| shows(
            saved, &hidden
        ));
    }

    fn regions_and_palette(&mut self) {
        let numbers: Vec<u32> = {
            let regions = self.out.regions.iter();
            let withheld = regions.filter(|region| !region.is_public());
            withheld.map(|region| region.number).collect()
        };
        self.region_numbers = numbers;
        let regions = leave_out!(self, regions, "region", |_: &_| None);
        let palette = leave_out!(self, palette, "palette", |_: &_| None);
        let claims = leave_out!(self, claims, "claim", |claim: &Claim| {
            if claim.parts.is_empty() && none_left(&claim.regions, &regions) {
                return Some("covers only regions that are left out".to_owned());
            }
            let paint = paints(claim).find(|id| palette.contains(*id))?;
            Some(format!("is of palette:{paint}, which is not cleared"))
        });
        let mut short = Vec::new();
        for claim in &mut self.out.claims {
            let ids = take_from(&mut claim.regions, &regions);
            short.push((format!("claim:{}", claim.id), "region", ids));
        }
        for item in &mut self.out.evidence {
            let what = format!("evidence:{}", item.id);
            short.push((what.clone(), "region", take_one(&mut item.region, &regions)));
            short.push((
                what,
                "palette entry",
                take_from(&mut item.identified, &palette),
            ));
        }
        for saved in &mut self.out.views {
            let ids = take_one(&mut saved.view.region, &regions);
            short.push((format!("view:{}", saved.id), "region", ids));
        }
        for (what, of, ids) in short {
            self.shorten(what, of, &ids);
        }
        self.without_claims(&claims);
        self.without_asides("region", &regions);
        self.without_asides("palette", &palette);
    }

    fn evidence(&mut self) {
        let evidence = leave_out!(self, evidence, "evidence", |_: &_| None);
        let mut gone = Vec::new();
        for item in &mut self.out.evidence {
            let id = item.id.clone();
            item.attachments.retain(|attachment| {
                let keep = attachment.is_public();
                if !keep {
                    gone.push((id.clone(), attachment.clone()));
                }
                keep
            });
        }
        for (id, attachment) in gone {
            let what = format!("attachment {} of evidence:{id}", attachment.file);
            gather(
                &serde_json::to_value(&attachment).unwrap_or_default(),
                &mut self.strings,
            );
            self.left_out.push(Absent {
                what,
                why: NOT_CLEARED.to_owned(),
            });
        }
        let mut short = Vec::new();
        for claim in &mut self.out.claims {
            let ids = take_from(&mut claim.evidence, &evidence);
            short.push((format!("claim:{}", claim.id), ids));
        }
        for pin in &mut self.out.pins {
            let ids = take_from(&mut pin.evidence, &evidence);
            short.push((format!("pin:{}", pin.id), ids));
        }
        for (what, ids) in short {
            self.shorten(what, "evidence", &ids);
        }
        self.without_asides("evidence", &evidence);
    }

    fn claims(&mut self) {
        let claims = leave_out!(self, claims, "claim", |_: &_| None);
        let mut gone = Vec::new();
        for claim in &mut self.out.claims {
            let id = claim.id.clone();
            claim.reviews.retain(|review| {
                let keep = review.is_public();
                if !keep {
                    gone.push((id.clone(), review.clone()));
                }
                keep
            });
        }
        for (id, review) in gone {
            gather(
                &serde_json::to_value(&review).unwrap_or_default(),
                &mut self.strings,
            );
            self.left_out.push(Absent {
                what: format!("review of claim:{id}"),
                why: NOT_CLEARED.to_owned(),
            });
        }
        self.without_claims(&claims);
    }

    fn without_claims(&mut self, claims: &Ids) {
        let mut short = Vec::new();
        for pin in &mut self.out.pins {
            let ids = take_from(&mut pin.claims, claims);
            short.push((format!("pin:{}", pin.id), ids));
        }
        for (what, ids) in short {
            self.shorten(what, "claim", &ids);
        }
        self.without_asides("claim", claims);
    }

    /// What was set aside about something that is left out.
    fn without_asides(&mut self, kind: &str, ids: &Ids) {
        let mut gone = Vec::new();
        self.out.set_aside.retain(|aside| {
            let about = aside.about.strip_prefix(kind);
            let id = about.and_then(|rest| rest.strip_prefix(':'));
            let keep = !id.is_some_and(|id| ids.contains(id));
            if !keep {
                gone.push(aside.about.clone());
            }
            keep
        });
        for about in gone {
            self.left_out.push(Absent {
                what: "a finding that was set aside".to_owned(),
                why: format!("it is about {about}"),
            });
        }
    }

    fn pins_and_views(&mut self) {
        let pins = leave_out!(self, pins, "pin", |_: &_| None);
        leave_out!(self, views, "view", |_: &SavedView| None);
        self.without_pins(&pins);
    }

    fn without_pins(&mut self, pins: &Ids) {
        let mut short = Vec::new();
        for saved in &mut self.out.views {
            let ids = take_one(&mut saved.view.pin, pins);
            short.push((format!("view:{}", saved.id), ids));
        }
        for (what, ids) in short {
            self.shorten(what, "pin", &ids);
        }
    }

    fn finish(mut self, before: &Dossier) -> PublicCopy {
        let public: HashSet<&str> = {
            let named = self.out.named_files();
            named.into_iter().map(|(_, file)| file).collect()
        };
        let named_before: HashSet<&str> =
            before.named_files().into_iter().map(|(_, f)| f).collect();
        let withheld_files: BTreeSet<String> = self
            .strings
            .iter()
            .filter(|text| !public.contains(text.as_str()))
            .cloned()
            .collect();
        self.words.extend(
            withheld_files
                .iter()
                .filter(|file| named_before.contains(file.as_str()))
                .cloned(),
        );
        // An id that something public of another kind has too says nothing.
        let open = ids_of(&self.out);
        self.words.retain(|word| !open.contains(word));
        PublicCopy {
            document: self.out,
            left_out: self.left_out,
            shortened: self.shortened,
            region_numbers: self.region_numbers,
            words: self.words,
            withheld_files,
        }
    }
}

/// Every string of a value.
fn gather(value: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::String(text) => {
            into.insert(text.clone());
        }
        Value::Array(list) => list.iter().for_each(|value| gather(value, into)),
        Value::Object(fields) => fields.values().for_each(|value| gather(value, into)),
        _ => {}
    }
}

fn texts(text: &Text) -> Vec<String> {
    match text {
        Text::Plain(text) => vec![text.clone()],
        Text::Languages(map) => map.values().cloned().collect(),
    }
    .into_iter()
    .filter(|text| !text.trim().is_empty())
    .collect()
}

fn ids_of(document: &Dossier) -> HashSet<String> {
    macro_rules! ids {
        ($($list:expr),+) => {
            [$($list.iter().map(|item| item.id.clone()).collect::<Vec<_>>()),+].concat()
        };
    }
    ids!(
        document.people,
        document.layers,
        document.states,
        document.regions,
        document.palette,
        document.evidence,
        document.claims,
        document.pins,
        document.views,
        document.surface.sheets,
        document.surface.parts
    )
    .into_iter()
    .collect()
}

/// Takes ids out of a list and gives them.
fn take_from(list: &mut Vec<String>, ids: &Ids) -> Vec<String> {
    let (gone, kept) = std::mem::take(list)
        .into_iter()
        .partition(|id| ids.contains(id));
    *list = kept;
    gone
}

fn take_one(field: &mut Option<String>, ids: &Ids) -> Vec<String> {
    field.take_if(|id| ids.contains(id)).into_iter().collect()
}

/// True if a list named something and all of it is gone.
fn none_left(list: &[String], gone: &Ids) -> bool {
    !list.is_empty() && list.iter().all(|id| gone.contains(id))
}

fn paints(claim: &Claim) -> impl Iterator<Item = &String> {
    let mixed = claim.mixture.iter().map(|part| &part.pigment);
    claim.pigment.iter().chain(&claim.over).chain(mixed)
}

/// What the view shows that is gone; a view may name more than two in fields
/// of later versions, so every string of it counts.
fn shows(saved: &SavedView, hidden: &Ids) -> Option<String> {
    let mut strings = BTreeSet::new();
    let view = serde_json::to_value(&saved.view).unwrap_or_default();
    gather(&view, &mut strings);
    keys(&view, &mut strings);
    let id = strings.into_iter().find(|text| hidden.contains(text))?;
    Some(format!("shows {id}, which is left out"))
}

fn keys(value: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::Array(list) => list.iter().for_each(|value| keys(value, into)),
        Value::Object(fields) => {
            for (name, value) in fields {
                into.insert(name.clone());
                keys(value, into);
            }
        }
        _ => {}
    }
}

/// Takes files of what is withheld out of the record of how a layer was made.
fn without_inputs(layer: &mut Layer, files: &BTreeSet<String>) -> Option<(String, Vec<String>)> {
    let origin = layer.origin.as_mut()?;
    let mut gone = Vec::new();
    origin.inputs.retain(|input| {
        let keep = !files.contains(&input.file);
        if !keep {
            gone.push(input.file.clone());
        }
        keep
    });
    Some((format!("layer:{}", layer.id), gone))
}
