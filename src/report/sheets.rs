//! How CSV is written: known here only.

/// A head and its rows as CSV; every row has as many cells as the head.
pub fn csv_text<S: AsRef<str>>(head: &[S], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Rows of one length written into memory cannot fail.
    let _ = writer.write_record(head.iter().map(AsRef::as_ref));
    for row in rows {
        let _ = writer.write_record(&row);
    }
    writer
        .into_inner()
        .ok()
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default()
}
