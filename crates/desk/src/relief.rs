//! What light needs of every vertex, in steps.

use ganosis_surface::relief::{Openness, RAYS, smoothed_normals, snorm, unfolded};

use crate::{Desk, DeskError};

impl Desk {
    /// Goes on with up to `count` vertices; gives the share that is done, 0..1.
    ///
    /// # Errors
    /// If the surface cannot be read.
    pub fn relief_step(&mut self, count: usize) -> Result<f64, DeskError> {
        if self.openness.is_none() {
            let picker = self.picker()?;
            self.openness = Some(Openness::new(self.surface()?, picker, RAYS));
        }
        let openness = self.openness.as_mut();
        Ok(openness.map_or(1.0, |openness| openness.step(count)))
    }

    /// Once all is done: three numbers a vertex in 1/32767, all patches in a row. The smoothed normal,
    /// unfolded from an octahedron onto a square, and the share of the sky that nothing hides.
    ///
    /// # Errors
    /// If the surface cannot be read.
    pub fn relief(&mut self) -> Result<Vec<i16>, DeskError> {
        let open = self.openness.take();
        let normals = smoothed_normals(self.surface()?);
        let open = open.as_ref().map_or(&[][..], Openness::open);
        let numbers = normals.iter().enumerate().flat_map(|(v, normal)| {
            let [x, y] = unfolded(*normal);
            [x, y, snorm(open.get(v).copied().unwrap_or(1.0))]
        });
        Ok(numbers.collect())
    }
}
