//! The mesh and the images of a dossier in a store, for the audit.

use std::borrow::Cow;
use std::cell::RefCell;
use std::io::Cursor;

use anyhow::{Context, bail};
use ganosis_audit::{Colours, Labels, Sources};
use ganosis_dossier::Dossier;
use ganosis_dossier::document::LayerImage;
use ganosis_dossier::store::Store;
use ganosis_surface::{Surface, gltf_in};
use image::{DynamicImage, ImageReader, Limits};

/// Largest side decoded, px: that of the largest texture a device may have.
const LARGEST_PX: u32 = 32_768;

/// Most memory for one image: 8-bit RGBA of 16384 x 16384 pixels.
const LARGEST_BYTES: u64 = 1 << 30;

/// Reads from a store, one image at a time.
pub(crate) struct StoreSources<'a> {
    document: &'a Dossier,
    store: &'a dyn Store,
    surface: Option<Surface>,
    problems: Vec<String>,
    problems_with_images: RefCell<Vec<String>>,
}

impl<'a> StoreSources<'a> {
    /// Reads the mesh; the images are read when they are asked for.
    pub(crate) fn new(document: &'a Dossier, store: &'a dyn Store) -> Self {
        let mut problems = Vec::new();
        let surface = match surface(document, store) {
            Ok(surface) => Some(surface),
            Err(error) => {
                problems.push(format!("{}: {error:#}", document.surface.file));
                None
            }
        };
        Self {
            document,
            store,
            surface,
            problems,
            problems_with_images: RefCell::default(),
        }
    }

    /// Why there is no mesh.
    pub(crate) fn problems(&self) -> &[String] {
        &self.problems
    }

    /// Which images could not be used, and why, so far.
    pub(crate) fn problems_with_images(&self) -> Vec<String> {
        let mut problems = self.problems_with_images.borrow().clone();
        problems.sort();
        problems.dedup();
        problems
    }

    fn image(&self, images: &[LayerImage], sheet: &str) -> Option<DynamicImage> {
        let file = &images.iter().find(|image| image.sheet == sheet)?.file;
        match self
            .store
            .read(file)
            .map_err(Into::into)
            .and_then(|bytes| decode(&bytes))
        {
            Ok(image) => Some(image),
            Err(error) => {
                self.problems_with_images
                    .borrow_mut()
                    .push(format!("{file}: {error:#}"));
                None
            }
        }
    }
}

fn surface(document: &Dossier, store: &dyn Store) -> anyhow::Result<Surface> {
    let file = &document.surface.file;
    let bytes = store.read(file)?;
    let folder = file.rsplit_once('/').map_or("", |(folder, _)| folder);
    let beside = |name: &str| match folder {
        "" => store.read(name).ok(),
        folder => store.read(&format!("{folder}/{name}")).ok(),
    };
    Ok(gltf_in::read(&bytes, &beside)?)
}

/// An image under limits, whatever its kind.
pub(super) fn decode(bytes: &[u8]) -> anyhow::Result<DynamicImage> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .context("the image cannot be read")?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST_PX);
    limits.max_image_height = Some(LARGEST_PX);
    limits.max_alloc = Some(LARGEST_BYTES);
    reader.limits(limits);
    let image = reader
        .decode()
        .context("the image cannot be read; save it again as PNG")?;
    if image.width() == 0 || image.height() == 0 {
        bail!("the image has no pixel; save it again");
    }
    Ok(image)
}

impl Sources for StoreSources<'_> {
    fn surface(&self) -> Option<&Surface> {
        self.surface.as_ref()
    }

    fn labels(&self, sheet: &str) -> Option<Labels<'_>> {
        let map = self.document.region_map.as_ref()?;
        let image = self.image(&map.images, sheet)?;
        let (width_px, height_px) = (image.width(), image.height());
        let codes = match image {
            DynamicImage::ImageLuma8(image) => {
                image.into_raw().into_iter().map(u16::from).collect()
            }
            DynamicImage::ImageLuma16(image) => image.into_raw(),
            other => {
                let what = format!(
                    "the region map of the sheet {sheet} is {:?}; save it as a greyscale PNG of 8 or 16 bits",
                    other.color()
                );
                self.problems_with_images.borrow_mut().push(what);
                return None;
            }
        };
        Some(Labels {
            width_px,
            height_px,
            codes: Cow::Owned(codes),
        })
    }

    fn colours(&self, layer: &str, sheet: &str) -> Option<Colours<'_>> {
        let image = self.image(&self.document.layer(layer)?.images, sheet)?;
        let image = image.into_rgba8();
        Some(Colours {
            width_px: image.width(),
            height_px: image.height(),
            rgba: Cow::Owned(image.into_raw()),
        })
    }
}
