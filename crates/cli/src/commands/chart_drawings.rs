//! Drawings of the report on a chart: where it was read, its patches asked and got, and the errors in
//! the plane of a* and b*.

use std::io::Cursor;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ganosis_audit::report::Html;
use ganosis_colorimetry::{LabD50, Srgb, map_to_gamut};
use ganosis_imaging::characterisation::Characterisation;
use ganosis_imaging::chart::PatchResult;
use ganosis_imaging::photo::LinearPhoto;
use image::{ImageFormat, Rgb, RgbImage};

use super::chart::Examined;

/// The photograph is drawn this wide at most.
const PHOTO_PX: usize = 720;

/// An SVG element.
fn svg(name: &'static str, attributes: &[(&'static str, &str)], content: Html) -> Html {
    Html::element(name, attributes, content)
}

fn root(width: f64, height: f64, title: &str, content: Html) -> Html {
    let view = format!("0 0 {width:.0} {height:.0}");
    svg(
        "svg",
        &[("viewBox", &view), ("role", "img"), ("aria-label", title)],
        content,
    )
}

fn number(value: f64) -> String {
    format!("{value:.1}")
}

fn srgb8(lab: LabD50) -> [u8; 3] {
    let shown = map_to_gamut::<Srgb>(lab).encoded;
    shown
        .to_array()
        .map(|v| (v.clamp(0.0, 1.0) * 255.0).round() as u8)
}

/// A colour as a screen shows it.
fn css(lab: LabD50) -> String {
    let [r, g, b] = srgb8(lab);
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn text(x: f64, y: f64, class: &str, anchor: &str, words: &str) -> Html {
    let (x, y) = (number(x), number(y));
    svg(
        "text",
        &[
            ("x", &x),
            ("y", &y),
            ("class", class),
            ("text-anchor", anchor),
        ],
        words.into(),
    )
}

fn rectangle([x, y, w, h]: [f64; 4], more: &[(&'static str, &str)]) -> Html {
    let [x, y, w, h] = [x, y, w, h].map(number);
    let mut attributes = vec![
        ("x", x.as_str()),
        ("y", y.as_str()),
        ("width", w.as_str()),
        ("height", h.as_str()),
    ];
    attributes.extend_from_slice(more);
    svg("rect", &attributes, Html::default())
}

fn line([x1, y1, x2, y2]: [f64; 4], class: &str) -> Html {
    let [x1, y1, x2, y2] = [x1, y1, x2, y2].map(number);
    let ends = [
        ("x1", x1.as_str()),
        ("y1", y1.as_str()),
        ("x2", x2.as_str()),
        ("y2", y2.as_str()),
        ("class", class),
    ];
    svg("line", &ends, Html::default())
}

/// The corrected photograph with the areas that were read. `None` where it cannot be encoded.
pub(super) fn photograph(result: &Examined) -> Option<Html> {
    let photo = &result.photo;
    let step = photo.width_px.div_ceil(PHOTO_PX).max(1);
    let (w, h) = (photo.width_px / step, photo.height_px / step);
    let view = LinearPhoto::new(photo, result.field.field.as_ref());
    let model = &result.best().preferred().model;
    let small = RgbImage::from_fn(u32::try_from(w).ok()?, u32::try_from(h).ok()?, |x, y| {
        let camera = view.at(x as usize * step + step / 2, y as usize * step + step / 2);
        let encoded = model.predict_lab(camera).to_srgb().clipped().to_array();
        Rgb(encoded.map(|v| (v * 255.0).round() as u8))
    });
    let mut png = Vec::new();
    small
        .write_to(&mut Cursor::new(&mut png), ImageFormat::Png)
        .ok()?;
    let data = format!("data:image/png;base64,{}", STANDARD.encode(png));
    let (width, height) = (w as f64, h as f64);
    let size = [number(width), number(height)];
    let mut inner = svg(
        "image",
        &[("href", &data), ("width", &size[0]), ("height", &size[1])],
        Html::default(),
    );
    for class in ["read-dark", "read"] {
        for points in outlines(result.best(), step as f64) {
            inner.push(svg(
                "polygon",
                &[("points", &points), ("class", class)],
                Html::default(),
            ));
        }
    }
    Some(root(
        width,
        height,
        "The corrected photograph with the areas that were read",
        inner,
    ))
}

fn outlines(best: &Characterisation, step: f64) -> Vec<String> {
    let columns = best.reference.columns;
    (0..best.reference.patches.len())
        .map(|i| {
            let centre = [(i % columns) as f64 + 0.5, (i / columns) as f64 + 0.5];
            // Half of the pitch is read (crate imaging, chart reading).
            let corners = [[-0.25, -0.25], [0.25, -0.25], [0.25, 0.25], [-0.25, 0.25]];
            corners
                .map(|[x, y]| {
                    let p = best
                        .placement
                        .px_from_chart
                        .apply([centre[0] + x, centre[1] + y]);
                    format!("{:.1},{:.1}", p[0] / step, p[1] / step)
                })
                .join(" ")
        })
        .collect()
}

/// The chart: each patch as asked, and within it as got.
pub(super) fn chart(best: &Characterisation) -> Html {
    const CELL: f64 = 100.0;
    let columns = best.reference.columns;
    let mut inner = Html::default();
    for (i, patch) in best.assessment.patches.iter().enumerate() {
        let (x, y) = (
            (i % columns) as f64 * CELL,
            (i / columns) as f64 * (CELL + 20.0),
        );
        inner.push(rectangle(
            [x + 2.0, y + 2.0, CELL - 4.0, CELL - 4.0],
            &[("fill", &css(patch.asked))],
        ));
        inner.push(rectangle(
            [x + 27.0, y + 27.0, 46.0, 46.0],
            &[("fill", &css(patch.got))],
        ));
        let mut words = format!("{} · ΔE {:.1}", i + 1, patch.delta_e_00);
        if !best.assessment.used.contains(&i) {
            inner.push(rectangle(
                [x + 6.0, y + 6.0, CELL - 12.0, CELL - 12.0],
                &[("class", "unused")],
            ));
            words = format!("{} · not used", i + 1);
        }
        inner.push(text(x + 3.0, y + CELL + 11.0, "label", "start", &words));
    }
    root(
        columns as f64 * CELL,
        best.reference.rows as f64 * (CELL + 20.0),
        "The chart: outside as asked, inside as got",
        inner,
    )
}

/// Scale of the plane: units of a*, b* to drawing units.
struct Plane {
    half: f64,
    scale: f64,
}

/// Side of the drawing.
const SIDE: f64 = 480.0;

impl Plane {
    fn around(patches: &[PatchResult]) -> Self {
        let most = patches
            .iter()
            .flat_map(|p| [p.asked.a, p.asked.b, p.got.a, p.got.b])
            .fold(20.0, |m: f64, v| m.max(v.abs()));
        let half = (most / 20.0).ceil() * 20.0 + 10.0;
        Self {
            half,
            scale: SIDE / (2.0 * half),
        }
    }

    fn at(&self, a: f64, b: f64) -> [f64; 2] {
        [(self.half + a) * self.scale, (self.half - b) * self.scale]
    }

    fn grid(&self) -> Html {
        let mut out = rectangle([0.0, 0.0, SIDE, SIDE], &[("class", "plane")]);
        let steps = (self.half / 20.0) as i32;
        for k in -steps..=steps {
            let v = f64::from(k) * 20.0;
            let class = if k == 0 { "axis" } else { "grid" };
            let [x, y] = self.at(v, v);
            out.push(line([x, 0.0, x, SIDE], class));
            out.push(line([0.0, y, SIDE, y], class));
            if k != 0 {
                let [zero, _] = self.at(0.0, 0.0);
                let words = format!("{v:.0}").replace('-', "−");
                out.push(text(x, zero + 13.0, "label", "middle", &words));
                out.push(text(zero - 5.0, y + 4.0, "label", "end", &words));
            }
        }
        let [zero, _] = self.at(0.0, 0.0);
        out.push(text(SIDE - 4.0, zero - 5.0, "", "end", "a*"));
        out.push(text(zero + 6.0, 13.0, "", "start", "b*"));
        out
    }
}

/// How many times as long as they are the arrows are drawn, so that the longest is seen.
pub(super) fn lengthening(best: &Characterisation) -> f64 {
    let longest = best
        .assessment
        .patches
        .iter()
        .map(|p| (p.got.a - p.asked.a).hypot(p.got.b - p.asked.b))
        .fold(0.0, f64::max);
    // The longest is to stay below a quarter of the usual plane.
    [20.0, 10.0, 5.0, 2.0]
        .into_iter()
        .find(|k| k * longest < 25.0)
        .unwrap_or(1.0)
}

/// The errors as arrows from asked to got.
pub(super) fn arrows(best: &Characterisation) -> Html {
    let patches = &best.assessment.patches;
    let (plane, times) = (Plane::around(patches), lengthening(best));
    let mut inner = plane.grid();
    for patch in patches {
        let [x, y] = plane.at(patch.asked.a, patch.asked.b);
        let [dx, dy] = [
            (patch.got.a - patch.asked.a) * times * plane.scale,
            (patch.asked.b - patch.got.b) * times * plane.scale,
        ];
        inner.push(arrow([x, y], [dx, dy]));
        let (x, y) = (number(x), number(y));
        inner.push(svg(
            "circle",
            &[
                ("cx", &x),
                ("cy", &y),
                ("r", "4.5"),
                ("class", "dot"),
                ("fill", &css(patch.asked)),
            ],
            Html::default(),
        ));
    }
    root(
        SIDE,
        SIDE,
        "Errors in the plane of a* and b*, from asked to got",
        inner,
    )
}

fn arrow([x, y]: [f64; 2], [dx, dy]: [f64; 2]) -> Html {
    let length = dx.hypot(dy);
    let (tip_x, tip_y) = (x + dx, y + dy);
    let mut out = line([x, y, tip_x, tip_y], "arrow");
    // Shorter than the dot: nothing to point at.
    if length > 6.0 {
        let (ux, uy) = (dx / length, dy / length);
        let corner = |side: f64| {
            format!(
                "{:.1},{:.1}",
                tip_x - 7.0 * ux + side * 3.0 * uy,
                tip_y - 7.0 * uy - side * 3.0 * ux
            )
        };
        let points = format!(
            "{:.1},{:.1} {} {}",
            tip_x + 1.5 * ux,
            tip_y + 1.5 * uy,
            corner(1.0),
            corner(-1.0)
        );
        out.push(svg(
            "polygon",
            &[("points", &points), ("class", "head")],
            Html::default(),
        ));
    }
    out
}
