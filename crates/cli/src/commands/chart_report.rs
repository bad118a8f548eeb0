//! The report on photographs of a chart: one page of HTML that holds everything.

use ganosis_audit::report::Html;
use ganosis_imaging::agreement::Agreement;
use ganosis_imaging::chart::{Severity, Summary};

use super::chart::Examined;
use super::chart_drawings as drawings;
use super::chart_text::{only_fits_better, verdict};

const STYLE: &str = include_str!("chart_report.css");

/// The page.
pub(super) fn page(results: &[Examined], agreements: &[Agreement]) -> String {
    let title = match results {
        [one] => format!("Colour of {}", file_name(&one.photo.name)),
        many => format!("Colour of {} photographs", many.len()),
    };
    let mut body = Html::tag("h1", title.as_str());
    body.push(Html::element(
        "p",
        &[("class", "lead")],
        "How far a photograph of a colour chart can be trusted once it is corrected. Colours are \
         CIELAB D50 for the 2° observer; differences are ΔE00 (CIE 2000) unless another is named.",
    ));
    for result in results {
        body.push(section(result));
    }
    if !agreements.is_empty() {
        body.push(agreement_section(results, agreements));
    }
    let mut head = Html::constant(
        "<meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">",
    );
    head.push(Html::tag("title", title.as_str()));
    head.push(Html::tag("style", Html::constant(STYLE)));
    let mut page = Html::constant("<!doctype html>");
    let mut html = Html::tag("head", head);
    html.push(Html::tag("body", Html::tag("main", body)));
    page.push(Html::element("html", &[("lang", "en")], html));
    page.into_string()
}

fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

fn section(result: &Examined) -> Html {
    let best = result.best();
    let mut out = Html::tag("h2", file_name(&result.photo.name));
    out.push(in_short(result));
    for finding in &best.reading.findings {
        let class = match finding.kind.severity() {
            Severity::Note => "found note",
            _ => "found",
        };
        let mut text = Html::tag("p", finding.text.as_str());
        text.push(Html::tag("p", Html::tag("small", finding.advice.as_str())));
        out.push(Html::element("div", &[("class", class)], text));
    }
    if let Some(picture) = drawings::photograph(result) {
        out.push(figure(
            picture,
            "The photograph as corrected. The frames are the areas that were read.",
        ));
    }
    out.push(figure(
        drawings::chart(best),
        "Outside each patch as the reference asks for it, inside as the corrected photograph has it. \
         Colours beyond the screen are brought to its edge.",
    ));
    let times = drawings::lengthening(best);
    let caption = format!(
        "From asked to got in the plane of a* and b*. The arrows are drawn {times:.0} times as long as \
         they are; lightness is not in this drawing."
    );
    let mut plane = drawings::arrows(best);
    plane.push(Html::tag("figcaption", caption.as_str()));
    out.push(Html::element("figure", &[("class", "plane-figure")], plane));
    out.push(models(result));
    out.push(references(result));
    out.push(sums(result));
    out.push(greys(result));
    out.push(judgements(result));
    out.push(patches(result));
    out
}

fn figure(drawing: Html, caption: &str) -> Html {
    let mut inner = drawing;
    inner.push(Html::tag("figcaption", caption));
    Html::tag("figure", inner)
}

fn in_short(result: &Examined) -> Html {
    let best = result.best();
    let (a, c) = (&best.assessment, &result.calibration);
    let mut pairs = vec![
        (
            "Colours to come",
            format!(
                "off by ΔE00 {:.1} ± {:.1} on average (patches left out in turn; one standard error \
                 of {} patches), {:.1} for one in twenty",
                a.left_out.mean,
                best.preferred().left_out_standard_error(),
                a.used.len(),
                a.left_out.p95
            ),
        ),
        (
            "Patches of the chart",
            format!(
                "off by ΔE00 {:.1} on average, {:.1} at most",
                a.fit.mean, a.fit.max
            ),
        ),
        ("Model", best.preferred().title()),
        ("Reference", c.reference_title.clone()),
        (
            "Read as",
            format!("{} ({})", result.photo.encoding, c.encoding_from),
        ),
        (
            "Chart",
            format!(
                "{} of {} patches stand out by themselves, turned {:.0}°",
                best.placement.patches_seen,
                best.reference.patches.len(),
                best.placement.turn_deg(&best.reference)
            ),
        ),
    ];
    if let Some(exponent) = c.tone_exponent {
        let text = format!("the greys follow light to the power {exponent:.2}; 1 is linear");
        pairs.push(("Tone", text));
    }
    if let Some(light) = c.evenness {
        let text = format!(
            "falls off by {:.0} % ± {:.0} % over the chart (estimated from the patches)",
            light.non_uniformity_percent, light.standard_error_percent
        );
        pairs.push(("Light", text));
    }
    if let Some(percent) = result.field.flat_percent() {
        pairs.push(("Flat field", format!("uneven by {percent:.0} %, taken out")));
    }
    pairs.push(("Photograph", format!("SHA-256 {}", c.photo.sha256)));
    let list: Html = pairs
        .iter()
        .flat_map(|(term, text)| [Html::tag("dt", *term), Html::tag("dd", text.as_str())])
        .collect();
    Html::tag("dl", list)
}

/// A table; columns from `first_number` on hold numbers.
fn table(title: &str, head: &[&str], first_number: usize, rows: Vec<Vec<String>>) -> Html {
    let cells = |name: &'static str, texts: &mut dyn Iterator<Item = &str>| -> Html {
        let row: Html = texts
            .enumerate()
            .map(|(i, text)| {
                let class: &[(&'static str, &str)] = if i >= first_number {
                    &[("class", "number")]
                } else {
                    &[]
                };
                Html::element(name, class, text)
            })
            .collect();
        Html::tag("tr", row)
    };
    let mut out = Html::tag("thead", cells("th", &mut head.iter().copied()));
    let body: Html = rows
        .iter()
        .map(|row| cells("td", &mut row.iter().map(String::as_str)))
        .collect();
    out.push(Html::tag("tbody", body));
    // Scrolls where the window is narrow, which is for the keyboard too.
    let about = [
        ("class", "wide"),
        ("tabindex", "0"),
        ("role", "group"),
        ("aria-label", title),
    ];
    Html::element("div", &about, Html::tag("table", out))
}

fn two(value: f64) -> String {
    format!("{value:.2}").replace('-', "−")
}

fn models(result: &Examined) -> Html {
    let best = result.best();
    let mut out = Html::tag("h3", "Models tried, mean ΔE00");
    let rows = best.tried.iter().enumerate().map(|(i, one)| {
        let mark = if i == 0 { " (preferred)" } else { "" };
        vec![
            format!("{}{mark}", one.title()),
            two(one.least_squares_mean),
            two(one.fit_mean()),
            two(one.left_out_mean()),
        ]
    });
    out.push(table(
        "Models tried",
        &["model", "least squares", "fit", "left out in turn"],
        1,
        rows.collect(),
    ));
    out.push(Html::tag(
        "p",
        "The model that foretells a patch it has not seen best is preferred.",
    ));
    if let Some(note) = only_fits_better(best) {
        out.push(Html::tag("p", note));
    }
    out
}

fn references(result: &Examined) -> Html {
    if result.compared.len() < 2 {
        return Html::default();
    }
    let mut out = Html::tag("h3", "References compared, mean ΔE00");
    let rows = result.compared.iter().map(|one| {
        let preferred = one.preferred();
        vec![
            one.reference.title.clone(),
            preferred.title(),
            two(preferred.fit_mean()),
            two(preferred.left_out_mean()),
        ]
    });
    out.push(table(
        "References compared",
        &["reference", "model", "fit", "left out in turn"],
        2,
        rows.collect(),
    ));
    out.push(Html::tag("p", verdict(&result.compared)));
    out
}

fn sums(result: &Examined) -> Html {
    let a = &result.best().assessment;
    let row = |name: &str, s: &Summary| {
        let mut row = vec![name.to_owned()];
        row.extend([s.mean, s.median, s.p95, s.max].map(two));
        row
    };
    let mut out = Html::tag("h3", "In sum");
    out.push(table(
        "In sum",
        &["quantity", "mean", "median", "95th percentile", "largest"],
        1,
        vec![
            row("ΔE00, fit", &a.fit),
            row("ΔE00, left out in turn", &a.left_out),
            row("ΔL*, without sign", &a.delta_l),
            row("ΔC*, without sign", &a.delta_c),
            row("ΔE*ab", &a.delta_e_ab),
            row("ΔE00 with S_L = 1", &a.delta_e_00_unit_sl),
        ],
    ));
    out
}

fn greys(result: &Examined) -> Html {
    let best = result.best();
    let mut out = Html::tag("h3", "White balance and tone, by the greys");
    let rows = best.assessment.greys.iter().map(|grey| {
        let patch = &best.assessment.patches[grey.patch];
        vec![
            patch.name.clone(),
            two(patch.asked.l),
            two(patch.got.l),
            two(grey.delta_l),
            two(grey.delta_ab),
        ]
    });
    out.push(table(
        "White balance and tone",
        &["grey", "L* asked", "L* got", "ΔL*", "Δ(a*b*)"],
        1,
        rows.collect(),
    ));
    out
}

fn judgements(result: &Examined) -> Html {
    let mut out = Html::tag("h3", "Held against published tolerances");
    out.push(Html::tag(
        "p",
        "A comparison, not a certification: each scheme defines its own target and analysis, and \
         numbers of different schemes cannot be compared with each other.",
    ));
    let rows = result.judgements.iter().map(|j| {
        let left_out = j.left_out_level.as_deref();
        vec![
            format!("{}, {}", j.scheme, j.category),
            j.quantity.clone(),
            format!("{} ({})", j.level.as_deref().unwrap_or("missed"), j.limit),
            left_out.unwrap_or("–").to_owned(),
            format!("{} {}", two(j.value), j.unit),
        ]
    });
    let head = ["set", "quantity", "level met", "left out", "measured"];
    out.push(table("Published tolerances", &head, 4, rows.collect()));
    let mut sources: Vec<String> = Vec::new();
    for j in &result.judgements {
        let known = match j.status.as_str() {
            "primary" => "read in the guideline itself",
            "secondary" => "read in a text that quotes it, not in the standard itself",
            _ => "from memory, to be checked before it is relied on",
        };
        let text = format!("{}: {}; {known}.", j.scheme, j.source);
        if !sources.contains(&text) {
            sources.push(text);
        }
    }
    for j in result.judgements.iter().filter(|j| !j.note.is_empty()) {
        let text = format!("{}, {}: {}.", j.scheme, j.quantity, j.note);
        if !sources.contains(&text) {
            sources.push(text);
        }
    }
    let list: Html = sources
        .iter()
        .map(|s| Html::tag("p", Html::tag("small", s.as_str())))
        .collect();
    out.push(list);
    out
}

fn patches(result: &Examined) -> Html {
    let a = &result.best().assessment;
    let mut out = Html::tag("h3", "Every patch");
    let rows = a.patches.iter().enumerate().map(|(i, p)| {
        let mark = if a.used.contains(&i) {
            ""
        } else {
            " (not used)"
        };
        let lab = |c: ganosis_colorimetry::LabD50| {
            format!("{:.1} {:.1} {:.1}", c.l, c.a, c.b).replace('-', "−")
        };
        vec![
            format!("{}", i + 1),
            format!("{}{mark}", p.name),
            lab(p.asked),
            lab(p.got),
            two(p.delta_l),
            two(p.delta_c),
            two(p.delta_e_00),
            p.left_out_delta_e_00.map_or("–".to_owned(), two),
        ]
    });
    let head = [
        "no.",
        "patch",
        "asked L* a* b*",
        "got L* a* b*",
        "ΔL*",
        "ΔC*",
        "ΔE00",
        "left out",
    ];
    out.push(table("Every patch", &head, 2, rows.collect()));
    out
}

fn agreement_section(results: &[Examined], agreements: &[Agreement]) -> Html {
    let mut out = Html::tag("h2", "Do the photographs agree?");
    out.push(Html::tag(
        "p",
        "ΔE00 between the same patch in two photographs, each corrected by its own calibration. \
         Images are laid over one another safely where this is below what is to be told apart on them.",
    ));
    for pair in agreements {
        let names = pair.photos.map(|i| file_name(&results[i].photo.name));
        out.push(Html::tag("h3", format!("{} and {}", names[0], names[1])));
        let s = &pair.delta_e_00;
        out.push(Html::tag(
            "p",
            format!(
                "mean {}, median {}, 95th percentile {}, largest {}",
                two(s.mean),
                two(s.median),
                two(s.p95),
                two(s.max)
            ),
        ));
        let patches = &results[pair.photos[0]].best().reference.patches;
        let rows = pair
            .patches
            .iter()
            .map(|&(i, e)| vec![format!("{}", i + 1), patches[i].name.clone(), two(e)]);
        out.push(table(
            "Patch by patch",
            &["no.", "patch", "ΔE00"],
            2,
            rows.collect(),
        ));
    }
    out
}
