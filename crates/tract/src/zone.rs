//! Kinds of zone, and the state of a piece of ground.

use crate::{Operation, Permission, Permissions};
use serde::{Deserialize, Serialize};

/// What a zone is there for. The order is that of precedence among equally strict zones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneKind {
    /// The water itself, from bank to bank.
    Water,
    /// A streamside strip, numbered from the bank.
    Strip,
    /// Ground kept for a wildlife or heritage site.
    Site,
    /// Ground steeper than a limit for ground machines.
    Steep,
    /// Wet ground.
    Wet,
    /// A road and its clearing.
    Road,
    /// A utility line and its right of way.
    Line,
    /// A screen left for the view.
    View,
    /// All other ground of the unit.
    Open,
}

impl ZoneKind {
    /// All kinds, in order of precedence.
    pub const ALL: [Self; 9] = [
        Self::Water,
        Self::Strip,
        Self::Site,
        Self::Steep,
        Self::Wet,
        Self::Road,
        Self::Line,
        Self::View,
        Self::Open,
    ];

    /// The name in layers and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Strip => "strip",
            Self::Site => "site",
            Self::Steep => "steep",
            Self::Wet => "wet",
            Self::Road => "road",
            Self::Line => "line",
            Self::View => "view",
            Self::Open => "open",
        }
    }
}

/// Whether a piece of ground counts as operable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GroundState {
    /// No limit on harvest or equipment.
    Open,
    /// Harvest or equipment is limited, or equipment is closed.
    Limited,
    /// Harvest is closed.
    Closed,
}

impl GroundState {
    /// The state that `permissions` give a piece of ground. Net operable = open + limited.
    ///
    /// ```
    /// use tract::{GroundState, Operation, Permission, Permissions};
    /// let hand_felling = Permissions::open().set(Operation::Equipment, Permission::Closed);
    /// assert_eq!(GroundState::of(&hand_felling), GroundState::Limited);
    /// assert_eq!(GroundState::of(&Permissions::closed()), GroundState::Closed);
    /// ```
    pub fn of(permissions: &Permissions) -> Self {
        let harvest = permissions.of(Operation::Harvest);
        let equipment = permissions.of(Operation::Equipment);
        match (harvest, equipment) {
            (Permission::Closed, _) => Self::Closed,
            (Permission::Open, Permission::Open) => Self::Open,
            _ => Self::Limited,
        }
    }

    /// The name in layers and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Limited => "limited",
            Self::Closed => "closed",
        }
    }
}
