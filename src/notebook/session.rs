//! A session: cells in, outputs out. It knows no sockets.
//!
//! Each cell runs on a thread of its own, while this one hands on what it shows, watches its memory and listens for a
//! request to stop. A cell that is stopped leaves every name as it was before, so one that does not heed the request
//! can be left behind: nothing of it is kept.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::sync::{Arc, LazyLock, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use rhai::{AST, Dynamic, Engine, EvalAltResult, Scope};

use super::bounds::{Allowance, held};
use super::bundle::Bundle;
pub use super::errors::CellError;
use super::functions::{Cell, Functions};
use super::outlet::{self, Sent};
use super::scan::Scan;
use super::words;
use crate::checks::Catalog;
use crate::dsl::reference::{self, Word};
use crate::stop::{self, Flag};
use crate::units::Reading;

/// What a cell shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Plain words.
    Printed(String),
    /// Plain words beside them, for what the person should not miss.
    Warned(String),
    /// Something in several forms. One with an id can be replaced later.
    Shown {
        /// The forms.
        bundle: Bundle,
        /// Its id.
        id: Option<String>,
        /// True where it replaces what was shown under that id.
        again: bool,
    },
    /// What the cell showed so far goes away: at once, or when something new comes.
    Cleared {
        /// Only when something new comes.
        wait: bool,
    },
    /// Something to read beside the notebook.
    Page(Bundle),
    /// The text of a new cell.
    NextCell(String),
    /// To the other end of a comm.
    Comm(words::Talk),
}

/// Who shows what a cell sends, and asks the person.
pub trait Front {
    /// Shows it.
    fn show(&mut self, output: Output);
    /// Asks the person, and looks now and then whether to give up. None where nobody can be asked, or nobody answered.
    fn ask(&mut self, prompt: &str, secret: bool, give_up: &dyn Fn() -> bool) -> Option<String>;
}

/// A log that takes the place of whatever the cells open.
#[derive(Clone, Debug)]
pub struct Given {
    /// The log.
    pub log: PathBuf,
    /// Its build sheet.
    pub sheet: Option<PathBuf>,
}

/// How a session is set up.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What a cell may spend.
    pub allowance: Allowance,
    /// A log that takes the place of whatever the cells open.
    pub given: Option<Given>,
    /// A folder of checks of the person's own.
    pub scripts: Option<PathBuf>,
}

/// What the words of the language share with the session.
pub struct Store {
    /// A log that takes the place of whatever the cells open.
    pub given: Option<Given>,
    /// Functions of the cells so far.
    pub functions: Mutex<Functions>,
    /// Comms that are open.
    pub comms: Mutex<words::Comms>,
    /// Files that checks were loaded from or saved to, by id.
    pub homes: Mutex<BTreeMap<String, PathBuf>>,
    /// The runs that cells opened, last of them first: for help, and for the units that figures are shown in.
    pub opened: Mutex<Opened>,
    scripts: Option<PathBuf>,
    catalog: OnceLock<Result<Catalog, String>>,
    /// Every word of the language.
    pub words: LazyLock<Vec<Word>, Box<dyn FnOnce() -> Vec<Word> + Send>>,
}

impl Store {
    /// The checks, read when first asked for.
    ///
    /// # Errors
    /// The folder of the person's own checks cannot be read.
    pub fn catalog(&self) -> Result<&Catalog, String> {
        let load = || Catalog::load(self.scripts.as_deref()).map_err(|e| e.to_string());
        self.catalog
            .get_or_init(load)
            .as_ref()
            .map_err(Clone::clone)
    }
    /// What is known of the log that was opened last.
    pub fn opened(&self) -> Opened {
        let opened = self.opened.lock();
        opened.unwrap_or_else(PoisonError::into_inner).clone()
    }
    /// The functions of the cells so far.
    pub fn functions(&self) -> Functions {
        let functions = self.functions.lock();
        functions.unwrap_or_else(PoisonError::into_inner).clone()
    }
}

/// What is known of the log that was opened last.
#[derive(Clone, Debug, Default)]
pub struct Opened {
    /// Its channels: name, unit, and heading in the log.
    pub channels: Vec<(String, String, String)>,
    /// From where to where it goes, s.
    pub from_to: Option<(f64, f64)>,
    /// The units that its sheet wants figures shown in.
    pub reading: Reading,
}

/// Asks the cell that runs, if one does, to stop. Can be handed to other threads.
#[derive(Clone, Default)]
pub struct Interrupter(Arc<Mutex<Option<Flag>>>);

impl Interrupter {
    /// Asks.
    pub fn interrupt(&self) {
        let running = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        running.iter().for_each(Flag::raise);
    }
    fn set(&self, flag: Option<Flag>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = flag;
    }
}

/// Cells that know of each other.
pub struct Session {
    engine: Arc<Engine>,
    store: Arc<Store>,
    scope: Scope<'static>,
    library: AST,
    allowance: Allowance,
    interrupter: Interrupter,
}

/// How long a cell that is asked to stop may take to do so before it is left behind.
const PATIENCE: Duration = Duration::from_millis(80);
/// How often a running cell is looked after.
const TICK: Duration = Duration::from_millis(10);
/// Printed words are handed on together for so long.
const GATHER: Duration = Duration::from_millis(30);
/// Room for the calls of a cell.
const STACK: usize = 256 << 20;

/// What is to be done on the cell's thread.
enum Task {
    /// Run a text; show its last value where `show` is true.
    Run { show: bool },
    /// Call a function that was kept.
    Call(rhai::FnPtr, Vec<Dynamic>),
}

/// What came of it.
struct Done {
    scope: Scope<'static>,
    ast: Option<AST>,
    outcome: Result<Option<Bundle>, Box<EvalAltResult>>,
}

impl Session {
    /// With the language of the checks, and what cells have beside it.
    pub fn new(options: Options) -> Session {
        let mut engine = options.allowance.engine();
        words::register(&mut engine);
        let engine = Arc::new(engine);
        let of = Arc::clone(&engine);
        Session {
            engine,
            store: Arc::new(Store {
                given: options.given,
                functions: Mutex::default(),
                comms: Mutex::default(),
                homes: Mutex::default(),
                opened: Mutex::default(),
                scripts: options.scripts,
                catalog: OnceLock::new(),
                words: LazyLock::new(Box::new(move || reference::words(&of))),
            }),
            scope: Scope::new(),
            library: AST::empty(),
            allowance: options.allowance,
            interrupter: Interrupter::default(),
        }
    }
    /// Stops cells from other threads.
    pub fn interrupter(&self) -> Interrupter {
        self.interrupter.clone()
    }
    /// The engine: for help.
    pub fn engine(&self) -> &Engine {
        &self.engine
    }
    /// The names so far and what they hold: for help.
    pub fn scope(&self) -> &Scope<'static> {
        &self.scope
    }
    /// Every word of the language: for help.
    pub fn words(&self) -> &[Word] {
        &self.store.words
    }
    /// What words and session share: for help.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Runs a cell. `name` is how errors call it, e.g. `cell [3]`. Gives back its last value, to be shown, unless a
    /// semicolon ends the cell.
    ///
    /// # Errors
    /// The cell failed, or was stopped. What it did before it failed stays done; one that was stopped did nothing.
    pub fn run(
        &mut self,
        name: &str,
        code: &str,
        front: &mut dyn Front,
    ) -> Result<Option<Bundle>, CellError> {
        let cell = Cell {
            name: name.to_string(),
            text: code.into(),
        };
        let show = !Scan::new(code).is_quiet();
        self.work(&cell, Task::Run { show }, front)
    }

    /// Calls a function that a cell left with a comm, for what was said on it.
    ///
    /// # Errors
    /// As [`Session::run`].
    pub fn hear(
        &mut self,
        hears: rhai::FnPtr,
        comm: words::Comm,
        said: Dynamic,
        front: &mut dyn Front,
    ) -> Result<(), CellError> {
        let cell = Cell {
            name: "what a comm calls".to_string(),
            text: "".into(),
        };
        let args = vec![Dynamic::from(comm), said];
        self.work(&cell, Task::Call(hears, args), front).map(|_| ())
    }

    fn work(
        &mut self,
        cell: &Cell,
        task: Task,
        front: &mut dyn Front,
    ) -> Result<Option<Bundle>, CellError> {
        let flag = Flag::default();
        self.interrupter.set(Some(flag.clone()));
        let before = self.scope.clone();
        let scope = std::mem::take(&mut self.scope);
        let outcome = self
            .start(scope, cell, task, &flag)
            .and_then(|(sent, done)| {
                Watch::new(&self.allowance, &flag, front).until_done(&sent, &done)
            });
        self.interrupter.set(None);
        let done = match outcome {
            Ok(done) => done,
            Err(error) => {
                self.scope = before;
                return Err(error);
            }
        };
        self.scope = settled(&done.scope);
        let mut functions = self.store.functions();
        if let Some(ast) = &done.ast {
            let names = ast.iter_functions().map(|f| f.name.to_string());
            functions.add(cell, names);
            self.library = self.library.merge(ast).clone_functions_only();
            if let Ok(mut kept) = self.store.functions.lock() {
                kept.clone_from(&functions);
            }
        }
        done.outcome.map_err(|error| {
            let error = CellError::of(&error, cell, &functions);
            super::help::helped(self, error)
        })
    }

    /// Sets the cell's thread to work.
    fn start(
        &self,
        mut scope: Scope<'static>,
        cell: &Cell,
        task: Task,
        flag: &Flag,
    ) -> Result<(Receiver<Sent>, Receiver<Done>), CellError> {
        let (way, sent) = sync_channel(256);
        let (end, done) = sync_channel(1);
        let (engine, library) = (Arc::clone(&self.engine), self.library.clone());
        let (store, flag, text) = (
            Arc::clone(&self.store),
            flag.clone(),
            Arc::clone(&cell.text),
        );
        let work = move || {
            let ran = catch_unwind(AssertUnwindSafe(|| {
                stop::under(Some(flag), || {
                    outlet::through(way, store, || {
                        perform(&engine, &library, &mut scope, &text, task)
                    })
                })
            }));
            if let Ok((ast, outcome)) = ran {
                // Nobody listens any more where the cell was left behind.
                let _ = end.send(Done {
                    scope,
                    ast,
                    outcome,
                });
            }
        };
        let thread = std::thread::Builder::new().name("cell".to_string());
        let started = thread.stack_size(STACK).spawn(work);
        let failed =
            |e| CellError::general("TooMuch", format!("the cell could not be started: {e}"));
        started.map(|_| (sent, done)).map_err(failed)
    }
}

/// Runs on the cell's thread.
fn perform(
    engine: &Engine,
    library: &AST,
    scope: &mut Scope<'static>,
    text: &str,
    task: Task,
) -> (Option<AST>, Result<Option<Bundle>, Box<EvalAltResult>>) {
    match task {
        Task::Call(function, args) => {
            let called = function.call::<Dynamic>(engine, library, args);
            (None, called.map(|_| None))
        }
        Task::Run { show } => {
            let ast = match engine.compile_with_scope(scope, text) {
                Ok(ast) => ast,
                Err(error) => return (None, Err(error.into())),
            };
            let whole = library.clone_functions_only().merge(&ast);
            let value = engine.eval_ast_with_scope::<Dynamic>(scope, &whole);
            let shown = value.map(|value| {
                let shows = show && !value.is_unit();
                shows.then(|| super::display::bundle(&value))
            });
            // A request that came while the value was drawn: nothing of it may be kept.
            let shown = shown.and_then(|shown| {
                if stop::asked() {
                    Err(asked())
                } else {
                    Ok(shown)
                }
            });
            (Some(ast), shown)
        }
    }
}

fn asked() -> Box<EvalAltResult> {
    EvalAltResult::ErrorTerminated(Dynamic::UNIT, rhai::Position::NONE).into()
}

/// Each name once, with what it holds now: a name that is given anew would else keep what it held before as well.
fn settled(scope: &Scope<'static>) -> Scope<'static> {
    let mut out = Scope::new();
    let mut seen = std::collections::BTreeSet::new();
    for (name, constant, _) in scope.iter_raw() {
        if !seen.insert(name) {
            continue;
        }
        if let Some(value) = scope.get(name) {
            if constant {
                out.push_constant_dynamic(name.to_string(), value.clone());
            } else {
                out.push_dynamic(name.to_string(), value.clone());
            }
        }
    }
    out
}

/// Looks after a running cell.
struct Watch<'a> {
    flag: &'a Flag,
    front: &'a mut dyn Front,
    /// Bytes of this process over which the cell is stopped.
    ceiling: Option<u64>,
    too_much: Option<&'static str>,
    printed: usize,
    may_print: usize,
    /// Words that wait to be handed on, and since when.
    gathered: Vec<Output>,
    since: Instant,
}

impl<'a> Watch<'a> {
    fn new(allowance: &Allowance, flag: &'a Flag, front: &'a mut dyn Front) -> Watch<'a> {
        let ceiling = allowance.memory().zip(held()).map(|(more, now)| now + more);
        Watch {
            flag,
            front,
            ceiling,
            too_much: None,
            printed: 0,
            may_print: allowance.printed,
            gathered: Vec::new(),
            since: Instant::now(),
        }
    }

    fn until_done(
        &mut self,
        sent: &Receiver<Sent>,
        done: &Receiver<Done>,
    ) -> Result<Done, CellError> {
        let mut asked: Option<Instant> = None;
        let mut looked = Instant::now();
        loop {
            match sent.recv_timeout(TICK) {
                Ok(Sent::Output(output)) => self.take(output),
                Ok(Sent::Ask {
                    prompt,
                    secret,
                    answer,
                }) => {
                    self.hand_on();
                    let flag = self.flag;
                    let said = self.front.ask(&prompt, secret, &|| flag.raised());
                    let _ = answer.send(said);
                }
                Err(RecvTimeoutError::Timeout) => {}
                // The thread's way out is gone: it is done, or has failed.
                Err(RecvTimeoutError::Disconnected) => {
                    self.hand_on();
                    let end = done.recv();
                    return match end {
                        Ok(_) if self.flag.raised() => Err(self.stopped()),
                        Ok(end) => Ok(end),
                        Err(_) => Err(CellError::general(
                            "Ours",
                            "plugread itself failed here: please report this with the cell",
                        )),
                    };
                }
            }
            if self.since.elapsed() > GATHER {
                self.hand_on();
            }
            if looked.elapsed() > 2 * TICK {
                looked = Instant::now();
                self.look_at_memory();
            }
            if self.flag.raised() && asked.get_or_insert_with(Instant::now).elapsed() > PATIENCE {
                return Err(self.stopped());
            }
        }
    }

    fn stopped(&self) -> CellError {
        match self.too_much {
            Some(what) => {
                let mut error = CellError::general("TooMuch", what);
                error.help = CellError::stopped().help;
                error
            }
            None => CellError::stopped(),
        }
    }

    fn look_at_memory(&mut self) {
        if self
            .ceiling
            .zip(held())
            .is_some_and(|(most, now)| now > most)
        {
            self.stop_for("the cell takes more memory than there is for it, and was stopped");
        }
    }

    fn stop_for(&mut self, what: &'static str) {
        if !self.flag.raised() {
            self.too_much = Some(what);
            self.flag.raise();
        }
    }

    /// Words go together where they follow each other; all else goes at once, after them.
    fn take(&mut self, output: Output) {
        if let Output::Printed(more) | Output::Warned(more) = &output {
            self.printed += more.len();
            if self.printed > self.may_print {
                self.stop_for("the cell prints without an end, and was stopped");
                return;
            }
        }
        match (&output, self.gathered.last_mut()) {
            (Output::Printed(more), Some(Output::Printed(words)))
            | (Output::Warned(more), Some(Output::Warned(words))) => words.push_str(more),
            (Output::Printed(_) | Output::Warned(_), _) => {
                if self.gathered.is_empty() {
                    self.since = Instant::now();
                }
                self.gathered.push(output);
            }
            _ => {
                self.hand_on();
                self.front.show(output);
            }
        }
    }

    fn hand_on(&mut self) {
        for words in self.gathered.drain(..) {
            self.front.show(words);
        }
    }
}
