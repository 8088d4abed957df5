//! The engine in its box: no files, no network, no clock, no imports, bounded operations, memory, depth and time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use rhai::module_resolvers::DummyModuleResolver;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicIteratorPackage, BasicMapPackage, BasicMathPackage,
    BasicStringPackage, LanguageCorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Engine, OptimizationLevel};

use crate::stop;

/// What one script may spend.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Operations of the language; a native call counts as one.
    pub operations: u64,
    /// Depth of calls.
    pub depth: usize,
    /// Length of a string, bytes.
    pub text: usize,
    /// Length of a list.
    pub list: usize,
}

impl Default for Bounds {
    /// Hundreds of times what a built-in check spends.
    fn default() -> Bounds {
        Bounds {
            operations: 2_000_000,
            depth: 48,
            text: 200_000,
            list: 20_000,
        }
    }
}

/// After so many operations each, a script is asked whether it has had its time.
const LOOKS_AT_CLOCK: u64 = 16;

/// A flag that stops a running script at its next operation.
pub type StopFlag = Arc<AtomicBool>;

/// The engine with all words of the language.
pub fn engine(bounds: Bounds, flag: StopFlag) -> Engine {
    let mut engine = Engine::new_raw();
    LanguageCorePackage::new().register_into_engine(&mut engine);
    ArithmeticPackage::new().register_into_engine(&mut engine);
    LogicPackage::new().register_into_engine(&mut engine);
    BasicStringPackage::new().register_into_engine(&mut engine);
    MoreStringPackage::new().register_into_engine(&mut engine);
    BasicIteratorPackage::new().register_into_engine(&mut engine);
    BasicMathPackage::new().register_into_engine(&mut engine);
    BasicArrayPackage::new().register_into_engine(&mut engine);
    BasicMapPackage::new().register_into_engine(&mut engine);
    engine.set_module_resolver(DummyModuleResolver::new());
    // Looking for what could be worked out beforehand takes longer than it saves: the work of a check is in its columns.
    engine.set_optimization_level(OptimizationLevel::None);
    engine.disable_symbol("eval");
    engine.on_print(|_| {});
    engine.on_debug(|_, _, _| {});
    engine.set_max_operations(bounds.operations);
    engine.set_max_call_levels(bounds.depth);
    engine.set_max_expr_depths(96, 96);
    engine.set_max_string_size(bounds.text);
    engine.set_max_array_size(bounds.list);
    engine.set_max_map_size(2_000);
    engine.set_max_variables(500);
    engine.set_max_functions(200);
    engine.set_max_modules(0);
    engine.set_fail_on_invalid_map_property(true);
    engine.set_strict_variables(true);
    engine.on_progress(move |operations| {
        // Looking at the clock takes longer than most operations.
        let late = || operations % LOOKS_AT_CLOCK == 0 && stop::is_late();
        let stopped = flag.load(Ordering::Relaxed) || stop::asked() || late();
        stopped.then_some(rhai::Dynamic::from(
            "the script took too long and was stopped",
        ))
    });
    // The core package brings a sleep; a script that sleeps holds up the review without spending an operation.
    engine.register_fn("sleep", |_: i64| refuse_sleep());
    engine.register_fn("sleep", |_: f64| refuse_sleep());
    super::words::register(&mut engine);
    engine
}

fn refuse_sleep() -> super::Outcome<()> {
    super::complain("there is no sleep here")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dsl::ScriptError;
    use rhai::Scope;

    fn fails(script: &str) -> ScriptError {
        let e = engine(Bounds::default(), StopFlag::default());
        let ast = match e.compile_with_scope(&Scope::new(), script) {
            Ok(ast) => ast,
            Err(error) => return ScriptError::parse("t.rhai", &error, script),
        };
        let outcome = e.eval_ast::<rhai::Dynamic>(&ast);
        ScriptError::run("t.rhai", &outcome.expect_err(script))
    }

    #[test]
    fn slips_are_told_with_their_place() {
        let e = fails("let a = quantity(3, \"V\");\n  a + quantity(1, \"degC\")");
        assert_eq!((e.line, e.column), (2, 5), "{e}");
        assert!(e.what.contains("units do not fit"), "{e}");
        assert!(fails("let m = #{ a: 1 }; m.b").what.contains('b'));
        assert!(
            fails("quantity(3, \"V\").lasting(3)")
                .what
                .contains("there is no `lasting")
        );
        assert_eq!(fails("let x = ;").line, 1);
    }

    #[test]
    fn the_box_holds() {
        assert!(fails("loop { }").what.contains("share of steps"));
        assert!(
            fails("fn f(x) { f(x + 1) } f(0)")
                .what
                .to_lowercase()
                .contains("overflow")
        );
        let endless = fails("let s = \"ab\"; loop { s += s; }");
        assert!(endless.what.contains("a text grows"), "{endless}");
        let _ = fails("import \"x\" as y;");
        let _ = fails("eval(\"1\")");
        let _ = fails("let a = []; loop { a.push(1); }");
        assert!(fails("timestamp()").what.contains("timestamp"));
        assert!(fails("sleep(1)").what.contains("sleep"));
    }

    #[test]
    fn a_stop_flag_stops() {
        let flag = StopFlag::default();
        let e = engine(
            Bounds {
                operations: 0,
                ..Bounds::default()
            },
            flag.clone(),
        );
        flag.store(true, Ordering::Relaxed);
        let error = e.run("loop { }").expect_err("stopped");
        assert!(ScriptError::run("t", &error).what.contains("too long"));
    }
}
