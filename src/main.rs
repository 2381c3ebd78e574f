//! The program: arguments in, exit code out. Everything else is in the library.

fn main() -> std::process::ExitCode {
    cutbank::cli::main(std::env::args_os()).into()
}
