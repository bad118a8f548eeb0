//! `ganosis drape`: photographs onto a surface.

mod inputs;
mod kept;
mod output;
mod record;
mod titles;

use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_imaging::Encoding;
use ganosis_imaging::drape::fill::Fill;
use ganosis_imaging::drape::mesh::LARGEST_OBJECT_M;
use ganosis_imaging::drape::{
    Channel, Drape, Findings, Mesh, Mix, PhotoReport, Report, Settings, Tiles,
};
use ganosis_imaging::icc::OutputSpace;

use super::chart_files::trouble;
use super::progress::Progress;
use crate::trouble::Trouble;
use inputs::{Inputs, Photographs};
use kept::FolderRoom;

/// Lay photographs onto the surface as a layer
///
/// For each texel of each sheet: every photograph that sees it, by an exact
/// ray to the camera; of these the best are mixed, by angle, resolution and
/// sharpness, so that neither seams nor double edges show. Where three or
/// more see a texel, a highlight or a shadow in one of them is left out.
/// Photographs are not toned to one another. A band has the unit of its
/// photographs where "ganosis bands" made them, and else is relative. What no
/// photograph saw stays empty, unless --fill is given. Beside the layer: which texels are seen, by
/// how many, at what resolution, and from which photograph.
///
/// A run that was stopped goes on where it was when it is started again.
///
/// Exit code: 0 done, 1 done but something is to be looked at, 2 not done.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The surface: a .glb or .gltf file
    #[arg(long, value_name = "S.glb", required_unless_present = "dossier")]
    surface: Option<PathBuf>,
    /// A dossier (folder), which gets the layer; its surface is taken
    #[arg(long, value_name = "FOLDER", conflicts_with = "surface")]
    dossier: Option<PathBuf>,
    /// Where the photographs were taken from, as "ganosis pose" writes it; one
    /// file or several
    #[arg(long, value_name = "FILE.json", required = true, num_args = 1..)]
    poses: Vec<PathBuf>,
    /// Folder of the photographs [default: that of the first poses]
    #[arg(long, value_name = "FOLDER")]
    photos: Option<PathBuf>,
    /// Folder of masks, named as the photographs (a.png or a.tif.png for
    /// a.tif): black is not used
    #[arg(long, value_name = "FOLDER")]
    masks: Option<PathBuf>,
    /// Id of the layer
    #[arg(long)]
    id: String,
    /// Title of the layer; in several languages, one after the other:
    /// --title en="As found" --title de="Vorgefunden"
    #[arg(long, value_name = "TEXT")]
    title: Vec<String>,
    /// Also make a state of this id, as found, that shows the layer
    #[arg(long, value_name = "ID", requires = "dossier", conflicts_with = "band")]
    state: Option<String>,
    /// Short name of a single band, such as UVL; without, the layer is colour
    #[arg(long, value_name = "NAME")]
    band: Option<String>,
    /// The channel that holds the band: red, green, blue
    #[arg(long, default_value = "green", requires = "band")]
    channel: Channel,
    /// How codes stand for light, where files do not say it: linear, srgb
    #[arg(long)]
    encoding: Option<Encoding>,
    /// Texels along each side of a sheet
    #[arg(long, value_name = "PX", default_value_t = 4096, value_parser = clap::value_parser!(u32).range(16..=32768))]
    size: u32,
    /// Colour space of the 16-bit file: romm, srgb, display-p3
    #[arg(long, default_value = "romm")]
    space: OutputSpace,
    /// Colour space of the layer's image: srgb, display-p3
    #[arg(long, default_value = "srgb")]
    image_space: OutputSpace,
    /// Texels beyond the edges of charts that are coloured too
    #[arg(long, value_name = "PX", default_value_t = 4.0, value_parser = border)]
    border: f32,
    /// Colour what no photograph saw from its surroundings, and mark it
    #[arg(long)]
    fill: bool,
    /// Leave empty what photographs see only astride a step of depth, where a
    /// pixel mixes two surfaces; without, it is coloured so, and marked
    #[arg(long)]
    clear_only: bool,
    /// Part by which a photograph may differ from the median of three or more
    #[arg(long, value_name = "PART", default_value_t = 0.1, value_parser = tolerance)]
    tolerance: f32,
    /// Node of the surface to leave out, such as a lost part that is restored
    #[arg(long, value_name = "NODE")]
    leave_out: Vec<String>,
    /// Memory to stay within, such as 2G or 800M
    #[arg(long, default_value = "2G", value_parser = bytes)]
    memory: u64,
    /// Folder for the layer's files [default: layers/ID in the dossier]
    #[arg(
        short,
        long,
        value_name = "FOLDER",
        required_unless_present = "dossier"
    )]
    output: Option<PathBuf>,
}

/// Texels from 0 to 64, several times what any filtering of an image reaches (a choice of ours).
fn border(text: &str) -> Result<f32, String> {
    let read = text.parse::<f32>().ok();
    read.filter(|texels| (0.0..=64.0).contains(texels))
        .ok_or_else(|| "say texels from 0 to 64, e.g. 4".to_owned())
}

fn tolerance(text: &str) -> Result<f32, String> {
    let read = text.parse::<f32>().ok();
    read.filter(|part| *part > 0.0 && *part <= 1.0)
        .ok_or_else(|| "say a part above 0 and up to 1, e.g. 0.1".to_owned())
}

/// `2G`, `800M` or a number of bytes.
fn bytes(text: &str) -> Result<u64, String> {
    let (number, unit) = match text.char_indices().last() {
        Some((at, 'G' | 'g')) => (&text[..at], 1 << 30),
        Some((at, 'M' | 'm')) => (&text[..at], 1 << 20),
        _ => (text, 1),
    };
    let number: f64 = number
        .parse()
        .map_err(|_| "say for example 2G or 800M".to_owned())?;
    if number > 0.0 && number.is_finite() {
        Ok((number * f64::from(unit)) as u64)
    } else {
        Err("say for example 2G or 800M".to_owned())
    }
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    if arguments.image_space == OutputSpace::Romm {
        return Err(Trouble::error(
            "a layer's image of 8 bits cannot be in ROMM RGB",
            "--image-space",
            "Say srgb or display-p3; the 16-bit file keeps ROMM RGB.",
        ));
    }
    let title = titles::of(&arguments.title, &arguments.id)?;
    let inputs = Inputs::read(arguments)?;
    let scale = inputs.scale(arguments)?;
    let output = inputs.output_folder(arguments)?;
    output::take_back_unfinished(&output, &inputs)?;
    output::refuse_overwriting(arguments, &output, &inputs)?;
    let mesh = Mesh::new(
        &inputs.surface,
        inputs.sizes(arguments.size),
        &inputs.included(arguments),
    )
    .map_err(trouble)?;
    let mut warnings = oddities(&mesh.findings, mesh.radius_m());
    let noted = mirrored(&mesh.findings).filter(|_| !is_turned_over(&mesh.findings));
    for words in warnings.iter().chain(&noted) {
        eprintln!("ganosis: {words}");
    }
    let views = inputs.views(arguments)?;
    let settings = Settings {
        channels: if arguments.band.is_some() { 1 } else { 3 },
        border_texels: arguments.border,
        memory_bytes: arguments.memory,
        clear_only: arguments.clear_only,
        mix: Mix {
            tolerance: arguments.tolerance,
            ..Mix::default()
        },
    };
    let origin = record::origin(arguments, &inputs, &settings);
    let room = FolderRoom::open(&output, &record::key(&origin))?;
    let tiles = Tiles::new(&mesh, settings.border_texels);
    let drape = Drape {
        mesh: &mesh,
        tiles: &tiles,
        views: &views,
        settings,
        room: &room,
    };
    let photographs = Photographs::new(arguments, &inputs, Progress::new(room.is_resumed()));
    let report = drape.run(&photographs).map_err(trouble)?;
    photographs.end();
    if report.seen_texels == 0 {
        return Err(Trouble::error(
            "no photograph sees any of the surface",
            inputs.poses_names(),
            "Check that poses and surface belong together: the unit of the mesh (metres), its axes, \
             and that its triangles do not face inwards.",
        ));
    }
    let fill = arguments
        .fill
        .then(|| Fill::new(&drape))
        .transpose()
        .map_err(trouble)?;
    let origin = record::with_report(origin, &report, &inputs);
    let layers = record::layers(arguments, title, &inputs, &output, &origin, &mesh, &scale);
    let record = format!("{}\n", serde_json::to_string_pretty(&layers)?);
    let cut = output::write(arguments, &drape, fill.as_ref(), &output, &origin, &record)?;
    record::put(arguments, &inputs, &output, layers)?;
    room.clear();
    warnings.extend(tell(&report, &cut, &inputs, &output));
    Ok(ExitCode::from(u8::from(!warnings.is_empty())))
}

/// A photograph of which more is left out is odd as a whole: a highlight or a shadow is less (a choice of
/// ours).
const MOST_LEFT_OUT_PERCENT: f64 = 10.0;

/// What is odd about the surface, for people.
fn oddities(found: &Findings, radius_m: f64) -> Vec<String> {
    let mut out = Vec::new();
    let cm2 = |m2: f64| format!("{:.1} cm²", m2 * 1e4);
    // A coarse image finds less than this by rounding (held by a test on a closed surface).
    if found.overlapping_m2 > 1e-4 * found.area_m2 {
        out.push(format!(
            "the UVs overlap: about {} of the surface ({:.1} %) share their texels with other places \
             and show what belongs there. Unwrap the surface again without overlaps.",
            cm2(found.overlapping_m2),
            100.0 * found.overlapping_m2 / found.area_m2
        ));
    }
    out.extend(mirrored(found).filter(|_| is_turned_over(found)));
    if found.without_place > 0 {
        out.push(format!(
            "{} triangles have no area on the sheet and get no colour: unwrap them",
            found.without_place
        ));
    }
    if found.without_area > 0 {
        out.push(format!(
            "{} triangles have no area and were left out",
            found.without_area
        ));
    }
    if found.across_edge > 0 {
        out.push(format!(
            "{} triangles lie across the edge of the sheet; what is beyond it gets no colour",
            found.across_edge
        ));
    }
    if 2.0 * radius_m > LARGEST_OBJECT_M {
        out.push(format!(
            "the surface is {:.0} m across: a mesh in millimetres looks like that. Poses must be in \
             the unit of the mesh, and areas and resolution are told as if it were metres.",
            2.0 * radius_m
        ));
    }
    out
}

/// Whether most of the surface lies mirrored, so that the sheet as a whole looks turned over: less are single
/// triangles or charts, which do no harm to a layer (a choice of ours).
fn is_turned_over(found: &Findings) -> bool {
    found.mirrored_m2 > 0.5 * found.area_m2
}

/// What is said of mirrored triangles.
fn mirrored(found: &Findings) -> Option<String> {
    let all = found.mirrored + found.without_area + found.without_place >= found.faces;
    let how_many = if all { "all " } else { "" };
    (found.mirrored > 0).then(|| {
        format!(
            "{how_many}{} triangles ({:.1} cm²) lie mirrored on the sheet: that does no harm to the layer, and \
             writing on its images would be mirrored there",
            found.mirrored,
            found.mirrored_m2 * 1e4
        )
    })
}

/// What is said of a photograph that is odd as a whole.
fn odd(name: &str, percent: f64, photo: &PhotoReport) -> String {
    let differs = format!("{name} differs from the others in {percent:.0} % of what it sees");
    match photo.times_as_bright() {
        Some(times) => format!(
            "{differs}, nearly everywhere by its brightness: it is {times:.2} times as bright there. Check its \
             exposure, and whether light fell on the object as in the others: photographs are not toned to one \
             another"
        ),
        None => format!("{differs}: check its exposure, its light, its colour and its pose"),
    }
}

/// Prints what came of it; gives what is to be looked at.
fn tell(
    report: &Report,
    cut: &ganosis_imaging::drape::sheet_out::Cut,
    inputs: &Inputs,
    output: &std::path::Path,
) -> Vec<String> {
    let mut warnings = Vec::new();
    let percent = |part: u64, of: u64| 100.0 * part as f64 / of.max(1) as f64;
    println!(
        "{}: {:.1} % of the texels of the charts are seen; one pixel covers {:.0} µm on average",
        output.display(),
        percent(report.seen_texels, report.chart_texels),
        report.mean_resolution_um()
    );
    if report.edge_texels > 0 {
        println!(
            "  {:.1} % of these only beside a step of depth, where a pixel mixes two surfaces: they have its \
             colour, and are marked in the coverage",
            percent(report.edge_texels, report.seen_texels)
        );
    }
    for (photo, name) in report.photos.iter().zip(inputs.photo_names()) {
        println!(
            "  {name}: sees {:.1} %, gives the detail of {:.1} %, left out as an outlier in {:.2} %",
            percent(photo.seen, report.chart_texels),
            percent(photo.chosen, report.chart_texels),
            percent(photo.rejected, report.chart_texels)
        );
        if photo.seen == 0 {
            warnings.push(format!(
                "{name} sees nothing of the surface: check its pose"
            ));
        } else if percent(photo.rejected, photo.seen) > MOST_LEFT_OUT_PERCENT {
            warnings.push(odd(name, percent(photo.rejected, photo.seen), photo));
        }
    }
    if cut.filled > 0 {
        println!(
            "  {} texels that nothing saw were filled, and marked so",
            cut.filled
        );
    }
    let outside = percent(cut.outside_space, report.seen_texels);
    // A hundredth of the picture is no longer a few highlights (common practice, no source).
    if outside > 1.0 {
        warnings.push(format!(
            "{outside:.1} % of the texels are more colourful than the space of the layer's image can \
             hold and were brought to its edge there; the 16-bit file has them"
        ));
    }
    for warning in &warnings {
        eprintln!("ganosis: {warning}");
    }
    warnings
}
