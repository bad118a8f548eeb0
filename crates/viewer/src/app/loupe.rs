//! The round glass: where it is, and how a pointer carries it.

use super::App;
use crate::view::Comparison;

/// Room between a finger and the rim of the glass that it carries (CSS px): the finger hides nothing
/// of it. Half of the 44 px that WCAG 2.2 (2.5.5) asks of targets, and a little.
const FINGER_PX: f64 = 30.0;

impl App {
    /// Middle and radius of the glass (CSS px), when it is on the picture.
    #[must_use]
    pub fn loupe(&self) -> Option<([f64; 2], f64)> {
        let view = self.view.as_ref()?;
        if view.compare != Comparison::Loupe {
            return None;
        }
        let radius = view.loupe.radius * self.size[0].min(self.size[1]);
        Some((
            [view.loupe.x * self.size[0], view.loupe.y * self.size[1]],
            radius,
        ))
    }

    /// Whether a point lies in the glass; below the position the right one shows there.
    pub(super) fn in_loupe(&self, x: f64, y: f64) -> bool {
        self.loupe()
            .is_some_and(|([cx, cy], radius)| (x - cx).hypot(y - cy) < radius)
    }

    /// A pointer takes the glass: a mouse where it is, a finger by a place below its rim.
    pub(super) fn grip_loupe(&mut self, x: f64, y: f64, touch: bool) {
        if let Some(([cx, cy], radius)) = self.loupe() {
            self.loupe_grip = if touch {
                [0.0, -(radius + FINGER_PX)]
            } else {
                [cx - x, cy - y]
            };
        }
    }

    /// The pointer that carries the glass is here now.
    pub(super) fn carry_loupe(&mut self, x: f64, y: f64) {
        let ([gx, gy], size) = (self.loupe_grip, self.size);
        self.with_view(|v| {
            v.loupe.x = (x + gx) / size[0];
            v.loupe.y = (y + gy) / size[1];
            v.loupe.make_sound();
        });
    }
}
