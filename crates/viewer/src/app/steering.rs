//! Pointers, wheel and keys become changes of the view.

use super::{App, Event};
use crate::divider::Divider;
use crate::input::{Grab, Intent, Pointer, wheel};

/// How near to the divider a pointer takes it (CSS px): half of the 44 px that WCAG 2.2 (2.5.5)
/// asks of targets, a little less for a mouse.
const DIVIDER_REACH_PX: (f64, f64) = (12.0, 22.0);
/// A quarter turn for a drag over half of a canvas of usual size (degrees per CSS px).
const ORBIT_DEG_PER_PX: f64 = 0.35;
/// Steps of the keyboard.
const KEY_ORBIT_DEG: f64 = 5.0;
const KEY_PAN_PX: f64 = 40.0;
const KEY_ZOOM: f64 = 0.88;
const KEY_POSITION: f64 = 0.02;
const KEY_ANGLE_DEG: f64 = 5.0;
const KEY_RADIUS: f64 = 0.02;

impl App {
    pub(super) fn divider_lines(&self) -> Vec<Divider> {
        let lines = self.view.iter().flat_map(|view| {
            let line = |position| Divider::new(self.size, position, view.angle_deg);
            view.dividers().into_iter().map(line)
        });
        lines.collect()
    }

    /// Where the handles of the dividers go (CSS px).
    #[must_use]
    pub fn dividers(&self) -> Vec<[f64; 2]> {
        self.divider_lines().iter().map(Divider::handle).collect()
    }

    /// The nearest divider within reach.
    pub(super) fn on_divider(&self, x: f64, y: f64, touch: bool) -> Option<usize> {
        let reach = if touch {
            DIVIDER_REACH_PX.1
        } else {
            DIVIDER_REACH_PX.0
        };
        let lines = self.divider_lines();
        let away = |line: &Divider| line.distance(x, y).abs();
        (0..lines.len())
            .filter(|&i| away(&lines[i]) <= reach)
            .min_by(|&a, &b| away(&lines[a]).total_cmp(&away(&lines[b])))
    }

    /// A pointer event; `kind` is `down`, `move`, `up` or `cancel`.
    pub fn pointer(&mut self, kind: &str, pointer: Pointer) {
        let intents = match kind {
            "down" => {
                self.glide = None;
                let grabs = if pointer.pans {
                    Grab::Nothing
                } else if let Some(number) = self.on_divider(pointer.x, pointer.y, pointer.touch) {
                    self.held_divider = number;
                    Grab::Divider
                } else if self.in_loupe(pointer.x, pointer.y) {
                    self.grip_loupe(pointer.x, pointer.y, pointer.touch);
                    Grab::Loupe
                } else {
                    Grab::Nothing
                };
                self.input.down(pointer, grabs);
                Vec::new()
            }
            "move" => {
                self.hover_divider = self
                    .on_divider(pointer.x, pointer.y, pointer.touch)
                    .is_some();
                self.hover_loupe = self.in_loupe(pointer.x, pointer.y);
                self.input.moved(pointer)
            }
            "up" => self.input.up(pointer, false),
            _ => self.input.up(pointer, true),
        };
        intents.into_iter().for_each(|intent| self.apply(intent));
    }

    /// A wheel turned by CSS pixels.
    pub fn wheel(&mut self, x: f64, y: f64, delta_px: f64) {
        self.glide = None;
        self.apply(wheel(x, y, delta_px));
    }

    pub(super) fn apply(&mut self, intent: Intent) {
        let (basis, aspect, size) = (self.basis(), self.aspect(), self.pane_size());
        let Some(ball) = self.ball else { return };
        let zoomed_at = match intent {
            Intent::Zoom { x, y, .. } => self.place_in_pane(x, y),
            _ => [0.0; 2],
        };
        match intent {
            Intent::Orbit { dx, dy } => {
                self.with_view(|v| {
                    v.camera
                        .orbit(-dx * ORBIT_DEG_PER_PX, dy * ORBIT_DEG_PER_PX)
                });
            }
            Intent::Pan { dx, dy } => self.with_view(|v| {
                let metres = v.camera.metres_per_pixel(size[1]);
                v.camera.pan(&basis, -dx * metres, dy * metres);
            }),
            Intent::Zoom { factor, .. } => self.with_view(|v| {
                v.camera
                    .zoom(&basis, aspect, ball, factor, zoomed_at[0], zoomed_at[1]);
            }),
            Intent::Divider { x, y } => {
                let number = self.held_divider;
                if let Some(divider) = self.divider_lines().get(number) {
                    let position = divider.position_at(x, y);
                    self.with_view(|v| v.put_divider(number, position));
                }
            }
            Intent::Loupe { x, y } => self.carry_loupe(x, y),
            Intent::Click { x, y } => self.events.push(Event::Click { x, y }),
        }
    }

    /// A key on the canvas; true when it meant something.
    pub fn key(&mut self, name: &str, shift: bool) -> bool {
        let centre = self.pane_size().map(|s| s / 2.0);
        let zoom = |factor| Intent::Zoom {
            factor,
            x: centre[0],
            y: centre[1],
        };
        let arrow = |dx: f64, dy: f64| {
            if shift {
                Intent::Pan {
                    dx: dx * KEY_PAN_PX,
                    dy: dy * KEY_PAN_PX,
                }
            } else {
                let step = KEY_ORBIT_DEG / ORBIT_DEG_PER_PX;
                Intent::Orbit {
                    dx: -dx * step,
                    dy: -dy * step,
                }
            }
        };
        self.glide = None;
        match name {
            "ArrowLeft" => self.apply(arrow(-1.0, 0.0)),
            "ArrowRight" => self.apply(arrow(1.0, 0.0)),
            "ArrowUp" => self.apply(arrow(0.0, -1.0)),
            "ArrowDown" => self.apply(arrow(0.0, 1.0)),
            "+" | "=" => self.apply(zoom(KEY_ZOOM)),
            "-" => self.apply(zoom(1.0 / KEY_ZOOM)),
            "[" | "]" if self.loupe().is_some() => {
                let step = if name == "]" { KEY_RADIUS } else { -KEY_RADIUS };
                self.with_view(|v| {
                    v.loupe.radius += step;
                    v.loupe.make_sound();
                });
            }
            "[" => self.with_view(|v| v.put_divider(0, v.position - KEY_POSITION)),
            "]" => self.with_view(|v| v.put_divider(0, v.position + KEY_POSITION)),
            "," => self.with_view(|v| v.angle_deg = (v.angle_deg - KEY_ANGLE_DEG).max(-90.0)),
            "." => self.with_view(|v| v.angle_deg = (v.angle_deg + KEY_ANGLE_DEG).min(90.0)),
            "Home" => {
                if let Some(home) = self.home.as_ref().map(|h| h.camera) {
                    let (ball, aspect) = (self.ball, self.aspect());
                    self.glide_camera(|c| {
                        *c = home;
                        if let Some(ball) = ball {
                            c.fit(ball, aspect);
                        }
                    });
                }
            }
            _ => return false,
        }
        true
    }

    /// A double click brings the point of the surface under it to the middle.
    pub fn double_click(&mut self, x: f64, y: f64) {
        if let Some(place) = self.place_at(x, y) {
            self.glide_camera(|c| c.target_m = place.position_m.as_dvec3());
        }
    }

    /// Shape of the pointer, as CSS names it.
    #[must_use]
    pub fn cursor(&self) -> &'static str {
        let angle = self.view.as_ref().map_or(0.0, |v| v.angle_deg).abs();
        if self.hover_divider && !self.input.is_dragging() || self.input.drags_divider() {
            return match angle {
                a if a < 22.5 => "ew-resize",
                a if a > 67.5 => "ns-resize",
                _ => "move",
            };
        }
        if self.hover_loupe && !self.input.is_dragging() {
            return "move";
        }
        if self.input.is_dragging() {
            "grabbing"
        } else {
            "grab"
        }
    }
}
