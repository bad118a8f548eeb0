//! The same photographs as photogrammetry leaves them: a COLMAP text model (documentation of COLMAP,
//! "Output format") in a unit and on axes of its own.

use super::points::Site;
use super::{Taken, points};
use crate::files;
use crate::noise::Random;
use anyhow::Result;
use glam::{DMat3, DQuat, DVec3};
use std::fmt::Write;
use std::path::Path;

/// Units of the model in a metre.
const SCALE: f64 = 3.7;
/// Known points are off by this much, one standard deviation in metres.
const KNOWN_SPREAD_M: f64 = 0.0001;

/// Writes cameras.txt, images.txt, points3D.txt and known.csv.
pub(crate) fn write(folder: &Path, taken: &[&Taken], sites: &[Site], seed: u64) -> Result<()> {
    let mut random = Random::new(seed, "model");
    let turn = DMat3::from_quat(DQuat::from_xyzw(0.3, -0.5, 0.2, 0.787_400_787).normalize());
    let shift = DVec3::new(1.5, -0.4, 6.0);
    let model_of = |place: DVec3| turn * place * SCALE + shift;
    let (mut cameras, mut images) = (String::new(), String::new());
    // Writing to a string cannot fail.
    let mut seen_in = vec![0_usize; sites.len()];
    for (k, one) in taken.iter().enumerate() {
        cameras.push_str(&one.lens.model_line(k + 1));
        let rotation = one.station.rotation * turn.transpose();
        let t = one.station.translation_m * SCALE - rotation * shift;
        let q = DQuat::from_mat3(&rotation);
        let _ = writeln!(
            images,
            "{} {} {} {} {} {} {} {} {} {}.png",
            k + 1,
            q.w,
            q.x,
            q.y,
            q.z,
            t.x,
            t.y,
            t.z,
            k + 1,
            one.name
        );
        let mut line = Vec::new();
        for (count, site) in seen_in.iter_mut().zip(sites) {
            let there = points::seen(one.scene, &one.lens, &one.station, site);
            if let Some(pixel) = there {
                *count += 1;
                line.push(format!("{} {} {}", pixel.x, pixel.y, site.number));
            }
        }
        let _ = writeln!(images, "{}", line.join(" "));
    }
    let mut there = String::new();
    let mut known = String::from("name,point,x_m,y_m,z_m\n");
    let often = |site: &Site| seen_in[site.number - 1] >= 3;
    for (k, site) in sites.iter().filter(|s| often(s)).enumerate() {
        let at = model_of(site.place_m);
        let _ = writeln!(
            there,
            "{} {} {} {} 128 128 128 0",
            site.number, at.x, at.y, at.z
        );
        if k % 7 == 0 {
            let mut off = || KNOWN_SPREAD_M * f64::from(random.bell());
            let p = site.place_m + DVec3::new(off(), off(), off());
            let _ = writeln!(
                known,
                "p{:02},{},{:.6},{:.6},{:.6}",
                site.number, site.number, p.x, p.y, p.z
            );
        }
    }
    files::write(&folder.join("cameras.txt"), cameras.as_bytes())?;
    files::write(&folder.join("images.txt"), images.as_bytes())?;
    files::write(&folder.join("points3D.txt"), there.as_bytes())?;
    files::write(&folder.join("known.csv"), known.as_bytes())
}
