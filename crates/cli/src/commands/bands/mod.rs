//! `ganosis bands`: arithmetic over band images.

mod areas;
mod inputs;
mod output;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Layer, Origin, State};
use ganosis_dossier::store;
use ganosis_dossier::write::{save, write_atomically};
use ganosis_imaging::bands::ULTRAVIOLET_CAUTION;
use ganosis_imaging::bands::recipe::{How, Made, Recipe, Results};
use ganosis_imaging::bands::regions::Labels;
use serde_json::{Value, json};

use super::chart_files::{self as files, trouble};
use super::correct::input;
use super::{moved, reading};
use crate::trouble::Trouble;
use areas::Areas;
use inputs::Source;

/// Where images are made, in the output folder, until all are whole.
const WORK: &str = ".bands-in-work";

/// The record of the layers where there is no dossier.
const RECORD: &str = "layers.json";

/// What a recipe may say; README.md has the same with examples.
const STEPS: &str = "\
Recipe:
  [inputs]    NAME = { file = \"photo.tif\" } or { layer = \"id\" }; with a file also
              encoding = \"linear\" or \"srgb\" where it does not say it, and band = \"UVL\";
              unit = \"%\" where 1 is a perfect white, as in colour by a chart
  [[step]]    make = \"NAME\", do = one of those below, and what it takes; an image is named by
              its name, or one band of it by name.red
  [[output]]  of = \"NAME\", id = \"id\", and if wanted title, band, range = [least, most],
              state = \"id\" (a state that shows a layer in colour)

Steps, and what they take (? may be left out; BOX is [x0, y0, x1, y1] in pixels):
  ambient                of, lamp_off        the same exposure in ambient light alone
  flat-field             of, flat, dark?     an even board, and the lens covered
  reflectance            of, standards = [{ at_px = BOX, percent = 98.9 }], standards_in?
                                             in percent; standards_in is the image that shows
                                             the standards, where it is another one
  stray                  of, reflected, at_px = [BOX, …], sensor?
                                             UVL less VIS, or VIL less IRR, as much as standards
                                             that do not luminesce show; then divided by the
                                             sensor's sensitivity, one number a band
  difference             of, less
  normalised-difference  of, less
  ratio                  of, to
  irfc                   infrared, red, green
  uvrfc                  green, blue, ultraviolet
  stack                  of = [NAMES]
  principal-components   of = [NAMES], standardised?
  spectral-angle         of = [NAMES], reference = [one value a band] or at_px = BOX
  threshold              of, least?, most?   a region, with its area
  gather                 of = [NAMES], groups, seed?   regions of like pixels
";

/// Make images from band images, by a recipe
///
/// A recipe (TOML) names photographs of one set-up or layers of a dossier, and
/// what is made of them, step by step: ambient light taken off, flat field,
/// reflectance by grey standards in percent, UVL and VIL without stray light,
/// infrared false colour, ratios, differences, principal components, angle
/// to a reference spectrum, regions by threshold or by likeness with their
/// areas (on photographs where their pose is given). Units are kept, and images of different units are not mixed. With
/// the result goes the record of how it was made.
///
/// Images under ultraviolet light: the lamps harm eyes and skin, and their
/// dose counts towards the object's. Shield, limit, record; local codes and
/// the conservator responsible decide.
///
/// Exit code: 0 done, 2 not done.
#[derive(clap::Args)]
#[command(after_long_help = STEPS)]
pub(crate) struct Arguments {
    /// The recipe
    #[arg(value_name = "RECIPE.toml")]
    recipe: PathBuf,
    /// The dossier (folder) whose layers are taken, and which gets the new ones
    #[arg(long, value_name = "FOLDER")]
    dossier: Option<PathBuf>,
    /// Folder for the images [default: layers in the dossier]
    #[arg(
        short,
        long,
        value_name = "FOLDER",
        required_unless_present = "dossier"
    )]
    output: Option<PathBuf>,
    /// Where the photographs were taken from, as "ganosis pose" writes it: then
    /// regions on them have areas, of what of the surface is seen in them
    #[arg(long, value_name = "FILE.json", requires = "surface")]
    pose: Option<PathBuf>,
    /// The surface for these areas: a .glb or .gltf file
    #[arg(long, value_name = "S.glb", requires = "pose")]
    surface: Option<PathBuf>,
    /// Node of the surface that was not there when the photographs were taken
    #[arg(long, value_name = "NODE", requires = "pose")]
    leave_out: Vec<String>,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let text = files::text(&arguments.recipe)?;
    let recipe = read(&text, &arguments.recipe)?;
    let dossier = arguments.dossier.as_deref().map(open).transpose()?;
    let of_dossier = dossier.as_ref().map(|d| d.folder.as_path());
    let folder = reading::output_folder(arguments.output.as_deref(), of_dossier, "")?;
    let work = folder.join(WORK);
    take_back_unfinished(&work, &folder, dossier.as_ref())?;
    refuse_ids(&recipe)?;
    let own = recipe.outputs.iter().map(|output| output.id.clone());
    refuse_overwriting(own.collect(), dossier.as_ref(), &folder)?;
    let mut source = Source::read(&recipe, &arguments.recipe, dossier.as_ref())?;
    let areas = Areas::read(arguments, &mut source)?;
    source.prefix = prefix(&folder, dossier.as_ref());
    let images = std::mem::take(&mut source.images);
    if images.values().any(|image| image.ultraviolet) {
        eprintln!("ganosis: caution: {ULTRAVIOLET_CAUTION}");
    }
    let results = recipe.run(images).map_err(trouble)?;
    let mut ids = Vec::new();
    for output in &recipe.outputs {
        ids.extend(output::ids(
            output,
            &*results.get(&output.of).map_err(trouble)?,
        ));
    }
    refuse_overwriting(ids.clone(), dossier.as_ref(), &folder)?;
    refuse_states(&recipe, &results, dossier.as_ref())?;
    if dossier.is_some() {
        refuse_photographs(&recipe, &results, &source)?;
    }
    let origin = origin(&text, &source, &results);
    // What an earlier run left there may be of another recipe.
    let cleared = std::fs::remove_dir_all(&work);
    if let Err(error) = cleared.or_else(|e| match e.kind() {
        std::io::ErrorKind::NotFound => Ok(()),
        _ => Err(e),
    }) {
        return Err(not_written(&work, &error));
    }
    let (mut layers, mut states) = (Vec::new(), Vec::new());
    for output in &recipe.outputs {
        let made = results.get(&output.of).map_err(trouble)?;
        let mut cm2 = None;
        if let Made::Regions(labels) = &*made {
            cm2 = areas.of_regions(labels, &source, dossier.as_ref())?;
            tell_regions(&output.id, labels, cm2.as_deref());
        }
        let cm2 = cm2.as_deref();
        let asked = (output, is_false_colour(&recipe, &output.of));
        let made = output::write(asked, &made, cm2, &source, &work, &origin)?;
        states.extend(made.first().and_then(|layer| output::state(output, layer)));
        layers.extend(made);
    }
    for (step, finding) in &results.findings {
        tell_finding(&recipe, step, finding);
    }
    put(dossier, &work, &folder, ids, (layers, states))?;
    // What cannot be taken away does no harm.
    let _ = std::fs::remove_dir_all(&work);
    Ok(ExitCode::SUCCESS)
}

/// Whether an image, or what it was corrected from, has bands in the place of colours that are none.
fn is_false_colour(recipe: &Recipe, name: &str) -> bool {
    let how = recipe.steps.iter().find(|step| step.make == name);
    !matches!(
        how.map(|step| &step.how),
        None | Some(
            How::Stray { .. }
                | How::Ambient { .. }
                | How::FlatField { .. }
                | How::Reflectance { .. }
                | How::Difference { .. }
        )
    )
}

/// Prints what a step found in words; what has none as it stands in the record.
fn tell_finding(recipe: &Recipe, step: &str, finding: &serde_json::Value) {
    if let Ok(shares) = serde_json::from_value::<Vec<f64>>(finding["stray_shares"].clone()) {
        let each = shares.iter().map(|share| format!("{:.2} %", 100.0 * share));
        println!(
            "  {step}: stray light was {} of the reflected light, band by band, and was taken off",
            each.collect::<Vec<_>>().join(", ")
        );
        return;
    }
    if let Some(lines) = finding.as_array() {
        let number = |line: &Value, name: &str| line[name].as_f64().unwrap_or_default();
        for (band, line) in lines.iter().enumerate() {
            println!(
                "  {step}, band {}: percent = {:.4} × value {:+.3}; no standard is off by more than {:.2} %",
                band + 1,
                number(line, "gain"),
                number(line, "offset_percent"),
                number(line, "largest_residual_percent")
            );
        }
        return;
    }
    let shares: Option<Vec<f64>> =
        serde_json::from_value(finding["explained_variance"].clone()).ok();
    let loadings: Option<Vec<Vec<f64>>> = serde_json::from_value(finding["loadings"].clone()).ok();
    let (Some(shares), Some(loadings)) = (shares, loadings) else {
        println!("  {step}: {finding}");
        return;
    };
    let of = recipe.steps.iter().find_map(|one| match &one.how {
        How::PrincipalComponents { of, .. } if one.make == step => Some(of.as_slice()),
        _ => None,
    });
    for (number, (share, loadings)) in shares.iter().zip(&loadings).enumerate() {
        // An image of several bands has a loading for each.
        let names = of.filter(|of| of.len() == loadings.len());
        let each = loadings.iter().enumerate().map(|(k, loading)| {
            let name = names.map_or_else(|| (k + 1).to_string(), |names| names[k].clone());
            format!("{name} {loading:+.3}")
        });
        println!(
            "  {step}, component {}: {:.1} % of the variance; loadings {}",
            number + 1,
            100.0 * share,
            each.collect::<Vec<_>>().join(", ")
        );
    }
}

/// Regions with their areas, or what is missing for that.
fn tell_regions(id: &str, labels: &Labels, cm2: Option<&[f64]>) {
    for (number, pixels) in labels.counts().into_iter().enumerate().skip(1) {
        match cm2 {
            Some(cm2) => println!("  {id} {number}: {:.2} cm²", cm2[number]),
            None => println!("  {id} {number}: {pixels} pixels"),
        }
    }
    if cm2.is_none() {
        println!(
            "  {id}: no areas, since it is not known where the photographs were taken from; give their \
             pose with --pose, and --surface"
        );
    }
}

/// A dossier that is written to.
struct Written {
    document: Dossier,
    folder: PathBuf,
    store: Box<dyn store::Store>,
}

fn open(path: &Path) -> anyhow::Result<Written> {
    let unreadable = |reason: String| {
        Trouble::error(
            format!("the dossier cannot be read: {reason}"),
            path.display(),
            "Name the folder with dossier.json.",
        )
    };
    let opened = store::open(path).map_err(|e| unreadable(e.to_string()))?;
    let document = reading::document_of(&opened).map_err(unreadable)?;
    let folder = reading::folder_to_write(path, opened.kind)?;
    Ok(Written {
        document,
        folder,
        store: opened.store,
    })
}

fn read(text: &str, path: &Path) -> anyhow::Result<Recipe> {
    let recipe: Recipe = toml::from_str(text).map_err(|e| {
        let line = e
            .span()
            .map_or(0, |span| text[..span.start].matches('\n').count() + 1);
        Trouble::error(
            format!("this is no recipe: {}", e.message()),
            format!("{}, line {line}", path.display()),
            "A recipe has [inputs], [[step]] and [[output]]; “ganosis bands --help” lists what each step takes.",
        )
    })?;
    if recipe.outputs.is_empty() {
        return Err(Trouble::error(
            "the recipe keeps nothing",
            path.display(),
            "Add [[output]] with of = \"name of a step\" and id = \"name of the layer\".",
        ));
    }
    Ok(recipe)
}

/// The output folder as a path within the dossier, with slashes.
fn prefix(folder: &Path, dossier: Option<&Written>) -> String {
    let inner = dossier.and_then(|d| folder.strip_prefix(&d.folder).ok());
    let steps = inner.into_iter().flat_map(Path::components);
    steps
        .map(|c| format!("{}/", c.as_os_str().to_string_lossy()))
        .collect()
}

fn refuse_ids(recipe: &Recipe) -> anyhow::Result<()> {
    for output in &recipe.outputs {
        let sound = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
        if output.id.is_empty() || !output.id.chars().all(sound) {
            return Err(Trouble::error(
                format!("“{}” does not do as an id", output.id),
                "[[output]]",
                "Use letters, digits, - and _.",
            ));
        }
    }
    Ok(())
}

/// An error if one of these ids is there already or comes twice. Of an image of several bands each
/// becomes a layer, so that all ids are known only when it is made.
fn refuse_overwriting(
    ids: Vec<String>,
    dossier: Option<&Written>,
    folder: &Path,
) -> anyhow::Result<()> {
    if dossier.is_none() && folder.join(RECORD).exists() {
        return Err(Trouble::error(
            "there is a record of layers already, and it is not written over",
            folder.join(RECORD).display(),
            "Name another output folder, or take the old layers away.",
        ));
    }
    let mut seen = std::collections::BTreeSet::new();
    for id in ids {
        let in_dossier = dossier
            .is_some_and(|d| d.document.layer(&id).is_some() || d.document.state(&id).is_some());
        if in_dossier || folder.join(&id).exists() || !seen.insert(id.clone()) {
            return Err(Trouble::error(
                format!("there is a layer “{id}” already"),
                folder.display(),
                "Give the output another id, or take the old layer away.",
            ));
        }
    }
    Ok(())
}

/// An error if a state that is asked for cannot be: its id is taken, or what it would show is no colour layer
/// of a dossier.
fn refuse_states(
    recipe: &Recipe,
    results: &Results,
    dossier: Option<&Written>,
) -> anyhow::Result<()> {
    let mut ids: Vec<&String> = recipe.outputs.iter().map(|output| &output.id).collect();
    for output in &recipe.outputs {
        let Some(state) = &output.state else {
            continue;
        };
        let place = format!("[[output]] {}", output.id);
        let Some(dossier) = dossier else {
            return Err(Trouble::error(
                "a state is asked for, and no dossier is given that could have it",
                place,
                "Name the dossier with --dossier, or leave state out.",
            ));
        };
        let made = results.get(&output.of).map_err(trouble)?;
        if !matches!(&*made, Made::Image(image) if output::is_colour(image)) {
            return Err(Trouble::error(
                "a state shows a layer in colour, and this one is of single bands or of regions",
                place,
                "Leave state out: in the browser a band lies over any state.",
            ));
        }
        let document = &dossier.document;
        let is_taken = document.layer(state).is_some() || document.state(state).is_some();
        if is_taken || ids.contains(&state) {
            return Err(Trouble::error(
                format!("there is a layer or state “{state}” already"),
                place,
                "Give the state another id.",
            ));
        }
        ids.push(state);
    }
    Ok(())
}

/// An error if something that is kept is not on the sheets of the dossier's layers.
fn refuse_photographs(recipe: &Recipe, results: &Results, source: &Source) -> anyhow::Result<()> {
    for output in &recipe.outputs {
        let made = results.get(&output.of).map_err(trouble)?;
        let pages_px = match &*made {
            Made::Image(image) => &image.pages_px,
            Made::Regions(labels) => &labels.pages_px,
        };
        if source.sheets.is_none() || *pages_px != source.sheets_px {
            return Err(Trouble::error(
                format!("“{}” is of photographs, which lie on no sheet", output.of),
                format!("[[output]] {}", output.id),
                "Leave out --dossier, name a folder with -o, and drape what comes of it.",
            ));
        }
    }
    Ok(())
}

/// Takes back what a run that was killed had moved out before its layers were recorded.
fn take_back_unfinished(
    work: &Path,
    folder: &Path,
    dossier: Option<&Written>,
) -> anyhow::Result<()> {
    let is_recorded = match dossier {
        None => folder.join(RECORD).exists(),
        Some(d) => {
            let mut images = d.document.layers.iter().flat_map(|layer| &layer.images);
            let listed = moved::listed(work);
            images.any(|image| {
                let path = d.folder.join(&image.file);
                listed.iter().any(|id| path.starts_with(folder.join(id)))
            })
        }
    };
    if is_recorded {
        return Ok(());
    }
    moved::take_back(work, folder).map_err(|e| not_written(folder, &e))
}

fn not_written(path: &Path, error: &std::io::Error) -> anyhow::Error {
    Trouble::error(
        format!("the images could not be written: {error}"),
        path.display(),
        "Check free space and the permissions of the folder, and run the recipe again.",
    )
}

fn origin(recipe: &str, source: &Source, results: &Results) -> Origin {
    let mut origin = Origin {
        command: "ganosis bands".to_owned(),
        inputs: source.records.iter().map(input).collect(),
        ..Origin::default()
    };
    origin.parameters.insert("recipe".to_owned(), json!(recipe));
    // A list, since names of steps may be those of texts, which have languages.
    let findings = results.findings.iter();
    let findings = findings.map(|(step, found)| json!({"step": step, "found": found}));
    origin
        .parameters
        .insert("findings".to_owned(), Value::Array(findings.collect()));
    origin
}

/// Moves the images to where they belong, and records their layers.
fn put(
    dossier: Option<Written>,
    work: &Path,
    folder: &Path,
    mut names: Vec<String>,
    (layers, states): (Vec<Layer>, Vec<State>),
) -> anyhow::Result<()> {
    let count = layers.len();
    if dossier.is_none() {
        let record = format!("{}\n", serde_json::to_string_pretty(&layers)?);
        write_atomically(&work.join(RECORD), record.as_bytes())
            .map_err(|e| Trouble::error(e.to_string(), work.display(), "Then run it again."))?;
        names.push(RECORD.to_owned());
    }
    moved::move_out(work, folder, &names).map_err(|e| not_written(folder, &e))?;
    let Some(mut dossier) = dossier else {
        println!("{}: {count} images", folder.display());
        return Ok(());
    };
    dossier.document.layers.extend(layers);
    dossier.document.states.extend(states);
    save(&dossier.folder, &dossier.document).map_err(|e| {
        Trouble::error(
            format!("the images are made, and the dossier could not be saved: {e}"),
            dossier.folder.display(),
            "Mend that and run the recipe again.",
        )
    })?;
    println!("{}: {count} layers added", dossier.folder.display());
    Ok(())
}
