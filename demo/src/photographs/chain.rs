//! The way from the photographs to layers, as commands.

use super::Plan;
use super::scene::RESTORED;
use super::shot::BOARD;
use std::fmt::Write;

/// Stands for the folder of the dossier in a command.
pub(crate) const DOSSIER: &str = "DOSSIER";

/// Folders that the commands write to.
pub(crate) const FOLDERS: [&str; 4] = ["made/colour", "made/poses", "made/uvl", "made/irr"];

/// A title in the languages of the demonstration.
type Titles = [(&'static str, &'static str); 4];

const COLOUR: Titles = [
    ("en", "Photographed"),
    ("de", "Fotografiert"),
    ("es", "Fotografiado"),
    ("ar", "كما صُوِّر فوتوغرافياً"),
];
const UVL: Titles = [
    ("en", "Ultraviolet-induced luminescence, photographed"),
    ("de", "UV-induzierte Lumineszenz, fotografiert"),
    (
        "es",
        "Luminiscencia inducida por ultravioleta, fotografiada",
    ),
    ("ar", "اللمعان المحفَّز بالأشعة فوق البنفسجية، مصوَّر فوتوغرافياً"),
];
const IRR: Titles = [
    ("en", "Infrared reflectance, photographed"),
    ("de", "Infrarotreflexion, fotografiert"),
    ("es", "Reflectancia infrarroja, fotografiada"),
    ("ar", "الانعكاس تحت الأحمر، مصوَّر فوتوغرافياً"),
];
const IRFC: Titles = [
    ("en", "Infrared false colour, photographed"),
    ("de", "Infrarot-Falschfarben, fotografiert"),
    ("es", "Falso color infrarrojo, fotografiado"),
    ("ar", "ألوان زائفة تحت حمراء، مصوَّرة فوتوغرافياً"),
];

/// Titles as an option of a command, in quotes as a shell takes them.
fn titled(titles: Titles) -> String {
    titles
        .map(|(tag, title)| format!("--title {tag}='{title}'"))
        .join(" ")
}

/// One command a line, to be run in the folder of the photographs; titles stand in quotes.
pub(crate) fn commands(plan: &Plan, size_px: usize) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |command: String| {
        let _ = writeln!(text, "ganosis {command}");
    };
    let field = "--flat photographs/c-flat.png --dark photographs/c-dark.png --encoding linear";
    line(format!(
        "chart photographs/c-chart.png --reference chart.csv {field} -o made/camera.json --report made/camera.html"
    ));
    line("bands flat.toml -o made/flat".to_owned());
    for name in plan.colour() {
        line(format!(
            "correct photographs/{name}.png --calibration made/camera.json {field} -o made/colour/{name}.tif"
        ));
    }
    for name in plan.grey() {
        for band in ["uvl", "irr"] {
            line(format!(
                "register made/flat/{name}-{band}/1.png --to made/flat/{name}-vis/1.png --kind similarity --encoding linear -o made/{band}/{name}-vis.tif"
            ));
        }
    }
    let (mut colour, mut grey) = (Vec::new(), Vec::new());
    for (names, lens, poses) in [
        (plan.colour(), "c", &mut colour),
        (
            plan.grey().map(|n| format!("{n}-vis")).collect(),
            "g",
            &mut grey,
        ),
    ] {
        for name in names {
            line(format!(
                "pose photographs/{name}.png --surface {DOSSIER}/surface.glb --points points/{name}.csv --lens lenses/{lens}.json -o made/poses/{name}.json"
            ));
            poses.push(format!("made/poses/{name}.json"));
        }
    }
    let drape = |poses: &[String], photos: &str, id: &str, rest: &str| {
        format!(
            "drape --dossier {DOSSIER} --poses {} --photos made/{photos} --id {id} {rest} --size {size_px} --leave-out {RESTORED}",
            poses.join(" ")
        )
    };
    line(drape(
        &colour,
        "colour",
        "photographed",
        &format!("{} --state as-photographed", titled(COLOUR)),
    ));
    for (band, name, titles) in [("uvl", "UVL", UVL), ("irr", "IRR", IRR)] {
        let rest = format!("{} --band {name} --encoding linear", titled(titles));
        line(drape(&grey, band, &format!("photographed-{band}"), &rest));
    }
    line(format!("bands irfc.toml --dossier {DOSSIER}"));
    text
}

/// Flat field of the grey camera's photographs; those of reflected light in percent, by the white board.
pub(crate) fn flat_recipe(plan: &Plan, [width_px, height_px]: [usize; 2]) -> String {
    let mut text = String::from("title = \"Flat field of the grey camera\"\n\n[inputs]\n");
    let mut steps = String::from(
        "\n[[step]]\nmake = \"board\"\ndo = \"flat-field\"\nof = \"g-flat\"\nflat = \"g-flat\"\ndark = \"g-dark\"\n",
    );
    // A twentieth of the picture's height to each side of its middle: many pixels, evenly lit.
    let (x, y, reach) = (width_px / 2, height_px / 2, height_px / 20);
    let at_px = [x - reach, y - reach, x + reach, y + reach];
    for name in ["g-flat".to_owned(), "g-dark".to_owned()] {
        let _ = writeln!(
            text,
            "{name} = {{ file = \"photographs/{name}.png\", encoding = \"linear\" }}"
        );
    }
    for name in plan.grey() {
        for band in ["vis", "uvl", "irr"] {
            let of = format!("{name}-{band}");
            let is_luminescence = band == "uvl";
            let said = if is_luminescence {
                ", band = \"UVL\""
            } else {
                ""
            };
            let _ = writeln!(
                text,
                "{of} = {{ file = \"photographs/{of}.png\", encoding = \"linear\"{said} }}"
            );
            let _ = write!(
                steps,
                "\n[[step]]\nmake = \"even-{of}\"\ndo = \"flat-field\"\nof = \"{of}\"\nflat = \"g-flat\"\ndark = \"g-dark\"\n"
            );
            // What luminesces has no reflectance, and stays relative.
            let (kept, whole) = if is_luminescence {
                ("even", 1.0)
            } else {
                let _ = write!(
                    steps,
                    "\n[[step]]\nmake = \"percent-{of}\"\ndo = \"reflectance\"\nof = \"even-{of}\"\nstandards_in = \"board\"\n\
                     standards = [{{ at_px = {at_px:?}, percent = {:.1} }}]\n",
                    100.0 * BOARD
                );
                ("percent", 100.0)
            };
            let _ = write!(
                steps,
                "\n[[output]]\nof = \"{kept}-{of}\"\nid = \"{of}\"\nrange = [0.0, {whole:.1}]\n"
            );
        }
    }
    text + &steps
}

/// Infrared false colour of the draped layers, in percent of a perfect white: by the chart, and by the board.
pub(crate) fn irfc_recipe() -> String {
    let titles = IRFC.map(|(tag, title)| format!("{tag} = \"{title}\""));
    format!(
        "{IRFC_RECIPE}title = {{ {} }}\nstate = \"false-colour-photographed\"\n",
        titles.join(", ")
    )
}

const IRFC_RECIPE: &str = r#"title = "Infrared false colour of the photographs"

[inputs]
colour = { layer = "photographed", unit = "%" }
infrared = { layer = "photographed-irr" }

[[step]]
make = "irfc"
do = "irfc"
infrared = "infrared"
red = "colour.red"
green = "colour.green"

[[output]]
of = "irfc"
id = "photographed-irfc"
"#;
