//! The results of `ganosis pose` as text for a terminal.

use std::io::{self, Write};

use ganosis_imaging::pose::Pair;

use super::pose::Output;

/// Prints them.
pub(super) fn print(output: &Output, pairs: &[Pair]) -> io::Result<()> {
    let mut out = io::stdout().lock();
    let fit = &output.fit;
    let summary = &fit.summary;
    writeln!(out, "{}", output.photo)?;
    lens(&mut out, output)?;
    let [x, y, z] = output.camera_centre_m;
    let depths = pairs.iter().map(|p| fit.pose.camera_of(p.surface_m)[2]);
    let depth = depths.sum::<f64>() / pairs.len() as f64;
    writeln!(
        out,
        "  camera     at ({x:.4}, {y:.4}, {z:.4}) m, {depth:.3} m before the points"
    )?;
    if let Some(known) = &fit.uncertainty {
        let [a, b, c] = known.place_mm;
        let turn = known.turn_deg.iter().copied().fold(0.0, f64::max);
        writeln!(
            out,
            "  known to   ± ({a:.2}, {b:.2}, {c:.2}) mm, ± {turn:.4}°; in the picture to {:.2} px at the points, {:.2} px at worst",
            known.worst_at_points_px, known.worst_in_picture_px
        )?;
    }
    for tried in &output.tried {
        let mark = if tried.free == fit.free {
            "  taken"
        } else {
            ""
        };
        writeln!(
            out,
            "  tried      {:<12} residuals {:>7.2} px, left out in turn {:>7} px, {} wrong{mark}",
            tried.free.to_string(),
            tried.rms_px,
            number(tried.left_out_rms_px),
            tried.wrong_pairs
        )?;
    }
    writeln!(
        out,
        "  point                       dx px     dy px   dist px   dist mm  left out px"
    )?;
    for pair in &fit.pairs {
        let [dx, dy] = pair
            .off_px
            .map_or([None, None], |[x, y]| [Some(x), Some(y)]);
        writeln!(
            out,
            "    {:<20} {:>9} {:>9} {:>9} {:>9} {:>12}{}",
            pair.name,
            number(dx),
            number(dy),
            number(pair.distance_px()),
            number(pair.off_mm),
            number(pair.left_out_px),
            if pair.wrong { "  wrong, left out" } else { "" }
        )?;
    }
    writeln!(
        out,
        "  r.m.s.     {:.2} px, {:.3} mm over {} pairs; left out in turn {} px",
        summary.rms_px,
        summary.rms_mm,
        summary.pairs,
        number(summary.left_out_rms_px)
    )?;
    for found in &output.findings {
        writeln!(out, "  found: {}\n    do:  {}", found.text, found.advice)?;
    }
    for weak in &fit.weaknesses {
        writeln!(out, "  weak:  {}\n    do:  {}", weak.text, weak.advice)?;
    }
    writeln!(out, "  poses: {}", output.poses_file)
}

fn lens(out: &mut impl Write, output: &Output) -> io::Result<()> {
    let fit = &output.fit;
    let lens = &fit.lens;
    let how = match (
        fit.free.focal,
        fit.uncertainty.as_ref().and_then(|u| u.focal_px),
    ) {
        (true, Some(deviation)) => format!(" ± {deviation:.1} px, found"),
        (true, None) => " px, found".to_owned(),
        (false, _) => " px, given".to_owned(),
    };
    writeln!(
        out,
        "  lens       focal length {:.1}{how}; axis at ({:.1}, {:.1}) px of {} × {}",
        lens.focal_px[0], lens.centre_px[0], lens.centre_px[1], lens.width_px, lens.height_px
    )?;
    let d = &lens.distortion;
    if d.coefficients().iter().any(|&c| c != 0.0) {
        writeln!(
            out,
            "  distortion k1 {:.5}, k2 {:.5}, k3 {:.5}, p1 {:.6}, p2 {:.6}",
            d.k1, d.k2, d.k3, d.p1, d.p2
        )?;
    }
    Ok(())
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |v| format!("{v:.2}"))
}
