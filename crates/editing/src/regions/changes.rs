//! What a step changed, exactly enough to take it back.

use super::{RegionMaps, Selection};

/// Which texels a tool may change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Over {
    /// Those that belong to no region.
    Free,
    /// Every one.
    All,
    /// Those that have one of these numbers (0: no region).
    Numbers(Vec<u16>),
}

impl Over {
    /// Whether a texel of this number may be changed.
    #[must_use]
    pub fn allows(&self, number: u16) -> bool {
        match self {
            Self::Free => number == 0,
            Self::All => true,
            Self::Numbers(numbers) => numbers.contains(&number),
        }
    }
}

/// Neighbouring texels of a row-by-row map that changed in the same way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// Index of the first in [`super::RegionMap::labels`].
    pub first: u32,
    /// How many.
    pub count: u32,
    /// Their number before.
    pub before: u16,
    /// Their number after.
    pub after: u16,
}

/// A rectangle of texels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rect {
    /// Left column.
    pub x: u32,
    /// Top row.
    pub y: u32,
    /// Width in texels.
    pub width: u32,
    /// Height in texels.
    pub height: u32,
}

/// What changed on one map.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MapChange {
    /// Index into [`RegionMaps::maps`].
    pub map: usize,
    /// In rising order, no two of them over the same texel.
    pub runs: Vec<Run>,
    /// The smallest rectangle around all of them.
    pub rect: Rect,
}

/// What one step changed. Steps are taken back in the opposite order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// One per map that changed.
    pub maps: Vec<MapChange>,
}

impl Changes {
    /// Whether nothing changed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.maps.is_empty()
    }

    /// How many texels changed.
    #[must_use]
    pub fn texel_count(&self) -> u64 {
        let runs = self.maps.iter().flat_map(|m| &m.runs);
        runs.map(|run| u64::from(run.count)).sum()
    }

    /// Gives the texels the numbers they had before.
    pub fn undo(&self, maps: &mut RegionMaps) {
        self.write(maps, |run| run.before);
    }

    /// Gives the texels the numbers they had after.
    pub fn redo(&self, maps: &mut RegionMaps) {
        self.write(maps, |run| run.after);
    }

    fn write(&self, maps: &mut RegionMaps, number: impl Fn(&Run) -> u16) {
        for change in &self.maps {
            let Some(map) = maps.maps.get_mut(change.map) else {
                continue;
            };
            for run in &change.runs {
                let first = run.first as usize;
                if let Some(texels) = map.labels.get_mut(first..first + run.count as usize) {
                    texels.fill(number(run));
                }
            }
        }
    }
}

impl RegionMaps {
    /// Gives the selected texels a number (0: none), as far as `over` allows.
    /// The selection is of a geometry made for maps of the sizes of these.
    pub fn paint(&mut self, selection: &Selection, number: u16, over: &Over) -> Changes {
        let mut texels = selection.texels();
        self.change(|first, labels, recorder| {
            let end = first + labels.len() as u64;
            let inside = texels.partition_point(|t| u64::from(*t) < end);
            let (mine, rest) = texels.split_at(inside);
            texels = rest;
            for texel in mine {
                let at = (u64::from(*texel) - first) as u32;
                let before = labels[at as usize];
                if before != number && over.allows(before) {
                    labels[at as usize] = number;
                    recorder.note(at, before, number);
                }
            }
        })
    }

    /// Gives every texel that has the number `from` the number `to` (0: none).
    pub fn assign(&mut self, from: u16, to: u16) -> Changes {
        self.change(|_, labels, recorder| {
            for (at, label) in labels.iter_mut().enumerate() {
                if *label == from && from != to {
                    *label = to;
                    recorder.note(at as u32, from, to);
                }
            }
        })
    }

    /// Calls `each` for every map with the number of its first texel, counted
    /// through all maps.
    fn change(&mut self, mut each: impl FnMut(u64, &mut [u16], &mut Recorder)) -> Changes {
        let mut changes = Changes::default();
        let mut first = 0;
        for (number, map) in self.maps.iter_mut().enumerate() {
            let mut recorder = Recorder::default();
            each(first, &mut map.labels, &mut recorder);
            first += map.labels.len() as u64;
            changes
                .maps
                .extend(recorder.finish(number, map.width_px.max(1)));
        }
        changes
    }

    /// The numbers in a rectangle of a map, row by row; what lies outside the map is 0.
    #[must_use]
    pub fn texels(&self, map: usize, rect: Rect) -> Vec<u16> {
        let Some(map) = self.maps.get(map) else {
            return Vec::new();
        };
        let rows = rect.y..rect.y.saturating_add(rect.height);
        let at = |x: u32, y: u32| {
            let inside = x < map.width_px && y < map.height_px;
            let at = y as usize * map.width_px as usize + x as usize;
            inside.then(|| map.labels.get(at).copied()).flatten()
        };
        rows.flat_map(|y| {
            let columns = rect.x..rect.x.saturating_add(rect.width);
            columns.map(move |x| at(x, y).unwrap_or(0))
        })
        .collect()
    }
}

/// Gathers changed texels, in rising order, into runs.
#[derive(Default)]
struct Recorder {
    runs: Vec<Run>,
}

impl Recorder {
    fn note(&mut self, at: u32, before: u16, after: u16) {
        if let Some(run) = self.runs.last_mut()
            && run.first + run.count == at
            && (run.before, run.after) == (before, after)
        {
            run.count += 1;
            return;
        }
        self.runs.push(Run {
            first: at,
            count: 1,
            before,
            after,
        });
    }

    fn finish(self, map: usize, width_px: u32) -> Option<MapChange> {
        let (first, last) = (self.runs.first()?, self.runs.last()?);
        let (top, bottom) = (
            first.first / width_px,
            (last.first + last.count - 1) / width_px,
        );
        let (mut left, mut right) = (width_px - 1, 0);
        for run in &self.runs {
            let end = run.first + run.count - 1;
            if run.first / width_px == end / width_px {
                left = left.min(run.first % width_px);
                right = right.max(end % width_px);
            } else {
                (left, right) = (0, width_px - 1);
            }
        }
        let rect = Rect {
            x: left,
            y: top,
            width: right - left + 1,
            height: bottom - top + 1,
        };
        Some(MapChange {
            map,
            runs: self.runs,
            rect,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regions::RegionMap;

    fn maps() -> RegionMaps {
        RegionMaps {
            maps: vec![
                RegionMap::empty("crown", 4, 3),
                RegionMap::empty("flank", 2, 2),
            ],
        }
    }

    #[test]
    fn painting_notes_runs_and_rectangles_and_keeps_to_what_it_may_change() {
        let mut maps = maps();
        let one = Selection::new(vec![5, 6, 9, 13]);
        let changes = maps.paint(&one, 7, &Over::Free);
        assert_eq!(changes.texel_count(), 4);
        let rects: Vec<Rect> = changes.maps.iter().map(|m| m.rect).collect();
        let rect = |x, y, width, height| Rect {
            x,
            y,
            width,
            height,
        };
        assert_eq!(rects, [rect(1, 1, 2, 2), rect(1, 0, 1, 1)]);
        assert_eq!(changes.maps[0].runs.len(), 2);
        assert_eq!(maps.texels(0, rect(1, 1, 2, 2)), [7, 7, 7, 0]);
        assert_eq!(maps.texels(0, rect(3, 2, 2, 1)), [0, 0]);
        // Free texels only: the rest of a larger selection.
        let all = Selection::new((0..16).collect());
        assert_eq!(maps.paint(&all, 8, &Over::Free).texel_count(), 12);
        let some = maps.paint(&all, 9, &Over::Numbers(vec![7]));
        assert_eq!(some.texel_count(), 4);
        assert_eq!(maps.assign(8, 0).texel_count(), 12);
        assert!(maps.assign(8, 0).is_empty() && maps.assign(9, 9).is_empty());
    }

    #[test]
    fn a_selection_beyond_the_maps_changes_nothing() {
        let mut maps = maps();
        let beyond = Selection::new(vec![16, u32::MAX]);
        assert!(maps.paint(&beyond, 1, &Over::All).is_empty());
    }
}
