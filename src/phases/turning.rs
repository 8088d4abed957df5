//! Rotation and the supply: off, key-on, cranking, after the stop.

use super::signal::Signal;
use super::{Inputs, Phases, running};
use crate::recording::Recording;
use crate::span::{Span, Spans};
use crate::stats::{median, quantile};

/// The engine turns over this speed, until under the second, rpm (common practice).
const TURNS: (f64, f64) = (30.0, 15.0);
/// Share of the nominal supply under which the controller is off.
const OFF_SHARE: f64 = 0.4;
/// The starter takes at least this from the resting supply, V at 12 V nominal.
const DIP_V: f64 = 1.0;
/// A dip longer than this is no starter, s; nor is one that ends within the first figure.
const DIP_S: (f64, f64) = (0.15, 30.0);
/// Right after the stop the supply falls from charging to rest, s.
const FALLS_S: f64 = 2.0;
/// A dip and the rotation that follows it belong together within this, s.
const JOIN_S: f64 = 0.5;
/// A tail after running that lasts longer, s, is no longer running down.
const RUN_DOWN_S: f64 = 3.0;
/// Speed lost and found again within this is no stop, s.
const CATCH_S: f64 = 0.7;
/// Without engine speed: charging stands this far over rest, V at 12 V nominal, for so long, s.
const CHARGE_V: f64 = 0.6;
const CHARGE_S: f64 = 2.0;

/// Nominal supply by what the log shows, V.
pub(super) fn nominal_v(rec: &Recording) -> f64 {
    let usual = rec
        .channel("battery_v")
        .and_then(|c| median(&c.series.values));
    match usual {
        Some(v) if v > 2.0 && v < 9.0 => 6.0,
        Some(v) if v >= 20.0 => 24.0,
        Some(v) if v >= 16.5 => 16.0,
        _ => 12.0,
    }
}

pub(super) fn find(inputs: &Inputs<'_>, phases: &mut Phases) {
    let volts = Signal::of(inputs.rec, "battery_v");
    let off_v = OFF_SHARE * inputs.nominal_v;
    match &inputs.rpm {
        Some(rpm) => by_speed(inputs, rpm, volts.as_ref(), phases),
        None => by_volts(inputs, volts.as_ref(), phases),
    }
    let (turning, cranking, ran) = (
        phases.known("turning"),
        phases.known("cranking"),
        phases.known("running"),
    );
    let still = inputs
        .covered
        .except(&turning)
        .except(&cranking)
        .except(&ran);
    // Where speed was not written nobody knows whether it turned.
    let still = inputs
        .rpm
        .as_ref()
        .map_or(still.clone(), |r| still.and(&r.covered()));
    let off = volts
        .as_ref()
        .map_or_else(Spans::default, |v| v.spans(|v| v < off_v).and(&still));
    let powered = still.except(&off);
    // After a run, until the supply is taken away.
    let after: Vec<Span> = ran
        .list()
        .iter()
        .map(|r| {
            let next_off = off
                .list()
                .iter()
                .find(|o| o.from_s >= r.to_s)
                .map(|o| o.from_s);
            Span {
                from_s: r.to_s,
                to_s: next_off.unwrap_or(inputs.rec.end_s()),
            }
        })
        .collect();
    let after = Spans::new(after).and(&powered);
    phases.set("key-on", powered.except(&after));
    let first = turning
        .list()
        .first()
        .into_iter()
        .chain(cranking.list().first())
        .map(|s| s.from_s)
        .fold(f64::INFINITY, f64::min);
    let rest = powered
        .except(&after)
        .list()
        .iter()
        .filter(|s| s.to_s <= first + 1e-9)
        .copied()
        .collect();
    phases.set("rest", Spans::new(rest));
    phases.set("off", off);
    phases.set("after-stop", after);
    let primed = inputs.fuel_off();
    let whole = |c: &&Span| Spans::one(c.from_s, c.to_s).and(primed).total() >= 0.9 * c.length();
    phases.set(
        "priming",
        Spans::new(
            cranking
                .list()
                .iter()
                .filter(|c| c.length() > 0.0)
                .filter(whole)
                .copied()
                .collect(),
        ),
    );
    phases.first_fire_s = first_fire(inputs, phases);
}

fn first_fire(inputs: &Inputs<'_>, phases: &Phases) -> Option<f64> {
    let first = phases.known("running").list().first()?.from_s;
    let before = phases
        .known("key-on")
        .or(&phases.known("cranking"))
        .or(&phases.known("off"));
    // The log must show it not running right before: a gap hides the moment.
    (first > inputs.rec.start_s() && before.contains(first)).then_some(first)
}

fn by_speed(inputs: &Inputs<'_>, rpm: &Signal, volts: Option<&Signal>, phases: &mut Phases) {
    let turning = rpm.above(TURNS.0, TURNS.1);
    let starter = inputs.flag("starter");
    let (mut ran, notes) = running::find(inputs, rpm, &turning, &starter, phases);
    phases.notes.extend(notes);
    let mut cranking = Vec::new();
    for whole in turning.list() {
        let mut pieces: Vec<Span> = Spans::one(whole.from_s, whole.to_s)
            .except(&ran)
            .list()
            .to_vec();
        if pieces.is_empty() && whole.length() == 0.0 && !ran.contains(whole.from_s) {
            pieces.push(*whole);
        }
        for piece in pieces {
            let after_run = ran
                .list()
                .iter()
                .any(|r| (r.to_s - piece.from_s).abs() < 1e-9);
            let before_run = ran
                .list()
                .iter()
                .any(|r| (r.from_s - piece.to_s).abs() < 1e-9);
            let helped = starter.list().iter().any(|s| s.overlaps(piece));
            if after_run && before_run && !helped && piece.length() < CATCH_S {
                ran = ran.or(&Spans::one(piece.from_s, piece.to_s));
            } else if after_run && !before_run && !helped && piece.length() < RUN_DOWN_S {
                // Running down after the kill.
            } else if !after_run && !before_run && runs_down(rpm, piece, &ran) {
                // The log, or the part after a gap, begins while it runs down.
            } else {
                cranking.push(piece);
            }
        }
    }
    let quiet = rpm.covered().except(&turning);
    let dips = volts.map_or_else(Spans::default, |v| dips(inputs, v, &quiet, &ran));
    let join = JOIN_S.max(2.0 * rpm.spacing_s);
    // A starter flag that stays on with the engine running is no starter.
    let pulls = starter.or(&dips).except(&ran);
    let cranking = Spans::new(cranking)
        .or(&pulls)
        .joined(join)
        .and(&inputs.covered)
        .except(&ran);
    phases.set("turning", turning);
    phases.set("cranking", cranking);
    phases.set("running", ran);
}

/// A stretch that begins with the log, at its highest, and dies away.
fn runs_down(rpm: &Signal, piece: Span, ran: &Spans) -> bool {
    let begins = rpm
        .stretches
        .iter()
        .any(|s| (rpm.times[s.start] - piece.from_s).abs() < 1e-9);
    let values = rpm.values_in(&Spans::one(piece.from_s, piece.to_s));
    let most = values.iter().copied().fold(0.0, f64::max);
    let first = values.first().copied().unwrap_or(0.0);
    let had_run =
        ran.list().first().is_some_and(|r| r.to_s <= piece.from_s) || piece.length() < 1.0;
    begins && had_run && values.len() > 1 && first >= 0.95 * most && piece.length() < RUN_DOWN_S
}

/// Where a supply at rest drops as only a starter makes it drop.
fn dips(inputs: &Inputs<'_>, volts: &Signal, quiet: &Spans, ran: &Spans) -> Spans {
    let (scale, off_v) = (inputs.nominal_v / 12.0, OFF_SHARE * inputs.nominal_v);
    let mut out = Vec::new();
    for span in quiet.list() {
        let just_ran = ran
            .list()
            .iter()
            .any(|r| r.to_s <= span.from_s && span.from_s - r.to_s < FALLS_S);
        let from_s = if just_ran {
            span.from_s + FALLS_S
        } else {
            span.from_s
        };
        if from_s >= span.to_s {
            continue;
        }
        let here = Spans::one(from_s, span.to_s);
        let values: Vec<f64> = volts
            .values_in(&here)
            .into_iter()
            .filter(|v| *v >= off_v)
            .collect();
        let Some(rest) = quantile(&values, 0.75) else {
            continue;
        };
        let low = volts
            .spans(|v| v <= rest - DIP_V * scale && v >= off_v)
            .and(&here);
        let off = volts.spans(|v| v < off_v);
        // On its way to zero the supply passes here too.
        let ends_off = |d: &Span| off.list().iter().any(|o| (o.from_s - d.to_s).abs() < 0.3);
        let long = |d: &Span| (DIP_S.0..DIP_S.1).contains(&d.length());
        out.extend(
            low.list()
                .iter()
                .copied()
                .filter(|d| long(d) && !ends_off(d)),
        );
    }
    Spans::new(out)
}

/// Without engine speed: the starter's dip, then charging.
fn by_volts(inputs: &Inputs<'_>, volts: Option<&Signal>, phases: &mut Phases) {
    phases.notes.push(
        "Engine speed is not logged: starting and running are taken from the supply alone.".into(),
    );
    let starter = inputs.flag("starter");
    let Some(volts) = volts else {
        phases.set("cranking", starter.clone());
        phases.set("turning", starter);
        return;
    };
    let (scale, off_v) = (inputs.nominal_v / 12.0, OFF_SHARE * inputs.nominal_v);
    let powered: Vec<usize> = (0..volts.values.len())
        .filter(|i| volts.values[*i] >= off_v)
        .collect();
    let begin = powered.first().map_or(0.0, |i| volts.times[*i]);
    let early: Vec<f64> = powered
        .iter()
        .filter(|i| volts.times[**i] <= begin + 3.0)
        .map(|i| volts.values[*i])
        .collect();
    // Charging from the first row: nothing to compare with.
    let Some(rest) = median(&early).filter(|r| *r < 13.3 * scale) else {
        return;
    };
    let low = volts.spans(|v| v <= rest - DIP_V * scale && v >= off_v);
    let dips = low
        .list()
        .iter()
        .copied()
        .filter(|d| (DIP_S.0..DIP_S.1).contains(&d.length()))
        .collect();
    let cranking = starter.or(&Spans::new(dips));
    let Some(first) = cranking.list().first().copied() else {
        return;
    };
    let charged = volts
        .above(rest + CHARGE_V * scale, rest + 0.2 * scale)
        .at_least(CHARGE_S);
    let ran = charged
        .list()
        .iter()
        .copied()
        .filter(|c| c.from_s >= first.from_s)
        .collect();
    let ran = Spans::new(ran).except(&cranking);
    phases.set("turning", cranking.or(&ran));
    phases.set("cranking", cranking);
    phases.set("running", ran);
}
