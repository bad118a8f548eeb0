//! Which required extensions can be opened.

use crate::SurfaceError;

/// Followed, or without bearing on shape and base colour, so safe to pass over.
const ACCEPTED: &[&str] = &[
    "EXT_meshopt_compression",
    "EXT_texture_webp",
    "KHR_animation_pointer",
    "KHR_lights_punctual",
    "KHR_materials_anisotropy",
    "KHR_materials_clearcoat",
    "KHR_materials_diffuse_transmission",
    "KHR_materials_dispersion",
    "KHR_materials_emissive_strength",
    "KHR_materials_ior",
    "KHR_materials_iridescence",
    "KHR_materials_pbrSpecularGlossiness",
    "KHR_materials_sheen",
    "KHR_materials_specular",
    "KHR_materials_transmission",
    "KHR_materials_unlit",
    "KHR_materials_variants",
    "KHR_materials_volume",
    "KHR_mesh_quantization",
    "KHR_meshopt_compression",
    "KHR_node_visibility",
    "KHR_texture_basisu",
    "KHR_texture_transform",
    "KHR_xmp_json_ld",
];

/// What is refused with a word of explanation: name, what it does, what to do.
const EXPLAINED: &[(&str, &str, &str)] = &[
    (
        DRACO,
        "packs the geometry in a way that cannot be unpacked here",
        "save it without mesh compression, or with EXT_meshopt_compression",
    ),
    (
        "EXT_mesh_gpu_instancing",
        "places one mesh many times from a table",
        "save it with the copies made real",
    ),
];

pub(super) const DRACO: &str = "KHR_draco_mesh_compression";

pub(super) fn check(required: &[String]) -> Result<(), SurfaceError> {
    match required
        .iter()
        .find(|name| !ACCEPTED.contains(&name.as_str()))
    {
        Some(name) => Err(refusal(name)),
        None => Ok(()),
    }
}

pub(super) fn refusal(name: &str) -> SurfaceError {
    let (what, advice) = EXPLAINED.iter().find(|e| e.0 == name).map_or(
        ("is not supported here", "save it without this extension"),
        |e| (e.1, e.2),
    );
    SurfaceError::Extension {
        name: name.into(),
        what: what.into(),
        advice: advice.into(),
    }
}
