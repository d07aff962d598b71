//! What the end-to-end tests share: where things are.

use std::path::{Path, PathBuf};

/// The top of the tree.
pub fn top() -> PathBuf {
    // The package lies one folder below the top.
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}
