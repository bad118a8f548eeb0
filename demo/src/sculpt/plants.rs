//! Water lilies and reeds: leaves that stand free of the ground, flowers, buds, reedmace.

use super::Sample;
use super::block::dome;
use super::shapes::{Rope, ellipsoid, frame, meet, taper};
use crate::maths::{atan2, cos, sin, smoothstep};
use crate::region::Region;
use glam::{Mat3, Vec2, Vec3};
use std::f32::consts::{PI, TAU};

/// Thinnest stone of a leaf, half of it.
const HALF_THICKNESS_CM: f32 = 0.25;
/// Lobes between the veins of a leaf.
const LOBES: f32 = 13.0;

/// One lily leaf.
#[derive(Debug)]
struct Leaf {
    centre: Vec3,
    axes: Mat3,
    radius: f32,
    phase: f32,
    cup: f32,
}

/// Leaves: x, y, height above the dome, radius, heading of the notch (degrees), tilt outwards
/// (tangent), how much it cups.
const LEAVES: [[f32; 7]; 10] = [
    [-9.3, 7.9, 1.7, 4.9, -38.0, 0.22, 0.9],
    [-11.0, -1.6, 1.5, 4.5, 10.0, 0.28, 0.7],
    [-8.3, -9.6, 1.7, 4.8, 60.0, 0.24, 0.9],
    [1.4, -12.2, 1.0, 4.0, 205.0, 0.10, 0.3],
    [9.2, -9.2, 1.8, 4.7, 130.0, 0.22, 0.9],
    [11.4, 0.6, 1.4, 4.2, 190.0, 0.26, 0.8],
    [9.4, 6.2, 0.9, 3.6, 215.0, 0.20, 0.5],
    [-1.6, 11.9, 0.9, 4.1, 250.0, 0.18, 0.5],
    [6.3, 11.6, 0.7, 3.4, 250.0, 0.16, 0.4],
    [6.0, -3.3, 0.9, 3.1, 150.0, 0.14, 0.6],
];

impl Leaf {
    fn new(row: &[f32; 7], index: usize) -> Self {
        let [x, y, lift, radius, heading, tilt, cup] = *row;
        let r = Vec2::new(x, y);
        let centre = r.extend(dome(r.length()) + lift);
        // Leaves lean outwards, away from the axis, so that their rims face the floor below.
        let lean = r.normalize_or_zero() * tilt;
        let normal = Vec3::new(lean.x, lean.y, 1.0);
        Self {
            centre,
            axes: frame(normal, heading.to_radians()),
            radius,
            phase: index as f32 * 2.399,
            cup,
        }
    }

    fn local(&self, p: Vec3) -> Vec3 {
        self.axes.transpose() * (p - self.centre)
    }

    fn add(&self, p: Vec3, best: &mut Sample) {
        let reach = p.distance(self.centre) - self.radius - 1.3;
        if reach > best.d.max(0.0) {
            return;
        }
        let q = self.local(p);
        let r = Vec2::new(q.x, q.y).length();
        let angle = atan2(q.y, q.x);
        let t = r / self.radius;
        let (height, pillow) = self.relief(angle, t);
        let margin = self.radius * (1.0 + 0.025 * sin(5.0 * angle + self.phase));
        let notch = r * sin((0.085 - angle.abs()).clamp(-PI / 2.0, PI / 2.0));
        let outline = (r - margin).max(notch);
        let thick = HALF_THICKNESS_CM + 0.16 * (1.0 - t).max(0.0);
        let offset = q.z - height;
        let plate = if offset > 0.0 {
            offset - thick - pillow
        } else {
            -offset - thick
        };
        let d = meet(outline * 0.95, plate * 0.8, 0.22);
        let region = if offset > -0.06 {
            Region::LeafUpper
        } else {
            Region::LeafUnder
        };
        best.join(Sample::new(d, region, angle, t), 0.06);
        let foot = Vec3::new(self.centre.x * 0.94, self.centre.y * 0.94, -0.6);
        let top = self.centre - self.axes.z_axis * 1.25;
        let stem = taper(p, foot, top, 1.5, 1.1).0;
        best.join(Sample::new(stem, Region::LeafUnder, angle, 0.1), 0.5);
    }

    /// Height of the middle of the plate and of the pillows between veins on its upper face.
    fn relief(&self, angle: f32, t: f32) -> (f32, f32) {
        let t = t.min(1.25);
        let edge = t * t * t * t;
        let wave =
            0.34 * sin(3.0 * angle + self.phase) + 0.20 * sin(5.0 * angle - 1.3 * self.phase);
        let curl =
            0.75 * smoothstep(0.72, 1.08, t) * (0.55 + 0.45 * sin(2.0 * angle + 2.0 * self.phase));
        let height = self.cup * t * t * 0.9 + edge * wave + curl;
        let lobe = (sin((angle - PI) * LOBES * 0.5)).abs();
        let pillow = 0.17 * lobe.min(0.75) * smoothstep(0.05, 0.35, t) * smoothstep(1.05, 0.8, t);
        let bowl = -0.12 * smoothstep(0.16, 0.0, t);
        (height, pillow + bowl)
    }
}

/// A flower: a heart and rings of petals.
#[derive(Debug)]
struct Flower {
    centre: Vec3,
    axes: Mat3,
    size: f32,
}

/// Flowers: x, y, height above the dome, size (radius), tilt outwards.
const FLOWERS: [[f32; 5]; 4] = [
    [-12.9, 3.5, 1.9, 2.9, 0.26],
    [12.8, -4.7, 1.9, 2.9, 0.26],
    [-3.9, -13.0, 1.6, 2.6, 0.22],
    [13.2, 5.0, 1.5, 2.2, 0.26],
];

impl Flower {
    fn new(row: &[f32; 5]) -> Self {
        let r = Vec2::new(row[0], row[1]);
        let lean = r.normalize_or_zero() * row[4];
        Self {
            centre: r.extend(dome(r.length()) + row[2]),
            axes: frame(Vec3::new(lean.x, lean.y, 1.0), 0.3 * row[0]),
            size: row[3],
        }
    }

    /// One ring of `count` petals, `long` times the size, that rises by `rise`: distance, share of
    /// the way to the tip, and share of the half width across.
    fn ring(&self, q: Vec3, count: f32, turn: f32, long: f32, rise: f32) -> (f32, f32, f32) {
        let sector = TAU / count;
        let angle = atan2(q.y, q.x) + turn;
        let folded = angle - sector * (angle / sector).round();
        let r = Vec2::new(q.x, q.y).length();
        let (x, y) = (r * cos(folded), r * sin(folded));
        let length = self.size * long;
        let t = (x / length).clamp(0.0, 1.0);
        let width = length * (PI / count) * 1.15 * (1.0 - t).max(0.0).sqrt() * (0.35 + 1.15 * t);
        let outline = (y.abs() - width).max(x - length) * 0.75;
        let middle = rise * length * t * t + 0.18 * y * y / width.max(0.4);
        let plate = (q.z - middle).abs() - 0.25;
        (meet(outline, plate * 0.7, 0.2), t, y / width.max(0.1))
    }

    fn add(&self, p: Vec3, best: &mut Sample) {
        if p.distance(self.centre) - self.size * 1.5 > best.d.max(0.0) {
            return;
        }
        let q = self.axes.transpose() * (p - self.centre);
        let outer = self.ring(q, 7.0, 0.0, 1.08, 0.22);
        let inner = self.ring(q - Vec3::Z * 0.42, 7.0, PI / 7.0, 0.80, 0.62);
        let (d, t, across) = if inner.0 < outer.0 { inner } else { outer };
        best.join(Sample::new(d, Region::Petal, t, across), 0.05);
        let heart = ellipsoid(q - Vec3::Z * 0.8, Vec3::new(0.30, 0.30, 0.28) * self.size);
        let grain = 0.06 * sin(q.x * 7.0) * sin(q.y * 7.0);
        best.join(Sample::new(heart + grain, Region::Heart, q.x, q.y), 0.05);
        let foot = self.centre - Vec3::new(self.centre.x * 0.06, self.centre.y * 0.06, 2.6);
        let stem = taper(p, foot, self.centre, self.size * 0.36, self.size * 0.42).0;
        best.join(Sample::new(stem, Region::Stalk, 0.0, 0.0), 0.3);
    }
}

/// A bud on a stem: base, tip, radius.
const BUDS: [([f32; 3], [f32; 3], f32); 3] = [
    ([-5.0, 4.6, 2.6], [-7.0, 6.6, 4.1], 0.95),
    ([5.6, 5.0, 2.2], [7.6, 7.6, 3.2], 0.95),
    ([-13.4, -6.2, 1.2], [-14.6, -8.2, 2.2], 0.9),
];

/// All plants.
#[derive(Debug)]
pub(crate) struct Plants {
    leaves: Vec<Leaf>,
    flowers: Vec<Flower>,
    stalks: Vec<Rope>,
    blades: Vec<Rope>,
    maces: Vec<(Rope, Vec3, Vec3)>,
}

fn on_dome(x: f32, y: f32, lift: f32) -> Vec3 {
    Vec3::new(x, y, dome(Vec2::new(x, y).length()) + lift)
}

/// A rope laid on the dome through points x, y, lift, with a radius that tapers to its end.
fn laid(way: &[[f32; 3]], thick: f32, end: f32) -> Rope {
    let last = (way.len() - 1) as f32;
    let points: Vec<(Vec3, f32)> = way
        .iter()
        .enumerate()
        .map(|(i, w)| {
            (
                on_dome(w[0], w[1], w[2]),
                thick + (end - thick) * (i as f32 / last),
            )
        })
        .collect();
    Rope::through(&points, 6)
}

impl Plants {
    pub(crate) fn new() -> Self {
        let leaves = LEAVES
            .iter()
            .enumerate()
            .map(|(i, row)| Leaf::new(row, i))
            .collect();
        let stalks = vec![
            laid(
                &[
                    [-9.0, -8.6, 0.3],
                    [-6.0, -9.6, 0.25],
                    [-3.2, -11.6, 0.2],
                    [-1.6, -15.2, 0.1],
                ],
                0.5,
                0.4,
            ),
            laid(
                &[
                    [9.0, -8.6, 0.3],
                    [6.6, -10.4, 0.3],
                    [5.2, -12.4, 0.2],
                    [5.6, -14.9, 0.1],
                ],
                0.5,
                0.4,
            ),
            laid(
                &[
                    [11.4, 0.4, 0.2],
                    [9.2, -2.6, 0.3],
                    [6.6, -6.4, 0.3],
                    [3.2, -9.4, 0.2],
                ],
                0.45,
                0.4,
            ),
            laid(
                &[
                    [-11.0, -1.0, 0.2],
                    [-7.6, -4.8, 0.3],
                    [-5.2, -7.0, 0.3],
                    [-3.4, -9.4, 0.2],
                ],
                0.45,
                0.4,
            ),
            laid(
                &[[-5.4, 5.0, 1.4], [-4.0, 3.4, 0.6], [-2.6, 2.0, 0.2]],
                0.42,
                0.4,
            ),
            laid(
                &[[5.8, 5.4, 1.4], [5.2, 3.4, 0.5], [5.4, 0.6, 0.2]],
                0.42,
                0.4,
            ),
        ];
        let blades = vec![
            laid(
                &[
                    [-3.4, 1.6, 0.2],
                    [-4.6, 5.0, 0.9],
                    [-4.6, 9.6, 1.5],
                    [-6.0, 14.2, 0.8],
                ],
                0.62,
                0.25,
            ),
            laid(
                &[
                    [8.8, -3.2, 0.2],
                    [8.8, 2.2, 1.0],
                    [8.2, 6.8, 1.9],
                    [10.4, 11.2, 1.4],
                ],
                0.62,
                0.25,
            ),
            laid(
                &[
                    [-12.2, -8.6, 0.5],
                    [-14.2, -5.2, 1.1],
                    [-14.6, -1.0, 1.3],
                    [-15.0, 2.0, 0.9],
                ],
                0.5,
                0.22,
            ),
        ];
        let mace = |way: &[[f32; 3]]| {
            let rope = laid(way, 0.36, 0.3);
            let (a, b) = (rope.point(0.80), rope.point(1.0));
            (rope, a, b)
        };
        let maces = vec![
            mace(&[
                [-3.0, 2.2, 0.3],
                [-2.9, 5.4, 1.2],
                [-3.4, 9.6, 2.2],
                [-4.4, 14.6, 1.9],
            ]),
            mace(&[
                [7.6, -1.6, 0.3],
                [8.6, 3.4, 1.4],
                [10.4, 7.6, 2.3],
                [13.0, 10.2, 1.7],
            ]),
        ];
        Self {
            leaves,
            flowers: FLOWERS.iter().map(Flower::new).collect(),
            stalks,
            blades,
            maces,
        }
    }

    /// Adds the plants to the stone.
    pub(crate) fn add(&self, p: Vec3, best: &mut Sample) {
        if p.z < -2.0 || p.z > 9.0 {
            return;
        }
        for leaf in &self.leaves {
            leaf.add(p, best);
        }
        for flower in &self.flowers {
            flower.add(p, best);
        }
        for rope in &self.stalks {
            let (d, t, _) = rope.distance(p, best.d.max(0.3) + 0.3);
            best.join(Sample::new(d, Region::Stalk, t, 0.0), 0.2);
        }
        for rope in &self.blades {
            let (d, t, axis) = rope.distance(p, best.d.max(0.3) + 0.3);
            // A keel along the middle of the blade.
            let keel = 0.10 * (1.0 - (p - axis).truncate().length() * 2.2).max(0.0);
            best.join(Sample::new(d - keel, Region::Reed, t, 0.0), 0.15);
        }
        for (rope, a, b) in &self.maces {
            let (d, t, _) = rope.distance(p, best.d.max(1.0) + 0.3);
            best.join(Sample::new(d, Region::Reed, t, 0.0), 0.15);
            let (d, t) = taper(p, *a, *b, 0.95, 0.82);
            best.join(Sample::new(d, Region::Reedmace, t, 0.0), 0.06);
        }
        for (base, tip, radius) in &BUDS {
            let (a, b) = (Vec3::from(*base), Vec3::from(*tip));
            if p.distance(a) - 5.0 < best.d.max(0.0) {
                let (d, t) = taper(p, a, b, *radius, 0.16);
                let turn = atan2(
                    (p - a).dot(Vec3::Z),
                    (p - a).dot((b - a).cross(Vec3::Z).normalize()),
                );
                let sepal = 0.09 * (sin(turn * 2.0)).abs() * (1.0 - t);
                best.join(Sample::new(d - sepal, Region::Bud, t, turn), 0.12);
            }
        }
    }
}
