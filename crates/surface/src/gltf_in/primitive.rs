//! One primitive in the mesh's own frame.

use glam::{Vec2, Vec3};
use gltf::json::accessor::ComponentType;
use gltf::json::mesh::{Mode, Primitive, Semantic};
use gltf::json::validation::Checked;

use super::accessor::{self, Numbers};
use super::buffers::Buffers;
use super::document::Document;
use super::extensions;
use super::normals::computed;
use crate::SurfaceError;

/// Triangles and vertex data of a primitive.
pub(super) struct Shape {
    pub(super) positions: Vec<Vec3>,
    pub(super) normals: Vec<Vec3>,
    pub(super) uvs: Vec<Vec2>,
    pub(super) uvs_1: Option<Vec<Vec2>>,
    pub(super) colours: Option<Vec<[f32; 4]>>,
    /// Triangle list; empty for points and lines.
    pub(super) indices: Vec<u32>,
}

pub(super) struct Reader<'a, 'b> {
    pub(super) document: &'a Document,
    pub(super) buffers: &'a Buffers<'b>,
    pub(super) at: String,
}

impl Reader<'_, '_> {
    pub(super) fn shape(
        &self,
        primitive: &Primitive,
        notes: &mut Vec<String>,
    ) -> Result<Option<Shape>, SurfaceError> {
        self.refuse_draco(primitive)?;
        let Some(positions) = self.vectors(primitive, Semantic::Positions, None)? else {
            notes.push(format!("{}: it has no positions and is left out.", self.at));
            return Ok(None);
        };
        if let Some(bad) = positions.iter().position(|p| !p.is_finite()) {
            return Err(SurfaceError::invalid(
                format!("{}.attributes.POSITION", self.at),
                format!("vertex {bad} lies at {}, which is no place", positions[bad]),
            ));
        }
        let count = positions.len();
        let indices = self.triangles(primitive, count, notes)?;
        let normals = self.normals(primitive, &positions, &indices, notes)?;
        let uvs = self.uvs(primitive, 0, count, notes)?;
        if uvs.is_none() && !indices.is_empty() {
            notes.push(format!(
                "{}: it has no UVs, so nothing can be laid over it.",
                self.at
            ));
        }
        Ok(Some(Shape {
            uvs: uvs.unwrap_or_else(|| vec![Vec2::ZERO; count]),
            uvs_1: self.uvs(primitive, 1, count, notes)?,
            colours: self.colours(primitive, count)?,
            positions,
            normals,
            indices,
        }))
    }

    fn refuse_draco(&self, primitive: &Primitive) -> Result<(), SurfaceError> {
        let packed = self.document.raw.pointer(&self.pointer("extensions"));
        let packed = packed.is_some_and(|e| e.get(extensions::DRACO).is_some());
        let position = primitive
            .attributes
            .get(&Checked::Valid(Semantic::Positions));
        let plain = position.and_then(|i| self.document.root.accessors.get(i.value()));
        if packed && plain.is_none_or(|a| a.buffer_view.is_none()) {
            return Err(extensions::refusal(extensions::DRACO));
        }
        Ok(())
    }

    /// JSON pointer (RFC 6901) of a field of this primitive.
    pub(super) fn pointer(&self, field: &str) -> String {
        format!(
            "/{}/{field}",
            self.at
                .replace('[', "/")
                .replace("].", "/")
                .replace(']', "")
        )
    }

    fn attribute(
        &self,
        primitive: &Primitive,
        semantic: Semantic,
        wanted: Option<usize>,
    ) -> Result<Option<Numbers>, SurfaceError> {
        let name = semantic.to_string();
        let Some(index) = primitive.attributes.get(&Checked::Valid(semantic)) else {
            return Ok(None);
        };
        let numbers = accessor::read(self.document, self.buffers, index.value())?;
        if wanted.is_some_and(|w| w != numbers.count) {
            return Err(SurfaceError::invalid(
                format!("{}.attributes.{name}", self.at),
                format!(
                    "it has {} elements for {} positions",
                    numbers.count,
                    wanted.unwrap_or_default()
                ),
            ));
        }
        if numbers.kind == ComponentType::U32 {
            return Err(SurfaceError::invalid(
                format!("{}.attributes.{name}", self.at),
                "32-bit whole numbers are not allowed for it",
            ));
        }
        Ok(Some(numbers))
    }

    fn wrong_shape(&self, name: &str, wanted: &str, got: usize) -> SurfaceError {
        SurfaceError::invalid(
            format!("{}.attributes.{name}", self.at),
            format!("it needs {wanted} numbers an element, and has {got}"),
        )
    }

    fn vectors(
        &self,
        primitive: &Primitive,
        semantic: Semantic,
        count: Option<usize>,
    ) -> Result<Option<Vec<Vec3>>, SurfaceError> {
        let name = semantic.to_string();
        let Some(n) = self.attribute(primitive, semantic, count)? else {
            return Ok(None);
        };
        if n.components != 3 {
            return Err(self.wrong_shape(&name, "3", n.components));
        }
        Ok(Some(
            (0..n.count)
                .map(|i| Vec3::new(n.real(i, 0), n.real(i, 1), n.real(i, 2)))
                .collect(),
        ))
    }

    fn uvs(
        &self,
        primitive: &Primitive,
        set: u32,
        count: usize,
        notes: &mut Vec<String>,
    ) -> Result<Option<Vec<Vec2>>, SurfaceError> {
        let Some(n) = self.attribute(primitive, Semantic::TexCoords(set), Some(count))? else {
            return Ok(None);
        };
        if n.components != 2 {
            return Err(self.wrong_shape(&format!("TEXCOORD_{set}"), "2", n.components));
        }
        let mut uvs: Vec<Vec2> = (0..n.count)
            .map(|i| Vec2::new(n.real(i, 0), n.real(i, 1)))
            .collect();
        let bad = uvs
            .iter_mut()
            .filter(|uv| !uv.is_finite())
            .map(|uv| *uv = Vec2::ZERO)
            .count();
        if bad > 0 {
            notes.push(format!(
                "{}: {bad} UVs are not numbers and are set to 0.",
                self.at
            ));
        }
        Ok(Some(uvs))
    }

    fn colours(
        &self,
        primitive: &Primitive,
        count: usize,
    ) -> Result<Option<Vec<[f32; 4]>>, SurfaceError> {
        let Some(n) = self.attribute(primitive, Semantic::Colors(0), Some(count))? else {
            return Ok(None);
        };
        if n.components != 3 && n.components != 4 {
            return Err(self.wrong_shape("COLOR_0", "3 or 4", n.components));
        }
        let component = |i: usize, k: usize| {
            let value = if k < n.components { n.real(i, k) } else { 1.0 };
            if value.is_finite() {
                value.clamp(0.0, 1.0)
            } else {
                1.0
            }
        };
        Ok(Some(
            (0..n.count)
                .map(|i| [0, 1, 2, 3].map(|k| component(i, k)))
                .collect(),
        ))
    }

    fn normals(
        &self,
        primitive: &Primitive,
        positions: &[Vec3],
        indices: &[u32],
        notes: &mut Vec<String>,
    ) -> Result<Vec<Vec3>, SurfaceError> {
        let Some(given) = self.vectors(primitive, Semantic::Normals, Some(positions.len()))? else {
            return Ok(computed(positions, indices));
        };
        let unit = |n: &Vec3| {
            if n.is_finite() {
                n.as_dvec3().normalize_or_zero().as_vec3()
            } else {
                Vec3::ZERO
            }
        };
        let mut normals: Vec<Vec3> = given.iter().map(unit).collect();
        let bad = normals.iter().filter(|n| **n == Vec3::ZERO).count();
        if bad > 0 {
            let spare = computed(positions, indices);
            for (normal, spare) in normals
                .iter_mut()
                .zip(spare)
                .filter(|(n, _)| **n == Vec3::ZERO)
            {
                *normal = spare;
            }
            notes.push(format!(
                "{}: {bad} normals have no direction and are computed anew.",
                self.at
            ));
        }
        Ok(normals)
    }

    /// Vertex numbers of a triangle list, all below `count`.
    fn triangles(
        &self,
        primitive: &Primitive,
        count: usize,
        notes: &mut Vec<String>,
    ) -> Result<Vec<u32>, SurfaceError> {
        let vertices = self.vertex_order(primitive, count)?;
        let Checked::Valid(mode) = primitive.mode else {
            return Err(SurfaceError::invalid(
                format!("{}.mode", self.at),
                "it is not a known one",
            ));
        };
        let list = match mode {
            Mode::Triangles => {
                let whole = vertices.len() - vertices.len() % 3;
                if whole < vertices.len() {
                    notes.push(format!(
                        "{}: the last triangle is incomplete and left out.",
                        self.at
                    ));
                }
                vertices[..whole].to_vec()
            }
            Mode::TriangleStrip => (vertices.windows(3).enumerate())
                .flat_map(|(i, w)| {
                    if i % 2 == 0 {
                        [w[0], w[1], w[2]]
                    } else {
                        [w[1], w[0], w[2]]
                    }
                })
                .collect(),
            Mode::TriangleFan => match vertices.split_first() {
                Some((hub, rim)) => rim.windows(2).flat_map(|w| [*hub, w[0], w[1]]).collect(),
                None => Vec::new(),
            },
            Mode::Points | Mode::Lines | Mode::LineLoop | Mode::LineStrip => {
                notes.push(format!("{}: points and lines are left out.", self.at));
                Vec::new()
            }
        };
        Ok(list)
    }

    fn vertex_order(&self, primitive: &Primitive, count: usize) -> Result<Vec<u32>, SurfaceError> {
        let Some(index) = primitive.indices else {
            return Ok((0..count as u32).collect());
        };
        let at = format!("{}.indices", self.at);
        let numbers = accessor::read(self.document, self.buffers, index.value())?;
        let whole = matches!(
            numbers.kind,
            ComponentType::U8 | ComponentType::U16 | ComponentType::U32
        );
        if numbers.components != 1 || !whole {
            return Err(SurfaceError::invalid(
                at,
                "vertex numbers must be single unsigned whole numbers",
            ));
        }
        let order: Vec<u32> = (0..numbers.count).map(|i| numbers.index(i)).collect();
        match order.iter().position(|v| *v as usize >= count) {
            Some(i) => Err(SurfaceError::invalid(
                at,
                format!(
                    "entry {i} asks for vertex {}, and there are {count}",
                    order[i]
                ),
            )),
            None => Ok(order),
        }
    }
}
