//! What a panic does while the fuzzer runs.

/// The gate catches the engine's panics; the fuzzer's own hook would end the program before that. A
/// panic that nobody catches ends it all the same.
pub fn let_panics_be_caught() {
    std::panic::set_hook(Box::new(|panic| eprintln!("{panic}")));
}
