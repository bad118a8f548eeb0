//! The one handle that the worker holds. Questions and answers cross as JSON texts, pixels and vertices as
//! typed arrays.

use ganosis_imaging::pose::PosedPhoto;
use js_sys::{Array, Float32Array, Function, Object, Reflect, Uint8Array, Uint32Array};
use wasm_bindgen::prelude::*;

use crate::TripodError;

/// The tripod before one surface.
#[wasm_bindgen]
pub struct Tripod {
    inner: crate::Tripod,
}

fn refused(error: TripodError) -> JsValue {
    js_sys::Error::new(&error.message).into()
}

fn because(error: serde_json::Error) -> JsValue {
    refused(error.into())
}

fn object(fields: &[(&str, JsValue)]) -> JsValue {
    let object = Object::new();
    for (name, value) in fields {
        // On a plain object this cannot fail.
        let _ = Reflect::set(&object, &(*name).into(), value);
    }
    object.into()
}

#[wasm_bindgen]
impl Tripod {
    /// Opens a surface; `read` gives the bytes of a file beside it, or throws.
    #[wasm_bindgen(constructor)]
    pub fn new(bytes: &[u8], read: &Function) -> Result<Tripod, JsValue> {
        panics_to_console();
        let beside = |name: &str| {
            let bytes = read.call1(&JsValue::NULL, &name.into()).ok()?;
            Some(bytes.dyn_into::<Uint8Array>().ok()?.to_vec())
        };
        let inner = crate::Tripod::open(bytes, &beside).map_err(refused)?;
        Ok(Self { inner })
    }

    /// Files that a surface names.
    pub fn needs(bytes: &[u8]) -> Result<Vec<String>, JsValue> {
        crate::Tripod::needs(bytes).map_err(refused)
    }

    /// The triangles: `{positions, corners, spans}`, spans as JSON.
    pub fn geometry(&self) -> JsValue {
        let all = self.inner.geometry();
        let spans: Vec<serde_json::Value> = all
            .spans
            .iter()
            .map(|s| serde_json::json!({"first": s.first, "count": s.count, "nodes": s.nodes}))
            .collect();
        object(&[
            (
                "positions",
                Float32Array::from(all.positions.as_slice()).into(),
            ),
            ("corners", Uint32Array::from(all.corners.as_slice()).into()),
            ("spans", serde_json::Value::from(spans).to_string().into()),
        ])
    }

    /// Takes a photograph and gives what is shown of it.
    pub fn take(
        &mut self,
        bytes: &[u8],
        name: &str,
        encoding: Option<String>,
        largest_px: u32,
    ) -> Result<JsValue, JsValue> {
        let shown = self
            .inner
            .take(bytes, name, encoding.as_deref(), largest_px as usize)
            .map_err(refused)?;
        // Far below 2^53 pixels.
        let number = |n: usize| JsValue::from(n as f64);
        Ok(object(&[
            ("width_px", number(shown.width_px)),
            ("height_px", number(shown.height_px)),
            ("shrunk", number(shown.shrunk)),
            ("shown_width", number(shown.shown_width)),
            ("shown_height", number(shown.shown_height)),
            ("rgba", Uint8Array::from(shown.rgba.as_slice()).into()),
            ("bits", shown.bits.into()),
            ("exif", shown.exif.into()),
            ("encoding", shown.encoding.into()),
            ("gain", shown.gain.into()),
        ]))
    }

    /// Finds the pose, from and to JSON.
    pub fn solve(&self, asked: &str) -> Result<String, JsValue> {
        let asked = serde_json::from_str(asked).map_err(because)?;
        let answer = self.inner.solve(&asked).map_err(refused)?;
        serde_json::to_string(&answer).map_err(because)
    }

    /// Names of the sheets of the surface.
    pub fn sheets(&self) -> Vec<String> {
        self.inner.sheets()
    }

    /// Brings a pose into agreement with a layer, from and to JSON; `images` has the bytes of each sheet's
    /// image, or nothing.
    pub fn agree(&self, posed: &str, images: &Array, without: &str) -> Result<String, JsValue> {
        let posed: PosedPhoto = serde_json::from_str(posed).map_err(because)?;
        let without: Vec<String> = serde_json::from_str(without).map_err(because)?;
        let images: Vec<Option<Vec<u8>>> = images
            .iter()
            .map(|one| Some(one.dyn_into::<Uint8Array>().ok()?.to_vec()))
            .collect();
        let agreed = self
            .inner
            .agree(&posed, &images, &without)
            .map_err(refused)?;
        serde_json::to_string(&agreed).map_err(because)
    }

    /// What a posed photograph takes in, from and to JSON.
    pub fn frame(posed: &str) -> Result<String, JsValue> {
        let posed: PosedPhoto = serde_json::from_str(posed).map_err(because)?;
        let frame = crate::Frame::of(&posed.lens, &posed.pose).map_err(refused)?;
        serde_json::to_string(&frame).map_err(because)
    }

    /// The path of a file that `file` names.
    pub fn beside(file: &str, name: &str) -> String {
        ganosis_surface::beside(file, name)
    }

    /// What a file of points, poses or a lens tells, as JSON.
    pub fn read(&self, text: &str, file: &str, photo: &str) -> Result<String, JsValue> {
        let told = self.inner.read(text, file, photo).map_err(refused)?;
        serde_json::to_string(&told).map_err(because)
    }

    /// The table of pairs, from JSON.
    pub fn points_text(pairs: &str) -> Result<String, JsValue> {
        let pairs: Vec<_> = serde_json::from_str(pairs).map_err(because)?;
        Ok(crate::Tripod::points_text(&pairs))
    }

    /// The file of poses, from JSON.
    pub fn poses_text(surface: &str, posed: &str) -> Result<String, JsValue> {
        let surface = serde_json::from_str(surface).map_err(because)?;
        let posed = serde_json::from_str(posed).map_err(because)?;
        Ok(crate::Tripod::poses_text(surface, posed))
    }
}

/// A panic is a defect of ours: its place goes to the console.
fn panics_to_console() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        std::panic::set_hook(Box::new(|info| {
            web_sys::console::error_1(&info.to_string().into());
        }));
    });
}
