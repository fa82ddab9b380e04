//! What may be done on a piece of ground.

use serde::{Deserialize, Serialize};

/// The operations that a rule speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Operation {
    /// Felling and taking trees.
    Harvest,
    /// Driving machines.
    Equipment,
    /// Dragging or carrying wood over the ground.
    Skidding,
    /// Building or using a truck road.
    Road,
    /// Piling and loading wood.
    Landing,
    /// Preparing the site for planting by machine.
    SitePrep,
    /// Spraying herbicide.
    Herbicide,
    /// Spreading fertilizer.
    Fertilizer,
    /// Prescribed burning.
    Burn,
    /// Plowing a fireline down to bare soil.
    Fireline,
}

impl Operation {
    /// All ten, in the order of the layers' columns.
    pub const ALL: [Self; 10] = [
        Self::Harvest,
        Self::Equipment,
        Self::Skidding,
        Self::Road,
        Self::Landing,
        Self::SitePrep,
        Self::Herbicide,
        Self::Fertilizer,
        Self::Burn,
        Self::Fireline,
    ];

    /// The name in rule books and messages, for example `site-prep`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Harvest => "harvest",
            Self::Equipment => "equipment",
            Self::Skidding => "skidding",
            Self::Road => "road",
            Self::Landing => "landing",
            Self::SitePrep => "site-prep",
            Self::Herbicide => "herbicide",
            Self::Fertilizer => "fertilizer",
            Self::Burn => "burn",
            Self::Fireline => "fireline",
        }
    }

    /// The column in layers, for example `op_site_prep`.
    pub fn column(self) -> &'static str {
        match self {
            Self::Harvest => "op_harvest",
            Self::Equipment => "op_equipment",
            Self::Skidding => "op_skidding",
            Self::Road => "op_road",
            Self::Landing => "op_landing",
            Self::SitePrep => "op_site_prep",
            Self::Herbicide => "op_herbicide",
            Self::Fertilizer => "op_fertilizer",
            Self::Burn => "op_burn",
            Self::Fireline => "op_fireline",
        }
    }
}

/// What a rule says of one operation, from least to most restrictive.
///
/// ```
/// use tract::Permission;
/// assert!(Permission::Closed > Permission::Limited("frozen ground".into()));
/// let both = Permission::Limited("frozen ground".into()).with(&Permission::Limited("by hand".into()));
/// assert_eq!(both.to_string(), "limited: by hand; frozen ground");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Permission {
    /// No condition.
    #[default]
    Open,
    /// Allowed on the condition that follows.
    Limited(String),
    /// Not allowed.
    Closed,
}

impl Permission {
    /// The stricter of two; two conditions are both kept, in alphabetical order.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        match (self, other) {
            (Self::Closed, _) | (_, Self::Closed) => Self::Closed,
            (Self::Open, rule) | (rule, Self::Open) => rule.clone(),
            (Self::Limited(one), Self::Limited(two)) => {
                let mut conditions: Vec<&str> = one.split("; ").chain(two.split("; ")).collect();
                conditions.sort_unstable();
                conditions.dedup();
                Self::Limited(conditions.join("; "))
            }
        }
    }
}

impl std::fmt::Display for Permission {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Open => out.write_str("open"),
            Self::Limited(condition) => write!(out, "limited: {condition}"),
            Self::Closed => out.write_str("closed"),
        }
    }
}

/// One permission for each operation.
///
/// ```
/// use tract::{Operation, Permission, Permissions};
/// let strip = Permissions::open().set(Operation::Equipment, Permission::Closed);
/// let site = Permissions::open().set(Operation::Harvest, Permission::Limited("by hand".into()));
/// let both = strip.with(&site);
/// assert_eq!(both.of(Operation::Equipment), &Permission::Closed);
/// assert_eq!(both.of(Operation::Burn), &Permission::Open);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub struct Permissions([Permission; 10]);

impl Permissions {
    /// Every operation open.
    pub fn open() -> Self {
        Self::default()
    }

    /// Every operation closed.
    pub fn closed() -> Self {
        Self(std::array::from_fn(|_| Permission::Closed))
    }

    /// The same with one operation changed.
    #[must_use]
    pub fn set(mut self, operation: Operation, permission: Permission) -> Self {
        self.0[operation as usize] = permission;
        self
    }

    /// What is said of one operation.
    pub fn of(&self, operation: Operation) -> &Permission {
        &self.0[operation as usize]
    }

    /// The stricter of both, operation by operation.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self(std::array::from_fn(|nth| self.0[nth].with(&other.0[nth])))
    }
}
