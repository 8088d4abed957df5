//! When the engine runs by itself, and whether it is still cold.

use rayon::prelude::*;

use super::signal::Signal;
use super::{Inputs, Phases, StartBy, idle};
use crate::recording::Channel;
use crate::span::{Span, Spans};
use crate::stats::median;

/// Over this share of idle speed it runs, until under the second.
const RUNS: (f64, f64) = (0.6, 0.4);
/// Exhaust probes are no quicker than this, s.
const BIN_S: f64 = 0.1;
/// For at least so long, s.
const LEAST_S: f64 = 1.0;
/// Over this share of idle a starter flag that is still on no longer matters.
const PAST_STARTER: f64 = 0.9;
/// Exhaust that rises faster than this means fire, degC/s, once it turns over that share of idle.
const EGT_RISE: f64 = 3.0;
const EGT_TURNS: f64 = 0.35;
/// Rollers and pushing turn no faster, rpm.
const DRIVEN_MOST_RPM: f64 = 1800.0;
/// Speed "rising by itself": it held within this share, then came out over that share of it.
const HELD: f64 = 0.15;
const BY_ITSELF: f64 = 1.25;
/// Turned by something else for longer than this, s: nothing told when it fired.
const DRIVEN_S: f64 = 30.0;
/// Exhaust that stays cold for so long at running speed, s, was not fired yet.
const COLD_EXHAUST_S: f64 = 5.0;
/// No starter turns faster, rpm; and a pulse at or under the second, ms, opens nothing.
const STARTER_MOST_RPM: f64 = 600.0;
const PULSE_MS: f64 = 0.05;
/// Cold under these, degC, coolant and oil, and from then on until it is warmer than these by so much: a reading that
/// trembles about the line ends no warm-up.
const WARM: [(&str, f64); 2] = [("coolant_temp", 60.0), ("oil_temp", 50.0)];
const WARM_BACK: f64 = 2.0;
/// Breaks shorter than this do not end the warm-up, s.
const WARM_JOIN_S: f64 = 5.0;

/// Running spans, and sentences on what was guessed.
pub(super) fn find(
    inputs: &Inputs<'_>,
    rpm: &Signal,
    turning: &Spans,
    starter: &Spans,
    phases: &Phases,
) -> (Spans, Vec<String>) {
    let idle = idle::reference(phases);
    let heats = inputs.heats();
    let starter_slow = starter.and(&rpm.spans(|v| v < PAST_STARTER * idle));
    let fast = rpm
        .above(RUNS.0 * idle, RUNS.1 * idle)
        .except(&starter_slow);
    let fast = Spans::new(
        fast.list()
            .iter()
            .copied()
            .filter(|s| s.length() >= LEAST_S - 1e-9 || rpm.cut_short(*s))
            .collect(),
    );
    // Firing on some cylinders only: too slow to tell by speed.
    let labours = heats
        .and(&rpm.spans(|v| v >= EGT_TURNS * idle))
        .except(starter)
        .and(turning)
        .at_least(LEAST_S);
    let mut notes = Vec::new();
    let mut out = Vec::new();
    for span in fast.or(&labours).list() {
        let begun = rpm
            .stretches
            .iter()
            .any(|s| (rpm.times[s.start] - span.from_s).abs() < 1e-9);
        let fire = if begun {
            Some(span.from_s)
        } else {
            fired(inputs, rpm, *span, heats, &mut notes)
        };
        if let Some(from_s) = fire.filter(|f| *f <= span.to_s) {
            out.push(Span {
                from_s,
                to_s: span.to_s,
            });
        }
    }
    (Spans::new(out), notes)
}

/// When in a span of running speed the engine ran by itself; `None` where it was only turned.
fn fired(
    inputs: &Inputs<'_>,
    rpm: &Signal,
    span: Span,
    heats: &Spans,
    notes: &mut Vec<String>,
) -> Option<f64> {
    let within = Spans::one(span.from_s, span.to_s);
    let heat = heats.and(&within).list().first().map(|s| s.from_s);
    let racing = rpm
        .spans(|v| v > DRIVEN_MOST_RPM)
        .and(&within)
        .list()
        .first()
        .map(|s| s.from_s);
    // Without fuel it does not run, however fast it is turned.
    let dry = inputs
        .fuel_off()
        .list()
        .iter()
        .find(|d| d.from_s <= span.from_s && d.to_s > span.from_s)
        .copied();
    let from_s = match (dry, racing) {
        (Some(d), Some(r)) => d.to_s.min(r),
        (Some(d), None) => d.to_s,
        _ => span.from_s,
    };
    if from_s >= span.to_s && dry.is_some() {
        return None;
    }
    let driven = matches!(inputs.facts.start_by, Some(StartBy::Roller | StartBy::Push));
    if !driven {
        // Probes that stay cold at running speed and then wake up: something else turned it until then.
        let late =
            heat.filter(|h| *h - from_s > COLD_EXHAUST_S && exhaust_cold(inputs, from_s, *h));
        return Some(late.unwrap_or(from_s));
    }
    let found = [
        heat,
        racing,
        by_itself(rpm, span),
        standing_still(inputs, span),
    ];
    let first = found.into_iter().flatten().fold(f64::INFINITY, f64::min);
    if first.is_finite() {
        return Some(first.max(from_s));
    }
    if span.length() > DRIVEN_S {
        notes.push(format!(
            "Nothing shows when the engine fired after {:.1} s: it is taken to have run from there, since it turned for {:.0} s.",
            span.from_s,
            span.length()
        ));
        return Some(from_s);
    }
    notes.push(format!(
        "The engine was turned at {:.1} s and nothing shows that it fired.",
        span.from_s
    ));
    None
}

/// Speed held by what turns it, then came out over it.
fn by_itself(rpm: &Signal, span: Span) -> Option<f64> {
    let fine = rpm.binned(0.1);
    let held = fine
        .holding(1.0, |middle| HELD * middle)
        .and(&Spans::one(span.from_s, span.to_s));
    held.list().iter().find_map(|h| {
        let level = median(&fine.values_in(&Spans::one(h.from_s, h.to_s)))?;
        let after = Spans::one(h.from_s, (h.to_s + 1.5).min(span.to_s));
        let over = |share: f64| {
            fine.spans(|v| v > share * level)
                .and(&after)
                .list()
                .last()
                .map(|s| s.from_s)
        };
        over(BY_ITSELF)?;
        // Back to where it left the level.
        over(1.0 + HELD / 2.0).map(|t| t.min(h.to_s))
    })
}

/// Pushed, and the car already stands while the engine turns.
fn standing_still(inputs: &Inputs<'_>, span: Span) -> Option<f64> {
    if inputs.facts.start_by != Some(StartBy::Push) {
        return None;
    }
    let still = Signal::of(inputs.rec, "speed")?.spans(|v| v < 1.0);
    still
        .and(&Spans::one(span.from_s, span.to_s))
        .at_least(LEAST_S)
        .list()
        .first()
        .map(|s| s.from_s)
}

fn exhaust_cold(inputs: &Inputs<'_>, from_s: f64, to_s: f64) -> bool {
    let before = Spans::one(from_s, to_s);
    let probes = inputs.rec.family("egt_");
    !probes.is_empty()
        && probes.iter().all(|c| {
            Signal::from_channel(inputs.rec, c)
                .is_none_or(|s| s.values_in(&before).iter().all(|v| *v < 100.0))
        })
}

/// Where any exhaust probe rises as only a fire makes it.
pub(super) fn egt_rising(inputs: &Inputs<'_>) -> Spans {
    let rising = |channel: &Channel| {
        let signal = Signal::of_updates(inputs.rec, channel)?;
        let window = 1.5f64.max(3.0 * signal.spacing_s);
        let rate = signal.binned(BIN_S).smoothed(1.0).rate(window);
        Some(rate.above(EGT_RISE, EGT_RISE / 2.0).at_least(LEAST_S))
    };
    let probes = inputs.rec.family("egt_");
    let found: Vec<Spans> = probes.into_par_iter().filter_map(rising).collect();
    found.iter().fold(Spans::default(), |all, one| all.or(one))
}

/// Where fuel is known to be off: no injector pulse, or the cut flag. A pulse that is zero in the whole of a log that
/// went faster than a starter turns is a dead channel.
pub(super) fn fuel_off(inputs: &Inputs<'_>) -> Spans {
    let only_starter = inputs
        .rpm
        .as_ref()
        .is_some_and(|r| r.values.iter().all(|v| *v < STARTER_MOST_RPM));
    let pulse = Signal::of(inputs.rec, "injector_pulse")
        .filter(|s| only_starter || s.values.iter().any(|v| *v > PULSE_MS));
    let dry = pulse.map_or_else(Spans::default, |s| s.spans(|v| v <= PULSE_MS));
    dry.or(&inputs.flag("fuel_cut"))
}

/// Where coolant or oil is known to be cold.
pub(super) fn cold(inputs: &Inputs<'_>) -> Spans {
    let mut out = Spans::default();
    for (name, warm) in WARM {
        if let Some(signal) = Signal::of(inputs.rec, name) {
            out = out.or(&signal.below(warm - 1e-6, warm + WARM_BACK));
        }
    }
    out.joined(WARM_JOIN_S).and(&inputs.covered)
}

/// Running while cold.
pub(super) fn warm_up(inputs: &Inputs<'_>, phases: &Phases) -> Spans {
    cold(inputs).and(&phases.known("running"))
}
