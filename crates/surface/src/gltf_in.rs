//! glTF 2.0 in: .glb, and .gltf with buffers beside it or as data URIs.

mod accessor;
mod buffers;
mod container;
mod document;
mod extensions;
mod materials;
mod normals;
mod primitive;
mod scene;

use crate::{Counts, Surface, SurfaceError};

/// At most this many vertices, and triangles, in one surface: with 32 bytes a
/// vertex and 12 a triangle that is 1.8 GB, near what a 4 GiB wasm memory can
/// take. Choice of this project.
pub const MOST_ELEMENTS: u64 = 40_000_000;

/// The files beside it that hold the geometry: relative paths, percent-decoded,
/// each once. Pictures are not among them.
///
/// # Errors
/// If the bytes are not glTF 2.0, need an unsupported extension, or refer to a
/// buffer outside the file's own folder.
pub fn needed_files(bytes: &[u8]) -> Result<Vec<String>, SurfaceError> {
    let container = container::split(bytes)?;
    let document = document::Document::parse(container.json)?;
    buffers::needed(&document)
}

/// Reads the file's default scene (else its first, else its root nodes).
/// `fetch` gives the content of a file named by [`needed_files`].
///
/// # Errors
/// See [`SurfaceError`]; what could be mended is told in [`Surface::notes`].
pub fn read(
    bytes: &[u8],
    fetch: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<Surface, SurfaceError> {
    read_counted(bytes, fetch).map(|(surface, _)| surface)
}

/// As [`read`], with the number of things in the file.
///
/// # Errors
/// As [`read`].
pub fn read_counted(
    bytes: &[u8],
    fetch: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<(Surface, Counts), SurfaceError> {
    let container = container::split(bytes)?;
    let document = document::Document::parse(container.json)?;
    let buffers = buffers::Buffers::new(&document, container.bin, fetch);
    scene::read(&document, &buffers)
}
