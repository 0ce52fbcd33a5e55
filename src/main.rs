//! The command line program; everything it does lives in `underfoot::cli`.

fn main() -> std::process::ExitCode {
    underfoot::cli::main()
}
