//! What the surface looks like: stone, paint and its remains, in every layer, texel by texel.

pub(crate) mod layers;
pub(crate) mod remains;
pub(crate) mod scheme;
pub(crate) mod stone;
pub(crate) mod texel;
