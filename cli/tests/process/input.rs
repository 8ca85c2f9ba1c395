use std::ffi::OsString;

use crate::support::{CliTest, fast};

/// Runs a command on a case text, which must be refused without a trace, and returns the message.
fn refused(text: &str) -> String {
    let test = CliTest::new();
    test.write("case.toml", text);
    let run = test.run(&["map", "case.toml", "--out", "results"]);
    assert_eq!(run.status, 2, "for {text:?}: {}", run.err);
    assert_eq!(run.out, "");
    assert_eq!(test.files(), ["case.toml"], "nothing may be written");
    run.err
}

#[test]
fn wrong_cases_are_shown_with_their_line() {
    let cases = [
        ("unknown_key", "tooth = 14\n\n[root]\nlenght_mm = 12.0   # too short a night\n"),
        ("wrong_kind", "tooth = 14\n[ligament]\nthickness_mm = \"thin\"\n"),
        ("out_of_range", "tooth = 14\n[ligament]\nthickness_mm = 9\n"),
        ("incompressible", "tooth = 14\n[materials.ligament]\npoisson_ratio = 0.5\n"),
        ("crest_below_apex", "tooth = 14\n[bone]\nloss_mm = 20.0\n"),
        ("crest_above_the_crown", "tooth = 14\n[attachment]\nheight_mm = 30.0\n"),
        ("no_plate", "tooth = 14\n[bone]\nbuccal_plate_mm = -1.0\n"),
        ("unknown_tooth", "tooth = \"upper frist premolar\"\n"),
        ("not_toml", "tooth = 14\n[root\n"),
        ("no_push", "tooth = 14\n[load]\nforce_n = 0\ntorque_nmm = 3\n"),
    ];
    for (name, text) in cases {
        insta::assert_snapshot!(name, refused(text));
    }
}

#[test]
fn wrong_options_are_shown_as_they_were_typed() {
    let cases: [(&str, &[&str], &str); 7] = [
        (
            "map",
            &["--set", "root.length_mm"],
            "error: --set root.length_mm: a key and a value are wanted, as in --set root.length_mm=12\n",
        ),
        (
            "map",
            &["--set", "root.length=12"],
            "error: --set root.length=12: there is no key root.length; the nearest key is root.length_mm\n",
        ),
        (
            "map",
            &["--set", "ligament.thickness_mm=9"],
            "error: --set ligament.thickness_mm=9: ligament.thickness_mm is 9: it must lie between 0.05 and 0.6\n",
        ),
        (
            "solve",
            &["--bodies", "soft"],
            "error: --bodies soft: bodies is \"soft\"; \"elastic\" or \"rigid\" is wanted\n",
        ),
        (
            "mesh",
            &["--tooth", "upper premolar"],
            "error: --tooth upper premolar: \"upper premolar\" is no tooth that is known here; the nearest name is \"upper first premolar\" (`gomphosis teeth` lists them all)\n",
        ),
        (
            "case",
            &["premolar"],
            "error: there is no file of that name, and \"premolar\" is no tooth that is known here; the nearest name is \"upper first premolar\" (`gomphosis teeth` lists them all)\n",
        ),
        (
            "solve",
            &["--set", "mesh.element_size_mm=0"],
            "error: --set mesh.element_size_mm=0: mesh.element_size_mm is 0: it must lie between 0.1 and 3\n",
        ),
    ];
    for (command, options, expected) in cases {
        let test = CliTest::new();
        let args: Vec<&str> = [command].iter().chain(options).copied().collect();
        let run = test.run(&args);
        assert_eq!((run.status, run.err.as_str()), (2, expected), "for {args:?}");
        assert!(test.files().is_empty());
    }
}

#[test]
fn a_missing_file_is_named() {
    let run = CliTest::new().run(&["solve", "no/such.toml"]);
    assert_eq!(run.status, 4);
    assert_eq!(run.err, "error: cannot read no/such.toml: there is no such file or directory\n");
}

#[test]
fn files_that_are_no_text_or_too_long_are_refused() {
    let test = CliTest::new();
    test.write("latin.toml", b"tooth = 14\n# caf\xe9\n");
    let run = test.run(&["case", "latin.toml"]);
    assert_eq!(run.status, 2);
    assert_eq!(
        run.err,
        "error: latin.toml:2: byte 16 is not UTF-8 text; a case file is a TOML text in UTF-8\n"
    );
    let long = std::fs::File::create(test.path("long.toml")).expect("made");
    long.set_len(100 << 20).expect("a sparse file");
    let run = test.run(&["case", "long.toml"]);
    assert_eq!(run.status, 2);
    assert_eq!(run.err, "error: long.toml: a case file holds at most 1 MiB, this one is larger\n");
    let run = test.run(&["case", "."]);
    assert_eq!(run.status, 4, "{}", run.err);
}

#[test]
fn deep_nesting_is_refused() {
    for text in [
        format!("x = {}{}", "[".repeat(100_000), "]".repeat(100_000)),
        format!("x = {}1{}", "{a=".repeat(50_000), "}".repeat(50_000)),
        format!("[{}a]", "a.".repeat(100_000)),
        format!("{}a = 1", "a.".repeat(100_000)),
    ] {
        let message = refused(&text);
        assert!(message.starts_with("error: case.toml:1: "), "{}", &message[..200.min(message.len())]);
        assert!(message.len() < 2000, "a message of {} bytes", message.len());
    }
}

#[test]
fn characters_that_act_never_reach_the_streams_raw() {
    let test = CliTest::new();
    let nasty = "\u{1b}[2J\u{9b}31m\u{7}\u{202e}txt";
    test.write("case.toml", format!("tooth = 14\n[root]\n\"{}\" = 3 # \u{202e}\n", "\u{202e}gnol"));
    let file = format!("{nasty}.toml");
    test.write(&file, "tooth = 14\n[root]\nlenght_mm = 3\n");
    let commands: [&[&str]; 9] = [
        &["map", &format!("--{nasty}")],
        &["map", &format!("--threads={nasty}")],
        &[nasty],
        &["case", nasty],
        &["case", &file],
        &["case", "case.toml"],
        &["case", "--set", &format!("{nasty}=3")],
        &["case", "--set", &format!("name={nasty}")],
        &["solve", &format!("no/{nasty}.toml")],
    ];
    for args in commands {
        let run = test.run(args);
        assert_ne!(run.status, 0, "{args:?}");
        let raw = |c: char| (c.is_control() && c != '\n') || ('\u{200b}'..='\u{202e}').contains(&c);
        let found = run.out.chars().chain(run.err.chars()).find(|c| raw(*c));
        assert_eq!(found, None, "{args:?}: {:?}", run.err);
        assert!(!run.err.is_empty());
    }
}

#[test]
fn commands_begin_with_the_tooth_in_words() {
    let run = CliTest::new().run(&fast(&["solve", "ur 4"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.starts_with("tooth: upper right first premolar, ISO 3950 number 14\n"), "{}", run.err);
    let universal = CliTest::new().run(&["case", "#5"]);
    let iso = CliTest::new().run(&["case", "14"]);
    let body = |text: &str| text.split_once('\n').expect("lines").1.to_owned();
    assert_eq!(body(&universal.out), body(&iso.out));
    let first = iso.out.lines().next().expect("a line");
    assert_eq!(
        first,
        "# tooth: upper right first premolar, ISO 3950 number 14; in the Universal system 14 would be the upper left first \
         molar, here universal:14"
    );
    assert!(
        CliTest::new().run(&["case", "--tooth=-14"]).err.contains("14 is the upper right first premolar")
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(200))]

    /// In this process, where a panic is seen at once.
    #[test]
    fn no_bytes_make_the_program_panic(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
        let directory = tempfile::tempdir().expect("a temporary directory");
        let path = directory.path().join("case.toml");
        std::fs::write(&path, bytes).expect("written");
        let args = ["gomphosis".into(), "case".into(), path.into_os_string()];
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let exit = gomphosis_cli::run(args, &mut out, &mut err);
        let silent = err.is_empty();
        assert_eq!(silent, exit == gomphosis_cli::Exit::Ok);
    }

    #[test]
    fn no_words_make_the_program_panic(words in proptest::collection::vec("(--(set|tooth|bodies|out|threads|json)=?.{0,8}|case|.{0,12})", 0..5)) {
        // Only commands that compute nothing.
        let args = ["gomphosis", "case"].iter().map(OsString::from).chain(words.iter().map(OsString::from));
        let (mut out, mut err) = (Vec::new(), Vec::new());
        gomphosis_cli::run(args, &mut out, &mut err);
    }
}
