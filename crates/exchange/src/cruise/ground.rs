//! Plots on the ground of a tract.

use super::CruiseRead;
use crate::crs::Projector;
use crate::vector::{counted, some};
use geo::{Coord, Intersects, Point};
use tract::{Notice, Place, Severity, Tract};

/// The tract, with what was found of the plots of its cruise: those of a stratum that has the id of a unit and
/// that lie outside it.
pub(crate) fn with_plots_looked_at(mut tract: Tract, cruise: Option<&CruiseRead>) -> Tract {
    let Some((read, positions)) = cruise.and_then(|read| Some((read, read.positions.as_ref()?)))
    else {
        return tract;
    };
    let file = read.files.last().map_or_else(String::new, |(_, path)| path.clone());
    let way = match Projector::to_frame(&positions.crs, &tract.frame) {
        Ok(way) => way,
        Err(notice) => {
            // No figure depends on where plots are.
            let doubt = Notice { severity: Severity::Finding, ..notice };
            tract.notices.push(doubt.in_file(file));
            return tract;
        }
    };
    let mut found = Vec::new();
    for unit in &tract.units {
        let of_unit = positions.plots.iter().filter(|(stratum, _, _)| *stratum == unit.id);
        let outside = of_unit.filter_map(|(_, plot, at)| {
            let at = way.convert(*at).ok()?;
            (!unit.ground.intersects(&at)).then_some((plot.as_str(), at))
        });
        let (plots, places): (Vec<&str>, Vec<Coord>) = outside.unzip();
        let Some(first) = places.first() else { continue };
        let message = format!(
            "{} of stratum {} outside the unit: {}",
            counted(plots.len(), "plot"),
            unit.id,
            some(&plots)
        );
        let notice = Notice::finding("plot-outside", message)
            .in_file(&file)
            .at(Place::Frame(Point::from(*first).into()))
            .remedy("look at the places, at their coordinate system and at the strata");
        found.push(notice);
    }
    tract.notices.extend(found);
    tract
}
