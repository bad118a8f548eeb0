//! The heron: it stands on one leg, facing right, neck in an S, one foot drawn up.

use super::Sample;
use super::shapes::{Rope, ellipsoid, meet, taper, turn};
use crate::maths::{sin, smooth_min, smoothstep};
use crate::noise::fractal;
use crate::region::Region;
use glam::{Vec2, Vec3};

const BODY: Vec3 = Vec3::new(-1.9, -1.3, 3.5);
/// Slope of the trunk, tail low, breast high (radians).
const BODY_SLOPE: f32 = 0.62;
const BODY_HALF: Vec3 = Vec3::new(5.4, 3.15, 3.0);
const HEAD: Vec3 = Vec3::new(3.5, 11.1, 4.5);
const BILL_TIP: Vec3 = Vec3::new(12.9, 9.3, 4.6);
/// Where the bill broke, as a share of the way from the head's centre to the tip.
const BREAK: f32 = 0.285;
const EYE: Vec3 = Vec3::new(4.05, 11.5, 5.42);
/// Radius of the painted pupil, centimetres.
const PUPIL: f32 = 0.24;

/// All parts of the bird.
#[derive(Debug)]
pub(crate) struct Heron {
    neck: Rope,
    plumes: Vec<Rope>,
    crest: Vec<Rope>,
    legs: Vec<Rope>,
}

fn rope(way: &[[f32; 4]]) -> Rope {
    let points: Vec<(Vec3, f32)> = way
        .iter()
        .map(|w| (Vec3::new(w[0], w[1], w[2]), w[3]))
        .collect();
    Rope::through(&points, 5)
}

impl Heron {
    pub(crate) fn new() -> Self {
        Self {
            neck: rope(&[
                [0.6, 0.3, 3.9, 2.3],
                [3.0, 1.6, 4.3, 1.75],
                [4.3, 3.5, 4.5, 1.32],
                [3.4, 5.4, 4.6, 1.14],
                [1.4, 6.7, 4.6, 1.06],
                [0.35, 8.3, 4.6, 0.98],
                [0.9, 10.1, 4.6, 0.95],
                [2.3, 11.1, 4.5, 1.02],
                [3.5, 11.2, 4.5, 1.05],
            ]),
            plumes: vec![
                rope(&[
                    [2.8, 1.8, 5.6, 0.55],
                    [4.3, -0.4, 5.2, 0.50],
                    [4.9, -2.6, 4.5, 0.16],
                ]),
                rope(&[
                    [3.4, 2.4, 5.3, 0.52],
                    [5.2, 0.7, 4.8, 0.46],
                    [6.1, -1.0, 4.2, 0.16],
                ]),
                rope(&[
                    [1.9, 1.0, 5.9, 0.55],
                    [3.1, -1.4, 5.5, 0.50],
                    [3.6, -3.7, 4.7, 0.16],
                ]),
            ],
            crest: vec![
                rope(&[
                    [2.9, 12.0, 4.6, 0.62],
                    [0.6, 12.9, 4.6, 0.55],
                    [-2.4, 12.4, 4.2, 0.46],
                    [-5.2, 10.4, 3.6, 0.16],
                ]),
                rope(&[
                    [2.7, 11.9, 4.9, 0.55],
                    [0.3, 12.0, 4.9, 0.48],
                    [-2.2, 11.0, 4.5, 0.40],
                    [-3.9, 9.2, 3.9, 0.16],
                ]),
            ],
            legs: vec![
                rope(&[
                    [-0.7, -3.4, 3.4, 1.15],
                    [-0.5, -5.6, 3.2, 0.72],
                    [0.0, -7.9, 3.2, 0.52],
                    [0.15, -8.5, 3.3, 0.62],
                    [0.4, -9.3, 3.1, 0.46],
                    [1.0, -12.0, 2.4, 0.46],
                ]),
                rope(&[
                    [1.0, -12.0, 2.3, 0.44],
                    [2.5, -12.6, 1.95, 0.40],
                    [4.4, -12.5, 1.7, 0.22],
                ]),
                rope(&[
                    [1.0, -12.0, 2.3, 0.44],
                    [1.9, -13.4, 1.75, 0.38],
                    [3.2, -14.3, 1.35, 0.22],
                ]),
                rope(&[
                    [1.0, -12.0, 2.3, 0.44],
                    [0.4, -13.3, 1.75, 0.38],
                    [0.3, -14.6, 1.3, 0.22],
                ]),
                rope(&[
                    [1.0, -12.0, 2.3, 0.42],
                    [-0.4, -12.0, 2.0, 0.34],
                    [-1.6, -11.7, 1.7, 0.20],
                ]),
                rope(&[
                    [0.6, -3.4, 3.8, 1.05],
                    [2.0, -4.8, 4.0, 0.62],
                    [3.6, -6.2, 4.0, 0.50],
                    [3.85, -6.7, 3.95, 0.60],
                    [3.4, -7.4, 3.9, 0.46],
                    [2.3, -9.0, 3.6, 0.42],
                ]),
                rope(&[
                    [2.3, -9.0, 3.6, 0.42],
                    [2.6, -10.1, 3.3, 0.36],
                    [3.3, -10.9, 2.8, 0.20],
                ]),
                rope(&[
                    [2.3, -9.0, 3.6, 0.40],
                    [1.8, -10.1, 3.4, 0.34],
                    [1.9, -11.0, 2.9, 0.20],
                ]),
            ],
        }
    }

    /// Adds the bird to the stone.
    pub(crate) fn add(&self, p: Vec3, best: &mut Sample) {
        if p.z < -1.0 || p.z > 10.0 || p.truncate().distance(Vec2::new(1.5, 0.0)) > 17.0 {
            return;
        }
        let mut bird = trunk(p);
        let (neck, t, axis) = self.neck.distance(p, best.d.max(1.0) + 0.8);
        let lie = 0.04
            * sin(t * 44.0 + 2.0 * (p - axis).x)
            * smoothstep(0.02, 0.2, t)
            * smoothstep(0.95, 0.8, t);
        bird.join(Sample::new(neck + lie, Region::Neck, t, (p - axis).x), 0.9);
        bird.join(wing(p), 0.12);
        for plume in &self.plumes {
            let (d, t, _) = plume.distance(p, best.d.max(0.5) + 0.3);
            bird.join(Sample::new(d, Region::Neck, t, 1.0), 0.1);
        }
        self.add_head(p, &mut bird);
        for rope in &self.crest {
            let (d, t, _) = rope.distance(p, best.d.max(0.5) + 0.3);
            bird.join(Sample::new(d, Region::Crest, t, 0.0), 0.08);
        }
        for rope in &self.legs {
            let (d, t, _) = rope.distance(p, best.d.max(0.5) + 0.3);
            bird.join(Sample::new(d, Region::Leg, t, 0.0), 0.18);
        }
        best.join(bird, 0.12);
        add_bridges(p, best);
    }

    fn add_head(&self, p: Vec3, bird: &mut Sample) {
        let q = p - HEAD;
        let t = turn(q.truncate(), 0.16);
        let skull = ellipsoid(Vec3::new(t.x, t.y - 0.15, q.z), Vec3::new(1.95, 1.2, 1.12));
        bird.join(Sample::new(skull, Region::Head, t.x, t.y), 0.45);
        let (d, along) = bill(p);
        if along < BREAK + 0.1 {
            let broken = meet(d, fracture_side(p), 0.03);
            bird.join(Sample::new(broken, Region::Bill, along, 0.0), 0.18);
        }
        let ball = p.distance(EYE - Vec3::Z * 0.26) - 0.58;
        let socket = (p.truncate().distance(EYE.truncate()) - 0.84).abs() - 0.15;
        let groove = meet(socket, (q.z - 1.12).abs() - 0.36, 0.12);
        if -groove > bird.d {
            *bird = Sample::new(-groove, Region::Head, t.x, t.y);
        }
        let from_middle = p.truncate().distance(EYE.truncate());
        let region = if from_middle < PUPIL {
            Region::Pupil
        } else {
            Region::Eye
        };
        bird.join(Sample::new(ball, region, from_middle, 0.0), 0.04);
    }

    /// The lost bill from the fracture on.
    pub(crate) fn restored_bill(&self, p: Vec3) -> Sample {
        let (d, along) = bill(p);
        // The seam is left open by a third of a millimetre, as a fitted piece would have it.
        let d = meet(d, -fracture_side(p) + 0.03, 0.02);
        Sample::new(d, Region::Bill, along, 0.0)
    }

    /// 1 on the fracture of the bill's stump.
    pub(crate) fn fracture(&self, p: Vec3) -> f32 {
        if bill(p).0 > 0.15 {
            return 0.0;
        }
        smoothstep(0.12, 0.03, fracture_side(p).abs())
    }
}

/// Trunk, breast and tail.
fn trunk(p: Vec3) -> Sample {
    let q = p - BODY;
    let t = turn(q.truncate(), -BODY_SLOPE);
    let q = Vec3::new(t.x, t.y, q.z);
    let mut d = ellipsoid(q, BODY_HALF);
    let tail = taper(
        q,
        Vec3::new(-3.0, -0.3, -0.4),
        Vec3::new(-8.0, 0.5, -0.9),
        1.7,
        0.75,
    )
    .0;
    d = smooth_min(d, tail, 1.2);
    Sample::new(d, Region::Body, q.x, q.y)
}

/// Wing coordinates: along (from the shoulder, negative, to the tip), across, out of the wing.
fn wing_frame(p: Vec3) -> Vec3 {
    let q = p - Vec3::new(-3.0, -1.5, 5.5);
    let t = turn(q.truncate(), -0.70);
    Vec3::new(-t.x, t.y, q.z + 0.10 * t.x)
}

/// Half width of the folded wing along its length.
fn wing_width(s: f32) -> f32 {
    let front = smoothstep(-5.6, -2.6, s).sqrt();
    let back = smoothstep(7.6, -1.5, s);
    2.75 * front * (0.06 + 0.94 * back)
}

/// Relief of the feathers: scales at the shoulder, then coverts, then long quills.
fn feathers(s: f32, y: f32) -> f32 {
    let scale = |pitch: f32, shift: f32| {
        let row = (s / pitch).floor();
        let stagger = if (row as i32) % 2 == 0 { 0.5 } else { 0.0 };
        let c = y / (pitch * 0.95) + stagger + shift;
        let across = (c - c.round()) * 2.0;
        let t = s / pitch - row;
        // Each feather rises towards its rounded end and drops to the next row.
        let end = t + 0.42 * across * across;
        if end < 1.0 {
            0.26 * end - 0.10 * across.abs()
        } else {
            0.26 * (end - 1.0) - 0.04
        }
    };
    let spread = (s - 1.0).max(0.0);
    let c = y / (0.92 - 0.03 * spread) + 0.3;
    let f = c - c.floor();
    // A rounded blade that drops to the next one: a ripple with one side steeper.
    let quill = 0.20 * (1.0 - (1.35 * f - 0.85).powi(2) * 1.3);
    let coverts = scale(1.4, 0.0);
    crate::maths::mix(
        coverts,
        quill,
        smoothstep(1.15, 1.35, s + 0.25 * y * y * 0.2),
    )
}

fn wing(p: Vec3) -> Sample {
    let q = wing_frame(p);
    let reach = q.length() - 9.0;
    if reach > 1.0 {
        return Sample::new(reach, Region::Wing, q.x, q.y);
    }
    let width = wing_width(q.x.clamp(-5.6, 7.6)).max(0.12);
    let thick = 0.62 * width.min(1.9) + 0.25;
    let bulge = ((q.y / width).powi(2) + (q.z / thick).powi(2)).sqrt();
    let section = (bulge - 1.0) * width.min(thick) * 0.9;
    let ends = (q.x - 7.5).max(-5.5 - q.x);
    let relief = feathers(q.x, q.y) * smoothstep(-0.4, 0.5, q.z) * smoothstep(-5.4, -4.0, q.x);
    let d = meet(section - relief, ends, 0.1) * 0.72;
    Sample::new(d, Region::Wing, q.x, q.y)
}

/// The whole bill as it was: distance and place along from the head (0) to the tip (1).
fn bill(p: Vec3) -> (f32, f32) {
    let (d, t) = taper(p, HEAD, BILL_TIP, 0.98, 0.10);
    // The gape: a groove along the side, and a keel above it.
    let axis = HEAD + (BILL_TIP - HEAD) * t;
    let groove = 0.14 * smoothstep(0.13, 0.0, (p.y - axis.y + 0.08).abs()) * (1.0 - t);
    (d + groove * smoothstep(0.0, 0.3, p.z - axis.z), t)
}

/// Negative on the head's side of the break: a slanted, uneven face.
fn fracture_side(p: Vec3) -> f32 {
    let way = (BILL_TIP - HEAD).normalize();
    let at = HEAD + (BILL_TIP - HEAD) * BREAK;
    let normal = (way + Vec3::new(0.0, 0.28, 0.22)).normalize();
    (p - at).dot(normal) + 0.16 * fractal(41, p * 1.7, 3)
}

/// Bridges of stone that the carver left behind head, neck, crest and bird to hold them.
fn add_bridges(p: Vec3, best: &mut Sample) {
    const BRIDGES: [([f32; 3], [f32; 3], f32); 6] = [
        ([3.0, 11.0, 0.0], [3.0, 11.0, 3.9], 1.0),
        ([1.0, 8.0, 0.0], [0.8, 8.2, 4.0], 0.8),
        ([3.6, 4.2, 0.0], [3.4, 4.2, 4.0], 0.9),
        ([-3.0, 11.0, 0.0], [-2.6, 11.9, 3.5], 0.42),
        ([-0.1, -8.2, 0.0], [0.1, -8.4, 2.9], 0.55),
        ([2.8, -8.0, 0.0], [3.0, -7.8, 3.6], 0.5),
    ];
    for (a, b, radius) in &BRIDGES {
        let d = taper(p, Vec3::from(*a), Vec3::from(*b), *radius * 1.25, *radius).0;
        best.join(Sample::new(d, Region::Water, 0.0, 0.0), 0.25);
    }
    let root = ellipsoid(p - Vec3::new(-1.9, -1.3, 1.6), Vec3::new(4.0, 2.3, 2.6));
    best.join(Sample::new(root, Region::Body, 0.0, 0.0), 0.3);
}
