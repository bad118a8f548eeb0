//! Meshes by the bytes of their files, where no porter opens them: outside the browser.

use ganosis_surface::{Surface, gltf_in};

use super::{Content, OpenError, SurfaceProgress};

impl Content {
    /// Takes the bytes of the mesh file; the surface when it is complete with them.
    ///
    /// # Errors
    /// When the mesh cannot be read.
    pub fn supply_surface(&mut self, bytes: Vec<u8>) -> Result<bool, OpenError> {
        let files = gltf_in::needed_files(&bytes).map_err(|e| self.refused(e))?;
        self.progress = SurfaceProgress::Buffers {
            bytes,
            files: files.into_iter().map(|f| (f, None)).collect(),
        };
        self.read_when_complete()
    }

    /// Takes the bytes of a buffer of the mesh file; true when the surface is complete with them.
    ///
    /// # Errors
    /// When the mesh cannot be read.
    pub fn supply_buffer(&mut self, uri: &str, bytes: Vec<u8>) -> Result<bool, OpenError> {
        if let SurfaceProgress::Buffers { files, .. } = &mut self.progress
            && let Some(file) = files.iter_mut().find(|(name, _)| name == uri)
        {
            file.1 = Some(bytes);
        }
        self.read_when_complete()
    }

    /// Reads a level of the surface.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn read_level(&self, level: usize, bytes: &[u8]) -> Result<Surface, OpenError> {
        gltf_in::read(bytes, &|_| None).map_err(|e| OpenError {
            file: self.file_of_surface(Some(level)),
            message: e.to_string(),
        })
    }

    fn read_when_complete(&mut self) -> Result<bool, OpenError> {
        let SurfaceProgress::Buffers { bytes, files } = &self.progress else {
            return Ok(false);
        };
        if files.iter().any(|(_, bytes)| bytes.is_none()) {
            return Ok(false);
        }
        let find = |uri: &str| {
            files
                .iter()
                .find(|(name, _)| name == uri)
                .and_then(|(_, bytes)| bytes.clone())
        };
        match gltf_in::read(bytes, &find) {
            Ok(surface) => self.take_surface(surface).map(|_| true),
            Err(error) => Err(self.refused(error)),
        }
    }
}
