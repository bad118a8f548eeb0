//! Photographs of one set-up in different bands, brought over one another: a tripod nudged, a focus
//! that shifts in infrared.
//!
//! Shifts of small squares all over the picture are found by the direction of edges, which bands
//! share even where their contrast is inverted; a map is fitted to those that agree; and how many
//! agree, how well, and how much the map moves when squares are left out, say how sure it is. Where it is
//! sure, smaller squares say it once more, to tenths of a pixel.

mod certainty;
mod coarse;
mod edges;
mod fft;
mod motion;
mod plane;
mod refine;
mod tiles;
mod warp;

use std::cell::OnceCell;

use serde::{Deserialize, Serialize};

use crate::error::{ImagingError, Result};
use crate::geometry::{Homography, Point, distance};
use certainty::{GROUPS, chance_log10, schwarz, spread, standard_error};
use motion::{Agreed, agree};
use refine::Refined;
use tiles::{Squares, Tiles};

pub use motion::Kind;
pub use plane::Plane;
pub(crate) use plane::keys;
pub use warp::{Warped, warp};

/// How to register.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    /// The kind of map; `None` for the plainest that explains the shifts.
    pub kind: Option<Kind>,
    /// For drawing samples.
    pub seed: u64,
}

/// One kind of map that was tried.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TriedKind {
    /// The kind.
    pub kind: Kind,
    /// Squares that agree with it.
    pub agreeing: usize,
    /// Root mean square of their distances, in pixels of the moving photograph.
    pub rms_px: f64,
    /// Its standard error where it is largest in the picture, in pixels.
    pub standard_error_px: Option<f64>,
}

/// A map and how sure it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Registration {
    /// The kind of map.
    pub kind: Kind,
    /// From pixels of the fixed photograph to those of the moving one, row by row, for (x, y, 1).
    pub moving_from_fixed: [[f64; 3]; 3],
    /// How far points are moved: the root mean square over the picture, in pixels.
    pub moved_rms_px: f64,
    /// The shift at the middle of the picture, in pixels.
    pub shift_px: Point,
    /// The turn at the middle of the picture, in degrees, clockwise as seen.
    pub turn_deg: f64,
    /// The scale at the middle of the picture.
    pub scale: f64,
    /// Squares with edges enough.
    pub squares: usize,
    /// Squares whose edges show a clear shift.
    pub clear: usize,
    /// Squares that agree with the map.
    pub agreeing: usize,
    /// Root mean square of the distances of these, in pixels.
    pub rms_px: f64,
    /// Their mean correlation, 0..1.
    pub correlation: f64,
    /// The standard error of the map where it is largest in the picture, in pixels.
    pub standard_error_px: f64,
    /// The decimal logarithm of the probability of such agreement by chance.
    pub chance_log10: f64,
    /// Pixels of the photograph that one pixel of the finest level used stands for: above 1 where
    /// one of the two is blurred.
    pub level_px: f64,
    /// All kinds tried.
    pub tried: Vec<TriedKind>,
}

impl Registration {
    /// The map.
    pub fn map(&self) -> Homography {
        Homography::from_rows(self.moving_from_fixed)
    }
}

/// The least picture, in pixels along the shorter side: a few squares (a choice of ours).
const LEAST_PX: usize = 96;

/// The coarsest level is no larger than this along the longer side.
const COARSE_PX: usize = 256;

/// Squares agree within this, in pixels of their level.
const RADIUS: f64 = 1.0;

/// Choices of ours: a registration is sure if by chance as many squares would agree once in a million times, …
const CHANCE_LOG10: f64 = -6.0;
/// … at least this many and this share of the clear ones agree, …
const LEAST_AGREEING: usize = 10;
const LEAST_SHARE: f64 = 0.25;
/// … its standard error, in pixels of the photograph, is below this, …
const LARGEST_ERROR_PX: f64 = 0.5;
/// … and no other map has this share of the squares that agree with it.
const RIVAL: f64 = 0.7;

/// What every square may be off alike, in pixels of its level: the parabola is not quite the summit.
const SUMMIT_ERROR: f64 = 0.01;

/// First maps that are followed.
const FOLLOWED: usize = 3;

/// One with which a smaller share agrees at the coarsest level is followed no further (a choice of ours).
const HOPELESS: f64 = 0.1;

/// Finds the map from `fixed` to `moving`.
///
/// # Errors
/// The pictures are too small or of different shapes, or it is not sure that they show the same.
pub fn register(fixed: &Plane, moving: &Plane, options: &Options) -> Result<Registration> {
    found(fixed, moving, options, LARGEST_ERROR_PX, true)
}

/// As [`register`], with a standard error of up to `largest_error_px` somewhere in the picture and from larger
/// squares alone: for what is only a start.
pub(crate) fn found_map(
    fixed: &Plane,
    moving: &Plane,
    options: &Options,
    largest_error_px: f64,
) -> Result<Registration> {
    found(fixed, moving, options, largest_error_px, false)
}

fn found(
    fixed: &Plane,
    moving: &Plane,
    options: &Options,
    largest_error_px: f64,
    is_refined: bool,
) -> Result<Registration> {
    let least = |p: &Plane| p.width_px.min(p.height_px);
    if least(fixed).min(least(moving)) < LEAST_PX {
        return Err(ImagingError::new(
            format!("a picture of less than {LEAST_PX} px along a side shows too little"),
            "the photographs",
            "Give the photographs at their full size.",
        ));
    }
    let scale = moving.width_px as f64 / fixed.width_px as f64;
    let tall = moving.height_px as f64 / fixed.height_px as f64;
    // Crops of a few pixels differ by less.
    if (tall / scale - 1.0).abs() > 0.1 {
        return Err(ImagingError::new(
            format!(
                "the photographs have different shapes: {} × {} px and {} × {} px",
                fixed.width_px, fixed.height_px, moving.width_px, moving.height_px
            ),
            "the photographs",
            "Register photographs of one set-up; turn one if an EXIF flag turns only the other. Those \
             of different places need a pose each.",
        ));
    }
    let levels = Levels::of(fixed, moving);
    let (small_fixed, small_moving) = levels.coarsest();
    let turned = options.kind != Some(Kind::Translation);
    let firsts = coarse::first_maps(small_fixed, small_moving, scale, turned);
    let mut found: Vec<Found> = firsts
        .iter()
        .take(FOLLOWED)
        .filter_map(|first| levels.follow(&first.map, scale, options))
        .collect();
    found.sort_by_key(|f| std::cmp::Reverse(f.agreed.right.len()));
    let size = [fixed.width_px as f64, fixed.height_px as f64];
    let Some(best) = found.first() else {
        return Err(unsure("no squares agree on a map".to_owned()));
    };
    let rival = found[1..].iter().find(|other| {
        let corners = [[0.0, 0.0], size];
        let apart = corners.map(|p| distance(best.map().apply(p), other.map().apply(p)));
        apart[0].max(apart[1]) > 3.0 * best.level_px
            && other.agreed.right.len() as f64 > RIVAL * best.agreed.right.len() as f64
    });
    if rival.is_some() {
        return Err(unsure(format!(
            "two different maps have nearly as many squares for them ({} and {} of {})",
            best.agreed.right.len(),
            rival.map_or(0, |r| r.agreed.right.len()),
            best.tiles.pairs.len()
        )));
    }
    let refined = is_refined.then(|| levels.refined(best)).flatten();
    judged(best, refined, size, largest_error_px)
}

/// Squares of `fixed` that are clearly found again in `moving` near where `map` takes them, at a level that
/// halves both pictures until a pixel stands for `level_px`; centres in pixels of both pictures.
pub(crate) fn found_squares(
    fixed: &Plane,
    moving: &Plane,
    map: &Homography,
    level_px: f64,
) -> Vec<[Point; 2]> {
    let (mut fixed, mut moving) = (fixed.clone(), moving.clone());
    let mut level = 1.0;
    while level < level_px {
        (fixed, moving) = (fixed.halved(), moving.halved());
        level *= 2.0;
    }
    let squares = Squares::of(&fixed, edges::usual_gradient(&fixed));
    let map = map.in_unit(level);
    let tiles = squares.shifts(&moving, &map, edges::usual_gradient(&moving));
    let scaled = |p: Point| p.map(|v| v * level);
    tiles.pairs.into_iter().map(|p| p.map(scaled)).collect()
}

fn unsure(why: String) -> ImagingError {
    ImagingError::new(
        format!("it is not sure that these photographs show the same: {why}"),
        "the photographs",
        "Check that they belong together and overlap, and that their edges are sharp; where the bands \
         share no edges, give each photograph a pose by points.",
    )
}

/// What is sure is told by the larger squares, since a small one is more easily like another; the map is the finer one
/// where there is one, with its standard error.
fn judged(
    found: &Found,
    refined: Option<(Homography, f64)>,
    size: [f64; 2],
    largest_error_px: f64,
) -> Result<Registration> {
    let (clear, agreeing) = (found.tiles.pairs.len(), found.agreed.right.len());
    let chance = chance_log10(found.kind, &found.tiles, agreeing, RADIUS);
    let counts = format!("{agreeing} of {clear} squares agree");
    let share = agreeing as f64 / clear.max(1) as f64;
    if agreeing < LEAST_AGREEING || share < LEAST_SHARE || chance > CHANCE_LOG10 {
        return Err(unsure(format!(
            "{counts}, which happens by chance with a probability of 10^{chance:.1}"
        )));
    }
    let error = found.standard_error_px;
    if error > largest_error_px {
        return Err(unsure(format!(
            "{counts}, but leave the map open to {error:.2} px somewhere in the picture"
        )));
    }
    let (map, error) = refined.unwrap_or((found.map(), error));
    let shares: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
    let points: Vec<Point> = shares
        .iter()
        .flat_map(|y| shares.map(|x| [x * size[0], y * size[1]]))
        .collect();
    let squares: f64 = points
        .iter()
        .map(|&p| distance(map.apply(p), p).powi(2))
        .sum();
    let middle = size.map(|v| v / 2.0);
    let there = map.apply(middle);
    let aside = map.apply([middle[0] + 1.0, middle[1]]);
    let (dx, dy) = (aside[0] - there[0], aside[1] - there[1]);
    Ok(Registration {
        kind: found.kind,
        moving_from_fixed: map.rows(),
        moved_rms_px: (squares / points.len() as f64).sqrt(),
        shift_px: [0, 1].map(|k| there[k] - middle[k]),
        turn_deg: dy.atan2(dx).to_degrees(),
        scale: dx.hypot(dy),
        squares: found.tiles.tried,
        clear,
        agreeing,
        rms_px: found.agreed.rms(&found.tiles.pairs) * found.level_px,
        correlation: found.tiles.correlation,
        standard_error_px: error,
        chance_log10: chance,
        level_px: found.level_px,
        tried: found.tried.clone(),
    })
}

/// A map at one level.
struct Found {
    kind: Kind,
    tiles: Tiles,
    agreed: Agreed,
    level_px: f64,
    standard_error_px: f64,
    tried: Vec<TriedKind>,
}

impl Found {
    /// Whether its level tells the map better. A plain kind of map has a small standard error even where it
    /// does not fit: levels are compared by one kind, whichever each of them took.
    fn is_surer(&self, other: &Self) -> bool {
        let error = |found: &Self, kind: Kind| {
            let of_kind = found.tried.iter().find(|tried| tried.kind == kind);
            of_kind.and_then(|tried| tried.standard_error_px)
        };
        let kinds = [Kind::Similarity, Kind::Translation, Kind::Homography];
        let both = kinds
            .iter()
            .find_map(|kind| error(self, *kind).zip(error(other, *kind)));
        let (own, others) = both.unwrap_or((self.standard_error_px, other.standard_error_px));
        own <= others
    }

    /// The map in pixels of the photographs.
    fn map(&self) -> Homography {
        self.agreed.map.in_unit(1.0 / self.level_px)
    }
}

/// Both pictures at all sizes, the finest first.
struct Levels {
    planes: Vec<(Plane, Plane)>,
    usual: Vec<[f32; 2]>,
    /// Of the fixed picture, made when a level is first reached.
    squares: Vec<OnceCell<Squares>>,
}

impl Levels {
    fn of(fixed: &Plane, moving: &Plane) -> Self {
        let mut planes = vec![(fixed.clone(), moving.clone())];
        loop {
            let (f, m) = &planes[planes.len() - 1];
            let least = f.width_px.min(f.height_px).min(m.width_px.min(m.height_px));
            if f.width_px.max(f.height_px) <= COARSE_PX || least < 2 * LEAST_PX {
                break;
            }
            planes.push((f.halved(), m.halved()));
        }
        let usual = planes
            .iter()
            .map(|(f, m)| [edges::usual_gradient(f), edges::usual_gradient(m)])
            .collect();
        let squares = planes.iter().map(|_| OnceCell::new()).collect();
        Self {
            planes,
            usual,
            squares,
        }
    }

    fn coarsest(&self) -> (&Plane, &Plane) {
        let (f, m) = &self.planes[self.planes.len() - 1];
        (f, m)
    }

    /// The map of the photographs once more, from smaller squares at the level where it was found, and its standard
    /// error; `None` where too few of them agree with it.
    fn refined(&self, found: &Found) -> Option<(Homography, f64)> {
        let level = (0..self.planes.len()).find(|n| f64::from(1u32 << n) >= found.level_px)?;
        let (fixed, moving) = &self.planes[level];
        let size = [fixed.width_px as f64, fixed.height_px as f64];
        let refined = Refined::of(
            found.kind,
            [fixed, moving],
            self.usual[level],
            &found.agreed.map,
            RADIUS,
            found.agreed.right.len(),
        )?;
        let error = spread(&refined.without_groups(found.kind, GROUPS)?, size)?;
        let map = refined.map.in_unit(1.0 / found.level_px);
        Some((map, error.hypot(SUMMIT_ERROR) * found.level_px))
    }

    /// Follows a first map of the coarsest level to the finest; the level that is surest counts.
    fn follow(&self, first: &Homography, scale: f64, options: &Options) -> Option<Found> {
        let mut map = *first;
        let mut best: Option<Found> = None;
        for level in (0..self.planes.len()).rev() {
            let (fixed, moving) = &self.planes[level];
            let level_px = f64::from(1u32 << level);
            let [usual, usual_moving] = self.usual[level];
            let squares = self.squares[level].get_or_init(|| Squares::of(fixed, usual));
            // The last time tells only how well the map fits; the shifts are then near 0, where the
            // summit of the correlation is not drawn aside.
            let times = if level == 0 { 4 } else { 3 };
            for time in 0..times {
                let tiles = squares.shifts(moving, &map, usual_moving);
                let last = time + 1 == times;
                let radius = if last { RADIUS } else { 2.0 * RADIUS };
                // Of the plain kinds first, while there is little to tell them by.
                let coarse = options
                    .kind
                    .unwrap_or(Kind::Homography)
                    .min(Kind::Similarity);
                let kind = if time == 0 && best.is_none() {
                    coarse
                } else {
                    Kind::Homography
                };
                let kind = options.kind.map_or(kind, |k| k.min(kind));
                let Some(agreed) = agree(kind, &tiles.pairs, radius, options.seed) else {
                    break;
                };
                let share = agreed.right.len() as f64 / tiles.pairs.len() as f64;
                if last && best.is_none() && share < HOPELESS {
                    return None;
                }
                if !is_nudge(&agreed.map, fixed, scale) {
                    return best;
                }
                map = agreed.map;
                if last && let Some(found) = chosen(tiles, fixed, level_px, options) {
                    map = found.agreed.map;
                    if best.as_ref().is_none_or(|b| found.is_surer(b)) {
                        best = Some(found);
                    }
                }
            }
            map = map.in_unit(0.5);
        }
        best
    }
}

/// How far one set-up may be scaled and turned between two photographs, and how much more anywhere in
/// the picture: beyond what [`coarse`] looks for. A map that shrinks the picture to a spot would find
/// all squares alike.
const LARGEST_SCALE: f64 = 1.15;
const LARGEST_TURN_DEG: f64 = 8.0;

/// Whether a map is one of a set-up that was nudged.
fn is_nudge(map: &Homography, fixed: &Plane, scale: f64) -> bool {
    let (w, h) = (fixed.width_px as f64, fixed.height_px as f64);
    let points = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h], [w / 2.0, h / 2.0]];
    points.into_iter().all(|[x, y]| {
        let there = map.apply([x, y]);
        [[1.0, 0.0], [0.0, 1.0]].into_iter().all(|[dx, dy]| {
            let aside = map.apply([x + dx, y + dy]);
            let (u, v) = (aside[0] - there[0], aside[1] - there[1]);
            // Along and across the direction that went in.
            let (along, across) = (u * dx + v * dy, v * dx - u * dy);
            let by = along.hypot(across) / scale;
            (1.0 / LARGEST_SCALE..LARGEST_SCALE).contains(&by)
                && across.atan2(along).abs() < LARGEST_TURN_DEG.to_radians()
        })
    })
}

/// The kind of map that pays for its numbers.
fn chosen(tiles: Tiles, fixed: &Plane, level_px: f64, options: &Options) -> Option<Found> {
    let size = [fixed.width_px as f64, fixed.height_px as f64];
    let kinds: Vec<Kind> = options.kind.map_or(Kind::ALL.to_vec(), |kind| vec![kind]);
    let fits: Vec<(Kind, Agreed)> = kinds
        .into_iter()
        .filter_map(|kind| Some((kind, agree(kind, &tiles.pairs, RADIUS, options.seed)?)))
        .collect();
    // What any of them explains is to be explained; the rest costs as much as it may.
    let mut any: Vec<usize> = fits.iter().flat_map(|f| f.1.right.clone()).collect();
    any.sort_unstable();
    any.dedup();
    let cost = |(kind, agreed): &(Kind, Agreed)| {
        let squares = any.iter().map(|&i| {
            let [from, to] = tiles.pairs[i];
            distance(agreed.map.apply(from), to).min(RADIUS).powi(2)
        });
        schwarz(*kind, squares.sum(), any.len(), tiles.independent)
    };
    let error = |(kind, agreed): &(Kind, Agreed)| -> Option<f64> {
        let error = standard_error(*kind, &tiles.pairs, agreed, size)?;
        Some(error.hypot(SUMMIT_ERROR) * level_px)
    };
    let tried: Vec<TriedKind> = fits
        .iter()
        .map(|fit| TriedKind {
            kind: fit.0,
            agreeing: fit.1.right.len(),
            rms_px: fit.1.rms(&tiles.pairs) * level_px,
            standard_error_px: error(fit),
        })
        .collect();
    let (kind, agreed) = fits
        .iter()
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?
        .clone();
    let standard_error_px = error(&(kind, agreed.clone()))?;
    Some(Found {
        kind,
        agreed,
        level_px,
        standard_error_px,
        tried,
        tiles,
    })
}
