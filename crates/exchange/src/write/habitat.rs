//! `habitat.json`: clusters of trees, and the account of their foraging ground.

use super::ledger::{four, to_decimals};
use planner::Plan;
use planner::plan::{Balance, ForagingGround, ForagingPart, HabitatCluster};
use serde_json::{Value, json};
use tract::{BasalArea, SquareMetres};

/// The text of `habitat.json`.
pub(super) fn json(plan: &Plan) -> String {
    let habitat = &plan.habitat;
    let account = json!({
        "clusters": habitat.clusters.iter().map(cluster).collect::<Vec<Value>>(),
        "foraging": habitat.foraging.iter().map(|one| foraging(one, plan)).collect::<Vec<Value>>(),
    });
    format!("{account:#}\n")
}

fn stems(area: SquareMetres) -> f64 {
    to_decimals(area.square_feet(), 2)
}

fn cluster(one: &HabitatCluster) -> Value {
    json!({
        "habitat": one.habitat,
        "cluster": one.id,
        "kind": one.kind,
        "trees": one.trees,
        "hull_acres": four(one.hull),
        "buffer_ft": to_decimals(one.buffer.feet(), 2),
        "grown": one.is_grown,
        "acres": four(one.area),
        "clause": one.clause,
    })
}

fn foraging(one: &ForagingGround, plan: &Plan) -> Value {
    let of_cluster =
        |part: &&ForagingPart| part.habitat == one.habitat && part.cluster == one.cluster;
    let stands = plan.habitat.parts.iter().filter(of_cluster).map(part);
    let account = &one.account;
    let burned = account
        .last_burned
        .iter()
        .map(|(year, area)| json!({ "last_burned": year, "acres": four(*area) }));
    let clause = &one.standard.clause;
    json!({
        "habitat": one.habitat,
        "cluster": one.cluster,
        "acres": four(one.area),
        "radius_ft": to_decimals(one.radius.feet(), 2),
        "standard": {
            "acres": four(one.standard.area),
            "sq_ft": stems(one.standard.stems),
            "clause": clause.clause,
            "source": clause.source,
            "confirmed": clause.confirmed.word(),
        },
        "before": balance(&account.before),
        "after": balance(&account.after),
        "later": balance(&account.later),
        "later_years": account.years,
        "midstory_open_acres": four(account.midstory_open),
        "midstory_unknown_acres": four(account.midstory_unknown),
        "fires": burned.collect::<Vec<Value>>(),
        "stands": stands.collect::<Vec<Value>>(),
    })
}

fn balance(balance: &Balance) -> Value {
    json!({
        "acres": four(balance.area),
        "sq_ft": stems(balance.stems),
        "spare_acres": four(balance.spare_area),
        "spare_sq_ft": stems(balance.spare_stems),
        "met": balance.is_met,
    })
}

fn part(part: &ForagingPart) -> Value {
    let basal_area = |figure: BasalArea| to_decimals(figure.square_feet_per_acre(), 3);
    json!({
        "stand": part.stand,
        "worked": part.is_worked,
        "qualifies": part.qualifies,
        "acres": four(part.area),
        "before_sq_ft_ac": basal_area(part.before),
        "after_sq_ft_ac": basal_area(part.after),
        "later_sq_ft_ac": basal_area(part.later),
        "open_midstory": part.open_midstory,
        "last_burned": part.last_burned,
    })
}
