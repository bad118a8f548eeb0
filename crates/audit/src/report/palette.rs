//! Measured colours, and what a display shows of them.

use ganosis_colorimetry::gamut::{Shown, map_to_gamut};
use ganosis_colorimetry::{LabD50, Srgb};
use ganosis_dossier::document::PaletteEntry;

use super::Report;
use super::html::{Html, table};

/// A difference below this is not told: half of what can be seen side by side
/// (ΔE00 of about 1 is perceptible; common practice, no source).
const NOT_TOLD_DELTA_E: f64 = 0.5;

/// A field of a colour, mapped into sRGB.
pub(super) fn swatch(lab_d50: [f64; 3]) -> Html {
    let shown: Shown<Srgb> = map_to_gamut(LabD50::from_array(lab_d50));
    let [r, g, b] = shown.encoded.to_u8();
    let style = format!("background:#{r:02x}{g:02x}{b:02x}");
    Html::element("span", &[("class", "swatch"), ("style", &style)], "")
}

fn lost(lab_d50: [f64; 3]) -> String {
    let shown: Shown<Srgb> = map_to_gamut(LabD50::from_array(lab_d50));
    if shown.delta_e_2000 < NOT_TOLD_DELTA_E {
        return "as measured".to_owned();
    }
    let [l, a, b] = shown.shown.to_array();
    format!(
        "L* {l:.1}, a* {a:.1}, b* {b:.1}: ΔE00 {:.1} from the measured colour, which sRGB cannot show",
        shown.delta_e_2000
    )
}

impl<'a> Report<'a> {
    pub(super) fn palette(&self) -> Html {
        let entries = &self.index.document.palette;
        if entries.is_empty() {
            return Html::default();
        }
        let head = [
            "Colour",
            "Paint",
            "Measured, CIELAB D50/2°",
            "Shown here",
            "Readings",
            "Told by",
            "In use",
        ];
        table(&head, entries.iter().map(|entry| self.entry(entry)))
    }

    fn entry(&self, entry: &'a PaletteEntry) -> Vec<Html> {
        let mut name = self.titled(&entry.title, &entry.id);
        name.push(self.paragraphs(&entry.source));
        let lab = entry.lab_d50;
        let measured = lab.map(|[l, a, b]| format!("L* {l:.1}, a* {a:.1}, b* {b:.1}"));
        let readings = entry.readings.map(|n| match entry.spread_delta_e {
            Some(spread) => format!("{n}, spread ΔE00 {spread:.1}"),
            None => n.to_string(),
        });
        let years = match (entry.earliest_year, entry.latest_year) {
            (None, None) => self
                .index
                .known(&entry.id)
                .map(|row| format!("{} (from memory)", row.period)),
            (first, last) => {
                let year = |y: Option<i32>| y.map(|y| y.to_string()).unwrap_or_default();
                Some(format!("{}–{}", year(first), year(last)))
            }
        };
        vec![
            lab.map(swatch).unwrap_or_default(),
            name,
            Html::from(measured.unwrap_or_default()),
            Html::from(lab.map(lost).unwrap_or_default()),
            Html::from(readings.unwrap_or_default()),
            Html::from(entry.elements.join(", ")),
            Html::from(years.unwrap_or_default()),
        ]
    }
}
