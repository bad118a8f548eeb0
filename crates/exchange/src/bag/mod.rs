//! A dossier as an archive: a bag by RFC 8493, "The BagIt File Packaging
//! Format (V1.0)".
//!
//! * [`Bag`]: what goes in, with the digests that are told of it.
//! * [`findings`]: everything that is wrong with a bag.
//! * [`ro_crate`], [`readme`]: what explains it to people and programs that
//!   have never heard of this one.

mod about;
mod verify;

pub use about::{readme, ro_crate};
pub use verify::{BagFiles, findings};

use std::collections::BTreeMap;

use sha2::{Digest, Sha256, Sha512};

use crate::names::hex;

/// Folder of what the bag is for (section 2.1.2).
pub const PAYLOAD: &str = "data/";
/// The declaration (section 2.1.1).
pub const DECLARATION: &str = "bagit.txt";
/// Information about the bag (section 2.2.2).
pub const INFORMATION: &str = "bag-info.txt";
/// Where the dossier lies in the payload.
pub const DOSSIER: &str = "data/dossier/";

const DECLARED: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// Algorithms of manifests (section 2.4 asks for SHA-512 and SHA-256).
const ALGORITHMS: [&str; 2] = ["sha256", "sha512"];

/// A bag being filled: digests only; the caller keeps the bytes.
#[derive(Debug, Clone, Default)]
pub struct Bag {
    /// SHA-256, SHA-512 and length by path from the top of the bag.
    files: BTreeMap<String, ([String; 2], u64)>,
}

impl Bag {
    /// Adds a file of the payload; `path` begins with [`PAYLOAD`].
    pub fn add(&mut self, path: &str, bytes: &[u8]) {
        let told = (digests(bytes), bytes.len() as u64);
        self.files.insert(path.to_owned(), told);
    }

    /// The tag files: declaration, information, manifests. `date` is the day
    /// of bagging, ISO 8601; `about` are further fields of the information.
    #[must_use]
    pub fn tag_files(&self, date: &str, about: &[(&str, String)]) -> Vec<(String, Vec<u8>)> {
        let octets: u64 = self.files.values().map(|(_, length)| length).sum();
        let mut information = String::new();
        let mut field = |name: &str, value: &str| {
            // A line break would need a mark of its own (section 2.2.2): a value is one line.
            let value = value.split_whitespace().collect::<Vec<_>>().join(" ");
            if !value.is_empty() {
                information.push_str(&format!("{name}: {value}\n"));
            }
        };
        for (name, value) in about {
            field(name, value);
        }
        field("Bagging-Date", date);
        field("Payload-Oxum", &format!("{octets}.{}", self.files.len()));
        field(
            "Bag-Software-Agent",
            concat!("ganosis ", env!("CARGO_PKG_VERSION")),
        );
        let mut tags: Vec<(String, Vec<u8>)> = vec![
            (DECLARATION.to_owned(), DECLARED.into()),
            (INFORMATION.to_owned(), information.into()),
        ];
        for (k, algorithm) in ALGORITHMS.iter().enumerate() {
            let manifest: String = self
                .files
                .iter()
                .map(|(path, (digests, _))| format!("{}  {}\n", digests[k], encoded(path)))
                .collect();
            tags.push((format!("manifest-{algorithm}.txt"), manifest.into()));
        }
        let told: Vec<(String, [String; 2])> = tags
            .iter()
            .map(|(path, bytes)| (path.clone(), digests(bytes)))
            .collect();
        for (k, algorithm) in ALGORITHMS.iter().enumerate() {
            let manifest: String = told
                .iter()
                .map(|(path, digests)| format!("{}  {path}\n", digests[k]))
                .collect();
            tags.push((format!("tagmanifest-{algorithm}.txt"), manifest.into()));
        }
        tags
    }
}

fn digests(bytes: &[u8]) -> [String; 2] {
    [hex(&Sha256::digest(bytes)), hex(&Sha512::digest(bytes))]
}

/// Section 2.1.3: line breaks and the percent sign itself are encoded.
fn encoded(path: &str) -> String {
    path.replace('%', "%25")
        .replace('\n', "%0A")
        .replace('\r', "%0D")
}

fn decoded(path: &str) -> String {
    let mut out = path.to_owned();
    for (code, letter) in [
        ("%0A", "\n"),
        ("%0a", "\n"),
        ("%0D", "\r"),
        ("%0d", "\r"),
        ("%25", "%"),
    ] {
        out = out.replace(code, letter);
    }
    out
}
