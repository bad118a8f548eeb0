//! From rows to files.

use std::collections::VecDeque;
use std::sync::mpsc;

use rayon::prelude::*;

use super::PackError;
use super::codec::{self, Keep};
use super::halving::{halved, sources};
use super::loss::Count;
use super::rows::{Kind, Rows, Texel};
use crate::index::{FORMAT, Index, IndexLevel, name_of, path_of};
use crate::{BORDER_PX, Place, Pyramid, STORED_PX, TILE_PX};

/// Where files go. Names are given by content: what is there already is the same.
pub trait Store: Sync {
    /// Writes a file whole or not at all; nothing is done where it is there.
    ///
    /// # Errors
    /// What the system says.
    fn write(&self, path: &str, bytes: &[u8]) -> std::io::Result<()>;
}

/// A packed image.
#[derive(Clone, Debug)]
pub struct Packed {
    /// The list of its files.
    pub index: Index,
    /// Texels that were encoded, of all levels and borders.
    pub texels: u64,
    /// Bytes of all its files together.
    pub bytes: u64,
}

/// CIEDE2000 between two texels of encoded red, green and blue.
type Difference<'a> = &'a (dyn Fn([u8; 3], [u8; 3]) -> f64 + Sync);

/// Tiles that are encoded at once, while the next ones are cut, so that all cores have work and memory
/// stays small: 128 tiles of 272² texels of four bytes are 38 MB.
const BATCH: usize = 128;
/// Rows that may be read ahead.
const AHEAD: usize = 64;
/// Every so many tiles one is decoded again where something is lost; a choice of ours.
const SAMPLED: usize = 8;

/// Packs an image: `done` hears how many rows are read, and of how many.
///
/// # Errors
/// A damaged image, or a file that cannot be written.
pub fn pack(
    mut rows: Rows<'_>,
    kind: Kind,
    keep: Keep,
    difference: Difference<'_>,
    store: &dyn Store,
    done: &(dyn Fn(u64, u64) + Sync),
) -> Result<Packed, PackError> {
    let keep = if rows.texel == Texel::Rgba8 {
        keep
    } else {
        Keep::Exact
    };
    let pyramid = Pyramid::new(rows.size);
    let mut maker = Maker::new(pyramid, rows.texel, kind);
    let output = Output {
        texel: rows.texel,
        keep,
        difference,
        store,
    };
    let height = u64::from(rows.size[1]);
    let mut written = Written {
        names: vec![String::new(); pyramid.tiles() as usize],
        totals: [0; 2],
        count: Count::default(),
    };
    // Rows are read, tiles cut and tiles encoded at the same time.
    std::thread::scope(|scope| {
        let (sender, receiver) = mpsc::sync_channel(AHEAD);
        scope.spawn(move || {
            loop {
                let row = rows.next_row();
                let last = !matches!(row, Ok(Some(_)));
                if sender.send(row).is_err() || last {
                    return;
                }
            }
        });
        let (batches, cut) = mpsc::sync_channel::<(Vec<Job>, u64)>(0);
        let (output, written) = (&output, &mut written);
        let writer = scope.spawn(move || {
            cut.iter().try_for_each(|(jobs, read)| {
                output.write(&pyramid, &jobs, written)?;
                done(read, height);
                Ok(())
            })
        });
        let made = (|| {
            let mut read = 0;
            loop {
                let row = receiver
                    .recv()
                    .map_err(|_| PackError::Unreadable("the reader stopped".into()))??;
                let ended = row.is_none();
                if let Some(row) = row {
                    maker.take(0, row);
                    read += 1;
                }
                // A writer that is gone says why itself.
                if (maker.jobs.len() >= BATCH || ended)
                    && batches
                        .send((std::mem::take(&mut maker.jobs), read))
                        .is_err()
                {
                    return Ok(());
                }
                if ended {
                    return if read == height {
                        Ok(())
                    } else {
                        Err(PackError::Unreadable(format!(
                            "it ends after {read} of {height} rows"
                        )))
                    };
                }
            }
        })();
        drop(batches);
        let kept = writer.join();
        made.and(kept.unwrap_or_else(|_| Err(PackError::Encoding("the encoder stopped".into()))))
    })?;
    let Written {
        names,
        mut totals,
        count,
    } = written;
    let base_size = pyramid.size_of(pyramid.base_level());
    let base = codec::encode(&maker.base, base_size, output.texel, keep)?;
    let base_name = name_of(&base);
    let ending = codec::ending(output.texel);
    let base_path = path_of(&base_name, ending);
    output.put(&base_path, &base)?;
    totals[0] += u64::from(base_size[0]) * u64::from(base_size[1]);
    totals[1] += base.len() as u64;
    let levels = pyramid.levels().map(|level| {
        let (first, count) = (
            level.first as usize,
            (level.grid[0] * level.grid[1]) as usize,
        );
        IndexLevel {
            grid: level.grid,
            names: names[first..first + count].concat(),
        }
    });
    Ok(Packed {
        index: Index {
            format: FORMAT.to_owned(),
            size_px: pyramid.size,
            tile_px: TILE_PX,
            border_px: BORDER_PX,
            ending: ending.to_owned(),
            keep: keep.word().to_owned(),
            loss: count.loss(),
            base: base_path,
            levels: levels.collect(),
        },
        texels: totals[0],
        bytes: totals[1],
    })
}

/// A tile to be encoded.
struct Job {
    place: Place,
    texels: Vec<u8>,
}

/// What is known of the tiles that are written.
struct Written {
    names: Vec<String>,
    /// Texels and bytes.
    totals: [u64; 2],
    count: Count,
}

struct Output<'a> {
    texel: Texel,
    keep: Keep,
    difference: Difference<'a>,
    store: &'a dyn Store,
}

impl Output<'_> {
    fn write(
        &self,
        pyramid: &Pyramid,
        jobs: &[Job],
        written: &mut Written,
    ) -> Result<(), PackError> {
        let made: Vec<_> = jobs
            .par_iter()
            .enumerate()
            .map(|(i, job)| {
                let size = pyramid.stored_size(job.place);
                let bytes = codec::encode(&job.texels, size, self.texel, self.keep)?;
                let name = name_of(&bytes);
                self.put(&path_of(&name, codec::ending(self.texel)), &bytes)?;
                let lost = if self.keep.loses() && i % SAMPLED == 0 {
                    self.differences(&job.texels, &bytes)?
                } else {
                    Vec::new()
                };
                Ok((name, bytes.len(), lost))
            })
            .collect::<Result<_, PackError>>()?;
        for (job, (name, bytes, lost)) in jobs.iter().zip(made) {
            if let Some(number) = pyramid.number(job.place) {
                written.names[number as usize] = name;
            }
            written.totals[0] += (job.texels.len() / self.texel.bytes()) as u64;
            written.totals[1] += bytes as u64;
            lost.into_iter().for_each(|d| written.count.add(d));
        }
        Ok(())
    }

    fn put(&self, path: &str, bytes: &[u8]) -> Result<(), PackError> {
        self.store
            .write(path, bytes)
            .map_err(|error| PackError::Writing {
                file: path.to_owned(),
                error,
            })
    }

    /// Of the texels that are seen at all.
    fn differences(&self, texels: &[u8], bytes: &[u8]) -> Result<Vec<f64>, PackError> {
        let kept = image::load_from_memory_with_format(bytes, image::ImageFormat::WebP)
            .map_err(|e| PackError::Encoding(e.to_string()))?
            .to_rgba8();
        let pairs = texels
            .as_chunks::<4>()
            .0
            .iter()
            .zip(kept.as_raw().as_chunks::<4>().0);
        let seen = pairs.filter(|(before, _)| before[3] > 0);
        Ok(seen
            .map(|([r, g, b, _], [kr, kg, kb, _])| (self.difference)([*r, *g, *b], [*kr, *kg, *kb]))
            .collect())
    }
}

/// Rows of every level, as long as something is still made of them.
struct Maker {
    pyramid: Pyramid,
    texel: Texel,
    kind: Kind,
    levels: Vec<Waiting>,
    base: Vec<u8>,
    jobs: Vec<Job>,
}

struct Waiting {
    size: [u32; 2],
    rows: VecDeque<Vec<u8>>,
    /// Number of the first of them.
    first: usize,
    /// Rows of tiles that are cut.
    cut: u32,
    /// Rows of the next level that are made.
    halved: usize,
}

impl Waiting {
    fn received(&self) -> usize {
        self.first + self.rows.len()
    }

    fn row(&self, y: usize) -> &[u8] {
        &self.rows[y - self.first]
    }
}

impl Maker {
    fn new(pyramid: Pyramid, texel: Texel, kind: Kind) -> Self {
        let waiting = |level| Waiting {
            size: pyramid.size_of(level),
            rows: VecDeque::new(),
            first: 0,
            cut: 0,
            halved: 0,
        };
        Self {
            pyramid,
            texel,
            kind,
            levels: (0..pyramid.base_level()).map(waiting).collect(),
            base: Vec::new(),
            jobs: Vec::new(),
        }
    }

    /// Takes the next row of a level, and makes of it what can be made.
    fn take(&mut self, level: usize, row: Vec<u8>) {
        let Some(waiting) = self.levels.get_mut(level) else {
            self.base.extend(row);
            return;
        };
        waiting.rows.push_back(row);
        loop {
            let waiting = &mut self.levels[level];
            let below = self.pyramid.size_of(level as u32 + 1);
            let next = waiting.halved;
            let ([a, b], weight) = sources(next, waiting.size[1], below[1]);
            if next >= below[1] as usize || b >= waiting.received() {
                break;
            }
            waiting.halved += 1;
            let widths = [waiting.size[0], below[0]];
            let made = halved(
                [waiting.row(a), waiting.row(b)],
                weight,
                widths,
                self.texel,
                self.kind,
            );
            self.take(level + 1, made);
        }
        self.cut(level);
    }

    /// Cuts the rows of tiles that are whole, and forgets rows nobody needs.
    fn cut(&mut self, level: usize) {
        let height = self.levels[level].size[1];
        while self.levels[level].cut * TILE_PX < height {
            let waiting = &self.levels[level];
            let needed = ((waiting.cut + 1) * TILE_PX + BORDER_PX).min(height);
            if waiting.received() < needed as usize {
                break;
            }
            for x in 0..waiting.size[0].div_ceil(TILE_PX) {
                let place = Place {
                    level: level as u32,
                    x,
                    y: waiting.cut,
                };
                let texels = self.tile(place);
                self.jobs.push(Job { place, texels });
            }
            self.levels[level].cut += 1;
        }
        let below = self.pyramid.size_of(level as u32 + 1)[1];
        let waiting = &mut self.levels[level];
        let for_tiles = (waiting.cut * TILE_PX).saturating_sub(BORDER_PX) as usize;
        let for_halving = if waiting.halved < below as usize {
            sources(waiting.halved, waiting.size[1], below).0[0]
        } else {
            usize::MAX
        };
        while waiting.first < for_tiles.min(for_halving) && !waiting.rows.is_empty() {
            waiting.rows.pop_front();
            waiting.first += 1;
        }
    }

    /// A tile with its border; beyond the image its last texels go on.
    fn tile(&self, place: Place) -> Vec<u8> {
        let waiting = &self.levels[place.level as usize];
        let [width, height] = self.pyramid.stored_size(place).map(|s| s as usize);
        let bytes = self.texel.bytes();
        let source = |at: u32, i: usize, side: u32| {
            let from = i64::from(at * TILE_PX) + i as i64 - i64::from(BORDER_PX);
            from.clamp(0, i64::from(side) - 1) as usize
        };
        let mut texels = Vec::with_capacity((STORED_PX * STORED_PX) as usize * bytes);
        for y in 0..height {
            let row = waiting.row(source(place.y, y, waiting.size[1]));
            for x in 0..width {
                let at = source(place.x, x, waiting.size[0]) * bytes;
                texels.extend_from_slice(&row[at..at + bytes]);
            }
        }
        texels
    }
}
