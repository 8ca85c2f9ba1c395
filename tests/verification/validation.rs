//! The studies of `gomphosis validate`: the page is what the command prints, with every disagreement and its likely
//! reason. Nothing is forced to agree; a value that leaves or enters its band must be seen in the page.

use gomphosis_cli::validate::{find, report, studies};
use gomphosis_cli::verify::report::block;
use gomphosis_mesh_gen::Silent;
use gomphosis_tests::table::same_line;

const PAGE: &str = include_str!("../../cli/docs/validation.md");
const HINT: &str = "`cargo run --release -- validate --into cli/docs/validation.md` makes the tables anew";

fn printed() -> &'static str {
    block(PAGE, report::BEGIN, report::END).expect("the page has the marks of the tables")
}

/// The lines of a study in the page, its heading first.
fn section(title: &str) -> Vec<&'static str> {
    let heading = format!("## {title}");
    let from = printed().lines().skip_while(move |line| *line != heading);
    let end = |(k, line): &(usize, &str)| *k == 0 || !line.starts_with("## ");
    from.enumerate().take_while(end).map(|(_, line)| line).collect()
}

fn check(name: &str) {
    let outcome = find(name).unwrap().outcome(&Silent);
    if let Err(error) = &outcome.results {
        panic!("{name}: {error}");
    }
    assert!(!outcome.findings().is_empty(), "{name} found nothing");
    for finding in outcome.findings() {
        assert!(finding.row.got.is_finite(), "{finding:?}");
        assert!(finding.inside() || !finding.reason.is_empty(), "outside without a reason: {finding:?}");
    }
    let title = outcome.study.title;
    let whole = report::markdown(std::slice::from_ref(&outcome));
    let printed = whole.lines().skip_while(|line| !line.starts_with("## "));
    let printed = printed.collect::<Vec<_>>();
    let page = section(title);
    let trimmed = |lines: &[&str]| lines.iter().rposition(|l| !l.is_empty()).map_or(0, |last| last + 1);
    let (printed, page) = (&printed[..trimmed(&printed)], &page[..trimmed(&page)]);
    assert_eq!(printed.len(), page.len(), "{name}: lines of the study; {HINT}");
    for (printed, page) in printed.iter().zip(page) {
        if let Err(difference) = same_line(printed, page, None) {
            panic!("{difference}\n{HINT}");
        }
    }
}

macro_rules! catalogue {
    ($($test:ident: $name:literal,)*) => {
        $(
            #[test]
            fn $test() {
                check($name);
            }
        )*

        #[test]
        fn every_study_has_its_test() {
            assert_eq!([$($name),*], studies::ALL.map(|study| study.name));
        }
    };
}

catalogue! {
    tanne_1988: "tanne-1988",
    single_roots: "single-roots",
    vollmer_1999: "vollmer-1999",
    upper_first_molar: "upper-first-molar",
    lower_first_molar: "lower-first-molar",
    taught_ratios: "taught-ratios",
    mobility: "mobility",
    directions: "directions",
}

/// The counts of the page, and its headings.
#[test]
fn page_counts_what_it_shows() {
    let verdicts = |word: &str| printed().lines().filter(|line| line.contains(word)).count();
    let (inside, outside) = (verdicts("| inside |"), verdicts("| outside |"));
    let counts = report::counts_of(inside, inside + outside);
    assert!(printed().contains(&counts), "the page does not say: {counts}");
    let headings = printed().lines().filter_map(|line| line.strip_prefix("## ")).collect::<Vec<_>>();
    assert_eq!(headings, studies::ALL.map(|study| study.title));
}
