//! Cover, layers, cautions, credits, methods.

use std::collections::BTreeMap;

use super::html::{Html, table, terms};
use super::{Report, ids};
use crate::Severity;
use crate::measure::CM2_PER_M2;

impl<'a> Report<'a> {
    pub(super) fn cover(&self) -> Html {
        let document = self.index.document;
        let object = &document.object;
        let mut out = Html::tag("h1", self.text(&document.title));
        let lead = [&object.date, &object.material, &object.place].map(|text| self.text(text));
        let lead: Vec<&str> = lead.into_iter().filter(|text| !text.is_empty()).collect();
        out.push(Html::element("p", &[("class", "lead")], lead.join(". ")));
        if !document.notice.is_empty() {
            out.push(Html::element(
                "p",
                &[("class", "notice")],
                self.text(&document.notice),
            ));
        }
        out.push(self.paragraphs(&document.description));
        let years = match (object.earliest_year, object.latest_year) {
            (None, None) => String::new(),
            (Some(a), Some(b)) => format!("{a} to {b}"),
            (Some(a), None) => format!("from {a}"),
            (None, Some(b)) => format!("until {b}"),
        };
        let measured = self.audit.measures.total_m2;
        out.push(terms([
            (
                "Inventory number",
                Html::text(self.text(&object.identifier)),
            ),
            ("Years of making", Html::from(years)),
            ("Dimensions", Html::text(self.text(&object.dimensions))),
            (
                "Surface of the mesh",
                super::area(measured.map(|m2| m2 * CM2_PER_M2)),
            ),
            (
                "Dossier",
                Html::from(format!("{}, revision {}", document.id, document.revision)),
            ),
        ]));
        out
    }

    pub(super) fn layers(&self) -> Html {
        self.index
            .document
            .layers
            .iter()
            .map(|layer| {
                let mut out = Html::tag("h3", self.titled(&layer.title, &layer.id));
                out.push(self.paragraphs(&layer.description));
                let range = layer.range.map(|[low, high]| {
                    format!(
                        "{low} to {high} {}",
                        layer.unit.as_deref().unwrap_or_default()
                    )
                });
                let waves = layer
                    .wavelength_nm
                    .map(|[low, high]| format!("{low} to {high} nm"));
                let origin = layer.origin.as_ref();
                let parameters = origin.map(|origin| {
                    let parts = origin.parameters.iter().map(|(k, v)| format!("{k}: {v}"));
                    parts.collect::<Vec<_>>().join("; ")
                });
                let inputs: Option<Html> = origin.map(|origin| {
                    let inputs = origin.inputs.iter();
                    inputs
                        .map(|i| Html::tag("p", format!("{} {}", i.file, i.sha256)))
                        .collect()
                });
                let calibration = origin
                    .and_then(|origin| origin.calibration.as_ref())
                    .map(|c| {
                        let mean = c.mean_delta_e.map(|x| format!("mean ΔE00 {x:.2}"));
                        let most = c.largest_delta_e.map(|x| format!("largest ΔE00 {x:.2}"));
                        let words = [self.text(&c.chart), self.text(&c.method)].map(str::to_owned);
                        let all = words.into_iter().filter(|w| !w.is_empty());
                        all.chain(mean).chain(most).collect::<Vec<_>>().join("; ")
                    });
                out.push(terms([
                    ("Kind", Html::text(layer.kind.as_str())),
                    ("Band", Html::from(layer.band.clone().unwrap_or_default())),
                    ("Values", Html::from(range.unwrap_or_default())),
                    ("Wavelengths", Html::from(waves.unwrap_or_default())),
                    (
                        "Made by",
                        Html::from(origin.map(|o| o.command.clone()).unwrap_or_default()),
                    ),
                    ("Parameters", Html::from(parameters.unwrap_or_default())),
                    ("From", inputs.unwrap_or_default()),
                    ("Camera", Html::from(calibration.unwrap_or_default())),
                ]));
                out
            })
            .collect()
    }

    /// Each caution once, with what it belongs to.
    pub(super) fn cautions(&self) -> Html {
        let document = self.index.document;
        let layers = document.layers.iter().map(|l| (&l.caution, &l.id));
        let palette = document.palette.iter().map(|p| (&p.caution, &p.id));
        let evidence = document.evidence.iter().map(|e| (&e.caution, &e.id));
        let mut all: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        for (caution, id) in layers.chain(palette).chain(evidence) {
            let caution = self.text(caution);
            if !caution.is_empty() {
                all.entry(caution).or_default().push(id.clone());
            }
        }
        if document.palette.iter().any(|p| {
            self.index
                .known(&p.id)
                .is_some_and(|k| !k.caution.is_empty())
        }) {
            let known = document.palette.iter().filter_map(|p| {
                let row = self.index.known(&p.id)?;
                (p.caution.is_empty() && !row.caution.is_empty())
                    .then_some((row.caution.as_str(), &p.id))
            });
            for (caution, id) in known {
                all.entry(caution).or_default().push(id.clone());
            }
        }
        if all.is_empty() {
            return Html::default();
        }
        let defer = "Local codes, the conservator in charge and licensed operators decide what may be done.";
        let mut out = Html::element("p", &[("class", "caution")], defer);
        let rows = all
            .iter()
            .map(|(caution, about)| vec![Html::text(caution), ids(about)]);
        out.push(table(&["Caution", "Concerns"], rows));
        out
    }

    pub(super) fn credits(&self) -> Html {
        let document = self.index.document;
        let people = document.people.iter().map(|person| {
            vec![
                Html::text(self.text(&person.name)),
                Html::text(self.text(&person.role)),
            ]
        });
        let mut out = Html::default();
        if !document.people.is_empty() {
            out.push(table(&["Name", "Role"], people));
        }
        if let Some(rights) = &document.rights {
            out.push(terms([
                ("Credit", Html::text(self.text(&rights.credit))),
                ("Licence", Html::link(&rights.licence)),
            ]));
        }
        out
    }

    pub(super) fn methods(&self) -> Html {
        let mut out = Html::tag(
            "p",
            "Areas are those of the mesh, cut into pieces of about a texel; a region is what the region map says. \
             Colours are CIELAB under D50 for the 2 degree observer, differences are CIEDE2000 (ISO/CIE 11664-6). \
             The limits the audit works with:",
        );
        let limits = self.index.tables.tolerances.iter().map(|t| {
            vec![
                Html::text(&t.name),
                Html::from(format!("{} {}", t.value, t.unit)),
                Html::text(&t.what),
                Html::text(&t.source),
            ]
        });
        out.push(table(
            &["Limit", "Value", "What it limits", "Source"],
            limits,
        ));
        for what in &self.audit.not_examined {
            out.push(Html::tag("p", format!("Not examined: {}.", what.message)));
        }
        for line in self.materials.about_pictures() {
            out.push(Html::tag("p", line));
        }
        out
    }

    /// How many findings of each severity remain.
    pub(super) fn tally(&self) -> String {
        let count = |severity| {
            self.audit
                .findings
                .iter()
                .filter(|f| f.severity == severity)
                .count()
        };
        format!(
            "{} errors, {} warnings, {} notes; {} findings are set aside with a reason.",
            count(Severity::Error),
            count(Severity::Warning),
            count(Severity::Note),
            self.audit.set_aside.len()
        )
    }
}
