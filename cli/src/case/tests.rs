use std::sync::Arc;

use gomphosis_mesh_gen::ToothKind;
use serde_json::Value;

use super::complaint::SourceFile;
use super::key::KEYS;
use super::*;

fn parse(text: &str) -> Result<Case, Complaint> {
    let file = Arc::new(SourceFile { name: "case.toml".to_owned(), text: text.to_owned() });
    build(&read::document(&file)?)
}

fn sentence(text: &str) -> String {
    parse(text).expect_err("this case is wrong").to_string()
}

#[test]
fn a_name_alone_is_a_case() {
    for kind in ToothKind::ALL {
        let case = parse(&format!("tooth = \"{}\"", kind.name())).expect("a valid case");
        assert_eq!(case.specimen, ToothInSocket::handbook(kind));
    }
    for number in ["14", "\"14\"", "24", "\"Upper First Premolar\"", "\"upper_first_premolar\""] {
        let case = parse(&format!("tooth = {number}")).expect("a valid case");
        assert_eq!(case.name(), "upper first premolar");
    }
    assert_eq!(parse("").expect("the built-in case").name(), BUILT_IN);
}

#[test]
fn the_printed_case_reads_back_the_same() {
    for form in ToothKind::ALL
        .into_iter()
        .map(ToothForm::Anatomical)
        .chain([ToothForm::Paraboloid, ToothForm::EllipticParaboloid])
    {
        let mut case = defaults(form);
        case.load.torque_nmm = -2.5;
        case.bodies = Bodies::Rigid;
        let again = parse(&toml(&case)).expect("the printed case is valid");
        assert_eq!(json(&again), json(&case));
        for height in ["height_mm = 6.1", "height_from_cej_mm = 3.3", "height_share = 0.37"] {
            let text = format!(
                "tooth = \"{}\"\nname = \"Née à 3 h \\\"quoted\\\" <b>\"\n[bone]\nloss_mm = 1.1\n[attachment]\n{height}\n",
                form_name(form)
            );
            let case = parse(&text).expect("valid");
            let again = parse(&toml(&case)).expect("the printed case is valid");
            assert_eq!((json(&again), again.place), (json(&case), case.place), "{text}");
            assert_eq!(again.specimen, case.specimen);
        }
    }
}

#[test]
fn an_empty_table_changes_nothing() {
    let case = parse("tooth = 14\n[root]\n[materials.ligament]\n").expect("valid");
    assert_eq!(json(&case), json(&defaults(form_of("14").expect("a tooth"))));
}

#[test]
fn json_holds_every_key_under_its_name() {
    let written = json(&defaults(ToothForm::Paraboloid));
    for key in KEYS.iter().filter(|k| !matches!(k.kind, Kind::Shorthand { .. } | Kind::Text { .. })) {
        let value = key.path.split('.').fold(&written, |at, part| &at[part]);
        assert!(!matches!(value, Value::Null | Value::Object(_)), "{} is missing", key.path);
    }
}

#[test]
fn the_words_of_a_key_are_the_words_of_its_type() {
    let mut case = defaults(ToothForm::Paraboloid);
    for key in KEYS {
        if let Kind::Word { words, get, set } = &key.kind {
            for word in *words {
                set(&mut case, word);
                assert_eq!(get(&case), *word, "{} does not take {word}", key.path);
            }
        }
    }
}

#[test]
fn the_attachment_keeps_its_place_on_the_crown_when_bone_is_lost() {
    let healthy = parse("tooth = 14").expect("valid");
    let lost = parse("tooth = 14\n[bone]\nloss_mm = 4.0").expect("valid");
    let rise = lost.specimen.attachment.height_mm - healthy.specimen.attachment.height_mm;
    assert!((rise - 4.0).abs() < 1e-9, "the attachment rose by {rise} mm above the crest");
    let given = parse("tooth = 14\n[bone]\nloss_mm = 4.0\n[attachment]\nheight_mm = 7.0").expect("valid");
    assert!((given.specimen.attachment.height_mm - 7.0).abs() < 1e-12);
}

#[test]
fn each_height_of_the_attachment_stays_when_the_crest_moves() {
    // Crest 1.5 mm below the junction and 4 mm of bone lost; the crown is 8.5 mm high.
    let lost = |line: &str| {
        let case =
            parse(&format!("tooth = 14\n[bone]\nloss_mm = 4.0\n[attachment]\n{line}\n")).expect("valid");
        let Heights { height_mm, height_from_cej_mm, height_share } = Heights::of(&case);
        [height_mm, height_from_cej_mm, height_share]
    };
    for (line, wanted) in [
        ("", [9.75, 4.25, 0.5]),
        ("height_mm = 7.5", [7.5, 2.0, 2.0 / 8.5]),
        ("height_from_cej_mm = 3.0", [8.5, 3.0, 3.0 / 8.5]),
        ("height_share = 0.4", [8.9, 3.4, 0.4]),
    ] {
        for (got, wanted) in lost(line).into_iter().zip(wanted) {
            assert!((got - wanted).abs() < 1e-9, "{line}: {got}, not {wanted}");
        }
    }
    // What is given is kept to the bit, and the last option wins.
    let case = parse("[bone]\nloss_mm = 2.2\n[attachment]\nheight_share = 0.37").expect("valid");
    assert_eq!(Heights::of(&case).height_share.to_bits(), 0.37_f64.to_bits());
    let options = [("attachment.height_share", "0.3"), ("attachment.height_from_cej_mm", "3.1")];
    let given: Vec<_> = options.iter().map(|(key, value)| option("--set", key, value)).collect();
    let case = build(&given).expect("valid");
    assert_eq!(
        (case.place, case.place.key()),
        (Place::FromJunction(3.1), Some("attachment.height_from_cej_mm"))
    );
}

#[test]
fn a_height_that_is_not_on_the_crown_is_refused_under_the_key_that_was_given() {
    for (line, key) in [
        ("height_mm = 11.0", "an attachment 11 mm above the crest"),
        ("height_from_cej_mm = 9.0", "attachment.height_from_cej_mm is 9 mm"),
        ("height_share = 1.0", "attachment.height_share is 1 of the 8.5 mm crown"),
    ] {
        let said = sentence(&format!("tooth = 14\n[attachment]\n{line}\n"));
        assert!(said.starts_with("case.toml:3: ") && said.contains(key), "{said}");
    }
    // What is advised is accepted, in the end: below the top of the crown there may still be the fossa between the cusps.
    for (tooth, key, value) in
        [(14, "height_from_cej_mm", "9.0"), (14, "height_share", "1.0"), (16, "height_share", "0.95")]
    {
        let with = |value: &str| format!("tooth = {tooth}\n[attachment]\n{key} = {value}\n");
        let mut value = value.to_owned();
        let mut steps = 0;
        while parse(&with(&value)).is_err() {
            steps += 1;
            assert!(steps <= 2, "no end at {key} {value}");
            let said = sentence(&with(&value));
            assert!(said.ends_with("would do"), "{said}");
            let advice =
                said.split(&format!("attachment.{key} ")).last().and_then(|rest| rest.split(' ').next());
            advice.unwrap_or_else(|| panic!("{said}")).clone_into(&mut value);
        }
        assert!(steps > 0, "{key} {value} was to be refused");
    }
}

#[test]
fn a_case_may_have_a_name_of_its_own() {
    let case = parse("tooth = 14\nname = \"Thin bone, first visit\"\n[bone]\nloss_mm = 2.0").expect("valid");
    assert_eq!(
        (case.title().as_str(), case.name().as_str()),
        ("Thin bone, first visit", "upper first premolar")
    );
    assert_eq!(json(&case)["name"], "Thin bone, first visit");
    let plain = parse("tooth = 14\n[bone]\nloss_mm = 2.0").expect("valid");
    assert_eq!(plain.title(), "Upper first premolar, 2 mm of bone loss");
    assert!(json(&plain).get("name").is_none());
    let long = sentence(&format!("name = \"{}\"", "x".repeat(61)));
    assert_eq!(long, "case.toml:1: name has 61 characters; at most 60 have room");
}

#[test]
fn a_published_ligament_stands_alone_in_a_file_and_options_come_in_order() {
    let published = |given: &[(&str, &str)], text: &str| {
        let file = Arc::new(SourceFile { name: "case.toml".to_owned(), text: text.to_owned() });
        let mut all = read::document(&file).expect("TOML");
        all.extend(
            given.iter().map(|(key, value)| option("--set", &format!("materials.ligament.{key}"), value)),
        );
        build(&all).map(|case| case.materials.ligament)
    };
    let of = |modulus_mpa, poisson_ratio| Ok(gomphosis_solver::Material { modulus_mpa, poisson_ratio });
    let table = "[materials.ligament]\n";
    let tanne = published(&[], &format!("{table}published = \"tanne_1987\"")).expect("valid");
    assert!((tanne.poisson_ratio - 0.49).abs() < 1e-12);
    for text in
        ["modulus_mpa = 0.5\npublished = \"tanne_1987\"", "published = \"tanne_1987\"\nmodulus_mpa = 0.5"]
    {
        let message = sentence(&format!("{table}{text}"));
        assert_eq!(
            message,
            "case.toml:3: materials.ligament.published already says what materials.ligament.modulus_mpa is; one of the two must go"
        );
    }
    let file = format!("{table}published = \"tanne_1987\"");
    assert_eq!(published(&[("modulus_mpa", "0.5")], &file), of(0.5, 0.49));
    let file = format!("{table}modulus_mpa = 0.5");
    assert_eq!(published(&[("published", "tanne_1987")], &file), Ok(tanne));
    assert_eq!(published(&[("published", "tanne_1987"), ("modulus_mpa", "2")], ""), of(2.0, 0.49));
    assert_eq!(published(&[("modulus_mpa", "2"), ("published", "tanne_1987")], ""), Ok(tanne));
}

#[test]
fn later_options_win_over_the_file() {
    let file = Arc::new(SourceFile { name: "case.toml".to_owned(), text: "bodies = \"elastic\"".to_owned() });
    let mut given = read::document(&file).expect("TOML");
    given.push(option("--bodies rigid", "bodies", "rigid"));
    assert_eq!(build(&given).expect("valid").bodies, Bodies::Rigid);
}

#[test]
fn a_wrong_value_is_one_sentence_with_its_line() {
    let cases = [
        (
            "tooth = \"uper first premolar\"",
            "case.toml:1: \"uper first premolar\" is no tooth that is known here; the nearest name is \"upper first premolar\" (`gomphosis teeth` lists them all)",
        ),
        (
            "tooth = 49",
            "case.toml:1: \"49\" is no tooth that is known here; ISO 3950 numbers of permanent teeth are 11 to 18, 21 to 28, 31 to 38 and 41 to 48, Universal ones universal:1 to universal:32, quadrants UR1 to UR8 and UL, LL and LR alike (`gomphosis teeth` lists them all)",
        ),
        (
            "tooth = -14",
            "case.toml:1: \"-14\" is no tooth that is known here; 14 is the upper right first premolar in ISO 3950, universal:14 is the upper left first molar (ISO 3950 number 26) (`gomphosis teeth` lists them all)",
        ),
        (
            "tooth = \"14\\n\"",
            "case.toml:1: \"14\\n\" is no tooth that is known here; a name is wanted such as \"upper first premolar\", or a number of ISO 3950 (14), of the Universal system behind its name (universal:5) or of a quadrant (UR4) (`gomphosis teeth` lists them all)",
        ),
        (
            "\"root.length_mm\" = 13.0\n[root]\nlength_mm = 14.0",
            "case.toml:3: root.length_mm stands here a second time; once is enough",
        ),
        (
            "name = \"bell \\u0007\"",
            "case.toml:1: name holds the character U+0007, which cannot be seen; letters, digits, signs and spaces are wanted",
        ),
        (
            "name = \"a \\u202E b\"",
            "case.toml:1: name holds the character U+202E, which cannot be seen; letters, digits, signs and spaces are wanted",
        ),
        ("name = \" \"", "case.toml:1: name is empty; a few words are wanted"),
        ("name = [1]", "case.toml:1: name is an array; a text in quotes is wanted"),
        (
            "[attachment]\nheight_mm = 5.0\nheight_share = 0.5",
            "case.toml:3: attachment.height_mm already says where the attachment is; one of attachment.height_mm, attachment.height_from_cej_mm and attachment.height_share is enough",
        ),
        (
            "[attachment]\nheight_share = 1.5",
            "case.toml:2: attachment.height_share is 1.5; a number from 0 to 1 is wanted",
        ),
        (
            "tooth = true",
            "case.toml:1: tooth is true; a name such as \"upper first premolar\" or an ISO 3950 number is wanted",
        ),
        (
            "tooth = 14\n\n[root]\nlenght_mm = 12.0",
            "case.toml:4: there is no key root.lenght_mm; the nearest key is root.length_mm",
        ),
        (
            "[root]\nlength = 12.0",
            "case.toml:2: there is no key root.length; the nearest key is root.length_mm",
        ),
        ("[rooot]\nlength_mm = 12.0", "case.toml:1: there is no table rooot; the nearest table is root"),
        (
            "tooth = 14\n[materials.ligamnt]\n\nmodulus_mpa = 2.0",
            "case.toml:2: there is no table materials.ligamnt; the nearest table is materials.ligament",
        ),
        (
            "[materials.ligament.more]\nmodulus_mpa = 2.0",
            "case.toml:1: there is no table materials.ligament.more; the nearest table is materials.ligament",
        ),
        (
            "[xyzzy]\na = 1",
            "case.toml:1: there is no table xyzzy; `gomphosis case` prints every table with its keys",
        ),
        (
            "tooth = 14\n[root]\nlength_mm = 5.0",
            "case.toml:3: a furcation 3 mm below the cemento-enamel junction leaves no roots; with root.length_mm 5 and this ligament root.furcation_mm must be at most 2.1 (root.furcation_mm is the default of this case)",
        ),
        ("length_mm = 12.0", "case.toml:1: there is no key length_mm; the nearest key is root.length_mm"),
        ("xyzzy = 1", "case.toml:1: there is no key xyzzy; `gomphosis case` prints every key"),
        ("root = 12.0", "case.toml:1: root is a table of keys, not a value (12.0)"),
        (
            "[root]\nlength_mm = \"long\"",
            "case.toml:2: root.length_mm is \"long\"; a number is wanted, in mm",
        ),
        ("[root]\nlength_mm = nan", "case.toml:2: root.length_mm is nan; a finite number is wanted, in mm"),
        ("[root]\nlength_mm = inf", "case.toml:2: root.length_mm is inf; a finite number is wanted, in mm"),
        ("[root]\nlength_mm = [1, 2]", "case.toml:2: root.length_mm is an array; a number is wanted, in mm"),
        (
            "[root]\nplan = \"four\"",
            "case.toml:2: root.plan is \"four\"; \"single\", \"buccal_lingual\", \"mesial_distal\" or \"three\" is wanted",
        ),
        ("bodies = \"soft\"", "case.toml:1: bodies is \"soft\"; \"elastic\" or \"rigid\" is wanted"),
        (
            "[ligament]\nlayers = 2.5",
            "case.toml:2: ligament.layers is 2.5; a whole number from 1 to 8 is wanted",
        ),
        (
            "[load]\nforce_n = 1e9",
            "case.toml:2: load.force_n is 1e9; a number from -1000 to 1000 is wanted, in N",
        ),
        (
            "[materials.ligament]\npoisson_ratio = 0.5",
            "case.toml:2: materials.ligament.poisson_ratio is 0.5: it must lie between -0.9 and 0.4999",
        ),
        (
            "[ligament]\nthickness_mm = -0.2",
            "case.toml:2: ligament.thickness_mm is -0.2: it must lie between 0.05 and 0.6",
        ),
        (
            "[map]\nheight_from_mm = 9.0\nheight_to_mm = 2.0",
            "case.toml:3: the map runs from 9 to 2 mm; the end must lie above the start",
        ),
        ("tooth = 14\ntooth = 15", "case.toml:2: tooth stands here a second time; once is enough"),
        ("[root]\n[mesh]\n[root]", "case.toml:3: root stands here a second time; once is enough"),
        ("[root", "case.toml:1: this is not TOML: unclosed table, expected `]`"),
    ];
    for (text, expected) in cases {
        assert_eq!(sentence(text), expected, "for {text:?}");
    }
}

#[test]
fn shapes_that_cannot_be_are_refused_at_the_key_to_change() {
    let text = sentence("tooth = 14\n[bone]\nloss_mm = 12.0");
    assert!(text.starts_with("case.toml:3: the crest would leave"), "{text}");
    let text = sentence("tooth = \"upper canine\"\n[attachment]\nheight_mm = 30.0");
    assert!(text.starts_with("case.toml:3: "), "{text}");
    let text = sentence("tooth = 14\n[root]\nlength_mm = 5.0\nfurcation_mm = 4.9");
    assert!(text.starts_with("case.toml:"), "{text}");
}

#[test]
fn the_source_line_is_shown_with_a_caret() {
    let complaint = parse("tooth = 14\n[root]\nlength_mm = \"lång\" # comment").expect_err("wrong");
    let text = complaint.render(false);
    assert!(text.contains("3 | length_mm = \"lång\" # comment"), "{text}");
    assert!(text.contains("^^^^^^"), "{text}");
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(400))]

    #[test]
    fn no_text_makes_the_reader_panic(text in ".{0,200}") {
        if let Err(complaint) = parse(&text) {
            let _ = complaint.render(true);
        }
    }

    #[test]
    fn no_likely_text_makes_the_reader_panic(
        lines in proptest::collection::vec(
            ("(\\[[a-z._]{0,12}\\]|[a-z_.]{1,14} = )", "(-?[0-9]{1,4}(\\.[0-9]{0,3})?(e[0-9]{1,4})?|nan|-inf|\"[^\"]{0,9}\"|\\[1, 2\\]|\\{ a = 1 \\}|1979-05-27|)"),
            0..8,
        )
    ) {
        let text: String = lines.iter().flat_map(|(key, value)| [key.as_str(), value, "\n"]).collect();
        if let Err(complaint) = parse(&text) {
            let _ = complaint.render(false);
        }
    }

    #[test]
    fn no_number_makes_a_known_key_panic(index in 0..60_usize, value in proptest::num::f64::ANY) {
        let key = &KEYS[index % KEYS.len()];
        let given = option("--set", key.path, &format!("{value:?}"));
        let _ = build(&[given]);
    }
}
