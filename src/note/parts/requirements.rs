//! Who touches, how the device is powered, what is asked of the threshold.

use crate::note::facts::Facts;
use crate::note::words::{TYPED_IN, decimal, mark, mm, pf};
use crate::panel::{Application, EarthPath, Finger, Origin, Supply, Usage};
use crate::report::{Block, Table};
use padfield_chart::ChartError;
use padfield_engine::units::Capacitance;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let usage = &facts.order.panel.usage;
    let mut blocks = vec![
        Block::paragraph(
            "What the panel shall do, as the panel file says it. \"default\" marks what nobody wrote down.",
        ),
        Block::Table(users(usage)),
        Block::Table(supplies(usage)),
        Block::Table(limits(facts, usage)),
    ];
    if !usage.applications.is_empty() {
        let words = usage.applications.iter().map(|one| application(*one));
        blocks.push(Block::paragraph(format!(
            "Part of: {}.",
            words.collect::<Vec<_>>().join(", ")
        )));
    }
    Ok(blocks)
}

fn users(usage: &Usage) -> Table {
    let mut table = Table::new(
        "Users: each must be able to operate every pad",
        &[
            "user",
            "contact, mm",
            "dome, mm",
            "glove",
            "aim error, mm",
            "aim error is",
            "source",
        ],
        1,
    )
    .with_words_in(&[3, 5, 6]);
    for user in &usage.users.value {
        table.row(vec![
            user.name.clone(),
            mm(user.contact),
            mm(user.dome),
            glove(user),
            mm(user.aim_error.value),
            mark(user.aim_error.origin),
            user.source.clone(),
        ]);
    }
    table.remark = match usage.users.origin {
        Origin::Given => TYPED_IN,
        Origin::Default => "The panel file names no users: these are the built-in ones.",
    }
    .to_owned();
    table
}

fn glove(user: &Finger) -> String {
    user.glove.map_or("none".to_owned(), |glove| {
        format!(
            "{} mm, permittivity {}",
            mm(glove.thickness),
            decimal(glove.permittivity.relative())
        )
    })
}

fn supplies(usage: &Usage) -> Table {
    let mut table = Table::new(
        "Supplies: the way back from the body to the device's ground",
        &[
            "supply",
            "device to earth, pF",
            "body to device, least, pF",
            "nominal, pF",
            "most, pF",
            "source",
        ],
        1,
    )
    .with_words_in(&[1, 5]);
    for supply in &usage.supplies.value {
        let range = supply.return_range(&usage.body.value);
        let end = |end: Option<Capacitance>| end.map_or("without limit".to_owned(), pf);
        table.row(vec![
            supply.name.clone(),
            to_earth(supply),
            end(range.least),
            end(range.nominal),
            end(range.most),
            supply.source.clone(),
        ]);
    }
    let body = usage.body.value;
    table.remark = format!(
        "{TYPED_IN} Body to earth {} pF ({} to {}), {}.",
        pf(body.nominal),
        pf(body.least),
        pf(body.most),
        mark(usage.body.origin)
    );
    table
}

fn to_earth(supply: &Supply) -> String {
    let range = |value: padfield_engine::units::Toleranced<Capacitance>| {
        format!(
            "{} ({} to {})",
            pf(value.nominal),
            pf(value.least),
            pf(value.most)
        )
    };
    match supply.to_earth {
        EarthPath::Earthed => "earthed".to_owned(),
        EarthPath::Capacitance(value) => range(value),
        EarthPath::Held(value) => format!("held, hand to ground {}", range(value)),
    }
}

fn limits(facts: &Facts<'_>, usage: &Usage) -> Table {
    let mut table = Table::new("Limits", &["what", "value", "origin"], 1).with_words_in(&[2]);
    table.remark = TYPED_IN.to_owned();
    let mut row = |what: &str, value: String, origin: Origin| {
        table.row(vec![what.to_owned(), value, mark(origin)]);
    };
    let plain = |value: f64| decimal(value);
    row(
        "window ratio W asked for, weakest true over strongest false",
        plain(usage.wanted_ratio.value),
        usage.wanted_ratio.origin,
    );
    row(
        "standard deviations of the noise between a mean and its bound",
        plain(usage.noise_margin.value),
        usage.noise_margin.origin,
    );
    row(
        "release threshold over threshold",
        plain(usage.release_share.value),
        usage.release_share.origin,
    );
    row(
        "touches per day",
        plain(usage.touches_per_day.value),
        usage.touches_per_day.origin,
    );
    row(
        "false events allowed per year",
        plain(usage.false_per_year.value),
        usage.false_per_year.origin,
    );
    if let Some(distance) = usage.palm_distance {
        row(
            "palm beside a pad, to its edge, mm",
            mm(distance),
            Origin::Given,
        );
    }
    if let Some(residue) = usage.drift_residue {
        row(
            "drift that baseline tracking leaves, pF",
            pf(residue),
            Origin::Given,
        );
    }
    let electronics = &facts.order.panel.electronics;
    row(
        "scans in a row that must agree",
        electronics.scan.debounce.to_string(),
        electronics.origin("scan.debounce"),
    );
    table
}

fn application(application: Application) -> &'static str {
    match application {
        Application::Mains => "a device on the mains",
        Application::Appliance => "an appliance",
        Application::Machinery => "machinery",
        Application::Medical => "medical equipment",
        Application::EmergencyStop => "a control that stops a hazard",
        Application::Vehicle => "a ship, vehicle or aircraft",
        Application::ExplosiveAtmosphere => "equipment for explosive atmospheres",
        Application::Public => "equipment for the public",
    }
}
