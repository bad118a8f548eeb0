//! A folder that is there whole or not at all.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use anyhow::Context;

use crate::trouble::Trouble;

/// A new folder, made beside its place and put there when it is whole.
pub(in crate::commands) struct FreshFolder {
    target: PathBuf,
    work: tempfile::TempDir,
}

impl FreshFolder {
    /// Begins. There must be nothing at `target`, or an empty folder.
    pub(in crate::commands) fn beside(target: &Path) -> anyhow::Result<Self> {
        let target = std::path::absolute(target).context("the folder cannot be found")?;
        let taken = match fs::read_dir(&target) {
            Ok(mut entries) => entries.next().is_some(),
            Err(error) => error.kind() != io::ErrorKind::NotFound,
        };
        if taken {
            return Err(Trouble::error(
                "there is something already",
                target.display(),
                "Name a new folder, or move away what is there.",
            ));
        }
        let parent = target.parent().unwrap_or(Path::new("/"));
        fs::create_dir_all(parent).with_context(|| format!("making {}", parent.display()))?;
        let work = tempfile::Builder::new()
            .prefix(".saving-")
            .tempdir_in(parent)
            .with_context(|| format!("no folder can be made in {}", parent.display()))?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(work.path(), fs::Permissions::from_mode(0o755))
                .context("the folder cannot be made readable")?;
        }
        Ok(Self { target, work })
    }

    /// Adds a file.
    pub(in crate::commands) fn put(&mut self, path: &str, bytes: &[u8]) -> anyhow::Result<()> {
        let file = self.work.path().join(path);
        let written = || -> io::Result<()> {
            fs::create_dir_all(file.parent().unwrap_or(self.work.path()))?;
            let mut out = fs::File::create(&file)?;
            out.write_all(bytes)?;
            out.sync_all()
        };
        written().with_context(|| {
            format!("{path} could not be written; look at the free space of the disk")
        })
    }

    /// Puts it to its place.
    pub(in crate::commands) fn finish(self) -> anyhow::Result<()> {
        let Self { target, work } = self;
        if target.is_dir() {
            fs::remove_dir(&target).context("the empty folder there cannot be replaced")?;
        }
        let made = work.keep();
        fs::rename(&made, &target)
            .with_context(|| format!("{} lies at {}", target.display(), made.display()))
    }
}
