//! Table, JSON and CSV.

use std::io::{self, IsTerminal, Write};

use ganosis_colorimetry::Observer;
use ganosis_colorimetry::css::{CssColour, CssSpace};
use serde_json::{Value, json};

use super::compute::{Result, Row};

/// Whether the terminal says that it draws 24-bit colours.
fn draws_colours() -> bool {
    let says = std::env::var("COLORTERM").is_ok_and(|v| v == "truecolor" || v == "24bit");
    says && io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none()
}

fn written(row: &Row, to: CssSpace) -> String {
    let colour = CssColour::opaque(to, row.components);
    match to {
        CssSpace::Srgb => {
            let code = row.components.map(|v| (v * 255.0).round() / 255.0);
            CssColour::opaque(CssSpace::Rgb, code).to_string()
        }
        CssSpace::Lab | CssSpace::Lch => format!("{colour:.2}"),
        _ => format!("{colour:.4}"),
    }
}

fn has_gamut(to: CssSpace) -> bool {
    to.is_predefined() && !matches!(to, CssSpace::XyzD50 | CssSpace::XyzD65)
}

fn degrees(observer: Observer) -> u8 {
    match observer {
        Observer::TwoDegree => 2,
        Observer::TenDegree => 10,
    }
}

/// For people.
pub(super) fn table(result: &Result) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if let Some(light) = result.light {
        writeln!(out, "light: {}\n", light.facts)?;
    }
    let (headings, cells) = cells(result);
    let width = |column: usize| {
        let rows = cells.iter().map(|row| row[column].chars().count());
        rows.chain([headings[column].chars().count()]).max()
    };
    let widths: Vec<usize> = (0..headings.len()).map(|c| width(c).unwrap_or(0)).collect();
    let draws = draws_colours();
    let print = |out: &mut io::StdoutLock, row: &[String], swatch: Option<[u8; 3]>| {
        match swatch {
            Some([r, g, b]) if draws => write!(out, "\x1b[48;2;{r};{g};{b}m    \x1b[0m  ")?,
            _ if draws => write!(out, "      ")?,
            _ => {}
        }
        let mut line = String::new();
        for (i, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let pad = " ".repeat(width - cell.chars().count());
            // Texts to the left, numbers to the right.
            let text = i == 0 || headings[i] == "encoded" || headings[i] == "gamut";
            let cell = if text {
                format!("{cell}{pad}")
            } else {
                format!("{pad}{cell}")
            };
            line.push_str(&cell);
            line.push_str("  ");
        }
        writeln!(out, "{}", line.trim_end())
    };
    print(&mut out, &headings, None)?;
    for (row, cells) in result.rows.iter().zip(&cells) {
        print(&mut out, cells, Some(row.swatch))?;
    }
    for (first, second, pair) in &result.metamers {
        writeln!(
            out,
            "\nmetamers: {first} and {second} match under D50 (ΔE00 {:.2}) and differ under this light (ΔE00 {:.2})",
            pair.under_d50, pair.under_lamp
        )?;
    }
    Ok(())
}

fn cells(result: &Result) -> (Vec<String>, Vec<Vec<String>>) {
    let several = result.rows.len() > 1;
    let mut headings = vec!["colour", "L*", "a*", "b*", "C*", "h", "encoded"];
    if has_gamut(result.to) {
        headings.extend(["gamut", "shown off by"]);
    }
    if result.light.is_some() {
        headings.push("moved by light");
    }
    if several {
        headings.push("ΔE00 from first");
    }
    let row = |row: &Row| {
        let lch = row.asked.to_lch();
        let mut cells = vec![row.name.clone()];
        let numbers = [row.asked.l, row.asked.a, row.asked.b, lch.c];
        cells.extend(numbers.map(|v| format!("{:.2}", v + 0.0)));
        cells.push(format!("{:.1}", lch.h_deg));
        cells.push(written(row, result.to));
        if has_gamut(result.to) {
            cells.push(if row.outside { "outside" } else { "inside" }.to_owned());
            cells.push(format!("{:.2}", row.off));
        }
        cells.extend(row.moved_by_light.map(|v| format!("{v:.2}")));
        if several {
            cells.push(format!("{:.2}", row.from_first));
        }
        cells
    };
    let headings = headings.into_iter().map(str::to_owned).collect();
    (headings, result.rows.iter().map(row).collect())
}

fn rounded(value: f64) -> f64 {
    // Six decimals; adding zero turns -0 into 0.
    (value * 1e6).round() / 1e6 + 0.0
}

fn row_json(row: &Row, to: CssSpace) -> Value {
    let lch = row.asked.to_lch();
    let lch = [lch.l, lch.c, lch.h_deg].map(rounded);
    let lab = row.asked.to_array().map(rounded);
    let components = row.components.map(rounded);
    json!({
        "name": row.name,
        "from_spectrum": row.from_spectrum,
        "lab_d50": lab,
        "lch_d50": lch,
        "css": written(row, to),
        "components": components,
        "outside_gamut": has_gamut(to).then_some(row.outside),
        "shown_off_delta_e_2000": has_gamut(to).then_some(rounded(row.off)),
        "moved_by_light_delta_e_2000": row.moved_by_light.map(rounded),
        "from_first_delta_e_2000": rounded(row.from_first),
    })
}

/// For other programs.
pub(super) fn json(result: &Result) -> io::Result<()> {
    let metamers: Vec<Value> = (result.metamers.iter())
        .map(|(first, second, pair)| {
            json!({
                "first": first,
                "second": second,
                "under_d50_delta_e_2000": rounded(pair.under_d50),
                "under_light_delta_e_2000": rounded(pair.under_lamp),
            })
        })
        .collect();
    let value = json!({
        "to": result.to.name(),
        "observer_deg": degrees(result.observer),
        "light": result.light.map(|light| &light.facts),
        "colours": result.rows.iter().map(|row| row_json(row, result.to)).collect::<Vec<_>>(),
        "metamers": metamers,
    });
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &value)?;
    writeln!(out)
}

/// For spreadsheets.
pub(super) fn csv(result: &Result) -> io::Result<()> {
    let mut out = csv::Writer::from_writer(io::stdout().lock());
    let [one, two, three] = result.to.components();
    let component = |name: &str| format!("{}_{}", result.to.name(), name.trim_end_matches('*'));
    let heading = |name: &str| name.to_owned();
    out.write_record(
        ["name", "L", "a", "b", "C", "h_deg", "css"]
            .map(heading)
            .into_iter()
            .chain([one, two, three].map(component))
            .chain(
                [
                    "outside_gamut",
                    "shown_off_delta_e_2000",
                    "moved_by_light_delta_e_2000",
                    "from_first_delta_e_2000",
                ]
                .map(heading),
            ),
    )?;
    for row in &result.rows {
        let lch = row.asked.to_lch();
        let number = |v: f64| rounded(v).to_string();
        let mut record = vec![row.name.clone()];
        record.extend(row.asked.to_array().map(number));
        record.extend([lch.c, lch.h_deg].map(number));
        record.push(written(row, result.to));
        record.extend(row.components.map(number));
        let gamut = has_gamut(result.to);
        record.push(if gamut {
            row.outside.to_string()
        } else {
            String::new()
        });
        record.push(if gamut {
            number(row.off)
        } else {
            String::new()
        });
        record.push(row.moved_by_light.map_or_else(String::new, number));
        record.push(number(row.from_first));
        out.write_record(record)?;
    }
    out.flush()?;
    for (first, second, pair) in &result.metamers {
        eprintln!(
            "ganosis: {first} and {second} match under D50 (ΔE00 {:.2}) and differ under this light (ΔE00 {:.2})",
            pair.under_d50, pair.under_lamp
        );
    }
    Ok(())
}
