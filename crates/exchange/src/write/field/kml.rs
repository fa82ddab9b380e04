//! `field/flags.kml`: KML 2.2, the flag lines by kind and, hidden at first, their way points.

use super::super::walk::{Walk, words};
use super::gpx::{distinct, onward};
use super::xml::{self, Xml, lon_lat, said};
use planner::Plan;
use planner::plan::FlagKind;
use std::io;
use tract::Notice;

/// The bytes of the file.
pub(super) fn bytes(plan: &Plan, walks: &[Walk]) -> Result<Vec<u8>, Notice> {
    xml::document("field/flags.kml", |xml| {
        let root =
            xml.create_element("kml").with_attribute(("xmlns", "http://www.opengis.net/kml/2.2"));
        root.write_inner_content(|xml| {
            xml.create_element("Document").write_inner_content(|xml| {
                said(xml, "name", &plan.title)?;
                said(xml, "description", &plan.cautions.join("; "))?;
                FlagKind::ALL.into_iter().try_for_each(|kind| style(xml, kind))?;
                FlagKind::ALL.into_iter().try_for_each(|kind| folder(xml, walks, kind))?;
                way_points(xml, walks)
            })?;
            Ok(())
        })?;
        Ok(())
    })
}

fn style(xml: &mut Xml, kind: FlagKind) -> io::Result<()> {
    let [red, green, blue] = kind.colour();
    let style = xml.create_element("Style").with_attribute(("id", kind.word()));
    style.write_inner_content(|xml| {
        xml.create_element("LineStyle").write_inner_content(|xml| {
            said(xml, "color", &format!("ff{blue:02x}{green:02x}{red:02x}"))?;
            said(xml, "width", "3")
        })?;
        Ok(())
    })?;
    Ok(())
}

fn folder(xml: &mut Xml, walks: &[Walk], kind: FlagKind) -> io::Result<()> {
    let of_kind = walks.iter().filter(|walk| walk.line.kind == kind);
    xml.create_element("Folder").write_inner_content(|xml| {
        said(xml, "name", kind.word())?;
        of_kind.clone().try_for_each(|walk| {
            xml.create_element("Placemark").write_inner_content(|xml| {
                said(xml, "name", &walk.line.name)?;
                let length = format!("{}; {:.1} ft", words(&walk.line), walk.length.feet());
                said(xml, "description", &length)?;
                said(xml, "styleUrl", &format!("#{}", kind.word()))?;
                xml.create_element("LineString").write_inner_content(|xml| {
                    said(xml, "tessellate", "1")?;
                    let places: Vec<String> =
                        walk.stops.iter().map(|stop| lon_lat(stop.lonlat)).collect();
                    said(xml, "coordinates", &places.join(" "))
                })?;
                Ok(())
            })?;
            Ok(())
        })
    })?;
    Ok(())
}

fn way_points(xml: &mut Xml, walks: &[Walk]) -> io::Result<()> {
    xml.create_element("Folder").write_inner_content(|xml| {
        said(xml, "name", "way points")?;
        said(xml, "visibility", "0")?;
        walks.iter().flat_map(distinct).try_for_each(|stop| {
            xml.create_element("Placemark").write_inner_content(|xml| {
                said(xml, "name", &stop.name)?;
                said(xml, "visibility", "0")?;
                said(xml, "description", &onward(stop))?;
                xml.create_element("Point")
                    .write_inner_content(|xml| said(xml, "coordinates", &lon_lat(stop.lonlat)))?;
                Ok(())
            })?;
            Ok(())
        })
    })?;
    Ok(())
}
