use super::*;

fn head() -> Head {
    Head::new(0x1234, 10, Shard::WHOLE)
}

fn cases(found: &Found) -> Vec<u32> {
    found.rows.iter().map(|(case, _)| *case).collect()
}

#[test]
fn whatever_is_cut_off_the_end_the_whole_lines_before_it_are_there() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    {
        let (mut journal, done, _) = Journal::open(&path, &head(), Resume::No).expect("opened");
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
        let (mut journal, done, _) = Journal::open(&path, &head(), Resume::Yes).expect("opened");
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
        let (mut journal, ..) = Journal::open(&path, &head(), Resume::No).expect("opened");
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
    let (mut journal, ..) = Journal::open(&path, &head(), Resume::No).expect("opened");
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
    let first = Journal::open(&path, &head(), Resume::No).expect("opened");
    let second = Journal::open(&path, &head(), Resume::Yes).expect_err("it is being written");
    assert!(second.to_string().contains("another run of this study is writing here"), "{second}");
    drop(first);
    Journal::open(&path, &head(), Resume::Yes).expect("free again");
}

#[test]
fn a_file_of_somebody_else_is_left_alone() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("rows.journal");
    std::fs::write(&path, "dear diary\n").expect("written");
    for resume in [Resume::No, Resume::Yes] {
        let refused = Journal::open(&path, &head(), resume).expect_err("no journal");
        assert!(refused.to_string().contains("this is no journal of a study"), "{refused}");
    }
    assert_eq!(std::fs::read_to_string(&path).expect("text"), "dear diary\n");
}
