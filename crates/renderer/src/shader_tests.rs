//! Every shader is linked, validated, compared with its Rust twins and searched for what WebGL 2
//! lacks; no GPU needed.

use naga::{AddressSpace, ImageClass, Module, StorageAccess, TypeInner};

use crate::frame::FrameUniform;
use crate::link::{ENTRY_POINTS, compact, link, link_beyond};
use crate::paint::SurfaceUniform;

fn linked_source(name: &str) -> String {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../shaders");
    let read = |module: &str| std::fs::read_to_string(format!("{root}/{module}.wgsl")).ok();
    link(name, &read).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn parsed(name: &str, source: &str) -> Module {
    naga::front::wgsl::parse_str(source)
        .unwrap_or_else(|e| panic!("{name}: {}", e.emit_to_string(source)))
}

fn linked(name: &str) -> Module {
    parsed(name, &linked_source(name))
}

#[test]
fn what_is_sent_to_a_browser_is_the_same_shader() {
    for name in ENTRY_POINTS {
        let source = linked_source(name);
        let small = compact(&source);
        assert!(small.len() < source.len() && !small.contains("//"));
        let [whole, small] = [source, small].map(|source| parsed(name, &source));
        let functions = |module: &Module| -> Vec<(Option<String>, String)> {
            let all = module.functions.iter().map(|(_, f)| f);
            let all = all.chain(module.entry_points.iter().map(|e| &e.function));
            all.map(|f| (f.name.clone(), format!("{:?}", f.expressions)))
                .collect()
        };
        assert_eq!(functions(&whole), functions(&small), "{name}");
    }
}

#[test]
fn every_shader_is_valid_and_has_both_entry_points() {
    for name in ENTRY_POINTS {
        let module = linked(name);
        let mut validator = naga::valid::Validator::new(
            naga::valid::ValidationFlags::all(),
            naga::valid::Capabilities::empty(),
        );
        validator
            .validate(&module)
            .unwrap_or_else(|e| panic!("{name}: {e:?}"));
        let has = |stage| module.entry_points.iter().any(|e| e.stage == stage);
        assert!(
            has(naga::ShaderStage::Vertex) && has(naga::ShaderStage::Fragment),
            "{name}"
        );
    }
}

/// WebGL 2 (OpenGL ES 3.0) has no storage buffers, no storage textures and no compute.
#[test]
fn no_shader_needs_what_webgl_2_lacks() {
    for name in ENTRY_POINTS {
        let module = linked(name);
        for (_, variable) in module.global_variables.iter() {
            let storage = matches!(
                variable.space,
                AddressSpace::Storage { .. } | AddressSpace::WorkGroup
            );
            assert!(!storage, "{name}: {:?} is in storage", variable.name);
            if let TypeInner::Image {
                class: ImageClass::Storage { access, .. },
                ..
            } = module.types[variable.ty].inner
            {
                assert_eq!(
                    access,
                    StorageAccess::empty(),
                    "{name}: {:?} is a storage texture",
                    variable.name
                );
            }
        }
        assert!(
            module
                .entry_points
                .iter()
                .all(|e| e.stage != naga::ShaderStage::Compute),
            "{name}"
        );
    }
}

fn assert_same_layout(
    module: &Module,
    name: &str,
    (members, size): (Vec<(&'static str, usize)>, usize),
) {
    let (_, ty) = module
        .types
        .iter()
        .find(|(_, ty)| ty.name.as_deref() == Some(name))
        .unwrap_or_else(|| panic!("no struct {name}"));
    let TypeInner::Struct {
        members: shader,
        span,
    } = &ty.inner
    else {
        panic!("{name} is no struct")
    };
    let shader: Vec<(&str, usize)> = shader
        .iter()
        .map(|m| (m.name.as_deref().unwrap_or(""), m.offset as usize))
        .collect();
    assert_eq!(shader, members, "{name}");
    assert_eq!(*span as usize, size, "{name}");
}

/// Plain paint and what goes beyond it are the whole, each text once.
#[test]
fn the_whole_is_what_plain_paint_has_and_the_rest() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../shaders");
    let read = |module: &str| std::fs::read_to_string(format!("{root}/{module}.wgsl")).ok();
    let rest = link_beyond("draw/plain", "draw/surface", &read).unwrap();
    let plain = linked_source("draw/plain");
    assert_eq!(plain.clone() + &rest, linked_source("draw/surface"));
    assert!(plain.len() < rest.len());
}

#[test]
fn uniforms_lie_in_memory_as_the_shaders_read_them() {
    let module = linked("draw/surface");
    assert_same_layout(&module, "Frame", FrameUniform::layout());
    assert_same_layout(&module, "SurfacePaint", SurfaceUniform::layout());
}
