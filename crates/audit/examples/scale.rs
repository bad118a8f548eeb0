//! How long the audit of a large dossier takes: 5,000 regions, 20,000 claims,
//! 50,000 observations, on a surface of 100,000 triangles with a region map of
//! 2048 x 2048 texels.
//!
//! `cargo run --release -p ganosis-audit --example scale`

use std::borrow::Cow;
use std::time::Instant;

use ganosis_audit::{Colours, Labels, NoSources, Sources};
use ganosis_dossier::Dossier;
use ganosis_dossier::document::{
    Anchor, Certainty, Claim, Evidence, Layer, LayerImage, LayerKind, Origin, PaletteEntry, Person,
    Region, Sheet, State, StateKind, Technique,
};
use ganosis_surface::{Patch, Surface};
use glam::{Vec2, Vec3};

const REGIONS: u32 = 5000;
const CLAIMS: usize = 20_000;
const EVIDENCE: usize = 50_000;
const SIDE_PX: u32 = 2048;
/// Regions in a row of the map.
const ROW: u32 = 71;

struct Made {
    surface: Surface,
    codes: Vec<u16>,
    found: Vec<u8>,
    painted: Vec<u8>,
}

impl Sources for Made {
    fn surface(&self) -> Option<&Surface> {
        Some(&self.surface)
    }
    fn labels(&self, _: &str) -> Option<Labels<'_>> {
        Some(Labels {
            width_px: SIDE_PX,
            height_px: SIDE_PX,
            codes: Cow::Borrowed(&self.codes),
        })
    }
    fn colours(&self, layer: &str, _: &str) -> Option<Colours<'_>> {
        let rgba = if layer == "found" {
            &self.found
        } else {
            &self.painted
        };
        Some(Colours {
            width_px: SIDE_PX,
            height_px: SIDE_PX,
            rgba: Cow::Borrowed(rgba),
        })
    }
}

fn surface() -> Surface {
    // 2 x 224² triangles on a square of half a metre.
    const N: u32 = 224;
    let mut patch = Patch::default();
    for i in 0..=N * (N + 2) {
        let uv = Vec2::new((i % (N + 1)) as f32, (i / (N + 1)) as f32) / N as f32;
        patch.uvs.push(uv);
        patch
            .positions
            .push(Vec3::new(uv.x, 0.02 * (uv.x * 40.0).sin(), uv.y) * 0.5);
        patch.normals.push(Vec3::Y);
    }
    for j in 0..N {
        for i in 0..N {
            let a = j * (N + 1) + i;
            patch
                .indices
                .extend([a, a + 1, a + N + 2, a, a + N + 2, a + N + 1]);
        }
    }
    let sheet = ganosis_surface::Sheet::plain("stone");
    Surface {
        sheets: vec![sheet],
        patches: vec![patch],
        ..Surface::default()
    }
}

fn made() -> Made {
    let texels = || (0..SIDE_PX * SIDE_PX).map(|i| (i % SIDE_PX, i / SIDE_PX));
    let region = |(x, y): (u32, u32)| (x * ROW / SIDE_PX + ROW * (y * ROW / SIDE_PX)) % REGIONS + 1;
    // A noise of 16 codes, so that colours do not repeat too well.
    let noise =
        |(x, y): (u32, u32)| (x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) as u8 & 15;
    Made {
        surface: surface(),
        codes: texels().map(|at| region(at) as u16).collect(),
        found: texels()
            .flat_map(|at| [180 + noise(at), 170, 150 + noise(at) / 2, 255])
            .collect(),
        painted: texels()
            .flat_map(|at| [160 + noise(at), 60, 40, 255])
            .collect(),
    }
}

fn layer(id: &str) -> Layer {
    Layer {
        id: id.to_owned(),
        kind: LayerKind::Colour,
        images: vec![LayerImage {
            sheet: "stone".to_owned(),
            file: format!("{id}.png"),
            ..LayerImage::default()
        }],
        origin: Some(Origin::default()),
        ..Layer::default()
    }
}

fn state(id: &str, kind: StateKind, layer: &str) -> State {
    State {
        id: id.to_owned(),
        kind,
        layers: vec![layer.to_owned()],
        ..State::default()
    }
}

fn evidence(i: usize) -> Evidence {
    // In the middle of its region.
    let number = i as u32 % REGIONS;
    let middle = |k: u32| (f64::from(k) + 0.5) / f64::from(ROW);
    Evidence {
        id: format!("e-{i}"),
        technique: if i.is_multiple_of(3) {
            Technique::Visible
        } else {
            Technique::Xrf
        },
        anchor: Some(Anchor {
            sheet: "stone".to_owned(),
            uv: Some([middle(number % ROW), middle(number / ROW)]),
            ..Anchor::default()
        }),
        region: Some(format!("r-{number}")),
        elements: vec!["Hg".to_owned(), "Pb".to_owned()],
        date: Some("2025-03-14".to_owned()),
        operator: Some("ek".to_owned()),
        ..Evidence::default()
    }
}

fn claim(i: usize) -> Claim {
    // Every tenth cites a spot of the next region.
    let off = usize::from(i.is_multiple_of(10));
    let spot = |k: usize| format!("e-{}", (i + off + k * REGIONS as usize) % EVIDENCE);
    Claim {
        id: format!("c-{i}"),
        regions: vec![format!("r-{}", i % REGIONS as usize)],
        states: vec![["evidence", "guess-a", "guess-b"][i % 3].to_owned()],
        pigment: Some(format!("p-{}", i % 40)),
        certainty: Certainty::Measured,
        evidence: (0..3).map(spot).collect(),
        author: Some("ek".to_owned()),
        ..Claim::default()
    }
}

fn document() -> Dossier {
    let palette = (0..40u32).map(|i| PaletteEntry {
        id: format!("p-{i}"),
        lab_d50: Some([45.0, 40.0 + f64::from(i), 30.0]),
        readings: Some(3),
        elements: vec!["Hg".to_owned()],
        ..PaletteEntry::default()
    });
    let mut document = Dossier {
        people: vec![Person {
            id: "ek".to_owned(),
            ..Person::default()
        }],
        layers: vec![layer("found"), layer("painted")],
        states: vec![
            state("found", StateKind::AsFound, "found"),
            state("evidence", StateKind::EvidenceBased, "painted"),
            state("guess-a", StateKind::Hypothetical, "painted"),
            state("guess-b", StateKind::Hypothetical, "painted"),
        ],
        regions: (0..REGIONS)
            .map(|i| Region {
                id: format!("r-{i}"),
                number: i + 1,
                ..Region::default()
            })
            .collect(),
        palette: palette.collect(),
        evidence: (0..EVIDENCE).map(evidence).collect(),
        claims: (0..CLAIMS).map(claim).collect(),
        ..Dossier::default()
    };
    document.object.latest_year = Some(1350);
    document.surface.sheets = vec![Sheet {
        id: "stone".to_owned(),
        material: "stone".to_owned(),
        ..Sheet::default()
    }];
    document
}

fn main() {
    let (document, made) = (document(), made());
    for _ in 0..3 {
        let start = Instant::now();
        let audit = ganosis_audit::run(&document, &NoSources);
        let alone = start.elapsed();
        let start = Instant::now();
        let whole = ganosis_audit::run(&document, &made);
        println!(
            "document alone: {:.3} s, {} findings; with surface and images: {:.3} s, {} findings",
            alone.as_secs_f64(),
            audit.findings.len(),
            start.elapsed().as_secs_f64(),
            whole.findings.len()
        );
    }
}
