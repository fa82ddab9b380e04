//! Text and tables from page to page.

use crate::fonts;
use crate::order::Paper;
use crate::scene::{EDGE, FAINT, Face, INK, Item, Page, Pen, RULE, Shape, Style, Tag, Words};
use geo::coord;

const TITLE: Style = Style::new(Face::Bold, 15.0, INK);
const HEAD: Style = Style::new(Face::Bold, 10.5, INK);
const SUB: Style = Style::new(Face::Bold, 8.6, INK);
const BODY: Style = Style::new(Face::Regular, 8.2, INK);
const CELL: Style = Style::new(Face::Regular, 7.4, INK);
const CELL_HEAD: Style = Style::new(Face::Bold, 7.4, INK);
/// Left and right edge of the text, and its top and bottom.
const SIDE: f64 = 48.0;
const TOP: f64 = 46.0;
const BOTTOM: f64 = 44.0;
/// Room between columns of a table.
const GAP: f64 = 12.0;

/// A table.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    /// The heads of its columns, and whether a column holds figures, which stand to the right.
    pub(crate) columns: Vec<(&'static str, bool)>,
    /// Its rows, and whether a row is a sum.
    pub(crate) rows: Vec<(Vec<String>, bool)>,
}

impl Table {
    /// A table without rows.
    pub(crate) fn of(columns: &[(&'static str, bool)]) -> Self {
        Self { columns: columns.to_vec(), rows: vec![] }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push((cells, false));
    }

    /// Adds a row with sums.
    pub(crate) fn sum(&mut self, cells: Vec<String>) {
        self.rows.push((cells, true));
    }
}

/// Pages that are filled from the top down.
pub(crate) struct Flow {
    paper: (f64, f64),
    pages: Vec<Page>,
    y: f64,
    tables: usize,
}

impl Flow {
    /// The first page.
    pub(crate) fn on(paper: Paper) -> Self {
        let mut flow = Self { paper: paper.sides(), pages: vec![], y: 0.0, tables: 0 };
        flow.turn();
        flow
    }

    fn turn(&mut self) {
        let (width, height) = self.paper;
        let (items, bookmarks) = (vec![], vec![]);
        self.pages.push(Page { width, height, items, bookmarks, ground: None });
        self.y = TOP;
    }

    fn width(&self) -> f64 {
        self.paper.0 - 2.0 * SIDE
    }

    fn page(&mut self) -> &mut Page {
        self.pages.last_mut().expect("there is a page from the start")
    }

    /// Turns the page if less than `height` is left.
    pub(crate) fn need(&mut self, height: f64) {
        if self.y > TOP && self.y + height > self.paper.1 - BOTTOM {
            self.turn();
        }
    }

    fn lines(&mut self, style: Style, tag: Tag, words: &str) {
        let lines = fonts::wrapped(style.face, words, self.width() / style.size);
        let mut items = vec![];
        for line in lines {
            // A paragraph that goes on overleaf is two.
            if self.y + style.size * 1.3 > self.paper.1 - BOTTOM {
                let before = std::mem::take(&mut items);
                self.page().items.push(Item::Tagged { tag: tag.clone(), items: before });
                self.turn();
            }
            self.y += style.size * 1.32;
            let at = coord! { x: SIDE, y: self.y - style.size * 0.3 };
            items.push(Words::left(at, style, line));
        }
        self.page().items.push(Item::Tagged { tag, items });
    }

    /// The title of all pages.
    pub(crate) fn title(&mut self, words: &str) {
        let y = self.y;
        self.page().bookmarks.push((1, words.to_owned(), y));
        self.lines(TITLE, Tag::Heading(1, words.to_owned()), words);
        self.y += 4.0;
    }

    /// The heading of a part.
    pub(crate) fn heading(&mut self, words: &str) {
        self.need(70.0);
        if self.y > TOP {
            self.y += 12.0;
        }
        let y = self.y;
        self.page().bookmarks.push((2, words.to_owned(), y));
        self.lines(HEAD, Tag::Heading(2, words.to_owned()), words);
        self.y += 2.0;
    }

    /// The heading of a table.
    pub(crate) fn subheading(&mut self, words: &str) {
        self.need(56.0);
        self.y += 6.0;
        self.lines(SUB, Tag::Heading(3, words.to_owned()), words);
        self.y += 1.0;
    }

    /// A paragraph.
    pub(crate) fn paragraph(&mut self, words: &str) {
        self.need(BODY.size * 1.32);
        self.lines(BODY, Tag::Paragraph, words);
        self.y += 3.0;
    }

    /// A table; its head is repeated on each page.
    pub(crate) fn table(&mut self, table: &Table) {
        let widths = widths(table, self.width());
        self.tables += 1;
        let head: Vec<String> = table.columns.iter().map(|(head, _)| (*head).to_owned()).collect();
        let head = Row::of(table, &widths, CELL_HEAD, &head);
        let rows: Vec<Row> = table
            .rows
            .iter()
            .map(|(cells, is_sum)| {
                Row::of(table, &widths, if *is_sum { CELL_HEAD } else { CELL }, cells)
            })
            .collect();
        let first = rows.first().map_or(0.0, |row| row.height);
        self.need(head.height + first);
        self.put(&head, 0, true);
        for (nth, row) in rows.iter().enumerate() {
            if self.y + row.height > self.paper.1 - BOTTOM {
                self.turn();
                self.put(&head, 0, true);
            }
            self.put(row, nth + 1, false);
        }
        self.y += 5.0;
    }

    fn put(&mut self, row: &Row, nth: usize, is_head: bool) {
        let (top, table) = (self.y, self.tables);
        let down = coord! { x: SIDE, y: top };
        for cell in row.cells.clone() {
            let tag = Tag::Cell { table, row: nth, head: is_head };
            let items = cell.into_iter().map(|item| item.moved(down)).collect();
            self.page().items.push(Item::Tagged { tag, items });
        }
        self.y += row.height;
        let y = self.y;
        let right = SIDE + row.width;
        let pen = if is_head { Pen::plain(INK, 0.7) } else { Pen::plain(RULE, 0.3) };
        let rule = Shape::line(vec![coord! { x: SIDE, y: y }, coord! { x: right, y: y }], pen);
        self.page().items.push(Item::Tagged { tag: Tag::Artifact, items: vec![rule] });
    }

    /// A line to write on, with what belongs there below it.
    pub(crate) fn line_to_sign(&mut self, words: &[&str]) {
        self.need(40.0);
        self.y += 28.0;
        let y = self.y;
        let width = self.width();
        let share = (width - GAP * (words.len() - 1) as f64) / words.len() as f64;
        for (nth, words) in words.iter().enumerate() {
            let left = SIDE + (share + GAP) * nth as f64;
            let ends = vec![coord! { x: left, y: y }, coord! { x: left + share, y: y }];
            let rule = Shape::line(ends, Pen::plain(INK, 0.5));
            self.page().items.push(Item::Tagged { tag: Tag::Artifact, items: vec![rule] });
            let style = Style::new(Face::Regular, 6.8, FAINT);
            let words = Words::left(coord! { x: left, y: y + 8.5 }, style, *words);
            self.page().items.push(Item::Tagged { tag: Tag::Paragraph, items: vec![words] });
        }
        self.y += 10.0;
    }

    /// The pages, with the title at the head of each but the first.
    pub(crate) fn into_pages(mut self, title: &str) -> Vec<Page> {
        let style = Style::new(Face::Regular, 6.5, FAINT);
        for page in self.pages.iter_mut().skip(1) {
            let words = Words::left(coord! { x: SIDE, y: EDGE }, style, title);
            page.items.push(Item::Tagged { tag: Tag::Artifact, items: vec![words] });
        }
        self.pages
    }
}

/// A row as it is set, from its upper left corner.
struct Row {
    cells: Vec<Vec<Item>>,
    width: f64,
    height: f64,
}

impl Row {
    fn of(table: &Table, widths: &[f64], style: Style, cells: &[String]) -> Self {
        let leading = style.size * 1.22;
        let mut left = 0.0;
        let mut set = vec![];
        let mut most = 1;
        for ((cell, width), (_, is_figure)) in cells.iter().zip(widths).zip(&table.columns) {
            let lines: Vec<String> = cell
                .split('\n')
                .flat_map(|part| fonts::wrapped(style.face, part, width / style.size + 1e-6))
                .collect();
            most = most.max(lines.len());
            let line = |(nth, words): (usize, String)| {
                let y = 2.2 + style.size + leading * nth as f64;
                if *is_figure {
                    Words::right(coord! { x: left + width, y: y }, style, words)
                } else {
                    Words::left(coord! { x: left, y: y }, style, words)
                }
            };
            set.push(lines.into_iter().enumerate().map(line).collect());
            left += width + GAP;
        }
        Self { cells: set, width: left - GAP, height: 5.0 + leading * most as f64 }
    }
}

/// Widths of the columns: as wide as their words, if there is room. Else those that are no wider than
/// their share keep their width, and the others share the rest by the square roots of theirs.
fn widths(table: &Table, width: f64) -> Vec<f64> {
    let natural: Vec<f64> = (0..table.columns.len())
        .map(|nth| {
            let head = CELL_HEAD.width(table.columns[nth].0);
            let cells = table.rows.iter().flat_map(|(cells, is_sum)| {
                let style = if *is_sum { CELL_HEAD } else { CELL };
                cells[nth].split('\n').map(move |part| style.width(part))
            });
            cells.fold(head, f64::max)
        })
        .collect();
    let room = width - GAP * natural.len().saturating_sub(1) as f64;
    if natural.iter().sum::<f64>() <= room {
        return natural;
    }
    let mut kept = vec![false; natural.len()];
    loop {
        let rest = |of: fn(f64) -> f64, is_kept: bool| -> f64 {
            let columns = natural.iter().zip(&kept).filter(|(_, kept)| **kept == is_kept);
            columns.map(|(width, _)| of(*width)).sum()
        };
        let (left, parts) = (room - rest(|width| width, true), rest(f64::sqrt, false));
        let share = |nth: usize| left * natural[nth].sqrt() / parts;
        match (0..natural.len()).find(|nth| !kept[*nth] && natural[*nth] <= share(*nth)) {
            Some(nth) => kept[nth] = true,
            None => {
                let width = |nth: usize| if kept[nth] { natural[nth] } else { share(nth) };
                return (0..natural.len()).map(width).collect();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_table_repeats_its_head_and_stays_on_the_paper() {
        let mut flow = Flow::on(Paper::Letter);
        let mut table = Table::of(&[("unit", false), ("what must stay", false), ("acres", true)]);
        for nth in 0..150 {
            let words = "every tree that leans over the bank ".repeat(nth % 9 + 1);
            table.row(vec![format!("U-{nth}"), words, "1,234.5".into()]);
        }
        flow.table(&table);
        let pages = flow.into_pages("Alder Bench (invented)");
        assert!(pages.len() > 3);
        for page in &pages {
            let mut heads = 0;
            for item in &page.items {
                let Item::Tagged { tag, items } = item else { continue };
                heads += usize::from(matches!(tag, Tag::Cell { head: true, .. }));
                for item in items {
                    let Item::Words(words) = item else { continue };
                    let end = words.at.x + words.style.width(&words.text);
                    assert!(end <= page.width - SIDE + 0.01, "{} ends at {end}", words.text);
                    assert!(words.at.y <= page.height - BOTTOM, "{}", words.text);
                }
            }
            assert_eq!(heads, 3);
        }
    }
}
