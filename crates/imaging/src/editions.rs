//! The published tables of the common 24-patch chart, for photographs whose chart is not measured.

use crate::error::Result;
use crate::reference::Reference;

/// Name of the built-in table, as it stands in records.
pub const FILE: &str = "chart24_editions.csv (built in)";

/// The table itself; its comment lines name the source.
pub const TABLE: &str = include_str!("../data/chart24_editions.csv");

/// Every edition.
///
/// # Errors
/// None for the table built in; a test holds that.
pub fn editions() -> Result<Vec<Reference>> {
    let mut all = Reference::read(TABLE, FILE, None)?;
    for one in &mut all {
        // “FILE, edition 2005”: the edition alone is the name.
        if let Some((_, edition)) = one.title.split_once(", ") {
            one.title = edition.to_owned();
        }
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_editions_of_24_patches_with_their_greys() {
        let all = editions().unwrap();
        let titles: Vec<&str> = all.iter().map(|e| e.title.as_str()).collect();
        assert_eq!(
            titles,
            [
                "edition 2005",
                "edition before November 2014",
                "edition from November 2014"
            ]
        );
        for one in &all {
            assert_eq!((one.columns, one.rows), (6, 4));
            // The last row is the grey scale, white first (ISO 17321-1 lists it so).
            assert_eq!(one.greys(), [18, 19, 20, 21, 22, 23]);
        }
    }
}
