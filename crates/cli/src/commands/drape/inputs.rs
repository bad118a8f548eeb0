//! What goes into draping: surface, poses, photographs, masks.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use ganosis_dossier::Dossier;
use ganosis_dossier::store::{self, SourceKind};
use ganosis_imaging::bands::Unit;
use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::drape::{Channel, Mask, Picture, SheetSize, Shell, Stage, View};
use ganosis_imaging::icc::{OutputSpace, read_curve};
use ganosis_imaging::pose::{PosedPhoto, Poses};
use ganosis_imaging::profiled::convert_in_place;
use ganosis_imaging::{Encoding, ImagingError, Photo};
use ganosis_surface::Surface;
use rayon::prelude::*;

use super::Arguments;
use super::record::ids;
use crate::commands::chart_files::{self as files, trouble};
use crate::commands::progress::Progress;
use crate::commands::reading;
use crate::commands::scale::Scale;
use crate::trouble::Trouble;

/// Ends of names that a photograph's pose may leave out.
const ENDS: [&str; 6] = ["tif", "tiff", "dng", "png", "jpg", "jpeg"];

/// One photograph.
pub(super) struct Photograph {
    pub(super) path: PathBuf,
    pub(super) posed: PosedPhoto,
    pub(super) record: InputRecord,
    pub(super) mask: Option<(PathBuf, InputRecord)>,
}

/// All of it.
pub(super) struct Inputs {
    pub(super) surface: Surface,
    /// The mesh file, and the files beside it that hold its geometry.
    pub(super) surface_records: Vec<InputRecord>,
    pub(super) poses_records: Vec<InputRecord>,
    pub(super) photographs: Vec<Photograph>,
    /// The dossier and its folder.
    pub(super) dossier: Option<(Dossier, PathBuf)>,
}

impl Inputs {
    /// Reads everything but the photographs' pixels.
    pub(super) fn read(arguments: &Arguments) -> anyhow::Result<Self> {
        let path = arguments.dossier.as_ref().or(arguments.surface.as_ref());
        let Some(path) = path else {
            return Err(Trouble::error(
                "no surface is given",
                "--surface",
                "Name a .glb file.",
            ));
        };
        let unreadable = |reason: String| {
            Trouble::error(
                format!("the surface cannot be read: {reason}"),
                path.display(),
                "Name a .glb or .gltf file, or the folder of a dossier.",
            )
        };
        let opened = store::open(path).map_err(|e| unreadable(e.to_string()))?;
        let (file, dossier) = if arguments.dossier.is_some() {
            let document = reading::document_of(&opened).map_err(unreadable)?;
            let folder = reading::folder_to_write(path, opened.kind)?;
            (document.surface.file.clone(), Some((document, folder)))
        } else if opened.kind == SourceKind::Model {
            (opened.entry.clone(), None)
        } else {
            return Err(Trouble::error(
                "this is a dossier, not a surface",
                path.display(),
                "Say --dossier instead of --surface.",
            ));
        };
        let (mut posed, mut poses_records) = (Vec::new(), Vec::new());
        for path in &arguments.poses {
            let text = files::text(path)?;
            let poses = Poses::read(&text, &path.display().to_string()).map_err(trouble)?;
            posed.extend(poses.photos);
            poses_records.push(InputRecord {
                file: files::name(path),
                sha256: files::sha256_of(text.as_bytes()),
            });
        }
        let (surface, photographs) = rayon::join(
            || reading::surface_in(&*opened.store, &file),
            || photographs(arguments, &posed),
        );
        let (surface, surface_records) = surface.map_err(unreadable)?;
        Ok(Self {
            surface,
            surface_records,
            poses_records,
            photographs: photographs?,
            dossier,
        })
    }

    /// Every sheet at the size asked for.
    pub(super) fn sizes(&self, side_px: u32) -> Vec<SheetSize> {
        let sheets = self.surface.sheets.iter();
        sheets
            .map(|sheet| SheetSize {
                name: sheet.name.clone(),
                width_px: side_px,
                height_px: side_px,
            })
            .collect()
    }

    /// Which patches take part: not those of nodes that are left out.
    pub(super) fn included<'a>(&'a self, arguments: &'a Arguments) -> impl Fn(usize) -> bool + 'a {
        |patch| {
            let path = self
                .surface
                .patches
                .get(patch)
                .map(|p| p.node_path.as_slice());
            let out = |node: &String| arguments.leave_out.contains(node);
            !path.unwrap_or_default().iter().any(out)
        }
    }

    /// The files of poses, for messages.
    pub(super) fn poses_names(&self) -> String {
        let names = self.poses_records.iter().map(|record| record.file.as_str());
        names.collect::<Vec<_>>().join(", ")
    }

    pub(super) fn photo_names(&self) -> impl Iterator<Item = &str> {
        self.photographs.iter().map(|p| p.record.file.as_str())
    }

    /// The unit and range of the band, as its photographs say them; relative light where they do not, or where
    /// their codes are said not to be linear.
    pub(super) fn scale(&self, arguments: &Arguments) -> anyhow::Result<Scale> {
        let relative = Scale {
            unit: Unit::Relative.to_string(),
            range: [0.0, 1.0],
        };
        let is_linear = (arguments.encoding.as_ref()).is_none_or(|e| *e == Encoding::Linear);
        if arguments.band.is_none() || !is_linear {
            return Ok(relative);
        }
        let each = || self.photographs.iter();
        let said: Vec<Option<Scale>> = each().map(|one| Scale::of(&one.path)).collect();
        let Some(first) = said.iter().flatten().next() else {
            return Ok(relative);
        };
        let told = |scale: &Scale| {
            let [low, high] = scale.range;
            format!("{low:.3} to {high:.3} {}", scale.unit)
        };
        for (one, scale) in each().zip(&said) {
            let Some(scale) = scale else {
                eprintln!(
                    "ganosis: {} does not say its unit, others do: the layer is in relative light",
                    one.record.file
                );
                return Ok(relative);
            };
            if scale != first {
                return Err(Trouble::error(
                    format!(
                        "it is of {}, another of {}: they cannot be mixed",
                        told(scale),
                        told(first)
                    ),
                    one.path.display(),
                    "Make the photographs of one band by “ganosis bands” with the same unit and range.",
                ));
            }
        }
        Ok(first.clone())
    }

    /// The geometry of the photographs, with their masks.
    pub(super) fn views(&self, arguments: &Arguments) -> anyhow::Result<Vec<View>> {
        for node in &arguments.leave_out {
            let known = self
                .surface
                .patches
                .iter()
                .any(|p| p.node_path.contains(node));
            if !known {
                return Err(Trouble::error(
                    format!("the surface has no node “{node}” with triangles"),
                    "--leave-out",
                    "Use the name of a node of the glTF file.",
                ));
            }
        }
        self.photographs
            .iter()
            .map(|photograph| {
                let mask = match &photograph.mask {
                    Some((path, _)) => Some(mask(path, photograph)?),
                    None => None,
                };
                Ok(View::new(&photograph.posed, mask))
            })
            .collect()
    }

    /// Where the layer's files go.
    pub(super) fn output_folder(&self, arguments: &Arguments) -> anyhow::Result<PathBuf> {
        let sound = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        let id = &arguments.id;
        for (id, of, option) in std::iter::once((id, "layer", "--id"))
            .chain(arguments.state.iter().map(|id| (id, "state", "--state")))
        {
            if id.is_empty() || id.starts_with('.') || !id.chars().all(sound) {
                return Err(Trouble::error(
                    format!("“{id}” does not do as the id of a {of}"),
                    option,
                    "Use letters, digits, - and _.",
                ));
            }
        }
        if let Some(state) = arguments
            .state
            .as_ref()
            .filter(|s| ids(id).any(|i| i == **s))
        {
            return Err(Trouble::error(
                format!("“{state}” is the id of the layer, or of what is known of its texels"),
                "--state",
                "Give the state an id of its own.",
            ));
        }
        if let Some((document, folder)) = &self.dossier {
            let is_taken =
                |id: &String| document.layer(id).is_some() || document.state(id).is_some();
            if let Some(taken) = ids(id).chain(arguments.state.clone()).find(is_taken) {
                return Err(Trouble::error(
                    format!("the dossier has a layer or state “{taken}” already"),
                    folder.display(),
                    "Give the new one another id; take the old one out of dossier.json if it is to go.",
                ));
            }
        }
        let dossier = self.dossier.as_ref().map(|(_, folder)| folder.as_path());
        reading::output_folder(arguments.output.as_deref(), dossier, id)
    }
}

fn photographs(arguments: &Arguments, poses: &[PosedPhoto]) -> anyhow::Result<Vec<Photograph>> {
    // clap asks for one file of poses at least.
    let first = arguments
        .poses
        .first()
        .map_or(Path::new(""), PathBuf::as_path);
    let beside = first.parent().unwrap_or(Path::new("."));
    let folder = arguments.photos.as_deref().unwrap_or(beside);
    if poses.len() >= usize::from(u16::MAX) {
        return Err(Trouble::error(
            format!("{} photographs are more than 65534", poses.len()),
            first.display(),
            "Drape them in several layers.",
        ));
    }
    let mut found: Vec<(&PosedPhoto, PathBuf)> = Vec::with_capacity(poses.len());
    for posed in poses {
        let same = |(one, _): &(&PosedPhoto, PathBuf)| one.photo.file == posed.photo.file;
        if found.iter().any(same) {
            return Err(Trouble::error(
                format!("the photograph {} has two poses", posed.photo.file),
                first.display(),
                "Keep one file of poses for each photograph.",
            ));
        }
        let path = find(folder, &posed.photo.file).ok_or_else(|| {
            Trouble::error(
                format!("the photograph {} is not there", posed.photo.file),
                folder.display(),
                "Say with --photos where the photographs are.",
            )
        })?;
        found.push((posed, path));
    }
    // Hashing takes as long as reading, of many at a time.
    let hashed = found.into_par_iter().map(|(posed, path)| {
        let record = files::record(&path)?;
        // A corrected photograph has another hash than the one that the pose was solved from, and the
        // same geometry: that is told by its size, when it is read.
        let mask = arguments
            .masks
            .as_deref()
            .and_then(|masks| find_mask(masks, &files::name(&path)))
            .map(|path| files::record(&path).map(|record| (path, record)))
            .transpose()?;
        Ok(Photograph {
            path,
            posed: posed.clone(),
            record,
            mask,
        })
    });
    let out: Vec<Photograph> = hashed.collect::<anyhow::Result<_>>()?;
    if let Some(masks) = &arguments.masks
        && out.iter().all(|one| one.mask.is_none())
    {
        return Err(Trouble::error(
            "no mask there is named as a photograph",
            masks.display(),
            "Name a mask as its photograph, with or without the photograph's own end: a.tif has a.png \
             or a.tif.png.",
        ));
    }
    Ok(out)
}

/// The mask of a photograph: of its name with another end, or with one more.
fn find_mask(folder: &Path, photo: &str) -> Option<PathBuf> {
    let longer = folder.join(format!("{photo}.png"));
    longer
        .is_file()
        .then_some(longer)
        .or_else(|| find(folder, photo))
}

/// The file of this name in a folder: as named, by its last part, or with another end.
fn find(folder: &Path, name: &str) -> Option<PathBuf> {
    let last = Path::new(name).file_name()?;
    let tries = [folder.join(name), folder.join(last)];
    if let Some(found) = tries.into_iter().find(|p| p.is_file()) {
        return Some(found);
    }
    let stem = folder.join(Path::new(last).file_stem()?);
    let with = |end: &&str| PathBuf::from(format!("{}.{end}", stem.display()));
    ENDS.iter().map(with).find(|p| p.is_file())
}

fn mask(path: &Path, photograph: &Photograph) -> anyhow::Result<Mask> {
    let image = read_photo(path, Some(Encoding::Linear)).map_err(trouble)?;
    let lens = &photograph.posed.lens;
    if (image.width_px, image.height_px) != (lens.width_px, lens.height_px) {
        return Err(Trouble::error(
            format!(
                "the mask is {} × {} px, its photograph {} × {} px",
                image.width_px, image.height_px, lens.width_px, lens.height_px
            ),
            path.display(),
            "Save the mask at the size of the photograph.",
        ));
    }
    let usable = |x: usize, y: usize| image.samples[3 * (y * image.width_px + x)] > u16::MAX / 2;
    Ok(Mask::new(image.width_px, image.height_px, &usable))
}

fn read_photo(path: &Path, encoding: Option<Encoding>) -> ganosis_imaging::Result<Photo> {
    let name = path.display().to_string();
    let file = File::open(path).map_err(|e| {
        ImagingError::new(
            format!("the file cannot be read: {e}"),
            &name,
            "Check its name and whether you may read it.",
        )
    })?;
    let reader = BufReader::with_capacity(1 << 20, file);
    Photo::read_band(reader, &name, encoding)
}

/// Reads photographs as they are asked for, and shows how far it is.
pub(super) struct Photographs<'a> {
    inputs: &'a Inputs,
    channel: Channel,
    encoding: Option<Encoding>,
    space: OutputSpace,
    progress: Progress,
    /// Bits a sample of the first photograph read.
    bits: std::sync::OnceLock<(u8, String)>,
}

impl<'a> Photographs<'a> {
    pub(super) fn new(arguments: &Arguments, inputs: &'a Inputs, progress: Progress) -> Self {
        let channel = match arguments.band {
            Some(_) => arguments.channel,
            None => Channel::Colour,
        };
        Self {
            inputs,
            channel,
            encoding: arguments.encoding.clone(),
            space: arguments.space,
            progress,
            bits: std::sync::OnceLock::new(),
        }
    }

    /// The line of progress ends.
    pub(super) fn end(&self) {
        self.progress.end();
    }

    fn check_bits(&self, photo: &Photo) -> ganosis_imaging::Result<()> {
        let advice = "Develop all photographs of a job to 16-bit TIFF in the same way.";
        if photo.bits == 8 && photo.encoding == Encoding::Linear {
            return Err(ImagingError::new(
                "8 bits of linear light are too few: the dark tones would show steps",
                photo.name.clone(),
                "Develop the photograph to a linear 16-bit TIFF, or say --encoding srgb if its codes \
                 are not linear.",
            ));
        }
        let (bits, first) = self.bits.get_or_init(|| (photo.bits, photo.name.clone()));
        if *bits != photo.bits {
            return Err(ImagingError::new(
                format!("it has {} bits a sample, {first} has {bits}", photo.bits),
                photo.name.clone(),
                advice,
            ));
        }
        Ok(())
    }
}

impl Shell for Photographs<'_> {
    fn picture(&self, number: usize) -> ganosis_imaging::Result<Picture> {
        let path = &self.inputs.photographs[number].path;
        let mut photo = read_photo(path, self.encoding.clone())?;
        self.check_bits(&photo)?;
        if self.channel == Channel::Colour {
            let profile = self.space.profile();
            if photo.icc_profile.as_deref() != Some(profile.as_slice()) {
                convert_in_place(&mut photo, self.space).map_err(|mut error| {
                    error
                        .advice
                        .push_str(" A photograph of one band is draped with --band.");
                    error
                })?;
            }
            if let Some(curve) = read_curve(&profile) {
                photo.encoding = Encoding::Profile(curve);
            }
        }
        Ok(Picture::new(photo, self.channel))
    }

    fn progress(&self, stage: Stage, done: u64, of: u64) -> bool {
        let stage = match stage {
            Stage::Reading => "reading photographs",
            Stage::Seeing => "who sees what",
            Stage::Mixing => "mixing",
        };
        self.progress.tell(stage, done, of);
        true
    }
}
