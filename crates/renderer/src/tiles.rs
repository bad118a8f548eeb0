//! Layers that are cut into tiles: a pool of fixed size, and a table that says where in it a tile lies.
//!
//! Twin of `shaders/lib/tiles.wgsl`. Where a tile is not in the pool the table names the finest coarser one
//! that is, down to the base, which is a texture of its own: a picture is never without colour.

mod pool;
mod wanted;

use ganosis_tiles::Pyramid;

use crate::RendererError;
use crate::device::Gpu;
use crate::texture::{Samples, TextureId};

use pool::Pool;
pub(crate) use pool::PoolKind;
pub use wanted::{Ask, NO_SHEET, Wanted};

/// Entries of a row of the table, and its rows: 524,288 tiles, those of 96 images of 16,384 px squared.
const TABLE_PX: [u32; 2] = [1024, 512];

/// A tile of an image.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TileId {
    /// The base of its image.
    pub image: TextureId,
    /// Its number in the pyramid.
    pub number: u32,
}

/// No slot.
const NOWHERE: u16 = u16::MAX;

/// An image in tiles.
#[derive(Debug)]
struct Image {
    id: TextureId,
    pyramid: Pyramid,
    kind: PoolKind,
    /// Of its first tile in the table.
    first: u32,
    /// Slot of each of its tiles in the pool, [`NOWHERE`] for those not there.
    slots: Vec<u16>,
    /// The table is behind.
    stale: bool,
}

impl Image {
    /// Where a tile lies in the pool.
    fn slot(&self, number: u32) -> Option<u32> {
        let slot = *self.slots.get(number as usize)?;
        (slot != NOWHERE).then_some(u32::from(slot))
    }
}

/// What the table says of a tile's place: where in a page of the pool its image would begin if all of its
/// level lay there (column, row, in units of [`UNIT_PX`]), the page, and the level of the tile that is meant.
type Entry = [i16; 4];

/// Tiles, their borders and their places in a page are multiples of it (px), so that images of 262,144 px
/// fit into 16 bits.
const UNIT_PX: u32 = 8;

/// The entry of a tile of level `level`, its column and row `at`, in a slot of the pool.
fn entry_of(slot: u32, at: [u32; 2], level: usize) -> Entry {
    let [x, y, page] = pool::texel_of(slot, [ganosis_tiles::BORDER_PX; 2]);
    let [x, y] = [(x, at[0]), (y, at[1])].map(|(corner, number)| {
        let units = |px: u32| (px / UNIT_PX) as i32;
        (units(corner) - units(number * ganosis_tiles::TILE_PX)) as i16
    });
    [x, y, page as i16, level as i16]
}

/// Everything that is drawn from tiles.
#[derive(Debug)]
pub(crate) struct Tiles {
    /// Few: looked up one after the other.
    images: Vec<Image>,
    pools: [Option<Pool>; 3],
    table: wgpu::Texture,
    entries: Vec<Entry>,
    sampler: wgpu::Sampler,
    pub(crate) layout: wgpu::BindGroupLayout,
    group: wgpu::BindGroup,
    blanks: [wgpu::TextureView; 3],
    /// Memory for pools, in MiB.
    budget_mib: u32,
    /// Counts the asking for tiles.
    round: u32,
}

/// Writes a tile into a slot of a pool, given its size as stored.
type Write<'a> = &'a dyn Fn(&Gpu, &Pool, u32, [u32; 2]) -> Result<(), RendererError>;

/// Longest footprint that stays inside a tile's border (`LONGEST` of the shader), rounded up to what
/// devices offer.
const ANISOTROPY: u16 = 8;

impl Tiles {
    pub(crate) fn new(gpu: &Gpu, budget_mib: u32) -> Self {
        let device = &gpu.device;
        let layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some("tiles"),
            entries: &pool::layout_entries(),
        });
        let table = device.create_texture(&wgpu::TextureDescriptor {
            label: Some("table of tiles"),
            size: pool::extent(TABLE_PX, 1),
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: wgpu::TextureFormat::Rgba16Sint,
            usage: wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_DST,
            view_formats: &[],
        });
        let linear = wgpu::FilterMode::Linear;
        let sampler = device.create_sampler(&wgpu::SamplerDescriptor {
            label: Some("tiles"),
            mag_filter: linear,
            min_filter: linear,
            mipmap_filter: wgpu::MipmapFilterMode::Linear,
            anisotropy_clamp: ANISOTROPY,
            ..Default::default()
        });
        let blanks = PoolKind::ALL.map(|kind| Pool::blank(gpu, kind));
        let group = pool::group(gpu, &layout, &table, &sampler, blanks.each_ref());
        Self {
            images: Vec::new(),
            pools: [None, None, None],
            table,
            entries: Vec::new(),
            sampler,
            layout,
            group,
            blanks,
            budget_mib,
            round: 0,
        }
    }

    /// Memory for pools that are made from now on, in MiB.
    pub(crate) fn set_budget(&mut self, mib: u32) {
        self.budget_mib = mib;
    }

    /// Group 2.
    pub(crate) fn group(&self) -> &wgpu::BindGroup {
        &self.group
    }

    /// Says that a texture is the base of an image of `size` px.
    pub(crate) fn add(&mut self, gpu: &Gpu, id: TextureId, kind: PoolKind, size: [u32; 2]) {
        if self.image(id).is_some() {
            return;
        }
        let pyramid = Pyramid::new(size);
        let first = self.entries.len() as u32;
        let count = pyramid.tiles();
        // Where the table is full the image is shown by its base.
        if count == 0 || u64::from(first) + u64::from(count) > u64::from(TABLE_PX[0] * TABLE_PX[1])
        {
            return;
        }
        self.entries
            .resize((first + count) as usize, [0, 0, 0, i16::MAX]);
        if self.pools[kind as usize].is_none() {
            self.pools[kind as usize] = Some(Pool::new(gpu, kind, self.budget_mib));
            let views = PoolKind::ALL.map(|k| match &self.pools[k as usize] {
                Some(pool) => &pool.view,
                None => &self.blanks[k as usize],
            });
            self.group = pool::group(gpu, &self.layout, &self.table, &self.sampler, views);
        }
        let image = Image {
            id,
            pyramid,
            kind,
            first,
            slots: vec![NOWHERE; count as usize],
            stale: true,
        };
        self.images.push(image);
    }

    fn image(&self, id: TextureId) -> Option<&Image> {
        self.images.iter().find(|image| image.id == id)
    }

    fn image_mut(&mut self, id: TextureId) -> Option<&mut Image> {
        self.images.iter_mut().find(|image| image.id == id)
    }

    /// What the shader is told of an image.
    pub(crate) fn told(&self, id: TextureId) -> [u32; 4] {
        self.image(id).map_or([0; 4], |image| {
            let [width, height] = image.pyramid.size;
            [image.first + 1, width, height, image.pyramid.base_level()]
        })
    }

    fn place(
        &mut self,
        gpu: &Gpu,
        tile: TileId,
        write: Write<'_>,
    ) -> Result<Option<TileId>, RendererError> {
        let Some(image) = self.images.iter_mut().find(|i| i.id == tile.image) else {
            return Ok(None);
        };
        let (Some(pool), Some(place)) = (
            &mut self.pools[image.kind as usize],
            image.pyramid.place(tile.number),
        ) else {
            return Ok(None);
        };
        let Some((slot, before)) = pool.slot_for(tile, self.round) else {
            // All of the pool is being looked at.
            return Ok(Some(tile));
        };
        write(gpu, pool, slot, image.pyramid.stored_size(place))?;
        pool.keep(slot, tile, self.round);
        image.stale = true;
        image.slots[tile.number as usize] = slot as u16;
        let gone = before.filter(|before| *before != tile);
        if let Some(gone) = gone
            && let Some(image) = self.image_mut(gone.image)
        {
            image.slots[gone.number as usize] = NOWHERE;
            image.stale = true;
        }
        Ok(gone)
    }

    /// Puts a tile of a band or a region map into the pool; the tile that went for it comes back, or
    /// this one where there was no room.
    pub(crate) fn put_values(
        &mut self,
        gpu: &Gpu,
        tile: TileId,
        size: [u32; 2],
        samples: Samples<'_>,
    ) -> Result<Option<TileId>, RendererError> {
        self.place(gpu, tile, &|gpu, pool, slot, stored| {
            pool::expect_size(size, stored)?;
            pool.write_values(gpu, slot, stored, samples)
        })
    }

    /// As [`Tiles::put_values`], for encoded RGBA.
    pub(crate) fn put_colour(
        &mut self,
        gpu: &Gpu,
        tile: TileId,
        size: [u32; 2],
        rgba: &[u8],
    ) -> Result<Option<TileId>, RendererError> {
        self.place(gpu, tile, &|gpu, pool, slot, stored| {
            pool::expect_size(size, stored)?;
            pool.write_bytes(gpu, slot, stored, rgba);
            Ok(())
        })
    }

    /// As [`Tiles::put_values`], for colour that the browser has decoded.
    #[cfg(target_arch = "wasm32")]
    pub(crate) fn put_bitmap(
        &mut self,
        gpu: &Gpu,
        tile: TileId,
        bitmap: &web_sys::ImageBitmap,
    ) -> Result<Option<TileId>, RendererError> {
        self.place(gpu, tile, &|gpu, pool, slot, stored| {
            pool::expect_size([bitmap.width(), bitmap.height()], stored)?;
            pool.write_bitmap(gpu, slot, stored, bitmap);
            Ok(())
        })
    }

    /// Where the finest texel lies that is here at a place: texture of the pool, place in it, and level.
    /// Nothing where only the base is.
    pub(crate) fn texel(
        &self,
        id: TextureId,
        uv: [f32; 2],
    ) -> Option<(&wgpu::Texture, [u32; 3], u32)> {
        let image = self.image(id)?;
        let pool = self.pools[image.kind as usize].as_ref()?;
        (0..image.pyramid.base_level()).find_map(|level| {
            let (place, texel) = image.pyramid.at(level, uv);
            let number = image.pyramid.number(place)?;
            let slot = image.slot(number)?;
            let corner = [place.x, place.y].map(|p| p * ganosis_tiles::TILE_PX);
            let inside = [0, 1].map(|k| texel[k] - corner[k] + ganosis_tiles::BORDER_PX);
            Some((&pool.texture, pool::texel_of(slot, inside), level))
        })
    }

    /// Brings the table up to date; call before drawing.
    pub(crate) fn flush(&mut self, gpu: &Gpu) {
        let mut rows = [u32::MAX, 0];
        for image in &mut self.images {
            if !std::mem::take(&mut image.stale) {
                continue;
            }
            let levels: Vec<_> = image.pyramid.levels().collect();
            let base = [0, 0, 0, levels.len() as i16];
            for (l, level) in levels.iter().enumerate().rev() {
                for y in 0..level.grid[1] {
                    for x in 0..level.grid[0] {
                        let number = level.first + y * level.grid[0] + x;
                        let above = levels.get(l + 1).map(|up| {
                            let at = [x / 2, y / 2];
                            let [cx, cy] = [0, 1].map(|k| at[k].min(up.grid[k] - 1));
                            self.entries[(image.first + up.first + cy * up.grid[0] + cx) as usize]
                        });
                        let own = image.slot(number).map(|slot| entry_of(slot, [x, y], l));
                        let entry = own.or(above).unwrap_or(base);
                        self.entries[(image.first + number) as usize] = entry;
                    }
                }
            }
            let last = image.first + image.pyramid.tiles() - 1;
            rows = [
                rows[0].min(image.first / TABLE_PX[0]),
                rows[1].max(last / TABLE_PX[0] + 1),
            ];
        }
        if rows[0] >= rows[1] {
            return;
        }
        let from = (rows[0] * TABLE_PX[0]) as usize;
        let to = (rows[1] * TABLE_PX[0]) as usize;
        let mut entries = self.entries[from..to.min(self.entries.len())].to_vec();
        entries.resize(to - from, Entry::default());
        gpu.queue.write_texture(
            wgpu::TexelCopyTextureInfo {
                texture: &self.table,
                mip_level: 0,
                origin: wgpu::Origin3d {
                    x: 0,
                    y: rows[0],
                    z: 0,
                },
                aspect: wgpu::TextureAspect::All,
            },
            bytemuck::cast_slice(&entries),
            wgpu::TexelCopyBufferLayout {
                offset: 0,
                bytes_per_row: Some(TABLE_PX[0] * size_of::<Entry>() as u32),
                rows_per_image: None,
            },
            pool::extent([TABLE_PX[0], rows[1] - rows[0]], 1),
        );
    }
}
