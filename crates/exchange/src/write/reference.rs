//! The reference page of the files of a plan, from the tables that the writers use.

use super::field::shapefile::SHORT;
use super::layers::{self, Holds, Layer, Shapes};
use super::ledger::CSV_COLUMNS;
use std::rc::Rc;

/// The page `docs/reference/layers.md`: every file, every layer, every column.
pub fn layers_page() -> String {
    let mut page = HEAD.to_owned();
    for layer in layers::all(&Rc::from([])) {
        page.push_str(&section(layer.as_ref()));
    }
    page.push_str("\n## `ledger.csv`\n\n| column | what |\n|---|---|\n");
    for (name, about) in CSV_COLUMNS {
        page.push_str(&format!("| `{name}` | {about} |\n"));
    }
    page.push_str(FIELD);
    for (long, short) in SHORT {
        page.push_str(&format!("| `{long}` | `{short}` |\n"));
    }
    page.push_str(FOOT);
    page
}

const HEAD: &str = "\
# The files of a plan

This page is generated from the program; do not edit it.

`leavestrip plan` writes one folder, whole or not at all. Each layer below is a file
`<name>.geojson` (RFC 7946: longitude and latitude on WGS 84, nine decimals, cut at the
antimeridian, `bbox` at the end) and a layer of `plan.gpkg` (in the contract's coordinate system);
six are in `plan.gpkg` alone. A layer without features is written, empty. Edges longer than 25 m
carry further vertices, so that neighbours still share their borders after projection.
Feet are international feet, acres follow from them.

Plans are aids: local codes and a licensed professional decide, and widths are marked on the
ground.
";

const FIELD: &str = "
## `flags.csv`, `flags.gpx` and the folder `field`

The flag lines and their way points for the crew: see [marks on the ground](../concepts/field.md).

| file | what |
|---|---|
| `flags.csv` | every way point, with the columns of `flag_stations` |
| `flags.gpx` | GPX 1.1: a track for each line, a way point for each place to walk to |
| `field/flags.kml` | KML 2.2: the lines by kind, the way points hidden at first |
| `field/flags.dxf` | DXF, release 12: layers `FLAG_BOUNDARY`, `FLAG_STRIP`, `FLAG_CORRIDOR`, `FLAG_STATION` |
| `field/flags.shp`, `.shx`, `.dbf`, `.prj`, `.cpg` | the layer `flags` as a Shapefile |
| `field/flag_stations.shp`, … | the layer `flag_stations` as a Shapefile |
| `field/traverses.txt` | the traverse of each line, to print |

GPX and KML are in longitude and latitude on WGS 84, the DXF and the Shapefiles in the contract's
coordinates. Names of columns have at most ten letters in a Shapefile; these are shortened:

| column | in a Shapefile |
|---|---|
";

const FOOT: &str = "
## `ledger.json`

`units`, the account of each unit in order, and `tract`, their sum. Each account has `gross`,
`states` (`closed`, `limited`, `open`), `net_operable`, `parts` (`zone`, `strip`, `state`) and
`of_which` (`name`, `count`, `length_ft`, `share_of_net_operable_pct`), each with `acres` and
`printed_acres`. Classes of slope make up the whole unit, so they have no share of its net operable
ground. Printed figures of the tract are the sums of the printed rows.

`corridors` has, for each unit with a wish for corridors, `pattern`, `azimuth_deg` where all have one,
`pieces`, `length_ft`, `acres` with the strip to turn on, `share_of_net_operable_pct`, of planted rows
`rows`, `rows_removed` and `share_of_rows_pct`, then `worst_grade_pct`, `worst_side_slope_pct`,
`over_limit_ft` where there is a limit, `too_short_ft` for pieces left out, and where the azimuth was
searched `azimuth_search`: how many were `tried`, `best` and `runner_up` with `azimuth_deg` and `cost`, and
by how much more the latter costs, `margin_pct`.

`not_confirmed` lists why figures of the rule book are not confirmed (`from memory`, `invented`, …).

## `notices.json`

`notices`, each with the columns of the layer `notices` and `place`: a GeoJSON geometry on WGS 84,
or `file_coordinates` where no more is known, or null.

## `calendar.json`

When what may be done. `closures`: what closes or limits operations for a part of the year, each with
its `id`, `cause`, `feature`, `where`, `reason`, days, `operations`, `clause`, `source` and `confirmed`.
`planned`: the planned work. `units`: for each unit and each operation that a closure touches, over the
days of the calendar (`from`, `to`), the acres that are closed to it all year and for a part of
the year, the days on which all other ground is open, limited or closed, by month too, the days on which
some ground is, `openings`: the spans in which none of it is closed, the longest of them, the next opening
after the day that the tract file asks for (`after`), and `runs` of days with the acres open, limited and
closed on them. Without planned work, jobs or a calendar in the tract file there are no days. `closed in
season` in the ledger is ground of its own (rings, kinds of zones) that closes for a part of the year: it
counts as operable unless work is planned for these days.

`jobs`: for each job its tons, its `steps` with tons and working days, the one that is `limiting`, the
whole working days needed, and the working days from `from` to `to` on which all ground is open, or some,
with the day on which the work would end. `revisits`: for each stand the year of the next thinning and
of the next fire, why then, and the first span of open days from that year on (`window`).

## `habitat.json`

`clusters`, as in the layer. `foraging`: for each cluster the `standard`, what there is `before` the work,
`after` it and `later`, each with `acres`, `sq_ft` of basal area and how much of both is to spare, whether
that is enough (`met`), the recorded midstory and fires, and `stands`.

## `calendar.ics`

Closures and planned work in the days of the calendar, as events of whole days for any calendar
program (RFC 5545). Events are stamped with the day when the rules of the book were looked up.

## `exhibit.pdf`, `exhibit.svg`

The contract exhibit on letter paper, as `leavestrip exhibit` makes it: the map at true scale, with
layers that can be switched and georeferenced, and the tables that belong to it. The SVG is the map
alone, a user unit being 1/72 inch.

## `stand.json`

The stand tables of the cruise that the tract file names; without one there is no such file. It holds what
`leavestrip cruise --json` prints besides what was found: `title`, `class_width_in`, `confidence`,
`wished_error_pct`, `sdi_exponent`, `equations`, then `strata` and, if their areas are known and there are
several, `whole`, and the `positions` of plots. Each table has `acres`, `plots`, `all`, `species`, `classes`,
`species_and_classes`, `density_index` and `density_index_by_tree`, `density_maxima` and `plots_needed`. A row has
`trees`, `basal_area_sq_ft`, `quadratic_mean_in` and `yield`; a figure is `per_acre`, with `standard_error`,
`low` and `high`, and `in_all`. Numbers are not rounded.

`prescriptions` has, for each unit with one, what was `asked` in words, `acres`, and `tables` as above: `before`, what
`rows_and_corridors` take, what is chosen `between`, and `after`, which have the same rows; then `removed_by_product`. Its
`zones` have `zone`, `strip`, `feature`, `clauses`, a `band` where a rule holds for a part of the width, `acres`, `rows_share` and
`corridors_share`, whether it is `closed` and what `ended_by` the choice, the sums of the four tables, products, and what
rules of it keep (`keeps`: `rule`, `unit`, `asked`, `before`, `after`, `lacking_before`, `lacking`). `between` and
`prism` are for the crew: what stands and is to be left between rows and corridors, the shares to take, one tree in
so many, and the trees that a prism counts; `trees_to_leave_anywhere` holds for points on all ground.

## The folder `styles`

`LAYER.sld` for each layer: SLD 1.0.0 (OGC 02-070), in the colours, pens and patterns of the exhibit. The
table `layer_styles` of `plan.gpkg` has the same texts.

## `plan.json`

Where the plan came from: `program`, `libraries`, `rule_book` with each clause used and how far it is
confirmed, `frame`, `contract_crs`, `options`, `inputs` with SHA-256, coordinate system and datum
operation, and `outputs`: every other file of the folder with its size and SHA-256.
";

fn section(layer: &dyn Layer) -> String {
    let shapes = match layer.shapes() {
        Shapes::Areas => "Areas",
        Shapes::Lines => "Lines",
        Shapes::Points => "Points",
        Shapes::Any => "Points, lines or areas",
    };
    let file = if layer.as_geojson() { "" } else { ", in `plan.gpkg` alone" };
    let about = layer.about();
    let mut text = format!(
        "\n## `{}`\n\n{about} {shapes}{file}.\n\n| column | holds | what |\n|---|---|---|\n",
        layer.name()
    );
    for head in layer.heads() {
        let holds = match head.holds {
            Holds::Text => "text".to_owned(),
            Holds::Whole => "whole number".to_owned(),
            Holds::Decimals(decimals) => format!("number, {decimals} decimals"),
        };
        text.push_str(&format!("| `{}` | {holds} | {} |\n", head.name, head.about));
    }
    text
}
