//! Lenses and poses against OpenCV 5.0 (tests/reference/pose_examples.json and pose_opencv.json say
//! how the numbers were made). There pixels count from the centre of the top left one, here from its
//! corner.

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use ganosis_imaging::lens::{Distortion, Lens};
use ganosis_imaging::pose::{Free, Pair, Pose, PoseFit, Start, Task, refine, solve, turn_of};
use nalgebra::{Rotation3, Vector3};
use serde_json::Value;

const EXAMPLES: &str = include_str!("../../../tests/reference/pose_examples.json");
const OPENCV: &str = include_str!("../../../tests/reference/pose_opencv.json");

fn numbers<const N: usize>(value: &Value) -> [f64; N] {
    let all: Vec<f64> = serde_json::from_value(value.clone()).unwrap();
    all.try_into().unwrap()
}

fn rows<const N: usize>(value: &Value) -> Vec<[f64; N]> {
    value.as_array().unwrap().iter().map(numbers).collect()
}

fn distortion(value: &Value) -> Distortion {
    let d: Vec<f64> = serde_json::from_value(value.clone()).unwrap();
    let at = |i: usize| d.get(i).copied().unwrap_or(0.0);
    Distortion {
        k1: at(0),
        k2: at(1),
        p1: at(2),
        p2: at(3),
        k3: at(4),
        k4: at(5),
        k5: at(6),
        k6: at(7),
    }
}

fn lens(camera: &Value, coefficients: &Value) -> Lens {
    let k = rows::<3>(camera);
    Lens {
        width_px: 6000,
        height_px: 4000,
        focal_px: [k[0][0], k[1][1]],
        centre_px: [k[0][2] + 0.5, k[1][2] + 0.5],
        distortion: distortion(coefficients),
    }
}

fn lens_of(case: &Value) -> Lens {
    lens(&case["camera_matrix"], &case["distortion"])
}

fn pixels(value: &Value) -> Vec<[f64; 2]> {
    let all = rows::<2>(value).into_iter();
    all.map(|p| p.map(|v| v + 0.5)).collect()
}

fn pairs(points: &[[f64; 3]], seen: &[[f64; 2]]) -> Vec<Pair> {
    let pair = |(i, (&surface_m, &pixel)): (usize, (_, _))| Pair {
        name: i.to_string(),
        pixel,
        surface_m,
    };
    points.iter().zip(seen).enumerate().map(pair).collect()
}

fn off(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[test]
fn points_land_where_opencv_projects_them_and_are_undistorted_back() {
    let all: Value = serde_json::from_str(EXAMPLES).unwrap();
    let more: Value = serde_json::from_str(OPENCV).unwrap();
    let mut cases: Vec<(&Value, &str)> = Vec::new();
    for case in all["cases"].as_array().unwrap() {
        cases.push((case, "rotation_world_to_camera"));
    }
    for case in more["projected"].as_array().unwrap() {
        cases.push((case, "rotation"));
    }
    assert_eq!(cases.len(), 34);
    for (case, rotation) in cases {
        let lens = lens_of(case);
        let pose = Pose {
            rotation: rows::<3>(&case[rotation]).try_into().unwrap(),
            translation_m: numbers(&case["tvec_m"]),
        };
        pose.check("case").unwrap();
        let turned = turn_of(&pose);
        for (a, b) in turned.into_iter().zip(numbers::<3>(&case["rvec"])) {
            // A turn by 2π - a about the other way round is the same.
            assert!((a - b).abs() < 1e-9 || Vector3::from(turned).norm() > 3.0);
        }
        let wanted = pixels(&case["image_points_px"]);
        for (&point, wanted) in rows::<3>(&case["object_points_m"]).iter().zip(wanted) {
            let camera = pose.camera_of(point);
            let got = lens.project(camera).unwrap();
            assert!(off(got, wanted) < 1e-8, "{got:?} {wanted:?}");
            let ideal = lens.normalised_of(wanted).unwrap();
            let truth = [camera[0] / camera[2], camera[1] / camera[2]];
            assert!(off(ideal, truth) < 1e-12, "{ideal:?} {truth:?}");
        }
        if let Some(centre) = case.get("camera_centre_world_m") {
            for (a, b) in pose.centre_m().into_iter().zip(numbers::<3>(centre)) {
                assert!((a - b).abs() < 1e-12);
            }
        }
    }
}

#[test]
fn exact_points_give_the_pose_and_noisy_ones_the_published_optimum() {
    let all: Value = serde_json::from_str(EXAMPLES).unwrap();
    let mut refined = 0;
    for case in all["cases"].as_array().unwrap() {
        let points = rows::<3>(&case["object_points_m"]);
        let exact = pixels(&case["image_points_px"]);
        let task = Task {
            start: Start::Lens(lens_of(case)),
            free: Free::NONE,
            marked_px: 1.0,
            seed: 1,
        };
        let found = solve(&pairs(&points, &exact), &task).unwrap();
        assert!(found.wrong.is_empty());
        let pose = found.refined.pose;
        for (a, b) in turn_of(&pose).into_iter().zip(numbers::<3>(&case["rvec"])) {
            assert!((a - b).abs() < 1e-9, "{}", case["name"]);
        }
        let shift = numbers::<3>(&case["tvec_m"]);
        for (a, b) in pose.translation_m.into_iter().zip(shift) {
            assert!((a - b).abs() < 1e-9, "{}", case["name"]);
        }
        let Some(noise) = case.get("noise_px") else {
            continue;
        };
        let noisy: Vec<[f64; 2]> = exact
            .iter()
            .zip(rows::<2>(noise))
            .map(|(p, n)| [p[0] + n[0], p[1] + n[1]])
            .collect();
        let optimum = &case["refined_from_noisy"];
        let found = solve(&pairs(&points, &noisy), &task).unwrap();
        let rms = optimum["rms_reprojection_px"].as_f64().unwrap();
        assert!((found.refined.rms_px() - rms).abs() < 1e-6);
        let turn = turn_of(&found.refined.pose);
        for (a, b) in turn.into_iter().zip(numbers::<3>(&optimum["rvec"])) {
            assert!((a - b).abs() < 1e-7, "{a} {b}");
        }
        refined += 1;
    }
    assert!(refined >= 3);
}

#[test]
fn poses_of_noisy_points_equal_solve_pnp_with_refinement() {
    let all: Value = serde_json::from_str(OPENCV).unwrap();
    let cases = all["solved"].as_array().unwrap();
    assert_eq!(cases.len(), 20);
    for (i, case) in cases.iter().enumerate() {
        let lens = lens_of(case);
        let points = rows::<3>(&case["object_points_m"]);
        let seen = pixels(&case["image_points_px"]);
        let task = Task {
            start: Start::Lens(lens),
            free: Free::NONE,
            marked_px: 1.5,
            seed: 1,
        };
        let found = solve(&pairs(&points, &seen), &task).unwrap();
        assert!(found.wrong.is_empty(), "case {i}: {:?}", found.wrong);
        let theirs = pixels(&case["found"]["image_points_px"]);
        for (&point, theirs) in points.iter().zip(theirs) {
            let got = lens.project(found.refined.pose.camera_of(point)).unwrap();
            assert!(off(got, theirs) < 1e-3, "case {i}: {got:?} {theirs:?}");
        }
    }
}

#[test]
fn focal_length_and_distortion_equal_those_of_calibrate_camera() {
    let all: Value = serde_json::from_str(OPENCV).unwrap();
    for (i, case) in all["calibrated"].as_array().unwrap().iter().enumerate() {
        let points = rows::<3>(&case["object_points_m"]);
        let seen = pixels(&case["image_points_px"]);
        let free = Free {
            focal: true,
            centre: case["free_centre"].as_bool().unwrap(),
            k1: true,
            k2: true,
            ..Free::NONE
        };
        let task = Task {
            start: Start::Size {
                width_px: 6000,
                height_px: 4000,
            },
            free,
            marked_px: 1.5,
            seed: 1,
        };
        let fit = PoseFit::of(&pairs(&points, &seen), &task).unwrap();
        assert_eq!(fit.summary.wrong_pairs, 0, "case {i}");
        let theirs = lens(
            &case["found"]["camera_matrix"],
            &case["found"]["distortion"],
        );
        let rms = case["found"]["rms_px"].as_f64().unwrap();
        assert!(
            (fit.summary.rms_px - rms).abs() < 1e-5,
            "case {i}: {} {rms}",
            fit.summary.rms_px
        );
        let theirs_seen = pixels(&case["found"]["image_points_px"]);
        for (&point, wanted) in points.iter().zip(theirs_seen) {
            let got = fit.lens.project(fit.pose.camera_of(point)).unwrap();
            assert!(off(got, wanted) < 1e-3, "case {i}: {got:?} {wanted:?}");
        }
        let focal = (fit.lens.focal_px[0] - theirs.focal_px[0]).abs();
        assert!(focal < 1e-4 * theirs.focal_px[0], "case {i}: {focal}");
        assert!((fit.lens.distortion.k1 - theirs.distortion.k1).abs() < 1e-4);
    }
}

#[test]
fn refinement_goes_back_from_a_start_far_off() {
    let all: Value = serde_json::from_str(OPENCV).unwrap();
    let case = &all["solved"][9];
    let lens = lens_of(case);
    let all_pairs = pairs(
        &rows::<3>(&case["object_points_m"]),
        &pixels(&case["image_points_px"]),
    );
    let chosen: Vec<&Pair> = all_pairs.iter().collect();
    let found = Pose {
        rotation: rows::<3>(&case["found"]["rotation"]).try_into().unwrap(),
        translation_m: numbers(&case["found"]["tvec_m"]),
    };
    let turned = Rotation3::from_euler_angles(0.15, -0.1, 0.2) * found.rotation();
    let [x, y, z] = found.translation_m;
    let start = Pose::new(&turned, Vector3::new(x + 0.05, y - 0.05, 1.2 * z));
    let refined = refine(&lens, &start, &Free::NONE, &chosen).unwrap();
    let rms = case["found"]["rms_px"].as_f64().unwrap();
    assert!((refined.rms_px() - rms).abs() < 1e-9);
}
