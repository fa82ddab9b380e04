//! Closures and dates for tests.

#![allow(dead_code, reason = "each test program uses a part")]

use chrono::NaiveDate;
use season::{Cause, Closure, Piece, Span, When};
use tract::{Operation, Permission, Permissions, SquareMetres};

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn span(from: &str, to: &str) -> Span {
    Span::new(day(from), day(to)).unwrap()
}

pub fn yearly(from: &str, to: &str) -> When {
    When::Yearly { from: from.parse().unwrap(), to: to.parse().unwrap() }
}

pub fn closure(id: &str, when: When, permissions: Permissions) -> Closure {
    Closure {
        id: id.into(),
        cause: Cause::Site,
        feature: Some(id.into()),
        reason: format!("season of {id}"),
        clause: None,
        when,
        permissions,
    }
}

/// A closure of harvest alone.
pub fn closed(id: &str, when: When) -> Closure {
    closure(id, when, Permissions::open().set(Operation::Harvest, Permission::Closed))
}

pub fn limited(id: &str, when: When, condition: &str) -> Closure {
    let permission = Permission::Limited(condition.into());
    closure(id, when, Permissions::open().set(Operation::Harvest, permission))
}

pub fn piece<'c>(acres: f64, closures: &[&'c Closure]) -> Piece<'c> {
    Piece {
        area: SquareMetres::from_acres(acres),
        permission: Permission::Open,
        closures: closures.to_vec(),
    }
}

/// Numbers that look random, the same in every run (Steele, Lea and Flood 2014, SplitMix64).
pub struct Numbers(pub u64);

impl Numbers {
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % end
    }

    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.below(1 << 30) as f64 / (1u64 << 30) as f64
    }
}
