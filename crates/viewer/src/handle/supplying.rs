//! What the viewer wants of the dossier's files, and what is brought.

use std::rc::Rc;

use ganosis_renderer::Renderer;
use ganosis_surface::flat::{Arriving, Damaged};
use ganosis_surface::pick::Tree;
use serde_json::json;
use wasm_bindgen::prelude::*;

use super::{Viewer, change_of, error, part_of, plain, read_back};
use crate::content::{ImageKind, Values};

fn values(width: u32, height: u32, full_scale: u16, texels: Vec<u16>) -> Result<Values, String> {
    if u64::from(width) * u64::from(height) != texels.len() as u64 {
        return Err(format!(
            "{} numbers for {width} × {height} texels",
            texels.len()
        ));
    }
    Ok(Values {
        size: [width, height],
        texels,
        full_scale,
    })
}

#[wasm_bindgen]
impl Viewer {
    /// What is to be fetched next: `[{id, path, kind, layer, sheet, urgent}]`.
    pub fn wanted(&self) -> Result<JsValue, JsValue> {
        let wants = self.inner.borrow().app.wanted();
        plain(
            &wants
                .iter()
                .map(|w| {
                    json!({"id": w.id, "path": w.path, "kind": w.kind, "layer": w.layer,
                           "sheet": w.sheet, "urgent": w.urgent})
                })
                .collect(),
        )
    }

    /// Bytes of an image inside the mesh file: `{bytes, mime}`.
    pub fn embedded(&self, id: &str) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        let index = id.strip_prefix("image:").and_then(|i| i.parse().ok());
        let Some((bytes, mime)) = index.and_then(|i| inner.app.content()?.embedded(i)) else {
            return Err(error(format!(
                "there is no image {id} inside the mesh file"
            )));
        };
        let object = js_sys::Object::new();
        js_sys::Reflect::set(&object, &"bytes".into(), &js_sys::Uint8Array::from(bytes))?;
        js_sys::Reflect::set(&object, &"mime".into(), &mime.into())?;
        Ok(object.into())
    }

    /// Takes the bytes of a spectrum.
    pub fn supply(&self, id: &str, bytes: &[u8]) -> Result<(), JsValue> {
        let mut inner = self.inner.borrow_mut();
        inner.app.supply_text(id, bytes).map_err(error)
    }

    /// Takes the numbers of a band image or a region map, as the porter gives them.
    pub fn supply_values(
        &self,
        id: &str,
        width: u32,
        height: u32,
        full_scale: u16,
        texels: Vec<u16>,
    ) -> Result<(), JsValue> {
        let values = values(width, height, full_scale, texels);
        let mut inner = self.inner.borrow_mut();
        inner.app.supply_values(id, values).map_err(error)
    }

    /// Begins to take a mesh that the porter opened: the bytes of its arrays follow in pieces.
    pub fn begin_surface(&self, head: &[u8]) -> Result<(), JsValue> {
        let arriving = Arriving::new(head).map_err(error)?;
        self.inner.borrow_mut().arriving = Some(arriving);
        Ok(())
    }

    /// Takes a piece of one array.
    pub fn add_to_surface(&self, piece: &js_sys::Uint8Array) {
        if let Some(arriving) = &mut self.inner.borrow_mut().arriving {
            let mut from = 0;
            while from < piece.length() {
                let place = arriving.next((piece.length() - from) as usize);
                let to = from + place.len() as u32;
                piece.subarray(from, to).copy_to(place);
                from = if place.is_empty() { u32::MAX } else { to };
            }
        }
    }

    /// All pieces of the mesh that was wanted under this id are here.
    pub fn end_surface(&self, id: &str) -> Result<(), JsValue> {
        let mut inner = self.inner.borrow_mut();
        let arrived = inner.arriving.take().map_or(Err(Damaged), Arriving::end);
        match arrived {
            Ok(surface) => inner.app.take_surface(id, surface),
            Err(damaged) => inner.app.refuse_surface(id, damaged),
        }
        .map_err(error)
    }

    /// Brings the next piece of a mesh to the device; false when it is drawn from now on.
    pub fn bring_geometry(&self) -> bool {
        self.inner.borrow_mut().app.bring_geometry()
    }

    /// Takes the tree by which places on the surface are found, as the porter gives it; false when it is
    /// not that of the surface which is here.
    pub fn supply_tree(&self, boxes: &js_sys::Uint8Array, order: &js_sys::Uint8Array) -> bool {
        let mut tree = Tree::with_room(boxes.length() as usize, order.length() as usize / 4);
        for (place, bytes) in tree.room().into_iter().zip([boxes, order]) {
            if place.len() != bytes.length() as usize {
                return false;
            }
            bytes.copy_to(place);
        }
        self.inner.borrow_mut().app.take_tree(tree)
    }

    /// A picture of this height is being made, which may want a finer level of the surface; 0 afterwards.
    pub fn set_pictured(&self, height_px: f64) {
        self.inner.borrow_mut().app.set_pictured(height_px);
    }

    /// Which level of the surface is here: `{level, of, triangles, error_mm}`, the coarsest is 1; null
    /// where it has no levels.
    pub fn surface_level(&self) -> Result<JsValue, JsValue> {
        plain(&self.inner.borrow().app.level())
    }

    /// Takes a decoded colour image.
    pub fn supply_image(&self, id: &str, bitmap: web_sys::ImageBitmap) -> Result<(), JsValue> {
        let upload = |renderer: &mut Renderer| renderer.add_colour_bitmap(&bitmap);
        self.inner
            .borrow_mut()
            .app
            .supply_colour(id, &upload)
            .map_err(error)
    }

    /// Images that are cut into tiles: `[{id, index, kind}]`, with the path of the list of their tiles.
    pub fn tiled(&self) -> Result<JsValue, JsValue> {
        let inner = self.inner.borrow();
        let tiled = inner.app.tiled();
        plain(
            &tiled
                .map(|(i, index, kind)| {
                    json!({"id": i, "index": index, "colour": kind == ImageKind::Colour})
                })
                .collect(),
        )
    }

    /// Tiles that a part of a picture (see `snapshot_tile`) needs and that are not here: of each the
    /// number of its image, as `tiled` has it, its own, its rank, and how much it is wanted. Of a picture
    /// without size those of the canvas.
    pub async fn tiles_wanted(
        &self,
        change: JsValue,
        width_px: u32,
        height_px: u32,
        part: Vec<u32>,
    ) -> Result<Vec<u32>, JsValue> {
        let inner = Rc::clone(&self.inner);
        let asked = {
            let app = &mut inner.borrow_mut().app;
            let own = app.size_px();
            let whole = if width_px == 0 {
                own
            } else {
                [width_px, height_px]
            };
            let (origin, size) = part_of(&part).unwrap_or(([0, 0], whole));
            let change = change_of(&change)?;
            app.ask_for_tiles(&change, whole, origin, size)
                .map_err(error)?
        };
        let Some(asked) = asked else {
            return Ok(Vec::new());
        };
        let rgba = read_back(&inner, &asked.readback).await?;
        let wanted = inner.borrow_mut().app.tiles_wanted(&asked, &rgba);
        Ok(wanted.as_flattened().to_vec())
    }

    /// Whether `tiles_wanted` can be asked of the canvas without making something first that coming frames make.
    pub fn can_ask_for_tiles(&self) -> bool {
        self.inner.borrow().app.can_ask_for_tiles()
    }

    /// Tiles of the finest levels at a point of the canvas that are not here, as `tiles_wanted` has them.
    pub fn tiles_at(&self, x: f64, y: f64) -> Vec<u32> {
        let tiles = self.inner.borrow_mut().app.tiles_at(x, y);
        tiles.as_flattened().to_vec()
    }

    /// Takes a decoded tile of colour; false where there is no room for it.
    pub fn supply_tile(
        &self,
        image: u32,
        number: u32,
        bitmap: web_sys::ImageBitmap,
    ) -> Result<bool, JsValue> {
        let put = |renderer: &mut Renderer, id| renderer.put_tile_bitmap(id, &bitmap);
        let mut inner = self.inner.borrow_mut();
        inner.app.supply_tile([image, number], &put).map_err(error)
    }

    /// As `supply_tile`, for the numbers of a tile of a band or a region map, as the porter gives them.
    pub fn supply_tile_values(
        &self,
        image: u32,
        number: u32,
        width: u32,
        height: u32,
        full_scale: u16,
        texels: Vec<u16>,
    ) -> Result<bool, JsValue> {
        let values = values(width, height, full_scale, texels).map_err(error)?;
        let mut inner = self.inner.borrow_mut();
        inner
            .app
            .supply_tile_values([image, number], values)
            .map_err(error)
    }

    /// Goes on without something wanted.
    pub fn fail(&self, id: &str, message: &str) {
        self.inner.borrow_mut().app.fail(id, message);
    }
}
