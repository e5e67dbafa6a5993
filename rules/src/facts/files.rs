//! Which files an entry of the configuration is for.

use globset::{GlobBuilder, GlobSet, GlobSetBuilder};

use super::keys::Keys;

/// Which files an entry is for.
#[derive(Debug, Clone, Default)]
pub(super) enum Files {
    #[default]
    All,
    Matching(GlobSet),
}

impl Files {
    pub(super) fn contains(&self, relative: &str) -> bool {
        match self {
            Files::All => true,
            Files::Matching(globs) => globs.is_match(relative),
        }
    }

    /// Reads the key `files`. A pattern without `/` is for the file's name in any folder, one
    /// that ends with `/` for all of a folder; `*` stays within a folder, `**` does not; capitals
    /// do not matter.
    pub(super) fn read(keys: &mut Keys<'_, '_>) -> Files {
        let Some(patterns) = keys.texts("files") else {
            return Files::All;
        };
        let mut set = GlobSetBuilder::new();
        for pattern in patterns {
            let written = pattern.get_ref();
            let mut glob = written.strip_prefix('/').unwrap_or(written).to_owned();
            if !written.contains('/') {
                glob = format!("**/{glob}");
            } else if written.ends_with('/') {
                glob.push_str("**");
            }
            let built = GlobBuilder::new(&glob)
                .literal_separator(true)
                .case_insensitive(true)
                .build();
            match built {
                Ok(glob) => {
                    set.add(glob);
                }
                Err(error) => keys.slip(
                    pattern.span(),
                    format!("`{written}` is no file pattern: {}", error.kind()),
                ),
            }
        }
        // Only patterns that were built are in the set, so that it builds too.
        set.build().map_or(Files::All, Files::Matching)
    }
}
