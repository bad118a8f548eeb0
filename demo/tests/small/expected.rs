//! The generated files against those accepted before, by SHA-256: see `demo/expected/README.md`.
//! Of a picture its texels count, not how they were compressed.

use anyhow::{Context, Result};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn list(dir: &Path) -> Result<BTreeMap<String, String>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![dir.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder)? {
            let path = entry?.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let digest = Sha256::digest(content(&path)?);
            let hex: String = digest.iter().map(|b| format!("{b:02x}")).collect();
            let name = path.strip_prefix(dir)?.to_string_lossy().replace('\\', "/");
            found.insert(name, hex);
        }
    }
    Ok(found)
}

/// The bytes of a file; of a PNG its size, kind and texels.
fn content(path: &Path) -> Result<Vec<u8>> {
    let bytes = std::fs::read(path)?;
    if path.extension().is_none_or(|ending| ending != "png") {
        return Ok(bytes);
    }
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .with_context(|| path.display().to_string())?;
    let size = reader
        .output_buffer_size()
        .context("the picture is too large")?;
    let mut texels = vec![0; size];
    let frame = reader.next_frame(&mut texels)?;
    let kind = format!(
        "{} {} {:?} {:?} ",
        frame.width, frame.height, frame.color_type, frame.bit_depth
    );
    texels.splice(0..0, kind.into_bytes());
    Ok(texels)
}

#[test]
fn the_files_are_those_accepted() -> Result<()> {
    let made = list(super::MADE.path())?;
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("expected/small.sha256");
    if std::env::var_os("GANOSIS_ACCEPT").is_some() {
        let text: String = made.iter().map(|(f, h)| format!("{h}  {f}\n")).collect();
        return std::fs::write(&path, text).context("writing expected/small.sha256");
    }
    let text = std::fs::read_to_string(&path).context("reading expected/small.sha256")?;
    let wanted: BTreeMap<String, String> = text
        .lines()
        .filter_map(|line| line.split_once("  "))
        .map(|(hash, file)| (file.to_owned(), hash.to_owned()))
        .collect();
    assert!(wanted.len() > 50, "only {} files are listed", wanted.len());
    let all = wanted.keys().chain(made.keys());
    let differing: std::collections::BTreeSet<&String> =
        all.filter(|f| wanted.get(*f) != made.get(*f)).collect();
    assert!(
        differing.is_empty(),
        "not as accepted: {differing:#?}\nIf that is meant, look at the pictures and accept it as demo/expected/README.md says."
    );
    Ok(())
}
