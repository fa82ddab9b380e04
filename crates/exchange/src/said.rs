//! What GDAL says while it works; it would print it otherwise.

use gdal::errors::CplErrType;
use std::sync::{Mutex, Once};
use std::thread::{self, ThreadId};

/// Something that GDAL said.
pub(crate) struct Said {
    thread: ThreadId,
    /// Whether it failed, and does not only warn.
    pub(crate) is_failure: bool,
    /// Its words.
    pub(crate) words: String,
}

/// What GDAL said, by thread.
static SAID: Mutex<Vec<Said>> = Mutex::new(Vec::new());

/// Listens from now on.
pub(crate) fn listen() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // A feature of any size may come in GeoJSON; by itself GDAL refuses those over 200 MB.
        let _ = gdal::config::set_config_option("OGR_GEOJSON_MAX_OBJ_SIZE", "0");
        gdal::config::set_error_handler(|class, _, message| {
            if let Ok(mut said) = SAID.lock() {
                said.push(Said {
                    thread: thread::current().id(),
                    is_failure: matches!(class, CplErrType::Failure | CplErrType::Fatal),
                    words: message.to_owned(),
                });
            }
        });
    });
}

/// What GDAL said on this thread since this was last asked.
pub(crate) fn heard() -> Vec<Said> {
    let Ok(mut said) = SAID.lock() else { return Vec::new() };
    let here = thread::current().id();
    let (mine, others): (Vec<_>, Vec<_>) = said.drain(..).partition(|said| said.thread == here);
    *said = others;
    mine
}

/// The first of what GDAL said on this thread since this was last asked.
pub(crate) fn first_heard() -> Option<String> {
    heard().into_iter().next().map(|said| said.words)
}
