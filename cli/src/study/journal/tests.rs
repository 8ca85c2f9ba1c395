use super::*;

fn head() -> Head {
    Head::new(0x1234, 10, Shard::WHOLE)
}

/// A study of ten cases, as the head says.
fn study() -> Study {
    let text = "[case]\ntooth = 31\n[vary]\nroot.length_mm = { from = 11, to = 13, steps = 10 }\n";
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("study.toml");
    std::fs::write(&path, text).expect("written");
    Study::load(&path).expect("a study")
}

fn open(path: &Path, resume: Resume) -> Result<Opened, Failure> {
    Journal::open(path, &head(), resume, &study())
}

fn cases(found: &Found) -> Vec<u32> {
    found.rows.iter().map(|(case, _)| *case).collect()
}

#[test]
fn whatever_is_cut_off_the_end_the_whole_lines_before_it_are_there() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    {
        let Opened { mut journal, done, .. } = open(&path, Resume::No).expect("opened");
        assert!(done.is_empty());
        for case in 0..5 {
            journal.append(&row_line(case, &format!("a\t{case}.5\tb"))).expect("appended");
        }
    }
    let whole = std::fs::read(&path).expect("bytes");
    let ends: Vec<usize> =
        whole.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(k, _)| k + 1).collect();
    for length in 0..=whole.len() {
        std::fs::write(&path, &whole[..length]).expect("written");
        let lines = ends.iter().filter(|end| **end <= length).count();
        match read(&path).expect("read") {
            None => assert_eq!(lines, 0, "{length}"),
            Some(found) => {
                assert_eq!(found.rows.len() + 1, lines, "{length}");
                assert_eq!(found.damaged, 0);
            }
        }
        // Going on: the torn line is gone, and the rest is the same as ever.
        let Opened { mut journal, done, .. } = open(&path, Resume::Yes).expect("opened");
        for case in 0..5 {
            if !done.contains(&case) {
                journal.append(&row_line(case, &format!("a\t{case}.5\tb"))).expect("appended");
            }
        }
        drop(journal);
        assert!(std::fs::read(&path).expect("bytes") == whole, "cut at {length}");
    }
}

#[test]
fn a_flipped_bit_costs_its_own_line_only() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    {
        let Opened { mut journal, .. } = open(&path, Resume::No).expect("opened");
        for case in 0..4 {
            journal.append(&row_line(case, "some fields")).expect("appended");
        }
    }
    let whole = std::fs::read(&path).expect("bytes");
    let second = whole.split(|b| *b == b'\n').take(2).map(|l| l.len() + 1).sum::<usize>();
    let length = row_line(1, "some fields").len();
    // The end of the line is another matter: without it the next line is damaged too.
    for at in second..second + length - 1 {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x04;
        std::fs::write(&path, &bytes).expect("written");
        let found = read(&path).expect("read").expect("a journal");
        assert!(!cases(&found).contains(&1), "{at}");
        assert!(cases(&found).contains(&3) && found.damaged == 1, "{at}");
    }
}

#[test]
fn a_place_leads_back_to_the_fields() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    let Opened { mut journal, .. } = open(&path, Resume::No).expect("opened");
    journal.append(&row_line(7, "1.5\tµm\tlast")).expect("appended");
    let found = read(&path).expect("read").expect("a journal");
    let (case, place) = found.rows[0];
    let bytes = std::fs::read(&path).expect("bytes");
    let at = place.offset as usize;
    assert_eq!((case, &bytes[at..at + place.length as usize]), (7, "1.5\tµm\tlast".as_bytes()));
}

#[test]
fn two_runs_do_not_write_one_journal() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    let first = open(&path, Resume::No).expect("opened");
    let second = open(&path, Resume::Yes).expect_err("it is being written");
    let who = second.to_string();
    assert!(who.contains("a run of this study") && who.ends_with("is writing here"), "{who}");
    if cfg!(target_os = "linux") && std::path::Path::new("/proc/locks").exists() {
        assert!(who.contains(&format!("process {}", std::process::id())), "{who}");
    }
    drop(first);
    open(&path, Resume::Yes).expect("free again");
}

#[test]
fn a_file_of_somebody_else_is_left_alone() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    std::fs::write(&path, "dear diary\n").expect("written");
    for resume in [Resume::No, Resume::Yes, Resume::Restart] {
        let refused = open(&path, resume).expect_err("no journal");
        assert!(refused.to_string().contains("this is no journal of a study"), "{refused}");
    }
    assert_eq!(std::fs::read_to_string(&path).expect("text"), "dear diary\n");
}

#[test]
fn a_damaged_head_costs_no_row() {
    let study = study();
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    let fields = |case: u32| {
        let inputs: Vec<String> = study.values(case as usize).iter().map(Cell::text).collect();
        format!("{}\tok\t1.5", inputs.join("\t"))
    };
    {
        let Opened { mut journal, .. } = open(&path, Resume::No).expect("opened");
        for case in 0..4 {
            journal.append(&row_line(case, &fields(case))).expect("appended");
        }
    }
    let whole = std::fs::read(&path).expect("bytes");
    let head_length = whole.iter().position(|b| *b == b'\n').expect("a line");
    for at in (0..head_length).chain([head_length]) {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x04;
        std::fs::write(&path, &bytes).expect("written");
        // Without its end the head takes the first row with it.
        let kept = if at == head_length { vec![1, 2, 3] } else { vec![0, 1, 2, 3] };
        let opened = open(&path, Resume::Yes).expect("its rows are those of the study");
        assert_eq!(opened.done, kept, "byte {at}");
        drop(opened);
        // From now on the file says again what it belongs to.
        let found = read(&path).expect("read").expect("a journal");
        assert_eq!((found.head.as_ref(), cases(&found)), (Some(&head()), kept), "byte {at}");
    }
    // Rows of something else are not taken for its own.
    let mut bytes = row_line(0, "9.0\tok\t1.5").into_bytes();
    bytes.splice(0..0, *b"damaged\n");
    std::fs::write(&path, &bytes).expect("written");
    let refused = open(&path, Resume::Yes).expect_err("rows of another study");
    assert!(refused.to_string().contains("its rows are not those of this study"), "{refused}");
    assert_eq!(std::fs::read(&path).expect("bytes"), bytes);
}

#[cfg(unix)]
#[test]
fn the_holder_of_a_lock_is_found_in_the_list_of_the_system() {
    let locks = "1: POSIX  ADVISORY  WRITE 900 fd:01:131 0 EOF\n2: FLOCK  ADVISORY  WRITE 4711 fd:01:131 0 EOF\n\
                 2: -> FLOCK  ADVISORY  WRITE 4712 fd:01:131 0 EOF\n3: FLOCK  ADVISORY  WRITE 0 fd:01:7 0 EOF\n";
    assert_eq!(holder_in(locks, 131), Some(4711));
    assert_eq!(holder_in(locks, 7), None);
    assert_eq!(holder_in(locks, 1), None);
}
