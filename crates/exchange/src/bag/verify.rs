//! Whether a bag is whole: RFC 8493, section 3, and what we promise beyond it.

use std::collections::{BTreeMap, BTreeSet};

use ganosis_dossier::store::expect_inside;
use ganosis_dossier::{Finding, Severity, StoreError};

use super::{ALGORITHMS, DECLARATION, INFORMATION, PAYLOAD, decoded, digests};

/// The files of a bag. Every one is listed, hidden ones too; what is no
/// regular file is listed in [`BagFiles::others`].
pub trait BagFiles {
    /// Paths of all files from the top of the bag, sorted.
    ///
    /// # Errors
    /// What the system says.
    fn list(&self) -> Result<Vec<String>, StoreError>;

    /// What lies there and is no file: links, devices.
    fn others(&self) -> Vec<String>;

    /// The bytes of a file.
    ///
    /// # Errors
    /// What the system says.
    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError>;
}

const COPY_AGAIN: &str =
    "Copy the bag again from where it was made or from another copy; do not mend it by hand.";

/// Everything that is wrong with a bag. The dossier within is not looked at.
///
/// # Errors
/// [`StoreError`] if the files cannot be listed.
pub fn findings(files: &dyn BagFiles) -> Result<Vec<Finding>, StoreError> {
    let all: BTreeSet<String> = files.list()?.into_iter().collect();
    let mut verifier = Verifier {
        files,
        all,
        digests: BTreeMap::new(),
        found: Vec::new(),
    };
    verifier.declaration();
    for other in files.others() {
        let message = format!("{other} is a link or no file at all");
        verifier.error("bag-not-a-file", &other, message);
    }
    let payload: BTreeSet<String> = verifier
        .all
        .iter()
        .filter(|path| path.starts_with(PAYLOAD))
        .cloned()
        .collect();
    let tags: BTreeSet<String> = verifier
        .all
        .iter()
        .filter(|path| !path.starts_with(PAYLOAD))
        .cloned()
        .collect();
    for (k, algorithm) in ALGORITHMS.iter().enumerate() {
        verifier.manifest(&format!("manifest-{algorithm}.txt"), k, &payload, true);
        let manifest = format!("tagmanifest-{algorithm}.txt");
        // Section 2.2.1: a tag manifest names every tag file but tag manifests.
        let named = tags.iter().filter(|path| !path.starts_with("tagmanifest-"));
        let named = named.cloned().collect();
        verifier.manifest(&manifest, k, &named, false);
    }
    for path in &tags {
        let other = path.strip_prefix("tag").unwrap_or(path);
        let algorithm = other
            .strip_prefix("manifest-")
            .and_then(|rest| rest.strip_suffix(".txt"));
        if algorithm.is_some_and(|name| !ALGORITHMS.contains(&name)) {
            let message = format!("{path} is a manifest of a kind that is not checked here");
            verifier.add(Severity::Warning, "bag-unknown-manifest", path, message);
        }
    }
    verifier.information(&payload);
    Ok(verifier.found)
}

struct Verifier<'a> {
    files: &'a dyn BagFiles,
    all: BTreeSet<String>,
    /// Digests and length, computed once a file.
    digests: BTreeMap<String, Option<([String; 2], u64)>>,
    found: Vec<Finding>,
}

impl Verifier<'_> {
    fn add(&mut self, severity: Severity, rule: &'static str, file: &str, message: String) {
        self.found.push(Finding {
            rule,
            severity,
            file: file.to_owned(),
            path: String::new(),
            message,
            advice: COPY_AGAIN.to_owned(),
        });
    }

    fn error(&mut self, rule: &'static str, file: &str, message: String) {
        self.add(Severity::Error, rule, file, message);
    }

    /// A tag file as text (section 2.1.1: UTF-8); reports why there is none.
    fn text(&mut self, path: &str) -> Option<String> {
        if !self.all.contains(path) {
            self.error("bag-missing-file", path, format!("{path} is missing"));
            return None;
        }
        match self.files.read(path).map(String::from_utf8) {
            Ok(Ok(text)) => Some(text),
            Ok(Err(_)) => {
                self.error("bag-unreadable-file", path, format!("{path} is not UTF-8"));
                None
            }
            Err(error) => {
                self.error("bag-unreadable-file", path, error.to_string());
                None
            }
        }
    }

    fn declaration(&mut self) {
        let Some(text) = self.text(DECLARATION) else {
            return;
        };
        let lines: Vec<&str> = text.lines().collect();
        let sound = matches!(
            lines.as_slice(),
            ["BagIt-Version: 1.0", "Tag-File-Character-Encoding: UTF-8"]
        );
        if !sound {
            let message = format!("{DECLARATION} does not declare a bag of version 1.0 in UTF-8");
            self.error("bag-declaration", DECLARATION, message);
        }
    }

    /// One manifest against the files that it should name.
    fn manifest(&mut self, manifest: &str, k: usize, wanted: &BTreeSet<String>, payload: bool) {
        let Some(text) = self.text(manifest) else {
            return;
        };
        let mut named = BTreeSet::new();
        for (number, line) in text.lines().enumerate() {
            if line.is_empty() {
                continue;
            }
            let Some((digest, path)) = line.split_once([' ', '\t']) else {
                let message = format!("line {} of {manifest} is no digest and path", number + 1);
                self.error("bag-manifest", manifest, message);
                continue;
            };
            let path = path.trim_start_matches([' ', '\t', '*']);
            let path = decoded(path.strip_prefix("./").unwrap_or(path));
            if expect_inside(&path).is_err() || path.starts_with(PAYLOAD) != payload {
                let message = format!("{manifest} names {path}, which is not where its files lie");
                self.error("bag-manifest", manifest, message);
                continue;
            }
            if !named.insert(path.clone()) {
                let message = format!("{manifest} names {path} twice");
                self.error("bag-manifest", manifest, message);
            }
            self.compare(manifest, k, digest, &path);
        }
        for path in wanted.difference(&named) {
            let message = format!(
                "{path} is not in {manifest}: it was added later, or the manifest is damaged"
            );
            self.error("bag-unlisted-file", path, message);
        }
    }

    fn compare(&mut self, manifest: &str, k: usize, digest: &str, path: &str) {
        if !self.all.contains(path) {
            let message = format!("{path} is missing; {manifest} names it");
            self.error("bag-missing-file", path, message);
            return;
        }
        let files = self.files;
        let known = self.digests.entry(path.to_owned()).or_insert_with(|| {
            let bytes = files.read(path).ok()?;
            Some((digests(&bytes), bytes.len() as u64))
        });
        match known {
            None => {
                let message = format!("{path} cannot be read");
                self.error("bag-unreadable-file", path, message);
            }
            // Section 2.4: digests are hexadecimal, in either case.
            Some((is, _)) if !is[k].eq_ignore_ascii_case(digest) => {
                let message = format!("{path} is not as it was when {manifest} was written");
                self.error("bag-changed-file", path, message);
            }
            Some(_) => {}
        }
    }

    /// What the bag says of itself.
    fn information(&mut self, payload: &BTreeSet<String>) {
        let Some(text) = self.text(INFORMATION) else {
            return;
        };
        let oxum = text
            .lines()
            .find_map(|line| line.strip_prefix("Payload-Oxum:"))
            .map(str::trim);
        let Some(oxum) = oxum else {
            let message =
                format!("{INFORMATION} does not say how much the bag holds (Payload-Oxum)");
            self.error("bag-information", INFORMATION, message);
            return;
        };
        let mut octets = 0;
        for path in payload {
            let known = self.digests.get(path).and_then(Option::as_ref);
            octets += match known {
                Some((_, length)) => *length,
                None => self.files.read(path).map_or(0, |bytes| bytes.len() as u64),
            };
        }
        let is = format!("{octets}.{}", payload.len());
        if oxum != is {
            let message = format!("the bag holds {is} (bytes, files); {INFORMATION} says {oxum}");
            self.error("bag-information", INFORMATION, message);
        }
    }
}
