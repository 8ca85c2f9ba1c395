//! The console's door: what goes to standard output and standard error passes here, and characters that would move a cursor,
//! change a colour or turn the direction of reading are written as escapes. Texts of files, titles, names and paths reach a
//! terminal only in this way.

use std::borrow::Cow;
use std::io::{self, Write};

/// Is this a character that cannot be seen but acts: a control character (line ends and tabs too), a mark of direction or of
/// no width?
pub(crate) fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
            | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// A hidden character as an escape that JSON and TOML read back: `\u001b`.
fn escape(c: char, out: &mut String) {
    for unit in c.encode_utf16(&mut [0; 2]) {
        // A string takes whatever is written to it.
        let _ = std::fmt::Write::write_fmt(out, format_args!("\\u{unit:04x}"));
    }
}

/// A text on one line: every hidden character is an escape.
pub(crate) fn one_line(text: &str) -> Cow<'_, str> {
    cleaned(text, |_| false)
}

/// A text of lines: line ends and tabs stay.
pub(crate) fn lines(text: &str) -> Cow<'_, str> {
    cleaned(text, |c| matches!(c, '\n' | '\t'))
}

fn cleaned(text: &str, stays: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.chars().any(|c| is_hidden(c) && !stays(c)) {
        return Cow::Borrowed(text);
    }
    let mut clean = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_hidden(c) && !stays(c) {
            escape(c, &mut clean);
        } else {
            clean.push(c);
        }
    }
    Cow::Owned(clean)
}

/// A stream whose texts are cleaned on their way out. Bytes that are no UTF-8 become the replacement character.
pub(crate) struct Door<'a> {
    stream: &'a mut (dyn Write + Send),
    /// The beginning of a character whose rest is still to come.
    pending: Vec<u8>,
}

impl<'a> Door<'a> {
    /// A door in front of a stream.
    pub(crate) fn new(stream: &'a mut (dyn Write + Send)) -> Self {
        Self { stream, pending: Vec::new() }
    }

    /// Writes a text that brings colours of our own: its plain form must be clean, or that is written instead.
    pub(crate) fn styled(&mut self, styled: &str, plain: &str) -> io::Result<()> {
        if matches!(lines(plain), Cow::Borrowed(_)) {
            self.stream.write_all(styled.as_bytes())
        } else {
            self.write_all(plain.as_bytes())
        }
    }
}

impl Write for Door<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut whole = std::mem::take(&mut self.pending);
        whole.extend_from_slice(bytes);
        // A character may be cut in two by whoever writes.
        let cut = match std::str::from_utf8(&whole) {
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            _ => whole.len(),
        };
        self.pending = whole.split_off(cut);
        self.stream.write_all(lines(&String::from_utf8_lossy(&whole)).as_bytes())?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.stream.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(texts: &[&[u8]]) -> String {
        let mut out: Vec<u8> = Vec::new();
        let mut door = Door::new(&mut out);
        for text in texts {
            door.write_all(text).expect("memory takes everything");
        }
        String::from_utf8(out).expect("a text")
    }

    #[test]
    fn nothing_that_acts_passes_the_door() {
        assert_eq!(through(&["plain, ± µm\n\tindented\n".as_bytes()]), "plain, ± µm\n\tindented\n");
        assert_eq!(
            through(&["red \u{1b}[31m, bell \u{7}\r\n".as_bytes()]),
            "red \\u001b[31m, bell \\u0007\\u000d\n"
        );
        assert_eq!(through(&["left \u{202e}right\u{9b}".as_bytes()]), "left \\u202eright\\u009b");
        let all: String = (0..=0x0010_ffff).filter_map(char::from_u32).collect();
        assert!(through(&[all.as_bytes()]).chars().all(|c| !is_hidden(c) || matches!(c, '\n' | '\t')));
    }

    #[test]
    fn a_character_that_comes_in_two_pieces_is_whole_again() {
        let bytes = "°".as_bytes();
        assert_eq!(through(&[&bytes[..1], &bytes[1..]]), "°");
        assert_eq!(through(&[b"a\xffb"]), "a\u{fffd}b");
    }

    #[test]
    fn what_json_holds_stays_the_same_text() {
        let text = serde_json::to_string("a\u{202e}b\u{1b}\u{e0041}").expect("a text");
        let read: String = serde_json::from_str(&through(&[text.as_bytes()])).expect("JSON");
        assert_eq!(read, "a\u{202e}b\u{1b}\u{e0041}");
    }
}
