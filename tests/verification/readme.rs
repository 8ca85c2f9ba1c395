//! The result that the README shows and reads is what the program prints.

use std::ffi::OsString;

use gomphosis_tests::table::same_line;

const README: &str = include_str!("../../README.md");

/// Each word of a line as a cell of a table, units behind their numbers as words of their own.
fn words(line: &str) -> String {
    let apart = line.replace('%', " %").replace('°', " °").replace("µm", " µm");
    format!("|{}|", apart.split_whitespace().collect::<Vec<_>>().join("|"))
}

#[test]
fn the_readme_shows_what_the_program_prints() {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    gomphosis_cli::run(["gomphosis", "solve", "14", "--quiet"].map(OsString::from), &mut out, &mut err);
    let out = String::from_utf8(out).unwrap();
    let shown = README.split("```text\n").nth(1).unwrap().split("```").next().unwrap();
    let printed: Vec<&str> = out.lines().skip_while(|line| !line.starts_with("Resistance")).collect();
    for (shown, printed) in shown.lines().zip(&printed) {
        if let Err(difference) = same_line(&words(printed), &words(shown), None) {
            panic!(
                "{difference}\nput the lines of `gomphosis solve 14` into README.md and look at the text below them"
            );
        }
    }
    let first = |name: &str| {
        let line = printed.iter().find(|line| line.trim_start().starts_with(name)).unwrap();
        let words: Vec<&str> = line.trim_start()[name.len()..].split_whitespace().collect();
        words.into_iter().find(|word| word.parse::<f64>().is_ok()).unwrap().to_owned()
    };
    let centre = first("centre of resistance below crest");
    let arm = first("torque for translation");
    let sigma = first("sigma squared");
    for sentence in [format!("5.75 + {centre} = {arm} mm"), format!("Here {sigma} / {arm} = ")] {
        assert!(README.contains(&sentence), "README.md should say: {sentence}");
    }
}
