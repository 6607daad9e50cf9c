//! The value that makes a condition hold on this panel, beside the rule's.

use super::bench::{Bench, Scene, Trouble};
use super::data::{Bound, NeededValue, Reference, Rule, RuleValue, decided};
use super::read::twelve_digits;
use super::row::{Detail, NeededDetail, Place, RowTouch, Verdict};
use super::subject::{Subject, Touched};
use super::words::{figure, number, with_unit};
use crate::input::Override;
use crate::panel::Panel;
use crate::questions::find::{self, Ask, Ending, Found, Sample, Span, search};
use crate::study::{QuantityKind, Relation};

/// Verdict, reason, touch and numbers.
pub(super) struct Judged {
    pub verdict: Verdict,
    pub reason: String,
    pub touch: Option<RowTouch>,
    pub detail: Detail,
}

impl Judged {
    /// Nothing to judge, and why.
    pub fn not_described(reason: impl Into<String>) -> Self {
        Self {
            verdict: Verdict::NotDescribed,
            reason: reason.into(),
            touch: None,
            detail: Detail::None,
        }
    }

    /// Nothing to judge, because the panel file says nothing at a key.
    pub fn without_value(path: &str) -> Self {
        Self::not_described(format!("the panel file would need a value at {path}"))
    }
}

/// The touch for people.
pub(super) fn row_touch(touched: &Touched, aim_error_m: Option<f64>) -> RowTouch {
    RowTouch {
        pad: touched.pad.clone(),
        off_towards: touched
            .towards
            .clone()
            .zip(aim_error_m.map(|length| twelve_digits(1e3 * length))),
    }
}

pub(super) fn judge(
    bench: &mut Bench<'_>,
    subject: &Subject,
    rule: &Rule,
    needed: &NeededValue,
) -> Result<Judged, Trouble> {
    let scene = Scene::new(bench.asked, subject, rule)?;
    let panel = scene.panel(&scene.with_layers, &[])?;
    let setting = match setting(&scene, &panel, subject, needed) {
        Ok(setting) => setting,
        Err(path) => return Ok(Judged::without_value(&path)),
    };
    let Setting { path, value, text } = setting;
    let kind = needed.condition.quantity.kind;
    let touched = bench.worst_touch(&panel, subject, rule.aim_error_m, kind)?;
    let span = span(needed.range);
    let mut asker = Asker {
        bench,
        scene: &scene,
        subject,
        touched: &touched,
        aim_error_m: rule.aim_error_m,
        path: &path,
        unit: &needed.unit,
        kind,
        limit: needed.condition.value,
        reference: None,
        is_stopped: false,
    };
    asker.reference = match needed.reference {
        None => None,
        Some(Reference::AsDrawn) => Some(asker.as_drawn()?),
        Some(Reference::Best) => Some(asker.best(&span)?),
    };
    // The rule's own value first: without it there is no verdict.
    let at_rule = match asker.ask(value) {
        Ok(sample) => sample,
        Err(Trouble::None(reason)) => {
            return Ok(Judged::not_described(format!(
                "{path} = {}: {reason}",
                with_unit(&value.to_string(), &needed.unit)
            )));
        }
        Err(trouble) => return Err(trouble),
    };
    let condition = &needed.condition;
    let found = search(
        &span,
        condition.value,
        condition.relation,
        &mut asker,
        &mut |_| {},
    );
    if asker.is_stopped || found.ending == Ending::Stopped {
        return Err(Trouble::Stopped);
    }
    let place = needed_place(&found, needed.side, value);
    let verdict = verdict(needed, value, at_rule, place);
    let detail = NeededDetail {
        drawn: scene.value(&panel, &path),
        path,
        unit: needed.unit.clone(),
        side: needed.side,
        rule: value,
        rule_text: text,
        needed: place,
        condition: condition.clone(),
        reference: needed.reference,
        at_rule,
        samples: with_sample(found.solved().collect(), value, at_rule),
    };
    Ok(Judged {
        verdict,
        reason: reason(&detail, verdict),
        touch: Some(row_touch(&touched, rule.aim_error_m)),
        detail: Detail::Needed(detail),
    })
}

/// The key a rule is about, the rule's value for it, and that value as the rule says it.
struct Setting {
    path: String,
    value: f64,
    text: String,
}

/// What the rule sets on this panel; an error is the key that the panel file has no value at.
fn setting(
    scene: &Scene,
    panel: &Panel,
    subject: &Subject,
    needed: &NeededValue,
) -> Result<Setting, String> {
    let (value, text) = match &needed.value {
        RuleValue::Fixed(value, text) => (*value, text.clone()),
        RuleValue::Times(factor, path) => {
            let path = subject.fill(path);
            let length = scene.value(panel, &path).ok_or_else(|| path.clone())?;
            let text = format!("{} x {path}", number(*factor));
            (twelve_digits(factor * length), text)
        }
    };
    let written = with_unit(&value.to_string(), &needed.unit);
    let path = path_of(scene, panel, subject, &needed.paths, &written);
    let path = path.ok_or_else(|| subject.fill(&needed.paths[0]))?;
    Ok(Setting { path, value, text })
}

/// A range over more than a decade is searched in equal ratios.
fn span([from, to]: [f64; 2]) -> Span {
    Span {
        from,
        to,
        logarithmic: from > 0.0 && to > 10.0 * from,
    }
}

/// Samples in the order of their places, with one that may be among them already.
fn with_sample(mut samples: Vec<(f64, Sample)>, place: f64, sample: Sample) -> Vec<(f64, Sample)> {
    let index = samples.partition_point(|(at, _)| *at < place);
    if samples.get(index).is_none_or(|(at, _)| *at != place) {
        samples.insert(index, (place, sample));
    }
    samples
}

/// The first path this panel gives a value for, or that takes the rule's.
pub(super) fn path_of(
    scene: &Scene,
    panel: &Panel,
    subject: &Subject,
    paths: &[String],
    value: &str,
) -> Option<String> {
    let filled: Vec<String> = paths.iter().map(|path| subject.fill(path)).collect();
    let takes = |path: &&String| {
        let set = Override {
            path: (*path).clone(),
            value: value.to_owned(),
        };
        !moves_nothing(panel, path) && scene.panel(&scene.with_layers, &[set]).is_ok()
    };
    let given = filled
        .iter()
        .find(|path| scene.value(panel, path).is_some());
    given.or_else(|| filled.iter().find(takes)).cloned()
}

/// The gap of a single pad can be written, but moves nothing.
fn moves_nothing(panel: &Panel, path: &str) -> bool {
    match path.split('.').collect::<Vec<_>>()[..] {
        ["pads", group, "gap"] => panel.group(group).is_some_and(|group| !group.has_gaps()),
        _ => false,
    }
}

/// How much looser the accuracy is under which a value is looked at first.
const ROUGHER: f64 = 8.0;
/// So many of its bars from what it is compared with, a rough value decides as a better one would, and no crossing is read
/// from it.
const FAR_IN_BARS: f64 = 3.0;

/// Asks the engine for places of the range.
struct Asker<'s, 'a> {
    bench: &'s mut Bench<'a>,
    scene: &'s Scene,
    subject: &'s Subject,
    touched: &'s Touched,
    aim_error_m: Option<f64>,
    path: &'s str,
    unit: &'s str,
    kind: QuantityKind,
    /// What samples are compared with.
    limit: f64,
    /// With one, samples are in percent of it.
    reference: Option<Sample>,
    is_stopped: bool,
}

impl Asker<'_, '_> {
    fn panel(&self, place: f64) -> Result<Panel, String> {
        let set = Override {
            path: self.path.to_owned(),
            value: with_unit(&place.to_string(), self.unit),
        };
        self.scene.panel(&self.scene.with_layers, &[set])
    }

    /// The quantity on a panel.
    fn sample(&mut self, panel: &Panel) -> Result<Sample, Trouble> {
        let finger = &self.subject.finger;
        self.bench
            .sample(panel, finger, self.touched, self.aim_error_m, self.kind)
    }

    /// The quantity on the panel without the rule.
    fn as_drawn(&mut self) -> Result<Sample, Trouble> {
        let asked = self.bench.asked;
        let drawn = asked.document.panel(asked.overrides);
        let drawn = drawn.map_err(|error| error.message().to_owned())?;
        self.sample(&drawn)
    }

    fn ask(&mut self, place: f64) -> Result<Sample, Trouble> {
        let panel = self.panel(place)?;
        let sample = self.sample(&panel)?;
        Ok(match self.reference {
            Some(reference) => share(sample, reference),
            None => sample,
        })
    }

    /// A rough value, which is enough where it is far from what it is compared with.
    fn rough(&mut self, place: f64) -> Result<Sample, Trouble> {
        let accuracy = self.bench.accuracy;
        self.bench.accuracy = ROUGHER * accuracy;
        let sample = self.ask(place);
        self.bench.accuracy = accuracy;
        sample
    }

    /// The largest value over the first places of a search: of those that may be it by their rough values.
    fn best(&mut self, span: &Span) -> Result<Sample, Trouble> {
        let mut rough: Vec<(f64, Sample)> = Vec::new();
        let mut reason = String::new();
        for index in 0..find::SCAN {
            let place = span.place(index as f64 / (find::SCAN - 1) as f64);
            match self.rough(place) {
                Ok(sample) => rough.push((place, sample)),
                Err(Trouble::None(why)) => reason = why,
                Err(trouble) => return Err(trouble),
            }
        }
        let reached = |sample: &Sample| sample.value - sample.error;
        let least = rough.iter().map(|(_, sample)| reached(sample));
        let least = least.fold(f64::NEG_INFINITY, f64::max);
        let mut best: Option<Sample> = None;
        for (place, sample) in rough {
            if sample.value + sample.error < least {
                continue;
            }
            match self.ask(place) {
                Ok(sample) if best.is_none_or(|best| sample.value > best.value) => {
                    best = Some(sample);
                }
                Ok(_) => {}
                Err(Trouble::None(why)) => reason = why,
                Err(trouble) => return Err(trouble),
            }
        }
        best.ok_or(Trouble::None(reason))
    }
}

impl Ask for Asker<'_, '_> {
    fn possible(&mut self, place: f64) -> Result<(), String> {
        self.panel(place).map(|_| ())
    }

    fn solve(&mut self, place: f64) -> Result<Sample, String> {
        let limit = self.limit;
        let is_far = |sample: &Sample| (sample.value - limit).abs() > FAR_IN_BARS * sample.error;
        let sample = match self.rough(place) {
            Ok(sample) if !is_far(&sample) => self.ask(place),
            rough => rough,
        };
        sample.map_err(|trouble| match trouble {
            Trouble::Stopped => {
                self.is_stopped = true;
                "interrupted".to_owned()
            }
            Trouble::None(reason) | Trouble::Engine(reason) => reason,
        })
    }

    fn stopped(&self) -> bool {
        self.is_stopped
    }
}

/// A value in percent of another one.
pub(super) fn share(sample: Sample, reference: Sample) -> Sample {
    let ratio = sample.value / reference.value;
    Sample {
        value: 100.0 * ratio,
        error: 100.0 * (sample.error + ratio.abs() * reference.error) / reference.value.abs(),
    }
}

/// Where the stretch in which the condition holds begins (at least) or ends (at most): the stretch with
/// the rule's value in it or, without one, the nearest.
pub(super) fn needed_place(found: &Found, side: Bound, rule: f64) -> Place {
    let ends = |stretch: &find::Stretch| [stretch.from, stretch.to].map(|end| found.place_of(end));
    let distance = |stretch: &find::Stretch| {
        let [from, to] = ends(stretch);
        (from - rule).max(rule - to).max(0.0)
    };
    let nearest = found
        .holds
        .iter()
        .min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let solved: Vec<f64> = found.solved().map(|(at, _)| at).collect();
    let [Some(first), Some(last)] = [solved.first(), solved.last()] else {
        return Place::Unclear;
    };
    let Some(stretch) = nearest else {
        if found.undecided.is_empty() {
            return Place::NowhereTo(match side {
                Bound::AtLeast => *last,
                Bound::AtMost => *first,
            });
        }
        return Place::Unclear;
    };
    let bound = match side {
        Bound::AtLeast => stretch.from,
        Bound::AtMost => stretch.to,
    };
    match bound {
        find::Bound::Crossing(index) => {
            let crossing = &found.crossings[index];
            Place::At(crossing.at, crossing.interval)
        }
        find::Bound::End(at) | find::Bound::Failure(at) => Place::BeyondEnd(at),
    }
}

pub(super) fn verdict(needed: &NeededValue, rule: f64, at_rule: Sample, place: Place) -> Verdict {
    let Sample { value, error } = at_rule;
    let condition = &needed.condition;
    match decided(condition.relation, condition.value, value, error) {
        None => return Verdict::CannotTell,
        Some(false) => return Verdict::FailsHere,
        Some(true) => {}
    }
    // The end of the interval that is nearest to the rule's value: more careful within any doubt.
    let nearest = match (place, needed.side) {
        (Place::At(_, [_, high]), Bound::AtLeast) => high,
        (Place::At(_, [low, _]), Bound::AtMost) => low,
        (Place::BeyondEnd(end), _) => end,
        (Place::NowhereTo(_) | Place::Unclear, _) => return Verdict::Holds,
    };
    let beyond = match needed.side {
        Bound::AtLeast => rule / nearest,
        Bound::AtMost => nearest / rule,
    };
    if beyond > needed.careful_factor {
        Verdict::MoreCareful
    } else {
        Verdict::Holds
    }
}

fn reason(detail: &NeededDetail, verdict: Verdict) -> String {
    let condition = &detail.condition;
    let mut quantity = condition.quantity.kind.words().to_owned();
    match detail.reference {
        Some(Reference::AsDrawn) => quantity += " over that of the panel as drawn",
        Some(Reference::Best) => quantity += " over the best of the range",
        None => {}
    }
    let unit = detail.sample_unit();
    let mut text = format!(
        "at {} the {quantity} is {} {unit} ({} {} {unit} wanted)",
        with_unit(&number(detail.rule), &detail.unit),
        figure(detail.at_rule),
        match condition.relation {
            Relation::AtMost => "at most",
            Relation::AtLeast => "at least",
            Relation::Equal => "exactly",
        },
        number(condition.value),
    );
    let ratio = |needed: f64| match detail.side {
        Bound::AtLeast => detail.rule / needed,
        Bound::AtMost => needed / detail.rule,
    };
    match (verdict, detail.needed) {
        (Verdict::MoreCareful, Place::At(needed, _)) => {
            text += &format!("; {} times on the careful side", times(ratio(needed)));
        }
        (Verdict::MoreCareful, Place::BeyondEnd(end)) => {
            text += &format!(
                "; more than {} times on the careful side",
                times(ratio(end))
            );
        }
        (Verdict::CannotTell, _) => text += "; a smaller --accuracy may tell",
        _ => {}
    }
    text
}

/// A factor as a person says it: two digits.
fn times(factor: f64) -> String {
    match factor {
        f if f < 10.0 => format!("{f:.1}"),
        f => format!("{f:.0}"),
    }
}
