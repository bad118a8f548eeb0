//! What is withheld from the public, and what is public and rests on it.

use std::collections::HashSet;

use serde_json::Value;

use super::{Findings, walk};
use crate::document::{CLEARANCE_FIELD, Certainty, Cleared, Dossier};

/// Where clearance counts, with `[]` for any entry of a list.
const HONOURED: &[&str] = &[
    "$",
    "$.people[]",
    "$.layers[]",
    "$.states[]",
    "$.regions[]",
    "$.palette[]",
    "$.evidence[]",
    "$.evidence[].attachments[]",
    "$.claims[]",
    "$.claims[].reviews[]",
    "$.pins[]",
    "$.views[]",
];

/// Spellings by which somebody may mean to withhold, and which do nothing.
const MEANT: &[&str] = &[
    "private",
    "confidential",
    "restricted",
    "embargo",
    "withheld",
];

pub(super) fn check(document: &Dossier, found: &mut Findings) {
    fields(document, found);
    let withheld = Withheld::of(document);
    if withheld.is_nothing() {
        return;
    }
    states_and_views(document, &withheld, found);
    claims(document, &withheld, found);
    files(document, found);
}

/// The field where it counts, spelt right, with a truth value.
fn fields(document: &Dossier, found: &mut Findings) {
    walk(&document.to_value(), "$", &mut |path, fields| {
        for (name, value) in fields {
            let at = crate::finding::member_path(path, name);
            if name != CLEARANCE_FIELD {
                let small = name.to_lowercase();
                if small == CLEARANCE_FIELD || (MEANT.contains(&small.as_str()) && is_yes(value)) {
                    let message = format!("\"{name}\" withholds nothing");
                    found.warning(
                        "clearance-misspelt",
                        at,
                        message,
                        "If this is not for the public, write \"public\": false.",
                    );
                }
            } else if !HONOURED.contains(&any_entry(path).as_str()) {
                let message = "\"public\" has no effect here".to_owned();
                found.error(
                    "clearance-without-effect",
                    at,
                    message,
                    "Put it on the person, layer, state, region, palette entry, observation, attachment, claim, review, pin or view.",
                );
            } else if !value.is_boolean() {
                let message =
                    "\"public\" is neither true nor false; it is taken as false".to_owned();
                found.error("bad-clearance", at, message, "Write true or false.");
            }
        }
    });
}

fn is_yes(value: &Value) -> bool {
    !matches!(value, Value::Null | Value::Bool(false))
}

/// `$.a[3].b` as `$.a[].b`.
fn any_entry(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    let mut inside = false;
    for c in path.chars() {
        match c {
            '[' => {
                inside = true;
                out.push(c);
            }
            ']' => {
                inside = false;
                out.push(c);
            }
            c if inside && c.is_ascii_digit() => {}
            c => out.push(c),
        }
    }
    out
}

/// Ids of what is withheld.
struct Withheld<'a> {
    layers: HashSet<&'a str>,
    states: HashSet<&'a str>,
    palette: HashSet<&'a str>,
    evidence: HashSet<&'a str>,
    others: bool,
}

impl<'a> Withheld<'a> {
    fn of(document: &'a Dossier) -> Self {
        macro_rules! ids {
            ($list:expr) => {
                $list
                    .iter()
                    .filter(|item| !item.is_public())
                    .map(|item| item.id.as_str())
                    .collect::<HashSet<_>>()
            };
        }
        let attachments = document.evidence.iter().flat_map(|item| &item.attachments);
        let others = [
            ids!(document.people),
            ids!(document.regions),
            ids!(document.claims),
            ids!(document.pins),
            ids!(document.views),
        ];
        Self {
            layers: ids!(document.layers),
            states: ids!(document.states),
            palette: ids!(document.palette),
            evidence: ids!(document.evidence),
            others: others.iter().any(|ids| !ids.is_empty())
                || attachments.into_iter().any(|a| !a.is_public()),
        }
    }

    fn is_nothing(&self) -> bool {
        !self.others
            && [&self.layers, &self.states, &self.palette, &self.evidence]
                .iter()
                .all(|ids| ids.is_empty())
    }
}

fn states_and_views(document: &Dossier, withheld: &Withheld, found: &mut Findings) {
    for (s, state) in document.states.iter().enumerate() {
        let Some(layer) = state
            .layers
            .iter()
            .find(|id| withheld.layers.contains(id.as_str()))
        else {
            continue;
        };
        if state.is_public() {
            let message = format!(
                "the state \"{}\" is public and shows the layer \"{layer}\", which is not",
                state.id
            );
            found.warning(
                "public-state-of-withheld-layer",
                format!("$.states[{s}]"),
                message,
                "Without the layer the state cannot be shown and is left out with it: withhold the state too, or clear the layer.",
            );
        }
    }
    for (v, saved) in document.views.iter().enumerate() {
        let shown = [&saved.view.left, &saved.view.right];
        let hidden = shown.into_iter().flatten().find(|id| {
            withheld.states.contains(id.as_str()) || withheld.layers.contains(id.as_str())
        });
        if let Some(id) = hidden.filter(|_| saved.is_public()) {
            let message = format!(
                "the view \"{}\" is public and shows \"{id}\", which is not",
                saved.id
            );
            found.warning(
                "public-view-of-withheld",
                format!("$.views[{v}]"),
                message,
                "It is left out of public copies: withhold it too, or let it show something public.",
            );
        }
    }
}

fn claims(document: &Dossier, withheld: &Withheld, found: &mut Findings) {
    for (c, claim) in document.claims.iter().enumerate() {
        if !claim.is_public() {
            continue;
        }
        let at = format!("$.claims[{c}]");
        let hidden: Vec<&str> = claim
            .evidence
            .iter()
            .map(String::as_str)
            .filter(|id| withheld.evidence.contains(id))
            .collect();
        if !hidden.is_empty() {
            let none_left = hidden.len() == claim.evidence.len()
                && matches!(claim.certainty, Certainty::Measured | Certainty::Observed);
            let message = format!(
                "the claim \"{}\" is public and rests on {}, which is not",
                claim.id,
                hidden.join(", ")
            );
            let advice = if none_left {
                "In public nothing would be left of what it rests on: withhold the claim too, clear the evidence, or give it another certainty."
            } else {
                "In public it rests on less than here: see that its argument does not lean on what is withheld."
            };
            found.warning("public-claim-on-withheld", at.clone(), message, advice);
        }
        for id in claim.paints() {
            if withheld.palette.contains(id) {
                let message = format!(
                    "the claim \"{}\" is public and of the pigment \"{id}\", which is not",
                    claim.id
                );
                found.warning(
                    "public-claim-of-withheld-pigment",
                    at.clone(),
                    message,
                    "It is left out of public copies: withhold it too, or clear the pigment.",
                );
            }
        }
    }
}

/// Files of something withheld that something public names too.
fn files(document: &Dossier, found: &mut Findings) {
    let mut public = document.clone();
    public.layers.retain(Cleared::is_public);
    public.palette.retain(Cleared::is_public);
    public.evidence.retain(Cleared::is_public);
    for item in &mut public.evidence {
        item.attachments.retain(Cleared::is_public);
    }
    let open: HashSet<&str> = public.named_files().into_iter().map(|(_, f)| f).collect();
    let mut places = document.named_files();
    // The same places with the public ones taken off, each as often as it is public.
    for (_, file) in public.named_files() {
        if let Some(at) = places.iter().position(|(_, other)| *other == file) {
            places.remove(at);
        }
    }
    for (path, file) in places {
        if open.contains(file) {
            let message = format!("{file} belongs to something withheld and to something public");
            found.warning(
                "withheld-file-in-use",
                path,
                message,
                "It goes out with what is public: withhold that too, or give it a file of its own.",
            );
        }
    }
}
