//! Numbers out of accessors, every bound checked first (glTF 2.0 section 3.6.2).

use gltf::json::accessor::{Accessor, ComponentType, Type};
use gltf::json::validation::Checked;

use super::MOST_ELEMENTS;
use super::buffers::{Buffers, View};
use super::document::Document;
use crate::SurfaceError;

/// An accessor whose fields have been checked, and its bytes.
pub(super) struct Numbers {
    pub(super) count: usize,
    pub(super) components: usize,
    pub(super) kind: ComponentType,
    normalized: bool,
    /// Tightly packed little-endian components.
    bytes: Vec<u8>,
}

impl Numbers {
    /// Component `k` of element `i` as a real number: normalised where the
    /// accessor says so (section 3.6.2.2).
    pub(super) fn real(&self, i: usize, k: usize) -> f32 {
        let scale = |value: f32, most: f32| {
            if self.normalized {
                (value / most).max(-1.0)
            } else {
                value
            }
        };
        let at = (i * self.components + k) * self.kind.size();
        let b = |n: usize| self.bytes.get(at + n).copied().unwrap_or_default();
        match self.kind {
            ComponentType::F32 => f32::from_le_bytes([b(0), b(1), b(2), b(3)]),
            ComponentType::I8 => scale(f32::from(b(0) as i8), 127.0),
            ComponentType::U8 => scale(f32::from(b(0)), 255.0),
            ComponentType::I16 => scale(f32::from(i16::from_le_bytes([b(0), b(1)])), 32767.0),
            ComponentType::U16 => scale(f32::from(u16::from_le_bytes([b(0), b(1)])), 65535.0),
            ComponentType::U32 => u32::from_le_bytes([b(0), b(1), b(2), b(3)]) as f32,
        }
    }

    /// Element `i` as an unsigned number.
    pub(super) fn index(&self, i: usize) -> u32 {
        unsigned(&self.bytes, i, self.kind)
    }
}

fn unsigned(bytes: &[u8], i: usize, kind: ComponentType) -> u32 {
    let b = |n: usize| bytes.get(i * kind.size() + n).copied().unwrap_or_default();
    match kind.size() {
        1 => u32::from(b(0)),
        2 => u32::from(u16::from_le_bytes([b(0), b(1)])),
        _ => u32::from_le_bytes([b(0), b(1), b(2), b(3)]),
    }
}

pub(super) fn read(
    document: &Document,
    buffers: &Buffers<'_>,
    index: usize,
) -> Result<Numbers, SurfaceError> {
    let at = format!("accessors[{index}]");
    let accessor = document.root.accessors.get(index);
    let accessor =
        accessor.ok_or_else(|| SurfaceError::invalid(&at, "there is no such accessor"))?;
    let Checked::Valid(kind) = accessor.component_type else {
        return Err(SurfaceError::invalid(
            format!("{at}.componentType"),
            "it is not a known one",
        ));
    };
    let Checked::Valid(shape) = accessor.type_ else {
        return Err(SurfaceError::invalid(
            format!("{at}.type"),
            "it is not a known one",
        ));
    };
    if !matches!(shape, Type::Scalar | Type::Vec2 | Type::Vec3 | Type::Vec4) {
        return Err(SurfaceError::invalid(
            format!("{at}.type"),
            "a vertex cannot hold a matrix here",
        ));
    }
    if accessor.count.0 > MOST_ELEMENTS {
        return Err(SurfaceError::TooLarge {
            at,
            what: "elements",
            wanted: accessor.count.0,
            limit: MOST_ELEMENTS,
        });
    }
    let (count, size) = (accessor.count.0 as usize, shape_size(shape, kind.0));
    let mut bytes = match accessor.buffer_view {
        Some(view) => {
            let view = buffers.view(view.value())?;
            let offset = accessor.byte_offset.map_or(0, |o| o.0);
            gathered(&view, offset, count, size, &at)?
        }
        None if accessor.sparse.is_some() => vec![0; count * size],
        None => {
            return Err(SurfaceError::invalid(
                &at,
                "it has no buffer view, so its numbers are missing",
            ));
        }
    };
    apply_sparse(accessor, buffers, &mut bytes, size, &at)?;
    Ok(Numbers {
        count,
        components: shape.multiplicity(),
        kind: kind.0,
        normalized: accessor.normalized,
        bytes,
    })
}

fn shape_size(shape: Type, kind: ComponentType) -> usize {
    shape.multiplicity() * kind.size()
}

/// `count` elements of `size` bytes, packed tightly.
fn gathered(
    view: &View<'_>,
    offset: u64,
    count: usize,
    size: usize,
    at: &str,
) -> Result<Vec<u8>, SurfaceError> {
    let stride = view.stride.filter(|s| *s != 0).unwrap_or(size);
    if stride < size {
        return Err(SurfaceError::invalid(
            at,
            format!("its elements have {size} bytes and overlap: they are {stride} bytes apart"),
        ));
    }
    if count == 0 {
        return Ok(Vec::new());
    }
    let last = (count as u64 - 1) * stride as u64 + size as u64;
    let end = offset
        .checked_add(last)
        .filter(|end| *end <= view.len() as u64);
    if end.is_none() {
        return Err(SurfaceError::invalid(
            at,
            format!(
                "it needs {last} bytes from {offset} on, and its buffer view has {}",
                view.len()
            ),
        ));
    }
    let source = &view[offset as usize..offset as usize + last as usize];
    let mut bytes = Vec::with_capacity(count * size);
    for element in source.chunks(stride) {
        bytes.extend_from_slice(&element[..size]);
    }
    Ok(bytes)
}

fn apply_sparse(
    accessor: &Accessor,
    buffers: &Buffers<'_>,
    bytes: &mut [u8],
    size: usize,
    at: &str,
) -> Result<(), SurfaceError> {
    let Some(sparse) = &accessor.sparse else {
        return Ok(());
    };
    let at = format!("{at}.sparse");
    if sparse.count.0 > accessor.count.0 {
        return Err(SurfaceError::invalid(
            &at,
            "it replaces more elements than there are",
        ));
    }
    let count = sparse.count.0 as usize;
    let Checked::Valid(kind) = sparse.indices.component_type else {
        return Err(SurfaceError::invalid(
            format!("{at}.indices.componentType"),
            "it is not a known one",
        ));
    };
    let view = buffers.view(sparse.indices.buffer_view.value())?;
    let indices = gathered(
        &view,
        sparse.indices.byte_offset.0,
        count,
        kind.0.size(),
        &at,
    )?;
    let view = buffers.view(sparse.values.buffer_view.value())?;
    let values = gathered(&view, sparse.values.byte_offset.0, count, size, &at)?;
    for (i, value) in values.chunks_exact(size).enumerate() {
        let start = unsigned(&indices, i, kind.0) as usize;
        let place = start
            .checked_mul(size)
            .and_then(|s| bytes.get_mut(s..s + size));
        let Some(place) = place else {
            return Err(SurfaceError::invalid(
                &at,
                format!("it replaces element {start}, which is not there"),
            ));
        };
        place.copy_from_slice(value);
    }
    Ok(())
}
