//! Areas of surface behind the pixels of a photograph, against the areas of a disc and of a cap of a ball.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use ganosis_imaging::drape::View;
use ganosis_imaging::drape::areas::pixel_areas_m2;
use ganosis_imaging::drape::mesh::faces_of;
use ganosis_imaging::lens::Lens;
use glam::{DVec3, Vec2};
use scene::{bent, grid, posed, square, surface};

/// A phone that looks at the plane z = 0 from the side.
fn aside() -> View {
    let lens = Lens {
        distortion: bent(),
        ..Lens::simple(900, 600, 800.0)
    };
    let from = DVec3::new(0.45, -0.2, 0.5);
    View::new(&posed("aside", lens, from, DVec3::ZERO), None)
}

#[test]
fn a_disc_on_a_plane_has_its_area_whatever_the_angle_and_the_lens() {
    const RADIUS_M: f64 = 0.12;
    let view = aside();
    let faces = faces_of(&surface(vec![square(0.6, 5)]), &|_| true);
    let areas = pixel_areas_m2(&view, &faces);
    let lens = view.lens.lens();
    let mut sum = 0.0;
    for (i, area) in areas.iter().enumerate() {
        let pixel = [i % lens.width_px, i / lens.width_px].map(|v| v as f64 + 0.5);
        let [x, y] = view.lens.normalised_of(pixel).unwrap();
        // Where the ray through the pixel meets the plane.
        let axes = [DVec3::X, DVec3::Y, DVec3::Z].map(|axis| {
            let step = view.camera_of(axis.as_vec3()) - view.camera_of(glam::Vec3::ZERO);
            step.dot(DVec3::new(x, y, 1.0))
        });
        let along = -view.centre_m.z / axes[2];
        let place = view.centre_m + DVec3::from(axes) * along;
        if place.truncate().length() < RADIUS_M {
            sum += f64::from(*area);
        }
    }
    let wanted = std::f64::consts::PI * RADIUS_M * RADIUS_M;
    println!("{:.3} cm² of {:.3} cm²", sum * 1e4, wanted * 1e4);
    // Pixels at the rim are in or out; of some 1,300 half the number is random.
    assert!((sum / wanted - 1.0).abs() < 0.002, "{sum} {wanted}");
}

#[test]
fn of_a_ball_the_cap_that_is_seen_has_the_area_of_the_formula() {
    const RADIUS_M: f64 = 0.1;
    let place = |u: f64, v: f64| {
        let (a, b) = (u * std::f64::consts::TAU, v * std::f64::consts::PI);
        RADIUS_M * DVec3::new(b.sin() * a.cos(), b.sin() * a.sin(), b.cos())
    };
    let ball = grid(256, 128, Vec2::ZERO, Vec2::ONE, &place);
    let faces = faces_of(&surface(vec![ball]), &|_| true);
    let (far, lens) = (0.5, Lens::simple(800, 800, 1400.0));
    let from = DVec3::new(0.3, 0.0, 0.4);
    assert!((from.length() - far).abs() < 1e-12);
    let view = View::new(&posed("ball", lens, from, DVec3::ZERO), None);
    let sum: f64 = pixel_areas_m2(&view, &faces)
        .iter()
        .map(|a| f64::from(*a))
        .sum();
    // From a distance d the cap within the tangent cone is seen: 2πR²(1 - R/d).
    let wanted = std::f64::consts::TAU * RADIUS_M * RADIUS_M * (1.0 - RADIUS_M / far);
    println!("{:.3} cm² of {:.3} cm²", sum * 1e4, wanted * 1e4);
    // At the limb a pixel shows a strip whose cosine changes within it.
    assert!((sum / wanted - 1.0).abs() < 0.01, "{sum} {wanted}");
}
