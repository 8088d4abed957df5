//! `plugread convert`: logs as Parquet or Arrow files.

use std::path::{Path, PathBuf};

use super::args::{ConvertArgs, Target};
use super::progress::Progress;
use super::{End, Refusal, out, read_sheet};
use crate::columnar::{self, Form};
use crate::pipeline;

pub fn run(args: &ConvertArgs) -> Result<End, Refusal> {
    let form = match args.to {
        Target::Parquet => Form::Parquet,
        Target::Arrow => Form::Arrow,
    };
    let inputs = args.logs.iter().chain(&args.sheet);
    let inputs: Vec<&Path> = inputs.map(PathBuf::as_path).collect();
    if args.logs.len() > 1 && args.out.is_some() {
        return Err(Refusal(
            "--out names one file, and several logs are to be converted; leave it out, and each gets its own name"
                .to_string(),
        ));
    }
    let sheet = read_sheet(args.sheet.as_deref())?;
    let mut end = End::Quiet;
    let progress = Progress::begin();
    for (number, log) in args.logs.iter().enumerate() {
        progress.now("converting", log, number, args.logs.len());
        if let Err(Refusal(text)) = one(args, log, form, &inputs, &sheet) {
            out::complain(&text);
            end = End::Unread;
        }
    }
    Ok(end)
}

fn one(
    args: &ConvertArgs,
    path: &Path,
    form: Form,
    inputs: &[&Path],
    sheet: &crate::sheet::Sheet,
) -> Result<(), Refusal> {
    let target = match &args.out {
        Some(out) => out.clone(),
        None => beside_nothing(path, form)?,
    };
    out::spare_inputs(Some(&target), inputs)?;
    let log = pipeline::open(path, sheet)?;
    let forced = pipeline::forced(sheet);
    let made = columnar::convert(log.as_ref(), sheet, &forced, form, &target)?;
    let text = format!(
        "{}: {} rows and {} columns ({} under standard names), {}, from {}\n",
        target.display(),
        made.rows,
        made.columns,
        made.channels,
        size(made.bytes),
        path.display(),
    );
    out::write(None, text.as_bytes())
}

/// The log's name with the new ending, in the folder where the command is typed; a file that is there is not touched.
fn beside_nothing(log: &Path, form: Form) -> Result<PathBuf, Refusal> {
    let name = log.file_stem().unwrap_or_default();
    let mut name = PathBuf::from(name);
    name.as_mut_os_string().push(format!(".{}", form.ending()));
    if name.exists() {
        return Err(Refusal(format!(
            "{} is there already and is not touched; name the file to write with --out",
            name.display()
        )));
    }
    Ok(name)
}

fn size(bytes: u64) -> String {
    #[expect(clippy::cast_precision_loss, reason = "a size to read")]
    let bytes = bytes as f64;
    if bytes < 1e5 {
        format!("{:.1} kB", bytes / 1e3)
    } else {
        format!("{:.1} MB", bytes / 1e6)
    }
}
