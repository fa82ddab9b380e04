//! One function per command.

mod check;
mod cruise;
mod demo;
mod exhibit;
mod plan;
mod rules;
mod verify;

use crate::bars::Bars;
use crate::order::{Form, Order};
use crate::outcome::Outcome;
use crate::terminal::Terminal;

/// Carries out an order, prints what it has to say, and returns how it ended.
pub fn dispatch(order: Order, terminal: &mut Terminal) -> Outcome {
    let bars = Bars::default();
    let (report, form) = match order {
        Order::Plan(plan) => (plan::report(&plan, &bars), plan.form),
        Order::Check { tract, form } => (check::report(&tract, &bars), form),
        Order::Demo { tract_folder, plan_folder, existing } => {
            (demo::report(&tract_folder, plan_folder, existing, &bars), Form::Table)
        }
        Order::Exhibit(order) => (exhibit::report(&order, &bars), Form::Table),
        Order::Cruise(file, form) => (cruise::report(&file), form),
        Order::Verify(order) => (verify::report(&order, &bars), order.form),
        Order::ListBooks(form) => (rules::list(), form),
        Order::ShowBook(name, form) => (rules::show(&name), form),
        Order::CheckBook(name, form) => (rules::check(&name), form),
        Order::ExplainBook(name, facts, form) => (rules::explain(&name, &facts), form),
        Order::CompareBooks(books, form) => (rules::compare(&books), form),
    };
    bars.clear();
    report.print(form, terminal)
}
