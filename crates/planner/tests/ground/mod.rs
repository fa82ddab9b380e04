//! Models of ground made from a height that is a function of the place.

use geo::Coord;
use tract::{Elevation, Metres, SideSlope, SquareMetres, Terrain};

/// Feet in metres, exactly.
pub const FT: f64 = 0.3048;

/// A model around the middle with heights that are a function of the place.
pub fn terrain(cell: f64, size: f64, height: impl Fn(Coord) -> f64) -> Terrain {
    let count = (size / cell) as usize;
    let mut model = Elevation {
        west_m: -size / 2.0,
        north_m: size / 2.0,
        cell: Metres(cell),
        columns: count,
        rows: count,
        heights_m: vec![],
    };
    let cells = (0..count).flat_map(|row| (0..count).map(move |column| (row, column)));
    let heights = cells.map(|(row, column)| height(model.middle(row, column)) as f32).collect();
    model.heights_m = heights;
    Terrain {
        model,
        smoothing: Metres(0.0),
        coarsest: Metres(cell),
        side_slope: SideSlope::Mean,
        station_spacing: Metres(10.0),
        shortest_run: Metres(30.0),
        steep_limits_pct: vec![],
        least_steep: SquareMetres(0.0),
        channel_head: None,
        file: "terrain.tif".into(),
    }
}
