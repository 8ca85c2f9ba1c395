//! The languages of labels. English stands in the code; every other language is a table in `assets/words` from the
//! English text to its own, with `{}` for what is filled in. A text that a table lacks stays English.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use clap::ValueEnum;

/// A language of labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum Language {
    /// English.
    #[default]
    En,
    /// German.
    De,
}

/// English texts and those of another language.
type Table = BTreeMap<String, String>;

/// The table of figures, and that of the lesson.
const GERMAN: [&str; 2] =
    [include_str!("../../assets/words/de.toml"), include_str!("../../assets/words/de-lesson.toml")];

impl Language {
    fn table(self) -> Option<&'static Table> {
        static GERMAN_TABLE: OnceLock<Table> = OnceLock::new();
        match self {
            Self::En => None,
            // A test reads the table; were it broken, labels would stay English.
            Self::De => Some(GERMAN_TABLE.get_or_init(|| {
                let tables = GERMAN.map(|text| toml::from_str::<Table>(text).unwrap_or_default());
                tables.into_iter().flatten().collect()
            })),
        }
    }

    /// A text in this language.
    pub(crate) fn say(self, english: &str) -> String {
        let Some(table) = self.table() else { return english.to_owned() };
        if let Some(text) = table.get(english) {
            return text.clone();
        }
        #[cfg(test)]
        missing(english);
        english.to_owned()
    }

    /// A text in this language with its gaps `{}` filled in order, or by number (`{0}`) where the language has another
    /// order.
    pub(crate) fn tell(self, english: &str, gaps: &[&str]) -> String {
        let mut text = self.say(english);
        for (k, gap) in gaps.iter().enumerate() {
            let numbered = format!("{{{k}}}");
            text = if text.contains(&numbered) {
                text.replace(&numbered, gap)
            } else {
                text.replacen("{}", gap, 1)
            };
        }
        text
    }

    /// What pages say of their language: its code after BCP 47.
    pub(crate) fn code(self) -> &'static str {
        match self {
            Self::En => "en",
            Self::De => "de",
        }
    }

    /// The texts of a script in this language: those that stand in it between quotation marks.
    pub(crate) fn texts_of(self, script: &str) -> BTreeMap<&'static str, &'static str> {
        let all = self.table().into_iter().flatten();
        all.filter(|(english, _)| script.contains(&format!("\"{english}\"")))
            .map(|(english, own)| (english.as_str(), own.as_str()))
            .collect()
    }

    /// Does the table have a text?
    #[cfg(test)]
    pub(crate) fn knows(self, english: &str) -> bool {
        self.table().is_none_or(|table| table.contains_key(english))
    }

    /// The mark between whole and part of a number.
    pub(crate) fn decimal_mark(self) -> &'static str {
        match self {
            Self::En => ".",
            Self::De => ",",
        }
    }
}

/// Texts that a table lacked, for the test.
#[cfg(test)]
pub(super) static MISSING: std::sync::Mutex<std::collections::BTreeSet<String>> =
    std::sync::Mutex::new(std::collections::BTreeSet::new());

#[cfg(test)]
fn missing(english: &str) {
    MISSING.lock().expect("no test panics while it holds it").insert(english.to_owned());
}
