//! The written side of the dossier: anchors on the mesh, attachments, and the document.

pub(crate) mod anchors;
pub(crate) mod document;
pub(crate) mod drawings;
pub(crate) mod palette;
pub(crate) mod spectra;
