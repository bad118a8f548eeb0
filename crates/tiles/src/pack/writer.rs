//! From rows to files.

use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, mpsc};

use super::PackError;
use super::codec::{self, Keep};
use super::halving::{Halving, sources};
use super::loss::Count;
use super::rows::{Kind, Rows, Texel};
use crate::index::{FORMAT, Index, IndexLevel, name_of, path_of};
use crate::{BORDER_PX, Place, Pyramid, TILE_PX};

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

/// Tiles that wait to be encoded at most, so that all cores have work while the rows of the next ones are
/// read, and memory stays small: they hold the rows they are cut from, of an image 16,384 px wide some 50 MB.
const QUEUED: usize = 128;
/// Rows that may be read ahead.
const AHEAD: usize = 64;
/// Every so many tiles one is decoded again where something is lost; a choice of ours.
const SAMPLED: u64 = 8;

/// The GNU C library gives free memory back to the system, to ask for it again with the next tile, until a block
/// has come and gone that says how much is worth keeping (mallopt(3), `M_MMAP_THRESHOLD`: twice its size, and
/// 32 MiB count at most). An encoder needs some 3 MB a tile.
const KEPT_BYTES: usize = 8 << 20;

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
    drop(std::hint::black_box(Vec::<u8>::with_capacity(KEPT_BYTES)));
    let height = u64::from(rows.size[1]);
    let written = Mutex::new(Written {
        names: vec![String::new(); pyramid.tiles() as usize],
        ..Written::default()
    });
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
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
        let (queue, queued) = mpsc::sync_channel::<Job>(QUEUED);
        let queued = Arc::new(Mutex::new(queued));
        let encoders: Vec<_> = (0..processors)
            .map(|_| {
                let queued = Arc::clone(&queued);
                let (output, written) = (&output, &written);
                scope.spawn(move || {
                    let mut texels = Vec::new();
                    loop {
                        let next = locked(&queued).recv();
                        let Ok(job) = next else {
                            return Ok::<(), PackError>(());
                        };
                        let done = output.write(&job, &mut texels)?;
                        locked(written).take(&pyramid, done);
                    }
                })
            })
            .collect();
        // With the last encoder that broke off the queue is gone too.
        drop(queued);
        let made = (|| {
            let mut read = 0;
            loop {
                let row = receiver
                    .recv()
                    .map_err(|_| PackError::Unreadable("the reader stopped".into()))??;
                let Some(row) = row else { break };
                maker.take(0, row);
                read += 1;
                for job in maker.jobs.drain(..) {
                    // An encoder that is gone says why itself.
                    if queue.send(job).is_err() {
                        return Ok(());
                    }
                }
                done(read, height);
            }
            if read == height {
                Ok(())
            } else {
                Err(PackError::Unreadable(format!(
                    "it ends after {read} of {height} rows"
                )))
            }
        })();
        drop(queue);
        let stopped = || PackError::Encoding("the encoder stopped".into());
        let kept = encoders
            .into_iter()
            .map(|encoder| encoder.join().unwrap_or_else(|_| Err(stopped())));
        made.and(kept.collect::<Result<(), PackError>>())
    })?;
    let Written {
        names,
        texels,
        bytes,
        count,
        base,
        ..
    } = written.into_inner().unwrap_or_else(PoisonError::into_inner);
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
            ending: codec::ending(output.texel).to_owned(),
            keep: keep.word().to_owned(),
            loss: count.loss(),
            base: path_of(&base, codec::ending(output.texel)),
            levels: levels.collect(),
        },
        texels,
        bytes,
    })
}

/// A tile or the base, to be encoded.
struct Job {
    /// How many came before.
    turn: u64,
    /// Nothing for the base.
    place: Option<Place>,
    size: [u32; 2],
    /// Whether it is decoded again where something is lost.
    sampled: bool,
    /// Rows of the level from which it is cut: one for each of its own.
    rows: Arc<Vec<Row>>,
}

/// Texels of a level from the left to the right, which the tiles above one another share.
type Row = Arc<Vec<u8>>;

impl Job {
    /// Its texels: those of a tile with its border; beyond the image its last texels go on.
    fn cut(&self, texel: Texel, texels: &mut Vec<u8>) {
        texels.clear();
        let bytes = texel.bytes();
        let Some(place) = self.place else {
            self.rows
                .iter()
                .for_each(|row| texels.extend_from_slice(row));
            return;
        };
        let left = place.x * TILE_PX;
        let before = BORDER_PX.saturating_sub(left) as usize;
        let first = left.saturating_sub(BORDER_PX) as usize * bytes;
        let width = self.size[0] as usize;
        for row in self.rows.iter() {
            let rest = &row[first..];
            let inside = rest.len().min((width - before) * bytes);
            let after = width - before - inside / bytes;
            let (first, last) = (&rest[..bytes], &rest[inside - bytes..inside]);
            (0..before).for_each(|_| texels.extend_from_slice(first));
            texels.extend_from_slice(&rest[..inside]);
            (0..after).for_each(|_| texels.extend_from_slice(last));
        }
    }
}

/// A file that is written.
struct Done {
    turn: u64,
    place: Option<Place>,
    name: String,
    texels: u64,
    bytes: u64,
    lost: Vec<f64>,
}

/// What is known of the files that are written.
#[derive(Default)]
struct Written {
    names: Vec<String>,
    base: String,
    texels: u64,
    bytes: u64,
    count: Count,
    /// How many are taken in, each in its turn: a sum of numbers depends on their order.
    turn: u64,
    /// Those that came too early.
    early: BTreeMap<u64, Done>,
}

impl Written {
    fn take(&mut self, pyramid: &Pyramid, done: Done) {
        self.early.insert(done.turn, done);
        while let Some(done) = self.early.remove(&self.turn) {
            self.turn += 1;
            match done.place {
                Some(place) => {
                    if let Some(number) = pyramid.number(place) {
                        self.names[number as usize] = done.name;
                    }
                }
                None => self.base = done.name,
            }
            self.texels += done.texels;
            self.bytes += done.bytes;
            done.lost.into_iter().for_each(|d| self.count.add(d));
        }
    }
}

/// What a thread that broke off has left is whole: it is changed in one step.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

struct Output<'a> {
    texel: Texel,
    keep: Keep,
    difference: Difference<'a>,
    store: &'a dyn Store,
}

impl Output<'_> {
    /// `texels` is memory for them that is used again.
    fn write(&self, job: &Job, texels: &mut Vec<u8>) -> Result<Done, PackError> {
        job.cut(self.texel, texels);
        let bytes = codec::encode(texels, job.size, self.texel, self.keep)?;
        let name = name_of(&bytes);
        self.put(&path_of(&name, codec::ending(self.texel)), &bytes)?;
        let lost = if self.keep.loses() && job.sampled {
            self.differences(texels, &bytes)?
        } else {
            Vec::new()
        };
        Ok(Done {
            turn: job.turn,
            place: job.place,
            name,
            texels: (texels.len() / self.texel.bytes()) as u64,
            bytes: bytes.len() as u64,
            lost,
        })
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
    levels: Vec<Waiting>,
    base: Vec<Row>,
    jobs: Vec<Job>,
    /// How many jobs there were, and how many of them tiles.
    turn: u64,
    tiles: u64,
}

struct Waiting {
    size: [u32; 2],
    halving: Halving,
    rows: VecDeque<Row>,
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

    fn row(&self, y: usize) -> &Row {
        &self.rows[y - self.first]
    }

    /// Rows of the next row of tiles with their borders; beyond the image its last rows go on.
    fn rows_of_tiles(&self) -> Vec<Row> {
        let [top, border] = [self.cut * TILE_PX, BORDER_PX].map(i64::from);
        let last = i64::from(self.size[1]) - 1;
        let end = (top + i64::from(TILE_PX) - 1).min(last) + border;
        (top - border..=end)
            .map(|y| Arc::clone(self.row(y.clamp(0, last) as usize)))
            .collect()
    }
}

impl Maker {
    fn new(pyramid: Pyramid, texel: Texel, kind: Kind) -> Self {
        let waiting = |level| Waiting {
            size: pyramid.size_of(level),
            halving: Halving::new(
                [level, level + 1].map(|l| pyramid.size_of(l)[0]),
                texel,
                kind,
            ),
            rows: VecDeque::new(),
            first: 0,
            cut: 0,
            halved: 0,
        };
        Self {
            pyramid,
            levels: (0..pyramid.base_level()).map(waiting).collect(),
            base: Vec::new(),
            jobs: Vec::new(),
            turn: 0,
            tiles: 0,
        }
    }

    /// Takes the next row of a level, and makes of it what can be made.
    fn take(&mut self, level: usize, row: Vec<u8>) {
        let Some(waiting) = self.levels.get_mut(level) else {
            self.base.push(Arc::new(row));
            let size = self.pyramid.size_of(self.pyramid.base_level());
            if self.base.len() == size[1] as usize {
                let base = Arc::new(std::mem::take(&mut self.base));
                self.ask(None, size, base);
            }
            return;
        };
        waiting.rows.push_back(Arc::new(row));
        loop {
            let waiting = &mut self.levels[level];
            let below = self.pyramid.size_of(level as u32 + 1);
            let next = waiting.halved;
            let ([a, b], weight) = sources(next, waiting.size[1], below[1]);
            if next >= below[1] as usize || b >= waiting.received() {
                break;
            }
            waiting.halved += 1;
            let rows = [a, b].map(|y| waiting.row(y).as_slice());
            let made = waiting.halving.row(rows, weight);
            self.take(level + 1, made);
        }
        self.cut(level);
    }

    fn ask(&mut self, place: Option<Place>, size: [u32; 2], rows: Arc<Vec<Row>>) {
        self.jobs.push(Job {
            turn: self.turn,
            place,
            size,
            sampled: place.is_some() && self.tiles.is_multiple_of(SAMPLED),
            rows,
        });
        self.turn += 1;
        self.tiles += u64::from(place.is_some());
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
            let (y, columns) = (waiting.cut, waiting.size[0].div_ceil(TILE_PX));
            let rows = Arc::new(waiting.rows_of_tiles());
            for x in 0..columns {
                let level = level as u32;
                let place = Place { level, x, y };
                let size = self.pyramid.stored_size(place);
                self.ask(Some(place), size, Arc::clone(&rows));
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
}
