//! JSON: the promised keys and plain values.

use serde_json::Value;

use super::samples::awkward;
use super::tests::in_order;
use super::*;
use crate::units::Reading;

fn keys(value: &Value) -> Vec<&str> {
    let mut list: Vec<&str> = value
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect();
    list.sort_unstable();
    list
}

fn sorted<'a>(list: &[&'a str]) -> Vec<&'a str> {
    let mut list = list.to_vec();
    list.sort_unstable();
    list
}

/// The key set of the design, section 7, at each level; the order of the top level too.
#[test]
fn json_has_exactly_the_promised_keys() {
    let json = render(&awkward(Reading::default()), Format::Json, &Look::default());
    assert_eq!(json.lines().count(), 1);
    let all: Value = serde_json::from_str(&json).expect("JSON");
    let top = [
        "schema",
        "verdict",
        "stop_now",
        "start_here",
        "log",
        "checks",
        "diagnosis",
        "open_questions",
        "cautions",
    ];
    assert_eq!(keys(&all), sorted(&top));
    in_order(
        &json,
        &top.map(|k| format!("\"{k}\":"))
            .each_ref()
            .map(String::as_str),
    );
    assert_eq!(all["schema"], 1);
    assert_eq!(keys(&all["stop_now"][0]), ["id", "text"]);
    assert_eq!(keys(&all["cautions"][0]), ["id", "text"]);
    let log = [
        "path",
        "rows",
        "duration_s",
        "sample_hz",
        "channels",
        "unmapped",
        "problems",
        "phases",
    ];
    assert_eq!(keys(&all["log"]), sorted(&log));
    assert_eq!(
        keys(&all["log"]["channels"][0]),
        ["column", "column_unit", "name", "unit"]
    );
    assert_eq!(keys(&all["log"]["problems"][0]), ["line", "what"]);
    assert_eq!(keys(&all["log"]["phases"][0]), ["from_s", "phase", "to_s"]);
    let check = [
        "id",
        "system",
        "title",
        "verdict",
        "not_run_kind",
        "builds_on",
        "doubtful_because",
        "unchecked",
        "reason",
        "cylinders",
        "spans",
        "numbers",
        "limits",
        "decided_by",
        "next_step",
        "cautions",
    ];
    let checks = all["checks"].as_array().expect("a list");
    assert_eq!(checks.len(), 13);
    for one in checks {
        assert_eq!(keys(one), sorted(&check));
        for span in one["spans"].as_array().expect("a list") {
            assert_eq!(keys(span), ["from_s", "to_s"]);
        }
        for number in one["numbers"].as_object().expect("an object").values() {
            assert_eq!(keys(number), ["unit", "value"]);
        }
        for limit in one["limits"].as_object().expect("an object").values() {
            assert_eq!(keys(limit), ["from", "unit", "value"]);
        }
    }
    let diagnosis = ["cause", "speaks_for", "speaks_against", "test", "from"];
    assert_eq!(keys(&all["diagnosis"][0]), sorted(&diagnosis));
}

#[test]
fn json_values_are_plain() {
    let look = Look {
        pretty: true,
        ..Look::default()
    };
    let review = awkward(Reading::default());
    let json = render(&review, Format::Json, &look);
    assert!(json.lines().count() > 50);
    let all: Value = serde_json::from_str(&json).expect("JSON");
    let find = |id: &str| {
        all["checks"]
            .as_array()
            .and_then(|l| l.iter().find(|c| c["id"] == id))
            .cloned()
            .expect(id)
    };
    let charge = find("charge-vs-speed");
    assert!(charge["numbers"]["fade"]["value"].is_null());
    assert_eq!(charge["numbers"]["sag"]["value"], 1.7);
    assert_eq!(charge["not_run_kind"], Value::Null);
    let spread = find("egt-spread");
    assert_eq!(
        spread["limits"]["spread"],
        serde_json::json!({"value": 80.0, "unit": "degC", "from": "a page | with a \"pipe\""})
    );
    assert_eq!(
        spread["spans"],
        serde_json::json!([{"from_s": 201.0, "to_s": 239.4}])
    );
    assert_eq!(spread["numbers"]["spread"]["value"], 212.04);
    assert_eq!(find("egt-probe")["not_run_kind"], "no-occasion");
    assert_eq!(all["log"]["channels"][1]["column_unit"], Value::Null);
    assert_eq!(
        (&all["verdict"], &all["start_here"]),
        (&"warn".into(), &"charge-vs-speed".into())
    );
}

/// What a float computed twice in different order leaves behind must not show.
#[test]
fn json_rounds_what_no_sensor_can_tell_apart() {
    let mut review = awkward(Reading::default());
    review.log.duration_s = 0.1 + 0.2;
    review.log.sample_hz = 99.999_999_7;
    let json = render(&review, Format::Json, &Look::default());
    assert!(
        json.contains("\"duration_s\":0.3,") && json.contains("\"sample_hz\":100.0,"),
        "{json}"
    );
    review.log.duration_s = f64::INFINITY;
    review.log.sample_hz = -1e-320;
    let json = render(&review, Format::Json, &Look::default());
    assert!(json.contains("\"duration_s\":null,"), "{json}");
}
