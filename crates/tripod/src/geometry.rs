//! The triangles of the surface for drawing a photograph onto them.

use crate::Tripod;

/// One patch among the triangles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// Its first corner in the list of corners.
    pub first: u32,
    /// Corners, three a triangle.
    pub count: u32,
    /// Names of the nodes above it, by which parts are told.
    pub nodes: Vec<String>,
}

/// All triangles.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry {
    /// Three coordinates a vertex, in metres.
    pub positions: Vec<f32>,
    /// Vertices, three a triangle.
    pub corners: Vec<u32>,
    /// The patches.
    pub spans: Vec<Span>,
}

impl Tripod {
    /// The triangles, patch by patch.
    #[must_use]
    pub fn geometry(&self) -> Geometry {
        let mut all = Geometry {
            positions: Vec::new(),
            corners: Vec::new(),
            spans: Vec::new(),
        };
        for patch in &self.surface.patches {
            let base = (all.positions.len() / 3) as u32;
            let first = all.corners.len() as u32;
            all.positions
                .extend(patch.positions.iter().flat_map(|p| p.to_array()));
            let triangles = (0..patch.triangle_count()).filter_map(|t| patch.triangle(t));
            all.corners
                .extend(triangles.flatten().map(|v| base + v as u32));
            all.spans.push(Span {
                first,
                count: all.corners.len() as u32 - first,
                nodes: patch.node_path.clone(),
            });
        }
        all
    }
}
