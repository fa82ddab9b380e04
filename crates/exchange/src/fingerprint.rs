//! SHA-256 of input files.
#![allow(clippy::disallowed_methods, reason = "the door to files: fingerprints of inputs")]

use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// SHA-256 of a file's bytes, hexadecimal. Of a shapefile, or of a folder (a file geodatabase), of
/// the bytes of all parts in the order of their names.
///
/// # Errors
/// If a file cannot be read.
pub fn of_file(path: &Path) -> io::Result<String> {
    sum_of(parts(path)?)
}

/// SHA-256 of the bytes of one file, hexadecimal, whatever it is a part of.
///
/// # Errors
/// If it cannot be read.
pub fn of_single_file(path: &Path) -> io::Result<String> {
    sum_of(vec![path.to_owned()])
}

fn sum_of(files: Vec<PathBuf>) -> io::Result<String> {
    let mut sum = Sha256::new();
    for part in files {
        io::copy(&mut File::open(part)?, &mut sum)?;
    }
    Ok(hexadecimal(&sum.finalize()))
}

/// SHA-256 of a raster's bytes, hexadecimal; where files beside it say more of it, of the bytes of
/// all of them in the order of their names. Of a virtual raster of GDAL, of these and then of the same
/// of each file that it is made of, in the order in which it names them.
///
/// # Errors
/// If a file cannot be read.
pub fn of_raster(path: &Path) -> io::Result<String> {
    let mut files = Vec::new();
    add_raster(path, &mut files)?;
    sum_of(files)
}

/// Adds the files of a raster that are not there yet.
fn add_raster(path: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    let mut own = parts(path)?;
    let longer = |end: &str| PathBuf::from(format!("{}.{end}", path.display()));
    let beside = RASTER_PARTS.iter().map(|end| path.with_extension(end));
    let beside = beside.chain(["aux.xml", "msk"].map(longer)).filter(|part| part.is_file());
    own.extend(beside.filter(|part| part != path));
    own.sort();
    files.extend(own);
    for source in sources(path)? {
        if source.is_file() && !files.contains(&source) {
            add_raster(&source, files)?;
        }
    }
    Ok(())
}

/// The files that a virtual raster of GDAL is made of; none for other rasters.
fn sources(path: &Path) -> io::Result<Vec<PathBuf>> {
    /// A virtual raster begins with this, but for white space and a mark of its encoding.
    const BEGINNING: &str = "<VRTDataset";
    let mut beginning = Vec::new();
    if path.is_file() {
        File::open(path)?.take(256).read_to_end(&mut beginning)?;
    }
    if !String::from_utf8_lossy(&beginning).contains(BEGINNING) {
        return Ok(Vec::new());
    }
    let text = String::from_utf8_lossy(&fs::read(path)?).into_owned();
    let named = text.match_indices("<Source").filter_map(|(at, _)| {
        let (tag, rest) = text[at + 1..].split_once('>')?;
        let is_name = ["SourceFilename", "SourceDataset"].iter().any(|name| tag.starts_with(name));
        let name = unescaped(rest.split_once('<')?.0.trim());
        let is_beside = tag.contains("relativeToVRT=\"1\"");
        is_name.then(|| if is_beside { path.with_file_name(name) } else { PathBuf::from(name) })
    });
    Ok(named.collect())
}

/// Text of XML with its five entities replaced.
fn unescaped(text: &str) -> String {
    let marks = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&apos;", "'"), ("&amp;", "&")];
    marks.iter().fold(text.to_owned(), |text, (mark, letter)| text.replace(mark, letter))
}

/// SHA-256 of the text of a rule book that comes with the program, hexadecimal; none if there is no
/// such book.
///
/// ```
/// assert!(exchange::fingerprint::of_shipped_book("common-practice").is_some());
/// assert_eq!(exchange::fingerprint::of_shipped_book("county.toml"), None);
/// ```
pub fn of_shipped_book(name: &str) -> Option<String> {
    let (_, text) = rulebook::SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
    Some(of_bytes(text.as_bytes()))
}

/// SHA-256 of bytes, hexadecimal.
///
/// ```
/// // FIPS 180-4, example "abc".
/// assert_eq!(
///     exchange::fingerprint::of_bytes(b"abc"),
///     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
/// );
/// ```
pub fn of_bytes(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Endings of the files that make up a shapefile and change what is read from it.
const SHAPEFILE_PARTS: [&str; 5] = ["cpg", "dbf", "prj", "shp", "shx"];

/// Endings of files beside a raster that change what is read from it.
const RASTER_PARTS: [&str; 7] = ["hdr", "ige", "prj", "rrd", "tfw", "tifw", "wld"];

fn parts(path: &Path) -> io::Result<Vec<PathBuf>> {
    if path.is_dir() {
        let entries: io::Result<Vec<_>> = fs::read_dir(path)?.collect();
        let mut files: Vec<PathBuf> = entries?.iter().map(fs::DirEntry::path).collect();
        files.retain(|file| file.is_file() && file.extension().is_none_or(|end| end != "lock"));
        files.sort();
        return Ok(files);
    }
    let is_shapefile = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("shp"));
    if !is_shapefile {
        return Ok(vec![path.to_owned()]);
    }
    Ok(SHAPEFILE_PARTS
        .iter()
        .flat_map(|end| [path.with_extension(end), path.with_extension(end.to_uppercase())])
        .filter(|part| part.is_file())
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two files as tiles of virtual rasters, in a folder of the test's own.
    struct Tiles {
        folder: PathBuf,
    }

    impl Tiles {
        fn new(name: &str) -> Self {
            let named = format!("leavestrip-{name}-{}", std::process::id());
            let folder = std::env::temp_dir().join(named);
            fs::create_dir_all(&folder).unwrap();
            let tiles = Self { folder };
            tiles.write("west.tif", "west");
            tiles.write("east.tif", "east");
            tiles
        }

        fn write(&self, name: &str, text: &str) {
            fs::write(self.folder.join(name), text).unwrap();
        }

        /// A virtual raster of some files, as GDAL writes it.
        fn write_virtual(&self, name: &str, sources: &[(bool, &str)]) -> String {
            let source = |(beside, file): &(bool, &str)| {
                let beside = u8::from(*beside);
                format!(
                    "<SimpleSource><SourceFilename relativeToVRT=\"{beside}\" shared=\"0\">{file}\
                     </SourceFilename><SourceBand>1</SourceBand></SimpleSource>\n"
                )
            };
            let sources: String = sources.iter().map(source).collect();
            let text =
                format!("<VRTDataset rasterXSize=\"2\" rasterYSize=\"1\">\n{sources}</VRTDataset>");
            self.write(name, &text);
            text
        }

        fn sum(&self, name: &str) -> String {
            of_raster(&self.folder.join(name)).unwrap()
        }
    }

    impl Drop for Tiles {
        fn drop(&mut self) {
            let _ = fs::remove_dir_all(&self.folder);
        }
    }

    fn sum_of_texts(texts: &[&str]) -> String {
        of_bytes(texts.concat().as_bytes())
    }

    #[test]
    fn a_virtual_raster_is_summed_with_its_tiles() {
        let tiles = Tiles::new("virtual");
        let text = tiles.write_virtual("all.vrt", &[(true, "west.tif"), (true, "east.tif")]);
        assert_eq!(tiles.sum("all.vrt"), sum_of_texts(&[&text, "west", "east"]));
        tiles.write("east.tif", "changed");
        assert_eq!(tiles.sum("all.vrt"), sum_of_texts(&[&text, "west", "changed"]));
        // What stands beside a tile and changes how it is read counts too.
        tiles.write("west.tfw", "world");
        assert_eq!(tiles.sum("all.vrt"), sum_of_texts(&[&text, "world", "west", "changed"]));
    }

    #[test]
    fn a_tile_that_is_named_twice_or_as_a_whole_path_is_summed_once() {
        let tiles = Tiles::new("absolute");
        let whole = tiles.folder.join("west.tif").display().to_string();
        let text = tiles.write_virtual("all.vrt", &[(false, &whole), (true, "west.tif")]);
        assert_eq!(tiles.sum("all.vrt"), sum_of_texts(&[&text, "west"]));
    }

    #[test]
    fn virtual_rasters_that_name_one_another_end() {
        let tiles = Tiles::new("circle");
        let own = tiles.write_virtual("own.vrt", &[(true, "own.vrt"), (true, "west.tif")]);
        assert_eq!(tiles.sum("own.vrt"), sum_of_texts(&[&own, "west"]));
        let one = tiles.write_virtual("one.vrt", &[(true, "two.vrt")]);
        let two = tiles.write_virtual("two.vrt", &[(true, "one.vrt"), (true, "east.tif")]);
        assert_eq!(tiles.sum("one.vrt"), sum_of_texts(&[&one, &two, "east"]));
    }

    #[test]
    fn names_of_tiles_are_unescaped_and_missing_ones_left_out() {
        let tiles = Tiles::new("escaped");
        tiles.write("a & 'b' &lt;.tif", "odd");
        let names = [(true, "a &amp; &apos;b&apos; &amp;lt;.tif"), (true, "missing.tif")];
        let text = tiles.write_virtual("all.vrt", &names);
        assert_eq!(tiles.sum("all.vrt"), sum_of_texts(&[&text, "odd"]));
        // A place that only GDAL knows how to read is no file.
        let text = tiles.write_virtual("other.vrt", &[(false, "/vsicurl/none/a.tif")]);
        assert_eq!(tiles.sum("other.vrt"), sum_of_texts(&[&text]));
    }

    #[test]
    fn a_folder_is_summed_in_the_order_of_names() {
        let folder = std::env::temp_dir().join(format!("leavestrip-sum-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("b"), "c").unwrap();
        fs::write(folder.join("a"), "ab").unwrap();
        let sum = of_file(&folder).unwrap();
        fs::remove_dir_all(&folder).unwrap();
        assert_eq!(sum, of_bytes(b"abc"));
    }
}
