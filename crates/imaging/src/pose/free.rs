//! Which numbers of a lens are found along with the pose.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// What is free besides the six numbers of the pose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Free {
    /// The focal length; its ratio between x and y stays.
    pub focal: bool,
    /// The principal point.
    pub centre: bool,
    /// Radial distortion, r².
    pub k1: bool,
    /// Radial distortion, r⁴.
    pub k2: bool,
    /// Radial distortion, r⁶.
    pub k3: bool,
    /// Decentring distortion, p1 and p2.
    pub p: bool,
}

/// Numbers of a pose: a turn and a shift.
pub(super) const POSE_NUMBERS: usize = 6;

impl Free {
    /// Only the pose.
    pub const NONE: Self = Self {
        focal: false,
        centre: false,
        k1: false,
        k2: false,
        k3: false,
        p: false,
    };

    /// Names of the numbers, the pose's first.
    pub fn names(&self) -> Vec<&'static str> {
        let mut names = vec![
            "turn_x_rad",
            "turn_y_rad",
            "turn_z_rad",
            "shift_x_m",
            "shift_y_m",
            "shift_z_m",
        ];
        let mut add = |is_free: bool, more: &[&'static str]| {
            if is_free {
                names.extend(more);
            }
        };
        add(self.focal, &["focal_px"]);
        add(self.centre, &["centre_x_px", "centre_y_px"]);
        add(self.k1, &["k1"]);
        add(self.k2, &["k2"]);
        add(self.k3, &["k3"]);
        add(self.p, &["p1", "p2"]);
        names
    }

    /// How many numbers are found, the pose's included.
    pub fn count(&self) -> usize {
        self.names().len()
    }

    /// Whether distortion is among them.
    pub fn distortion(&self) -> bool {
        self.k1 || self.k2 || self.k3 || self.p
    }

    /// Pairs that are needed: each gives two numbers, and one pair more lets the others be judged.
    pub fn pairs_needed(&self) -> usize {
        (self.count().div_ceil(2) + 1).max(if self.focal { 6 } else { 4 })
    }
}

impl fmt::Display for Free {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        let all = [
            (self.focal, "focal"),
            (self.centre, "centre"),
            (self.k1, "k1"),
            (self.k2, "k2"),
            (self.k3, "k3"),
            (self.p, "p"),
        ];
        let named: Vec<&str> = all.iter().filter(|a| a.0).map(|a| a.1).collect();
        out.write_str(if named.is_empty() { "none" } else { "" })?;
        out.write_str(&named.join(","))
    }
}

impl FromStr for Free {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut free = Self::NONE;
        for word in text.split(',').map(str::trim) {
            match word {
                "none" => {}
                "focal" => free.focal = true,
                "centre" => free.centre = true,
                "k1" => free.k1 = true,
                "k2" => free.k2 = true,
                "k3" => free.k3 = true,
                "p" => free.p = true,
                other => {
                    return Err(format!(
                        "“{other}” is none of focal, centre, k1, k2, k3, p, none"
                    ));
                }
            }
        }
        Ok(free)
    }
}
