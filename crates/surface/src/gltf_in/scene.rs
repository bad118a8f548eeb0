//! The scene's nodes, their transforms, and the patches they place.

use std::collections::HashMap;
use std::rc::Rc;

use glam::{Mat3, Mat4, Quat, Vec3, Vec4};
use gltf::json;
use serde_json::Value;

use super::buffers::Buffers;
use super::document::Document;
use super::primitive::{Reader, Shape};
use super::{MOST_ELEMENTS, materials};
use crate::SurfaceError;
use crate::model::{Counts, Patch, Surface};

/// Nodes nested deeper than this are refused. Choice of this project.
const DEEPEST: usize = 256;

pub(super) fn read(
    document: &Document,
    buffers: &Buffers<'_>,
) -> Result<(Surface, Counts), SurfaceError> {
    let mut surface = Surface::default();
    note_left_out(document, &mut surface.notes);
    surface.sheets = materials::sheets(document, buffers, &mut surface.notes)?;
    let extensions = document.root.extensions.as_ref();
    if let Some(variants) = extensions.and_then(|e| e.khr_materials_variants.as_ref()) {
        surface.variants = variants.variants.iter().map(|v| v.name.clone()).collect();
    }
    let counts = Counts {
        materials: document.root.materials.len() as u64,
        images: document.root.images.len() as u64,
        ..Counts::default()
    };
    let mut builder = Builder {
        document,
        buffers,
        surface,
        counts,
        shapes: HashMap::new(),
        plain: None,
        vertices: 0,
        triangles: 0,
    };
    builder.walk()?;
    builder.finish()
}

fn note_left_out(document: &Document, notes: &mut Vec<String>) {
    for (array, what) in [("skins", "Skins"), ("animations", "Animations")] {
        if document.has(array) {
            notes.push(format!(
                "{what} are left out; the surface is shown at rest."
            ));
        }
    }
}

struct Builder<'a, 'b> {
    document: &'a Document,
    buffers: &'a Buffers<'b>,
    surface: Surface,
    counts: Counts,
    /// By mesh and primitive: read once however often placed.
    shapes: HashMap<(usize, usize), Option<Rc<Shape>>>,
    plain: Option<usize>,
    vertices: u64,
    triangles: u64,
}

/// A node still to be visited.
struct Visit {
    node: usize,
    world: Mat4,
    path: Vec<String>,
}

impl Builder<'_, '_> {
    fn roots(&self) -> Result<Vec<usize>, SurfaceError> {
        let root = &self.document.root;
        let index = root.scene.map(|s| s.value());
        if let Some(i) = index.filter(|i| *i >= root.scenes.len()) {
            return Err(SurfaceError::invalid(
                "scene",
                format!("there is no scene {i}"),
            ));
        }
        if let Some(scene) = root.scenes.get(index.unwrap_or(0)) {
            return Ok(scene.nodes.iter().map(|n| n.value()).collect());
        }
        let mut is_child = vec![false; root.nodes.len()];
        for child in root
            .nodes
            .iter()
            .filter_map(|n| n.children.as_ref())
            .flatten()
        {
            if let Some(flag) = is_child.get_mut(child.value()) {
                *flag = true;
            }
        }
        Ok((0..root.nodes.len()).filter(|n| !is_child[*n]).collect())
    }

    fn walk(&mut self) -> Result<(), SurfaceError> {
        let document = self.document;
        let mut seen = vec![false; document.root.nodes.len()];
        let mut stack: Vec<Visit> = Vec::new();
        for node in self.roots()?.into_iter().rev() {
            stack.push(Visit {
                node,
                world: Mat4::IDENTITY,
                path: Vec::new(),
            });
        }
        while let Some(Visit {
            node: index,
            world,
            mut path,
        }) = stack.pop()
        {
            let at = format!("nodes[{index}]");
            let Some(node) = document.root.nodes.get(index) else {
                return Err(SurfaceError::invalid(
                    at,
                    "a scene or a node names it, and it is not there",
                ));
            };
            if std::mem::replace(&mut seen[index], true) {
                return Err(SurfaceError::invalid(
                    at,
                    "it is reached twice: nodes must form a tree without loops",
                ));
            }
            if path.len() >= DEEPEST {
                return Err(SurfaceError::invalid(
                    at,
                    format!("nodes are nested more than {DEEPEST} deep"),
                ));
            }
            if hidden(document, index) {
                self.surface
                    .notes
                    .push(format!("{at}: the file hides it; it is left out."));
                continue;
            }
            let world = world * local(node, &at)?;
            path.push(node.name.clone().unwrap_or_else(|| format!("node {index}")));
            if let Some(mesh) = node.mesh {
                self.place(mesh.value(), world, &path)?;
            }
            for child in node.children.iter().flatten().rev() {
                stack.push(Visit {
                    node: child.value(),
                    world,
                    path: path.clone(),
                });
            }
        }
        Ok(())
    }

    fn place(&mut self, mesh: usize, world: Mat4, path: &[String]) -> Result<(), SurfaceError> {
        let document = self.document;
        let Some(data) = document.root.meshes.get(mesh) else {
            return Err(SurfaceError::invalid(
                format!("meshes[{mesh}]"),
                "a node names it, and it is not there",
            ));
        };
        for (p, primitive) in data.primitives.iter().enumerate() {
            let at = format!("meshes[{mesh}].primitives[{p}]");
            let Some(shape) = self.shape(mesh, p, primitive, &at)? else {
                continue;
            };
            self.vertices += shape.positions.len() as u64;
            self.triangles += shape.indices.len() as u64 / 3;
            let wanted = self.vertices.max(self.triangles);
            if wanted > MOST_ELEMENTS {
                return Err(SurfaceError::TooLarge {
                    at,
                    what: "vertices or triangles",
                    wanted,
                    limit: MOST_ELEMENTS,
                });
            }
            let sheet = self.sheet(primitive, &at)?;
            let variant_sheets = self.variant_sheets(primitive, &at)?;
            let mut patch = placed(&shape, world, &at)?;
            (patch.sheet, patch.variant_sheets, patch.node_path) =
                (sheet, variant_sheets, path.to_vec());
            self.surface.patches.push(patch);
        }
        Ok(())
    }

    fn shape(
        &mut self,
        mesh: usize,
        p: usize,
        primitive: &json::mesh::Primitive,
        at: &str,
    ) -> Result<Option<Rc<Shape>>, SurfaceError> {
        if let Some(known) = self.shapes.get(&(mesh, p)) {
            return Ok(known.clone());
        }
        let reader = Reader {
            document: self.document,
            buffers: self.buffers,
            at: at.to_owned(),
        };
        if primitive.targets.as_ref().is_some_and(|t| !t.is_empty()) {
            self.surface
                .notes
                .push(format!("{at}: morph targets are left out."));
        }
        let shape = reader
            .shape(primitive, &mut self.surface.notes)?
            .map(Rc::new);
        self.counts.draw_calls += 1;
        if let Some(shape) = &shape {
            self.counts.vertices += shape.positions.len() as u64;
            self.counts.triangles += shape.indices.len() as u64 / 3;
        }
        let shape = shape.filter(|s| !s.indices.is_empty());
        self.shapes.insert((mesh, p), shape.clone());
        Ok(shape)
    }

    fn sheet(
        &mut self,
        primitive: &json::mesh::Primitive,
        at: &str,
    ) -> Result<usize, SurfaceError> {
        let Some(material) = primitive.material else {
            if self.plain.is_none() {
                self.plain = Some(self.surface.sheets.len());
                self.surface
                    .sheets
                    .push(materials::default_sheet(&self.surface.sheets));
            }
            return Ok(self.plain.unwrap_or_default());
        };
        self.known_material(material.value(), &format!("{at}.material"))
    }

    fn known_material(&self, index: usize, at: &str) -> Result<usize, SurfaceError> {
        if index < self.document.root.materials.len() {
            return Ok(index);
        }
        Err(SurfaceError::invalid(
            at,
            format!("there is no material {index}"),
        ))
    }

    fn variant_sheets(
        &self,
        primitive: &json::mesh::Primitive,
        at: &str,
    ) -> Result<Vec<(usize, usize)>, SurfaceError> {
        let extension = primitive
            .extensions
            .as_ref()
            .and_then(|e| e.khr_materials_variants.as_ref());
        let at = format!("{at}.extensions.KHR_materials_variants");
        let mut pairs: Vec<(usize, usize)> = Vec::new();
        for mapping in extension.iter().flat_map(|e| &e.mappings) {
            let sheet = self.known_material(mapping.material as usize, &at)?;
            for &variant in &mapping.variants {
                let variant = variant as usize;
                if variant >= self.surface.variants.len() {
                    return Err(SurfaceError::invalid(
                        &at,
                        format!("there is no variant {variant}"),
                    ));
                }
                if pairs.iter().all(|p| p.0 != variant) {
                    pairs.push((variant, sheet));
                }
            }
        }
        Ok(pairs)
    }

    fn finish(mut self) -> Result<(Surface, Counts), SurfaceError> {
        if self.surface.patches.is_empty() {
            self.surface
                .notes
                .push("The file holds no triangles: there is nothing to show.".into());
        }
        if let Some(bounds) = self.surface.bounds() {
            // Single precision keeps 24 bits: at this distance a ten-thousandth of the size is lost.
            let (far, size) = (bounds.centre_m().abs().max_element(), bounds.radius_m());
            if far > size * 1000.0 && size > 0.0 {
                self.surface.notes.push(format!(
                    "The surface lies {far} m from the origin, so its shape is rounded to about {} m; move it to the origin before export.",
                    far * f32::EPSILON
                ));
            }
        }
        Ok((self.surface, self.counts))
    }
}

/// `KHR_node_visibility`.
fn hidden(document: &Document, node: usize) -> bool {
    let extension = document.extension("nodes", node, "KHR_node_visibility");
    extension
        .and_then(|e| e.get("visible"))
        .and_then(Value::as_bool)
        == Some(false)
}

fn local(node: &json::Node, at: &str) -> Result<Mat4, SurfaceError> {
    let matrix = match node.matrix {
        Some(columns) => Mat4::from_cols_array(&columns),
        None => {
            let rotation = node
                .rotation
                .map_or(Vec4::W, |r| Vec4::from(r.0))
                .normalize_or(Vec4::W);
            Mat4::from_scale_rotation_translation(
                node.scale.map_or(Vec3::ONE, Vec3::from),
                Quat::from_vec4(rotation),
                node.translation.map_or(Vec3::ZERO, Vec3::from),
            )
        }
    };
    if !matrix.is_finite() {
        return Err(SurfaceError::invalid(
            at,
            "its transform holds numbers that are too large",
        ));
    }
    Ok(matrix)
}

/// A shape in world coordinates; a mirroring transform turns the triangles round
/// (glTF 2.0 section 3.7.4), so that they still face outwards.
fn placed(shape: &Shape, world: Mat4, at: &str) -> Result<Patch, SurfaceError> {
    let linear = Mat3::from_mat4(world);
    let mirrored = linear.determinant() < 0.0;
    let sign = if mirrored { -1.0 } else { 1.0 };
    // Cofactors: the inverse transpose without its division, so flat scales work too.
    let (x, y, z) = (linear.x_axis, linear.y_axis, linear.z_axis);
    let cofactors = Mat3::from_cols(y.cross(z), z.cross(x), x.cross(y)) * sign;
    let positions: Vec<Vec3> = shape
        .positions
        .iter()
        .map(|p| world.transform_point3(*p))
        .collect();
    if !positions.iter().all(|p| p.is_finite()) {
        return Err(SurfaceError::invalid(
            at,
            "its node's transform moves it beyond what can be computed",
        ));
    }
    let normals = shape
        .normals
        .iter()
        .map(|n| (cofactors * *n).as_dvec3().normalize_or_zero().as_vec3());
    let mut indices = shape.indices.clone();
    if mirrored {
        indices.chunks_exact_mut(3).for_each(|t| t.swap(1, 2));
    }
    Ok(Patch {
        normals: normals.collect(),
        positions,
        uvs: shape.uvs.clone(),
        uvs_1: shape.uvs_1.clone(),
        colours: shape.colours.clone(),
        indices,
        ..Patch::default()
    })
}
