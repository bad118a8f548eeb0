//! What the patches of a chart are: names, positions and CIELAB D50.

use std::collections::HashSet;

use ganosis_colorimetry::LabD50;

use crate::error::{ImagingError, Result};

/// One patch.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferencePatch {
    /// Its name on the chart or in the file.
    pub name: String,
    /// Its colour.
    pub lab: LabD50,
}

/// A chart: patches row by row from the top left.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The file, and the variant where the file has several.
    pub title: String,
    /// Patches in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// `columns * rows` patches.
    pub patches: Vec<ReferencePatch>,
}

/// Patches of less chroma are greys: white balance and tone are judged on them. Above the chroma of
/// any grey of the published 24-patch tables (3.1), below that of any coloured patch (common practice,
/// no source).
const GREY_CHROMA: f64 = 5.0;

impl Reference {
    /// Reads a table with a heading line and columns for `L*`, `a*`, `b*` (or `L`, `a`, `b`), and
    /// where present `name` or `patch`, and `variant` (each variant becomes a reference of its own).
    /// Lines that begin with `#` are comments. `grid` is columns × rows where the number of patches
    /// does not say it: 24 is read as 6 × 4, names such as `C7` as column and row.
    pub fn read(text: &str, file: &str, grid: Option<(usize, usize)>) -> Result<Vec<Self>> {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let headers = reader.headers().map_err(|e| no_table(file, &e))?.clone();
        let columns = Columns::find(&headers, file)?;
        let mut groups: Vec<(String, Vec<ReferencePatch>)> = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| no_table(file, &e))?;
            let patch = columns.patch(&record, file)?;
            let variant = columns.text(columns.variant, &record);
            match groups.iter_mut().find(|(name, _)| *name == variant) {
                Some((_, patches)) => patches.push(patch),
                None => groups.push((variant, vec![patch])),
            }
        }
        if groups.is_empty() {
            return Err(ImagingError::new(
                "the reference has no patches",
                file,
                "Give a table with one line a patch.",
            ));
        }
        groups
            .into_iter()
            .map(|(variant, patches)| Self::arrange(file, &variant, patches, grid))
            .collect()
    }

    fn arrange(
        file: &str,
        variant: &str,
        patches: Vec<ReferencePatch>,
        grid: Option<(usize, usize)>,
    ) -> Result<Self> {
        let title = match variant {
            "" => file.to_owned(),
            variant => format!("{file}, {variant}"),
        };
        check_range(&patches, &title)?;
        check_names(&patches, &title)?;
        let count = patches.len();
        if grid.is_none()
            && let Some((columns, rows, patches)) = by_coordinates(&patches)
        {
            return Ok(Self {
                title,
                columns,
                rows,
                patches,
            });
        }
        let (columns, rows) = match grid {
            Some(grid) => grid,
            // The common 24-patch chart: 6 columns, 4 rows (ISO 17321-1 lists it in this order).
            None if count == 24 => (6, 4),
            None => (0, 0),
        };
        if columns * rows != count {
            return Err(ImagingError::new(
                format!("the reference has {count} patches, which is not the chart expected"),
                title,
                "A 24-patch chart has 24 lines; for another grid say its columns and rows, e.g. \
                 --grid 14x10.",
            ));
        }
        Ok(Self {
            title,
            columns,
            rows,
            patches,
        })
    }

    /// Indices of the grey patches, lightest first.
    pub fn greys(&self) -> Vec<usize> {
        let mut greys: Vec<usize> = (0..self.patches.len())
            .filter(|&i| self.patches[i].lab.to_lch().c < GREY_CHROMA)
            .collect();
        greys.sort_by(|&a, &b| self.patches[b].lab.l.total_cmp(&self.patches[a].lab.l));
        greys
    }

    /// The colours, in the order of the patches.
    pub fn labs(&self) -> Vec<LabD50> {
        self.patches.iter().map(|p| p.lab).collect()
    }
}

fn no_table(file: &str, error: &csv::Error) -> ImagingError {
    let line = error.position().map_or(1, csv::Position::line);
    ImagingError::new(
        format!("the reference is no table: {error}"),
        format!("{file}, line {line}"),
        "Give a CSV file with a heading line and as many fields in every line.",
    )
}

/// Where the fields are.
struct Columns {
    lab: [usize; 3],
    name: Option<usize>,
    variant: Option<usize>,
}

impl Columns {
    fn find(headers: &csv::StringRecord, file: &str) -> Result<Self> {
        let at = |names: &[&str]| headers.iter().position(|h| names.contains(&h));
        let lab = [
            at(&["L*", "L", "lab_l", "l"]),
            at(&["a*", "a", "lab_a"]),
            at(&["b*", "b", "lab_b"]),
        ];
        let [Some(l), Some(a), Some(b)] = lab else {
            let have = headers.iter().collect::<Vec<_>>().join(", ");
            return Err(ImagingError::new(
                format!("the reference has no CIELAB columns; it has: {have}"),
                format!("{file}, heading"),
                "Name the columns L*, a* and b* (D50, 2° observer).",
            ));
        };
        Ok(Self {
            lab: [l, a, b],
            name: at(&["name"]).or_else(|| at(&["patch"])),
            variant: at(&["variant"]),
        })
    }

    fn text(&self, column: Option<usize>, record: &csv::StringRecord) -> String {
        column
            .and_then(|c| record.get(c))
            .unwrap_or_default()
            .to_owned()
    }

    fn patch(&self, record: &csv::StringRecord, file: &str) -> Result<ReferencePatch> {
        let line = record.position().map_or(0, csv::Position::line);
        let name = self.text(self.name, record);
        let mut lab = [0.0; 3];
        for (value, (&column, field)) in lab.iter_mut().zip(self.lab.iter().zip(["L*", "a*", "b*"]))
        {
            let text = record.get(column).unwrap_or_default();
            *value = match text.parse::<f64>() {
                Ok(number) if number.is_finite() => number,
                _ => {
                    return Err(ImagingError::new(
                        format!("{field} of patch “{name}” is “{text}”, which is no finite number"),
                        format!("{file}, line {line}"),
                        "Write the measured value with a decimal point.",
                    ));
                }
            };
        }
        let lab = LabD50::from_array(lab);
        Ok(ReferencePatch { name, lab })
    }
}

fn check_range(patches: &[ReferencePatch], title: &str) -> Result<()> {
    // A real surface may exceed L* 100 a little where it fluoresces; a* and b* of surfaces stay
    // within ±130 (spectral locus at usual lightness; common practice, no source).
    for patch in patches {
        let LabD50 { l, a, b } = patch.lab;
        if !(-0.5..=110.0).contains(&l) || a.abs() > 130.0 || b.abs() > 130.0 {
            return Err(ImagingError::new(
                format!(
                    "patch “{}” is L* {l}, a* {a}, b* {b}, which no surface is",
                    patch.name
                ),
                title,
                "Check that the columns are CIELAB D50 and not XYZ or percent.",
            ));
        }
    }
    if patches.len() > 1 && patches.iter().all(|p| p.lab.l <= 1.0) {
        return Err(ImagingError::new(
            "no patch is lighter than L* 1: the values look like fractions",
            title,
            "Write L* on its scale of 0 to 100.",
        ));
    }
    Ok(())
}

/// A patch that is there twice is a line copied once too often.
fn check_names(patches: &[ReferencePatch], title: &str) -> Result<()> {
    let mut seen = HashSet::new();
    let mut names = patches.iter().map(|p| p.name.as_str());
    match names.find(|name| !name.is_empty() && !seen.insert(*name)) {
        None => Ok(()),
        Some(twice) => Err(ImagingError::new(
            format!("two patches are called “{twice}”"),
            title,
            "Write one line for each patch of the chart, each with a name of its own or none.",
        )),
    }
}

/// Orders patches named by column letter and row number; `None` where the names are others or the
/// grid has gaps.
fn by_coordinates(patches: &[ReferencePatch]) -> Option<(usize, usize, Vec<ReferencePatch>)> {
    let mut placed = Vec::with_capacity(patches.len());
    for patch in patches {
        let mut chars = patch.name.chars();
        let column = chars.next().filter(char::is_ascii_uppercase)? as usize - 'A' as usize;
        let row: usize = chars.as_str().parse().ok()?;
        placed.push((row.checked_sub(1)?, column, patch.clone()));
    }
    placed.sort_by_key(|&(row, column, _)| (row, column));
    let columns = placed.iter().map(|p| p.1).max()? + 1;
    let rows = placed.last()?.0 + 1;
    let whole = columns * rows == placed.len()
        && placed
            .iter()
            .enumerate()
            .all(|(i, p)| (p.0, p.1) == (i / columns, i % columns));
    whole.then(|| (columns, rows, placed.into_iter().map(|p| p.2).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "# made up\npatch,name,L*,a*,b*\n";

    #[test]
    fn names_of_column_and_row_give_the_grid() {
        let text = "patch,L,a,b\nA1,1,0,0\nB1,2,0,0\nC1,3,0,0\nA2,4,0,0\nB2,5,0,0\nC2,60,0,0\n";
        let read = Reference::read(text, "x.csv", None).unwrap();
        assert_eq!((read[0].columns, read[0].rows), (3, 2));
        assert_eq!(read[0].patches[5].name, "C2");
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let nan = format!("{HEAD}1,grey,50,0,0\n2,red,NaN,10,10\n");
        let error = Reference::read(&nan, "x.csv", None).unwrap_err();
        assert!(
            error.what.contains("NaN") && error.place.contains("line 4"),
            "{error}"
        );
        let few = format!("{HEAD}1,grey,50,0,0\n");
        let error = Reference::read(&few, "x.csv", None).unwrap_err();
        assert!(error.what.contains("has 1 patches"), "{error}");
        let fractions = format!("{HEAD}1,grey,0.5,0,0\n2,white,0.9,0,0\n");
        let error = Reference::read(&fractions, "x.csv", Some((2, 1))).unwrap_err();
        assert!(error.what.contains("fractions"), "{error}");
        let error = Reference::read("patch,X,Y,Z\n1,0,0,0\n", "x.csv", None).unwrap_err();
        assert!(error.what.contains("X, Y, Z"), "{error}");
        let error = Reference::read(&format!("{HEAD}1,red,50,300,0\n"), "x.csv", Some((1, 1)));
        assert!(error.unwrap_err().what.contains("no surface"));
        let twice = format!("{HEAD}1,red,50,30,0\n2,red,60,30,0\n");
        let error = Reference::read(&twice, "x.csv", Some((2, 1))).unwrap_err();
        assert!(error.what.contains("called “red”"), "{error}");
    }
}
