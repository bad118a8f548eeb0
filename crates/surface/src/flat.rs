//! A surface as a short head and plain arrays: how it goes from the memory of one module to another's.
//!
//! This is no file format: both sides are built from the same source, for one session.

use std::sync::Arc;

use bytemuck::{Pod, Zeroable};
use glam::{Vec2, Vec3};

use crate::model::{AlphaMode, ImageSource, Patch, Sheet, Surface, Texture, UvTransform, Wrap};

/// What arrived is not a surface of this build.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the surface arrived damaged; load the page again")]
pub struct Damaged;

/// Everything but the arrays.
#[must_use]
pub fn head(surface: &Surface) -> Vec<u8> {
    let mut out = Out(Vec::new());
    out.list(&surface.sheets, |out, sheet| out.sheet(sheet));
    out.list(&surface.variants, |out, name| out.text(name));
    out.list(&surface.notes, |out, note| out.text(note));
    out.list(&surface.patches, |out, patch| {
        out.number(patch.sheet);
        out.list(&patch.node_path, |out, name| out.text(name));
        out.list(&patch.variant_sheets, |out, (variant, sheet)| {
            out.number(*variant);
            out.number(*sheet);
        });
        out.number(patch.positions.len());
        out.number(patch.indices.len());
        out.number(usize::from(patch.uvs_1.is_some()));
        out.number(usize::from(patch.colours.is_some()));
    });
    out.0
}

/// The arrays as bytes, in the order in which [`Arriving`] takes them.
pub fn arrays(surface: &Surface) -> impl Iterator<Item = &[u8]> {
    surface.patches.iter().flat_map(|patch| {
        let some = [
            Some(bytemuck::cast_slice(&patch.positions)),
            Some(bytemuck::cast_slice(&patch.normals)),
            Some(bytemuck::cast_slice(&patch.uvs)),
            patch.uvs_1.as_deref().map(bytemuck::cast_slice),
            patch.colours.as_deref().map(bytemuck::cast_slice),
            Some(bytemuck::cast_slice(&patch.indices)),
        ];
        some.into_iter().flatten()
    })
}

/// Array of a patch, in the order of [`arrays`].
const ARRAYS: usize = 6;

/// A surface whose arrays come in pieces, so that nobody waits for all of them at once.
#[derive(Debug)]
pub struct Arriving {
    surface: Surface,
    /// Patch, array and byte that come next.
    at: (usize, usize, usize),
}

impl Arriving {
    /// Begins with what [`head`] wrote.
    ///
    /// # Errors
    /// It was not written by [`head`].
    pub fn new(head: &[u8]) -> Result<Self, Damaged> {
        let mut from = In(head);
        let surface = Surface {
            sheets: from.list(In::sheet)?,
            variants: from.list(In::text)?,
            notes: from.list(In::text)?,
            patches: from.list(|from| {
                let mut patch = Patch {
                    sheet: from.number()?,
                    node_path: from.list(In::text)?,
                    variant_sheets: from.list(|from| Ok((from.number()?, from.number()?)))?,
                    ..Patch::default()
                };
                let (vertices, indices) = (from.number()?, from.number()?);
                patch.positions = vec![Vec3::ZERO; vertices];
                patch.normals = vec![Vec3::ZERO; vertices];
                patch.uvs = vec![Vec2::ZERO; vertices];
                patch.uvs_1 = (from.number()? != 0).then(|| vec![Vec2::ZERO; vertices]);
                patch.colours = (from.number()? != 0).then(|| vec![[0.0; 4]; vertices]);
                patch.indices = vec![0; indices];
                Ok(patch)
            })?,
        };
        Ok(Self {
            surface,
            at: (0, 0, 0),
        })
    }

    /// Where the next bytes go, at most `most` of them and of one array; empty at the end.
    pub fn next(&mut self, most: usize) -> &mut [u8] {
        while let Some(patch) = self.surface.patches.get(self.at.0) {
            let (_, array, byte) = self.at;
            if array == ARRAYS {
                self.at = (self.at.0 + 1, 0, 0);
            } else if byte == bytes_of(patch, array) {
                self.at = (self.at.0, array + 1, 0);
            } else {
                break;
            }
        }
        let (patch, array, byte) = self.at;
        let Some(patch) = self.surface.patches.get_mut(patch) else {
            return &mut [];
        };
        let bytes = array_of(patch, array);
        let end = bytes.len().min(byte.saturating_add(most));
        self.at.2 = end;
        &mut bytes[byte..end]
    }

    /// The surface, once everything has come.
    ///
    /// # Errors
    /// Something is missing, or a triangle names a vertex that is not there.
    pub fn end(mut self) -> Result<Surface, Damaged> {
        let whole = self.next(1).is_empty();
        let sheets = self.surface.sheets.len();
        let sound = |patch: &Patch| {
            let count = patch.positions.len() as u32;
            patch.sheet < sheets && patch.indices.iter().all(|i| *i < count)
        };
        if whole && self.surface.patches.iter().all(sound) {
            Ok(self.surface)
        } else {
            Err(Damaged)
        }
    }
}

fn bytes_of(patch: &Patch, array: usize) -> usize {
    let vertices = patch.positions.len();
    match array {
        0 | 1 => vertices * size_of::<Vec3>(),
        2 => vertices * size_of::<Vec2>(),
        3 => patch
            .uvs_1
            .as_ref()
            .map_or(0, |_| vertices * size_of::<Vec2>()),
        4 => patch
            .colours
            .as_ref()
            .map_or(0, |_| vertices * size_of::<[f32; 4]>()),
        _ => patch.indices.len() * size_of::<u32>(),
    }
}

fn array_of(patch: &mut Patch, array: usize) -> &mut [u8] {
    match array {
        0 => bytemuck::cast_slice_mut(&mut patch.positions),
        1 => bytemuck::cast_slice_mut(&mut patch.normals),
        2 => bytemuck::cast_slice_mut(&mut patch.uvs),
        3 => bytemuck::cast_slice_mut(patch.uvs_1.as_deref_mut().unwrap_or_default()),
        4 => bytemuck::cast_slice_mut(patch.colours.as_deref_mut().unwrap_or_default()),
        _ => bytemuck::cast_slice_mut(&mut patch.indices),
    }
}

/// What a sheet has of numbers.
#[repr(C)]
#[derive(Clone, Copy, Pod, Zeroable)]
struct SheetNumbers {
    base_colour: [f32; 4],
    offset: [f32; 2],
    scale: [f32; 2],
    rotation_rad: f32,
    cutoff: f32,
    /// 0 opaque, 1 mask, 2 blend.
    alpha: u8,
    double_sided: u8,
    /// 0 none, 1 embedded, 2 beside the file.
    texture: u8,
    uv_set: u8,
    wrap_s: u8,
    wrap_t: u8,
    nearest: u8,
    unused: u8,
}

struct Out(Vec<u8>);

impl Out {
    fn number(&mut self, n: usize) {
        self.0.extend_from_slice(&(n as u32).to_le_bytes());
    }

    fn bytes(&mut self, bytes: &[u8]) {
        self.number(bytes.len());
        self.0.extend_from_slice(bytes);
    }

    fn text(&mut self, text: &str) {
        self.bytes(text.as_bytes());
    }

    fn list<T>(&mut self, items: &[T], write: impl Fn(&mut Self, &T)) {
        self.number(items.len());
        items.iter().for_each(|item| write(self, item));
    }

    fn sheet(&mut self, sheet: &Sheet) {
        let wrap = |wrap| match wrap {
            Wrap::Repeat => 0,
            Wrap::Mirror => 1,
            Wrap::Clamp => 2,
        };
        let (alpha, cutoff) = match sheet.alpha {
            AlphaMode::Opaque => (0, 0.0),
            AlphaMode::Mask(cutoff) => (1, cutoff),
            AlphaMode::Blend => (2, 0.0),
        };
        let texture = sheet.texture.as_ref();
        let transform = texture.map(|t| t.transform).unwrap_or_default();
        let numbers = SheetNumbers {
            base_colour: sheet.base_colour,
            offset: transform.offset,
            scale: transform.scale,
            rotation_rad: transform.rotation_rad,
            cutoff,
            alpha,
            double_sided: u8::from(sheet.double_sided),
            texture: match texture.map(|t| &t.image) {
                None => 0,
                Some(ImageSource::Embedded { .. }) => 1,
                Some(ImageSource::Uri(_)) => 2,
            },
            uv_set: texture.map_or(0, |t| t.uv_set as u8),
            wrap_s: texture.map_or(0, |t| wrap(t.wrap_s)),
            wrap_t: texture.map_or(0, |t| wrap(t.wrap_t)),
            nearest: u8::from(texture.is_some_and(|t| t.nearest)),
            unused: 0,
        };
        self.0.extend_from_slice(bytemuck::bytes_of(&numbers));
        self.text(&sheet.name);
        match texture.map(|t| &t.image) {
            None => {}
            Some(ImageSource::Embedded { mime, bytes }) => {
                self.text(mime);
                self.bytes(bytes);
            }
            Some(ImageSource::Uri(uri)) => self.text(uri),
        }
    }
}

struct In<'a>(&'a [u8]);

impl<'a> In<'a> {
    fn take(&mut self, n: usize) -> Result<&'a [u8], Damaged> {
        let (taken, rest) = self.0.split_at_checked(n).ok_or(Damaged)?;
        self.0 = rest;
        Ok(taken)
    }

    fn number(&mut self) -> Result<usize, Damaged> {
        let four = self.take(4)?;
        Ok(u32::from_le_bytes([four[0], four[1], four[2], four[3]]) as usize)
    }

    fn bytes(&mut self) -> Result<&'a [u8], Damaged> {
        let n = self.number()?;
        self.take(n)
    }

    fn text(&mut self) -> Result<String, Damaged> {
        String::from_utf8(self.bytes()?.to_vec()).map_err(|_| Damaged)
    }

    fn list<T>(
        &mut self,
        read: impl Fn(&mut Self) -> Result<T, Damaged>,
    ) -> Result<Vec<T>, Damaged> {
        let n = self.number()?;
        (0..n).map(|_| read(self)).collect()
    }

    fn sheet(&mut self) -> Result<Sheet, Damaged> {
        let numbers = self.take(size_of::<SheetNumbers>())?;
        let numbers: SheetNumbers = bytemuck::pod_read_unaligned(numbers);
        let wrap = |code| match code {
            1 => Wrap::Mirror,
            2 => Wrap::Clamp,
            _ => Wrap::Repeat,
        };
        let name = self.text()?;
        let image = match numbers.texture {
            0 => None,
            1 => Some(ImageSource::Embedded {
                mime: self.text()?,
                bytes: Arc::from(self.bytes()?),
            }),
            _ => Some(ImageSource::Uri(self.text()?)),
        };
        Ok(Sheet {
            name,
            base_colour: numbers.base_colour,
            texture: image.map(|image| Texture {
                image,
                uv_set: usize::from(numbers.uv_set),
                transform: UvTransform {
                    offset: numbers.offset,
                    rotation_rad: numbers.rotation_rad,
                    scale: numbers.scale,
                },
                wrap_s: wrap(numbers.wrap_s),
                wrap_t: wrap(numbers.wrap_t),
                nearest: numbers.nearest != 0,
            }),
            alpha: match numbers.alpha {
                1 => AlphaMode::Mask(numbers.cutoff),
                2 => AlphaMode::Blend,
                _ => AlphaMode::Opaque,
            },
            double_sided: numbers.double_sided != 0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Surface {
        let patch = |sheet, uvs_1| Patch {
            sheet,
            node_path: vec!["root".into(), "boss".into()],
            positions: vec![Vec3::X, Vec3::Y, Vec3::new(1.0, 2.0, 3.0)],
            normals: vec![Vec3::Z; 3],
            uvs: vec![Vec2::new(0.25, 0.5); 3],
            uvs_1,
            colours: Some(vec![[0.1, 0.2, 0.3, 1.0]; 3]),
            indices: vec![0, 1, 2, 2, 1, 0],
            variant_sheets: vec![(0, 1)],
        };
        let image = ImageSource::Embedded {
            mime: "image/png".into(),
            bytes: Arc::from([1_u8, 2, 3].as_slice()),
        };
        let texture = Texture {
            image,
            uv_set: 1,
            transform: UvTransform {
                offset: [0.1, 0.2],
                rotation_rad: 0.3,
                scale: [2.0, 3.0],
            },
            wrap_s: Wrap::Clamp,
            wrap_t: Wrap::Mirror,
            nearest: true,
        };
        Surface {
            sheets: vec![
                Sheet {
                    texture: Some(texture),
                    alpha: AlphaMode::Mask(0.5),
                    ..Sheet::plain("front")
                },
                Sheet::plain("Rückseite"),
            ],
            patches: vec![
                patch(0, None),
                Patch::default(),
                patch(1, Some(vec![Vec2::ONE; 3])),
            ],
            variants: vec!["bare".into()],
            notes: vec!["something was left out.".into()],
        }
    }

    fn carried(surface: &Surface, piece: usize) -> Result<Surface, Damaged> {
        let mut arriving = Arriving::new(&head(surface))?;
        for array in arrays(surface) {
            let mut rest = array;
            while !rest.is_empty() {
                let place = arriving.next(piece);
                let (now, later) = rest.split_at(place.len());
                place.copy_from_slice(now);
                rest = later;
            }
        }
        arriving.end()
    }

    #[test]
    fn what_is_carried_arrives_whole_in_pieces_of_any_size() {
        let surface = sample();
        for piece in [1, 7, 24, 1 << 20] {
            let arrived = carried(&surface, piece).expect("whole");
            assert_eq!(format!("{arrived:?}"), format!("{surface:?}"));
        }
    }

    #[test]
    fn damage_is_refused() {
        let surface = sample();
        let head = head(&surface);
        for cut in 0..head.len() {
            assert!(
                Arriving::new(&head[..cut]).is_err(),
                "{cut} bytes of the head"
            );
        }
        assert!(
            Arriving::new(&head).expect("whole").end().is_err(),
            "no array came"
        );
        let mut wrong = sample();
        wrong.patches[0].indices[2] = 3;
        assert!(carried(&wrong, 64).is_err(), "a vertex that is not there");
    }
}
