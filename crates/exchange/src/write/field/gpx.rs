//! `flags.gpx`: GPX 1.1, a track for each flag line and a way point for each place to walk to.
//!
//! There is no time in it: a plan has no clock.

use super::super::walk::{Stop, Walk, quadrant, words};
use super::xml::{self, Xml, degree, said};
use planner::Plan;
use std::io;
use tract::Notice;

const NAMESPACE: &str = "http://www.topografix.com/GPX/1/1";

/// The bytes of the file.
pub(super) fn bytes(plan: &Plan, walks: &[Walk]) -> Result<Vec<u8>, Notice> {
    xml::document("flags.gpx", |xml| {
        let creator = format!("leavestrip {}", env!("CARGO_PKG_VERSION"));
        let attributes = [("version", "1.1"), ("creator", creator.as_str()), ("xmlns", NAMESPACE)];
        let root = xml.create_element("gpx").with_attributes(attributes);
        root.write_inner_content(|xml| {
            xml.create_element("metadata").write_inner_content(|xml| {
                said(xml, "name", &plan.title)?;
                said(xml, "desc", &plan.cautions.join("; "))
            })?;
            walks.iter().flat_map(distinct).try_for_each(|stop| way_point(xml, stop))?;
            walks.iter().try_for_each(|walk| track(xml, walk))
        })?;
        Ok(())
    })
}

/// The way points of a line, each once.
pub(super) fn distinct(walk: &Walk) -> impl Iterator<Item = &Stop> {
    let again = usize::from(walk.line.is_closed());
    walk.stops.iter().take(walk.stops.len().saturating_sub(again).max(1))
}

fn way_point(xml: &mut Xml, stop: &Stop) -> io::Result<()> {
    let (lat, lon) = (degree(stop.lonlat.y), degree(stop.lonlat.x));
    let point = xml.create_element("wpt").with_attributes([("lat", lat.as_str()), ("lon", &lon)]);
    point.write_inner_content(|xml| {
        said(xml, "name", &stop.name)?;
        said(xml, "desc", &onward(stop))
    })?;
    Ok(())
}

/// The way on from a way point, and its land mark, in words.
pub(super) fn onward(stop: &Stop) -> String {
    let leg = stop.onward.as_ref().map_or("the line ends here".to_owned(), |leg| {
        format!("next {} true, {:.1} ft", quadrant(leg.true_deg), leg.distance.feet())
    });
    let mark = stop.mark.as_ref().map(|sight| match sight.true_deg {
        None => format!("; at {}", sight.name),
        Some(azimuth) => {
            format!("; {} {} true, {:.1} ft", sight.name, quadrant(azimuth), sight.distance.feet())
        }
    });
    leg + &mark.unwrap_or_default()
}

fn track(xml: &mut Xml, walk: &Walk) -> io::Result<()> {
    xml.create_element("trk").write_inner_content(|xml| {
        said(xml, "name", &walk.line.name)?;
        said(xml, "desc", &words(&walk.line))?;
        said(xml, "type", walk.line.kind.word())?;
        xml.create_element("trkseg").write_inner_content(|xml| {
            walk.stops.iter().try_for_each(|stop| {
                let (lat, lon) = (degree(stop.lonlat.y), degree(stop.lonlat.x));
                let attributes = [("lat", lat.as_str()), ("lon", &lon)];
                xml.create_element("trkpt").with_attributes(attributes).write_empty()?;
                Ok(())
            })
        })?;
        Ok(())
    })?;
    Ok(())
}
