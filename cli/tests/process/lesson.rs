use serde_json::Value;

use crate::support::{CliTest, fast};

/// The document inside the page.
fn embedded(page: &str) -> Value {
    let start =
        page.find("id=\"lesson-data\">").expect("the page holds its data") + "id=\"lesson-data\">".len();
    let end = start + page[start..].find("</script>").expect("the data end");
    serde_json::from_str(&page[start..end]).expect("the data are JSON")
}

#[test]
fn the_page_holds_the_numbers_of_the_command_line_and_fetches_nothing() {
    let test = CliTest::new();
    let run = test.run(&fast(&["lesson", "14", "--bone-loss", "4", "-q", "--out", "page.html"]));
    assert_eq!((run.status, run.err.as_str(), run.out.as_str()), (0, "", ""));
    let page = test.read("page.html");
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    // The only address in it names the vocabulary of SVG; nothing is fetched, and the page forbids it.
    let addresses = page.matches("http://").count() + page.matches("https://").count();
    assert_eq!(addresses, page.matches("http://www.w3.org/2000/svg").count());
    assert!(page.contains("default-src 'none'"));
    for tag in ["<link rel=\"stylesheet", "<img", " src=", "@import", "url(h"] {
        assert!(!page.contains(tag), "{tag}");
    }
    let data = embedded(&page);
    let teeth = data["teeth"].as_array().expect("teeth");
    assert_eq!(teeth.len(), 2);
    for (tooth, loss) in teeth.iter().zip(["0", "4"]) {
        // Its own command gives the same bits.
        let command = tooth["command"].as_str().expect("a command");
        assert!(command.starts_with("gomphosis solve 14 --bodies rigid"), "{command}");
        let set = format!("bone.loss_mm={loss}");
        let solve = test.run(&fast(&["solve", "14", "--set", &set, "--json"]));
        let result: Value = serde_json::from_str(&solve.out).expect("JSON");
        for part in ["point_mm", "matrix"] {
            assert_eq!(tooth["compliance"][part], result["compliance"][part]);
        }
        assert_eq!(tooth["load"]["height_mm"], result["bucco_lingual"]["load"]["height_mm"]);
    }
    let section = &teeth[0]["section"];
    for part in ["silhouette", "tooth", "cancellous_bone", "cortical_bone", "ligament"] {
        assert!(!section[part].as_array().expect("a list").is_empty(), "{part}");
    }
}

#[test]
fn without_a_case_the_lesson_is_about_the_premolar_with_and_without_bone() {
    let test = CliTest::new();
    let run = test.run(&fast(&["lesson"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.out.contains("lesson.html"), "{}", run.out);
    let data = embedded(&test.read("lesson.html"));
    let teeth = data["teeth"].as_array().expect("teeth");
    let titles: Vec<&str> = teeth.iter().filter_map(|t| t["title"].as_str()).collect();
    assert_eq!(titles, ["Upper first premolar, healthy bone", "Upper first premolar, 4 mm of bone lost"]);
}

#[test]
fn in_german_the_page_computes_the_same_and_speaks_german() {
    let test = CliTest::new();
    let own = ["lesson", "11", "--language", "de", "-q", "--out", "lektion.html"];
    let run = test.run(&fast(&own));
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let page = test.read("lektion.html");
    assert!(page.contains("<html lang=\"de\">") && page.contains("Was auf ihn wirkt"));
    let tooth = &embedded(&page)["teeth"][0];
    assert_eq!(tooth["title"], "Oberer mittlerer Schneidezahn, gesunder Knochen");
    assert_eq!(tooth["words"]["top"], "Schneidekante");
    let solve = test.run(&fast(&["solve", "11", "--json"]));
    let result: Value = serde_json::from_str(&solve.out).expect("JSON");
    for part in ["point_mm", "matrix"] {
        assert_eq!(tooth["compliance"][part], result["compliance"][part]);
    }
}
