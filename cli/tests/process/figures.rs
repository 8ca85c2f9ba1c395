//! Figures as files: lines that break at poles, columns by name, true sizes, the animation.

use crate::support::{CliTest, fast};

/// A torque that grows beyond the translation and the rest of the attachment.
const TORQUES: &str = "\
[case]
tooth = \"lower central incisor\"
bodies = \"rigid\"
mesh.element_size_mm = 2
[vary]
load.torque_nmm = { from = 0, to = 24, steps = 9 }
";

/// A number of an attribute.
fn attribute(element: &str, name: &str) -> f64 {
    let text = element.split_once(&format!(" {name}=\"")).expect("the attribute").1;
    text.split('"').next().expect("a value").parse().expect("a number")
}

/// Points of a path of straight pieces.
fn points(element: &str) -> Vec<[f64; 2]> {
    let d = element.split_once(" d=\"").expect("a path").1.split('"').next().expect("its data");
    d.split(['M', 'L', 'Z'])
        .filter(|piece| !piece.is_empty())
        .map(|piece| {
            let (x, y) = piece.trim().split_once(' ').expect("two numbers");
            [x, y].map(|text| text.parse().expect("a number"))
        })
        .collect()
}

#[test]
fn lines_over_a_torque_break_where_the_attachment_is_at_rest() {
    let test = CliTest::new();
    test.write("torque.toml", TORQUES);
    let run = test.run(&["sweep", "torque.toml", "--out", "results", "--quiet"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let text = test.read("results/lines.svg");
    for name in ["Centre of rotation below the crest", "Tip under the load (\u{b0})", "dotted: translation"] {
        assert!(text.contains(name), "{name}");
    }
    let tip = "bucco_lingual_tip_deg_per_mm_attachment";
    let run = test.run(&["figure", "lines", "results", "--y", tip, "--out", "tip.svg", "--quiet"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let text = test.read("tip.svg");
    let lines: Vec<&str> = text.lines().collect();
    // The frame is the last rectangle without a filling.
    let frame =
        lines.iter().rfind(|l| l.starts_with("<rect") && l.contains("fill=\"none\"")).expect("a frame");
    let [left, top, width, height] = ["x", "y", "width", "height"].map(|name| attribute(frame, name));
    let floor = top + height;
    let branches: Vec<Vec<[f64; 2]>> = lines
        .iter()
        .filter(|l| l.starts_with("<path") && l.contains("stroke-width=\"2.6\""))
        .map(|l| points(l))
        .collect();
    assert_eq!(branches.len(), 2);
    // The one before the pole ends at a side of the frame, the one behind it begins at the other.
    let (end, begin) = (branches[0].last().expect("points"), branches[1][0]);
    assert!((end[1] - floor).abs() < 0.02 && (begin[1] - top).abs() < 0.02, "{end:?} {begin:?}");
    for [x, y] in branches.concat() {
        assert!(x >= left && x <= left + width && y >= top - 0.02 && y <= floor + 0.02, "{x} {y}");
    }
    // The pole stands where the closed form puts it: torque over force = lever + sigma squared / lever, with the lever from
    // the attachment to the centre of resistance (rigid body in a plane; Burstone and Pryputniewicz 1980, from memory).
    let mut reader = csv::Reader::from_path(test.path("results/table.csv")).expect("a table");
    let header = reader.headers().expect("a header").clone();
    let row = reader.records().next().expect("a row").expect("readable");
    let of = |name: &str| -> f64 {
        row[header.iter().position(|h| h == name).expect("a column")].parse().expect("a number")
    };
    let lever = of("bucco_lingual_torque_for_translation_mm");
    let pole = lever + of("bucco_lingual_sigma_squared_mm2") / lever;
    let dotted = lines.iter().find(|l| l.contains("stroke-dasharray=\"2 5\"")).expect("a pole");
    let shown = (points(dotted)[0][0] - left) / width;
    // The scale reaches 2.5 % of the range beyond both ends.
    let expected = (pole + 0.025 * 24.0) / (1.05 * 24.0);
    assert!((shown - expected).abs() < 1e-3, "{shown} {expected}");
    assert!(end[0] < left + expected * width && begin[0] > left + expected * width);
}

#[test]
fn columns_are_named_and_what_is_no_column_is_refused_before_anything_runs() {
    let test = CliTest::new();
    test.write("torque.toml", TORQUES);
    for (y, words) in [
        ("bucco_lingual_tip_degg", "the nearest is bucco_lingual_tip_deg"),
        ("travel_mm", "the nearest is bucco_lingual_travel_mm"),
        ("status", "holds no numbers"),
        ("qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq", "the columns are those of table.csv"),
    ] {
        let run = test.run(&["sweep", "torque.toml", "--out", "results", "--y", y]);
        assert_eq!(run.status, 2, "{y}");
        assert!(run.err.contains(words), "{y}: {}", run.err);
        assert!(!test.path("results").exists());
    }
    let twice = ["sweep", "torque.toml", "--y", "unknowns", "--y", "unknowns"];
    assert!(test.run(&twice).err.contains("named twice"));
    let run = test.run(&["figure", "tornado", "results", "--y", "unknowns"]);
    assert!(run.status == 2 && run.err.contains("the figure tornado has its own"), "{}", run.err);
    let sample = TORQUES.replace("steps = 9", "distribution = \"uniform\"");
    test.write("sample.toml", format!("design = \"sobol\"\nsamples = 4\n{sample}"));
    let run = test.run(&["sweep", "sample.toml", "--y", "unknowns"]);
    assert!(run.status == 2 && run.err.contains("lines are drawn of a grid"), "{}", run.err);
}

#[test]
fn pictures_know_how_large_they_are() {
    let test = CliTest::new();
    for (size, width_mm) in [("page", 317.5), ("slide", 338.667), ("column", 85.0)] {
        for name in ["tip.png", "tip.pdf"] {
            let run = test.run(&fast(&["figure", "tip", "31", "--size", size, "--out", name, "--quiet"]));
            assert_eq!((run.status, run.err.as_str()), (0, ""));
        }
        let file = std::fs::File::open(test.path("tip.png")).expect("a file");
        let reader = png::Decoder::new(std::io::BufReader::new(file)).read_info().expect("a PNG");
        let info = reader.info();
        let dims = info.pixel_dims.expect("a resolution");
        assert!(dims.unit == png::Unit::Meter && dims.xppu == dims.yppu);
        let pasted_mm = 1000.0 * f64::from(info.width) / f64::from(dims.xppu);
        assert!((pasted_mm - width_mm).abs() < 0.05, "{size}: {pasted_mm} mm");
        let bytes = std::fs::read(test.path("tip.pdf")).expect("a file");
        let text = String::from_utf8_lossy(&bytes);
        let page = text.split_once("/MediaBox").expect("a page").1.split_once('[').expect("a box").1;
        let numbers: Vec<f64> = page
            .split(']')
            .next()
            .expect("its end")
            .split_whitespace()
            .map(|number| number.parse().expect("a number"))
            .collect();
        // A point is 1/72 of an inch.
        let paper_mm = (numbers[2] - numbers[0]) / 72.0 * 25.4;
        assert!((paper_mm - width_mm).abs() < 0.05, "{size}: {paper_mm} mm");
    }
}

#[test]
fn the_animation_is_a_gif_and_nothing_else_is() {
    let test = CliTest::new();
    let run = test.run(&fast(&["figure", "movement", "31", "--size", "slide", "--out", "m.gif", "--quiet"]));
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let bytes = std::fs::read(test.path("m.gif")).expect("a file");
    assert!(bytes.len() < 3_000_000, "{} bytes", bytes.len());
    let mut reader = gif::DecodeOptions::new().read_info(bytes.as_slice()).expect("a GIF");
    assert_eq!((reader.width(), reader.height()), (1280, 720));
    let mut delays = Vec::new();
    while let Some(frame) = reader.read_next_frame().expect("a frame") {
        delays.push(u32::from(frame.delay));
    }
    // Twelve seconds of ten frames each, and a rest of one and a half at the end.
    assert_eq!(delays.iter().sum::<u32>(), 1350);
    assert!(delays.len() > 100 && delays.last().is_some_and(|last| *last >= 150), "{delays:?}");
    for (args, words) in [
        (vec!["figure", "map", "31", "--out", "map.gif"], "--out map.gif: a GIF holds what moves"),
        (vec!["figure", "curve", "31", "--format", "gif"], "--format gif: a GIF holds what moves"),
        (vec!["figure", "map", "31", "--out", "map.jpg"], ".svg, .png, .pdf and .gif"),
    ] {
        let run = test.run(&fast(&args));
        assert!(run.status == 2 && run.err.contains(words), "{}", run.err);
    }
}
