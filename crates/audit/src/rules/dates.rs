//! Pigments against the date of the object.

use std::collections::BTreeSet;

use ganosis_dossier::document::PaletteEntry;

use super::{Collector, entry_name};
use crate::finding::Place;
use crate::index::{Index, pigments};
use crate::told::{Value, sentences};

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
    let table = known.filter(|_| !own);
    let (first, last) = match table {
        Some(row) => (row.earliest_year, row.latest_year),
        None => (entry.earliest_year, entry.latest_year),
    };
    let place = Place {
        pigment: Some(entry.id.clone()),
        ..Place::default()
    };
    let pigment = ("pigment", entry_name(entry));
    let year = |year: i32| Value::text(year.to_string());
    if let (Some(first), Some(latest)) = (first, object.latest_year)
        && first > latest
    {
        let sentence = match table {
            Some(_) => sentences::PIGMENT_NOT_YET_BY_TABLE,
            None => sentences::PIGMENT_NOT_YET,
        };
        let values = [pigment, ("year", year(first)), ("latest", year(latest))];
        found.add(sentence, place, values);
    } else if let (Some(last), Some(earliest)) = (last, object.earliest_year)
        && last < earliest
    {
        let sentence = match table {
            Some(_) => sentences::PIGMENT_NO_LONGER_BY_TABLE,
            None => sentences::PIGMENT_NO_LONGER,
        };
        let values = [pigment, ("year", year(last)), ("earliest", year(earliest))];
        found.add(sentence, place, values);
    }
}
