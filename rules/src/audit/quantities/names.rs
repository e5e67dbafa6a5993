//! Which program a row means: by its path or the end of it, by its file name, or by an O number.

use std::collections::HashMap;

/// A program that a row may name.
#[derive(Debug, Clone, Copy)]
pub struct Named<'a> {
    /// Its path, `/` between folders.
    pub path: &'a str,
    /// The O numbers in it.
    pub numbers: &'a [i64],
}

pub(super) fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// Programs by what a row may call them.
pub(super) struct Index<'a> {
    programs: &'a [Named<'a>],
    by_name: HashMap<&'a str, Vec<usize>>,
    by_stem: HashMap<&'a str, Vec<usize>>,
    by_number: HashMap<i64, Vec<usize>>,
}

impl<'a> Index<'a> {
    pub(super) fn of(programs: &'a [Named<'a>]) -> Index<'a> {
        let mut index = Index {
            programs,
            by_name: HashMap::new(),
            by_stem: HashMap::new(),
            by_number: HashMap::new(),
        };
        for (at, one) in programs.iter().enumerate() {
            let name = file_name(one.path);
            index.by_name.entry(name).or_default().push(at);
            index.by_stem.entry(stem(name)).or_default().push(at);
            for number in one.numbers {
                let all = index.by_number.entry(*number).or_default();
                if all.last() != Some(&at) {
                    all.push(at);
                }
            }
        }
        index
    }

    /// The programs of a key: the whole path before its end, that before the name without the
    /// extension, that before the number.
    pub(super) fn find(&self, key: &str) -> Vec<usize> {
        let key = key.replace('\\', "/");
        let key = key.trim_start_matches("./");
        let named = self.by_name.get(file_name(key));
        let named = named.map_or(&[][..], Vec::as_slice);
        let path = |at: &usize| self.programs[*at].path;
        let whole: Vec<usize> = named.iter().copied().filter(|at| path(at) == key).collect();
        if !whole.is_empty() {
            return whole;
        }
        let ends = |at: &usize| {
            let before = path(at).strip_suffix(key);
            before.is_some_and(|before| before.is_empty() || before.ends_with('/'))
        };
        let tail: Vec<usize> = named.iter().copied().filter(ends).collect();
        if !tail.is_empty() {
            return tail;
        }
        if let Some(all) = self.by_stem.get(key) {
            return all.clone();
        }
        let digits = key.trim_start_matches(['O', 'o', ':', '%']);
        let number = digits.parse::<i64>().ok();
        number
            .and_then(|number| self.by_number.get(&number))
            .cloned()
            .unwrap_or_default()
    }
}
