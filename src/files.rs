//! The one door through which bytes, the date and worker threads come in.
//!
//! The engine opens no file and asks no clock: it is handed a [`Files`] and a [`Workers`].
//! Disk, built-in example, browser upload and tests are implementations of them.

/// Reads inputs by the name the job gives them.
pub trait Files {
    /// Whole content of one file.
    ///
    /// # Errors
    ///
    /// a sentence for the user: missing, a directory, too large, no permission
    fn read(&self, name: &str) -> Result<Vec<u8>, String>;

    /// Today's date as `YYYY-MM-DD`.
    fn today(&self) -> String;
}

/// Runs independent pieces of work, on as many threads as it likes.
///
/// Results are asked for by index and summed in order by the caller, so that the number of
/// threads never changes a bit of the answer.
pub trait Workers: Sync {
    /// Calls `work(0)`, `work(1)`, ... `work(count - 1)`, in any order, and returns when all are done.
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync));
}

/// All work on the calling thread.
#[derive(Clone, Copy, Debug, Default)]
pub struct OneThread;

impl Workers for OneThread {
    fn for_each(&self, count: usize, work: &(dyn Fn(usize) + Sync)) {
        for index in 0..count {
            work(index);
        }
    }
}

/// Results of `count` pieces of work, in order.
pub fn collect<T: Send + Sync>(
    workers: &dyn Workers,
    count: usize,
    work: &(dyn Fn(usize) -> T + Sync),
) -> Vec<T> {
    let slots: Vec<std::sync::OnceLock<T>> = std::iter::repeat_with(std::sync::OnceLock::new)
        .take(count)
        .collect();
    workers.for_each(count, &|index| {
        let _ = slots[index].set(work(index));
    });
    slots
        .into_iter()
        .filter_map(std::sync::OnceLock::into_inner)
        .collect()
}
