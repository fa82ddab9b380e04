//! The layers of habitat: clusters of trees, their foraging ground, and the stands in it.

use super::{
    ACRES, Column, FEET, Holds, Shapes, TEXT, Table, Value, acres, column, feet, maybe, text,
};
use planner::plan::{Balance, ForagingGround, ForagingPart, HabitatCluster};
use tract::{BasalArea, Place, SquareMetres};

/// Square feet of stems on an acre, to the thousandth.
const BASAL_AREA: Holds = Holds::Decimals(3);
/// Square feet of stems, to the hundredth.
const STEMS: Holds = Holds::Decimals(2);

fn yes(is_so: bool) -> Value {
    text(if is_so { "yes" } else { "no" })
}

fn maybe_yes(recorded: Option<bool>) -> Value {
    recorded.map_or(Value::Nothing, yes)
}

fn stems(area: SquareMetres) -> Value {
    Value::Number(area.square_feet())
}

fn basal_area(density: BasalArea) -> Value {
    Value::Number(density.square_feet_per_acre())
}

pub(super) fn clusters() -> Table<HabitatCluster> {
    let trees = |one: &HabitatCluster| Value::Whole(one.trees as i64);
    Table {
        name: "clusters",
        about: "Clusters of cavity or nest trees: everything within a distance of the hull of the trees.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: vec![
            column(
                "habitat",
                TEXT,
                "Id of the habitat in the tract file.",
                |one: &HabitatCluster| text(&one.habitat),
            ),
            column("cluster", TEXT, "Name of the cluster.", |one: &HabitatCluster| text(&one.id)),
            column(
                "kind",
                TEXT,
                "Kind of site that it is in the rule book, if it is one.",
                |one: &HabitatCluster| maybe(&one.kind),
            ),
            column("trees", Holds::Whole, "How many trees.", trees),
            column("hull_acres", ACRES, "Area of their hull.", |one: &HabitatCluster| {
                acres(one.hull)
            }),
            column("buffer_ft", FEET, "Distance from the hull.", |one: &HabitatCluster| {
                feet(one.buffer)
            }),
            column(
                "grown",
                TEXT,
                "`yes` if the distance was made longer for the sake of the least area.",
                |one: &HabitatCluster| yes(one.is_grown),
            ),
            column("acres", ACRES, "Area.", |one: &HabitatCluster| acres(one.area)),
            column("clause", TEXT, "Clause of the standard.", |one: &HabitatCluster| {
                text(&one.clause)
            }),
        ],
        rows: |plan| &plan.habitat.clusters,
        shape: |one| Some(Place::Frame(one.ground.clone().into())),
    }
}

/// One of the three times of an account.
type Time = fn(&ForagingGround) -> &Balance;
/// The columns of each time with what they hold.
const TIMES: [([(&str, &str); 3], Time); 3] = [
    (
        [
            ("before_sq_ft", "Square feet of stems that count, before the work."),
            ("before_spare_sq_ft", "How much more than asked for that is; negative if less."),
            ("before_met", "Whether area and stems are enough before the work."),
        ],
        |one| &one.account.before,
    ),
    (
        [
            ("after_sq_ft", "Square feet of stems that count, after the work."),
            ("after_spare_sq_ft", "How much more than asked for that is; negative if less."),
            ("after_met", "Whether area and stems are enough after the work."),
        ],
        |one| &one.account.after,
    ),
    (
        [
            ("later_sq_ft", "Square feet of stems that count, at the later year."),
            ("later_spare_sq_ft", "How much more than asked for that is; negative if less."),
            ("later_met", "Whether area and stems are enough at the later year."),
        ],
        |one| &one.account.later,
    ),
];

pub(super) fn foraging() -> Table<ForagingGround> {
    let mut columns: Vec<Column<ForagingGround>> = vec![
        column("habitat", TEXT, "Id of the habitat in the tract file.", |one: &ForagingGround| {
            text(&one.habitat)
        }),
        column("cluster", TEXT, "Name of the cluster.", |one: &ForagingGround| text(&one.cluster)),
        column("radius_ft", FEET, "Distance from the centre.", |one: &ForagingGround| {
            feet(one.radius)
        }),
        column("acres", ACRES, "Area.", |one: &ForagingGround| acres(one.area)),
        column(
            "qualifying_acres",
            ACRES,
            "Area of the stands in it that count.",
            |one: &ForagingGround| acres(one.account.before.area),
        ),
        column("asked_acres", ACRES, "What the standard asks for.", |one: &ForagingGround| {
            acres(one.standard.area)
        }),
        column(
            "asked_sq_ft",
            STEMS,
            "Square feet of stems that the standard asks for.",
            |one: &ForagingGround| stems(one.standard.stems),
        ),
        column(
            "later_years",
            Holds::Whole,
            "Years from the work to the later year.",
            |one: &ForagingGround| Value::Whole(one.account.years.into()),
        ),
    ];
    for ([has, spare, met], of) in TIMES {
        let has_stems = move |one: &ForagingGround| stems(of(one).stems);
        let spare_stems = move |one: &ForagingGround| stems(of(one).spare_stems);
        let is_met = move |one: &ForagingGround| yes(of(one).is_met);
        columns.extend([
            column(has.0, STEMS, has.1, has_stems),
            column(spare.0, STEMS, spare.1, spare_stems),
            column(met.0, TEXT, met.1, is_met),
        ]);
    }
    columns.extend([
        column(
            "midstory_open_acres",
            ACRES,
            "Ground that counts and whose midstory is recorded as open.",
            |one: &ForagingGround| acres(one.account.midstory_open),
        ),
        column("clause", TEXT, "Clause of the standard.", |one: &ForagingGround| {
            text(&one.standard.clause.clause)
        }),
    ]);
    Table {
        name: "foraging",
        about: "Foraging ground of clusters: everything within the radius that is not nearer to another \
                one, with its account before the work, after it and at a later year.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns,
        rows: |plan| &plan.habitat.foraging,
        shape: |one| Some(Place::Frame(one.ground.clone().into())),
    }
}

pub(super) fn foraging_stands() -> Table<ForagingPart> {
    Table {
        name: "foraging_stands",
        about: "Stands in foraging ground, cut into what is worked and what is not.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: vec![
            column(
                "habitat",
                TEXT,
                "Id of the habitat in the tract file.",
                |one: &ForagingPart| text(&one.habitat),
            ),
            column("cluster", TEXT, "Name of the cluster.", |one: &ForagingPart| {
                text(&one.cluster)
            }),
            column("stand", TEXT, "Id of the stand.", |one: &ForagingPart| text(&one.stand)),
            column(
                "worked",
                TEXT,
                "`yes` on net operable ground of a unit, which is thinned.",
                |one: &ForagingPart| yes(one.is_worked),
            ),
            column(
                "qualifies",
                TEXT,
                "Whether it counts.",
                |one: &ForagingPart| yes(one.qualifies),
            ),
            column("acres", ACRES, "Area.", |one: &ForagingPart| acres(one.area)),
            column(
                "before_sq_ft_ac",
                BASAL_AREA,
                "Basal area of the trees that count before the work, square feet on an acre.",
                |one: &ForagingPart| basal_area(one.before),
            ),
            column("after_sq_ft_ac", BASAL_AREA, "The same after it.", |one: &ForagingPart| {
                basal_area(one.after)
            }),
            column(
                "later_sq_ft_ac",
                BASAL_AREA,
                "The same at the later year of the account.",
                |one: &ForagingPart| basal_area(one.later),
            ),
            column(
                "open_midstory",
                TEXT,
                "Whether the midstory is open, as recorded.",
                |one: &ForagingPart| maybe_yes(one.open_midstory),
            ),
            column(
                "last_burned",
                Holds::Whole,
                "Year of the last fire, as recorded.",
                |one: &ForagingPart| {
                    one.last_burned.map_or(Value::Nothing, |year| Value::Whole(year.into()))
                },
            ),
        ],
        rows: |plan| &plan.habitat.parts,
        shape: |one| Some(Place::Frame(one.ground.clone().into())),
    }
}
