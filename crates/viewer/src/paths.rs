//! Paths of files beside one another.

/// `reference`, as written in the file at `base`, from the folder that `base` counts from.
/// Paths are plain; whoever makes an address of one encodes it (RFC 3986, section 2.1).
#[must_use]
pub fn beside(base: &str, reference: &str) -> String {
    match base.rsplit_once('/') {
        Some((folder, _)) => format!("{folder}/{reference}"),
        None => reference.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::beside;

    #[test]
    fn a_reference_counts_from_the_folder_of_its_file() {
        assert_eq!(beside("dossier.json", "a/b.png"), "a/b.png");
        assert_eq!(beside("mesh/s.gltf", "s.bin"), "mesh/s.bin");
    }
}
