//! A plain GeoTIFF: one band of 32-bit floating numbers, one strip, not packed.
//!
//! Written here and not by a library, so that the bytes never depend on a library's version.
//!
//! # Sources
//! TIFF 6.0 (tags, types, header) and OGC 19-008r4, GeoTIFF 1.1 (keys); both from memory, not
//! confirmed. A test has GDAL read the result.

/// What lies where in the file.
pub struct Grid {
    /// Cells from west to east.
    pub columns: u32,
    /// Cells from north to south.
    pub rows: u32,
    /// Size of a cell, metres.
    pub cell: f64,
    /// Easting and northing of the outer corner of the first cell, metres.
    pub north_west: (f64, f64),
    /// EPSG code of the projected coordinate system.
    pub epsg: u16,
}

/// Bytes before the directory: byte order, 42, where the directory starts.
const HEADER: usize = 8;

/// An entry of the directory: tag and values.
enum Value {
    Short(Vec<u16>),
    Long(u32),
    Double(Vec<f64>),
}

impl Value {
    /// Number of the TIFF type, count of values, and their bytes.
    fn encoded(&self) -> (u16, usize, Vec<u8>) {
        match self {
            Self::Short(values) => {
                (3, values.len(), values.iter().flat_map(|value| value.to_le_bytes()).collect())
            }
            Self::Long(value) => (4, 1, value.to_le_bytes().to_vec()),
            Self::Double(values) => {
                (12, values.len(), values.iter().flat_map(|value| value.to_le_bytes()).collect())
            }
        }
    }
}

/// The file's bytes; `cells` row by row from the north-west.
pub fn encode(grid: &Grid, cells: &[f64]) -> Vec<u8> {
    let pixels: Vec<u8> = cells.iter().flat_map(|&cell| (cell as f32).to_le_bytes()).collect();
    let mut entries = entries(grid, pixels.len() as u32);
    let directory = 2 + 12 * entries.len() + 4;
    let aside: usize =
        entries.iter().map(|(_, value)| value.encoded().2.len()).filter(|&length| length > 4).sum();
    let strip = HEADER + directory + aside;
    for (tag, value) in &mut entries {
        if *tag == STRIP_OFFSETS {
            *value = Value::Long(strip as u32);
        }
    }
    let mut bytes = b"II".to_vec();
    bytes.extend(42_u16.to_le_bytes());
    bytes.extend((HEADER as u32).to_le_bytes());
    bytes.extend(directory_bytes(&entries, HEADER + directory));
    bytes.extend(pixels);
    bytes
}

const STRIP_OFFSETS: u16 = 273;

/// The directory in the order of its tags; the strip's offset is not yet known.
fn entries(grid: &Grid, pixel_bytes: u32) -> Vec<(u16, Value)> {
    let short = |value: u16| Value::Short(vec![value]);
    let (east, north) = grid.north_west;
    vec![
        (256, Value::Long(grid.columns)),
        (257, Value::Long(grid.rows)),
        (258, short(32)),
        (259, short(1)),
        (262, short(1)),
        (STRIP_OFFSETS, Value::Long(0)),
        (277, short(1)),
        (278, Value::Long(grid.rows)),
        (279, Value::Long(pixel_bytes)),
        (339, short(3)),
        (33_550, Value::Double(vec![grid.cell, grid.cell, 0.0])),
        (33_922, Value::Double(vec![0.0, 0.0, 0.0, east, north, 0.0])),
        (34_735, Value::Short(geo_keys(grid.epsg))),
    ]
}

/// The key directory: a projected system, cells as areas, metres.
fn geo_keys(epsg: u16) -> Vec<u16> {
    let keys = [(1024, 1), (1025, 1), (3072, epsg), (3076, 9001)];
    let mut directory = vec![1, 1, 1, keys.len() as u16];
    for (key, value) in keys {
        directory.extend([key, 0, 1, value]);
    }
    directory
}

/// The directory and the values that do not fit into it, which start at `aside`.
fn directory_bytes(entries: &[(u16, Value)], aside: usize) -> Vec<u8> {
    let mut directory = (entries.len() as u16).to_le_bytes().to_vec();
    let mut beyond = Vec::new();
    for (tag, value) in entries {
        let (kind, count, mut content) = value.encoded();
        directory.extend(tag.to_le_bytes());
        directory.extend(kind.to_le_bytes());
        directory.extend((count as u32).to_le_bytes());
        if content.len() > 4 {
            directory.extend(((aside + beyond.len()) as u32).to_le_bytes());
            beyond.extend(content);
        } else {
            content.resize(4, 0);
            directory.extend(content);
        }
    }
    directory.extend(0_u32.to_le_bytes());
    directory.extend(beyond);
    directory
}
