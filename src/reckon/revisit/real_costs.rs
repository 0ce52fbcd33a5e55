//! What a done action really cost becomes the farm's own price the next time.

use crate::model::Library;
use crate::model::actions::{Actions, What};
use crate::model::intervention::Intervention;
use crate::model::money::{Price, Triangle};
use crate::model::walk::{OwnPrice, Walk};
use crate::reckon::prices::quantity;

/// The walk with the price of every option that was done replaced by what it really cost, per unit of
/// the option's own price (of all its places together). A cost in another currency, or of an option
/// whose units the walk doesn't give, changes nothing.
pub fn priced_by_experience(library: &Library, walk: &Walk, actions: &Actions) -> Walk {
    let mut walk = walk.clone();
    if walk.currency.is_none() || walk.currency != actions.currency {
        return walk;
    }
    for option in &library.interventions {
        let Some((per_unit, yearly)) = paid(option, &walk, actions) else { continue };
        let triangle = Triangle { low: per_unit, likely: per_unit, high: per_unit };
        let at = walk.prices.iter().position(|price| price.option == option.id);
        let mut own = at.map_or(OwnPrice { option: option.id.clone(), capital: None, yearly: None }, |at| {
            walk.prices.remove(at)
        });
        *if yearly { &mut own.yearly } else { &mut own.capital } = Some(triangle);
        walk.prices.push(own);
    }
    walk
}

/// What one unit of an option cost, and whether that is its yearly price, as it is where nothing is
/// bought once.
fn paid(option: &Intervention, walk: &Walk, actions: &Actions) -> Option<(f64, bool)> {
    let (price, yearly): (&Price, bool) = match (&option.capital, &option.yearly) {
        (Some(capital), _) => (capital, false),
        (None, Some(running)) => (running, true),
        (None, None) => return None,
    };
    let mut total = (0.0, 0.0);
    for action in &actions.list {
        let What::Option { id, segment } = &action.what else { continue };
        let (Some(cost), true) = (action.real_cost, *id == option.id) else { continue };
        let at = action.what.segment_in(&walk.segments);
        if segment.is_some() && at.is_none() {
            continue;
        }
        if let Ok(units) = quantity(price, walk, at) {
            total = (total.0 + cost, total.1 + action.done_share * units);
        }
    }
    (total.1 > 0.0).then(|| (total.0 / total.1, yearly))
}
