//! The orbit camera: a target, a direction to it and a distance.

use glam::{DMat4, DVec3, Mat4, Vec3};

/// Directions of the object: to its right as seen from the front, up, and to the front.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Basis {
    /// To the right, seen from the front.
    pub right: DVec3,
    /// Up.
    pub up: DVec3,
    /// Towards somebody who sees the front.
    pub front: DVec3,
}

impl Basis {
    /// From the dossier's orientation; directions that are no directions give glTF's own
    /// (glTF 2.0, section 3.4: +Y up, front +Z).
    #[must_use]
    pub fn new(up: DVec3, front: DVec3) -> Self {
        let up = up.try_normalize().unwrap_or(DVec3::Y);
        let right = up
            .cross(front)
            .try_normalize()
            .unwrap_or_else(|| up.any_orthonormal_vector());
        Self {
            right,
            up,
            front: right.cross(up),
        }
    }
}

/// Vertical field of view (degrees) of about a 50 mm lens on 24 mm of film height: the perspective
/// of somebody standing before the object.
pub const FOV_DEG: f64 = 27.0;
/// The camera stays off the poles, where "up" has no direction (degrees).
const HIGHEST_DEG: f64 = 89.5;
/// Share of the picture left free around the object when it is fitted.
const FREE: f64 = 1.06;

/// A camera that looks at `target_m` from `distance_m`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OrbitCamera {
    /// The point looked at, in the coordinates of the mesh.
    pub target_m: DVec3,
    /// Around the up direction; 0 sees the front, positive moves the camera to its right.
    pub azimuth_deg: f64,
    /// Above the horizon.
    pub elevation_deg: f64,
    /// From eye to target.
    pub distance_m: f64,
    /// Vertical field of view.
    pub fov_deg: f64,
}

/// Sphere around the object.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ball {
    /// Its centre.
    pub centre_m: DVec3,
    /// Its radius, above zero.
    pub radius_m: f64,
}

impl OrbitCamera {
    /// Sees the whole `ball` from the front.
    #[must_use]
    pub fn fitted(ball: Ball, aspect: f64) -> Self {
        let mut camera = Self {
            target_m: ball.centre_m,
            azimuth_deg: 0.0,
            elevation_deg: 0.0,
            distance_m: 1.0,
            fov_deg: FOV_DEG,
        };
        camera.fit(ball, aspect);
        camera
    }

    /// Keeps the direction and steps back until the whole ball is seen.
    pub fn fit(&mut self, ball: Ball, aspect: f64) {
        let half_height = (self.fov_deg.to_radians() / 2.0).tan();
        let half = (half_height * aspect.min(1.0)).atan();
        self.target_m = ball.centre_m;
        self.distance_m = FREE * ball.radius_m / half.sin();
    }

    /// From the target to the eye.
    #[must_use]
    pub fn backward(&self, basis: &Basis) -> DVec3 {
        let (azimuth, elevation) = (
            self.azimuth_deg.to_radians(),
            self.elevation_deg.to_radians(),
        );
        (basis.right * azimuth.sin() + basis.front * azimuth.cos()) * elevation.cos()
            + basis.up * elevation.sin()
    }

    /// The eye, in the coordinates of the mesh.
    #[must_use]
    pub fn eye_m(&self, basis: &Basis) -> DVec3 {
        self.target_m + self.backward(basis) * self.distance_m
    }

    /// Right, up and backward of the picture.
    #[must_use]
    pub fn axes(&self, basis: &Basis) -> [DVec3; 3] {
        let backward = self.backward(basis);
        let right = basis.up.cross(backward).normalize_or(basis.right);
        [right, backward.cross(right), backward]
    }

    /// Scene (relative to `origin_m`) to clip space, z 0..1.
    #[must_use]
    pub fn clip_from_scene(&self, basis: &Basis, aspect: f64, ball: Ball, origin_m: DVec3) -> Mat4 {
        let eye = self.eye_m(basis);
        let to_centre = eye.distance(ball.centre_m);
        let far = to_centre + ball.radius_m * 1.05;
        // A near plane of 1/5000 of the far one keeps the steps of a 24-bit depth below 0.1 mm at
        // arm's length; nothing nearer than that can be looked at sensibly.
        let near = (to_centre - ball.radius_m * 1.05).max(far / 5000.0);
        let view = glam::dcamera::rh::view::look_at_mat4(
            eye - origin_m,
            self.target_m - origin_m,
            basis.up,
        );
        let projection = glam::dcamera::rh::proj::directx::perspective(
            self.fov_deg.to_radians(),
            aspect,
            near,
            far,
        );
        (projection * view).as_mat4()
    }

    /// Direction of the ray through a point of the picture, -1..1 to the right and up.
    #[must_use]
    pub fn ray(&self, basis: &Basis, aspect: f64, x: f64, y: f64) -> DVec3 {
        let [right, up, backward] = self.axes(basis);
        let half = (self.fov_deg.to_radians() / 2.0).tan();
        (right * (x * half * aspect) + up * (y * half) - backward).normalize()
    }

    /// Metres at the target that one CSS pixel covers.
    #[must_use]
    pub fn metres_per_pixel(&self, height_px: f64) -> f64 {
        2.0 * self.distance_m * (self.fov_deg.to_radians() / 2.0).tan() / height_px.max(1.0)
    }

    /// Turns around the target.
    pub fn orbit(&mut self, azimuth_deg: f64, elevation_deg: f64) {
        self.azimuth_deg = wrapped_deg(self.azimuth_deg + azimuth_deg);
        self.elevation_deg = (self.elevation_deg + elevation_deg).clamp(-HIGHEST_DEG, HIGHEST_DEG);
    }

    /// Moves the target with the picture, in metres to the right and up.
    pub fn pan(&mut self, basis: &Basis, right_m: f64, up_m: f64) {
        let [right, up, _] = self.axes(basis);
        self.target_m += right * right_m + up * up_m;
    }

    /// Comes nearer (`factor` below 1) while the point of the target plane under (x, y), -1..1,
    /// stays where it is.
    pub fn zoom(&mut self, basis: &Basis, aspect: f64, ball: Ball, factor: f64, x: f64, y: f64) {
        let nearest = ball.radius_m * 1e-3;
        let furthest = ball.radius_m * 100.0;
        let distance = (self.distance_m * factor).clamp(nearest, furthest);
        let change = self.distance_m - distance;
        let half = (self.fov_deg.to_radians() / 2.0).tan();
        self.pan(basis, x * half * aspect * change, y * half * change);
        self.distance_m = distance;
    }

    /// Between two cameras, `t` 0..1, by the shorter way around.
    #[must_use]
    pub fn between(&self, other: &Self, t: f64) -> Self {
        let mix = |a: f64, b: f64| a + (b - a) * t;
        Self {
            target_m: self.target_m.lerp(other.target_m, t),
            azimuth_deg: wrapped_deg(
                self.azimuth_deg + wrapped_deg(other.azimuth_deg - self.azimuth_deg) * t,
            ),
            elevation_deg: mix(self.elevation_deg, other.elevation_deg),
            distance_m: (mix(self.distance_m.ln(), other.distance_m.ln())).exp(),
            fov_deg: mix(self.fov_deg, other.fov_deg),
        }
    }

    /// Clamps what cannot be drawn; true when all numbers are numbers.
    pub fn make_sound(&mut self) -> bool {
        let finite = self.target_m.is_finite()
            && [
                self.azimuth_deg,
                self.elevation_deg,
                self.distance_m,
                self.fov_deg,
            ]
            .iter()
            .all(|v| v.is_finite());
        self.azimuth_deg = wrapped_deg(self.azimuth_deg);
        self.elevation_deg = self.elevation_deg.clamp(-HIGHEST_DEG, HIGHEST_DEG);
        self.fov_deg = self.fov_deg.clamp(1.0, 120.0);
        self.distance_m = self.distance_m.max(1e-6);
        finite
    }
}

/// Height over breadth and depth below which an object lies rather than stands; a choice of ours.
const FLAT: f64 = 0.1;

/// Elevation (degrees) from which an object of `size_m` along the axes of the mesh is first seen:
/// level for what stands, from above for what lies flat and would be seen on its edge.
#[must_use]
pub fn first_elevation_deg(basis: &Basis, size_m: DVec3) -> f64 {
    let extent = |direction: DVec3| direction.abs().dot(size_m);
    let across = extent(basis.right).min(extent(basis.front));
    if extent(basis.up) < FLAT * across {
        HIGHEST_DEG
    } else {
        0.0
    }
}

/// The same angle in -180..180.
fn wrapped_deg(angle: f64) -> f64 {
    (angle + 180.0).rem_euclid(360.0) - 180.0
}

/// Unit direction of a lamp seen from the object, for `azimuth_deg` (0 from the front, positive to
/// its right) and `elevation_deg` above the horizon.
#[must_use]
pub fn lamp_direction(basis: &Basis, azimuth_deg: f64, elevation_deg: f64) -> Vec3 {
    let (azimuth, elevation) = (azimuth_deg.to_radians(), elevation_deg.to_radians());
    ((basis.right * azimuth.sin() + basis.front * azimuth.cos()) * elevation.cos()
        + basis.up * elevation.sin())
    .as_vec3()
}

/// Scene point to picture: x right and y down, 0..1, or none behind the eye.
#[must_use]
pub fn project(clip_from_scene: &Mat4, point_m: Vec3) -> Option<[f64; 2]> {
    let clip = clip_from_scene.as_dmat4() as DMat4 * point_m.as_dvec3().extend(1.0);
    (clip.w > 0.0).then(|| [0.5 + 0.5 * clip.x / clip.w, 0.5 - 0.5 * clip.y / clip.w])
}

#[cfg(test)]
mod tests {
    use super::*;

    const BALL: Ball = Ball {
        centre_m: DVec3::new(1.0, 2.0, 3.0),
        radius_m: 0.5,
    };

    fn basis() -> Basis {
        Basis::new(DVec3::Y, DVec3::Z)
    }

    #[test]
    fn azimuth_zero_sees_the_front_and_positive_moves_to_its_right() {
        let mut camera = OrbitCamera::fitted(BALL, 1.0);
        assert!((camera.backward(&basis()) - DVec3::Z).length() < 1e-12);
        camera.orbit(90.0, 0.0);
        assert!((camera.backward(&basis()) - DVec3::X).length() < 1e-12);
    }

    #[test]
    fn what_lies_flat_is_first_seen_from_above() {
        let first = |x, y, z| first_elevation_deg(&basis(), DVec3::new(x, y, z));
        assert_eq!(first(1.0, 0.0, 2.0), HIGHEST_DEG);
        assert_eq!(first(1.0, 2.0, 0.0), 0.0);
        assert_eq!(first(0.01, 0.01, 0.01), 0.0);
        // With +Z up, as many scanners have it.
        let lying = Basis::new(DVec3::Z, DVec3::NEG_Y);
        assert_eq!(
            first_elevation_deg(&lying, DVec3::new(1.0, 1.0, 0.01)),
            HIGHEST_DEG
        );
    }

    #[test]
    fn the_target_is_in_the_middle_and_the_ray_through_it_goes_there() {
        let mut camera = OrbitCamera::fitted(BALL, 1.5);
        camera.orbit(33.0, 21.0);
        let clip = camera.clip_from_scene(&basis(), 1.5, BALL, DVec3::ZERO);
        let [x, y] = project(&clip, camera.target_m.as_vec3()).expect("in front");
        assert!((x - 0.5).abs() < 1e-6 && (y - 0.5).abs() < 1e-6, "{x} {y}");
        // A ray through any pixel meets what is projected there.
        let direction = camera.ray(&basis(), 1.5, 0.4, -0.3);
        let point = camera.eye_m(&basis()) + direction * camera.distance_m;
        let [x, y] = project(&clip, point.as_vec3()).expect("in front");
        assert!((x - 0.7).abs() < 1e-6 && (y - 0.65).abs() < 1e-6, "{x} {y}");
    }

    #[test]
    fn a_fitted_ball_touches_neither_border() {
        for aspect in [0.5, 1.0, 2.0] {
            let camera = OrbitCamera::fitted(BALL, aspect);
            let half_height = (camera.fov_deg.to_radians() / 2.0).tan();
            // Apparent half-angle of a sphere: asin(r / d).
            let seen = (BALL.radius_m / camera.distance_m).asin().tan();
            assert!(seen <= half_height * aspect.min(1.0), "{aspect}");
        }
    }

    #[test]
    fn zooming_keeps_the_point_under_the_pointer() {
        let mut camera = OrbitCamera::fitted(BALL, 1.2);
        camera.orbit(20.0, 10.0);
        let [right, up, _] = camera.axes(&basis());
        let half = (camera.fov_deg.to_radians() / 2.0).tan();
        let point = camera.target_m
            + right * (0.5 * half * 1.2 * camera.distance_m)
            + up * (0.25 * half * camera.distance_m);
        camera.zoom(&basis(), 1.2, BALL, 0.5, 0.5, 0.25);
        let clip = camera.clip_from_scene(&basis(), 1.2, BALL, DVec3::ZERO);
        let [x, y] = project(&clip, point.as_vec3()).expect("in front");
        assert!(
            (x - 0.75).abs() < 1e-6 && (y - 0.375).abs() < 1e-6,
            "{x} {y}"
        );
    }

    #[test]
    fn the_way_between_two_cameras_is_the_shorter_one() {
        let a = OrbitCamera {
            azimuth_deg: 170.0,
            ..OrbitCamera::fitted(BALL, 1.0)
        };
        let b = OrbitCamera {
            azimuth_deg: -170.0,
            ..a
        };
        assert!((a.between(&b, 0.5).azimuth_deg.abs() - 180.0).abs() < 1e-9);
    }
}
