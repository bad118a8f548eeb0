//! The mesh and the images of a dossier, decoded from the bytes of its files.

use std::borrow::Cow;
use std::cell::RefCell;
use std::io::Cursor;

use ganosis_dossier::Dossier;
use ganosis_dossier::document::LayerImage;
use ganosis_surface::{Surface, gltf_in};
use image::{DynamicImage, ImageReader, Limits};

use crate::{Colours, Labels, Sources};

/// Largest side decoded, px: that of the largest texture a device may have.
const LARGEST_PX: u32 = 32_768;

/// Most memory for one image: 8-bit RGBA of 16384 x 16384 pixels.
pub const LARGEST_BYTES: u64 = 1 << 30;

/// Gives the bytes of a file of the dossier, or says why there are none.
pub type Read<'a> = &'a dyn Fn(&str) -> Result<Vec<u8>, String>;

/// [`Sources`] from files, one image at a time.
pub struct FileSources<'a> {
    document: &'a Dossier,
    read: Read<'a>,
    surface: Option<Cow<'a, Surface>>,
    problems: Vec<String>,
    problems_with_images: RefCell<Vec<String>>,
}

impl<'a> FileSources<'a> {
    /// Reads the mesh; the images are read when they are asked for.
    #[must_use]
    pub fn new(document: &'a Dossier, read: Read<'a>) -> Self {
        let mut sources = Self::with_surface(document, read, None);
        match surface(document, read) {
            Ok(surface) => sources.surface = Some(Cow::Owned(surface)),
            Err(problem) => sources.problems.push(problem),
        }
        sources
    }

    /// For a mesh that was read before.
    #[must_use]
    pub fn with_surface(
        document: &'a Dossier,
        read: Read<'a>,
        surface: Option<&'a Surface>,
    ) -> Self {
        Self {
            document,
            read,
            surface: surface.map(Cow::Borrowed),
            problems: Vec::new(),
            problems_with_images: RefCell::default(),
        }
    }

    /// Why there is no mesh.
    #[must_use]
    pub fn problems(&self) -> &[String] {
        &self.problems
    }

    /// Which images could not be used, and why, so far.
    #[must_use]
    pub fn problems_with_images(&self) -> Vec<String> {
        let mut problems = self.problems_with_images.borrow().clone();
        problems.sort();
        problems.dedup();
        problems
    }

    fn image(&self, images: &[LayerImage], sheet: &str) -> Option<DynamicImage> {
        let file = &images.iter().find(|image| image.sheet == sheet)?.file;
        match (self.read)(file).and_then(|bytes| decode(&bytes)) {
            Ok(image) => Some(image),
            Err(problem) => {
                let problem = format!("{file}: {problem}");
                self.problems_with_images.borrow_mut().push(problem);
                None
            }
        }
    }
}

/// Reads the mesh of a dossier.
///
/// # Errors
/// Which file cannot be used, and why.
pub fn surface(document: &Dossier, read: Read) -> Result<Surface, String> {
    let file = &document.surface.file;
    let named = |problem: String| format!("{file}: {problem}");
    let bytes = read(file).map_err(named)?;
    let beside = |name: &str| read(&ganosis_surface::beside(file, name)).ok();
    gltf_in::read(&bytes, &beside).map_err(|error| named(error.to_string()))
}

/// Decodes an image under limits, whatever its kind.
///
/// # Errors
/// Why it cannot be used, and what to do.
pub fn decode(bytes: &[u8]) -> Result<DynamicImage, String> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| format!("the image cannot be read: {error}"))?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST_PX);
    limits.max_image_height = Some(LARGEST_PX);
    limits.max_alloc = Some(LARGEST_BYTES);
    reader.limits(limits);
    let image = reader
        .decode()
        .map_err(|error| format!("the image cannot be read; save it again as PNG: {error}"))?;
    if image.width() == 0 || image.height() == 0 {
        return Err("the image has no pixel; save it again".to_owned());
    }
    Ok(image)
}

impl Sources for FileSources<'_> {
    fn surface(&self) -> Option<&Surface> {
        self.surface.as_deref()
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
