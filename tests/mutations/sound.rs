//! A small sound dossier: an invented plane of 200 by 100 mm with three
//! regions and a part, made in memory.

use std::borrow::Cow;
use std::collections::HashMap;

use ganosis_audit::{Colours, Labels, Sources};
use ganosis_colorimetry::{LabD50, lab_to_srgb8_slice};
use ganosis_dossier::Dossier;
use ganosis_dossier::document::SetAside;
use ganosis_surface::{Patch, Sheet, Surface};
use glam::{Vec2, Vec3};

/// A texel is a millimetre.
pub(crate) const SIZE_PX: [u32; 2] = [200, 100];

/// The document with what belongs to it, all open to mutation.
pub(crate) struct Scene {
    pub(crate) document: Dossier,
    pub(crate) surface: Surface,
    /// By sheet: size and codes.
    pub(crate) labels: HashMap<String, ([u32; 2], Vec<u16>)>,
    /// By layer and sheet: size and texels.
    pub(crate) colours: HashMap<(String, String), ([u32; 2], Vec<u8>)>,
}

impl Sources for Scene {
    fn surface(&self) -> Option<&Surface> {
        Some(&self.surface)
    }
    fn labels(&self, sheet: &str) -> Option<Labels<'_>> {
        let ([width_px, height_px], codes) = self.labels.get(sheet)?;
        Some(Labels {
            width_px: *width_px,
            height_px: *height_px,
            codes: Cow::Borrowed(codes),
        })
    }
    fn colours(&self, layer: &str, sheet: &str) -> Option<Colours<'_>> {
        let ([width_px, height_px], rgba) =
            self.colours.get(&(layer.to_owned(), sheet.to_owned()))?;
        Some(Colours {
            width_px: *width_px,
            height_px: *height_px,
            rgba: Cow::Borrowed(rgba),
        })
    }
}

impl Scene {
    pub(crate) fn set_aside(&mut self, rule: &str, about: &str, reason: &str) {
        self.document.set_aside.push(SetAside {
            rule: rule.to_owned(),
            about: about.to_owned(),
            by: "ek".to_owned(),
            reason: reason.into(),
            ..SetAside::default()
        });
    }

    /// Paints a region of a layer.
    pub(crate) fn paint(&mut self, layer: &str, region: u16, lab_d50: [f64; 3]) {
        let codes = &self.labels["body"].1;
        let (_, rgba) = self
            .colours
            .get_mut(&(layer.to_owned(), "body".to_owned()))
            .unwrap();
        for (code, texel) in codes.iter().zip(rgba.chunks_exact_mut(4)) {
            if *code == region {
                texel[..3].copy_from_slice(&srgb(lab_d50));
            }
        }
    }
}

/// A rectangle in a plane of constant z, in metres.
pub(crate) fn rectangle(sheet: usize, node: &str, min: [f32; 3], size: [f32; 2]) -> Patch {
    let at = |u: f32, v: f32| Vec3::new(min[0] + u * size[0], min[1] + (1.0 - v) * size[1], min[2]);
    let uvs = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]].map(Vec2::from);
    Patch {
        sheet,
        node_path: vec![node.to_owned()],
        positions: uvs.iter().map(|uv| at(uv.x, uv.y)).collect(),
        normals: vec![Vec3::Z; 4],
        uvs: uvs.to_vec(),
        indices: vec![0, 2, 1, 0, 3, 2],
        ..Patch::default()
    }
}

fn srgb(lab_d50: [f64; 3]) -> [u8; 3] {
    let mut out = [[0; 3]];
    lab_to_srgb8_slice(&[LabD50::from_array(lab_d50)], &mut out);
    out[0]
}

/// Stone, and the paints of `document.json`.
pub(crate) const STONE: [f64; 3] = [78.0, 2.0, 12.0];
pub(crate) const VERMILION: [f64; 3] = [45.0, 50.0, 35.0];
pub(crate) const AZURITE: [f64; 3] = [40.0, -4.0, -30.0];
pub(crate) const MALACHITE: [f64; 3] = [52.0, -30.0, 8.0];

fn image(labels: &[u16], colour: impl Fn(u16) -> [f64; 3]) -> Vec<u8> {
    let texel = |code: &u16| {
        let [r, g, b] = srgb(colour(*code));
        [r, g, b, 255]
    };
    labels.iter().flat_map(texel).collect()
}

pub(crate) fn scene() -> Scene {
    let document = ganosis_dossier::document_from_bytes(include_bytes!("sound.json")).unwrap();
    assert!(document.findings.is_empty(), "{:?}", document.findings);
    let surface = Surface {
        sheets: vec![Sheet::plain("stone"), Sheet::plain("bill")],
        patches: vec![
            rectangle(0, "body", [0.0, 0.0, 0.0], [0.2, 0.1]),
            rectangle(1, "bill", [0.08, 0.03, 0.01], [0.04, 0.04]),
        ],
        ..Surface::default()
    };
    let columns = 0..SIZE_PX[0] * SIZE_PX[1];
    let body: Vec<u16> = columns
        .map(|i| match i % SIZE_PX[0] {
            0..80 => 1,
            80..160 => 2,
            _ => 3,
        })
        .collect();
    let bill = vec![0; 16];
    let paint = |blue: [f64; 3]| {
        move |code: u16| match code {
            1 => VERMILION,
            2 => blue,
            _ => [STONE[0] + 6.0, STONE[1], STONE[2]],
        }
    };
    let mut colours = HashMap::new();
    let mut add = |layer: &str, sheet: &str, size: [u32; 2], rgba: Vec<u8>| {
        colours.insert((layer.to_owned(), sheet.to_owned()), (size, rgba));
    };
    add("found-colour", "body", SIZE_PX, image(&body, |_| STONE));
    add("found-colour", "bill", [4, 4], image(&bill, |_| STONE));
    add(
        "evidence-colour",
        "body",
        SIZE_PX,
        image(&body, paint(AZURITE)),
    );
    add("evidence-colour", "bill", [4, 4], image(&bill, |_| STONE));
    add(
        "guess-colour",
        "body",
        SIZE_PX,
        image(&body, paint(MALACHITE)),
    );
    add("guess-colour", "bill", [4, 4], image(&bill, |_| VERMILION));
    let labels = [
        ("body".to_owned(), (SIZE_PX, body)),
        ("bill".to_owned(), ([4, 4], bill)),
    ];
    Scene {
        document: document.document,
        surface,
        labels: labels.into(),
        colours,
    }
}
