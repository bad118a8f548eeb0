//! What in a dossier does not hold, hints for the analyst, where hypotheses
//! part, and the report.
//!
//! * [`run`]: every rule over a document; gives an [`Audit`].
//! * [`hints`]: what elements and bands are consistent with, never what is.
//! * [`compare`]: two states, region by region.
//! * [`report`]: all of it as one self-contained page.
//! * `decoded` (feature `images`): the mesh and the images from the bytes of files.
//! * [`told`]: every sentence of the findings, by key and with its values, for pages in other languages.
//! * [`tables`]: the rules, pigments, techniques and limits, as data with their sources.
//!
//! Invariants: no input or output, no clock, no thread; pixels and the mesh
//! come through the trait [`Sources`], and what it does not give is named in
//! [`Audit::not_examined`], never guessed. Nothing in a document can make the
//! audit fail. It judges what is written, not who is right: a finding says
//! what is wrong and what would settle it, and can be set aside with a reason.
//!
//! What is simplified: a claim counts only in the states it names (not in
//! states built on them); a state has the date of the object.

pub mod compare;
#[cfg(feature = "images")]
pub mod decoded;
pub mod finding;
pub mod hints;
mod index;
pub mod measure;
pub mod report;

mod rules;
pub mod sources;
pub mod tables;
pub mod told;

pub use finding::{Audit, Finding, Place, Severity};
pub use sources::{Colours, Labels, NoSources, Sources};

use ganosis_dossier::Dossier;
use index::Index;
use rules::Collector;

/// Audits a document. `sources` gives the mesh and the images.
#[must_use]
pub fn run(document: &Dossier, sources: &dyn Sources) -> Audit {
    let index = Index::new(document);
    let measures = measure::Measures::take(&index, sources);
    let mut found = Collector::new(&index);
    rules::all(&index, &measures, &mut found);
    found.finish(measures)
}
