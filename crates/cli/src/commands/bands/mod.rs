//! `ganosis bands`: arithmetic over band images.

mod inputs;
mod output;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Layer, Origin, OriginInput};
use ganosis_dossier::store;
use ganosis_dossier::write::{save, write_atomically};
use ganosis_imaging::bands::recipe::{Made, Recipe, Results, ULTRAVIOLET_CAUTION};
use serde_json::{Value, json};

use super::chart_files::{self as files, trouble};
use super::reading;
use crate::trouble::Trouble;
use inputs::Source;

/// Make images from band images, by a recipe
///
/// A recipe (TOML) names photographs of one set-up or layers of a dossier, and
/// what is made of them, step by step: ambient light taken off, flat field,
/// reflectance by grey standards in percent, UVL and VIL without stray light,
/// infrared false colour, ratios, differences, principal components, angle
/// to a reference spectrum, regions by threshold or by likeness with their
/// areas. Units are kept, and images of different units are not mixed. With
/// the result goes the record of how it was made.
///
/// Images under ultraviolet light: the lamps harm eyes and skin, and their
/// dose counts towards the object's. Shield, limit, record; local codes and
/// the conservator responsible decide.
///
/// Exit code: 0 done, 2 not done.
#[derive(clap::Args)]
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
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let text = files::text(&arguments.recipe)?;
    let recipe = read(&text, &arguments.recipe)?;
    if recipe.is_ultraviolet() {
        eprintln!("ganosis: caution: {ULTRAVIOLET_CAUTION}");
    }
    let dossier = arguments.dossier.as_deref().map(open).transpose()?;
    let folder = output_folder(arguments, dossier.as_ref().map(|d| d.folder.as_path()))?;
    refuse_overwriting(&recipe, dossier.as_ref(), &folder)?;
    let mut source = Source::read(&recipe, &arguments.recipe, dossier.as_ref())?;
    source.prefix = prefix(&folder, dossier.as_ref());
    let results = recipe.run(source.images.clone()).map_err(trouble)?;
    let origin = origin(&text, &source, &results);
    let mut layers = Vec::new();
    for output in &recipe.outputs {
        let made = results.get(&output.of).map_err(trouble)?;
        if let Made::Regions(labels) = &made {
            let areas = source.areas_cm2(labels)?;
            for (number, pixels) in labels.counts().into_iter().enumerate().skip(1) {
                match &areas {
                    Some(areas) => println!("  {} {number}: {:.2} cm²", output.id, areas[number]),
                    None => println!("  {} {number}: {pixels} pixels", output.id),
                }
            }
        }
        layers.extend(output::write(
            output,
            &made,
            &source,
            &folder,
            &origin,
            recipe.is_ultraviolet(),
        )?);
    }
    for (step, finding) in &results.findings {
        println!("  {step}: {finding}");
    }
    put(dossier, &folder, layers)?;
    Ok(ExitCode::SUCCESS)
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
            "A recipe has [inputs], [[step]] and [[output]]; README.md has an example.",
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

fn output_folder(arguments: &Arguments, dossier: Option<&Path>) -> anyhow::Result<PathBuf> {
    match (&arguments.output, dossier) {
        (None, Some(dossier)) => Ok(dossier.join("layers")),
        (Some(output), None) => Ok(output.clone()),
        (Some(output), Some(dossier)) if output.starts_with(dossier) => Ok(output.clone()),
        _ => Err(Trouble::error(
            "the files of a dossier's layer lie within the dossier",
            "--output",
            "Leave --output out, or name a folder in the dossier.",
        )),
    }
}

/// The output folder as a path within the dossier, with slashes.
fn prefix(folder: &Path, dossier: Option<&Written>) -> String {
    let inner = dossier.and_then(|d| folder.strip_prefix(&d.folder).ok());
    let steps = inner.into_iter().flat_map(Path::components);
    steps
        .map(|c| format!("{}/", c.as_os_str().to_string_lossy()))
        .collect()
}

fn refuse_overwriting(
    recipe: &Recipe,
    dossier: Option<&Written>,
    folder: &Path,
) -> anyhow::Result<()> {
    let mut ids = std::collections::BTreeSet::new();
    for output in &recipe.outputs {
        let sound = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
        if output.id.is_empty() || !output.id.chars().all(sound) {
            return Err(Trouble::error(
                format!("“{}” does not do as an id", output.id),
                "[[output]]",
                "Use letters, digits, - and _.",
            ));
        }
        let in_dossier = dossier.is_some_and(|d| {
            d.document.layer(&output.id).is_some() || d.document.state(&output.id).is_some()
        });
        if in_dossier || !ids.insert(&output.id) || folder.join(&output.id).exists() {
            return Err(Trouble::error(
                format!("there is a layer “{}” already", output.id),
                folder.display(),
                "Give the output another id, or take the old layer away.",
            ));
        }
    }
    Ok(())
}

fn origin(recipe: &str, source: &Source, results: &Results) -> Origin {
    let mut origin = Origin {
        command: "ganosis bands".to_owned(),
        inputs: source
            .records
            .iter()
            .map(|record| OriginInput {
                file: record.file.clone(),
                sha256: record.sha256.clone(),
                ..OriginInput::default()
            })
            .collect(),
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

fn put(dossier: Option<Written>, folder: &Path, layers: Vec<Layer>) -> anyhow::Result<()> {
    let Some(mut dossier) = dossier else {
        let record = folder.join("layers.json");
        write_atomically(
            &record,
            format!("{}\n", serde_json::to_string_pretty(&layers)?).as_bytes(),
        )
        .map_err(|e| Trouble::error(e.to_string(), record.display(), "Then run it again."))?;
        println!("{}: {} images", folder.display(), layers.len());
        return Ok(());
    };
    let count = layers.len();
    dossier.document.layers.extend(layers);
    save(&dossier.folder, &dossier.document).map_err(|e| {
        Trouble::error(
            format!("the images are made, and the dossier could not be saved: {e}"),
            dossier.folder.display(),
            "Take the new folders in layers/ away and run the recipe again.",
        )
    })?;
    println!("{}: {count} layers added", dossier.folder.display());
    Ok(())
}
