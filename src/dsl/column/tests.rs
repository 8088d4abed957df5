use super::*;

fn column(dt: f64, values: &[f64]) -> Column {
    let times: Arc<[f64]> = (0..values.len())
        .map(|i| i as f64 * dt)
        .collect::<Vec<_>>()
        .into();
    Column::made(
        "x",
        Series::new(&times, values.to_vec()),
        Unit::NONE,
        dt,
        3.0 * dt,
    )
}
fn over(column: &Column, limit: f64) -> Truth {
    Truth {
        lazy: column
            .lazy
            .each(Shape::OneWay, move |v| f64::from(v > limit)),
        window: column.window.clone(),
    }
}

#[test]
fn one_bad_sample_never_warns_and_one_good_one_never_hides() {
    let mut values = vec![0.0; 100];
    values[10] = 9.0;
    assert!(over(&column(0.1, &values), 5.0).lasting(0.5).is_empty());
    for v in &mut values[40..80] {
        *v = 9.0;
    }
    values[60] = 0.0;
    let spans = over(&column(0.1, &values), 5.0).lasting(2.5);
    assert_eq!(spans.list().len(), 1);
    assert!(
        (spans.list()[0].from_s - 4.0).abs() < 1e-9 && (spans.list()[0].to_s - 8.0).abs() < 1e-9
    );
}

#[test]
fn a_hold_asks_for_three_updates_of_a_slow_channel() {
    let values = [0.0, 9.0, 9.0, 0.0, 0.0, 9.0, 9.0, 9.0, 9.0];
    // 2 s an update: 1 s of hold would be one reading.
    let spans = over(&column(2.0, &values), 5.0).lasting(1.0);
    assert!(spans.list().iter().all(|s| s.from_s >= 10.0), "{spans:?}");
}

#[test]
fn holds_do_not_reach_over_gaps() {
    let times: Arc<[f64]> = vec![0.0, 0.1, 0.2, 5.0, 5.1, 5.2].into();
    let c = Column::made("x", Series::new(&times, vec![9.0; 6]), Unit::NONE, 0.1, 0.3);
    assert!(over(&c, 5.0).lasting(1.0).is_empty());
}

#[test]
fn counters_wrap_and_reset() {
    let gained: f64 = column(1.0, &[250.0, 254.0, 1.0, 3.0])
        .increase()
        .series()
        .values
        .iter()
        .sum();
    assert_eq!(gained, 4.0 + 3.0 + 2.0);
    let gained: f64 = column(1.0, &[300.0, 310.0, 0.0, 2.0])
        .increase()
        .series()
        .values
        .iter()
        .sum();
    assert_eq!(gained, 12.0);
}

#[test]
fn rolling_medians_pass_a_step_and_drop_a_spike() {
    let mut values = vec![7000.0; 40];
    values[20..].fill(5000.0);
    values[10] = 3000.0;
    let smooth = column(0.02, &values).rolling(0.3, Window::Median).series();
    assert_eq!(
        (smooth.values[10], smooth.values[19], smooth.values[20]),
        (7000.0, 7000.0, 5000.0)
    );
}

#[test]
fn blocks_are_medians_at_their_middle() {
    let b = column(0.1, &(0..100).map(f64::from).collect::<Vec<_>>())
        .blocks(5.0)
        .series();
    assert_eq!(b.len(), 2);
    assert!((b.times[0] - 2.45).abs() < 1e-9 && (b.values[0] - 24.5).abs() < 1e-9);
}
