//! In place of `figures` where the program was built without the renderer.

use std::marker::PhantomData;

use ganosis_audit::report::Picture;
use ganosis_dossier::Dossier;
use ganosis_dossier::store::Store;

const REASON: &str = "this `ganosis` was built without the feature `pictures` (`cargo build --release --package ganosis-cli` has it)";

/// Draws nothing and says why.
pub(super) struct Figures<'a>(PhantomData<&'a ()>);

impl<'a> Figures<'a> {
    pub(super) fn new(_document: &'a Dossier, _store: &'a dyn Store) -> Self {
        Self(PhantomData)
    }

    pub(super) fn of_state(&self, _id: &str) -> Vec<Picture> {
        Vec::new()
    }

    pub(super) fn likeness(&self, _size: [u32; 2]) -> Option<Vec<u8>> {
        None
    }

    pub(super) fn of_region(&self, _id: &str) -> Option<Picture> {
        None
    }

    pub(super) fn of_part(&self, _id: &str) -> Option<Picture> {
        None
    }

    /// What is not in the report, and why.
    pub(super) fn missing(&self) -> Vec<String> {
        vec![format!(
            "the report has no pictures of the object: {REASON}"
        )]
    }

    /// Why there are no pictures.
    pub(super) fn about(&self) -> Vec<String> {
        vec![format!("Pictures of the object were left out: {REASON}.")]
    }
}
