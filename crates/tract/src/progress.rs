//! How long work reports how far it is.

/// Hears of the progress of long work. Nothing that is computed depends on it.
pub trait Progress: Sync {
    /// A piece of work begins: what it is, and how many steps it has if that is known.
    fn begin(&self, task: &str, steps: Option<u64>);
    /// So many more steps are done.
    fn advance(&self, steps: u64);
    /// The piece of work has ended.
    fn end(&self);
}

/// Hears and says nothing.
///
/// ```
/// use tract::progress::{Progress, Silent};
/// Silent.begin("reading", Some(3));
/// Silent.end();
/// ```
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _task: &str, _steps: Option<u64>) {}
    fn advance(&self, _steps: u64) {}
    fn end(&self) {}
}
