//! Comms: a line between cells and what front ends build beside them.

use std::collections::BTreeMap;
use std::sync::PoisonError;

use rhai::plugin::*;
use rhai::{Array, FnPtr, Map};
use serde_json::Value;

use crate::notebook::outlet;

/// What goes to the other end.
#[derive(Clone, Debug, PartialEq)]
pub enum Talk {
    /// A comm begins here.
    Open(String, String, Value),
    /// Something is said on one.
    Message(String, Value),
    /// One ends here.
    Close(String, Value),
}

/// One comm.
#[derive(Clone, Debug)]
pub struct Comm {
    /// Its id.
    pub id: String,
    /// What it is about: both ends know the word.
    pub target: String,
}

/// All comms of a session.
#[derive(Clone, Debug, Default)]
pub struct Comms {
    /// Open ones: id and target.
    pub open: BTreeMap<String, String>,
    /// What hears of a target.
    pub targets: BTreeMap<String, FnPtr>,
    /// What hears of one comm.
    pub hears: BTreeMap<String, FnPtr>,
}

/// Works on the comms of the session whose cell runs.
fn with_comms<T: Default>(work: impl FnOnce(&mut Comms) -> T) -> T {
    outlet::store().map_or_else(T::default, |store| {
        work(&mut store.comms.lock().unwrap_or_else(PoisonError::into_inner))
    })
}

/// A value of the language as JSON; what JSON has no form for, as words.
pub fn to_json(value: &Dynamic) -> Value {
    if value.is_unit() {
        return Value::Null;
    }
    if let Ok(b) = value.as_bool() {
        return b.into();
    }
    if let Ok(i) = value.as_int() {
        return i.into();
    }
    if let Ok(f) = value.as_float() {
        return f.into();
    }
    if let Some(list) = value.read_lock::<Array>() {
        return list.iter().map(to_json).collect();
    }
    if let Some(map) = value.read_lock::<Map>() {
        let each = map.iter().map(|(k, v)| (k.to_string(), to_json(v)));
        return Value::Object(each.collect());
    }
    super::plain(value).into()
}

/// JSON as a value of the language.
pub fn from_json(value: &Value) -> Dynamic {
    match value {
        Value::Null => Dynamic::UNIT,
        Value::Bool(b) => (*b).into(),
        Value::Number(n) => n.as_i64().map_or_else(
            || n.as_f64().map_or(Dynamic::UNIT, Dynamic::from),
            Dynamic::from,
        ),
        Value::String(s) => s.clone().into(),
        Value::Array(list) => list.iter().map(from_json).collect::<Array>().into(),
        Value::Object(map) => {
            let each = map.iter().map(|(k, v)| (k.into(), from_json(v)));
            each.collect::<Map>().into()
        }
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{Comm, Talk, to_json, with_comms};
    use crate::notebook::kernel::unique;
    use crate::notebook::outlet;
    use crate::notebook::session::Output;
    use rhai::{Dynamic, FnPtr};

    /// Hears of comms that the front end opens under that word: the function is called with the comm and what was said,
    /// at its beginning and for each message: `on_comm("gauge", |comm, said| comm.send(said))`.
    pub fn on_comm(target: &str, hears: FnPtr) {
        with_comms(|comms| comms.targets.insert(target.to_string(), hears));
    }
    /// Opens a comm to the front end.
    pub fn open_comm(target: &str, data: Dynamic) -> Comm {
        let comm = Comm {
            id: unique(),
            target: target.to_string(),
        };
        with_comms(|comms| comms.open.insert(comm.id.clone(), comm.target.clone()));
        let (id, target) = (comm.id.clone(), comm.target.clone());
        outlet::send(Output::Comm(Talk::Open(id, target, to_json(&data))));
        comm
    }
    /// Calls the function with the comm and what was said, for each message on it.
    #[rhai_fn(pure)]
    pub fn on_message(comm: &mut Comm, hears: FnPtr) {
        with_comms(|comms| comms.hears.insert(comm.id.clone(), hears));
    }
    /// Says something on it.
    #[rhai_fn(pure)]
    pub fn send(comm: &mut Comm, data: Dynamic) {
        outlet::send(Output::Comm(Talk::Message(comm.id.clone(), to_json(&data))));
    }
    /// Ends it.
    #[rhai_fn(pure)]
    pub fn close(comm: &mut Comm) {
        with_comms(|comms| {
            comms.hears.remove(&comm.id);
            comms.open.remove(&comm.id)
        });
        let end = Talk::Close(comm.id.clone(), serde_json::json!({}));
        outlet::send(Output::Comm(end));
    }
    /// Its id.
    #[rhai_fn(get = "id", pure)]
    pub fn id(comm: &mut Comm) -> String {
        comm.id.clone()
    }
    /// The word that it was opened under.
    #[rhai_fn(get = "target", pure)]
    pub fn target(comm: &mut Comm) -> String {
        comm.target.clone()
    }
}
