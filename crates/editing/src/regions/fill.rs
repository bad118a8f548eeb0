//! Filling: from a texel over all that hangs together with it and is alike, or
//! over all that is alike anywhere.

use ganosis_colorimetry::{Encoded, LabD50, P3, Srgb, delta_e_2000};

use super::Selection;
use super::geometry::TexelGeometry;
use super::selection::Bits;

/// A colour image of one sheet, of any size: 8 bit, encoded.
#[derive(Debug, Clone, Copy)]
pub struct ColourImage<'a> {
    /// Width in pixels.
    pub width_px: u32,
    /// Height in pixels.
    pub height_px: u32,
    /// Row by row from the top, red, green, blue, alpha (not premultiplied).
    pub rgba: &'a [u8],
    /// Whether the codes are of Display P3 rather than sRGB.
    pub display_p3: bool,
}

/// A band image of one sheet, of any size.
#[derive(Debug, Clone, Copy)]
pub struct BandImage<'a> {
    /// Width in pixels.
    pub width_px: u32,
    /// Height in pixels.
    pub height_px: u32,
    /// Row by row from the top.
    pub values: &'a [u16],
    /// The value that stands for 1.
    pub full_scale: u16,
}

/// Where a fill goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// What hangs together with the seed on the surface.
    Connected,
    /// All of the surface.
    Everywhere,
}

/// The known answers for a colour: 2 bits each.
struct Alike {
    seed: LabD50,
    tolerance: f64,
    display_p3: bool,
    answers: Vec<u8>,
}

impl Alike {
    fn holds(&mut self, [r, g, b]: [u8; 3]) -> bool {
        let code = usize::from(r) << 16 | usize::from(g) << 8 | usize::from(b);
        let shift = code % 4 * 2;
        let known = self.answers[code / 4] >> shift & 3;
        if known != 0 {
            return known == 2;
        }
        let colour = lab([r, g, b], self.display_p3);
        let alike = delta_e_2000(self.seed, colour) <= self.tolerance;
        self.answers[code / 4] |= if alike { 2 } else { 1 } << shift;
        alike
    }
}

fn lab(rgb: [u8; 3], display_p3: bool) -> LabD50 {
    if display_p3 {
        Encoded::<P3>::from_u8(rgb).into()
    } else {
        Encoded::<Srgb>::from_u8(rgb).into()
    }
}

impl TexelGeometry {
    /// The texels whose colour differs by no more than `tolerance` (ΔE00) from
    /// that at the seed: the mean in CIELAB of the seed and the texels no more
    /// than two steps from it. `images` has one entry a map; what has no image,
    /// or is wholly transparent, has no colour and is like nothing. The seed
    /// itself is among them, unless it has none.
    ///
    /// All images are in the colour space of the seed's.
    #[must_use]
    pub fn fill_by_colour(
        &self,
        images: &[Option<ColourImage>],
        seed: u32,
        tolerance: f64,
        extent: Extent,
        visible: &dyn Fn(usize) -> bool,
    ) -> Selection {
        let colour = |texel: u32| self.colour(images, texel);
        let Some(image) = self.place(seed).and_then(|p| images.get(p.0)?.as_ref()) else {
            return Selection::default();
        };
        let display_p3 = image.display_p3;
        if colour(seed).is_none() || self.owner(seed).is_none() {
            return Selection::default();
        }
        let near = self.two_steps(seed);
        let labs: Vec<[f64; 3]> = near
            .iter()
            .filter_map(|t| Some(lab(colour(*t)?, display_p3).to_array()))
            .collect();
        let mean = |k: usize| labs.iter().map(|lab| lab[k]).sum::<f64>() / labs.len() as f64;
        let mut alike = Alike {
            seed: LabD50::from_array([mean(0), mean(1), mean(2)]),
            tolerance,
            display_p3,
            answers: vec![0; 1 << 22],
        };
        let mut belongs = |texel| colour(texel).is_some_and(|rgb| alike.holds(rgb));
        self.fill(seed, extent, visible, &mut belongs)
    }

    /// The texels whose value in a band lies between two parts of full scale
    /// (0 to 1, both included); the seed itself is among them if its value does.
    /// `images` has one entry a map; what has no image has no value.
    #[must_use]
    pub fn fill_by_band(
        &self,
        images: &[Option<BandImage>],
        seed: u32,
        [from, to]: [f64; 2],
        extent: Extent,
        visible: &dyn Fn(usize) -> bool,
    ) -> Selection {
        let mut belongs = |texel| {
            self.value(images, texel)
                .is_some_and(|value| value >= from && value <= to)
        };
        if extent == Extent::Connected && !belongs(seed) {
            return Selection::default();
        }
        self.fill(seed, extent, visible, &mut belongs)
    }

    fn fill(
        &self,
        seed: u32,
        extent: Extent,
        visible: &dyn Fn(usize) -> bool,
        belongs: &mut dyn FnMut(u32) -> bool,
    ) -> Selection {
        let shown = |texel: u32| {
            let owner = self.owner(texel);
            owner.is_some_and(|t| visible(self.mesh().patches[t as usize] as usize))
        };
        let mut found = Vec::new();
        if extent == Extent::Everywhere {
            let all = 0..self.texel_count() as u32;
            found.extend(all.filter(|t| shown(*t) && (belongs(*t))));
            return Selection::new(found);
        }
        if !shown(seed) {
            return Selection::default();
        }
        let mut seen = Bits::new(self.texel_count());
        seen.insert(seed);
        let mut open = vec![seed];
        while let Some(texel) = open.pop() {
            found.push(texel);
            self.around(texel, &mut |next| {
                if seen.insert(next) && shown(next) && belongs(next) {
                    open.push(next);
                }
            });
        }
        Selection::new(found)
    }

    /// A texel and those no more than two steps from it on the surface.
    fn two_steps(&self, texel: u32) -> Vec<u32> {
        let mut near = vec![texel];
        for _ in 0..2 {
            let mut next = near.clone();
            near.iter()
                .for_each(|t| self.around(*t, &mut |n| next.push(n)));
            next.sort_unstable();
            next.dedup();
            near = next;
        }
        near
    }

    fn colour(&self, images: &[Option<ColourImage>], texel: u32) -> Option<[u8; 3]> {
        let (map, x, y) = self.place(texel)?;
        let image = images.get(map)?.as_ref()?;
        let at = self.pixel(map, [x, y], [image.width_px, image.height_px])?;
        match image.rgba.get(at * 4..at * 4 + 4)? {
            [_, _, _, 0] => None,
            [r, g, b, ..] => Some([*r, *g, *b]),
            _ => None,
        }
    }

    fn value(&self, images: &[Option<BandImage>], texel: u32) -> Option<f64> {
        let (map, x, y) = self.place(texel)?;
        let image = images.get(map)?.as_ref()?;
        let at = self.pixel(map, [x, y], [image.width_px, image.height_px])?;
        let full = f64::from(image.full_scale.max(1));
        Some(f64::from(*image.values.get(at)?) / full)
    }

    /// Number of the pixel of an image of another size under a texel's centre.
    fn pixel(&self, map: usize, texel: [u32; 2], size: [u32; 2]) -> Option<usize> {
        let of = self.pages().get(map)?.size;
        // (x + 1/2) / map × image, in whole numbers.
        let cell = |k: usize| {
            let twice = (2 * u64::from(texel[k]) + 1) * u64::from(size[k]);
            twice / (2 * u64::from(of[k]).max(1))
        };
        usize::try_from(cell(1) * u64::from(size[0]) + cell(0)).ok()
    }
}
