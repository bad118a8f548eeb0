//! Pigments against the date of the object.

use std::collections::BTreeSet;

use ganosis_dossier::document::PaletteEntry;

use super::{Collector, entry_name};
use crate::finding::Place;
use crate::index::{Index, pigments};

pub(super) fn check(index: &Index, found: &mut Collector) {
    let mut claimed: BTreeSet<&str> = index.document.claims.iter().flat_map(pigments).collect();
    claimed.extend(
        index
            .document
            .claims
            .iter()
            .filter_map(|claim| claim.over.as_deref()),
    );
    for entry in claimed.iter().filter_map(|id| index.entry(id)) {
        check_entry(index, entry, found);
    }
}

fn check_entry(index: &Index, entry: &PaletteEntry, found: &mut Collector) {
    let object = &index.document.object;
    let known = index.known(&entry.id);
    // What the palette says goes before the table.
    let own = entry.earliest_year.is_some() || entry.latest_year.is_some();
    let (first, last, says) = match known {
        Some(row) if !own => (
            row.earliest_year,
            row.latest_year,
            "the table of pigments, from memory",
        ),
        _ => (entry.earliest_year, entry.latest_year, "the palette"),
    };
    let place = Place {
        pigment: Some(entry.id.clone()),
        ..Place::default()
    };
    if let (Some(first), Some(latest)) = (first, object.latest_year)
        && first > latest
    {
        let message = format!(
            "{} is claimed and known from about {first} ({says}); the object is not later than {latest}",
            entry_name(entry)
        );
        found.add("pigment-not-yet", place, message);
    } else if let (Some(last), Some(earliest)) = (last, object.earliest_year)
        && last < earliest
    {
        let message = format!(
            "{} is claimed and known until about {last} ({says}); the object is not earlier than {earliest}",
            entry_name(entry)
        );
        found.add("pigment-no-longer", place, message);
    }
}
