//! One chart of every kind, from made-up values: `cargo run -p padfield-chart --example charts -- FOLDER`.

use std::path::Path;

use padfield_chart::*;

fn line_chart() -> LineChart {
    let shift = |t: f64, factor: f64| factor * 2.4 / (1.0 + 0.45 * t).powf(1.9);
    let series = |name: &str, factor: f64, error: f64, dashed: bool| Series {
        name: name.to_owned(),
        points: (2..=20)
            .map(|k| 0.5 * f64::from(k))
            .map(|t| Reading {
                x: t,
                value: shift(t, factor),
                error: error * shift(t, factor),
            })
            .collect(),
        dashed,
    };
    let crossing = |factor: f64, label: &str| {
        let at = |value: f64| ((factor * 2.4 / value).powf(1.0 / 1.9) - 1.0) / 0.45;
        CrossingMark {
            x: at(0.3),
            low: at(0.3 * 1.05),
            high: at(0.3 * 0.95),
            value: 0.3,
            label: label.to_owned(),
        }
    };
    LineChart {
        title: "Touch shift under thicker overlays".to_owned(),
        x: Axis::linear("overlay thickness", "mm"),
        y: Axis::linear("touch shift", "pF"),
panels: vec![LinePanel {
        series: vec![
            series("acrylic", 1.0, 0.05, false),
            series("soda-lime glass", 2.1, 0.05, false),
            series("polycarbonate", 1.4, 0.05, false),
            Series {
                points: (2..=20)
                    .map(|k| 0.5 * f64::from(k))
                    .map(|t| Reading { x: t, value: 2.1 / t, error: 0.0 })
                    .collect(),
                ..series("acrylic, plate estimate", 1.0, 0.0, true)
            },
        ],
        crossings: vec![
            crossing(1.0, "acrylic"),
            crossing(2.1, "soda-lime glass"),
            crossing(1.4, "polycarbonate"),
        ],
..LinePanel::default()
}],
        limits: vec![LimitLine::at_least(0.3, "requirement of the measuring circuit")],
        places: vec![PlaceMark { x: 4.0, label: "chosen: 4 mm".to_owned() }],
        assumption: "Pad 12.7 mm square, solid ground 1.6 mm behind, earthed finger of 10 mm contact centred on the \
                     pad, other pads grounded, no series return. Band: estimated error of the field calculation; \
                     permittivity and thickness tolerances are not in it."
            .to_owned(),
        ..LineChart::default()
    }
}

fn ratio(gap: f64, t: f64, permittivity: f64) -> f64 {
    100.0 * permittivity.sqrt() * (-gap / (1.6 + 0.5 * t)).exp()
}

fn logarithmic_chart() -> LineChart {
    let series = |t: f64| {
        Series::computed(
            format!("overlay {t} mm"),
            (0..9)
                .map(|k| 2.0 * 8f64.powf(f64::from(k) / 8.0))
                .map(|gap| Reading {
                    x: gap,
                    value: ratio(gap, t, 2.8),
                    error: 0.35 + 0.04 * ratio(gap, t, 2.8),
                }),
        )
    };
    LineChart {
        title: "Neighbour ratio against the gap between pads".to_owned(),
        x: Axis::logarithmic("pad gap", "mm"),
        y: Axis::logarithmic("neighbour ratio", "%"),
        panels: vec![LinePanel {
            series: vec![series(2.0), series(4.0), series(6.0)],
            crossings: vec![CrossingMark {
                x: 7.65,
                low: 7.4,
                high: 7.95,
                value: 20.0,
                label: "overlay 4 mm".to_owned(),
            }],
            ..LinePanel::default()
        }],
        limits: vec![LimitLine::at_most(20.0, "house rule")],
        places: vec![PlaceMark {
            x: 6.35,
            label: "quarter inch, common practice".to_owned(),
        }],
        assumption: "Finger at the edge of the touched pad; ratio of touch shifts in pF."
            .to_owned(),
        ..LineChart::default()
    }
}

fn multiples() -> LineChart {
    let panel = |name: &str, permittivity: f64| LinePanel {
        title: format!("overlay: {name}"),
        series: [2.0, 4.0, 6.0]
            .iter()
            .map(|&t| {
                Series::computed(
                    format!("{t} mm"),
                    (2..=16).map(f64::from).map(|gap| Reading {
                        x: gap,
                        value: ratio(gap, t, permittivity),
                        error: 2.0,
                    }),
                )
            })
            .collect(),
        ..LinePanel::default()
    };
    LineChart {
        title: "Neighbour ratio for three overlay materials".to_owned(),
        x: Axis::linear("pad gap", "mm"),
        y: Axis::linear("neighbour ratio", "%"),
        panels: vec![
            panel("acrylic", 2.8),
            panel("polycarbonate", 2.9),
            panel("soda-lime glass", 7.3),
        ],
        limits: vec![LimitLine::at_most(20.0, "house rule")],
        assumption: "Finger of 10 mm contact at the edge of the touched pad, other pads grounded."
            .to_owned(),
        ..LineChart::default()
    }
}

fn map_values(x: &[f64], y: &[f64], f: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    y.iter()
        .flat_map(|&y| x.iter().map(move |&x| (x, y)))
        .map(|(x, y)| f(x, y))
        .collect()
}

fn shift(t: f64, permittivity: f64) -> f64 {
    0.55 * permittivity.sqrt() * 2.4 / (1.0 + 0.45 * t).powf(1.9)
}

fn heat_map() -> HeatMap {
    let gaps: Vec<f64> = (2..=16).map(f64::from).collect();
    let thicknesses: Vec<f64> = (2..=12).map(|k| 0.5 * f64::from(k)).collect();
    let mut values = map_values(&gaps, &thicknesses, |_, t| shift(t, 2.8));
    let ratios = map_values(&gaps, &thicknesses, |gap, t| ratio(gap, t, 2.8));
    for (value, gap) in values.iter_mut().zip(gaps.iter().cycle()) {
        *value *= 1.0 - 0.5 * (-gap / 5.0).exp();
    }
    values[14 * 11 + 3] = f64::NAN;
    HeatMap {
        computed_every: 1,
        title: "Touch shift of the weakest pad".to_owned(),
        x: Axis::linear("pad gap", "mm"),
        y: Axis::linear("overlay thickness", "mm"),
        value: Axis::linear("touch shift", "pF"),
        x_values: gaps,
        y_values: thicknesses,
panels: vec![MapPanel {
        values,
        limits: vec![
            MapLimit::shown(
                LimitLine::at_least(0.4, "requirement"),
                "pF",
            ),
            MapLimit {
                limit: LimitLine::at_most(20.0, "house rule"),
                name: "neighbour ratio".to_owned(),
                unit: "%".to_owned(),
                values: Some(ratios),
            },
        ],
..MapPanel::default()
}],
        assumption: "Pads 12.7 mm square under acrylic, finger of 10 mm contact at the edge of the touched pad, \
                     other pads grounded."
            .to_owned(),
        ..HeatMap::default()
    }
}

fn map_multiples() -> HeatMap {
    let gaps: Vec<f64> = (0..13)
        .map(|k| 2.0 * 8f64.powf(f64::from(k) / 12.0))
        .collect();
    let thicknesses: Vec<f64> = (1..=8).map(f64::from).collect();
    let panel = |name: &str, permittivity: f64| MapPanel {
        title: name.to_owned(),
        values: map_values(&gaps, &thicknesses, |gap, t| ratio(gap, t, permittivity)),
        limits: vec![MapLimit::shown(LimitLine::at_most(20.0, "house rule"), "%")],
    };
    HeatMap {
        computed_every: 1,
        title: "Neighbour ratio for four overlay materials".to_owned(),
        x: Axis::logarithmic("pad gap", "mm"),
        y: Axis::linear("overlay thickness", "mm"),
        value: Axis::logarithmic("neighbour ratio", "%"),
        panels: vec![
            panel("acrylic", 2.8),
            panel("polycarbonate", 2.9),
            panel("soda-lime glass", 7.3),
            panel("ceramic", 9.5),
        ],
        x_values: gaps.clone(),
        y_values: thicknesses.clone(),
        assumption: "Finger of 10 mm contact at the edge of the touched pad, other pads grounded."
            .to_owned(),
        ..HeatMap::default()
    }
}

/// Numbers between 0 and 1 that look random.
fn mixed(k: u32) -> f64 {
    (f64::from(k) * 0.754_877_666_246_693).fract()
}

fn clouds(count: u32, labelled: bool) -> Vec<Cloud> {
    [("acrylic", 2.8), ("soda-lime glass", 7.3)]
        .iter()
        .map(|&(name, permittivity)| Cloud {
            name: name.to_owned(),
            samples: (0..count)
                .map(|k| {
                    let gap = 2.0 + 14.0 * mixed(k);
                    let t = 1.0 + 5.0 * (f64::from(k) * 0.569_840_290_998).fract();
                    let shift = shift(t, permittivity) * (1.0 - 0.02 * gap);
                    let ratio = ratio(gap, t, permittivity);
                    Sample {
                        x: shift,
                        y: ratio,
                        x_error: 0.02 * shift,
                        y_error: 0.05 * ratio,
                        label: if labelled {
                            format!("gap {gap:.1} mm, {t:.1} mm thick")
                        } else {
                            String::new()
                        },
                    }
                })
                .collect(),
        })
        .collect()
}

fn scatter(count: u32, labelled: bool) -> Scatter {
    Scatter {
        title: "Touch shift and neighbour ratio of sampled designs".to_owned(),
        x: Axis::linear("touch shift", "pF"),
        y: Axis::linear("neighbour ratio", "%"),
        clouds: clouds(count, labelled),
        x_limits: vec![LimitLine::at_least(0.5, "requirement")],
        y_limits: vec![LimitLine::at_most(20.0, "house rule")],
        assumption: "Gap 2 to 16 mm and overlay 1 to 6 mm, Sobol sequence with seed 1; finger of 10 mm contact at \
                     the edge of the touched pad."
            .to_owned(),
    }
}

fn bars() -> BarChart {
    let bar = |name: &str, value: f64, opposite: f64| Bar {
        name: name.to_owned(),
        value,
        error: 0.2,
        opposite: Some(opposite),
    };
    BarChart {
        title: "What moves the touch shift".to_owned(),
        value: Axis::linear("change of touch shift", "%"),
        bars: vec![
            bar("overlay thickness ±0.2 mm", -8.2, 9.1),
            bar("overlay permittivity ±0.2", 5.9, -6.1),
            bar("finger contact ±1 mm", 4.4, -4.7),
            bar("bond thickness ±15 %", -0.9, 0.9),
            bar("board thickness ±10 %", 0.4, -0.4),
        ],
        limits: vec![LimitLine::at_least(-10.0, "house rule")],
        name: "increase".to_owned(),
        opposite_name: "decrease".to_owned(),
        assumption: "One parameter at a time, the others at their nominal value.".to_owned(),
    }
}

fn histogram() -> Histogram {
    let group = |name: &str, middle: f64, width: f64, seed: u32| ValueGroup {
        name: name.to_owned(),
        values: (0..800)
            .map(|k| {
                let sum: f64 = (0..6).map(|j| mixed(seed + 6151 * k + 977 * j)).sum();
                middle + width * (sum - 3.0)
            })
            .collect(),
    };
    Histogram {
        title: "Touch shift over the tolerances".to_owned(),
        x: Axis::linear("touch shift", "pF"),
        counted: "units".to_owned(),
        groups: vec![
            group("weakest touch", 0.72, 0.08, 1),
            group("strongest neighbour", 0.22, 0.05, 7),
        ],
        limits: vec![LimitLine::at_least(0.45, "threshold")],
        assumption: "800 units, every tolerance uniform over its interval.".to_owned(),
    }
}

/// The touch shift of a round pad under a finger this far from its centre, in counts.
fn touched(distance: f64) -> f64 {
    120.0 / (1.0 + (distance / 8.5).powi(4))
}

/// Centres of the pads of the walk and the touch map.
const PADS: [(&str, f64); 3] = [("tare", -23.0), ("add", 0.0), ("remove", 23.0)];

fn at_least(value: f64, because: &str) -> LimitLine {
    LimitLine::at_least(value, because)
}

fn finger_walk() -> LineChart {
    let series = |(name, centre): (&str, f64)| {
        Series::computed(
            name,
            (-35..=35).map(f64::from).map(|x| Reading {
                x,
                value: touched(x - centre),
                error: 0.03 * touched(x - centre),
            }),
        )
    };
    let piece = |low: f64, high: f64, label: &str| StripPiece {
        low,
        high,
        label: label.to_owned(),
    };
    let zone = |low: f64, high: f64| Zone {
        low,
        high,
        label: "no pad acts".to_owned(),
    };
    LineChart {
        title: "Counts of each pad while a finger walks across the panel".to_owned(),
        x: Axis::linear("finger position", "mm"),
        y: Axis::linear("count shift", "counts"),
        panels: vec![LinePanel {
            series: PADS.map(series).to_vec(),
            zones: vec![zone(-14.0, -9.0), zone(9.0, 14.0)],
            ..LinePanel::default()
        }],
        limits: vec![at_least(55.0, "threshold")],
        strip: vec![
            StripRow {
                name: "pads".to_owned(),
                pieces: PADS
                    .map(|(name, centre)| piece(centre - 7.0, centre + 7.0, name))
                    .to_vec(),
            },
            StripRow {
                name: "ground".to_owned(),
                pieces: vec![
                    piece(-12.0, -11.0, "guard trace"),
                    piece(11.0, 12.0, "guard trace"),
                ],
            },
        ],
        assumption: "Adult finger of 10 mm contact, earthed; other pads grounded.".to_owned(),
        ..LineChart::default()
    }
}

fn touch_map() -> HeatMap {
    let x: Vec<f64> = (-45..=45).map(f64::from).collect();
    let y: Vec<f64> = (-14..=14).map(f64::from).collect();
    let strongest = |x: f64, y: f64| {
        let of_pad = |(_, centre): (&str, f64)| touched((x - centre).hypot(y));
        PADS.map(of_pad).into_iter().fold(0.0, f64::max)
    };
    let square = |(name, centre): (&str, f64)| MapOutline {
        corners: [[-7.0, -7.0], [7.0, -7.0], [7.0, 7.0], [-7.0, 7.0]]
            .map(|[across, up]| [centre + across, up])
            .to_vec(),
        label: name.to_owned(),
    };
    HeatMap {
        computed_every: 1,
        title: "Counts of the strongest pad over the place of the finger".to_owned(),
        x: Axis::linear("finger, across", "mm"),
        y: Axis::linear("finger, up", "mm"),
        value: Axis::linear("count shift", "counts"),
        panels: vec![MapPanel {
            values: map_values(&x, &y, strongest),
            limits: vec![MapLimit::shown(at_least(55.0, "threshold"), "counts")],
            ..MapPanel::default()
        }],
        x_values: x,
        y_values: y,
        outlines: PADS.map(square).to_vec(),
        outline_name: "copper of the pads".to_owned(),
        equal_scale: true,
        assumption: "Adult finger of 10 mm contact, earthed; other pads grounded.".to_owned(),
    }
}

fn window(name: &str, strongest_false: f64) -> RangeChart {
    let row = |name: &str, mean: f64, spread: f64| RangeRow {
        name: name.to_owned(),
        mean: Some(mean),
        low: mean - spread,
        high: mean + spread,
        ..RangeRow::default()
    };
    let weakest_true = 71.0;
    let band = if strongest_false < weakest_true {
        format!("window {strongest_false} to {weakest_true} counts")
    } else {
        format!("no window: strongest false {strongest_false}, weakest true {weakest_true} counts")
    };
    let mark = |x: f64, label: &str| PlaceMark {
        x,
        label: label.to_owned(),
    };
    let marks = if strongest_false < weakest_true {
        vec![
            mark(47.0, "threshold 47 counts, equal ratio to both bounds"),
            mark(38.0, "release, 0.8 of the threshold, common practice"),
        ]
    } else {
        Vec::new()
    };
    RangeChart {
        title: format!("Does a threshold fit? {name}"),
        groups: vec![
            RangeGroup {
                title: "must act".to_owned(),
                rows: vec![
                    RangeRow {
                        binding: true,
                        note: "battery box on a table, 5 pF return".to_owned(),
                        ..row("small child, 4 mm off centre", 84.0, 13.0)
                    },
                    row("adult, light touch, centred", 131.0, 13.0),
                    row("thumb, firm, centred", 190.0, 18.0),
                ],
            },
            RangeGroup {
                title: "must not act".to_owned(),
                rows: vec![
                    RangeRow {
                        binding: true,
                        ..row(
                            "thumb on the next pad, 5 mm towards this one",
                            strongest_false - 7.0,
                            7.0,
                        )
                    },
                    row("finger along the trace", 11.0, 5.0),
                    row("noise, 6 sigma", 0.0, 9.0),
                ],
            },
        ],
        marks,
        band: Some(RangeBand {
            low: strongest_false,
            high: weakest_true,
            label: band,
        }),
        assumption: "Bounds: mean and 3 sigma of noise. Other pads grounded.".to_owned(),
        ..RangeChart::default()
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "charts".to_owned());
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let charts: [(&str, Box<dyn Chart>); 13] = [
        ("line", Box::new(line_chart())),
        ("line_logarithmic", Box::new(logarithmic_chart())),
        ("line_multiples", Box::new(multiples())),
        ("map", Box::new(heat_map())),
        ("map_multiples", Box::new(map_multiples())),
        ("scatter", Box::new(scatter(200, false))),
        (
            "trade_off",
            Box::new(TradeOff {
                scatter: scatter(40, true),
                x_better: Better::Higher,
                y_better: Better::Lower,
            }),
        ),
        ("bars", Box::new(bars())),
        ("histogram", Box::new(histogram())),
        ("finger_walk", Box::new(finger_walk())),
        ("touch_map", Box::new(touch_map())),
        ("window", Box::new(window("Dry panel", 31.0))),
        ("no_window", Box::new(window("Wet panel", 118.0))),
    ];
    for (name, chart) in charts {
        std::fs::write(folder.join(format!("{name}.svg")), chart.svg()?)?;
        std::fs::write(folder.join(format!("{name}.png")), chart.png(1.5)?)?;
    }
    Ok(())
}
