//! `plugread notebook`: a notebook's cells over logs, without a notebook program.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use super::args::NotebookArgs;
use super::logs::{logs_of, stem};
use super::progress::Progress;
use super::{End, Refusal, out, read_sheet};
use crate::checks::Catalog;
use crate::notebook::headless::{self, Fault, Notebook};
use crate::notebook::{Given, Options};
use crate::pipeline;
use crate::recording::Recording;
use crate::sheet::Sheet;

/// What is written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Notebook,
    Page,
}

impl Form {
    fn of(path: &Path) -> Result<Form, Refusal> {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
        match ending.to_lowercase().as_str() {
            "ipynb" => Ok(Form::Notebook),
            "html" | "htm" => Ok(Form::Page),
            _ => Err(Refusal(format!(
                "{} ends in neither .ipynb nor .html, so it does not say what to write",
                path.display()
            ))),
        }
    }
}

pub fn run(args: &NotebookArgs) -> Result<End, Refusal> {
    let form = args.out.as_deref().map_or(Ok(Form::Notebook), Form::of)?;
    let text = fs::read(&args.notebook).map_err(|e| {
        Refusal(format!(
            "{} could not be read: {e}",
            args.notebook.display()
        ))
    })?;
    let notebook = Notebook::parse(&String::from_utf8_lossy(&text))
        .map_err(|e| Refusal(format!("{}: {e}", args.notebook.display())))?;
    let sheet = read_sheet(args.sheet.as_deref())?;
    pipeline::accept_sheet(&sheet, &Catalog::load(args.scripts.as_deref())?)?;

    let mut end = End::Quiet;
    let mut logs = Vec::new();
    for named in &args.logs {
        match logs_of(named) {
            Ok(found) => logs.extend(found),
            Err(Refusal(text)) => {
                out::complain(&text);
                end = End::Unread;
            }
        }
    }
    let several = args.logs.len() > 1 || logs.len() > 1 || args.logs.iter().any(|l| l.is_dir());
    let mut taken = BTreeSet::new();
    let progress = Progress::begin();
    for (number, log) in logs.iter().enumerate() {
        progress.now("running over", log, number, logs.len());
        let target = target(args, log, several, &mut taken);
        let one = One {
            args,
            sheet: &sheet,
            form,
            log,
            target: &target,
        };
        let ended = one.run(notebook.clone()).unwrap_or_else(|Refusal(text)| {
            out::complain(&text);
            End::Unread
        });
        end = end.max(ended);
    }
    Ok(end)
}

/// Where the outputs of a log go.
fn target(
    args: &NotebookArgs,
    log: &Path,
    several: bool,
    taken: &mut BTreeSet<PathBuf>,
) -> PathBuf {
    let name = match &args.out {
        Some(out) if !several => return out.clone(),
        Some(out) => out.clone(),
        // In the folder where the command is typed.
        None => {
            PathBuf::from(args.notebook.file_name().unwrap_or_default()).with_extension("ipynb")
        }
    };
    let (front, ending) = (
        name.file_stem().unwrap_or_default().to_string_lossy(),
        name.extension().unwrap_or_default().to_string_lossy(),
    );
    // Two logs of one name: the whole file name tells them apart, or else a number.
    let whole = log.file_name().unwrap_or_default().to_string_lossy();
    let names = [stem(log), whole.to_string()].into_iter();
    let mut names = names.chain((2..).map(|n| format!("{whole}-{n}")));
    loop {
        let log = names.next().unwrap_or_default();
        let path = name.with_file_name(format!("{front}-{log}.{ending}"));
        if taken.insert(path.clone()) {
            return path;
        }
    }
}

/// One log.
struct One<'a> {
    args: &'a NotebookArgs,
    sheet: &'a Sheet,
    form: Form,
    log: &'a Path,
    target: &'a Path,
}

impl One<'_> {
    fn run(&self, mut notebook: Notebook) -> Result<End, Refusal> {
        let args = self.args;
        if args.out.is_none() && self.target.exists() {
            return Err(Refusal(format!(
                "{} is there already and is not touched; name the file to write with --out",
                self.target.display()
            )));
        }
        let mut inputs: Vec<&Path> = args.sheet.iter().map(PathBuf::as_path).collect();
        inputs.push(self.log);
        if self.form == Form::Page {
            inputs.push(&args.notebook);
        }
        out::spare_inputs(Some(self.target), &inputs)?;
        // A file that is no log is told of as that, and not as the fault of a cell.
        pipeline::open(self.log, self.sheet)?;
        let options = Options {
            given: Some(Given {
                log: self.log.to_path_buf(),
                sheet: args.sheet.clone(),
            }),
            scripts: args.scripts.clone(),
            ..Options::default()
        };
        let faults = headless::run(&mut notebook, options, args.go_on);
        if !faults.is_empty() {
            Recording::read(
                pipeline::open(self.log, self.sheet)?.as_ref(),
                self.sheet,
                |_| true,
            )?;
        }
        out::write(Some(self.target), self.written(&notebook).as_bytes())?;
        self.tell(&notebook, &faults)
    }

    fn written(&self, notebook: &Notebook) -> String {
        if self.form == Form::Notebook {
            return notebook.text();
        }
        let short = |path: &Path| {
            let name = path.file_name().unwrap_or_default();
            name.to_string_lossy().into_owned()
        };
        let name = short(&self.args.notebook);
        let with = self.args.sheet.as_deref();
        let with = with.map_or_else(|| "no build sheet".to_string(), short);
        let over = format!(
            "{name}, run over {} with {with} by plugread {}.",
            short(self.log),
            env!("CARGO_PKG_VERSION")
        );
        headless::markup(notebook, &name, &over)
    }

    /// The summary line, and on the side each cell that failed.
    fn tell(&self, notebook: &Notebook, faults: &[Fault]) -> Result<End, Refusal> {
        let count = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
        let ran = (0..notebook.cells().len())
            .filter(|i| notebook.count(*i).is_some())
            .count();
        let mut line = format!(
            "{}: {} ran over {}",
            self.target.display(),
            count(ran, "cell"),
            self.log.display()
        );
        match faults {
            [] => {}
            [one] => line.push_str(&format!(", cell {} (id `{}`) failed", one.number, one.id)),
            several => line.push_str(&format!(", {} failed", count(several.len(), "cell"))),
        }
        if !faults.is_empty() && !self.args.go_on {
            line.push_str("; it stopped there (--go-on runs the rest)");
        }
        for fault in faults {
            out::complain(&fault.lines().join("\n"));
        }
        out::write(None, format!("{line}\n").as_bytes())?;
        Ok(if faults.is_empty() {
            End::Quiet
        } else {
            End::Warned
        })
    }
}
