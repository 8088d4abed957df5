//! Arithmetic and comparison between numbers, quantities and columns, with their units.

use rhai::{Dynamic, Engine, EvalAltResult, Position};

use super::column::{Column, Quantity, Truth};
use super::family::Family;
use super::lazy::Shape;
use crate::units::Unit;

/// What a native function of the language gives back.
pub type Outcome<T> = Result<T, Box<EvalAltResult>>;

/// An error for the person who wrote the script; the engine adds line and column.
pub fn complain<T>(what: impl Into<String>) -> Outcome<T> {
    Err(Box::new(EvalAltResult::ErrorRuntime(
        what.into().into(),
        Position::NONE,
    )))
}

/// One side of an operation.
#[derive(Clone)]
enum Side {
    Column(Column),
    Quantity(Quantity),
}

/// A type that may stand on one side.
trait Operand: Clone + Send + Sync + 'static {
    fn side(self) -> Side;
}
impl Operand for Column {
    fn side(self) -> Side {
        Side::Column(self)
    }
}
impl Operand for Quantity {
    fn side(self) -> Side {
        Side::Quantity(self)
    }
}
impl Operand for f64 {
    fn side(self) -> Side {
        Side::Quantity(Quantity {
            value: self,
            unit: Unit::NONE,
        })
    }
}
impl Operand for i64 {
    fn side(self) -> Side {
        // Scripts hold small whole numbers; above 2^53 a float would round, which no limit or count reaches.
        Side::Quantity(Quantity {
            value: self as f64,
            unit: Unit::NONE,
        })
    }
}

impl Side {
    fn unit(&self) -> Unit {
        match self {
            Side::Column(c) => c.unit,
            Side::Quantity(q) => q.unit,
        }
    }
    /// A bare zero fits every unit: `slope > 0` is never a slip.
    fn is_bare_zero(&self) -> bool {
        matches!(self, Side::Quantity(q) if q.value == 0.0 && q.unit.is_none())
    }
    fn describe(&self) -> String {
        let unit = self.unit();
        let unit = if unit.is_none() {
            "a bare number".to_string()
        } else {
            unit.key()
        };
        match self {
            Side::Column(c) => format!("{} ({unit})", c.name),
            Side::Quantity(q) if q.unit.is_none() => format!("{} (a bare number)", q.value),
            Side::Quantity(q) => format!("{} {unit}", q.value),
        }
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Op {
    Add,
    Sub,
    Mul,
    Div,
    Less,
    LessEq,
    More,
    MoreEq,
    Equal,
    Unequal,
}

const OPS: [(Op, &str); 10] = [
    (Op::Add, "+"),
    (Op::Sub, "-"),
    (Op::Mul, "*"),
    (Op::Div, "/"),
    (Op::Less, "<"),
    (Op::LessEq, "<="),
    (Op::More, ">"),
    (Op::MoreEq, ">="),
    (Op::Equal, "=="),
    (Op::Unequal, "!="),
];

/// Works out `$body` with `$f` as the function of an operation: written out for each, so that the loops inside are
/// compiled for it.
macro_rules! with_work {
    ($op:expr, $f:ident => $body:expr) => {
        match $op {
            Op::Add => with_work!(@ $f, |a, b| a + b, $body),
            Op::Sub => with_work!(@ $f, |a, b| a - b, $body),
            Op::Mul => with_work!(@ $f, |a, b| a * b, $body),
            Op::Div => with_work!(@ $f, |a, b| a / b, $body),
            Op::Less => with_work!(@ $f, |a, b| f64::from(a < b), $body),
            Op::LessEq => with_work!(@ $f, |a, b| f64::from(a <= b), $body),
            Op::More => with_work!(@ $f, |a, b| f64::from(a > b), $body),
            Op::MoreEq => with_work!(@ $f, |a, b| f64::from(a >= b), $body),
            Op::Equal => with_work!(@ $f, |a, b| f64::from(a == b), $body),
            Op::Unequal => with_work!(@ $f, |a, b| f64::from(a != b), $body),
        }
    };
    (@ $f:ident, |$a:ident, $b:ident| $work:expr, $body:expr) => {{
        let $f = |$a: f64, $b: f64| -> f64 { $work };
        $body
    }};
}

impl Op {
    fn compares(self) -> bool {
        !matches!(self, Op::Add | Op::Sub | Op::Mul | Op::Div)
    }
    /// Of this with a fixed value on the right.
    fn shape(self, right: f64) -> Shape {
        match self {
            Op::Div if right != 0.0 => Shape::OneWay,
            _ => self.shape_under(),
        }
    }
    /// Of this where what stands on the right changes: a quotient has a pole, and to be equal is no direction.
    fn shape_under(self) -> Shape {
        match self {
            Op::Div | Op::Equal | Op::Unequal => Shape::Any,
            _ => Shape::OneWay,
        }
    }
    /// Of two that change.
    fn shape_of_two(self) -> Shape {
        match self {
            Op::Div => Shape::Quotient,
            _ => self.shape_under(),
        }
    }
    fn name(self) -> &'static str {
        OPS.iter().find(|o| o.0 == self).map_or("?", |o| o.1)
    }
    fn unit(self, a: &Side, b: &Side) -> Option<Unit> {
        let (ua, ub) = (a.unit(), b.unit());
        match self {
            Op::Mul => Some(if ua.is_none() {
                ub.times(ua)
            } else {
                ua.times(ub)
            }),
            Op::Div => Some(ua.over(ub)),
            _ if a.is_bare_zero() => Some(ub),
            _ if b.is_bare_zero() => Some(ua),
            Op::Add => ua.plus(ub),
            Op::Sub => ua.minus(ub),
            _ => (ua == ub).then_some(Unit::NONE),
        }
    }
}

/// What would be right where two units do not fit.
fn hint(op: Op, a: &Side, b: &Side) -> String {
    let (ua, ub) = (a.unit(), b.unit());
    let bare = |side: &Side, unit: Unit| match side {
        // To a reading a difference is added.
        Side::Quantity(q) if matches!(op, Op::Add | Op::Sub) => {
            format!(
                "give the number a unit: quantity({}, \"{}\")",
                q.value,
                unit.difference().key()
            )
        }
        Side::Quantity(q) => format!(
            "give the number a unit: quantity({}, \"{}\")",
            q.value,
            unit.key()
        ),
        Side::Column(c) => format!(
            "{} has no unit: what it is held against wants none either",
            c.name
        ),
    };
    if ua.is_none() {
        return bare(a, ub);
    }
    if ub.is_none() {
        return bare(b, ua);
    }
    if ua.difference() != ub.difference() {
        let also = if matches!(op, Op::Add | Op::Sub) {
            ""
        } else {
            " to compare it"
        };
        return format!(
            "{} on both sides, or {} on both{also}; `*` and `/` work with any two",
            ua.key(),
            ub.key()
        );
    }
    // A temperature and a difference of temperatures.
    match op {
        Op::Add => format!("one of them a difference: {}", ua.difference().key()),
        Op::Sub => "the temperature in front, the difference behind it".to_string(),
        _ => format!(
            "{} on both sides, or {} on both; the difference of two temperatures is a difference",
            ua.key(),
            ub.key()
        ),
    }
}

fn combine(op: Op, a: Side, b: Side) -> Outcome<Dynamic> {
    let Some(unit) = op.unit(&a, &b) else {
        let hint = hint(op, &a, &b);
        return complain(format!(
            "cannot work out {} {} {}: the units do not fit\n{hint}",
            a.describe(),
            op.name(),
            b.describe()
        ));
    };
    let unit = if op.compares() { Unit::NONE } else { unit };
    let column = match (a, b) {
        (Side::Quantity(a), Side::Quantity(b)) => {
            let value = with_work!(op, work => work(a.value, b.value));
            if op.compares() {
                return Ok(Dynamic::from(value != 0.0));
            }
            if !value.is_finite() {
                return complain(format!(
                    "{} {} {} gives no number",
                    a.value,
                    op.name(),
                    b.value
                ));
            }
            return Ok(Dynamic::from(Quantity { value, unit }));
        }
        (Side::Column(c), Side::Quantity(q)) => {
            let q = q.value;
            c.with(
                with_work!(op, work => c.lazy.each(op.shape(q), move |v| work(v, q))),
                unit,
            )
        }
        (Side::Quantity(q), Side::Column(c)) => {
            let q = q.value;
            c.with(
                with_work!(op, work => c.lazy.each(op.shape_under(), move |v| work(q, v))),
                unit,
            )
        }
        (Side::Column(a), Side::Column(b)) => {
            let window = match (&a.window, &b.window) {
                (Some(x), Some(y)) => Some(x.and(y)),
                (x, y) => x.clone().or_else(|| y.clone()),
            };
            Column {
                window,
                ..a.with(
                    with_work!(op, work => a.lazy.both(&b.lazy, op.shape_of_two(), work)),
                    unit,
                )
            }
        }
    };
    if op.compares() {
        return Ok(Dynamic::from(Truth {
            lazy: column.lazy,
            window: column.window,
        }));
    }
    Ok(Dynamic::from(column))
}

fn register_pair<A: Operand, B: Operand>(engine: &mut Engine) {
    for (op, name) in OPS {
        engine.register_fn(name, move |a: A, b: B| combine(op, a.side(), b.side()));
    }
}

fn register_min_max<A: Operand, B: Operand>(engine: &mut Engine) {
    engine.register_fn("lesser", |a: A, b: B| pick(f64::min, a.side(), b.side()));
    engine.register_fn("greater", |a: A, b: B| pick(f64::max, a.side(), b.side()));
}

fn pick(
    work: impl Fn(f64, f64) -> f64 + Send + Sync + 'static,
    a: Side,
    b: Side,
) -> Outcome<Dynamic> {
    if a.unit() != b.unit() {
        return complain(format!(
            "cannot compare {} with {}: the units do not fit\n{}",
            a.describe(),
            b.describe(),
            hint(Op::Less, &a, &b)
        ));
    }
    let unit = a.unit();
    Ok(match (a, b) {
        (Side::Quantity(a), Side::Quantity(b)) => Dynamic::from(Quantity {
            value: work(a.value, b.value),
            unit,
        }),
        (Side::Column(c), Side::Quantity(q)) | (Side::Quantity(q), Side::Column(c)) => {
            Dynamic::from(c.with(c.lazy.each(Shape::OneWay, move |v| work(v, q.value)), unit))
        }
        (Side::Column(a), Side::Column(b)) => {
            Dynamic::from(a.with(a.lazy.both(&b.lazy, Shape::OneWay, work), unit))
        }
    })
}

/// An operator with a family on one side: unlike types would compare as unequal without a word.
fn register_family<A: Clone + Send + Sync + 'static, B: Clone + Send + Sync + 'static>(
    engine: &mut Engine,
) {
    for (_, name) in OPS {
        engine.register_fn(name, move |_: A, _: B| -> Outcome<Dynamic> {
            complain(format!(
                "`{name}` cannot work on a family: it is several columns side by side\none column of it: `.highest()`, `.lowest()`, `.median_across()`, or a member such as `run.egt_1`"
            ))
        });
    }
}

/// Registers the operators for every pairing of numbers, quantities and columns.
pub fn register(engine: &mut Engine) {
    register_pair::<Column, Column>(engine);
    register_pair::<Column, Quantity>(engine);
    register_pair::<Column, f64>(engine);
    register_pair::<Column, i64>(engine);
    register_pair::<Quantity, Column>(engine);
    register_pair::<f64, Column>(engine);
    register_pair::<i64, Column>(engine);
    register_pair::<Quantity, Quantity>(engine);
    register_pair::<Quantity, f64>(engine);
    register_pair::<Quantity, i64>(engine);
    register_pair::<f64, Quantity>(engine);
    register_pair::<i64, Quantity>(engine);
    register_family::<Family, Quantity>(engine);
    register_family::<Family, Column>(engine);
    register_family::<Family, Family>(engine);
    register_family::<Family, f64>(engine);
    register_family::<Family, i64>(engine);
    register_family::<Quantity, Family>(engine);
    register_family::<Column, Family>(engine);
    register_family::<f64, Family>(engine);
    register_family::<i64, Family>(engine);
    register_min_max::<Column, Column>(engine);
    register_min_max::<Column, Quantity>(engine);
    register_min_max::<Quantity, Column>(engine);
    register_min_max::<Quantity, Quantity>(engine);
    engine.register_fn("-", |q: Quantity| Quantity {
        value: -q.value,
        unit: q.unit.difference(),
    });
    engine.register_fn("-", |c: Column| {
        c.with(c.lazy.each(Shape::OneWay, |v| -v), c.unit.difference())
    });
    engine.register_fn("&", |a: Truth, b: Truth| {
        both(&a, &b, |a, b| f64::from(a != 0.0 && b != 0.0))
    });
    engine.register_fn("|", |a: Truth, b: Truth| {
        both(&a, &b, |a, b| f64::from(a != 0.0 || b != 0.0))
    });
    engine.register_fn("!", |a: Truth| Truth {
        lazy: a.lazy.each(Shape::OneWay, |v| f64::from(v == 0.0)),
        window: a.window.clone(),
    });
}

fn both(a: &Truth, b: &Truth, f: impl Fn(f64, f64) -> f64 + Send + Sync + 'static) -> Truth {
    let window = match (&a.window, &b.window) {
        (Some(x), Some(y)) => Some(x.and(y)),
        (x, y) => x.clone().or_else(|| y.clone()),
    };
    Truth {
        // A truth is 0 or 1, and between those all of these only rise or only fall.
        lazy: a.lazy.both(&b.lazy, Shape::OneWay, f),
        window,
    }
}
