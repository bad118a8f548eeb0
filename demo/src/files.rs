//! Writing: every file is complete under its name, or not there.

use anyhow::{Context, Result};
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes a file through a temporary one beside it.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<()> {
    make_folder(path)?;
    let part = part_name(path);
    fs::write(&part, bytes).with_context(|| cannot(path))?;
    fs::rename(&part, path).with_context(|| cannot(path))
}

fn make_folder(path: &Path) -> Result<()> {
    make(path.parent().unwrap_or(Path::new(".")))
}

/// Makes a folder and those above it.
pub(crate) fn make(folder: &Path) -> Result<()> {
    fs::create_dir_all(folder).with_context(|| {
        format!(
            "cannot make the folder {}: check its owner and the disk",
            folder.display()
        )
    })
}

fn cannot(path: &Path) -> String {
    format!(
        "cannot write {}: check its owner and the free space",
        path.display()
    )
}

fn part_name(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".part");
    PathBuf::from(name)
}

/// A PNG that is written some rows at a time.
pub(crate) struct PngRows {
    path: PathBuf,
    stream: png::StreamWriter<'static, BufWriter<File>>,
}

impl PngRows {
    /// Begins a square image.
    pub(crate) fn create(
        path: &Path,
        size: usize,
        colour: png::ColorType,
        depth: png::BitDepth,
    ) -> Result<Self> {
        make_folder(path)?;
        let file = File::create(part_name(path)).with_context(|| cannot(path))?;
        let mut encoder = png::Encoder::new(
            BufWriter::with_capacity(1 << 20, file),
            size as u32,
            size as u32,
        );
        encoder.set_color(colour);
        encoder.set_depth(depth);
        encoder.set_compression(png::Compression::Fast);
        if colour == png::ColorType::Rgb {
            encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
        }
        let stream = encoder
            .write_header()
            .and_then(png::Writer::into_stream_writer)
            .with_context(|| cannot(path))?;
        Ok(Self {
            path: path.to_owned(),
            stream,
        })
    }

    /// Adds rows.
    pub(crate) fn write(&mut self, rows: &[u8]) -> Result<()> {
        self.stream
            .write_all(rows)
            .with_context(|| cannot(&self.path))
    }

    /// Completes the file and gives it its name.
    pub(crate) fn finish(self) -> Result<()> {
        self.stream.finish().with_context(|| cannot(&self.path))?;
        fs::rename(part_name(&self.path), &self.path).with_context(|| cannot(&self.path))
    }
}

/// A photograph: 16 bits a sample, codes proportional to light.
pub(crate) struct Png16<'a> {
    /// Pixels.
    pub(crate) width: usize,
    /// Pixels.
    pub(crate) height: usize,
    /// 1 or 3.
    pub(crate) channels: usize,
    /// Samples, row by row.
    pub(crate) rows: &'a [Vec<u16>],
}

impl Png16<'_> {
    /// Writes it whole or not at all.
    pub(crate) fn write(&self, path: &Path) -> Result<()> {
        let samples = self.rows.iter().flatten();
        let bytes: Vec<u8> = samples.flat_map(|code| code.to_be_bytes()).collect();
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, self.width as u32, self.height as u32);
        encoder.set_color(if self.channels == 1 {
            png::ColorType::Grayscale
        } else {
            png::ColorType::Rgb
        });
        encoder.set_depth(png::BitDepth::Sixteen);
        encoder.set_compression(png::Compression::Fast);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(&bytes)?;
        writer.finish()?;
        write(path, &file)
    }
}

/// A small image in memory as PNG.
pub(crate) fn small_png(width: usize, height: usize, rgb: &[u8]) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(rgb)?;
    writer.finish()?;
    Ok(bytes)
}
