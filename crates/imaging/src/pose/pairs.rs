//! Points seen in a photograph and known on the surface, and their table.

use serde::{Deserialize, Serialize};

use super::table::rows;
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

/// The columns of the table, besides `name`.
pub const COLUMNS: [&str; 5] = ["x_px", "y_px", "x_m", "y_m", "z_m"];

/// Pixels nearer to one another than this are one point.
const SAME_PIXEL: f64 = 1e-6;

/// Reads a table of pairs with a head of `name` and [`COLUMNS`] in any order; other columns are passed
/// over, lines that begin with # are comments.
///
/// # Errors
/// A column is missing, a value is no finite number, or a name or place stands there twice.
pub fn read_pairs(text: &str, file: &str) -> Result<Vec<Pair>> {
    let mut pairs: Vec<Pair> = Vec::new();
    for row in rows(text, file, COLUMNS)? {
        let [x, y, x_m, y_m, z_m] = row.numbers;
        let pair = Pair {
            name: row.name,
            pixel: [x, y],
            surface_m: [x_m, y_m, z_m],
        };
        if let Some(twin) = pairs.iter().find(|other| is_twin(other, &pair)) {
            return Err(ImagingError::new(
                format!("“{}” and “{}” are the same point", twin.name, pair.name),
                row.place,
                "Keep one row for each point, each with its own name.",
            ));
        }
        pairs.push(pair);
    }
    Ok(pairs)
}

/// The table of pairs, as [`read_pairs`] reads it.
pub fn write_pairs(pairs: &[Pair]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Into memory it cannot fail, and what it writes is UTF-8.
    let _ = writer.write_record(["name"].iter().chain(&COLUMNS));
    for pair in pairs {
        let numbers = pair.pixel.iter().chain(&pair.surface_m);
        let numbers = numbers.map(f64::to_string);
        let _ = writer.write_record([pair.name.clone()].into_iter().chain(numbers));
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
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
    fn what_is_written_is_read() {
        let pair = |name: &str, x: f64| Pair {
            name: name.to_owned(),
            pixel: [x, 0.1 + x],
            surface_m: [x / 3.0, -1e-9, 2.0 * x],
        };
        let pairs = vec![
            pair("eye, left", 1.25),
            pair("\u{201c}bill\u{201d}", 7.0 / 3.0),
        ];
        assert_eq!(read_pairs(&write_pairs(&pairs), "p.csv"), Ok(pairs));
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
