//! The region maps that are drawn on, and which files they came from.

use std::hash::{DefaultHasher, Hash, Hasher};

use ganosis_dossier::Dossier;
use ganosis_editing::regions::{MapSize, RegionMap, RegionMaps};
use ganosis_surface::Surface;

use crate::{Desk, DeskError};

/// Side of a map made for a sheet of which no image tells a size, texels. A choice of ours.
const USUAL_PX: u32 = 2048;

/// Maps of all sheets of the document that the mesh has.
#[derive(Debug)]
pub(crate) struct Ground {
    pub(crate) maps: RegionMaps,
    /// One a map.
    pub(crate) origins: Vec<Origin>,
}

/// Where a map came from.
#[derive(Debug, Clone)]
pub(crate) struct Origin {
    /// The file it was read from; none: the sheet had no map.
    pub(crate) file: Option<String>,
    /// What it was when it was read.
    pub(crate) opened: u64,
    /// What it was when it was last saved.
    pub(crate) saved: u64,
    pub(crate) size: MapSize,
}

/// Tells the content of a map from any other.
pub(crate) fn print_of(map: &RegionMap) -> u64 {
    let mut hasher = DefaultHasher::new();
    (map.width_px, map.height_px).hash(&mut hasher);
    map.labels.hash(&mut hasher);
    hasher.finish()
}

impl Ground {
    /// Reads the maps of a document; sheets without one get an empty one.
    fn read(
        document: &Dossier,
        surface: &Surface,
        read: &dyn Fn(&str) -> Result<Vec<u8>, String>,
    ) -> Result<Self, DeskError> {
        let mut ground = Self {
            maps: RegionMaps::default(),
            origins: Vec::new(),
        };
        let images = || document.region_map.iter().flat_map(|map| &map.images);
        for sheet in &document.surface.sheets {
            let Some(number) = surface.sheet_named(&sheet.material) else {
                continue;
            };
            let image = images().find(|image| image.sheet == sheet.id);
            let map = match image {
                Some(image) => {
                    let bytes = read(&image.file).map_err(|e| format!("{}: {e}", image.file))?;
                    RegionMap::from_png(&sheet.id, &bytes)?
                }
                None => {
                    let [width, height] = usual_size(document, &sheet.id);
                    RegionMap::empty(&sheet.id, width, height)
                }
            };
            let print = print_of(&map);
            ground.origins.push(Origin {
                file: image.map(|image| image.file.clone()),
                opened: print,
                saved: print,
                size: MapSize {
                    sheet: number,
                    width_px: map.width_px,
                    height_px: map.height_px,
                },
            });
            ground.maps.maps.push(map);
        }
        Ok(ground)
    }

    /// The map of a sheet: a sheet that had none and on which nothing was drawn has none.
    pub(crate) fn map(&self, sheet: &str) -> Option<&RegionMap> {
        let at = self.maps.maps.iter().position(|map| map.sheet == sheet)?;
        let map = &self.maps.maps[at];
        let drawn = self.origins[at].file.is_some() || map.labels.iter().any(|n| *n != 0);
        drawn.then_some(map)
    }
}

/// The size of the largest image over a sheet.
fn usual_size(document: &Dossier, sheet: &str) -> [u32; 2] {
    let images = document.layers.iter().flat_map(|layer| &layer.images);
    let sizes = images
        .filter(|image| image.sheet == sheet && image.width_px > 0 && image.height_px > 0)
        .map(|image| [image.width_px, image.height_px]);
    sizes
        .max_by_key(|[width, height]| u64::from(*width) * u64::from(*height))
        .unwrap_or([USUAL_PX; 2])
}

impl Desk {
    /// The region maps, read when first asked for.
    pub(crate) fn ground(&mut self) -> Result<&mut Ground, DeskError> {
        if self.ground.is_none() {
            self.surface()?;
            let Some(Ok(surface)) = &self.surface else {
                return Err("the surface is not here".into());
            };
            let document = self.journal.document();
            self.ground = Some(Ground::read(document, surface, &*self.files)?);
        }
        self.ground
            .as_mut()
            .ok_or_else(|| "the region maps are not here".into())
    }
}
