use crate::support::CliTest;

fn help(args: &[&str]) -> String {
    let run = CliTest::new().run(args);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(run.err, "");
    run.out
}

#[test]
fn the_help_tells_the_whole_story() {
    insta::assert_snapshot!("help", help(&["--help"]));
}

#[test]
fn each_command_explains_itself() {
    for command in [
        "map",
        "solve",
        "figure",
        "lesson",
        "report",
        "mesh",
        "sweep",
        "gather",
        "compensate",
        "case",
        "teeth",
        "verify",
        "validate",
    ] {
        insta::assert_snapshot!(format!("help_{command}"), help(&[command, "--help"]));
    }
}

#[test]
fn the_version_is_that_of_the_package() {
    assert_eq!(help(&["--version"]), format!("gomphosis {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn the_exit_codes_of_the_help_are_those_of_the_program() {
    let help = help(&["--help"]);
    for (exit, meaning) in gomphosis_cli::Exit::TABLE {
        let line = format!("  {:<4} {meaning}", exit.code());
        assert!(help.contains(&line), "the help lacks '{line}'");
    }
}

#[test]
fn no_command_is_a_wrong_command_line() {
    let run = CliTest::new().run(&[]);
    assert_eq!(run.status, 2);
    assert_eq!(run.out, "");
    assert!(run.err.contains("Usage:"), "{}", run.err);
}
