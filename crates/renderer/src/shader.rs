//! Shaders as the build script keeps them.

/// A shader as it is kept in the program.
pub(crate) struct Kept(
    #[cfg(shaders_read)] pub(crate) &'static [u8],
    #[cfg(not(shaders_read))] pub(crate) &'static str,
);

/// A shader of `shaders/` by its path there, `_` for `/`.
macro_rules! kept {
    ($name:literal) => {{
        #[cfg(shaders_read)]
        let kept = include_bytes!(concat!(env!("OUT_DIR"), "/", $name, ".shader"));
        #[cfg(not(shaders_read))]
        let kept = include_str!(concat!(env!("OUT_DIR"), "/", $name, ".shader"));
        $crate::shader::Kept(kept)
    }};
}
pub(crate) use kept;

/// Which shader the object is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum OfObject {
    /// Plain paint alone.
    Plain,
    /// The whole, which takes longer to read.
    Surface,
}

/// A module of a kept shader.
pub(crate) fn module(device: &wgpu::Device, label: &str, kept: &Kept) -> wgpu::ShaderModule {
    create(device, label, source(kept))
}

/// A module of a shader of the object, anew at every call.
pub(crate) fn module_of_object(device: &wgpu::Device, shader: OfObject) -> wgpu::ShaderModule {
    let plain = kept!("draw_plain");
    match shader {
        OfObject::Plain => module(device, "plain", &plain),
        OfObject::Surface => create(device, "surface", whole(&plain, &kept!("draw_surface"))),
    }
}

fn create(
    device: &wgpu::Device,
    label: &str,
    source: wgpu::ShaderSource<'_>,
) -> wgpu::ShaderModule {
    device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some(label),
        source,
    })
}

#[cfg(not(shaders_read))]
fn source(kept: &Kept) -> wgpu::ShaderSource<'static> {
    wgpu::ShaderSource::Wgsl(kept.0.into())
}

/// As text the whole follows plain paint.
#[cfg(not(shaders_read))]
fn whole(plain: &Kept, rest: &Kept) -> wgpu::ShaderSource<'static> {
    wgpu::ShaderSource::Wgsl([plain.0, rest.0].concat().into())
}

#[cfg(shaders_read)]
fn source(kept: &Kept) -> wgpu::ShaderSource<'static> {
    // Written by the build script with the same libraries; an empty module would be refused by the device.
    let module: naga::Module = postcard::from_bytes(kept.0).unwrap_or_default();
    wgpu::ShaderSource::Naga(std::borrow::Cow::Owned(module))
}

#[cfg(shaders_read)]
fn whole(_: &Kept, whole: &Kept) -> wgpu::ShaderSource<'static> {
    source(whole)
}
