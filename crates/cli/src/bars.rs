//! Progress bars on standard error, silent when that is not a terminal.

use indicatif::{MultiProgress, ProgressBar, ProgressStyle};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tract::Progress;

/// One bar for each piece of work under way, the inner below the outer.
#[derive(Debug, Default)]
pub struct Bars {
    screen: MultiProgress,
    under_way: Mutex<Vec<ProgressBar>>,
}

impl Bars {
    fn under_way(&self) -> MutexGuard<'_, Vec<ProgressBar>> {
        // A list of bars has no state that a panic elsewhere could leave half done.
        self.under_way.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes down the bars of work that ended early.
    pub fn clear(&self) {
        for bar in self.under_way().drain(..).rev() {
            bar.finish_and_clear();
        }
    }
}

impl Progress for Bars {
    fn begin(&self, task: &str, steps: Option<u64>) {
        let bar = self.screen.add(bar_for(steps)).with_message(task.to_owned());
        bar.enable_steady_tick(Duration::from_millis(120));
        self.under_way().push(bar);
    }

    fn advance(&self, steps: u64) {
        if let Some(bar) = self.under_way().last() {
            bar.inc(steps);
        }
    }

    fn end(&self) {
        if let Some(bar) = self.under_way().pop() {
            bar.finish_and_clear();
        }
    }
}

fn bar_for(steps: Option<u64>) -> ProgressBar {
    let (bar, template) = match steps {
        Some(steps) => (ProgressBar::new(steps), "{msg:32} {bar:32} {pos}/{len} {elapsed}"),
        None => (ProgressBar::new_spinner(), "{msg:32} {spinner} {elapsed}"),
    };
    let style = ProgressStyle::with_template(template).expect("both templates are well formed");
    bar.with_style(style)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_within_work_ends_from_the_inside() {
        let bars = Bars::default();
        bars.begin("planning", None);
        bars.begin("strips", Some(2));
        bars.advance(2);
        assert_eq!(bars.under_way().len(), 2);
        assert_eq!(bars.under_way()[1].position(), 2);
        bars.end();
        assert_eq!(bars.under_way().len(), 1);
        bars.end();
        bars.end();
        assert!(bars.under_way().is_empty());
    }

    #[test]
    fn work_that_ended_early_leaves_no_bar() {
        let bars = Bars::default();
        bars.begin("reading", None);
        bars.begin("streams", Some(9));
        bars.clear();
        assert!(bars.under_way().is_empty());
    }
}
