//! The results of `ganosis chart` as text for a terminal.

use std::io::{self, Write};
use std::path::Path;

use ganosis_imaging::agreement::Agreement;
use ganosis_imaging::characterisation::{Characterisation, Lead};
use ganosis_imaging::chart::{GreyResult, Summary};

use super::chart::Examined;

/// Prints everything but the patches, which are in the report.
pub(super) fn print(
    results: &[Examined],
    agreements: &[Agreement],
    report: &Path,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    for result in results {
        photo(&mut out, result)?;
    }
    for pair in agreements {
        let [a, b] = pair.photos.map(|i| results[i].photo.name.as_str());
        writeln!(out, "{a} and {b}, each corrected, differ by ΔE00")?;
        writeln!(out, "  {}", summary(&pair.delta_e_00))?;
    }
    writeln!(out, "report: {}", report.display())
}

fn photo(out: &mut impl Write, result: &Examined) -> io::Result<()> {
    let best = result.best();
    writeln!(out, "{}", result.photo.name)?;
    let placement = &best.placement;
    writeln!(
        out,
        "  chart      {} of {} patches stand out, turned {:.0}°; a quick fit leaves {:.1}, laid otherwise {:.1} ΔE00",
        placement.patches_seen,
        best.reference.patches.len(),
        placement.turn_deg(&best.reference),
        placement.match_delta_e,
        placement.next_match_delta_e,
    )?;
    writeln!(
        out,
        "  light      read as {} ({})",
        result.photo.encoding, result.photo.encoding_from
    )?;
    if result.compared.len() > 1 {
        writeln!(
            out,
            "  reference  compared by patches left out in turn, mean ΔE00:"
        )?;
        for one in &result.compared {
            let mean = one.preferred().left_out_mean();
            writeln!(out, "    {:<40} {mean:>6.2}", one.reference.title)?;
        }
        writeln!(out, "    {}", verdict(&result.compared))?;
    } else {
        writeln!(out, "  reference  {}", best.reference.title)?;
    }
    writeln!(
        out,
        "  model                                mean ΔE00: least squares    fit   left out"
    )?;
    for (i, one) in best.tried.iter().enumerate() {
        let mark = if i == 0 { "  preferred" } else { "" };
        writeln!(
            out,
            "    {:<45} {:>10.2} {:>8.2} {:>8.2}{mark}",
            one.title(),
            one.least_squares_mean,
            one.fit_mean(),
            one.left_out_mean()
        )?;
    }
    if let Some(note) = only_fits_better(best) {
        writeln!(out, "    {note}")?;
    }
    numbers(out, result)?;
    for finding in &best.reading.findings {
        writeln!(
            out,
            "  found: {}\n    do:  {}",
            finding.text, finding.advice
        )?;
    }
    for j in &result.judgements {
        let level = j.level.as_deref().unwrap_or("missed");
        let left_out = j.left_out_level.as_deref();
        let left_out = left_out.map_or(String::new(), |l| format!("; left out in turn: {l}"));
        writeln!(
            out,
            "  {}, {}: {} {:.2} {} — {level} ({}; {}{left_out})",
            j.scheme, j.category, j.quantity, j.value, j.unit, j.limit, j.status
        )?;
    }
    writeln!(out, "  calibration: {}", result.written_to.display())
}

fn numbers(out: &mut impl Write, result: &Examined) -> io::Result<()> {
    let a = &result.best().assessment;
    writeln!(out, "  ΔE00 fit        {}", summary(&a.fit))?;
    writeln!(out, "  ΔE00 left out   {}", summary(&a.left_out))?;
    writeln!(
        out,
        "                  the mean ± {:.2} (one standard error of {} patches): expect it of colours \
         not on the chart",
        result.best().preferred().left_out_standard_error(),
        a.used.len()
    )?;
    writeln!(out, "  |ΔL*|           {}", summary(&a.delta_l))?;
    writeln!(out, "  |ΔC*|           {}", summary(&a.delta_c))?;
    let worst = |of: fn(&GreyResult) -> f64| a.worst_grey(of);
    if let (Some(ab), Some(l)) = (worst(|g| g.delta_ab), worst(|g| g.delta_l.abs())) {
        writeln!(
            out,
            "  greys           white balance off by {ab:.2} Δ(a*b*) at most, tone by {l:.2} ΔL*"
        )?;
    }
    if let Some(exponent) = result.best().reading.tone_exponent {
        writeln!(
            out,
            "  tone            the greys follow light to the power {exponent:.2}"
        )?;
    }
    if let Some(light) = a.evenness {
        writeln!(
            out,
            "  evenness        light falls off by {:.0} % ± {:.0} % over the chart",
            light.non_uniformity_percent, light.standard_error_percent
        )?;
    }
    Ok(())
}

fn summary(s: &Summary) -> String {
    format!(
        "mean {:.2}, median {:.2}, 95th percentile {:.2}, max {:.2}",
        s.mean, s.median, s.p95, s.max
    )
}

/// Which reference fits, or that the photograph does not say it.
pub(super) fn verdict(compared: &[Characterisation]) -> String {
    let best = &compared[0];
    let open: Vec<&str> = compared[1..]
        .iter()
        .filter(|other| Lead::of(best, other).is_none_or(|lead| !lead.is_clear()))
        .map(|other| other.reference.title.as_str())
        .collect();
    let title = &best.reference.title;
    if open.is_empty() {
        return format!("{title} fits; it leads by more than two standard errors");
    }
    format!(
        "{title} fits best, but this photograph cannot tell it from {}: the lead is within two \
         standard errors. Look at the chart's back or papers and name its table.",
        open.join(" and ")
    )
}

/// Means that differ by less are the same as printed.
const VISIBLE: f64 = 0.01;

/// Says it where a model fits better and is not preferred.
pub(super) fn only_fits_better(best: &Characterisation) -> Option<String> {
    let preferred = best.preferred();
    let tempting = best
        .tried
        .iter()
        .skip(1)
        .filter(|c| c.fit_mean() + VISIBLE < preferred.fit_mean())
        .min_by(|a, b| a.fit_mean().total_cmp(&b.fit_mean()))?;
    Some(format!(
        "{} fits better ({:.2} against {:.2}) but foretells patches it has not seen worse ({:.2} \
         against {:.2}): not preferred.",
        tempting.title(),
        tempting.fit_mean(),
        preferred.fit_mean(),
        tempting.left_out_mean(),
        preferred.left_out_mean()
    ))
}
