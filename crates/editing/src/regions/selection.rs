//! A set of texels.

/// Texels, counted through all maps in their order: the numbers of
/// [`super::TexelGeometry`].
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selection(Vec<u32>);

impl Selection {
    /// Of texels in any order.
    #[must_use]
    pub fn new(mut texels: Vec<u32>) -> Self {
        texels.sort_unstable();
        texels.dedup();
        Self(texels)
    }

    /// In rising order, each once.
    #[must_use]
    pub fn texels(&self) -> &[u32] {
        &self.0
    }
}

/// A set with one bit for each texel.
#[derive(Debug)]
pub(crate) struct Bits(Vec<u64>);

impl Bits {
    pub(crate) fn new(count: usize) -> Self {
        Self(vec![0; count.div_ceil(64)])
    }

    /// Puts a texel in; true if it was not in before. False beyond the set.
    pub(crate) fn insert(&mut self, texel: u32) -> bool {
        let Some(word) = self.0.get_mut(texel as usize / 64) else {
            return false;
        };
        let bit = 1 << (texel % 64);
        let new = *word & bit == 0;
        *word |= bit;
        new
    }

    pub(crate) fn holds(&self, texel: u32) -> bool {
        let word = self.0.get(texel as usize / 64);
        word.is_some_and(|word| word >> (texel % 64) & 1 == 1)
    }
}
