//! Where a site is put: made beside, checked, and exchanged for what was there.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use anyhow::Context;
use ganosis_dossier::write::write_atomically;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::trouble::Trouble;

/// The list of what was written, at the top of a site.
pub(crate) const LIST: &str = "published.json";

/// Name and version of that list.
const FORMAT: &str = "ganosis-site/1";

/// What a site holds of ours.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Published {
    format: String,
    /// SHA-256 in hexadecimal by path.
    files: BTreeMap<String, String>,
}

impl Published {
    /// What is not as it was written, a line each.
    pub(crate) fn findings(&self, folder: &Path) -> Vec<String> {
        let state = |(path, hash): (&String, &String)| match fs::read(folder.join(path)) {
            Ok(bytes) if hex(&bytes) == *hash => None,
            Ok(_) => Some(format!("{path} is not as it was published. Publish again.")),
            Err(_) => Some(format!(
                "{path} is missing. Publish again, or copy the whole folder again."
            )),
        };
        self.files.iter().filter_map(state).collect()
    }
}

/// The list of a published folder; `None` if it is none.
pub(crate) fn published(folder: &Path) -> anyhow::Result<Option<Published>> {
    let path = folder.join(LIST);
    let bytes = match fs::read(&path) {
        Ok(bytes) => bytes,
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
            ) =>
        {
            return Ok(None);
        }
        Err(error) => {
            return Err(error).with_context(|| format!("{} cannot be read", path.display()));
        }
    };
    let list: Option<Published> = serde_json::from_slice(&bytes).ok();
    match list.filter(|list| list.format == FORMAT) {
        Some(list) => Ok(Some(list)),
        None => Err(Trouble::error(
            "this list of a published site cannot be read",
            path.display(),
            "Delete the folder, or move it away, and publish again.",
        )),
    }
}

/// A site that is being made.
pub(super) struct Place {
    target: PathBuf,
    work: tempfile::TempDir,
    before: Option<Published>,
    files: BTreeMap<String, String>,
}

impl Place {
    /// Looks at what is there, before anything is done that takes long.
    pub(super) fn prepare(target: &Path) -> anyhow::Result<Self> {
        let target = std::path::absolute(target).context("the folder cannot be found")?;
        take_back(&target)?;
        let refuse = |what: &str, advice: &str| Trouble::error(what, target.display(), advice);
        let before = match fs::symlink_metadata(&target) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(error).context("the folder cannot be looked at"),
            Ok(about) if !about.is_dir() => {
                return Err(refuse(
                    "this is no folder",
                    "Name a folder of its own for the site.",
                ));
            }
            Ok(_) => {
                let list = published(&target)?;
                let is_empty = fs::read_dir(&target)
                    .context("the folder cannot be read")?
                    .next()
                    .is_none();
                if list.is_none() && !is_empty {
                    return Err(refuse(
                        "this folder holds something that this command did not write",
                        "Name a new folder, or an empty one.",
                    ));
                }
                list
            }
        };
        if let Some(list) = &before {
            let changed: Vec<&str> = list
                .files
                .iter()
                .filter(|(path, hash)| {
                    fs::read(target.join(path)).is_ok_and(|bytes| hex(&bytes) != **hash)
                })
                .map(|(path, _)| path.as_str())
                .collect();
            if !changed.is_empty() {
                return Err(refuse(
                    &format!("somebody has changed {}", changed.join(", ")),
                    "Move these files away (to keep them) or delete them, then publish again.",
                ));
            }
        }
        let parent = target.parent().unwrap_or(Path::new("/"));
        fs::create_dir_all(parent).with_context(|| format!("making {}", parent.display()))?;
        let work = tempfile::Builder::new()
            .prefix(".publishing-")
            .tempdir_in(parent)
            .with_context(|| format!("no folder can be made in {}", parent.display()))?;
        readable(work.path())?;
        Ok(Self {
            target,
            work,
            before,
            files: BTreeMap::new(),
        })
    }

    /// Adds a file.
    pub(super) fn put(&mut self, path: &str, bytes: &[u8]) -> anyhow::Result<()> {
        let file = self.work.path().join(path);
        let written = || -> io::Result<()> {
            fs::create_dir_all(file.parent().unwrap_or(self.work.path()))?;
            let mut out = fs::File::create(&file)?;
            out.write_all(bytes)?;
            out.sync_all()
        };
        written().with_context(|| {
            format!("{path} could not be written; look at the free space of the disk")
        })?;
        self.files.insert(path.to_owned(), hex(bytes));
        Ok(())
    }

    /// Puts the site where it belongs; gives the number of its files.
    pub(super) fn finish(self) -> anyhow::Result<usize> {
        let Self {
            target,
            work,
            before,
            files,
        } = self;
        let count = files.len();
        let list = Published {
            format: FORMAT.to_owned(),
            files,
        };
        let json = serde_json::to_vec_pretty(&list)?;
        write_atomically(&work.path().join(LIST), &json)?;
        keep_others(&target, work.path(), before.as_ref(), &list)?;
        let old = aside(&target);
        let fresh = work.keep();
        let exchange = || -> io::Result<()> {
            if target.exists() {
                fs::rename(&target, &old)?;
            }
            fs::rename(&fresh, &target)
        };
        if let Err(error) = exchange() {
            let _ = fs::remove_dir_all(&fresh);
            take_back(&target)?;
            return Err(error)
                .with_context(|| format!("the site could not be put to {}", target.display()));
        }
        // The new site stands; what is left of the old one does no harm.
        let _ = fs::remove_dir_all(&old);
        Ok(count)
    }
}

/// Where the old site is while the new one takes its place.
fn aside(target: &Path) -> PathBuf {
    let name = target.file_name().unwrap_or_default().to_string_lossy();
    target.with_file_name(format!(".{name}.before-publishing"))
}

/// Takes back an old site that a run left aside when it was killed.
fn take_back(target: &Path) -> anyhow::Result<()> {
    let old = aside(target);
    if !old.is_dir() {
        return Ok(());
    }
    let done = if target.exists() {
        fs::remove_dir_all(&old)
    } else {
        fs::rename(&old, target)
    };
    done.with_context(|| format!("an interrupted run left {}", old.display()))
}

/// Copies into the new site what others put into the old one.
fn keep_others(
    old: &Path,
    new: &Path,
    before: Option<&Published>,
    list: &Published,
) -> anyhow::Result<()> {
    let Some(before) = before else {
        return Ok(());
    };
    let ours: BTreeSet<&str> = before.files.keys().map(String::as_str).collect();
    let mut folders = vec![String::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(old.join(&folder)).context("the folder cannot be read")? {
            let entry = entry.context("the folder cannot be read")?;
            let name = entry.file_name();
            let name = name.to_str().with_context(|| {
                format!(
                    "a file in {} has a name that is no text; move it away",
                    folder
                )
            })?;
            let path = if folder.is_empty() {
                name.to_owned()
            } else {
                format!("{folder}/{name}")
            };
            if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                folders.push(path);
            } else if path != LIST && !ours.contains(path.as_str()) {
                if list.files.contains_key(&path) {
                    return Err(Trouble::error(
                        "a file that this command did not write has the name of one that it writes",
                        old.join(&path).display(),
                        "Move that file away, then publish again.",
                    ));
                }
                let to = new.join(&path);
                fs::create_dir_all(to.parent().unwrap_or(new))
                    .and_then(|()| fs::copy(entry.path(), &to))
                    .with_context(|| format!("{path} could not be kept"))?;
            }
        }
    }
    Ok(())
}

/// A temporary folder is private; a site is for a server to read.
#[cfg(unix)]
fn readable(folder: &Path) -> anyhow::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755))
        .context("the folder cannot be made readable")
}

#[cfg(not(unix))]
fn readable(_: &Path) -> anyhow::Result<()> {
    Ok(())
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}
