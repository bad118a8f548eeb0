//! The viewer in the browser.
