//! Textures of fixed size in which tiles take turns.

use ganosis_tiles::STORED_PX;

use super::TileId;
use crate::RendererError;
use crate::device::Gpu;
use crate::texture::{COLOUR, Samples, half_from_unit};

/// Tiles across and down a page: below the 2048 px that every WebGL 2 has, and not square, since a square
/// array of six layers becomes a cube map there.
const SLOTS: [u32; 2] = [7, 6];
/// Size of a page (px).
const PAGE_PX: [u32; 2] = [SLOTS[0] * STORED_PX, SLOTS[1] * STORED_PX];

/// What the tiles of a pool hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PoolKind {
    Colour = 0,
    Band = 1,
    Labels = 2,
}

impl PoolKind {
    pub(crate) const ALL: [Self; 3] = [Self::Colour, Self::Band, Self::Labels];

    /// What a base of this format has finer tiles of.
    pub(crate) fn of(format: wgpu::TextureFormat) -> Self {
        match format {
            COLOUR => Self::Colour,
            wgpu::TextureFormat::R16Uint => Self::Labels,
            _ => Self::Band,
        }
    }

    fn format(self) -> wgpu::TextureFormat {
        match self {
            Self::Colour => COLOUR,
            Self::Band => wgpu::TextureFormat::R16Float,
            Self::Labels => wgpu::TextureFormat::R16Uint,
        }
    }

    fn texel_bytes(self) -> u32 {
        match self {
            Self::Colour => 4,
            _ => 2,
        }
    }

    /// Parts of the memory, of 16: two states of colour are looked at most, a band or two, one region map.
    fn share(self) -> u32 {
        match self {
            Self::Colour => 12,
            Self::Band => 2,
            Self::Labels => 2,
        }
    }

    /// Pages within a budget for all pools; an array has two layers at least.
    fn pages(self, budget_mib: u32) -> u32 {
        let page_bytes =
            u64::from(PAGE_PX[0]) * u64::from(PAGE_PX[1]) * u64::from(self.texel_bytes());
        let bytes = (u64::from(budget_mib) << 20) * u64::from(self.share()) / 16;
        ((bytes / page_bytes) as u32).clamp(2, 255)
    }
}

/// One pool.
#[derive(Debug)]
pub(crate) struct Pool {
    kind: PoolKind,
    pub(super) texture: wgpu::Texture,
    pub(super) view: wgpu::TextureView,
    /// What lies in each slot, and when it was last looked at.
    slots: Vec<Option<(TileId, u32)>>,
}

impl Pool {
    pub(super) fn new(gpu: &Gpu, kind: PoolKind, budget_mib: u32) -> Self {
        let pages = kind.pages(budget_mib);
        let (texture, view) = array(gpu, kind, PAGE_PX, pages);
        Self {
            kind,
            texture,
            view,
            slots: vec![None; (SLOTS[0] * SLOTS[1] * pages) as usize],
        }
    }

    /// What is bound while there is no pool.
    pub(super) fn blank(gpu: &Gpu, kind: PoolKind) -> wgpu::TextureView {
        array(gpu, kind, [2, 1], 2).1
    }

    /// A slot for a tile: its own, a free one, or that which was looked at longest ago and not in this
    /// round; with the tile that lies there.
    pub(super) fn slot_for(&self, tile: TileId, round: u32) -> Option<(u32, Option<TileId>)> {
        let age = |entry: &Option<(TileId, u32)>| match entry {
            None => 1,
            Some((here, _)) if *here == tile => 0,
            Some((_, seen)) => seen + 2,
        };
        let (slot, entry) = self.slots.iter().enumerate().min_by_key(|(_, e)| age(e))?;
        let looked_at = entry.is_some_and(|(here, seen)| seen >= round && here != tile);
        (!looked_at).then_some((slot as u32, entry.map(|(tile, _)| tile)))
    }

    pub(super) fn keep(&mut self, slot: u32, tile: TileId, round: u32) {
        self.slots[slot as usize] = Some((tile, round));
    }

    /// A tile counts as looked at.
    pub(super) fn touch(&mut self, slot: u32, round: u32) {
        if let Some((_, seen)) = &mut self.slots[slot as usize] {
            *seen = round;
        }
    }

    fn destination(&self, slot: u32) -> wgpu::TexelCopyTextureInfo<'_> {
        wgpu::TexelCopyTextureInfo {
            texture: &self.texture,
            mip_level: 0,
            origin: origin(slot),
            aspect: wgpu::TextureAspect::All,
        }
    }

    pub(super) fn write_bytes(&self, gpu: &Gpu, slot: u32, size: [u32; 2], bytes: &[u8]) {
        gpu.queue.write_texture(
            self.destination(slot),
            bytes,
            wgpu::TexelCopyBufferLayout {
                offset: 0,
                bytes_per_row: Some(size[0] * self.kind.texel_bytes()),
                rows_per_image: Some(size[1]),
            },
            extent(size, 1),
        );
    }

    pub(super) fn write_values(
        &self,
        gpu: &Gpu,
        slot: u32,
        size: [u32; 2],
        samples: Samples<'_>,
    ) -> Result<(), RendererError> {
        let labels = self.kind == PoolKind::Labels;
        let words: Vec<u16> = match samples {
            Samples::Eight(s) if labels => s.iter().map(|v| u16::from(*v)).collect(),
            Samples::Sixteen(s) if labels => s.to_vec(),
            Samples::Eight(s) => s
                .iter()
                .map(|v| half_from_unit(f32::from(*v) / 255.0))
                .collect(),
            Samples::Sixteen(s) => s
                .iter()
                .map(|v| half_from_unit(f32::from(*v) / 65535.0))
                .collect(),
        };
        if words.len() != (size[0] * size[1]) as usize {
            return Err(RendererError::Mismatch {
                what: "a tile".to_owned(),
                detail: format!("{} values for {size:?} px", words.len()),
            });
        }
        self.write_bytes(gpu, slot, size, bytemuck::cast_slice(&words));
        Ok(())
    }

    #[cfg(target_arch = "wasm32")]
    pub(super) fn write_bitmap(
        &self,
        gpu: &Gpu,
        slot: u32,
        size: [u32; 2],
        bitmap: &web_sys::ImageBitmap,
    ) {
        crate::texture::copy_bitmap(gpu, bitmap, &self.texture, origin(slot), size);
    }
}

fn array(
    gpu: &Gpu,
    kind: PoolKind,
    size: [u32; 2],
    layers: u32,
) -> (wgpu::Texture, wgpu::TextureView) {
    let drawn = match kind {
        // Copying a decoded image there is a draw in some browsers.
        PoolKind::Colour => wgpu::TextureUsages::RENDER_ATTACHMENT,
        _ => wgpu::TextureUsages::empty(),
    };
    let texture = gpu.device.create_texture(&wgpu::TextureDescriptor {
        label: Some("tiles"),
        size: extent(size, layers),
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format: kind.format(),
        usage: drawn
            | wgpu::TextureUsages::TEXTURE_BINDING
            | wgpu::TextureUsages::COPY_DST
            | wgpu::TextureUsages::COPY_SRC,
        view_formats: &[],
    });
    let view = texture.create_view(&wgpu::TextureViewDescriptor {
        dimension: Some(wgpu::TextureViewDimension::D2Array),
        ..Default::default()
    });
    (texture, view)
}

pub(super) fn extent(size: [u32; 2], layers: u32) -> wgpu::Extent3d {
    wgpu::Extent3d {
        width: size[0],
        height: size[1],
        depth_or_array_layers: layers,
    }
}

/// Number of a slot within its page, and the page.
fn within(slot: u32) -> [u32; 2] {
    let each = SLOTS[0] * SLOTS[1];
    [slot % each, slot / each]
}

/// A texel of a tile (with its border): column, row and layer of the pool.
pub(super) fn texel_of(slot: u32, inside: [u32; 2]) -> [u32; 3] {
    let [within, page] = within(slot);
    let corner = [within % SLOTS[0], within / SLOTS[0]].map(|s| s * STORED_PX);
    [corner[0] + inside[0], corner[1] + inside[1], page]
}

fn origin(slot: u32) -> wgpu::Origin3d {
    let [x, y, z] = texel_of(slot, [0, 0]);
    wgpu::Origin3d { x, y, z }
}

pub(super) fn expect_size(found: [u32; 2], wanted: [u32; 2]) -> Result<(), RendererError> {
    if found == wanted {
        return Ok(());
    }
    Err(RendererError::Mismatch {
        what: "a tile".to_owned(),
        detail: format!("it is {found:?} px, not {wanted:?}"),
    })
}

/// Bindings of group 2.
pub(super) fn layout_entries() -> [wgpu::BindGroupLayoutEntry; 5] {
    let texture = |binding, sample_type, view_dimension| wgpu::BindGroupLayoutEntry {
        binding,
        visibility: wgpu::ShaderStages::FRAGMENT,
        ty: wgpu::BindingType::Texture {
            sample_type,
            view_dimension,
            multisampled: false,
        },
        count: None,
    };
    let filtered = wgpu::TextureSampleType::Float { filterable: true };
    let array = wgpu::TextureViewDimension::D2Array;
    [
        texture(
            0,
            wgpu::TextureSampleType::Sint,
            wgpu::TextureViewDimension::D2,
        ),
        texture(1, filtered, array),
        texture(2, filtered, array),
        texture(3, wgpu::TextureSampleType::Uint, array),
        crate::pipelines::sampler_entry(4),
    ]
}

pub(super) fn group(
    gpu: &Gpu,
    layout: &wgpu::BindGroupLayout,
    table: &wgpu::Texture,
    sampler: &wgpu::Sampler,
    pools: [&wgpu::TextureView; 3],
) -> wgpu::BindGroup {
    let table = table.create_view(&wgpu::TextureViewDescriptor::default());
    let view = |binding, view| wgpu::BindGroupEntry {
        binding,
        resource: wgpu::BindingResource::TextureView(view),
    };
    gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("tiles"),
        layout,
        entries: &[
            view(0, &table),
            view(1, pools[0]),
            view(2, pools[1]),
            view(3, pools[2]),
            wgpu::BindGroupEntry {
                binding: 4,
                resource: wgpu::BindingResource::Sampler(sampler),
            },
        ],
    })
}
