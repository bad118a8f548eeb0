//! Words from fixed lists, numbers in their ranges, dates, rights.

use super::Findings;
use crate::document::{
    Anchor, Claim, ColourSpace, Dossier, Evidence, Layer, LayerKind, PaletteEntry, ViewState,
};

/// Largest region number: the label images have 16 bits at most.
const LARGEST_REGION_NUMBER: u32 = 65_535;

pub(super) fn check(document: &Dossier, found: &mut Findings) {
    for (i, layer) in document.layers.iter().enumerate() {
        check_layer(&format!("$.layers[{i}]"), layer, found);
    }
    for (i, state) in document.states.iter().enumerate() {
        word(&format!("$.states[{i}].kind"), &state.kind, found);
    }
    for (i, entry) in document.palette.iter().enumerate() {
        check_palette(&format!("$.palette[{i}]"), entry, found);
    }
    for (i, item) in document.evidence.iter().enumerate() {
        check_evidence(&format!("$.evidence[{i}]"), item, found);
    }
    for (i, claim) in document.claims.iter().enumerate() {
        check_claim(&format!("$.claims[{i}]"), claim, found);
    }
    for (i, pin) in document.pins.iter().enumerate() {
        check_anchor(&format!("$.pins[{i}].anchor"), pin.anchor.as_ref(), found);
    }
    for (i, saved) in document.views.iter().enumerate() {
        check_view(&format!("$.views[{i}].view"), &saved.view, found);
    }
    check_regions(document, found);
    check_object(document, found);
}

fn check_object(document: &Dossier, found: &mut Findings) {
    let object = &document.object;
    years("$.object", object.earliest_year, object.latest_year, found);
    if let Some(orientation) = &object.orientation {
        direction("$.object.orientation.up", orientation.up, found);
        direction("$.object.orientation.front", orientation.front, found);
        let (u, f) = (orientation.up, orientation.front);
        let dot = u[0] * f[0] + u[1] * f[1] + u[2] * f[2];
        let lengths = length(u) * length(f);
        // Within about a quarter of a degree of each other: no side is left to tell.
        if lengths > 0.0 && (dot / lengths).abs() > 0.999_99 {
            let message = "up and front are the same direction".to_owned();
            found.error(
                "bad-direction",
                "$.object.orientation",
                message,
                "Give two directions at right angles.",
            );
        }
    }
    let licence = document
        .rights
        .as_ref()
        .map_or("", |rights| rights.licence.as_str());
    if licence.is_empty() {
        let message = "no licence or rights statement is given".to_owned();
        found.warning("no-rights", "$.rights.licence", message, RIGHTS_ADVICE);
    } else if !is_rights(licence) {
        let message = format!("\"{licence}\" is no address of a licence and no SPDX identifier");
        found.error("bad-rights", "$.rights.licence", message, RIGHTS_ADVICE);
    }
}

const RIGHTS_ADVICE: &str = "Give the address of a Creative Commons licence or of a statement of \
    rightsstatements.org, or an SPDX identifier.";

/// An http(s) address (of Creative Commons and rightsstatements.org only those
/// that exist), or an SPDX short identifier by its syntax (SPDX 2.3 annex D:
/// letters, digits, `-`, `.`, and `+` at the end).
fn is_rights(licence: &str) -> bool {
    let Some(address) = licence
        .strip_prefix("https://")
        .or_else(|| licence.strip_prefix("http://"))
    else {
        let id = licence.strip_suffix('+').unwrap_or(licence);
        return id
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.');
    };
    // The names of both lists are from memory.
    const CREATIVE_COMMONS: &[&str] = &[
        "licenses/by/",
        "licenses/by-sa/",
        "licenses/by-nd/",
        "licenses/by-nc/",
        "licenses/by-nc-sa/",
        "licenses/by-nc-nd/",
        "publicdomain/zero/",
        "publicdomain/mark/",
    ];
    const STATEMENTS: &[&str] = &[
        "InC",
        "InC-OW-EU",
        "InC-EDU",
        "InC-NC",
        "InC-RUU",
        "NoC-CR",
        "NoC-NC",
        "NoC-OKLR",
        "NoC-US",
        "CNE",
        "UND",
        "NKC",
    ];
    if let Some(rest) = address.strip_prefix("creativecommons.org/") {
        return CREATIVE_COMMONS.iter().any(|known| rest.starts_with(known));
    }
    if let Some(rest) = address.strip_prefix("rightsstatements.org/vocab/") {
        return STATEMENTS.contains(&rest.split('/').next().unwrap_or(rest));
    }
    let host = address.split('/').next().unwrap_or("");
    host.contains('.') && !licence.contains(char::is_whitespace)
}

/// A word from a fixed list.
trait Word {
    fn word(&self) -> (&str, bool, &'static [&'static str]);
}

macro_rules! word {
    ($($name:ident),+) => {$(
        impl Word for crate::document::$name {
            fn word(&self) -> (&str, bool, &'static [&'static str]) {
                (self.as_str(), self.is_known(), Self::WORDS)
            }
        }
    )+};
}
word!(
    Certainty,
    ColourSpace,
    Comparison,
    Finish,
    LayerKind,
    LightMode,
    Response,
    StateKind,
    Technique,
    Verdict
);

fn word(path: &str, word: &impl Word, found: &mut Findings) {
    let (text, known, words) = word.word();
    if known {
        return;
    }
    let name = path.rsplit('.').next().unwrap_or(path);
    let message = match text {
        "" => format!("{name} is not given"),
        _ => format!("\"{text}\" is no {name}"),
    };
    found.error(
        "illegal-word",
        path,
        message,
        &format!("Use one of: {}.", words.join(", ")),
    );
}

fn check_layer(at: &str, layer: &Layer, found: &mut Findings) {
    word(&format!("{at}.kind"), &layer.kind, found);
    if let Some(space) = &layer.colour_space {
        word(&format!("{at}.colour_space"), space, found);
    }
    if layer.images.is_empty() {
        let message = format!("the layer \"{}\" has no images", layer.id);
        found.error(
            "layer-without-images",
            format!("{at}.images"),
            message,
            "Name one image per sheet.",
        );
    }
    if let Some([shortest, longest]) = layer.wavelength_nm {
        check_that(
            shortest > 0.0 && shortest <= longest,
            &format!("{at}.wavelength_nm"),
            format!("{shortest} to {longest} nm is no range of wavelengths"),
            "Give the shortest and the longest wavelength in nm.",
            found,
        );
    }
    let band = layer.kind == LayerKind::Band;
    if band && layer.unit.as_deref().is_none_or(str::is_empty) {
        let message = format!("the band layer \"{}\" has no unit", layer.id);
        found.error(
            "band-without-unit",
            format!("{at}.unit"),
            message,
            "Say what the values are, for example \"relative\".",
        );
    }
    match layer.range {
        None if band => {
            let message = format!("the band layer \"{}\" has no range", layer.id);
            found.error(
                "band-without-range",
                format!("{at}.range"),
                message,
                "Give the values of the smallest and the largest code.",
            );
        }
        Some([low, high]) => check_that(
            low < high,
            &format!("{at}.range"),
            format!("the range {low} to {high} is empty"),
            "Give the smaller value first.",
            found,
        ),
        None => {}
    }
    let colour_only = layer
        .colour_space
        .as_ref()
        .is_some_and(ColourSpace::is_known);
    if band && colour_only {
        let message = format!("the band layer \"{}\" has a colour space", layer.id);
        found.warning(
            "band-with-colour-space",
            format!("{at}.colour_space"),
            message,
            "Take it out, or make the layer a colour layer.",
        );
    }
    for (i, input) in layer.origin.iter().flat_map(|o| &o.inputs).enumerate() {
        let hex = input.sha256.len() == 64 && input.sha256.bytes().all(|b| b.is_ascii_hexdigit());
        check_that(
            hex || input.sha256.is_empty(),
            &format!("{at}.origin.inputs[{i}].sha256"),
            "this is no SHA-256".to_owned(),
            "Give its 64 hexadecimal digits (FIPS 180-4).",
            found,
        );
    }
}

fn check_regions(document: &Dossier, found: &mut Findings) {
    let mut seen = std::collections::HashMap::new();
    for (i, region) in document.regions.iter().enumerate() {
        let path = format!("$.regions[{i}].number");
        check_that(
            (1..=LARGEST_REGION_NUMBER).contains(&region.number),
            &path,
            format!("{} is no number of a region", region.number),
            "Give the code in the region map, 1 to 65535; 0 is \"no region\".",
            found,
        );
        if let Some(first) = seen.insert(region.number, &region.id) {
            let message = format!(
                "the regions \"{first}\" and \"{}\" have the same number {}",
                region.id, region.number
            );
            found.error(
                "duplicate-region-number",
                path,
                message,
                "Give each region its own number.",
            );
        }
    }
}

fn check_palette(at: &str, entry: &PaletteEntry, found: &mut Findings) {
    years(at, entry.earliest_year, entry.latest_year, found);
    elements(at, &entry.elements, found);
    surface_colour(at, entry.lab_d50, found);
    if let Some(spread) = entry.spread_delta_e {
        check_that(
            spread >= 0.0,
            &format!("{at}.spread_delta_e"),
            format!("the spread {spread} is negative"),
            "Give the spread as a colour difference.",
            found,
        );
    }
    if entry.lab_d50.is_none() && entry.spectrum.is_none() {
        let message = format!(
            "the palette entry \"{}\" has neither lab_d50 nor a spectrum",
            entry.id
        );
        found.warning(
            "pigment-without-colour",
            at,
            message,
            "Give a measured colour; without one it cannot be shown.",
        );
    }
}

fn surface_colour(at: &str, lab_d50: Option<[f64; 3]>, found: &mut Findings) {
    if let Some([lightness, a, b]) = lab_d50 {
        // CIE 15:2018 section 8.2.1: L* of a reflecting surface is 0 to 100.
        // No surface colour has |a*| or |b*| above 150 (common practice, no source).
        check_that(
            (0.0..=100.0).contains(&lightness) && a.abs() <= 150.0 && b.abs() <= 150.0,
            &format!("{at}.lab_d50"),
            format!("L* {lightness}, a* {a}, b* {b} is no colour of a surface"),
            "Give L* from 0 to 100, then a* and b*.",
            found,
        );
    }
}

fn check_evidence(at: &str, item: &Evidence, found: &mut Findings) {
    word(&format!("{at}.technique"), &item.technique, found);
    date(&format!("{at}.date"), item.date.as_deref(), found);
    elements(at, &item.elements, found);
    if let Some(response) = &item.response {
        word(&format!("{at}.response"), response, found);
    }
    check_anchor(&format!("{at}.anchor"), item.anchor.as_ref(), found);
}

fn check_claim(at: &str, claim: &Claim, found: &mut Findings) {
    word(&format!("{at}.certainty"), &claim.certainty, found);
    if let Some(finish) = &claim.finish {
        word(&format!("{at}.finish"), finish, found);
    }
    date(&format!("{at}.date"), claim.date.as_deref(), found);
    surface_colour(at, claim.lab_d50, found);
    for (m, part) in claim.mixture.iter().enumerate() {
        within(
            &format!("{at}.mixture[{m}].share"),
            part.share,
            0.0,
            1.0,
            found,
        );
    }
    for (r, review) in claim.reviews.iter().enumerate() {
        let at = format!("{at}.reviews[{r}]");
        word(&format!("{at}.verdict"), &review.verdict, found);
        date(&format!("{at}.date"), review.date.as_deref(), found);
        let answered = review
            .answer
            .as_ref()
            .and_then(|answer| answer.date.as_deref());
        date(&format!("{at}.answer.date"), answered, found);
    }
}

fn check_anchor(at: &str, anchor: Option<&Anchor>, found: &mut Findings) {
    let Some(anchor) = anchor else { return };
    if let Some(uv) = anchor.uv {
        check_that(
            uv.iter().all(|x| (0.0..=1.0).contains(x)),
            &format!("{at}.uv"),
            format!("{}, {} lies outside the sheet", uv[0], uv[1]),
            "Give texture coordinates from 0 to 1.",
            found,
        );
    }
    if let Some(position) = anchor.position_m {
        check_that(
            single(position),
            &format!("{at}.position_m"),
            "the position is beyond all measure".to_owned(),
            "Give the position in metres.",
            found,
        );
    }
    if let Some(normal) = anchor.normal {
        direction(&format!("{at}.normal"), normal, found);
    }
    if anchor.uv.is_none() && anchor.position_m.is_none() {
        let message = "the anchor has neither uv nor position_m".to_owned();
        found.error(
            "anchor-without-place",
            at,
            message,
            "Give at least one of them.",
        );
    }
}

fn check_view(at: &str, view: &ViewState, found: &mut Findings) {
    if let Some(compare) = &view.compare {
        word(&format!("{at}.compare"), compare, found);
    }
    within(&format!("{at}.position"), view.position, 0.0, 1.0, found);
    within(
        &format!("{at}.surround_l"),
        view.surround_l,
        0.0,
        100.0,
        found,
    );
    if let Some(camera) = &view.camera {
        within(
            &format!("{at}.camera.elevation_deg"),
            camera.elevation_deg,
            -90.0,
            90.0,
            found,
        );
        within(
            &format!("{at}.camera.fov_deg"),
            camera.fov_deg,
            1.0,
            179.0,
            found,
        );
        let distance = camera.distance_m;
        check_that(
            distance.is_none_or(|d| d > 0.0 && single([d; 3])),
            &format!("{at}.camera.distance_m"),
            "the distance is not positive".to_owned(),
            "Give the distance in metres.",
            found,
        );
        check_that(
            camera.target_m.is_none_or(single),
            &format!("{at}.camera.target_m"),
            "the target is beyond all measure".to_owned(),
            "Give the target in metres.",
            found,
        );
    }
    if let Some(light) = &view.light {
        if let Some(mode) = &light.mode {
            word(&format!("{at}.light.mode"), mode, found);
        }
        within(
            &format!("{at}.light.elevation_deg"),
            light.elevation_deg,
            0.0,
            90.0,
            found,
        );
    }
}

fn check_that(holds: bool, path: &str, message: String, advice: &str, found: &mut Findings) {
    if !holds {
        found.error("out-of-range", path, message, advice);
    }
}

fn within(path: &str, value: Option<f64>, low: f64, high: f64, found: &mut Findings) {
    if let Some(value) = value {
        check_that(
            (low..=high).contains(&value),
            path,
            format!("{value} is outside {low} to {high}"),
            &format!("Give a number from {low} to {high}."),
            found,
        );
    }
}

/// JSON has no infinity, but a number may be too large for the single
/// precision that the picture is drawn in.
#[expect(
    clippy::cast_possible_truncation,
    reason = "whether it fits is the question"
)]
fn single(vector: [f64; 3]) -> bool {
    vector.iter().all(|x| (*x as f32).is_finite())
}

fn length(v: [f64; 3]) -> f64 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}

fn direction(path: &str, vector: [f64; 3], found: &mut Findings) {
    if !single(vector) || length(vector) < 1e-6 {
        let message = format!("{vector:?} is no direction");
        found.error(
            "bad-direction",
            path,
            message,
            "Give a direction of length 1.",
        );
    }
}

fn years(at: &str, earliest: Option<i32>, latest: Option<i32>, found: &mut Findings) {
    if let (Some(earliest), Some(latest)) = (earliest, latest) {
        check_that(
            earliest <= latest,
            &format!("{at}.latest_year"),
            format!("the latest year {latest} is before the earliest, {earliest}"),
            "Exchange them or correct one.",
            found,
        );
    }
}

fn date(path: &str, date: Option<&str>, found: &mut Findings) {
    if let Some(date) = date
        && !is_date(date)
    {
        let message = format!("\"{date}\" is no date");
        found.error(
            "bad-date",
            path,
            message,
            "Write it as 2025-03-14, 2025-03 or 2025 (ISO 8601).",
        );
    }
}

/// ISO 8601-1:2019 sections 5.2.2.1 and 5.2.2.3: `YYYY-MM-DD`, `YYYY-MM`,
/// `YYYY`, with days that exist in the Gregorian calendar.
fn is_date(date: &str) -> bool {
    let parts: Vec<&str> = date.split('-').collect();
    let number = |at: usize, digits: usize| -> Option<u32> {
        let part = parts.get(at)?;
        let plain = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| part.parse().ok()).flatten()
    };
    let Some(year) = number(0, 4) else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = |month: u32| match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    let month = number(1, 2).filter(|month| (1..=12).contains(month));
    match parts.len() {
        1 => true,
        2 => month.is_some(),
        3 => month.is_some_and(|m| number(2, 2).is_some_and(|day| (1..=days(m)).contains(&day))),
        _ => false,
    }
}

/// IUPAC periodic table of the elements, 2022; symbols in order of number.
const ELEMENTS: &str = "H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu \
    Zn Ga Ge As Se Br Kr Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce Pr Nd Pm Sm \
    Eu Gd Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi Po At Rn Fr Ra Ac Th Pa U Np Pu Am \
    Cm Bk Cf Es Fm Md No Lr Rf Db Sg Bh Hs Mt Ds Rg Cn Nh Fl Mc Lv Ts Og";

fn elements(at: &str, symbols: &[String], found: &mut Findings) {
    for (i, symbol) in symbols.iter().enumerate() {
        if !ELEMENTS.split_whitespace().any(|known| known == symbol) {
            let message = format!("\"{symbol}\" is no symbol of a chemical element");
            found.error(
                "unknown-element",
                format!("{at}.elements[{i}]"),
                message,
                "Use the symbol, for example Pb.",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_follow_iso_8601_and_the_gregorian_calendar() {
        for good in ["2025", "2025-03", "2025-03-14", "2024-02-29", "2000-02-29"] {
            assert!(is_date(good), "{good}");
        }
        for bad in [
            "",
            "14.3.2025",
            "2025-13",
            "2025-00",
            "2023-02-29",
            "1900-02-29",
            "2025-3-14",
            "2025-04-31",
            "2025-03-14T10:00",
            "+025",
        ] {
            assert!(!is_date(bad), "{bad}");
        }
    }

    #[test]
    fn rights_are_addresses_or_spdx_identifiers() {
        // SPDX License List 3 identifiers, and the addresses the two bodies publish.
        for good in [
            "https://creativecommons.org/publicdomain/zero/1.0/",
            "http://rightsstatements.org/vocab/InC/1.0/",
            "CC-BY-4.0",
            "GPL-2.0+",
            "https://example.org/terms",
        ] {
            assert!(is_rights(good), "{good}");
        }
        for bad in [
            "all rights reserved",
            "https://creativecommons.org/licenses/free/",
            "http://rightsstatements.org/vocab/Mine/1.0/",
            "https://",
            "ask us",
        ] {
            assert!(!is_rights(bad), "{bad}");
        }
    }

    #[test]
    fn there_are_118_elements() {
        assert_eq!(ELEMENTS.split_whitespace().count(), 118);
    }
}
