//! Sheets from materials.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use gltf::json;
use gltf::json::texture::{MagFilter, WrappingMode};
use gltf::json::validation::Checked;
use serde_json::Value;

use super::buffers::{self, Buffers};
use super::document::Document;
use crate::SurfaceError;
use crate::model::{AlphaMode, ImageSource, Sheet, Texture, UvTransform, Wrap};

const SPECULAR_GLOSSINESS: &str = "KHR_materials_pbrSpecularGlossiness";

/// Reads all materials, in the file's order.
pub(super) fn sheets(
    document: &Document,
    buffers: &Buffers<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<Sheet>, SurfaceError> {
    let mut reader = Reader {
        document,
        buffers,
        notes,
        images: HashMap::new(),
    };
    let mut taken = HashSet::new();
    let mut sheets = Vec::new();
    for (i, material) in document.root.materials.iter().enumerate() {
        let named = material.name.clone().filter(|n| !n.is_empty());
        let wanted = named.unwrap_or_else(|| format!("sheet {}", i + 1));
        let name = free_name(&wanted, &taken);
        if name != wanted {
            reader.notes.push(format!(
                "materials[{i}]: the name “{wanted}” is taken; it is called “{name}” here."
            ));
        }
        taken.insert(name.clone());
        sheets.push(reader.sheet(i, material, name)?);
    }
    Ok(sheets)
}

/// The sheet of primitives that name no material (glTF 2.0 section 3.7.2.1).
pub(super) fn default_sheet(sheets: &[Sheet]) -> Sheet {
    let taken = sheets.iter().map(|s| s.name.clone()).collect();
    Sheet::plain(free_name("plain", &taken))
}

fn free_name(wanted: &str, taken: &HashSet<String>) -> String {
    let others = (2..).map(|n| format!("{wanted} {n}"));
    std::iter::once(wanted.to_owned())
        .chain(others)
        .find(|n| !taken.contains(n))
        .unwrap_or_default()
}

struct Reader<'a, 'b> {
    document: &'a Document,
    buffers: &'a Buffers<'b>,
    notes: &'a mut Vec<String>,
    images: HashMap<usize, Option<ImageSource>>,
}

impl Reader<'_, '_> {
    fn sheet(
        &mut self,
        i: usize,
        material: &json::Material,
        name: String,
    ) -> Result<Sheet, SurfaceError> {
        let pbr = &material.pbr_metallic_roughness;
        let at = format!("materials[{i}]");
        let (mut colour, mut info) = (pbr.base_color_factor.0, pbr.base_color_texture.clone());
        if let Some(other) = self.document.extension("materials", i, SPECULAR_GLOSSINESS)
            && info.is_none()
        {
            (colour, info) = diffuse(other, &at)?;
        }
        let glows = material.emissive_factor.0.iter().any(|&c| c > 0.0);
        if glows && material.emissive_texture.is_some() {
            self.notes.push(format!(
                "{at}: its own glow (emissiveTexture) is left out; what is shown is the colour of its surface."
            ));
        }
        let alpha = match material.alpha_mode {
            Checked::Valid(json::material::AlphaMode::Mask) => {
                AlphaMode::Mask(material.alpha_cutoff.map_or(0.5, |c| c.0))
            }
            Checked::Valid(json::material::AlphaMode::Blend) => AlphaMode::Blend,
            _ => AlphaMode::Opaque,
        };
        let texture = match info {
            Some(info) => self.texture(&info, &at)?,
            None => None,
        };
        let base_colour = colour.map(|c| {
            if c.is_finite() {
                c.clamp(0.0, 1.0)
            } else {
                1.0
            }
        });
        Ok(Sheet {
            name,
            base_colour,
            texture,
            alpha,
            double_sided: material.double_sided,
        })
    }

    fn texture(
        &mut self,
        info: &json::texture::Info,
        at: &str,
    ) -> Result<Option<Texture>, SurfaceError> {
        let index = info.index.value();
        let Some(texture) = self.document.root.textures.get(index) else {
            return Err(SurfaceError::invalid(
                at,
                format!("there is no texture {index}"),
            ));
        };
        let transform = info
            .extensions
            .as_ref()
            .and_then(|e| e.texture_transform.as_ref());
        let set = transform
            .and_then(|t| t.tex_coord)
            .unwrap_or(info.tex_coord);
        if set > 1 {
            self.notes.push(format!("{at}: its texture uses UV set {set}; only the first two are read, so it is left out."));
            return Ok(None);
        }
        let Some(image) = self.source(index, texture)? else {
            return Ok(None);
        };
        let sampler = texture
            .sampler
            .and_then(|s| self.document.root.samplers.get(s.value()));
        let uv = transform.map_or_else(UvTransform::default, |t| UvTransform {
            offset: t.offset.0,
            rotation_rad: t.rotation.0,
            scale: t.scale.0,
        });
        let finite = uv
            .offset
            .iter()
            .chain(&uv.scale)
            .chain([&uv.rotation_rad])
            .all(|v| v.is_finite());
        Ok(Some(Texture {
            image,
            uv_set: set as usize,
            transform: if finite { uv } else { UvTransform::default() },
            wrap_s: sampler.map_or(Wrap::Repeat, |s| wrap(s.wrap_s)),
            wrap_t: sampler.map_or(Wrap::Repeat, |s| wrap(s.wrap_t)),
            nearest: sampler
                .is_some_and(|s| s.mag_filter == Some(Checked::Valid(MagFilter::Nearest))),
        }))
    }

    /// WebP where the file has it, else the plain source.
    fn source(
        &mut self,
        index: usize,
        texture: &json::Texture,
    ) -> Result<Option<ImageSource>, SurfaceError> {
        let extra = |name: &str| {
            let extension = self.document.extension("textures", index, name)?;
            extension.get("source").and_then(Value::as_u64)
        };
        let plain = texture.source.value();
        let plain = (plain < self.document.root.images.len()).then_some(plain as u64);
        match extra("EXT_texture_webp").or(plain) {
            Some(image) => self.image(image as usize),
            None => {
                let what = if extra("KHR_texture_basisu").is_some() {
                    "is in the KTX 2 form (KHR_texture_basisu), which cannot be shown; save it as PNG, JPEG or WebP"
                } else {
                    "has no picture"
                };
                self.notes.push(format!("textures[{index}]: it {what}."));
                Ok(None)
            }
        }
    }

    fn image(&mut self, index: usize) -> Result<Option<ImageSource>, SurfaceError> {
        if let Some(known) = self.images.get(&index) {
            return Ok(known.clone());
        }
        let at = format!("images[{index}]");
        // A picture that is not there leaves the shape and the other sheets usable.
        let source = match self.image_source(index, &at) {
            Ok(source) => Some(source),
            Err(e) => {
                self.notes.push(format!("A texture is left out: {e}."));
                None
            }
        };
        self.images.insert(index, source.clone());
        Ok(source)
    }

    fn image_source(&self, index: usize, at: &str) -> Result<ImageSource, SurfaceError> {
        let image = self.document.root.images.get(index);
        let image = image.ok_or_else(|| SurfaceError::invalid(at, "there is no such image"))?;
        let mime = image.mime_type.as_ref().map(|m| m.0.clone());
        match (&image.uri, image.buffer_view) {
            (Some(uri), _) if buffers::is_data(uri) => {
                let (own, bytes) = buffers::data_uri(uri, at)?;
                Ok(ImageSource::Embedded {
                    mime: mime.unwrap_or(own),
                    bytes: Arc::from(bytes),
                })
            }
            (Some(uri), _) => Ok(ImageSource::Uri(buffers::local_path(uri, at)?)),
            (None, Some(view)) => Ok(ImageSource::Embedded {
                mime: mime.unwrap_or_default(),
                bytes: Arc::from(&*self.buffers.view(view.value())?),
            }),
            (None, None) => Err(SurfaceError::invalid(at, "it names no picture")),
        }
    }
}

/// Diffuse factor and texture of `KHR_materials_pbrSpecularGlossiness`, the
/// nearest thing to a base colour there.
fn diffuse(
    extension: &Value,
    at: &str,
) -> Result<([f32; 4], Option<json::texture::Info>), SurfaceError> {
    use serde::Deserialize as _;
    let fail = |e: serde_json::Error| SurfaceError::invalid(at, e.to_string());
    let colour = extension
        .get("diffuseFactor")
        .map(<[f32; 4]>::deserialize)
        .transpose()
        .map_err(fail)?;
    let info = extension
        .get("diffuseTexture")
        .map(json::texture::Info::deserialize);
    Ok((colour.unwrap_or([1.0; 4]), info.transpose().map_err(fail)?))
}

fn wrap(mode: Checked<WrappingMode>) -> Wrap {
    match mode {
        Checked::Valid(WrappingMode::ClampToEdge) => Wrap::Clamp,
        Checked::Valid(WrappingMode::MirroredRepeat) => Wrap::Mirror,
        _ => Wrap::Repeat,
    }
}
