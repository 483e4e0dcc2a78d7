use super::{Learnable, Thing, Trait};
use windfall_facts::Mode;

fn flights(count: usize) -> String {
    if count == 1 { "1 flight".into() } else { format!("{count} flights") }
}

/// A sentence about a trait that `change` moves: the logarithm of a factor, or degrees. None if it moves it by nothing
/// that a flyer would notice.
///
/// `rocket`: how the flyer calls it.
pub(super) fn of_trait(
    learnable: &Learnable,
    rocket: Option<&str>,
    change: f64,
    count: usize,
) -> Option<String> {
    let percent = |ln: f64| 100.0 * (ln.exp() - 1.0);
    let name = match &learnable.thing {
        Thing::Rocket(name, _) | Thing::Recovery(name, ..) => rocket.unwrap_or(name).to_owned(),
        Thing::Motor(name) | Thing::Phone(name) => name.clone(),
        Thing::Observer(_) | Thing::Site(_) => String::new(),
    };
    let from = format!("from {}", flights(count));
    let than = |value: f64, more: &str, less: &str| {
        let percent = value.abs().round();
        (percent >= 2.0).then(|| format!("about {percent:.0} % {}", if value > 0.0 { more } else { less }))
    };
    match learnable.what {
        // Speed goes with one over the root of the drag area.
        Trait::OpenDrag => Some(format!(
            "{name} comes down {} than its size suggests, {from}.",
            than(percent(-0.5 * change), "faster", "slower")?
        )),
        Trait::Mass => {
            Some(format!("{name} weighs {} than stated, {from}.", than(percent(change), "more", "less")?))
        }
        Trait::AscentDrag => Some(format!(
            "{name} meets {} drag on the way up than its shape suggests, {from}.",
            than(percent(change), "more", "less")?
        )),
        Trait::Thrust => Some(format!(
            "{name} motors push {} than their name says, {from}.",
            than(percent(change), "harder", "less hard")?
        )),
        Trait::Delay => Some(format!(
            "The delay of {name} motors is {} than printed, {from}.",
            than(100.0 * change, "longer", "shorter")?
        )),
        Trait::Heading if change.abs() >= 0.5 => Some(format!(
            "{name} points {:.0} degrees too far {}, {from}.",
            change.abs(),
            if change > 0.0 { "right" } else { "left" }
        )),
        Trait::Tilt if change.abs() >= 0.5 => Some(format!(
            "{name} points {:.1} degrees too {}, {from}.",
            change.abs(),
            if change > 0.0 { "high" } else { "low" }
        )),
        _ => None,
    }
}

pub(super) fn of_soundings(count: usize) -> String {
    format!(
        "The wind is also known from today's {}.",
        if count == 1 { "flight".into() } else { flights(count) }
    )
}

/// How often the recovery device of `rocket` opens, if that is not what it usually is.
pub(super) fn of_modes(
    rocket: &str,
    chances: &[(Mode, f64)],
    table: &[(Mode, f64)],
    count: usize,
) -> impl Iterator<Item = String> {
    let opens = |rows: &[(Mode, f64)]| rows.iter().find(|row| row.0 == Mode::Opens).map_or(0.0, |row| row.1);
    let [now, then] = [opens(chances), opens(table)].map(|chance| (20.0 * chance).round());
    (now - then).abs().ge(&2.0).then(|| {
        let than = if now > then { "more" } else { "less" };
        let from = flights(count);
        format!("The recovery device of {rocket} opens in {now:.0} of 20 flights like this, {than} than the usual {then:.0}, from {from}.")
    })
    .into_iter()
}
