//! Look-ups over a document, made once.

use std::collections::HashMap;

use ganosis_colorimetry::LabD50;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::{
    Claim, Evidence, Layer, LayerKind, PaletteEntry, Part, Region, State, StateKind,
};

use crate::tables::{Pigment, Tables, TechniqueRow, tables};

/// A document with its things by id; of two with one id the first counts.
pub(crate) struct Index<'a> {
    pub(crate) document: &'a Dossier,
    pub(crate) tables: &'static Tables,
    regions: HashMap<&'a str, &'a Region>,
    numbers: HashMap<u32, &'a Region>,
    evidence: HashMap<&'a str, &'a Evidence>,
    palette: HashMap<&'a str, &'a PaletteEntry>,
    known: HashMap<&'a str, &'static Pigment>,
    states: HashMap<&'a str, usize>,
    layers: HashMap<&'a str, &'a Layer>,
    parts: HashMap<&'a str, &'a Part>,
}

fn by_id<'a, T>(list: &'a [T], id: impl Fn(&'a T) -> &'a str) -> HashMap<&'a str, &'a T> {
    let mut map = HashMap::with_capacity(list.len());
    for item in list {
        map.entry(id(item)).or_insert(item);
    }
    map
}

impl<'a> Index<'a> {
    pub(crate) fn new(document: &'a Dossier) -> Self {
        let tables = tables();
        let mut numbers = HashMap::new();
        for region in &document.regions {
            numbers.entry(region.number).or_insert(region);
        }
        let mut states = HashMap::new();
        for (i, state) in document.states.iter().enumerate() {
            states.entry(state.id.as_str()).or_insert(i);
        }
        let known = document
            .palette
            .iter()
            .filter_map(|entry| Some((entry.id.as_str(), known_pigment(tables, entry)?)))
            .collect();
        Self {
            document,
            tables,
            regions: by_id(&document.regions, |x| &x.id),
            numbers,
            evidence: by_id(&document.evidence, |x| &x.id),
            palette: by_id(&document.palette, |x| &x.id),
            known,
            states,
            layers: by_id(&document.layers, |x| &x.id),
            parts: by_id(&document.surface.parts, |x| &x.id),
        }
    }

    pub(crate) fn region(&self, id: &str) -> Option<&'a Region> {
        self.regions.get(id).copied()
    }
    pub(crate) fn region_numbered(&self, number: u32) -> Option<&'a Region> {
        self.numbers.get(&number).copied()
    }
    pub(crate) fn evidence(&self, id: &str) -> Option<&'a Evidence> {
        self.evidence.get(id).copied()
    }
    pub(crate) fn entry(&self, id: &str) -> Option<&'a PaletteEntry> {
        self.palette.get(id).copied()
    }
    pub(crate) fn part(&self, id: &str) -> Option<&'a Part> {
        self.parts.get(id).copied()
    }
    pub(crate) fn state_number(&self, id: &str) -> Option<usize> {
        self.states.get(id).copied()
    }
    pub(crate) fn state(&self, id: &str) -> Option<&'a State> {
        self.state_number(id).map(|i| &self.document.states[i])
    }

    /// The row of the pigment table that a palette entry is, by its id or title.
    pub(crate) fn known(&self, entry: &str) -> Option<&'static Pigment> {
        self.known.get(entry).copied()
    }

    pub(crate) fn technique(&self, evidence: &Evidence) -> Option<&'static TechniqueRow> {
        self.tables.technique(evidence.technique.as_str())
    }

    /// The cited observations that exist.
    pub(crate) fn cited<'s>(&'s self, claim: &'s Claim) -> impl Iterator<Item = &'a Evidence> + 's {
        claim.evidence.iter().filter_map(|id| self.evidence(id))
    }

    /// Colour layers of a state, bottom to top.
    pub(crate) fn colour_layers(&self, state: &'a State) -> Vec<&'a Layer> {
        let layers = state
            .layers
            .iter()
            .filter_map(|id| self.layers.get(id.as_str()));
        layers
            .copied()
            .filter(|layer| layer.kind == LayerKind::Colour)
            .collect()
    }

    /// The first state that shows the object as found.
    pub(crate) fn as_found(&self) -> Option<usize> {
        let mut states = self.document.states.iter();
        states.position(|state| state.kind == StateKind::AsFound)
    }

    /// The colour a claim gives, if it is a measured one.
    pub(crate) fn colour(&self, claim: &Claim) -> Option<LabD50> {
        let of_entry = || self.entry(claim.pigment.as_deref()?)?.lab_d50;
        claim.lab_d50.or_else(of_entry).map(LabD50::from_array)
    }
}

/// Palette entries of a claim: its pigment, its mixture, not what lies beneath.
pub(crate) fn pigments(claim: &Claim) -> impl Iterator<Item = &str> {
    let mixed = claim.mixture.iter().map(|part| part.pigment.as_str());
    claim.pigment.as_deref().into_iter().chain(mixed)
}

fn known_pigment(tables: &'static Tables, entry: &PaletteEntry) -> Option<&'static Pigment> {
    use ganosis_dossier::Text;
    let titles: Vec<&str> = match &entry.title {
        Text::Plain(title) => vec![title],
        Text::Languages(map) => map.values().map(String::as_str).collect(),
    };
    let names = std::iter::once(entry.id.as_str()).chain(titles);
    names.into_iter().find_map(|name| tables.pigment(name))
}
