//! Expected against got, with one line for each comparison that `cargo test -- --nocapture` shows.

/// Compares and shows a line: case, expected, got, relative error, tolerance.
///
/// # Panics
/// If the relative error is above the tolerance, or not a number.
#[allow(clippy::print_stdout, reason = "captured by the test harness unless asked for")]
pub fn relative(case: &str, expected: f64, got: f64, tolerance: f64) {
    let error = (got - expected) / expected;
    println!("| {case} | {expected:.6} | {got:.6} | {:+.4} % | {:.3} % |", 100.0 * error, 100.0 * tolerance);
    assert!(error.abs() <= tolerance, "{case}: expected {expected}, got {got}, error {:.3} %", 100.0 * error);
}

/// Compares and shows a line: case, expected, got, absolute error, tolerance.
///
/// # Panics
/// If the absolute error is above the tolerance, or not a number.
#[allow(clippy::print_stdout, reason = "captured by the test harness unless asked for")]
pub fn absolute(case: &str, expected: f64, got: f64, tolerance: f64) {
    let error = got - expected;
    println!("| {case} | {expected:.6} | {got:.6} | {error:+.3e} | {tolerance:.3e} |");
    assert!(error.abs() <= tolerance, "{case}: expected {expected}, got {got}, error {error:.3e}");
}

/// Shows a line and checks that a value lies in a band.
///
/// # Panics
/// If it does not.
#[allow(clippy::print_stdout, reason = "captured by the test harness unless asked for")]
pub fn band(case: &str, (low, high): (f64, f64), got: f64) {
    println!("| {case} | {low:.6} .. {high:.6} | {got:.6} | | |");
    assert!((low..=high).contains(&got), "{case}: expected {low} to {high}, got {got}");
}
