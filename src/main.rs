//! Arguments in, exit code out.

fn main() -> std::process::ExitCode {
    plugread::cli::run()
}
