//! Pointer, wheel and keyboard to intents; knows nothing of what they are applied to.

/// What a person wants.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Intent {
    /// Turn the object by CSS pixels of dragging.
    Orbit {
        /// To the right.
        dx: f64,
        /// Down.
        dy: f64,
    },
    /// Move the picture by CSS pixels.
    Pan {
        /// To the right.
        dx: f64,
        /// Down.
        dy: f64,
    },
    /// Scale the distance; below 1 comes nearer. The point under (x, y) stays.
    Zoom {
        /// Of the distance.
        factor: f64,
        /// CSS pixels from the left.
        x: f64,
        /// CSS pixels from the top.
        y: f64,
    },
    /// Put the divider under this point.
    Divider {
        /// CSS pixels from the left.
        x: f64,
        /// CSS pixels from the top.
        y: f64,
    },
    /// Carry the loupe to this point.
    Loupe {
        /// CSS pixels from the left.
        x: f64,
        /// CSS pixels from the top.
        y: f64,
    },
    /// A click or tap.
    Click {
        /// CSS pixels from the left.
        x: f64,
        /// CSS pixels from the top.
        y: f64,
    },
}

/// One pointer event, in CSS pixels from the canvas's corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pointer {
    /// Its id while it is down.
    pub id: i32,
    /// From the left.
    pub x: f64,
    /// From the top.
    pub y: f64,
    /// Finger rather than mouse or pen.
    pub touch: bool,
    /// Secondary button, middle button or shift: moves instead of turning.
    pub pans: bool,
    /// When (ms).
    pub time_ms: f64,
}

/// A press that moves less than this is a click (CSS px); a finger is less steady. Common practice,
/// no source.
const CLICK_PX: (f64, f64) = (4.0, 10.0);
/// A press longer than this is no click (ms). Common practice, no source.
const CLICK_MS: f64 = 600.0;

#[derive(Clone, Copy, Debug)]
struct Held {
    pointer: Pointer,
    start: Pointer,
    moved: bool,
}

/// What of the picture's own a pointer takes hold of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grab {
    /// The object behind.
    Nothing,
    /// The divider.
    Divider,
    /// The loupe.
    Loupe,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Gesture {
    None,
    Divider,
    Loupe,
    Turn,
    Pan,
    /// Two fingers.
    Pair,
}

/// Keeps which pointers are down and what they do.
#[derive(Debug)]
pub struct Input {
    held: Vec<Held>,
    gesture: Gesture,
}

impl Default for Input {
    fn default() -> Self {
        Self {
            held: Vec::new(),
            gesture: Gesture::None,
        }
    }
}

impl Input {
    /// True while something is dragged.
    #[must_use]
    pub fn is_dragging(&self) -> bool {
        self.gesture != Gesture::None
    }

    /// True while the divider is dragged.
    #[must_use]
    pub fn drags_divider(&self) -> bool {
        self.gesture == Gesture::Divider
    }

    /// A pointer goes down and takes hold of what is within its reach.
    pub fn down(&mut self, pointer: Pointer, grabs: Grab) {
        self.held.retain(|h| h.pointer.id != pointer.id);
        self.held.push(Held {
            pointer,
            start: pointer,
            moved: false,
        });
        self.gesture = match (self.held.len(), grabs) {
            (1, Grab::Divider) => Gesture::Divider,
            (1, Grab::Loupe) => Gesture::Loupe,
            (1, Grab::Nothing) if pointer.pans => Gesture::Pan,
            (1, Grab::Nothing) => Gesture::Turn,
            _ => Gesture::Pair,
        };
        if self.gesture == Gesture::Pair {
            self.held.iter_mut().for_each(|h| h.moved = true);
        }
    }

    /// A pointer moves.
    pub fn moved(&mut self, pointer: Pointer) -> Vec<Intent> {
        let before = self.pair();
        let Some(held) = self.held.iter_mut().find(|h| h.pointer.id == pointer.id) else {
            return Vec::new();
        };
        let last = held.pointer;
        held.pointer = Pointer {
            pans: last.pans,
            ..pointer
        };
        let slack = if pointer.touch {
            CLICK_PX.1
        } else {
            CLICK_PX.0
        };
        held.moved |= (pointer.x - held.start.x).hypot(pointer.y - held.start.y) > slack;
        let (moved, dx, dy) = (held.moved, pointer.x - last.x, pointer.y - last.y);
        match self.gesture {
            Gesture::Divider => vec![Intent::Divider {
                x: pointer.x,
                y: pointer.y,
            }],
            Gesture::Loupe if moved => vec![Intent::Loupe {
                x: pointer.x,
                y: pointer.y,
            }],
            Gesture::Turn if moved => vec![Intent::Orbit { dx, dy }],
            Gesture::Pan if moved => vec![Intent::Pan { dx, dy }],
            Gesture::Pair => self.pair_intents(before),
            _ => Vec::new(),
        }
    }

    /// A pointer goes up, or is taken away by the system (`cancelled`).
    pub fn up(&mut self, pointer: Pointer, cancelled: bool) -> Vec<Intent> {
        let Some(index) = self.held.iter().position(|h| h.pointer.id == pointer.id) else {
            return Vec::new();
        };
        let held = self.held.remove(index);
        let gesture = self.gesture;
        self.gesture = match self.held.as_slice() {
            [] => Gesture::None,
            [_] => Gesture::Turn,
            _ => Gesture::Pair,
        };
        let short = pointer.time_ms - held.start.time_ms <= CLICK_MS;
        let click = !cancelled && !held.moved && short && self.held.is_empty();
        // What lies under a divider or in a loupe can be asked about and measured as anything else.
        if click && matches!(gesture, Gesture::Turn | Gesture::Loupe | Gesture::Divider) {
            return vec![Intent::Click {
                x: pointer.x,
                y: pointer.y,
            }];
        }
        Vec::new()
    }

    /// Middle and spread of the first two pointers.
    fn pair(&self) -> Option<([f64; 2], f64)> {
        let [a, b, ..] = self.held.as_slice() else {
            return None;
        };
        let (a, b) = (a.pointer, b.pointer);
        Some((
            [(a.x + b.x) / 2.0, (a.y + b.y) / 2.0],
            (a.x - b.x).hypot(a.y - b.y).max(1.0),
        ))
    }

    fn pair_intents(&self, before: Option<([f64; 2], f64)>) -> Vec<Intent> {
        let (Some((from, spread)), Some((to, wider))) = (before, self.pair()) else {
            return Vec::new();
        };
        vec![
            Intent::Pan {
                dx: to[0] - from[0],
                dy: to[1] - from[1],
            },
            Intent::Zoom {
                factor: spread / wider,
                x: to[0],
                y: to[1],
            },
        ]
    }
}

/// A wheel turned by `delta_px` CSS pixels at (x, y): 100 px, a notch of common mice, is 12 %.
#[must_use]
pub fn wheel(x: f64, y: f64, delta_px: f64) -> Intent {
    Intent::Zoom {
        factor: (delta_px.clamp(-600.0, 600.0) * 0.0012).exp(),
        x,
        y,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(id: i32, x: f64, y: f64, time_ms: f64) -> Pointer {
        Pointer {
            id,
            x,
            y,
            touch: true,
            pans: false,
            time_ms,
        }
    }

    #[test]
    fn a_still_short_press_is_a_click_and_a_moved_one_turns() {
        let mut input = Input::default();
        input.down(at(1, 10.0, 10.0, 0.0), Grab::Nothing);
        assert!(input.moved(at(1, 12.0, 10.0, 20.0)).is_empty());
        assert_eq!(
            input.up(at(1, 12.0, 10.0, 90.0), false),
            [Intent::Click { x: 12.0, y: 10.0 }]
        );
        input.down(at(1, 10.0, 10.0, 0.0), Grab::Nothing);
        assert_eq!(
            input.moved(at(1, 40.0, 15.0, 20.0)),
            [Intent::Orbit { dx: 30.0, dy: 5.0 }]
        );
        assert!(input.up(at(1, 40.0, 15.0, 90.0), false).is_empty());
        assert!(!input.is_dragging());
    }

    #[test]
    fn two_fingers_move_and_pinch_and_never_click() {
        let mut input = Input::default();
        input.down(at(1, 0.0, 0.0, 0.0), Grab::Nothing);
        input.down(at(2, 100.0, 0.0, 0.0), Grab::Nothing);
        let intents = input.moved(at(2, 200.0, 0.0, 10.0));
        assert_eq!(intents[0], Intent::Pan { dx: 50.0, dy: 0.0 });
        assert_eq!(
            intents[1],
            Intent::Zoom {
                factor: 0.5,
                x: 100.0,
                y: 0.0
            }
        );
        assert!(input.up(at(2, 200.0, 0.0, 20.0), false).is_empty());
        assert!(input.up(at(1, 0.0, 0.0, 30.0), false).is_empty());
    }

    #[test]
    fn the_divider_follows_the_pointer_that_took_it() {
        let mut input = Input::default();
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Divider);
        assert_eq!(
            input.moved(at(1, 51.0, 50.0, 5.0)),
            [Intent::Divider { x: 51.0, y: 50.0 }]
        );
        input.moved(at(1, 70.0, 50.0, 9.0));
        assert!(input.up(at(1, 70.0, 50.0, 12.0), false).is_empty());
    }

    #[test]
    fn a_press_on_the_divider_that_does_not_move_is_a_click_on_what_lies_there() {
        let mut input = Input::default();
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Divider);
        assert_eq!(
            input.up(at(1, 50.0, 50.0, 60.0), false),
            [Intent::Click { x: 50.0, y: 50.0 }]
        );
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Divider);
        assert!(input.up(at(1, 50.0, 50.0, 5_000.0), false).is_empty());
    }

    #[test]
    fn a_pointer_taken_away_leaves_nothing_behind() {
        let mut input = Input::default();
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Nothing);
        assert!(input.up(at(1, 50.0, 50.0, 5.0), true).is_empty());
        assert!(input.moved(at(1, 90.0, 50.0, 9.0)).is_empty());
    }

    #[test]
    fn a_pressed_loupe_is_carried_once_it_moves_and_a_tap_in_it_is_a_click() {
        let mut input = Input::default();
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Loupe);
        assert_eq!(input.moved(at(1, 51.0, 50.0, 10.0)), vec![]);
        assert_eq!(
            input.up(at(1, 51.0, 50.0, 20.0), false),
            vec![Intent::Click { x: 51.0, y: 50.0 }]
        );
        input.down(at(1, 50.0, 50.0, 0.0), Grab::Loupe);
        assert_eq!(
            input.moved(at(1, 80.0, 60.0, 10.0)),
            vec![Intent::Loupe { x: 80.0, y: 60.0 }]
        );
        assert_eq!(input.up(at(1, 80.0, 60.0, 20.0), false), vec![]);
    }
}
