//! `plugread kernel`: the notebook kernel.

use super::args::{KernelArgs, KernelVerb};
use super::{End, Refusal, out};
use crate::notebook::install::{self, Place};
use crate::notebook::{Options, kernel};

pub fn run(args: KernelArgs) -> Result<End, Refusal> {
    match args.verb {
        KernelVerb::Run {
            connection_file,
            scripts,
        } => {
            install::bounded();
            let options = Options {
                scripts,
                ..Options::default()
            };
            kernel::run(&connection_file, options)?;
        }
        KernelVerb::Install { user: _, prefix } => {
            let place = prefix.map_or(Place::User, Place::Prefix);
            let folder = |name: &str| {
                let set = std::env::var_os(name).filter(|v| !v.is_empty());
                set.map(std::path::PathBuf::from)
            };
            let home = folder("HOME").or_else(|| folder("USERPROFILE"));
            let data = folder("JUPYTER_DATA_DIR");
            let made = install::install(&place, home.as_deref(), data.as_deref())?;
            let told = format!(
                "the kernel `{}` is in {}; notebook programs find it there\n",
                install::NAME,
                made.display()
            );
            out::write(None, told.as_bytes())?;
        }
    }
    Ok(End::Quiet)
}
