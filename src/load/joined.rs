//! Channels of one name whose readings came with different units, or some of them with none, made one channel again.

use std::collections::{BTreeMap, BTreeSet};

use super::dialect::Encoding;
use super::encoding::words;
use super::long::{Channel, PART, Readings};
use crate::units::{Unit, Written};

/// A channel that was put into another one.
#[derive(Clone, Debug)]
pub(crate) struct Joined {
    /// Its place until it was taken out, and that of the other one.
    from: usize,
    to: usize,
    name: Vec<u8>,
    unit: Vec<u8>,
    scale: Scale,
}

/// From the numbers of one unit to those of another.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Scale {
    factor: f64,
    offset: f64,
}

impl Scale {
    const SAME: Self = Self {
        factor: 1.0,
        offset: 0.0,
    };

    fn between(from: Written, to: Written) -> Self {
        Self {
            factor: from.factor / to.factor,
            offset: (from.offset - to.offset) / to.factor,
        }
    }

    fn of(self, value: f64) -> f64 {
        // The mark of a word for on or off must stay one.
        if self == Self::SAME || value.is_nan() {
            return value;
        }
        value * self.factor + self.offset
    }
}

impl Readings {
    /// Gives readings without a unit to the channel of that name that has one, if there is just one, and readings in
    /// another unit of the same quantity to the channel that has most. Says what it converted, and what it could not.
    pub fn join_units(&mut self, encoding: Encoding, evidence: &mut Vec<String>) {
        let mut named: BTreeMap<&[u8], Vec<usize>> = BTreeMap::new();
        for (at, channel) in self.channels.iter().enumerate() {
            named.entry(&channel.name).or_default().push(at);
        }
        let mut groups: Vec<Vec<usize>> = named.into_values().filter(|all| all.len() > 1).collect();
        groups.sort();
        let mut joined = Vec::new();
        for all in &groups {
            self.join_group(all, encoding, &mut joined, evidence);
        }
        for one in &joined {
            self.put(one);
        }
        self.take_out(&mut joined);
        self.joined = joined;
    }

    /// Decides which channels of one name are one.
    fn join_group(
        &self,
        all: &[usize],
        encoding: Encoding,
        joined: &mut Vec<Joined>,
        evidence: &mut Vec<String>,
    ) {
        let channel = |at: usize| &self.channels[at];
        let (bare, with_unit): (Vec<usize>, Vec<usize>) =
            all.iter().partition(|at| channel(**at).unit.is_empty());
        let readings = |at: &usize| channel(*at).values.len();
        // The first of equals.
        let most = with_unit.iter().copied().rev().max_by_key(readings);
        let Some(to) = most else { return };
        let mut join = |from: usize, scale: Scale| {
            joined.push(Joined {
                from,
                to,
                name: channel(from).name.clone(),
                unit: channel(from).unit.clone(),
                scale,
            });
        };
        if let ([bare], [_]) = (&bare[..], &with_unit[..]) {
            return join(*bare, Scale::SAME);
        }
        let quoted = |at: usize| format!("`{}`", words(&channel(at).unit, encoding));
        let name = words(&channel(to).name, encoding);
        let mut taken: BTreeSet<u32> = channel(to).at.iter().copied().collect();
        for from in with_unit.into_iter().filter(|from| *from != to) {
            let scale = scale(&channel(from).unit, &channel(to).unit, encoding);
            // A logger that gives each reading in two units has two channels of it.
            let apart = !channel(from).at.iter().any(|at| taken.contains(at));
            match scale.filter(|_| apart) {
                Some(scale) => {
                    taken.extend(&channel(from).at);
                    let count = readings(&from);
                    evidence.push(match scale {
                        Scale::SAME => format!(
                            "{name} is given in {} and in {} other readings in {}, which is the same.",
                            quoted(to), count, quoted(from)
                        ),
                        _ => format!(
                            "{name} is given in {} and in {} other readings in {}: those were converted.",
                            quoted(to), count, quoted(from)
                        ),
                    });
                    join(from, scale);
                }
                None => {
                    let why = match scale {
                        Some(_) => "at the same times",
                        None => "which is not known to be the same quantity",
                    };
                    evidence.push(format!(
                        "{name} is given in {} and also in {}, {why}: these are kept as two channels.",
                        quoted(to), quoted(from)
                    ));
                }
            }
        }
    }

    /// Moves the readings of a channel to another one.
    fn put(&mut self, one: &Joined) {
        let from = std::mem::take(&mut self.channels[one.from]);
        let to = &mut self.channels[one.to];
        let mut both: Vec<(u32, f64)> = to.at.drain(..).zip(to.values.drain(..)).collect();
        let values = from.values.into_iter().map(|value| one.scale.of(value));
        both.extend(from.at.into_iter().zip(values));
        both.sort_by_key(|reading| reading.0);
        (to.at, to.values) = both.into_iter().unzip();
        to.blank += from.blank;
        to.unreadable += from.unreadable;
        to.word_lines.extend(from.word_lines);
        to.word_lines.sort_unstable();
    }

    /// Takes the emptied channels out.
    fn take_out(&mut self, joined: &mut [Joined]) {
        let gone: BTreeSet<usize> = joined.iter().map(|one| one.from).collect();
        let mut moved = Vec::with_capacity(self.channels.len());
        let mut kept = 0;
        for at in 0..self.channels.len() {
            moved.push(kept);
            kept += usize::from(!gone.contains(&at));
        }
        for one in joined {
            moved[one.from] = moved[one.to];
            one.to = moved[one.to];
        }
        let mut at = 0;
        self.channels.retain(|_| {
            at += 1;
            !gone.contains(&(at - 1))
        });
        self.places
            .values_mut()
            .for_each(|place| *place = moved[*place]);
    }

    /// Gives the joined channels places of their own again, for another pass over the log.
    pub(super) fn part_again(&mut self, joined: &[Joined]) {
        for one in joined {
            let mut key = one.name.clone();
            key.push(PART);
            key.extend_from_slice(&one.unit);
            let from = self.channels.len();
            self.places.insert(key, from);
            self.channels.push(Channel {
                name: one.name.clone(),
                unit: one.unit.clone(),
                ..Channel::default()
            });
            self.joined.push(Joined {
                from,
                ..one.clone()
            });
        }
    }

    /// Puts them together again behind that pass.
    pub fn join_again(&mut self) {
        let mut joined = std::mem::take(&mut self.joined);
        for one in &joined {
            self.put(one);
        }
        self.take_out(&mut joined);
    }
}

/// How to get from one unit to another of the same quantity.
fn scale(from: &[u8], to: &[u8], encoding: Encoding) -> Option<Scale> {
    let read = |unit: &[u8]| {
        let text = words(unit, encoding);
        let text = text.trim();
        let written = Unit::parse(text).filter(|written| !written.unit.is_none())?;
        // Over the air or over nothing: what one of them leaves open, the other may not settle.
        let lower = text.to_lowercase();
        let against = ["gauge", "abs", "(a)", "(g)", " a", " g"];
        let open = !against.iter().any(|mark| lower.contains(mark));
        open.then_some(written)
    };
    let (from, to) = (read(from)?, read(to)?);
    (from.unit == to.unit).then(|| Scale::between(from, to))
}
