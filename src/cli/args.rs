//! What can be typed.

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};

/// Reads an engine's CSV log after a run and says what to look at first.
#[derive(Parser, Debug)]
#[command(name = "plugread", version, about, max_term_width = 100)]
pub struct Args {
    #[command(subcommand)]
    pub verb: Verb,
}

#[derive(Subcommand, Debug)]
pub enum Verb {
    /// Review logs: what to look at first, what passed, what could not be judged.
    ///
    /// Exit code: 0 nothing warned, 1 something warned, 2 a file could not be read.
    Review(ReviewArgs),
    /// Show what was understood of a log: its form, its clock, and each column.
    Channels(ChannelsArgs),
    /// Write a starter build sheet from what a log shows, with every unknown as a question.
    Sheet(SheetArgs),
    /// List the checks, or explain one; `checks new ID` begins one of your own, `checks try` runs the cases that stand beside
    /// them.
    Checks(ChecksArgs),
    /// Draw channels of a log: over time, against each other, by phase, by cylinder, or in cells of speed and load.
    Plot(PlotArgs),
    /// Write logs as Parquet or Arrow files: standard names and units, and every column of the log.
    ///
    /// Other programs open them, and the other verbs read them back as the log they came from, in less time.
    Convert(ConvertArgs),
    /// The notebook kernel: cells in the language of the checks, in the notebook program you use.
    #[cfg(feature = "notebook")]
    Kernel(KernelArgs),
    /// Run a notebook over logs without a notebook program: outputs go into a copy of it, or onto a page.
    ///
    /// Exit code: 0 every cell ran, 1 a cell failed, 2 a file could not be read.
    #[cfg(feature = "notebook")]
    Notebook(NotebookArgs),
}

/// Forms in which a review can be written.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Text,
    Json,
    Html,
    Markdown,
}

#[derive(clap::Args, Debug)]
pub struct ReviewArgs {
    /// CSV logs, one review each.
    #[arg(required = true, value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// Build sheet of the engine (TOML).
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// Folder of check scripts that add to the built-in ones or replace them by id.
    #[arg(long, value_name = "DIR")]
    pub scripts: Option<PathBuf>,
    /// Form of the review.
    #[arg(long, value_enum, default_value = "text")]
    pub format: Form,
    /// File to write to instead of the terminal.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Say on the side what each check took, longest first.
    #[arg(long)]
    pub timings: bool,
}

#[derive(clap::Args, Debug)]
pub struct ChannelsArgs {
    /// CSV log.
    #[arg(value_name = "LOG")]
    pub log: PathBuf,
    /// Build sheet, for the column names and forms that it forces.
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
}

#[derive(clap::Args, Debug)]
pub struct SheetArgs {
    /// CSV log.
    #[arg(value_name = "LOG")]
    pub log: PathBuf,
    /// File to write to instead of the terminal; one that is there already is not touched.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

#[derive(clap::Args, Debug)]
pub struct ChecksArgs {
    /// Id of the check to explain; or `new` to begin one, or `try` to run cases.
    #[arg(value_name = "ID")]
    pub id: Option<String>,
    /// With `new`: the id of the new check. With `try`: only this check.
    #[arg(value_name = "ONE", requires = "id")]
    pub one: Option<String>,
    /// Folder of check scripts that add to the built-in ones or replace them by id.
    #[arg(long, value_name = "DIR")]
    pub scripts: Option<PathBuf>,
}

#[derive(clap::Args, Debug)]
pub struct PlotArgs {
    /// CSV log.
    #[arg(value_name = "LOG")]
    pub log: PathBuf,
    /// Standard names of channels, families, or headings of the log: rpm, egt, "Aux 7". Those of one unit share a picture.
    #[arg(required = true, value_name = "CHANNEL")]
    pub channels: Vec<String>,
    /// Build sheet, for column names and units of reading.
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// First moment to draw, seconds.
    #[arg(long, value_name = "S", allow_hyphen_values = true)]
    pub from: Option<f64>,
    /// Last moment to draw, seconds.
    #[arg(long, value_name = "S", allow_hyphen_values = true)]
    pub to: Option<f64>,
    /// Against this channel instead of over time.
    #[arg(long, value_name = "CHANNEL")]
    pub against: Option<String>,
    /// A picture for each, side by side on the same axes; cylinders in firing order.
    #[arg(long, value_enum)]
    pub by: Option<Side>,
    /// Only during this phase of the run: running, idle, pull.
    #[arg(long, value_name = "PHASE")]
    pub during: Option<String>,
    /// Medians of one channel in cells of engine speed and load.
    #[arg(long)]
    pub grid: bool,
    /// File to write: the ending, .svg or .png, says the form. Without it, SVG goes to the terminal.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// What pictures side by side are for.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Phase,
    Cylinder,
}

/// File formats that a log can be converted to.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    Parquet,
    Arrow,
}

#[derive(clap::Args, Debug)]
pub struct ConvertArgs {
    /// Logs, one file each.
    #[arg(required = true, value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// Format to write.
    #[arg(long, value_enum)]
    pub to: Target,
    /// Build sheet, for the column names and forms that it forces.
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// File to write; one that is there is replaced. Without it, the log's name with the new ending, in this folder.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

#[cfg(feature = "notebook")]
#[derive(clap::Args, Debug)]
pub struct KernelArgs {
    #[command(subcommand)]
    pub verb: KernelVerb,
}

#[cfg(feature = "notebook")]
#[derive(Subcommand, Debug)]
pub enum KernelVerb {
    /// Tell notebook programs of the kernel.
    Install {
        /// For you alone: the default.
        #[arg(long, conflicts_with = "prefix")]
        user: bool,
        /// For all who use the Python under this folder.
        #[arg(long, value_name = "DIR")]
        prefix: Option<PathBuf>,
    },
    /// Run a kernel: notebook programs do this.
    Run {
        /// The file in which the notebook program says where to listen.
        #[arg(value_name = "CONNECTION_FILE")]
        connection_file: PathBuf,
        /// Folder of check scripts that add to the built-in ones or replace them by id.
        #[arg(long, value_name = "DIR")]
        scripts: Option<PathBuf>,
    },
}

#[cfg(feature = "notebook")]
#[derive(clap::Args, Debug)]
pub struct NotebookArgs {
    /// Notebook to run (nbformat 4.5). Each log takes the place of whatever its cells open.
    #[arg(value_name = "NOTEBOOK")]
    pub notebook: PathBuf,
    /// Log to run it over, or a folder of logs; may be given several times.
    #[arg(long = "log", required = true, value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// Build sheet of the engine (TOML), in place of whatever sheet its cells name.
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// Folder of check scripts that add to the built-in ones or replace them by id.
    #[arg(long, value_name = "DIR")]
    pub scripts: Option<PathBuf>,
    /// File to write: the ending, .ipynb or .html, says the form. One that is there is replaced.
    ///
    /// For a folder or several logs, each log's name goes before the ending: `walk.html` becomes `walk-first-start.html`.
    /// Without --out it is the notebook's name with the log's, as .ipynb in this folder.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Go on after a cell that failed.
    #[arg(long)]
    pub go_on: bool,
}
