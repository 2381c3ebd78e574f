//! The survey behind the ground, and work that leaves it.

use cutbank::checks::State;
use cutbank::outcome::Outcome;

use super::common::{Folder, run_job};
use super::{flagged, yard};

/// Four corners and the middle of a square of 30 m, shot from two set-ups and closed on the
/// benchmark; the far set-up sees its turning point at `fore` metres.
fn book(last_rod: &str, fore: &str) -> Outcome {
    let text = format!(
        "point,x,y,type,rod,distance\nBM,,,BS,1.500,20\nA,0,0,IS,1.40,20\nB,30,0,IS,1.30,20\nT,,,FS,1.200,{fore}\n\
         T,,,BS,1.100,20\nC,30,30,IS,1.20,20\nD,0,30,IS,1.25,20\nE,15,14,IS,1.22,20\nBM,,,FS,{last_rod},20\n"
    );
    let job = "[job]\nname = \"t\"\nunits = \"m\"\n[[survey]]\nlevels = \"book.csv\"\nrod = \"metric\"\n\
               benchmark = { name = \"BM\", level = 100.0, words = \"step\" }\n";
    run_job(Folder::default().with("book.csv", &text), job)
}

#[test]
fn a_book_that_does_not_close() {
    // 1.5 - 1.2 + 1.1 - 1.4 = 0 closes; a decimetre off does not.
    assert!(flagged(&book("1.400", "20"), "SV-1").is_empty());
    let off = book("1.300", "20");
    assert_eq!(flagged(&off, "SV-1").len(), 1);
    let slips = off.rules.iter().find(|a| a.rule.id == "SV-2").unwrap();
    assert!(
        slips.state == State::Checked && slips.words.contains("can be the mistake"),
        "{}",
        slips.words
    );
}

#[test]
fn sights_of_uneven_length() {
    // 150 ft, and 30 ft between back- and foresight (common practice, no source).
    assert!(flagged(&book("1.400", "29"), "SV-3").is_empty());
    assert_eq!(flagged(&book("1.400", "30"), "SV-3").len(), 1);
    assert_eq!(flagged(&book("1.400", "46"), "SV-3").len(), 1);
}

#[test]
fn work_that_leaves_the_survey() {
    let pad = |x: f64| {
        yard(
            |_, _| 10.0,
            &format!(
                "[[feature]]\nkind = \"basin\"\nname = \"Pit\"\noutline = [[{x}, 20.0], [{0}, 20.0], [{0}, 24.0], [{x}, 24.0]]\n\
                 floor = \"depth:1.0\"\nside_run_per_rise = 2.0\ncorners = \"mitre\"\n",
                x + 4.0
            ),
        )
    };
    assert!(flagged(&pad(40.0), "SV-4").is_empty());
    assert_eq!(flagged(&pad(55.0), "SV-4").len(), 1);
}
