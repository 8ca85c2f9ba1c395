use super::*;

/// A square that runs from left to right on a plain ground, over an area of all colours.
fn document() -> String {
    let stripe = |k: i32| {
        let colour = format!("rgb({},90,{})", 4 * k, 255 - 4 * k);
        format!("<rect x=\"{k}\" y=\"24\" width=\"1\" height=\"8\" fill=\"{colour}\"/>")
    };
    let stripes: Vec<String> = (0..64).map(stripe).collect();
    let stripes = stripes.concat();
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"64\" height=\"32\" viewBox=\"0 0 64 32\">\
         <rect width=\"64\" height=\"32\" fill=\"#fffdf8\"/>{stripes}\
         <g transform=\"translate(0 4)\"><animateTransform attributeName=\"transform\" type=\"translate\" \
         values=\"0 4;8 4;16 4;16 4;16 4\" dur=\"0.5s\" calcMode=\"discrete\"/>\
         <rect width=\"8\" height=\"8\" fill=\"#204080\"/></g></svg>"
    )
}

#[test]
fn a_reader_sees_the_frames_that_were_drawn() {
    let document = document();
    let file = bytes(&document, [64.0, 32.0], &|| false).expect("encoded").expect("not stopped");
    let mut options = gif::DecodeOptions::new();
    options.set_color_output(gif::ColorOutput::RGBA);
    let mut reader = options.read_info(file.as_slice()).expect("a GIF");
    assert_eq!((reader.width(), reader.height()), (64, 32));
    let film = Film::new(&document).expect("understood").expect("it moves");
    let mut canvas = vec![[0_u8; 3]; 64 * 32];
    let (mut frames, mut time) = (0, 0);
    while let Some(frame) = reader.read_next_frame().expect("a frame") {
        for (k, pixel) in frame.buffer.chunks_exact(4).enumerate().filter(|(_, pixel)| pixel[3] > 0) {
            let (x, y) = (k % usize::from(frame.width), k / usize::from(frame.width));
            let at = (y + usize::from(frame.top)) * 64 + x + usize::from(frame.left);
            canvas[at] = [pixel[0], pixel[1], pixel[2]];
        }
        // What is shown is the drawing at that moment; its few colours are all in the palette.
        let drawn = picture(&film.at(0.01 * f64::from(time)), [64.0, 32.0]).expect("drawn");
        assert!(canvas == drawn, "frame {frames} at {time}");
        if frames > 0 {
            // Only the part that moved.
            assert!(frame.height == 8 && frame.width == 16, "{} x {}", frame.width, frame.height);
        }
        frames += 1;
        time += frame.delay;
    }
    // The three last values are the same picture.
    assert_eq!((frames, time), (3, 50));
    assert!(matches!(reader.repeat(), Repeat::Infinite));
}

#[test]
fn many_colours_come_near() {
    // More colours than a palette holds: a field of 64 by 64.
    let field: Vec<Rgb> = (0..64).flat_map(|r| (0..64).map(move |g| [4 * r, 4 * g, 128])).collect();
    let mut picture = vec![[255, 253, 248]; 5000];
    picture.extend(&field);
    let palette = Palette::new(std::slice::from_ref(&picture));
    assert!(palette.colours.len() < COLOURS);
    let indices = palette.indices(&picture);
    assert_eq!(palette.colours[usize::from(indices[0])], [255, 253, 248], "the ground is exact");
    let worst = field.iter().zip(&indices[5000..]).flat_map(|(colour, index)| {
        let shown = palette.colours[usize::from(*index)];
        (0..3).map(move |k| colour[k].abs_diff(shown[k])).collect::<Vec<u8>>()
    });
    // A cell of a palette of 135 colours in that plane is 22 wide.
    assert!(worst.max().expect("pixels") <= 30);
}

#[test]
fn a_stop_is_heard_and_a_still_drawing_refused() {
    assert!(bytes(&document(), [64.0, 32.0], &|| true).expect("no failure").is_none());
    let still = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"4\" height=\"4\"/>";
    assert!(bytes(still, [4.0, 4.0], &|| false).is_err());
}
