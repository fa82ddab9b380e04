//! A model's cells with a ring of voids laid around them, so that each has eight neighbours.

use super::DrainageError;
use tract::Elevation;

/// Cells and counts of them are kept in 32 bits. Over level ground, steps are counted three times
/// (twice to where it spills, once from higher ground) in 31 bits; no way has more than half the
/// cells.
const MOST_CELLS: usize = 1 << 30;

/// The eight ways out of a cell, as rows and columns to add: from the north-west row by row.
pub(super) const WAYS: [(isize, isize); 8] =
    [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)];

/// The ways along rows and columns, then those across, each in the order of [`WAYS`].
pub(super) const STRAIGHT_FIRST: [usize; 8] = [1, 3, 4, 6, 0, 2, 5, 7];

/// Whether a way runs across both rows and columns.
pub(super) fn is_aslant(way: usize) -> bool {
    let (row, column) = WAYS[way];
    row != 0 && column != 0
}

/// How the cells lie in memory: row by row, with the ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ring {
    rows: usize,
    columns: usize,
}

impl Ring {
    /// # Errors
    /// [`DrainageError::TooLarge`].
    pub(super) fn around(model: &Elevation) -> Result<Self, DrainageError> {
        let Elevation { rows, columns, .. } = *model;
        let side = |cells: usize| cells.checked_add(2);
        let cells =
            side(rows).zip(side(columns)).and_then(|(rows, columns)| rows.checked_mul(columns));
        match cells {
            Some(cells) if cells <= MOST_CELLS => Ok(Self { rows, columns }),
            _ => Err(DrainageError::TooLarge { rows, columns }),
        }
    }

    pub(super) fn rows(self) -> usize {
        self.rows
    }

    pub(super) fn columns(self) -> usize {
        self.columns
    }

    /// Cells of a row with both ends of the ring.
    pub(super) fn stride(self) -> usize {
        self.columns + 2
    }

    /// All cells, the ring with them.
    pub(super) fn len(self) -> usize {
        (self.rows + 2) * self.stride()
    }

    /// The place in memory of a cell; none beside the model.
    pub(super) fn cell(self, row: usize, column: usize) -> Option<usize> {
        (row < self.rows && column < self.columns).then(|| (row + 1) * self.stride() + column + 1)
    }

    /// Row and column of a cell that is not on the ring.
    pub(super) fn place(self, cell: usize) -> (usize, usize) {
        (cell / self.stride() - 1, cell % self.stride() - 1)
    }

    /// What to add to a cell's place in memory for each of the [`WAYS`].
    pub(super) fn steps(self) -> [isize; 8] {
        WAYS.map(|(row, column)| row * self.stride() as isize + column)
    }

    /// The cells of the model, without the ring, row by row.
    pub(super) fn cells(self) -> impl Iterator<Item = usize> {
        let stride = self.stride();
        (1..=self.rows).flat_map(move |row| row * stride + 1..(row + 1) * stride - 1)
    }

    /// The heights of a model, `NaN` on the ring and for each void.
    pub(super) fn heights(self, model: &Elevation) -> Vec<f32> {
        let mut heights = vec![f32::NAN; self.len()];
        let rows = model.heights_m.chunks(self.columns.max(1)).take(self.rows);
        for (row, of_row) in rows.enumerate() {
            let start = (row + 1) * self.stride() + 1;
            let inside = &mut heights[start..start + self.columns];
            for (height, &known) in inside.iter_mut().zip(of_row) {
                *height = if known.is_finite() { known } else { f32::NAN };
            }
        }
        heights
    }
}

/// The cell one step from another. The ring makes sure that there is one.
pub(super) fn beside(cell: usize, step: isize) -> usize {
    cell.wrapping_add_signed(step)
}
