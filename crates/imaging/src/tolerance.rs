//! Named tolerance sets, kept as data with their sources.

use serde::{Deserialize, Serialize};

use crate::chart::Assessment;

/// The table; its comment lines say what the columns mean.
const TABLE: &str = include_str!("../data/tolerances.csv");

/// One limit, as in the table.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Limit {
    /// Who set it.
    pub scheme: String,
    /// Edition.
    pub version: String,
    /// Kind of originals.
    pub category: String,
    /// Level.
    pub level: String,
    /// What is limited.
    pub quantity: String,
    /// `<`, `<=`, or `>` for a level that takes what fails the others.
    pub comparator: String,
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// How the number is known: `primary`, `secondary` or `memory`.
    pub status: String,
    /// Where from.
    pub source: String,
    /// Remarks.
    pub note: String,
}

/// A measured quantity held against one scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judgement {
    /// Scheme and edition.
    pub scheme: String,
    /// Kind of originals.
    pub category: String,
    /// What is limited.
    pub quantity: String,
    /// Its unit.
    pub unit: String,
    /// The measured value, of the fit.
    pub value: f64,
    /// The best level met; none where all are missed.
    pub level: Option<String>,
    /// The limit of that level, or of the last level where all are missed, e.g. `< 2`.
    pub limit: String,
    /// The level that patches left out in turn would meet, where the quantity has it.
    pub left_out_level: Option<String>,
    /// How the numbers are known: `primary`, `secondary` or `memory`.
    pub status: String,
    /// Where from.
    pub source: String,
    /// What to bear in mind.
    pub note: String,
}

/// Every limit of the table.
pub fn limits() -> Vec<Limit> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(TABLE.as_bytes());
    // A test holds that every row parses.
    reader.deserialize().filter_map(Result::ok).collect()
}

/// Names of the sets: scheme and edition, each once.
pub fn sets() -> Vec<String> {
    let mut names = Vec::new();
    for limit in limits() {
        let name = format!("{} {}", limit.scheme, limit.version);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// What a row of the table asks for.
struct Measured {
    value: f64,
    left_out: Option<f64>,
    note: &'static str,
}

/// Holds an assessment against every scheme that limits something measured. `flat_percent` is the
/// unevenness of the flat field where there was one.
pub fn judge(assessment: &Assessment, flat_percent: Option<f64>) -> Vec<Judgement> {
    let mut groups: Vec<Vec<Limit>> = Vec::new();
    for limit in limits() {
        let same = |g: &&mut Vec<Limit>| {
            let first = &g[0];
            (
                &first.scheme,
                &first.version,
                &first.category,
                &first.quantity,
            ) == (
                &limit.scheme,
                &limit.version,
                &limit.category,
                &limit.quantity,
            )
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(limit),
            None => groups.push(vec![limit]),
        }
    }
    groups
        .iter()
        .filter_map(|group| {
            let measured = measured(&group[0], assessment, flat_percent)?;
            Some(judgement(group, &measured))
        })
        .collect()
}

fn judgement(group: &[Limit], measured: &Measured) -> Judgement {
    let first = &group[0];
    let met = best_met(group, measured.value);
    let shown = met.or_else(|| group.iter().min_by_key(|l| rank(&l.level)));
    let note = [measured.note, shown.map_or("", |l| l.note.as_str())];
    let note: Vec<&str> = note.into_iter().filter(|n| !n.is_empty()).collect();
    Judgement {
        scheme: format!("{} {}", first.scheme, first.version),
        category: first.category.clone(),
        quantity: first.quantity.clone(),
        unit: first.unit.clone(),
        value: measured.value,
        level: met.map(|l| l.level.clone()),
        limit: shown.map_or(String::new(), |l| format!("{} {}", l.comparator, l.value)),
        left_out_level: measured
            .left_out
            .map(|v| best_met(group, v).map_or("none".to_owned(), |l| l.level.clone())),
        status: first.status.clone(),
        source: first.source.clone(),
        note: note.join("; "),
    }
}

/// Higher is stricter.
fn rank(level: &str) -> u8 {
    match level {
        "4 star" | "level A" | "Full (Strict)" => 4,
        "3 star" | "level B" | "Light" => 3,
        "2 star" | "level C" | "Extra Light" => 2,
        _ => 1,
    }
}

fn best_met(group: &[Limit], value: f64) -> Option<&Limit> {
    group
        .iter()
        .filter(|l| match l.comparator.as_str() {
            "<" => value < l.value,
            "<=" => value <= l.value,
            // The lowest level, which takes what fails the others.
            _ => true,
        })
        .max_by_key(|l| rank(&l.level))
}

/// Schemes differ in formula, so the unit decides what is compared.
fn measured(limit: &Limit, a: &Assessment, flat_percent: Option<f64>) -> Option<Measured> {
    let plain = |value: f64| {
        Some(Measured {
            value,
            left_out: None,
            note: "",
        })
    };
    let quantity = limit.quantity.as_str();
    if quantity.starts_with("white balance") {
        return match limit.unit.as_str() {
            "dE(ab)" => plain(a.worst_grey(|g| g.delta_e_00_without_l)?),
            _ => plain(a.worst_grey(|g| g.delta_ab)?),
        };
    }
    if quantity.starts_with("tone") {
        return plain(a.worst_grey(|g| g.delta_l.abs())?);
    }
    if quantity.contains("non-uniformity") {
        return evenness(limit, a, flat_percent);
    }
    if quantity.starts_with("colour accuracy") || quantity.starts_with("colour reproduction") {
        return colour(limit, a);
    }
    None
}

fn evenness(limit: &Limit, a: &Assessment, flat_percent: Option<f64>) -> Option<Measured> {
    let light = a.evenness?;
    match limit.unit.as_str() {
        "%" => Some(Measured {
            value: flat_percent.unwrap_or(light.non_uniformity_percent),
            left_out: None,
            note: match flat_percent {
                Some(_) => "of the flat field",
                None => "estimated from the patches, over the chart only",
            },
        }),
        // A chart says nothing about a larger field.
        _ if limit.quantity.ends_with("up to DIN A3") => Some(Measured {
            value: light.delta_l,
            left_out: None,
            note: "estimated from the patches, over the chart only, at L* 50",
        }),
        _ => None,
    }
}

fn colour(limit: &Limit, a: &Assessment) -> Option<Measured> {
    let (summary, note) = match limit.unit.as_str() {
        "dE00" => (a.fit, ""),
        "dE76" => (a.delta_e_ab, ""),
        "dE00 with SL = 1" => (a.delta_e_00_unit_sl, ""),
        "dE" => (
            a.delta_e_00_unit_sl,
            "the source does not name the formula; ΔE00 with S_L = 1 is used (from memory)",
        ),
        _ => return None,
    };
    let pick: fn(&crate::chart::Summary) -> f64 = if limit.quantity.contains("mean") {
        |s| s.mean
    } else if limit.quantity.contains("maximum") {
        |s| s.max
    } else if limit.quantity.contains("90th") {
        |s| s.p90
    } else {
        return None;
    };
    Some(Measured {
        value: pick(&summary),
        left_out: (limit.unit == "dE00").then(|| pick(&a.left_out)),
        note,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_of_the_table_parses_and_has_source_and_status() {
        let rows = TABLE.lines().filter(|l| !l.starts_with('#')).count() - 1;
        let limits = limits();
        assert_eq!(limits.len(), rows);
        for limit in limits {
            assert!(!limit.source.is_empty(), "{limit:?}");
            assert!(["primary", "secondary", "memory"].contains(&limit.status.as_str()));
            assert!(
                ["<", "<=", ">"].contains(&limit.comparator.as_str()),
                "{limit:?}"
            );
        }
    }

    #[test]
    fn equal_limits_give_the_stricter_level_and_the_open_level_takes_the_rest() {
        let of = |scheme: &str, version: &str, quantity: &str| -> Vec<Limit> {
            limits()
                .into_iter()
                .filter(|l| {
                    l.scheme == scheme && l.version == version && l.quantity.starts_with(quantity)
                })
                .collect()
        };
        let tone = of("FADGI", "2016", "tone");
        assert_eq!(best_met(&tone, 7.0).unwrap().level, "2 star");
        assert!(best_met(&tone, 8.5).is_none());
        let light = of("FADGI", "2016", "illuminance");
        assert_eq!(best_met(&light, 30.0).unwrap().level, "1 star");
        let colour = of("ISO 19264-1", "2021", "colour reproduction, mean");
        assert_eq!(best_met(&colour, 4.5).unwrap().level, "level B");
    }
}
