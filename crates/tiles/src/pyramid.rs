//! Levels, grids and places of tiles.

/// Side of what a tile shows (px).
pub const TILE_PX: u32 = 256;

/// Texels of the neighbours around it (px): a footprint of eight times the length of its width, and the
/// texel beside it for the average, fit in (a choice of ours: 13 % more texels).
pub const BORDER_PX: u32 = 8;

/// Side of a whole tile as stored (px).
pub const STORED_PX: u32 = TILE_PX + 2 * BORDER_PX;

/// Longest side of the base (px): what a first picture is drawn from (a choice of ours: about as many
/// texels as one sheet has pixels on a small screen, and at most 0.4 MB without loss).
pub const BASE_PX: u32 = 512;

/// The pyramid of an image.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pyramid {
    /// Width and height of the image (px).
    pub size: [u32; 2],
}

/// One level cut into tiles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Level {
    /// Width and height (px).
    pub size: [u32; 2],
    /// Tiles across and down.
    pub grid: [u32; 2],
    /// How many tiles the finer levels have together.
    pub first: u32,
}

/// A tile of a pyramid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// Its level; 0 is the finest.
    pub level: u32,
    /// Its column.
    pub x: u32,
    /// Its row from the top.
    pub y: u32,
}

impl Pyramid {
    /// The pyramid of an image of `size` px, both at least 1.
    #[must_use]
    pub fn new(size: [u32; 2]) -> Self {
        Self { size }
    }

    /// Width and height of a level (px), as those of a texture's level (WebGPU, 6.1 "mip level": half,
    /// rounded down, at least 1).
    #[must_use]
    pub fn size_of(&self, level: u32) -> [u32; 2] {
        self.size.map(|s| s.checked_shr(level).unwrap_or(0).max(1))
    }

    /// The level of the base: the finest with no side longer than [`BASE_PX`]. As many levels are finer
    /// and cut into tiles.
    #[must_use]
    pub fn base_level(&self) -> u32 {
        (0..u32::BITS)
            .find(|&l| self.size_of(l).iter().all(|s| *s <= BASE_PX))
            .unwrap_or(u32::BITS)
    }

    /// The levels that are cut into tiles, the finest first.
    pub fn levels(&self) -> impl Iterator<Item = Level> + use<> {
        let own = *self;
        let mut first = 0;
        (0..own.base_level()).map(move |l| {
            let size = own.size_of(l);
            let grid = size.map(|s| s.div_ceil(TILE_PX));
            let level = Level { size, grid, first };
            first += grid[0] * grid[1];
            level
        })
    }

    /// How many tiles there are.
    #[must_use]
    pub fn tiles(&self) -> u32 {
        self.levels().map(|l| l.grid[0] * l.grid[1]).sum()
    }

    /// The number of a tile: level by level from the finest, row by row.
    #[must_use]
    pub fn number(&self, place: Place) -> Option<u32> {
        let level = self.levels().nth(place.level as usize)?;
        let inside = place.x < level.grid[0] && place.y < level.grid[1];
        inside.then(|| level.first + place.y * level.grid[0] + place.x)
    }

    /// The tile with a number.
    #[must_use]
    pub fn place(&self, number: u32) -> Option<Place> {
        let levels = (0..).zip(self.levels());
        let (level, found) = levels.take_while(|(_, l)| l.first <= number).last()?;
        let within = number - found.first;
        let (x, y) = (within % found.grid[0], within / found.grid[0]);
        (y < found.grid[1]).then_some(Place { level, x, y })
    }

    /// Width and height of a tile as stored, with its border (px); that of the last column and row is
    /// what is left of the level.
    #[must_use]
    pub fn stored_size(&self, place: Place) -> [u32; 2] {
        let size = self.size_of(place.level);
        let shown = |at: u32, side: u32| side.saturating_sub(at * TILE_PX).min(TILE_PX);
        [shown(place.x, size[0]), shown(place.y, size[1])].map(|s| s + 2 * BORDER_PX)
    }

    /// The tile of a level that shows `uv` (0..1, v = 0 is the top), and the texel of the level there.
    #[must_use]
    pub fn at(&self, level: u32, uv: [f32; 2]) -> (Place, [u32; 2]) {
        let size = self.size_of(level);
        let texel = |x: f32, n: u32| ((x.rem_euclid(1.0) * n as f32) as u32).min(n - 1);
        let [x, y] = [texel(uv[0], size[0]), texel(uv[1], size[1])];
        let place = Place {
            level,
            x: x / TILE_PX,
            y: y / TILE_PX,
        };
        (place, [x, y])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sizes of a texture's levels, WebGPU 6.1: floor of half, at least one.
    #[test]
    fn levels_halve_like_those_of_a_texture() {
        let pyramid = Pyramid::new([5000, 700]);
        let sizes: Vec<_> = pyramid.levels().map(|l| l.size).collect();
        assert_eq!(sizes, [[5000, 700], [2500, 350], [1250, 175], [625, 87]]);
        assert_eq!(pyramid.size_of(pyramid.base_level()), [312, 43]);
        assert_eq!(Pyramid::new([512, 512]).tiles(), 0, "all of it is the base");
        assert_eq!(Pyramid::new([1, 1]).size_of(40), [1, 1]);
    }

    #[test]
    fn every_tile_has_one_number() {
        for size in [[16384, 16384], [5000, 700], [513, 1], [257, 3000]] {
            let pyramid = Pyramid::new(size);
            for number in 0..pyramid.tiles() {
                let place = pyramid.place(number).expect("a tile");
                assert_eq!(pyramid.number(place), Some(number));
            }
            assert_eq!(pyramid.place(pyramid.tiles()), None);
        }
    }

    /// 64² + 32² + 16² + 8² + 4² tiles of 256 px down to 1024 px; 512 px is the base.
    #[test]
    fn a_large_image_has_as_many_tiles_as_its_levels_hold() {
        assert_eq!(Pyramid::new([16384, 16384]).tiles(), 5456);
    }

    #[test]
    fn tiles_cover_their_level_once() {
        let pyramid = Pyramid::new([1000, 600]);
        for (l, level) in (0..).zip(pyramid.levels()) {
            let shown = |x, y| {
                let stored = pyramid.stored_size(Place { level: l, x, y });
                stored.map(|s| s - 2 * BORDER_PX)
            };
            let across: u32 = (0..level.grid[0]).map(|x| shown(x, 0)[0]).sum();
            let down: u32 = (0..level.grid[1]).map(|y| shown(0, y)[1]).sum();
            assert_eq!([across, down], level.size);
        }
        let (place, texel) = pyramid.at(0, [0.5, 0.99]);
        assert_eq!((place.x, place.y, texel), (1, 2, [500, 594]));
    }
}
