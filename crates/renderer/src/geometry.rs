//! Vertex and index buffers of the patches.

use bytemuck::{Pod, Zeroable};
use ganosis_surface::relief::{snorm, unfolded};
use ganosis_surface::{Patch, Surface};
use glam::{Vec2, Vec3};

/// What plain paint needs of a vertex, as the GPU reads it: apart from the rest, so that less is read.
#[repr(C)]
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
pub(crate) struct Place {
    position: [f32; 3],
    uv: [f32; 2],
}

/// What all else needs besides.
#[repr(C)]
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
pub(crate) struct Rest {
    normal: [i16; 4],
    uv1: [f32; 2],
    colour: [u8; 4],
    smooth: [i16; 2],
}

const PLACE_ATTRIBUTES: [wgpu::VertexAttribute; 2] =
    wgpu::vertex_attr_array![0 => Float32x3, 2 => Float32x2];
const REST_ATTRIBUTES: [wgpu::VertexAttribute; 4] =
    wgpu::vertex_attr_array![1 => Snorm16x4, 3 => Float32x2, 4 => Unorm8x4, 5 => Snorm16x2];

/// Buffers of a vertex: the first for plain paint, both for all else.
pub(crate) const VERTEX_BUFFERS: [Option<wgpu::VertexBufferLayout<'static>>; 2] = [
    Some(wgpu::VertexBufferLayout {
        array_stride: size_of::<Place>() as u64,
        step_mode: wgpu::VertexStepMode::Vertex,
        attributes: &PLACE_ATTRIBUTES,
    }),
    Some(wgpu::VertexBufferLayout {
        array_stride: size_of::<Rest>() as u64,
        step_mode: wgpu::VertexStepMode::Vertex,
        attributes: &REST_ATTRIBUTES,
    }),
];

/// What light needs of a vertex besides its normal, three numbers in 1/32767: the smoothed normal,
/// unfolded from an octahedron onto a square, and the share of the sky that nothing hides.
pub type Relief = [i16; 3];

/// A patch on the GPU.
#[derive(Debug)]
pub(crate) struct GpuPatch {
    pub(crate) places: wgpu::Buffer,
    pub(crate) rest: wgpu::Buffer,
    pub(crate) indices: wgpu::Buffer,
    pub(crate) index_count: u32,
    pub(crate) has_colours: bool,
}

/// A level of a surface gives way to a finer one: its memory is not waited for.
impl Drop for GpuPatch {
    fn drop(&mut self) {
        for buffer in [&self.places, &self.rest, &self.indices] {
            buffer.destroy();
        }
    }
}

/// Geometry on its way to the device: see [`crate::Renderer::write_geometry`].
#[derive(Debug)]
pub struct Upload {
    patches: Vec<GpuPatch>,
    origin_m: Vec3,
    /// Patch, and how many of its vertices and of its indices are written.
    at: (usize, usize, usize),
}

impl Upload {
    /// Buffers for a surface, with positions relative to `origin_m`, and nothing in them yet.
    pub(crate) fn new(device: &wgpu::Device, surface: &Surface, origin_m: Vec3) -> Self {
        let buffer = |label, usage, bytes: usize| {
            device.create_buffer(&wgpu::BufferDescriptor {
                label: Some(label),
                size: bytes as u64,
                usage: usage | wgpu::BufferUsages::COPY_DST,
                mapped_at_creation: false,
            })
        };
        let patch = |patch: &Patch| GpuPatch {
            places: buffer(
                "vertices",
                wgpu::BufferUsages::VERTEX,
                patch.positions.len() * size_of::<Place>(),
            ),
            rest: buffer(
                "vertices",
                wgpu::BufferUsages::VERTEX,
                patch.positions.len() * size_of::<Rest>(),
            ),
            indices: buffer(
                "indices",
                wgpu::BufferUsages::INDEX,
                patch.indices.len() * size_of::<u32>(),
            ),
            index_count: u32::try_from(patch.indices.len()).unwrap_or(u32::MAX),
            has_colours: patch.colours.is_some(),
        };
        Self {
            patches: surface.patches.iter().map(patch).collect(),
            origin_m,
            at: (0, 0, 0),
        }
    }

    /// Writes up to `most` vertices or indices of the surface that it is for; false when all is written.
    /// `relief` is one a vertex, all patches in a row, or none.
    pub(crate) fn write(
        &mut self,
        queue: &wgpu::Queue,
        surface: &Surface,
        relief: &[Relief],
        most: usize,
    ) -> bool {
        let (number, vertices, indices) = self.at;
        let (Some(patch), Some(gpu)) = (surface.patches.get(number), self.patches.get(number))
        else {
            return false;
        };
        let end = patch.positions.len().min(vertices.saturating_add(most));
        if vertices < end {
            let first: usize = surface.patches[..number]
                .iter()
                .map(|p| p.positions.len())
                .sum();
            let raw = raw_uvs(surface, patch);
            let (places, rest): (Vec<Place>, Vec<Rest>) = (vertices..end)
                .map(|i| vertex(surface, patch, raw, i, self.origin_m, relief.get(first + i)))
                .unzip();
            let offset = |bytes: usize| (vertices * bytes) as u64;
            let places_at = offset(size_of::<Place>());
            queue.write_buffer(&gpu.places, places_at, bytemuck::cast_slice(&places));
            let rest_at = offset(size_of::<Rest>());
            queue.write_buffer(&gpu.rest, rest_at, bytemuck::cast_slice(&rest));
            self.at.1 = end;
            return true;
        }
        // Six indices weigh as much as a vertex.
        let end = patch
            .indices
            .len()
            .min(indices.saturating_add(most.saturating_mul(6)));
        if indices < end {
            let offset = (indices * size_of::<u32>()) as u64;
            let written = bytemuck::cast_slice(&patch.indices[indices..end]);
            queue.write_buffer(&gpu.indices, offset, written);
            self.at.2 = end;
            return true;
        }
        self.at = (number + 1, 0, 0);
        number + 1 < self.patches.len()
    }

    /// What was written.
    pub(crate) fn end(self) -> Vec<GpuPatch> {
        self.patches
    }
}

/// The UV set as the file has it, for materials other than the patch's own: the second one where
/// one of them asks for it.
fn raw_uvs<'a>(surface: &Surface, patch: &'a Patch) -> &'a [Vec2] {
    let second = |sheet: usize| {
        let texture = surface.sheets.get(sheet).and_then(|s| s.texture.as_ref());
        texture.is_some_and(|t| t.uv_set == 1)
    };
    match &patch.uvs_1 {
        Some(uvs) if patch.variant_sheets.iter().any(|(_, sheet)| second(*sheet)) => uvs,
        _ => &patch.uvs,
    }
}

fn vertex(
    surface: &Surface,
    patch: &Patch,
    raw: &[Vec2],
    i: usize,
    origin_m: Vec3,
    relief: Option<&Relief>,
) -> (Place, Rest) {
    let unorm = |x: f32| (x.clamp(0.0, 1.0) * 255.0).round() as u8;
    let normal = patch.normals.get(i).copied().unwrap_or(Vec3::Z);
    let colour = patch
        .colours
        .as_ref()
        .and_then(|c| c.get(i))
        .copied()
        .unwrap_or([1.0; 4]);
    let [x, y, open] = relief.copied().unwrap_or_else(|| {
        let [x, y] = unfolded(normal);
        [x, y, i16::MAX]
    });
    let place = Place {
        position: (patch.positions[i] - origin_m).to_array(),
        uv: surface.sheet_uv(patch, i).to_array(),
    };
    let rest = Rest {
        normal: [snorm(normal.x), snorm(normal.y), snorm(normal.z), open],
        uv1: raw.get(i).copied().unwrap_or_default().to_array(),
        colour: colour.map(unorm),
        smooth: [x, y],
    };
    (place, rest)
}
