//! The regions of the boss and their numbers in the region map.

/// A region. The discriminant is the code in the region map; 0 is kept for "no region".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Region {
    /// Trunk of the heron without wing, neck and legs.
    Body = 1,
    /// Folded wing and tail.
    Wing = 2,
    /// Neck with the hanging plumes of the breast.
    Neck = 3,
    /// Head without crest, eye and bill.
    Head = 4,
    /// Plumes behind the head.
    Crest = 5,
    /// Ball of the eye without the pupil.
    Eye = 6,
    /// Bill: the stump on the stone and the restored part.
    Bill = 7,
    /// Both legs with their toes.
    Leg = 8,
    /// Upper faces of the lily leaves.
    LeafUpper = 9,
    /// Undersides of the lily leaves.
    LeafUnder = 10,
    /// Leaf stalks.
    Stalk = 11,
    /// Petals of the lilies.
    Petal = 12,
    /// Hearts of the lilies.
    Heart = 13,
    /// Buds.
    Bud = 14,
    /// Blades and stems of the reeds.
    Reed = 15,
    /// Heads of the reedmace.
    Reedmace = 16,
    /// Ground between the leaves, carved as water.
    Water = 17,
    /// Outer roll of the rim.
    Roll = 18,
    /// Hollow of the rim.
    Hollow = 19,
    /// Inner fillet of the rim.
    Fillet = 20,
    /// Sides and back, never painted.
    Bed = 21,
    /// Pellets set in the hollow of the rim.
    Pellet = 22,
    /// Pupil of the eye.
    Pupil = 23,
}

impl Region {
    /// Every region in the order of its number.
    pub const ALL: [Self; 23] = [
        Self::Body,
        Self::Wing,
        Self::Neck,
        Self::Head,
        Self::Crest,
        Self::Eye,
        Self::Bill,
        Self::Leg,
        Self::LeafUpper,
        Self::LeafUnder,
        Self::Stalk,
        Self::Petal,
        Self::Heart,
        Self::Bud,
        Self::Reed,
        Self::Reedmace,
        Self::Water,
        Self::Roll,
        Self::Hollow,
        Self::Fillet,
        Self::Bed,
        Self::Pellet,
        Self::Pupil,
    ];

    /// Code in the region map.
    #[must_use]
    pub const fn number(self) -> u8 {
        self as u8
    }

    /// Index into tables with one row a region.
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize - 1
    }

    /// Id in the dossier.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Body => "heron-body",
            Self::Wing => "heron-wing",
            Self::Neck => "heron-neck",
            Self::Head => "heron-head",
            Self::Crest => "heron-crest",
            Self::Eye => "heron-eye",
            Self::Bill => "heron-bill",
            Self::Leg => "heron-leg",
            Self::LeafUpper => "leaf-upper",
            Self::LeafUnder => "leaf-underside",
            Self::Stalk => "leaf-stalk",
            Self::Petal => "lily-petal",
            Self::Heart => "lily-heart",
            Self::Bud => "lily-bud",
            Self::Reed => "reed",
            Self::Reedmace => "reedmace-head",
            Self::Water => "water",
            Self::Roll => "rim-roll",
            Self::Hollow => "rim-hollow",
            Self::Fillet => "rim-fillet",
            Self::Bed => "bed",
            Self::Pellet => "rim-pellet",
            Self::Pupil => "heron-pupil",
        }
    }

    /// The region with an id.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|r| r.id() == id)
    }

    /// The region with a number.
    #[must_use]
    pub fn from_number(number: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|r| r.number() == number)
    }
}
