//! What the worker calls. Texels, vertices and boxes cross as typed arrays.

use std::fmt::Display;

use ganosis_surface::pick::Tree;
use ganosis_surface::{Surface, flat, gltf_in};
use js_sys::{Array, Function, Object, Reflect, Uint8Array, Uint16Array};
use wasm_bindgen::prelude::*;

/// A mesh that was opened.
#[wasm_bindgen]
#[derive(Debug)]
pub struct Mesh {
    surface: Surface,
}

fn refused(error: impl Display) -> JsValue {
    js_sys::Error::new(&error.to_string()).into()
}

fn bytes(slices: impl IntoIterator<Item = impl AsRef<[u8]>>) -> Array {
    let array = Array::new();
    for slice in slices {
        array.push(&Uint8Array::from(slice.as_ref()));
    }
    array
}

#[wasm_bindgen]
impl Mesh {
    /// Opens a mesh; `read` gives the bytes of a file beside it, or throws.
    #[wasm_bindgen(constructor)]
    pub fn new(file: &[u8], read: &Function) -> Result<Mesh, JsValue> {
        panics_to_console();
        let beside = |name: &str| {
            let bytes = read.call1(&JsValue::NULL, &name.into()).ok()?;
            Some(bytes.dyn_into::<Uint8Array>().ok()?.to_vec())
        };
        let surface = gltf_in::read(file, &beside).map_err(refused)?;
        Ok(Self { surface })
    }

    /// Files that a mesh names.
    pub fn needs(file: &[u8]) -> Result<Vec<String>, JsValue> {
        gltf_in::needed_files(file).map_err(refused)
    }

    /// The path of a file that a mesh names.
    pub fn beside(file: &str, name: &str) -> String {
        ganosis_surface::beside(file, name)
    }

    /// Everything but the arrays, as the viewer takes it.
    pub fn head(&self) -> Vec<u8> {
        flat::head(&self.surface)
    }

    /// The arrays, in the viewer's order.
    pub fn arrays(&self) -> Array {
        bytes(flat::arrays(&self.surface))
    }

    /// Boxes and triangle numbers of the tree by which places are found.
    pub fn tree(&self) -> Array {
        bytes(Tree::of(&self.surface).bytes())
    }
}

/// Greyscale images.
#[wasm_bindgen]
#[derive(Debug)]
pub struct Images;

#[wasm_bindgen]
impl Images {
    /// Numbers of a greyscale PNG: `{width, height, full_scale, texels}`.
    pub fn grey(file: &[u8]) -> Result<JsValue, JsValue> {
        panics_to_console();
        let grey = crate::grey(file).map_err(refused)?;
        let object = Object::new();
        let [width, height] = grey.size;
        let fields: [(&str, JsValue); 4] = [
            ("width", width.into()),
            ("height", height.into()),
            ("full_scale", grey.full_scale.into()),
            ("texels", Uint16Array::from(grey.texels.as_slice()).into()),
        ];
        for (name, value) in fields {
            Reflect::set(&object, &name.into(), &value)?;
        }
        Ok(object.into())
    }
}

fn panics_to_console() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        std::panic::set_hook(Box::new(|info| {
            web_sys::console::error_1(&info.to_string().into());
        }));
    });
}
