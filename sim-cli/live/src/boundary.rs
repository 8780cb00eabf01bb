//! The boundary to WebAssembly: the only file with `unsafe`. Three functions over a byte buffer.
//!
//! What the other side does: `allocate(n)` for a text of `n` bytes, write it there,
//! `answer(place, n)`; at the place that comes back stand the length of the answer (four bytes,
//! little-endian) and the answer in UTF-8; then `free` both, the answer with its length plus four.
//!
//! Why it is sound: `allocate` gives a boxed slice away and `free` takes the same place and
//! length back, nothing else does; `answer` only reads the text, which the other side still
//! owns; WebAssembly has one thread here. The other side can pass a wrong place or length; it
//! then damages this module's memory and no other: a page's script does nothing but this.
//!
//! A panic ends the call (the script sees a trap). The bench is answered on a copy, so that the
//! bench before the act is still whole; the next call tells what went wrong and goes on from
//! there.
#![allow(unsafe_code)]

use crate::answer::error;
use crate::bench::Bench;
use std::panic;
use std::sync::{Mutex, Once};

static BENCH: Mutex<Option<Box<Bench>>> = Mutex::new(None);
static PANICKED: Mutex<Option<String>> = Mutex::new(None);
static WATCHED: Once = Once::new();

/// Room for a text of so many bytes.
#[unsafe(no_mangle)]
pub extern "C" fn allocate(length: usize) -> *mut u8 {
    Box::into_raw(vec![0u8; length].into_boxed_slice()).cast()
}

/// Answers the text that stands at a place.
///
/// # Safety
/// `text` is a place that [`allocate`] gave for `length` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn answer(text: *const u8, length: usize) -> *mut u8 {
    let text = unsafe { std::slice::from_raw_parts(text, length) };
    let answer = answer_text(&String::from_utf8_lossy(text));
    let mut bytes = (answer.len() as u32).to_le_bytes().to_vec();
    bytes.extend_from_slice(answer.as_bytes());
    Box::into_raw(bytes.into_boxed_slice()).cast()
}

/// Gives room back.
///
/// # Safety
/// `place` came from [`allocate`] for `length` bytes, or from [`answer`] with an answer of
/// `length - 4`, and is given back once.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn free(place: *mut u8, length: usize) {
    drop(unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(place, length)) });
}

fn answer_text(text: &str) -> String {
    WATCHED.call_once(|| {
        panic::set_hook(Box::new(|what| {
            if let Ok(mut panicked) = PANICKED.try_lock() {
                *panicked = Some(what.to_string());
            }
        }));
    });
    if let Some(what) = PANICKED.lock().ok().and_then(|mut panicked| panicked.take()) {
        return error(&format!(
            "The last act broke the model ({what}). It was not done: the bench stands as before it. Act again, or go back to a kept moment."
        ));
    }
    // The lock is not held while the act is done: a panic would leave it locked for ever.
    let kept = BENCH.lock().ok().and_then(|bench| bench.clone());
    let mut bench: Box<Bench> = kept.unwrap_or_default();
    let answer = bench.answer(text);
    if let Ok(mut kept) = BENCH.lock() {
        *kept = Some(bench);
    }
    answer
}
