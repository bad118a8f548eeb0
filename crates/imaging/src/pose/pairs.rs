//! Points seen in a photograph and known on the surface, and their table.

use serde::{Deserialize, Serialize};

use crate::error::{ImagingError, Result};
use crate::geometry::Point;

/// A point seen in the photograph and known on the surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// Its name, for messages.
    pub name: String,
    /// Where it is seen, in pixels from the top left corner of the pixels as stored.
    pub pixel: Point,
    /// Where it is, in metres.
    pub surface_m: [f64; 3],
}

/// The columns of the table.
pub const COLUMNS: [&str; 6] = ["name", "x_px", "y_px", "x_m", "y_m", "z_m"];

/// More pairs than anybody marks.
const MOST: usize = 5000;

/// Pixels nearer to one another than this are one point.
const SAME_PIXEL: f64 = 1e-6;

/// Reads a table of pairs with a head of [`COLUMNS`] in any order; other columns are passed over,
/// lines that begin with # are comments.
///
/// # Errors
/// A column is missing, a value is no finite number, or a name or place stands there twice.
pub fn read_pairs(text: &str, file: &str) -> Result<Vec<Pair>> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let advice = format!("Write a CSV with the columns {}.", COLUMNS.join(","));
    let bad = |what: String, place: String| ImagingError::new(what, place, advice.clone());
    let head = reader
        .headers()
        .map_err(|e| bad(format!("the table cannot be read: {e}"), file.to_owned()))?
        .clone();
    let mut columns = [0; 6];
    for (at, name) in columns.iter_mut().zip(COLUMNS) {
        *at = head.iter().position(|c| c == name).ok_or_else(|| {
            let found: Vec<&str> = head.iter().collect();
            bad(
                format!(
                    "the table has no column {name}; it has {}",
                    found.join(", ")
                ),
                file.to_owned(),
            )
        })?;
    }
    let mut pairs: Vec<Pair> = Vec::new();
    for record in reader.records() {
        let record =
            record.map_err(|e| bad(format!("a row cannot be read: {e}"), file.to_owned()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let place = format!("{file}, line {line}");
        let field = |k: usize| record.get(columns[k]).unwrap_or_default();
        let mut numbers = [0.0; 5];
        for (k, number) in numbers.iter_mut().enumerate() {
            let text = field(k + 1);
            let read = text.parse::<f64>().ok().filter(|v| v.is_finite());
            *number = read.ok_or_else(|| {
                bad(
                    format!("{} is “{text}”, which is no number", COLUMNS[k + 1]),
                    place.clone(),
                )
            })?;
        }
        let [x, y, x_m, y_m, z_m] = numbers;
        let name = match field(0) {
            "" => (pairs.len() + 1).to_string(),
            name => name.to_owned(),
        };
        let pair = Pair {
            name,
            pixel: [x, y],
            surface_m: [x_m, y_m, z_m],
        };
        if let Some(twin) = pairs.iter().find(|other| is_twin(other, &pair)) {
            return Err(ImagingError::new(
                format!("“{}” and “{}” are the same point", twin.name, pair.name),
                place,
                "Keep one row for each point, each with its own name.",
            ));
        }
        pairs.push(pair);
        if pairs.len() > MOST {
            return Err(bad(format!("more than {MOST} pairs"), place));
        }
    }
    Ok(pairs)
}

fn is_twin(a: &Pair, b: &Pair) -> bool {
    let near = (a.pixel[0] - b.pixel[0]).hypot(a.pixel[1] - b.pixel[1]) < SAME_PIXEL;
    a.name == b.name || a.surface_m == b.surface_m || near
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_come_in_any_order_among_others() {
        let text = "# heron, left side\nx_m,y_m,z_m,name,note,x_px,y_px\n\
                    0.1,0.2,-0.3,eye,sharp,100.5,200.25\n1,2,3,,,4,5\n";
        let pairs = read_pairs(text, "p.csv").unwrap();
        assert_eq!(pairs[0].pixel, [100.5, 200.25]);
        assert_eq!(pairs[0].surface_m, [0.1, 0.2, -0.3]);
        assert_eq!(
            (pairs[0].name.as_str(), pairs[1].name.as_str()),
            ("eye", "2")
        );
    }

    #[test]
    fn what_is_wrong_with_a_table_is_said_with_its_line() {
        let head = "name,x_px,y_px,x_m,y_m,z_m\n";
        for (text, what, place) in [
            (
                "name,x,y,x_m,y_m,z_m\na,1,2,3,4,5\n".to_owned(),
                "no column x_px",
                "p.csv",
            ),
            (format!("{head}a,1,2,3,4,NaN\n"), "“NaN”", "line 2"),
            (
                format!("{head}a,1,2,3,4,5\nb,1;5,2,3,4,6\n"),
                "“1;5”",
                "line 3",
            ),
            (
                format!("{head}a,1,2,3,4,5\na,6,7,8,9,0\n"),
                "same point",
                "line 3",
            ),
            (format!("{head}a,1,2,3,4\n"), "cannot be read", "p.csv"),
        ] {
            let error = read_pairs(&text, "p.csv").unwrap_err();
            assert!(error.what.contains(what), "{error}");
            assert!(error.place.contains(place), "{error}");
        }
    }
}
