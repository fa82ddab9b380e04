//! The contract exhibit: a map sheet at true scale with its legend, and the pages of tables and text
//! that belong to it. One scene, drawn as PDF, SVG and PNG.
//!
//! | module | holds |
//! |---|---|
//! | [`order`] | what may be chosen: paper, scale, units |
//! | [`ground`] | the coordinate system of the contract, and the way into it |
//! | [`scene`] | what is drawn: shapes, words, layers, and their place in the text |
//! | [`fonts`] | the embedded fonts: how wide words are, where lines break |
//! | `symbols` | colours, hatches and pens |
//! | `sheet` | paper, map frame and scale |
//! | `map`, `haul`, `labels`, `grid`, `margin` | what is on the map sheet |
//! | `flow`, `report`, `works`, `words` | tables and text |
//! | `pdf`, `svg`, `png` | the writers |
//! | `styles` | the same colours and patterns as styles of layers, for mapping tools |
//!
//! Nothing here reads a file or a clock: the same plan gives the same bytes.

pub mod fonts;
pub mod ground;
pub mod order;
pub mod scene;
mod season;

mod fingerprint;
mod flow;
mod grid;
mod haul;
mod labels;
mod map;
mod margin;
mod pdf;
mod png;
mod report;
mod sheet;
mod stand;
mod styles;
mod svg;
mod symbols;
mod words;
mod works;

pub use ground::System;
pub use order::{Order, Paper, Scale, Units};
pub use styles::{LayerStyle, styles};

use planner::Plan;
use scene::Page;
use tract::Notice;

/// An exhibit: the map sheet first, then the pages of tables and text.
#[derive(Debug, Clone)]
pub struct Exhibit {
    title: String,
    fingerprint: String,
    pages: Vec<Page>,
}

impl Exhibit {
    /// The exhibit of `plan` on the paper and at the scale of `order`, in the contract's coordinate
    /// system.
    ///
    /// # Errors
    /// A notice with the code `sheet-too-small` if the units do not fit the paper at the scale that
    /// was asked for, `contract-in-degrees` if the contract's coordinates are angles, or one of the
    /// ways of `system`.
    pub fn of(plan: &Plan, system: &System<'_>, order: &Order) -> Result<Self, Notice> {
        let fingerprint = fingerprint::of(plan);
        let map = map::page(plan, system, order, &fingerprint)?;
        let mut pages = vec![map];
        pages.extend(report::pages(plan, system, order, &fingerprint));
        number(&mut pages, &plan.title, &fingerprint);
        Ok(Self { title: plan.title.clone(), fingerprint, pages })
    }

    /// How many pages there are.
    pub fn len(&self) -> usize {
        self.pages.len()
    }

    /// Whether there is no page: never, the map is always there.
    pub fn is_empty(&self) -> bool {
        self.pages.is_empty()
    }

    /// SHA-256 over the fingerprints of everything that the plan was made from, hexadecimal.
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }

    /// All pages as a PDF 1.7: vector, text that can be searched, tagged, with bookmarks, the map in
    /// layers and georeferenced as ISO 32000-2 says (clause 12.10).
    ///
    /// # Errors
    /// A notice with the code `exhibit-failed`: a fault of this program.
    pub fn pdf(&self) -> Result<Vec<u8>, Notice> {
        pdf::bytes(&self.title, &self.fingerprint, &self.pages)
    }

    /// The map sheet as an SVG, a user unit being a point (1/72 inch).
    pub fn svg(&self) -> String {
        svg::text(&self.title, &self.pages[0])
    }

    /// One page, counted from 0, as a PNG with `dots` pixels an inch; none if there is no such page.
    pub fn png(&self, page: usize, dots: u32) -> Option<Vec<u8>> {
        self.pages.get(page).and_then(|page| png::bytes(page, dots))
    }
}

/// Prints the page numbers.
fn number(pages: &mut [Page], title: &str, fingerprint: &str) {
    let count = pages.len();
    for (nth, page) in pages.iter_mut().enumerate() {
        let number = format!("page {} of {count}", nth + 1);
        let plan = format!("{title} · plan {}", &fingerprint[..12]);
        page.number(&plan, &number);
    }
}
