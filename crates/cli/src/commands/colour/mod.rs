//! `ganosis colour`: colours converted and compared at the prompt.

mod compute;
mod light;
mod output;
mod sources;
mod swatch_file;

use std::process::ExitCode;

use ganosis_colorimetry::css::CssSpace;

use super::printing::printed;

/// Convert and compare colours, and see them under another light
///
/// Each COLOUR is a colour in the syntax of CSS Color 4 (lab(43.5 61 45),
/// #c02b1d, color(display-p3 0.7 0.2 0.1) and so on), a CSV of swatches, or a
/// dossier, whose palette is read. lab() and lch() are CIELAB under D50 for
/// the 2 degree observer, as instruments report them.
///
/// A CSV has a header. Columns L, a, b: one CIELAB D50 colour a row. A column
/// colour: CSS syntax. A first column of wavelengths in nm: a reflectance
/// spectrum in each further column. Wavelengths in the header: one spectrum a
/// row. Reflectance is a fraction, 1 for the perfect diffuser, in even steps
/// of 1 to 20 nm. Columns may be separated by comma, semicolon or tab.
///
/// What the target cannot show is mapped into its gamut as CSS Color 4
/// describes (chroma reduced in Oklch), and the column "shown off by" says by
/// how much, in CIEDE2000. The last column is the CIEDE2000 difference from
/// the first colour.
///
/// With --light the spectra are summed again under that lamp (1 nm, 380 to
/// 780 nm, ASTM E308). A colour without a spectrum cannot be relit and is
/// refused. Pairs that match under D50 within 1 CIEDE2000 and differ by more
/// than 2 under the lamp are named.
///
/// The swatch in the terminal is a reminder, not a proof: terminals are not
/// colour managed. Exit code: 0 done, 2 something could not be read.
#[derive(clap::Args)]
#[command(
    after_help = "Examples:\n  ganosis colour \"lab(43.5 61 45)\" \"#c02b1d\"\n  ganosis colour swatches.csv --to display-p3 --light A\n  ganosis colour sallowmere/ --light LED-B3 --csv > palette.csv"
)]
pub(crate) struct Arguments {
    /// Colours in CSS syntax, CSV files, or dossiers
    #[arg(required = true, value_name = "COLOUR", allow_negative_numbers = true)]
    colours: Vec<String>,
    /// Space to convert to: srgb, display-p3, a98-rgb (opRGB), prophoto-rgb
    /// (ROMM RGB), rec2020, srgb-linear, lab, lch, oklab, oklch, xyz-d50, xyz
    #[arg(long, value_name = "SPACE", default_value = "srgb", value_parser = space)]
    to: CssSpace,
    /// Lamp to see them under: A, D50, D55, D65, LED-B1 to LED-B5, LED-BH1,
    /// LED-RGB1, LED-V1, LED-V2, FL2, FL7, FL11, E, candle, a temperature
    /// (2700K Planckian, D5600K daylight), or a CSV with a measured spectrum
    #[arg(long, value_name = "LAMP")]
    light: Option<String>,
    /// Show the lamp's own tint, as beside a D65 display, instead of taking
    /// the eye as used to the lamp (CAT16, complete)
    #[arg(long, requires = "light")]
    unadapted: bool,
    /// Observer for spectra, in degrees: 2 (CIE 1931) or 10 (CIE 1964)
    #[arg(long, value_name = "DEGREES", default_value = "2", value_parser = ["2", "10"])]
    observer: String,
    /// Print JSON, for other programs
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print CSV, for spreadsheets
    #[arg(long)]
    csv: bool,
}

fn space(name: &str) -> Result<CssSpace, String> {
    CssSpace::from_name(name)
        .map(|space| match space {
            CssSpace::Rgb => CssSpace::Srgb,
            space => space,
        })
        .ok_or_else(|| {
            "write srgb, display-p3, a98-rgb, prophoto-rgb, rec2020, srgb-linear, lab, lch, oklab, \
             oklch, xyz-d50 or xyz"
                .to_owned()
        })
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let swatches = sources::read(&arguments.colours)?;
    let light = match &arguments.light {
        Some(name) => Some(light::Light::new(name, arguments.unadapted)?),
        None => None,
    };
    let observer = match arguments.observer.as_str() {
        "10" => ganosis_colorimetry::Observer::TenDegree,
        _ => ganosis_colorimetry::Observer::TwoDegree,
    };
    let result = compute::compute(&swatches, arguments.to, light.as_ref(), observer)?;
    printed(if arguments.json {
        output::json(&result)
    } else if arguments.csv {
        output::csv(&result)
    } else {
        output::table(&result)
    })?;
    Ok(ExitCode::SUCCESS)
}
