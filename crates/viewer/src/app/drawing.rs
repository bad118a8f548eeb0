//! Frames and pictures.

use ganosis_renderer::{Compare, Frame, RendererError, Side, WHOLE};

use super::{App, Event};
use crate::content::{Content, Looks};
use crate::view::{Comparison, View};

/// Ink of the overlay's patterns: paint still shows through.
const OVERLAY_STRENGTH: f32 = 0.72;
/// Longer side of the picture that differences are counted in (px). A choice of ours: a quarter of
/// a million pixels, well under a percent of noise in a mean.
const MEASURED_SIDE_PX: f64 = 640.0;

impl App {
    /// What happened since the last call.
    pub fn take_events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    /// True when the next frame would differ from the last.
    #[must_use]
    pub fn wants_frame(&self) -> bool {
        (self.dirty || self.glide.is_some()) && self.ready()
    }

    /// Steps motion on and says whether there is something to draw.
    pub fn begin_frame(&mut self, now_ms: f64) -> bool {
        let lost = self.renderer.as_ref().is_some_and(|r| r.gpu().is_lost());
        if lost {
            if !self.lost_told {
                self.lost_told = true;
                self.events.push(Event::Lost);
            }
            return false;
        }
        self.step_glide(now_ms);
        if !self.dirty || !self.ready() {
            return false;
        }
        self.refresh_paints();
        self.refresh_table();
        // One a frame: together they would hold the page up.
        let frame = self.frame(self.aspect(), self.pixel_ratio);
        let (Some(frame), Some(renderer)) = (frame, &mut self.renderer) else {
            return false;
        };
        !renderer.prepare_next(&frame)
    }

    pub(super) fn refresh_paints(&mut self) {
        if !self.paints_stale {
            return;
        }
        let (Some(content), Some(view), Some(renderer)) =
            (&self.content, &self.view, &mut self.renderer)
        else {
            return;
        };
        let over = view.over.as_ref();
        let looks = Looks {
            layers: &view.layers,
            over: over.and_then(|id| content.document.layers.iter().position(|l| l.id == *id)),
        };
        // As many paints as patches by construction.
        let mut put = |pair: usize, left: &str, right: &str| {
            let sides = content.appearance(left).zip(content.appearance(right));
            sides.is_some_and(|(left, right)| {
                renderer
                    .set_paints(pair, content.paints(left, right, &looks))
                    .is_ok()
            })
        };
        let whole = put(0, &view.left, &view.right)
            && (view.shown_count() <= 2 || put(1, &view.third, &view.fourth));
        self.paints_stale = !whole;
    }

    /// The frame to draw: for the canvas, or for a picture of another shape.
    #[must_use]
    pub fn frame(&self, aspect: f64, device_pixel_ratio: f64) -> Option<Frame> {
        let (content, view, ball) = (self.content.as_ref()?, self.view.as_ref()?, self.ball?);
        let basis = content.basis();
        let origin = self.origin_m();
        let region = view
            .region
            .as_ref()
            .and_then(|id| content.document.regions.iter().find(|r| r.id == *id));
        Some(Frame {
            clip_from_scene: view.camera.clip_from_scene(&basis, aspect, ball, origin),
            eye_in_scene_m: (view.camera.eye_m(&basis) - origin).as_vec3(),
            device_pixel_ratio: device_pixel_ratio as f32,
            compare: self.comparison(content, view),
            light: view.light.shone(&basis),
            section: view.section.map(|cut| cut.plane(&basis, ball)),
            backs_hidden: content.is_closed()
                && view.camera.eye_m(&basis).distance(ball.centre_m) > ball.radius_m,
            selected_region: region.map_or(0, |r| r.number),
            surround_l: view.surround_l as f32,
            under_lamp: view.lamp.is_some(),
            overlay: if view.overlay.is_some() {
                OVERLAY_STRENGTH
            } else {
                0.0
            },
            wide_gamut: false,
            divider_line: true,
            cut: None,
        })
    }

    /// Until the right one is here the left one is shown alone.
    pub(super) fn comparison(&self, content: &Content, view: &View) -> Compare {
        let position = view.position as f32;
        let angle_rad = view.angle_deg.to_radians() as f32;
        match view.compare {
            Comparison::Swipe if view.count > 2 && self.all_arrived(content, view) => {
                // A divider beyond the picture is none.
                let mut positions = [2.0; 3];
                for (place, position) in positions.iter_mut().zip(view.dividers()) {
                    *place = position as f32;
                }
                Compare::Strips {
                    positions,
                    angle_rad,
                }
            }
            Comparison::Swipe if self.arrived(content, &view.right) => Compare::Swipe {
                position,
                angle_rad,
                within: WHOLE,
            },
            Comparison::Blend if view.count > 2 && self.all_arrived(content, view) => {
                Compare::Mix {
                    shares: view.shares.map(|share| share as f32),
                }
            }
            Comparison::Blend if self.arrived(content, &view.right) => Compare::Blend { position },
            Comparison::Difference if self.arrived(content, &view.right) => Compare::Difference {
                threshold: view.difference.threshold as f32,
                full_scale: view.difference.full_scale as f32,
            },
            Comparison::Loupe if self.arrived(content, &view.right) => Compare::Loupe {
                centre: [view.loupe.x as f32, view.loupe.y as f32],
                radius: view.loupe.radius as f32,
                softness: view.loupe.softness as f32,
            },
            Comparison::Blink if self.blink_right && self.arrived(content, &view.right) => {
                Compare::One(Side::Right)
            }
            Comparison::Pair => Compare::Panes { grid: self.grid() },
            _ => Compare::One(Side::Left),
        }
    }

    fn all_arrived(&self, content: &Content, view: &View) -> bool {
        view.shown().iter().all(|id| self.arrived(content, id))
    }

    /// Shows the other of two states that take turns.
    pub fn set_blink(&mut self, right: bool) {
        self.dirty |= self.blink_right != right;
        self.blink_right = right;
    }

    /// Draws to a view of the canvas's size.
    pub fn draw(&mut self, target: &ganosis_renderer::TargetView) {
        let size = self.size_px();
        let Some(frame) = self.frame(self.aspect(), self.pixel_ratio) else {
            return;
        };
        let frame = Frame {
            wide_gamut: self.wide_canvas,
            ..frame
        };
        // Pins need the hierarchy for picking: its making does not hold the first picture up.
        let first_picture = !std::mem::replace(&mut self.shown, true);
        if !first_picture {
            self.place_pins(&frame.clip_from_scene);
        }
        if let Some(renderer) = &mut self.renderer {
            renderer.draw(&frame, target, size[0], size[1]);
        }
        self.dirty = first_picture;
    }

    /// Starts counting the differences between the two sides over what is seen.
    ///
    /// # Errors
    /// Nothing open yet.
    pub fn measure_differences(&mut self) -> Result<ganosis_renderer::Readback, RendererError> {
        self.refresh_paints();
        self.refresh_table();
        let scale = MEASURED_SIDE_PX / self.size[0].max(self.size[1]).max(1.0);
        let size = self.size.map(|s| (s * scale).round().max(1.0) as u32);
        let frame = self.frame(self.aspect(), 1.0);
        let (Some(frame), Some(renderer)) = (frame, &mut self.renderer) else {
            return Err(RendererError::Mismatch {
                what: "the differences".to_owned(),
                detail: "nothing is open yet".to_owned(),
            });
        };
        renderer.measure_differences(&frame, size[0], size[1])
    }

    /// Number of a region in the region map.
    #[must_use]
    pub fn region_number(&self, id: &str) -> Option<u16> {
        let regions = &self.content.as_ref()?.document.regions;
        let number = regions.iter().find(|r| r.id == id)?.number;
        u16::try_from(number).ok()
    }
}
