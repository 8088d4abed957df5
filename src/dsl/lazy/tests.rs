use super::*;
use crate::span::Span;

fn data(times: &[f64], values: &[f64]) -> Lazy {
    let times: Arc<[f64]> = times.into();
    let series = Series::new(&times, values.to_vec());
    let spacing = series.spacing().unwrap_or(1.0);
    Lazy::data(series, spacing, 3.0 * spacing)
}

#[test]
fn a_slow_series_is_held_but_not_for_ever() {
    let fast = data(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0], &[1.0; 9]);
    let slow = data(&[0.0, 2.0], &[10.0, 20.0]);
    let sum = fast.both(&slow, Shape::Any, |a, b| a + b).series();
    assert_eq!(
        &sum.times[..],
        &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    );
    assert_eq!(&sum.values[..3], &[11.0, 11.0, 21.0]);
    let slower = Lazy::data(slow.series(), 2.0, 2.0);
    assert_eq!(
        fast.both(&slower, Shape::Any, |a, b| a + b)
            .series()
            .times
            .last(),
        Some(&4.0)
    );
}

#[test]
fn narrowing_gives_what_cutting_afterwards_gives() {
    let t: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.1).collect();
    let v: Vec<f64> = t.iter().map(|t| t.sin()).collect();
    let slow = data(
        &(0..20).map(f64::from).collect::<Vec<_>>(),
        &(0..20).map(|i| f64::from(i) * 0.5).collect::<Vec<_>>(),
    );
    let whole = data(&t, &v)
        .each(Shape::Any, |v| v * 2.0)
        .both(&slow, Shape::Any, |a, b| a - b);
    let spans = Spans::new(vec![
        Span {
            from_s: 1.05,
            to_s: 3.0,
        },
        Span {
            from_s: 7.7,
            to_s: 8.2,
        },
    ]);
    assert_eq!(whole.during(&spans).series(), cut(&whole.series(), &spans));
    let fresh = data(&t, &v)
        .each(Shape::Any, |v| v * 2.0)
        .both(&slow, Shape::Any, |a, b| a - b);
    assert_eq!(fresh.during(&spans).series(), cut(&whole.series(), &spans));
}

#[test]
fn a_whole_is_worked_out_once_and_never_waits_for_itself() {
    let runs = Arc::new(std::sync::atomic::AtomicUsize::new(0));
    let count = Arc::clone(&runs);
    let whole = data(&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]).whole(move |s| {
        count.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        s.clone()
    });
    let (ask, answer) = std::sync::mpsc::channel();
    let asked = whole.clone();
    std::thread::spawn(move || ask.send(asked.series().len()));
    let got = answer.recv_timeout(std::time::Duration::from_secs(20));
    assert_eq!(got, Ok(3), "it waited for itself");
    let part = whole.during(&Spans::one(0.5, 1.5)).series();
    assert_eq!(&part.values[..], &[2.0]);
    assert_eq!(runs.load(std::sync::atomic::Ordering::Relaxed), 1);
}

#[test]
fn what_needs_its_neighbours_comes_whole_or_cut() {
    let made = || {
        data(&[0.0, 1.0, 2.0, 3.0], &[1.0, 2.0, 4.0, 8.0]).whole(|s| {
            let sums = (0..s.len()).map(|i| s.values[..=i].iter().sum()).collect();
            Series::new(&s.times, sums)
        })
    };
    assert_eq!(&made().series().values[..], &[1.0, 3.0, 7.0, 15.0]);
    let late = Spans::one(1.5, 9.0);
    assert_eq!(&made().during(&late).series().values[..], &[7.0, 15.0]);
}

#[test]
fn a_small_part_of_what_needs_near_neighbours_is_what_cutting_afterwards_gives() {
    // Two holes in it, and spans that end in one, begin in one, and lie within reach of each other.
    let t: Vec<f64> = (0..4000)
        .map(|i| f64::from(i) * 0.1 + f64::from(i / 1500) * 2.0)
        .collect();
    let v: Vec<f64> = (0..4000).map(|i| f64::from(i * 7919 % 101)).collect();
    let half = 0.55;
    let sums = move |s: &Series| {
        let near = |i: usize| {
            let inside = |j: &usize| (s.times[*j] - s.times[i]).abs() <= half;
            (0..s.len()).filter(inside).map(|j| s.values[j]).sum()
        };
        Series::new(&s.times, (0..s.len()).map(near).collect())
    };
    let made = |reach: f64| {
        let sum = data(&t, &v).near(reach, sums);
        let twice = sum.near(reach, sums).each(Shape::OneWay, |v| v - 3.0);
        twice.both(&data(&t, &v), Shape::OneWay, |a, b| a * b)
    };
    let span = |from_s, to_s| Span { from_s, to_s };
    let spans = Spans::new(vec![
        span(3.0, 5.0),
        span(5.3, 5.35),
        span(149.0, 150.5),
        span(151.0, 153.0),
        span(399.0, 410.0),
    ]);
    let all = made(f64::INFINITY);
    let wanted = cut(&all.series(), &spans);
    let part = made(0.6).during(&spans);
    assert_eq!(part.series(), wanted);
    assert_eq!(part.with_values(<[f64]>::to_vec), wanted.values.to_vec());
    assert!(wanted.len() > 50);
    // Nothing was worked out as a whole for that.
    let near = data(&t, &v).near(0.6, sums);
    assert!(near.during(&spans).series().len() > 50 && near.at_hand().is_none());
}

#[test]
fn an_expression_is_worked_out_the_same_in_one_go_and_in_parts() {
    let t: Vec<f64> = (0..5000).map(|i| f64::from(i) * 0.1).collect();
    let a = data(&t, &t.iter().map(|t| t.sin()).collect::<Vec<_>>());
    let b = Lazy::data(
        Series::new(&a.series().times, t.iter().map(|t| t % 7.0).collect()),
        0.1,
        0.3,
    );
    let made = |a: &Lazy, b: &Lazy| {
        let ratio = a
            .both(b, Shape::Any, |a, b| a / b)
            .each(Shape::Any, |v| v * 3.0);
        ratio.both(
            &a.each(Shape::TurnsAt(0.0), f64::abs),
            Shape::OneWay,
            |x, y| f64::from(x > y),
        )
    };
    // 0 % 7 divides by zero: missing, and neither larger nor not.
    let whole = made(&a, &b).series();
    assert_eq!(
        whole.len(),
        5000 - (0..5000).filter(|i| t[*i] % 7.0 == 0.0).count()
    );
    let apart = data(&t, &b.series().values);
    assert_eq!(whole, made(&a, &apart).series());
    let spans = Spans::new(vec![
        Span {
            from_s: 3.0,
            to_s: 250.0,
        },
        Span {
            from_s: 400.0,
            to_s: 401.0,
        },
    ]);
    assert_eq!(made(&a, &b).during(&spans).series(), cut(&whole, &spans));
}

#[test]
fn an_expression_that_doubles_itself_stays_small() {
    let mut sum = data(&[0.0, 1.0], &[1.0, 2.0]);
    for _ in 0..60 {
        sum = sum
            .both(&sum, Shape::Any, |a, b| a + b)
            .each(Shape::Any, |v| v / 2.0);
    }
    assert_eq!(&sum.series().values[..], &[1.0, 2.0]);
}

#[test]
fn what_is_no_number_is_left_out() {
    let a = data(&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]);
    let b = data(&[0.0, 1.0, 2.0], &[1.0, 0.0, 3.0]);
    assert_eq!(
        &a.both(&b, Shape::Any, |a, b| a / b).series().times[..],
        &[0.0, 2.0]
    );
}

#[test]
fn what_was_stopped_is_not_kept() {
    let flag = stop::Flag::default();
    let raised = flag.clone();
    let sum = data(&[0.0, 1.0], &[1.0, 2.0]).whole(move |s| {
        raised.raise();
        if stop::asked() {
            Series::empty()
        } else {
            s.clone()
        }
    });
    let stopped = stop::under(Some(flag), || sum.series());
    assert_eq!((stopped.len(), sum.at_hand().is_none()), (0, true));
    assert_eq!(&sum.series().values[..], &[1.0, 2.0]);
}

/// A wave with noise, long enough for several blocks.
fn wave(samples: usize) -> Lazy {
    let t: Vec<f64> = (0..samples).map(|i| i as f64 * 0.1).collect();
    let v: Vec<f64> = (0..samples)
        .map(|i| (i as f64 / 3000.0).sin() * 100.0 + ((i * 7919) % 13) as f64)
        .collect();
    data(&t, &v)
}

fn gathered(lazy: &Lazy) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    lazy.visit(&mut |t, v| {
        out.extend(t.iter().copied().zip(v.iter().copied()));
        true
    });
    out
}

fn before(lazy: &Lazy, per: Per) -> Lazy {
    let told = Neighbours::Before {
        per,
        believed_s: 0.3,
    };
    lazy.rolling(0.3 + 1e-6, told, move |s| {
        let pairs = s.times.windows(2).zip(s.values.windows(2));
        let made = pairs
            .map(|(t, v)| per.of(t[1] - t[0], v[0], v[1]))
            .collect();
        Series::new(&Ticks::of(&s.times).rest, made)
    })
}

#[test]
fn steps_that_are_told_beforehand_are_those_that_are_worked_out() {
    let wave = wave(20_000);
    for per in [Per::Reading, Per::Second, Per::Gain(1000.0)] {
        let step = before(&wave, per);
        let worked_out = step.series();
        let over = |lazy: &Lazy, line: f64| lazy.each(Shape::OneWay, move |v| f64::from(v > line));
        for line in [5.0, 12.5, 130.0, 1e6] {
            let told = gathered(&over(&before(&wave, per), line));
            let looked: Vec<(f64, f64)> = worked_out
                .times
                .iter()
                .zip(worked_out.values.iter())
                .map(|(t, v)| (*t, f64::from(*v > line)))
                .collect();
            assert_eq!(told, looked, "{per:?} over {line}");
        }
        // Beside the readings themselves, which have one sample more: whichever comes first.
        let less = |a: f64, b: f64| f64::from(a < b);
        let one = gathered(&before(&wave, per).both(&wave, Shape::OneWay, less));
        let other =
            gathered(&wave.both(&before(&wave, per), Shape::OneWay, |a, b| f64::from(b < a)));
        let readings = &wave.series().values[1..];
        let all = worked_out
            .times
            .iter()
            .zip(worked_out.values.iter().zip(readings));
        let looked: Vec<(f64, f64)> = all.map(|(t, (a, b))| (*t, less(*a, *b))).collect();
        assert_eq!(one, looked, "{per:?}");
        assert_eq!(other, looked, "{per:?}");
    }
}

#[test]
fn extremes_are_found_without_looking_everywhere() {
    let wave = wave(20_000);
    let cuts = Spans::new(vec![
        Span {
            from_s: 12.0,
            to_s: 250.0,
        },
        Span {
            from_s: 900.0,
            to_s: 1900.0,
        },
    ]);
    let median = wave.rolling(0.6 + 1e-6, Neighbours::Among, |s| {
        crate::dsl::rolling::median(s, 1.2, 0.3)
    });
    let folded = median.each(Shape::TurnsAt(0.0), f64::abs);
    for lazy in [&wave, &median, &folded, &before(&wave, Per::Reading)] {
        for part in [lazy.clone(), lazy.during(&cuts)] {
            let all: Vec<f64> = gathered(&part).iter().map(|p| p.1).collect();
            assert!(!all.is_empty());
            let most = all.iter().copied().reduce(f64::max);
            let least = all.iter().copied().reduce(f64::min);
            assert_eq!((part.extreme(true), part.extreme(false)), (most, least));
        }
    }
    let none = wave.during(&Spans::one(-5.0, -1.0));
    assert_eq!(none.extreme(true), None);
}

#[test]
fn a_function_of_a_part_is_the_part_of_it() {
    let wave = wave(9_000);
    let other = wave.each(Shape::OneWay, |v| v * 0.5);
    let cut = Spans::one(33.3, 555.5);
    let narrowed = wave.during(&cut).each(Shape::Any, |v| v + 1.0);
    assert_eq!(
        gathered(&narrowed),
        gathered(&wave.each(Shape::Any, |v| v + 1.0).during(&cut))
    );
    let sum = |a: f64, b: f64| a + b;
    let left = gathered(&wave.during(&cut).both(&other, Shape::Any, sum));
    assert_eq!(
        left,
        gathered(&wave.both(&other, Shape::Any, sum).during(&cut))
    );
    let times: usize = {
        let mut count = 0;
        narrowed.visit_times(&mut |t| {
            count += t.len();
            true
        });
        count
    };
    assert_eq!(times, left.len());
}

#[test]
fn what_several_ask_of_a_channel_is_worked_out_once() {
    use std::sync::atomic::{AtomicUsize, Ordering};
    let wave = wave(9_000);
    let worked = Arc::new(AtomicUsize::new(0));
    let ask = |seconds: f64| {
        let worked = Arc::clone(&worked);
        let kept = Kept::Rolled(crate::dsl::rolling::Window::Median, seconds);
        wave.keeping(kept, seconds, Neighbours::Any, move |s| {
            worked.fetch_add(1, Ordering::Relaxed);
            s.clone()
        })
    };
    assert_eq!(ask(1.0).series().len(), 9_000);
    assert_eq!(ask(1.0).series().len(), 9_000);
    assert_eq!(worked.load(Ordering::Relaxed), 1);
    ask(2.0).series();
    assert_eq!(worked.load(Ordering::Relaxed), 2);
    // A part is no whole.
    let part = ask(3.0).during(&Spans::one(10.0, 12.0)).series();
    assert!(part.len() < 30);
    assert_eq!(ask(3.0).series().len(), 9_000);
}

/// Each step uses the one before twice: gone through again and again, sixty of them would never end.
#[test]
fn who_was_stopped_goes_through_nothing_again() {
    let mut twice = wave(9_000);
    for _ in 0..60 {
        let other = twice.each(Shape::OneWay, |v| v * 0.5);
        twice = twice.both(&other, Shape::OneWay, |a, b| a + b);
    }
    let flag = stop::Flag::default();
    flag.raise();
    stop::under(Some(flag), || {
        assert!(twice.series().is_empty());
        assert_eq!(twice.extreme(true), None);
        assert_eq!(gathered(&twice), []);
        twice.visit_times(&mut |t| t.is_empty());
    });
    // Not stopped, it is worked out as any.
    assert_eq!(twice.series().len(), 9_000);
}
