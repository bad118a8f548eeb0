//! The lasso, against formulas and against a ray for every texel.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BTreeSet;
use std::f32::consts::{PI, TAU};

use common::{Random, WHOLE, canvas, grid, plane, surface};
use ganosis_editing::regions::{Projection, Selection, TexelGeometry};
use ganosis_surface::Surface;
use glam::{DVec3, Vec2, Vec3};

const SIZE: [f64; 2] = [900.0, 600.0];
/// Pixels at which a length equal to its distance is seen.
const FOCAL_PX: f64 = 800.0;

/// A camera that looks from `eye` to the origin, y upwards, as rows by hand:
/// x = focal · (right · p) / (ahead · p).
struct Camera {
    eye: DVec3,
    right: DVec3,
    up: DVec3,
    ahead: DVec3,
}

impl Camera {
    fn new(eye: DVec3) -> Self {
        let ahead = -eye.normalize();
        let right = ahead.cross(DVec3::Y).normalize();
        Self {
            eye,
            right,
            up: right.cross(ahead),
            ahead,
        }
    }

    fn see(&self, point: Vec3) -> [f64; 2] {
        let p = point.as_dvec3() - self.eye;
        let far = p.dot(self.ahead);
        [
            SIZE[0] / 2.0 + FOCAL_PX * p.dot(self.right) / far,
            SIZE[1] / 2.0 - FOCAL_PX * p.dot(self.up) / far,
        ]
    }

    fn projection(&self) -> Projection {
        let rows = [
            self.right * (FOCAL_PX * 2.0 / SIZE[0]),
            self.up * (FOCAL_PX * 2.0 / SIZE[1]),
            self.ahead,
            self.ahead,
        ];
        let mut m = [0.0; 16];
        for (k, row) in rows.iter().enumerate() {
            for column in 0..3 {
                m[column * 4 + k] = row[column];
            }
            m[12 + k] = -row.dot(self.eye);
        }
        Projection {
            view_projection: m,
            eye_m: self.eye.to_array(),
            width_px: SIZE[0],
            height_px: SIZE[1],
        }
    }
}

fn whole_screen() -> [[f64; 2]; 4] {
    [[0.0, 0.0], [SIZE[0], 0.0], SIZE, [0.0, SIZE[1]]]
}

fn all(_: usize) -> bool {
    true
}

fn set(selection: &Selection) -> BTreeSet<u32> {
    selection.texels().iter().copied().collect()
}

fn every(geometry: &TexelGeometry) -> impl Iterator<Item = (u32, Vec3, Vec3)> + '_ {
    (0..geometry.texel_count() as u32)
        .filter_map(|t| geometry.point(t).map(|p| (t, p.position_m, p.normal)))
}

#[test]
fn a_square_on_a_plane_is_what_the_camera_sees_in_it() {
    let (geometry, _) = canvas(&plane(0.4, 9), 300);
    for eye in [DVec3::new(0.0, 0.0, 0.5), DVec3::new(0.3, -0.2, 0.4)] {
        let camera = Camera::new(eye);
        let [left, right, top, bottom] = [380.0, 560.0, 200.0, 330.0];
        let square = [[left, top], [right, top], [right, bottom], [left, bottom]];
        let got = set(&geometry.lasso(&square, &camera.projection(), &all));
        let wanted: BTreeSet<u32> = every(&geometry)
            .filter(|(_, p, _)| {
                let [x, y] = camera.see(*p);
                (left..right).contains(&x) && (top..bottom).contains(&y)
            })
            .map(|t| t.0)
            .collect();
        // Centres on the line itself fall to either side by rounding.
        assert!(got.symmetric_difference(&wanted).count() <= 2);
        assert!(wanted.len() > 1000);
        if eye.x == 0.0 {
            // From the front: (180 × 130) px at 0.5 m / 800 px.
            let m2 = got.len() as f64 * (0.4_f64 / 300.0).powi(2);
            let formula = 180.0 * 130.0 * (0.5 / FOCAL_PX).powi(2);
            let rim = (180.0 + 130.0) * (0.5 / FOCAL_PX) * (0.4 / 300.0);
            assert!((m2 - formula).abs() < rim, "{m2} for {formula}");
        }
    }
    // From behind: nothing faces the eye.
    let behind = Camera::new(DVec3::new(0.0, 0.1, -0.5)).projection();
    assert!(
        geometry
            .lasso(&whole_screen(), &behind, &all)
            .texels()
            .is_empty()
    );
}

fn sphere(radius: f32) -> Surface {
    surface(vec![grid(0, [96, 48], WHOLE, move |s, t| {
        let (longitude, latitude) = (if s == 1.0 { 0.0 } else { s * TAU }, (0.5 - t) * PI);
        radius
            * Vec3::new(
                latitude.cos() * longitude.cos(),
                latitude.sin(),
                -latitude.cos() * longitude.sin(),
            )
    })])
}

#[test]
fn of_a_sphere_the_near_cap_is_taken_and_nothing_of_the_back() {
    let (radius, size) = (0.1_f32, 400_u32);
    let (geometry, _) = canvas(&sphere(radius), size);
    for eye in [DVec3::new(0.0, 0.0, 0.4), DVec3::new(-0.2, 0.15, 0.3)] {
        let distance = eye.length();
        let got = geometry.lasso(&whole_screen(), &Camera::new(eye).projection(), &all);
        let m2: f64 = got
            .texels()
            .iter()
            .map(|t| {
                let point = geometry.point(*t).unwrap();
                let toward = eye - point.position_m.as_dvec3();
                assert!(point.normal.as_dvec3().dot(toward) > 0.0);
                let latitude =
                    (0.5 - (f64::from(t / size) + 0.5) / f64::from(size)) * f64::from(PI);
                f64::from(TAU) * f64::from(PI) / f64::from(size * size)
                    * latitude.cos()
                    * f64::from(radius).powi(2)
            })
            .sum();
        // The cap that an eye at distance d sees: 2πR²(1 − R/d). The mesh ends
        // it at whole triangles, each 2π/96 wide: half of one along the rim.
        let r = f64::from(radius);
        let formula = f64::from(TAU) * r * r * (1.0 - r / distance);
        let rim = f64::from(TAU) * r * (r * f64::from(TAU) / 96.0 / 2.0);
        assert!((m2 - formula).abs() < rim, "{m2} for {formula}");
    }
}

/// Whether a triangle lies between two points (T. Möller and B. Trumbore, 1997).
fn between(corners: [Vec3; 3], from: DVec3, to: DVec3, end: f64) -> bool {
    let [a, b, c] = corners.map(|c| c.as_dvec3());
    let (direction, p, q) = (to - from, b - a, c - a);
    let h = direction.cross(q);
    let det = p.dot(h);
    if det == 0.0 {
        return false;
    }
    let s = from - a;
    let (u, k) = (s.dot(h) / det, s.cross(p));
    let (v, t) = (direction.dot(k) / det, q.dot(k) / det);
    u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > 0.0 && t < end
}

#[test]
fn what_something_hides_is_not_taken() {
    // Hills, a plate that hovers before them and one part that is not shown.
    let mut random = Random(9);
    let waves: Vec<[f32; 4]> = (0..6)
        .map(|_| [random.part(), random.part(), random.part(), random.part()])
        .collect();
    let height = |x: f32, y: f32| -> f32 {
        let wave = |[a, b, c, d]: &[f32; 4]| {
            ((a - 0.5) * 60.0 * x + (b - 0.5) * 60.0 * y + c * TAU).sin() * d
        };
        waves.iter().map(wave).sum::<f32>() * 0.012
    };
    let hills = grid(0, [24; 2], [Vec2::ZERO, Vec2::new(0.7, 1.0)], |s, t| {
        let (x, y) = ((s - 0.5) * 0.4, (0.5 - t) * 0.4);
        Vec3::new(x, y, height(x, y))
    });
    let plate = |low: f32, z: f32| {
        grid(
            0,
            [1; 2],
            [Vec2::new(0.75, low), Vec2::new(0.95, low + 0.4)],
            move |s, t| Vec3::new(s * 0.1, -t * 0.1, z),
        )
    };
    let surface = surface(vec![hills, plate(0.0, 0.06), plate(0.5, 0.1)]);
    let shown = |patch: usize| patch != 2;
    let (geometry, _) = canvas(&surface, 110);
    let triangles: Vec<[Vec3; 3]> = surface.patches[..2]
        .iter()
        .flat_map(|p| (0..p.triangle_count()).map(|t| p.corners(t).unwrap()))
        .collect();
    for eye in [DVec3::new(0.1, 0.0, 0.6), DVec3::new(0.4, 0.3, 0.2)] {
        let camera = Camera::new(eye);
        let got = set(&geometry.lasso(&whole_screen(), &camera.projection(), &shown));
        // Clear cases: nothing within 0.2 % of the way from the texel decides them.
        let (mut wrong, mut open, mut hidden) = (0, 0, 0);
        for (texel, position, normal) in every(&geometry) {
            let to = position.as_dvec3();
            let [x, y] = camera.see(position);
            let on = (0.0..SIZE[0]).contains(&x) && (0.0..SIZE[1]).contains(&y);
            let faces = normal.as_dvec3().dot(eye - to) > 0.0;
            let part = geometry.point(texel).unwrap().patch;
            if !on || !faces || part == 2 {
                assert!(!got.contains(&texel));
                continue;
            }
            let is_hidden = |end: f64| triangles.iter().any(|t| between(*t, eye, to, end));
            match (is_hidden(0.998), is_hidden(0.99999)) {
                (true, _) => {
                    hidden += 1;
                    wrong += usize::from(got.contains(&texel));
                }
                (_, false) => {
                    open += 1;
                    wrong += usize::from(!got.contains(&texel));
                }
                _ => {}
            }
        }
        assert_eq!(wrong, 0, "of {open} open and {hidden} hidden");
        assert!(open > 2500 && hidden > 250, "{open} {hidden}");
    }
}

#[test]
fn a_plate_is_taken_on_the_side_that_is_seen() {
    let side = |z: f32, turned: f32, low: f32| {
        grid(
            0,
            [3; 2],
            [Vec2::new(low, 0.0), Vec2::new(low + 0.5, 1.0)],
            move |s, t| Vec3::new((s - 0.5) * turned * 0.2, (0.5 - t) * 0.2, z),
        )
    };
    let (geometry, _) = canvas(
        &surface(vec![side(0.0, 1.0, 0.0), side(-0.001, -1.0, 0.5)]),
        64,
    );
    for (z, patch) in [(0.5, 0), (-0.5, 1)] {
        let camera = Camera::new(DVec3::new(0.02, 0.05, z));
        let got = geometry.lasso(&whole_screen(), &camera.projection(), &all);
        assert_eq!(got.texels().len(), 64 * 32);
        let patches = got
            .texels()
            .iter()
            .map(|t| geometry.point(*t).unwrap().patch);
        assert!(patches.into_iter().all(|p| p == patch));
    }
}

#[test]
fn an_eye_within_the_object_and_nonsense_do_no_harm() {
    let (geometry, _) = canvas(&sphere(0.1), 64);
    // From within, no triangle faces the eye; some lie behind it.
    let within = Camera::new(DVec3::new(0.0, 0.0, 0.05)).projection();
    assert!(
        geometry
            .lasso(&whole_screen(), &within, &all)
            .texels()
            .is_empty()
    );
    // Close to a large plane, of which most is behind the eye.
    let (plane, _) = canvas(&plane(4.0, 2), 64);
    let close = Camera::new(DVec3::new(0.0, 0.4, 0.1));
    let got = set(&plane.lasso(&whole_screen(), &close.projection(), &all));
    let wanted: BTreeSet<u32> = every(&plane)
        .filter(|(_, p, _)| {
            let before = (p.as_dvec3() - close.eye).dot(close.ahead) > 0.0;
            let [x, y] = close.see(*p);
            before && (0.0..SIZE[0]).contains(&x) && (0.0..SIZE[1]).contains(&y)
        })
        .map(|t| t.0)
        .collect();
    assert_eq!(got, wanted);
    assert!(!got.is_empty());
    let bad = Projection {
        view_projection: [f64::NAN; 16],
        ..within
    };
    assert!(
        geometry
            .lasso(&whole_screen(), &bad, &all)
            .texels()
            .is_empty()
    );
    let zero = Projection {
        view_projection: [0.0; 16],
        width_px: 0.0,
        ..within
    };
    assert!(
        geometry
            .lasso(&whole_screen(), &zero, &all)
            .texels()
            .is_empty()
    );
    assert!(
        geometry
            .lasso(&[[0.0; 2]; 2], &within, &all)
            .texels()
            .is_empty()
    );
    let huge = [[-1e300, -1e300], [1e300, -1e300], [0.0, 1e300]];
    let _ = geometry.lasso(&huge, &within, &all);
}
