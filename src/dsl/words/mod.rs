//! The words of the language, a package a file. Each `///` above a function is what `LANGUAGE.md`, help and
//! completion show.

mod causes;
mod columns;
mod families;
mod quantities;
mod runs;
mod spans;
mod tables;
mod trade;
mod truths;
mod verdicts;

use rhai::Engine;
use rhai::plugin::exported_module;

/// Registers every type and function.
pub fn register(engine: &mut Engine) {
    engine.register_type_with_name::<super::column::Quantity>("Quantity");
    engine.register_type_with_name::<super::column::Column>("Column");
    engine.register_type_with_name::<super::column::Truth>("Truth");
    engine.register_type_with_name::<crate::span::Spans>("Spans");
    engine.register_type_with_name::<super::family::Family>("Family");
    engine.register_type_with_name::<super::table::Table>("Table");
    engine.register_type_with_name::<super::run::Run>("Run");
    engine.register_type_with_name::<super::limits::Limits>("Limits");
    engine.register_type_with_name::<super::verdict::Verdict>("Verdict");
    engine.register_type_with_name::<super::explain::Reviewed>("Review");
    engine.register_type_with_name::<super::explain::Cause>("Cause");
    super::ops::register(engine);
    engine.register_global_module(exported_module!(quantities::words).into());
    engine.register_global_module(exported_module!(columns::words).into());
    engine.register_global_module(exported_module!(truths::words).into());
    engine.register_global_module(exported_module!(spans::words).into());
    engine.register_global_module(exported_module!(families::words).into());
    engine.register_global_module(exported_module!(tables::words).into());
    engine.register_global_module(exported_module!(runs::words).into());
    engine.register_global_module(exported_module!(verdicts::words).into());
    engine.register_global_module(exported_module!(causes::words).into());
    engine.register_global_module(exported_module!(trade::words).into());
}
