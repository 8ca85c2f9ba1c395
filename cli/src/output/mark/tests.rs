use super::*;

fn what(form: Form) -> What {
    What::new(form, Purpose::Figure, "Upper canine, 2.5 mm of bone loss -->] \u{202e}", "a key")
}

fn seen(bytes: &[u8], what: &What) -> Seen {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("file");
    std::fs::write(&path, bytes).expect("written");
    // What a copy is known by is in the file alone.
    let copy = directory.path().join("copy");
    std::fs::copy(&path, &copy).expect("copied");
    look(&copy, what).expect("read")
}

/// The smallest files of each format that still have the places where a mark goes.
fn smallest(form: Form) -> Vec<u8> {
    match form {
        Form::Svg => b"<svg xmlns=\"http://www.w3.org/2000/svg\">\n<title>t</title>\n</svg>\n".to_vec(),
        Form::Html => b"<!DOCTYPE html>\n<html lang=\"en\"><head></head></html>\n".to_vec(),
        Form::Pdf => {
            b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\nxref\n0 1\ntrailer\n<<>>\nstartxref\n33\n%%EOF".to_vec()
        }
        Form::Gif => b"GIF89a\x01\0\x01\0\0\0\0\x3b".to_vec(),
        _ => Vec::new(),
    }
}

#[test]
fn a_mark_is_found_again_and_tells_what_it_is_of() {
    for form in [Form::Svg, Form::Html, Form::Pdf, Form::Gif] {
        let bytes = what(form).stamp(smallest(form));
        assert_eq!(seen(&bytes, &what(form)), Seen::Ours { other: None }, "{form:?}");
        let other = What::new(form, Purpose::Figure, "Lower canine", "another key");
        let about = "Upper canine, 2.5 mm of bone loss".to_owned();
        assert_eq!(seen(&bytes, &other), Seen::Ours { other: Some(about) }, "{form:?}");
        let lesson = What::new(form, Purpose::Lesson, "Lower canine", "a key");
        assert_eq!(seen(&bytes, &lesson), Seen::Else(Purpose::Figure), "{form:?}");
        assert_eq!(seen(&smallest(form), &what(form)), Seen::Foreign, "{form:?}");
    }
}

#[test]
fn a_picture_with_a_mark_is_the_same_picture() {
    let mut bytes = Vec::new();
    {
        let mut writer = png::Encoder::new(&mut bytes, 1, 1).write_header().expect("a header");
        writer.write_image_data(&[7]).expect("a pixel");
    }
    let stamped = what(Form::Png).stamp(bytes);
    assert_eq!(seen(&stamped, &what(Form::Png)), Seen::Ours { other: None });
    // A reader that checks the sum of every chunk.
    let mut reader = png::Decoder::new(std::io::Cursor::new(&stamped)).read_info().expect("a picture");
    let mut pixels = vec![0; reader.output_buffer_size().expect("small")];
    reader.next_frame(&mut pixels).expect("a frame");
    reader.finish().expect("an end");
    let texts = &reader.info().utf8_text;
    assert_eq!((pixels[0], texts.len()), (7, 1));
    assert_eq!(texts[0].keyword, "Software");
    assert!(texts[0].get_text().expect("text").starts_with("Made by gomphosis [a figure; Upper canine"));
}

#[test]
fn an_edited_case_is_its_editors() {
    let text = "tooth = \"upper canine\"\n";
    let what = sealed(Purpose::Case, "Upper canine", text);
    let bytes = what.stamp(text.as_bytes().to_vec());
    assert_eq!(unsealed(std::str::from_utf8(&bytes).expect("text")), text);
    assert_eq!(seen(&bytes, &what), Seen::Ours { other: None });
    let study = sealed(Purpose::Study, "Upper canine", text);
    assert_eq!(seen(&bytes, &study), Seen::Else(Purpose::Case));
    for at in 0..text.len() {
        let mut edited = bytes.clone();
        let at = bytes.len() - text.len() + at;
        edited[at] ^= 1;
        assert_eq!(seen(&edited, &what), Seen::Foreign, "byte {at}");
    }
    assert_eq!(seen(text.as_bytes(), &what), Seen::Foreign);
}

#[test]
fn documents_and_tables_are_known_by_their_names() {
    let result = What::new(Form::Json, Purpose::Result, "Upper canine", "{\"tooth\":\"upper canine\"}");
    let document = |schema: &str, tooth: &str| {
        format!("{{\n  \"schema\": \"{schema}\",\n  \"case\": {{\"tooth\": \"{tooth}\"}}\n}}\n").into_bytes()
    };
    let ours = |other: Option<&str>| Seen::Ours { other: other.map(str::to_owned) };
    assert_eq!(seen(&document("gomphosis.result/1", "upper canine"), &result), ours(None));
    assert_eq!(seen(&document("gomphosis.result/1", "lower canine"), &result), ours(Some("Lower canine")));
    assert_eq!(seen(&document("somebody.result/1", "upper canine"), &result), Seen::Foreign);
    assert_eq!(seen(b"{ \"schema\": ", &result), Seen::Foreign);
    let table = What::plain(Form::Csv, Purpose::Table);
    assert_eq!(seen(b"case,root_length_mm,status,reason,\n1,2,ok,,\n", &table), ours(None));
    assert_eq!(seen(b"case,patient\n1,2\n", &table), Seen::Foreign);
    let map = What::plain(Form::Csv, Purpose::Map);
    assert_eq!(seen(b"case,root_length_mm,status,reason,\n", &map), Seen::Foreign);
}
