//! Where regions and parts lie on the surface.

use std::collections::HashMap;

use ganosis_viewer::content::Content;
use glam::DVec3;

use super::stage::Stage;

/// Most points that are kept of one region: enough for its outline in a picture.
const MOST_POINTS: usize = 4_096;

/// A region or part: points on it and how it faces.
#[derive(Debug, Clone, Default)]
pub(super) struct Spot {
    /// Points, metres.
    pub(super) points_m: Vec<DVec3>,
    /// Sum of the normals by area; short where it faces all ways.
    pub(super) facing: DVec3,
    /// Sum of the areas, of the length that `facing` has on a plane.
    pub(super) area: f64,
    /// A patch it lies on.
    pub(super) patch: usize,
    seen: usize,
}

impl Spot {
    fn add(&mut self, patch: usize, corners: [DVec3; 3]) {
        let [a, b, c] = corners;
        let normal = (b - a).cross(c - a);
        if self.seen == 0 {
            self.patch = patch;
        }
        self.facing += normal;
        self.area += normal.length();
        // Thinned out as they become many, evenly over the surface.
        let every = 1 + self.seen / MOST_POINTS;
        if self.seen.is_multiple_of(every) {
            self.points_m.extend(corners);
        }
        self.seen += 1;
    }
}

/// All regions and parts.
#[derive(Debug, Default)]
pub(super) struct Places {
    regions: HashMap<u16, Spot>,
    parts: HashMap<String, Spot>,
}

impl Places {
    /// Looks at the middle of every triangle.
    pub(super) fn find(stage: &mut Stage) -> Self {
        stage.load_labels();
        let mut places = Self::default();
        let content: &Content = stage.content();
        let Some(surface) = content.surface() else {
            return places;
        };
        for (number, patch) in surface.patches.iter().enumerate() {
            let parts: Vec<&str> = content.parts_of(patch).collect();
            for triangle in patch.indices.chunks_exact(3) {
                let indices = [triangle[0], triangle[1], triangle[2]].map(|i| i as usize);
                let corners = indices.map(|i| patch.positions[i].as_dvec3());
                let uvs = indices.map(|i| surface.sheet_uv(patch, i));
                let middle = (uvs[0] + uvs[1] + uvs[2]) / 3.0;
                let region = content.region_number(patch.sheet, middle.to_array());
                if region != 0 {
                    places
                        .regions
                        .entry(region)
                        .or_default()
                        .add(number, corners);
                }
                for part in &parts {
                    match places.parts.get_mut(*part) {
                        Some(spot) => spot.add(number, corners),
                        None => places
                            .parts
                            .entry((*part).to_owned())
                            .or_default()
                            .add(number, corners),
                    }
                }
            }
        }
        places
    }

    pub(super) fn region(&self, number: u32) -> Option<&Spot> {
        self.regions.get(&u16::try_from(number).ok()?)
    }

    pub(super) fn part(&self, id: &str) -> Option<&Spot> {
        self.parts.get(id)
    }
}
