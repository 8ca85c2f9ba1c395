use serde_json::Value;

use crate::support::{CliTest, fast, names};

fn number(value: &Value, path: &str) -> f64 {
    path.split('.')
        .fold(value, |at, part| &at[part])
        .as_f64()
        .unwrap_or_else(|| panic!("{path} is no number"))
}

#[test]
fn a_map_writes_all_its_files_and_they_agree() {
    let test = CliTest::new();
    let run = test.run(&fast(&["map", "upper second premolar", "--out", "deep/results"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.out.contains("centre of resistance"), "{}", run.out);
    assert_eq!(
        names(&test.path("deep/results")),
        [
            "case.toml",
            "curve.png",
            "curve.svg",
            "map.csv",
            "map.png",
            "map.svg",
            "result.json",
            "section.png",
            "section.svg",
            "tip.png",
            "tip.svg"
        ]
    );
    let result: Value = serde_json::from_str(&test.read("deep/results/result.json")).expect("JSON");
    let mut reader = csv::Reader::from_path(test.path("deep/results/map.csv")).expect("CSV");
    let header: Vec<String> = reader.headers().expect("a header").iter().map(str::to_owned).collect();
    assert_eq!(
        header,
        [
            "attachment_height_mm",
            "force_n",
            "torque_nmm",
            "moment_to_force_mm",
            "centre_of_rotation_depth_mm",
            "centre_of_rotation_fraction",
            "tip_deg",
            "crown_travel_mm",
            "tip_deg_per_mm",
            "movement",
            "travel_percent_of_plain_push"
        ]
    );
    // Every row keeps sigma squared = (line of force to centre of resistance) x (to centre of rotation):
    // Burstone and Pryputniewicz 1980; Naegerl et al. 1991.
    // The middle of a crown of 8.5 mm over a crest 1.5 mm below the junction, told in three ways.
    for (name, wanted) in [("height_mm", 5.75), ("height_from_cej_mm", 4.25), ("height_share", 0.5)] {
        for place in [format!("bucco_lingual.load.{name}"), format!("case.attachment.{name}")] {
            assert!((number(&result, &place) - wanted).abs() < 1e-12, "{place}");
        }
    }
    assert!(
        run.out.contains("attachment 5.75 mm above the crest, 4.25 above the junction, 0.50 of the crown")
    );
    assert_eq!(
        (&result["title"], &result["tooth"]["iso_3950"][1]),
        (&"Upper second premolar".into(), &25.into())
    );
    let depth = number(&result, "bucco_lingual.centre_of_resistance.depth_below_crest_mm");
    let sigma2 = number(&result, "bucco_lingual.sigma_squared_mm2");
    let mut rows = 0;
    let mut kinds = std::collections::BTreeSet::new();
    for row in reader.records() {
        let row = row.expect("a row");
        let cell = |k: usize| row[k].parse::<f64>().unwrap_or_else(|e| panic!("{}: {e}", &row[k]));
        let lever = cell(0) + depth - cell(3);
        if !row[4].is_empty() && lever.abs() > 1e-3 {
            let product = lever * (cell(4) - depth);
            assert!((product - sigma2).abs() < 1e-6 * sigma2, "a b = {product}, sigma squared {sigma2}");
        }
        kinds.insert(row[9].to_owned());
        // Travel is linear in the torque: without one all of it is left, and with the torque D F that stops the tip
        // sigma^2 / (sigma^2 + D^2), where D is the distance from push to centre of resistance.
        let (whole, left) = (cell(0) + depth, sigma2 / (sigma2 + (cell(0) + depth).powi(2)));
        let expected = 100.0 * (1.0 - (1.0 - left) * cell(3) / whole);
        assert!((cell(10) - expected).abs() < 1e-6, "{} and {expected}", cell(10));
        rows += 1;
    }
    assert_eq!(rows, 41 * 41);
    let all = [
        "controlled tipping",
        "crown tipping reversed",
        "root movement",
        "translation",
        "uncontrolled tipping",
    ];
    assert!(kinds.iter().all(|k| all.contains(&k.as_str())), "{kinds:?}");
    assert_eq!(kinds.len(), 5, "the default map shows every kind of movement: {kinds:?}");
    for (name, magic) in [("map.png", b"\x89PNG"), ("section.png", b"\x89PNG")] {
        let bytes = std::fs::read(test.path("deep/results").join(name)).expect("read");
        assert_eq!(&bytes[..4], magic);
    }
}

#[test]
fn the_written_case_gives_the_same_result() {
    let test = CliTest::new();
    let first = test.run(&fast(&["map", "33", "--set", "load.torque_nmm=4", "--out", "results", "-q"]));
    assert_eq!((first.status, first.err.as_str()), (0, ""));
    let again = test.run(&["solve", "results/case.toml", "--out", "again.json", "-q"]);
    assert_eq!(again.status, 0, "{}", again.err);
    let read = |name: &str| {
        let mut value: Value = serde_json::from_str(&test.read(name)).expect("JSON");
        for volatile in ["timing_s", "peak_memory_mb"] {
            value.as_object_mut().expect("an object").remove(volatile);
        }
        value
    };
    assert_eq!(read("results/result.json"), read("again.json"));
}

#[test]
fn a_result_is_the_same_for_any_number_of_threads() {
    let test = CliTest::new();
    let document = |threads: &str| {
        let run = test.run(&fast(&["solve", "44", "--json", "--threads", threads]));
        assert_eq!(run.status, 0, "{}", run.err);
        let mut value: Value = serde_json::from_str(&run.out).expect("JSON");
        for volatile in ["timing_s", "peak_memory_mb"] {
            value.as_object_mut().expect("an object").remove(volatile);
        }
        value
    };
    let one = document("1");
    assert_eq!(one, document("2"));
    assert_eq!(one, document("4"));
}

#[test]
fn the_document_has_the_names_that_others_rely_on() {
    let test = CliTest::new();
    let run = test.run(&fast(&["solve", "--tooth", "31", "--json"]));
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let result: Value = serde_json::from_str(&run.out).expect("standard output is one JSON document");
    assert_eq!(result["schema"], "gomphosis.result/1");
    assert_eq!(result["version"], env!("CARGO_PKG_VERSION"));
    assert_eq!(result["case"]["tooth"], "lower central incisor");
    assert_eq!(result["case"]["bodies"], "rigid");
    for path in
        ["mesh.nodes", "mesh.tetrahedra", "mesh.unknowns", "timing_s.total", "numerical_error.asymmetry"]
    {
        assert!(number(&result, path) >= 0.0);
    }
    for plane in ["bucco_lingual", "mesio_distal"] {
        for path in [
            "centre_of_resistance.depth_below_crest_mm",
            "centre_of_resistance.fraction_of_bony_root",
            "sigma_squared_mm2",
            "torque_for_translation_mm",
            "centre_of_rotation.depth_below_crest_mm",
            "centre_of_rotation.fraction_of_bony_root",
            "tip_deg_per_mm.attachment",
            "tip_deg_per_mm.cusp_tip",
            "tip_deg_per_mm.crest",
            "compensation_deg_per_mm.attachment",
            "compensation_deg_per_mm.cusp_tip",
            "travel_percent_of_plain_push",
            "travel_left_percent",
        ] {
            assert!(number(&result[plane], path) > 0.0, "{plane}.{path}");
        }
    }
    // The centre of resistance follows from the compliance: C_xry / C_ryry at the crest.
    let point = &result["compliance"]["point_mm"];
    let entry = |i: usize, j: usize| result["compliance"]["matrix"][i][j].as_f64().expect("a number");
    let depth = entry(0, 4) / entry(4, 4) - point[2].as_f64().expect("a number");
    let told = number(&result["bucco_lingual"], "centre_of_resistance.depth_below_crest_mm");
    assert!((depth - told).abs() < 1e-9, "{depth} and {told}");
    // The mean of the pressed part lies between nothing and the largest, over about half of the root.
    let (mean, largest) = (
        number(&result, "ligament.pressed_part.mean_kpa"),
        number(&result, "ligament.root_surface.largest_pressure.kpa"),
    );
    assert!(0.0 < mean && mean < largest, "{mean} and {largest}");
    let share = number(&result, "ligament.pressed_part.share");
    assert!((0.3..0.7).contains(&share), "{share}");
    assert_eq!(result["mesio_distal"]["load"]["applied"], "a push of 1 N to mesial");
    for path in ["ligament.root_surface.largest_pressure", "ligament.elements.largest_shear"] {
        assert!(number(&result, &format!("{path}.kpa")) > 0.0);
    }
}

#[test]
fn a_mesh_is_exported_for_other_programs() {
    let test = CliTest::new();
    let run = test.run(&["mesh", "34", "--set", "mesh.element_size_mm=2", "--out", "tooth.vtu"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let vtu = test.read("tooth.vtu");
    assert!(vtu.contains("UnstructuredGrid") && vtu.contains("region"));
    let run = test.run(&fast(&["solve", "34", "--export", "solved.vtu", "-q"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(test.read("solved.vtu").contains("unit_motion_mz"));
    assert_eq!(test.files(), ["solved.vtu", "tooth.vtu"]);
}

#[test]
fn a_directory_that_cannot_be_made_leaves_nothing() {
    let test = CliTest::new();
    test.write("file", "");
    let run = test.run(&fast(&["map", "--out", "file/results", "-q"]));
    assert_eq!(run.status, 4);
    assert!(run.err.starts_with("error: cannot make the directory file/results: "), "{}", run.err);
    let run = test.run(&fast(&["solve", "--out", ".", "-q"]));
    assert_eq!(run.status, 4);
    assert!(run.err.starts_with("error: cannot write .: "), "{}", run.err);
    assert_eq!(test.files(), ["file"]);
}

#[test]
fn json_without_out_writes_no_files() {
    let test = CliTest::new();
    let run = test.run(&fast(&["map", "--json"]));
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    serde_json::from_str::<Value>(&run.out).expect("JSON");
    assert!(test.files().is_empty());
}
