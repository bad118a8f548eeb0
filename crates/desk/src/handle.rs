//! The one handle that the worker holds. Documents, findings and arguments cross as JSON texts, region
//! maps as typed arrays.

use js_sys::{Array, Function, Object, Reflect, Uint8Array, Uint16Array};
use wasm_bindgen::prelude::*;

use crate::{DeskError, DraftMap, Drawing, Measuring, Outcome};

/// The desk of one dossier.
#[wasm_bindgen]
pub struct Desk {
    inner: crate::Desk,
}

fn refused(error: DeskError) -> JsValue {
    let refusal = js_sys::Error::new(&error.message);
    if !error.findings.is_empty()
        && let Ok(text) = serde_json::to_string(&error.findings)
        && let Ok(findings) = js_sys::JSON::parse(&text)
    {
        set(&refusal, "findings", &findings);
    }
    refusal.into()
}

fn because(message: impl std::fmt::Display) -> JsValue {
    refused(message.to_string().into())
}

/// On a plain object this cannot fail.
fn set(object: &Object, name: &str, value: &JsValue) {
    let _ = Reflect::set(object, &name.into(), value);
}

fn object(fields: &[(&str, JsValue)]) -> Object {
    let object = Object::new();
    for (name, value) in fields {
        set(&object, name, value);
    }
    object
}

fn changed(outcome: Outcome) -> JsValue {
    let rects = outcome.parts.iter().map(|part| {
        let texels = Uint16Array::from(part.texels.as_slice());
        JsValue::from(object(&[
            ("sheet", part.sheet.as_str().into()),
            ("x", part.rect.x.into()),
            ("y", part.rect.y.into()),
            ("width", part.rect.width.into()),
            ("height", part.rect.height.into()),
            ("map_width", part.map_px[0].into()),
            ("map_height", part.map_px[1].into()),
            ("texels", texels.into()),
        ]))
    });
    let or_null = |text: Option<String>| text.map_or(JsValue::NULL, JsValue::from);
    object(&[
        ("rects", rects.collect::<Array>().into()),
        ("text", or_null(outcome.text)),
        ("undo", or_null(outcome.undo)),
        ("redo", or_null(outcome.redo)),
        // Far below 2^53 steps.
        ("revision", (outcome.revision as f64).into()),
        ("saved", outcome.saved.into()),
    ])
    .into()
}

fn text_of(error: &JsValue) -> String {
    match error.dyn_ref::<js_sys::Error>() {
        Some(error) => String::from(error.message()),
        None => error.as_string().unwrap_or_default(),
    }
}

#[wasm_bindgen]
impl Desk {
    /// Opens `dossier.json`; `read` gives the bytes of another file of the dossier, or throws.
    #[wasm_bindgen(constructor)]
    pub fn new(document: &[u8], read: Function) -> Result<Desk, JsValue> {
        panics_to_console();
        let files = move |path: &str| match read.call1(&JsValue::NULL, &path.into()) {
            Ok(bytes) => match bytes.dyn_into::<Uint8Array>() {
                Ok(bytes) => Ok(bytes.to_vec()),
                Err(_) => Err("the file was not brought as bytes".to_owned()),
            },
            Err(error) => Err(text_of(&error)),
        };
        let inner = crate::Desk::open(document, Box::new(files)).map_err(refused)?;
        Ok(Self { inner })
    }

    /// Files that a method reads, with its values as JSON.
    pub fn needs(&self, method: &str, values: &str) -> Vec<String> {
        let values: serde_json::Value = serde_json::from_str(values).unwrap_or_default();
        let layer = values["layer"].as_str().filter(|_| method == "fill");
        self.inner.needs(method, layer)
    }

    /// The document as text.
    pub fn document(&self) -> String {
        self.inner.text()
    }

    /// Changes the document by steps, as JSON.
    pub fn apply(&mut self, steps: &str, label: &str) -> Result<JsValue, JsValue> {
        let steps: Vec<_> = serde_json::from_str(steps).map_err(because)?;
        self.inner
            .apply(&steps, label)
            .map(changed)
            .map_err(refused)
    }

    /// Goes on with what light needs of every vertex; the share that is done, 0..1.
    pub fn relief_step(&mut self, count: u32) -> Result<f64, JsValue> {
        self.inner.relief_step(count as usize).map_err(refused)
    }

    /// What was found, three numbers a vertex.
    pub fn relief(&mut self) -> Result<Vec<i16>, JsValue> {
        self.inner.relief().map_err(refused)
    }

    /// Takes the last step back.
    pub fn undo(&mut self) -> JsValue {
        changed(self.inner.undo())
    }

    /// Does it again.
    pub fn redo(&mut self) -> JsValue {
        changed(self.inner.redo())
    }

    /// One operation on the region maps, with its values as JSON.
    pub fn draw(&mut self, operation: &str, values: &str) -> Result<JsValue, JsValue> {
        let drawing: Drawing = serde_json::from_str(values).map_err(because)?;
        let outcome = self.inner.draw(operation, &drawing);
        outcome.map(changed).map_err(refused)
    }

    /// Areas of the regions, as JSON.
    pub fn areas(&mut self) -> Result<String, JsValue> {
        let areas = self.inner.areas().map_err(refused)?;
        Ok(areas.to_string())
    }

    /// Measures on the surface, from and to JSON.
    pub fn measure(&mut self, values: &str) -> Result<String, JsValue> {
        let measuring: Measuring = serde_json::from_str(values).map_err(because)?;
        let measured = self.inner.measure(&measuring).map_err(refused)?;
        Ok(measured.to_string())
    }

    /// CIEDE2000 of pairs of CIELAB colours, six numbers a pair.
    pub fn differences(&self, pairs: &[f64]) -> Vec<f64> {
        crate::measuring::differences(pairs)
    }

    /// Where a region lies, as JSON.
    pub fn spot(&mut self, number: u16) -> Result<String, JsValue> {
        let spot = self.inner.spot(number).map_err(refused)?;
        Ok(spot.to_string())
    }

    /// The audit as JSON.
    pub fn audit(&mut self) -> Result<String, JsValue> {
        serde_json::to_string(self.inner.audit()).map_err(because)
    }

    /// Where two states part, as JSON.
    pub fn compare(&mut self, left: &str, right: &str) -> Result<String, JsValue> {
        let partings = self.inner.compare(left, right).map_err(refused)?;
        Ok(partings.to_string())
    }

    /// Hints from an observation, as JSON.
    pub fn hints(&self, evidence: &str) -> Result<String, JsValue> {
        let hints = self.inner.hints(evidence).map_err(refused)?;
        Ok(hints.to_string())
    }

    /// Every file that the dossier names, as JSON.
    pub fn files(&self) -> Result<String, JsValue> {
        serde_json::to_string(&self.inner.file_names()).map_err(because)
    }

    /// Pins and observations as annotations, JSON-LD.
    pub fn annotations(&self) -> String {
        self.inner.annotations().to_string()
    }

    /// Reads annotations in: `{outcome, report}`, the report as JSON.
    pub fn merge_annotations(&mut self, text: &str, label: &str) -> Result<JsValue, JsValue> {
        let merged = self.inner.merge_annotations(text, label);
        let (outcome, report) = merged.map_err(refused)?;
        let report = report.to_string();
        Ok(object(&[("outcome", changed(outcome)), ("report", report.into())]).into())
    }

    /// What a save writes: `{mark, revision, text, maps: [{sheet, path, bytes}]}`.
    pub fn prepare(&mut self) -> Result<JsValue, JsValue> {
        let ready = self.inner.to_save().map_err(refused)?;
        let maps = ready.maps.iter().map(|map| {
            JsValue::from(object(&[
                ("sheet", map.sheet.as_str().into()),
                ("path", map.path.as_str().into()),
                ("bytes", Uint8Array::from(map.bytes.as_slice()).into()),
            ]))
        });
        Ok(object(&[
            ("mark", (ready.mark as f64).into()),
            ("revision", (ready.revision as f64).into()),
            ("text", ready.text.as_str().into()),
            ("maps", maps.collect::<Array>().into()),
        ])
        .into())
    }

    /// The text with another name for a map.
    pub fn renamed(&mut self, sheet: &str, path: &str) -> Result<String, JsValue> {
        self.inner.renamed(sheet, path).map_err(refused)
    }

    /// What `prepare` gave is saved, as this revision.
    pub fn keep(&mut self, mark: f64, revision: f64) -> Result<JsValue, JsValue> {
        // Whole numbers that came from here or from a server's JSON.
        let outcome = self.inner.keep(mark as u64, revision as u64);
        outcome.map(changed).map_err(refused)
    }

    /// What differs: `{text, maps: [{sheet, bytes}]}`.
    pub fn draft(&mut self) -> Result<JsValue, JsValue> {
        let (text, maps) = self.inner.draft().map_err(refused)?;
        let maps = maps.iter().map(|map| {
            JsValue::from(object(&[
                ("sheet", map.sheet.as_str().into()),
                ("bytes", Uint8Array::from(map.bytes.as_slice()).into()),
            ]))
        });
        let maps = maps.collect::<Array>();
        Ok(object(&[("text", text.into()), ("maps", maps.into())]).into())
    }

    /// The surface as a USDZ package that looks as a document of its own says; `pictures` is
    /// `[{file, bytes}]`.
    pub fn package(&self, document: &str, pictures: Array) -> Result<Uint8Array, JsValue> {
        let pictures = named_bytes(&pictures, "file").collect();
        let package = self.inner.package(document.as_bytes(), pictures);
        package
            .map(|bytes| Uint8Array::from(bytes.as_slice()))
            .map_err(refused)
    }

    /// Takes a draft up.
    pub fn restore(&mut self, text: &str, maps: Array, label: &str) -> Result<JsValue, JsValue> {
        let maps = named_bytes(&maps, "sheet").map(|(sheet, bytes)| DraftMap { sheet, bytes });
        let maps: Vec<DraftMap> = maps.collect();
        let outcome = self.inner.restore(text, &maps, label);
        outcome.map(changed).map_err(refused)
    }
}

/// Of a list of `{[name], bytes}`.
fn named_bytes(list: &Array, name: &str) -> impl Iterator<Item = (String, Vec<u8>)> {
    list.iter().filter_map(move |value| {
        let field = |name: &str| Reflect::get(&value, &name.into()).ok();
        let bytes = field("bytes")?.dyn_into::<Uint8Array>().ok()?.to_vec();
        Some((field(name)?.as_string()?, bytes))
    })
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
