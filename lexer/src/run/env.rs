//! What every variable is worth at a block.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use crate::expression::{Key, Scope, Value, Why};

/// Unknowns that get a name of their own; more are taken together.
const NAMED: usize = 4_096;

/// Variables of one call.
#[derive(Debug, Clone, Default)]
pub(super) struct Locals {
    values: HashMap<Key, Value>,
    /// What a variable is worth that was not set: empty in a macro that was called with arguments,
    /// not known elsewhere.
    pub(super) empty: bool,
    /// A sum over the values that changes with any of them.
    state: u64,
}

/// All variables.
#[derive(Debug)]
pub(super) struct Env {
    /// Of the calls, outermost first.
    levels: Vec<Locals>,
    common: HashMap<Key, Value>,
    /// Values of variables that are not set, by their number.
    unknowns: Vec<String>,
    not_set: HashMap<Key, Value>,
    /// A sum over the common values that changes with any of them.
    state: u64,
    /// What was set since a stretch began that may not be run.
    log: Option<Vec<Key>>,
    /// Whether a name without an underscore is local to a call, as in the interpreter.
    named_locals: bool,
    /// Highest number of a local variable.
    highest_local: i64,
    /// Variables may be set that are not kept here.
    forgotten: bool,
}

impl Env {
    pub(super) fn new(interpreter: bool) -> Env {
        Env {
            levels: vec![Locals::default()],
            common: HashMap::new(),
            unknowns: Vec::new(),
            not_set: HashMap::new(),
            state: 0,
            log: None,
            named_locals: interpreter,
            highest_local: if interpreter { 30 } else { 33 },
            forgotten: false,
        }
    }

    fn local(&self, key: &Key) -> bool {
        match key {
            Key::Hash(number) => (1..=self.highest_local).contains(number),
            Key::R(_) => false,
            Key::Name(name) => self.named_locals && name.first() != Some(&b'_'),
        }
    }

    fn level(&mut self) -> &mut Locals {
        if self.levels.is_empty() {
            self.levels.push(Locals::default());
        }
        let last = self.levels.len() - 1;
        &mut self.levels[last]
    }

    pub(super) fn set(&mut self, key: Key, value: Value) {
        if key == Key::Hash(0) {
            return;
        }
        if let Some(log) = &mut self.log {
            log.push(key.clone());
        }
        let now = fingerprint(&key, &value);
        let (values, state) = if self.local(&key) {
            let level = self.level();
            (&mut level.values, &mut level.state)
        } else {
            (&mut self.common, &mut self.state)
        };
        let old = values.insert(key.clone(), value);
        let before = old.map_or(0, |old| fingerprint(&key, &old));
        *state = state.wrapping_add(now).wrapping_sub(before);
    }

    /// Makes a variable unknown.
    pub(super) fn forget(&mut self, key: &Key) {
        let value = self.fresh(key);
        self.set(key.clone(), value);
    }

    /// Makes every variable unknown that a called program may have changed.
    pub(super) fn forget_common(&mut self) {
        self.common.clear();
        self.forgotten = true;
        // What is read from now on is another unknown than before.
        self.not_set.clear();
        self.state = self.state.wrapping_mul(3).wrapping_add(1);
    }

    /// Makes every variable unknown.
    pub(super) fn forget_all(&mut self) {
        self.forget_common();
        let level = self.level();
        level.empty = false;
        level.values.clear();
        level.state = level.state.wrapping_mul(3).wrapping_add(1);
    }

    /// Another program of the file: its own variables are not set.
    pub(super) fn restart(&mut self) {
        self.levels = vec![Locals::default()];
        self.forget_common();
        self.log = None;
    }

    /// An unknown that is like no other.
    fn fresh(&mut self, key: &Key) -> Value {
        if self.unknowns.len() < NAMED {
            self.unknowns.push(key.text());
            Value::unknown(self.unknowns.len() as u32 - 1)
        } else {
            Value::Unknown(Why::NotRead)
        }
    }

    /// Enters a call with its own variables.
    pub(super) fn enter(&mut self, arguments: Vec<(Key, Value)>, empty: bool, inherit: bool) {
        let mut locals = if inherit {
            let outer = self.level();
            let number = (1..=30).map(Key::Hash);
            Locals {
                values: number
                    .filter_map(|key| Some((key.clone(), *outer.values.get(&key)?)))
                    .collect(),
                empty: outer.empty,
                state: 0,
            }
        } else {
            Locals::default()
        };
        locals.empty |= empty;
        self.levels.push(locals);
        let log = self.log.take();
        for (key, value) in arguments {
            self.set(key, value);
        }
        self.log = log;
    }

    /// Leaves it: the variables of the caller are as they were.
    pub(super) fn leave(&mut self) {
        if self.levels.len() > 1 {
            self.levels.pop();
        }
    }

    pub(super) fn start_log(&mut self) {
        self.log = Some(Vec::new());
    }

    pub(super) fn logging(&self) -> bool {
        self.log.is_some()
    }

    /// Ends a stretch that may not have been run: what was set in it is not known.
    pub(super) fn end_log(&mut self) {
        for key in self.log.take().unwrap_or_default() {
            self.forget(&key);
        }
    }

    /// The same number for the same values at the same depth of calls.
    pub(super) fn state(&self) -> u64 {
        let local = self.levels.last().map_or(0, |level| level.state);
        self.state.wrapping_add(local)
    }

    /// Why there is no value, as a sentence without a full stop.
    pub(super) fn why(&self, why: Why) -> String {
        match why {
            Why::DependsOn(of) => match self.unknowns.get(of as usize) {
                Some(name) => format!("{name} has no value that this program gives for certain"),
                None => "a variable has no value that this program gives".into(),
            },
            Why::Empty => "a variable is empty".into(),
            Why::NoResult => {
                "an expression has no result: it divides by zero, or its function has \
                              no value there"
                    .into()
            }
            Why::TooLarge => "a value has more digits than a control keeps".into(),
            Why::Order => "controls differ in the order of a comparison beside AND, OR or XOR; \
                           brackets would tell"
                .into(),
            Why::Differs => "controls differ in the result of an expression".into(),
            Why::System => "a value of the control is used, which the text does not give".into(),
            Why::NotRead => "an expression holds what this reader does not work out".into(),
        }
    }
}

impl Scope for Env {
    fn get(&mut self, key: &Key) -> Value {
        if *key == Key::Hash(0) {
            return Value::Null;
        }
        let found = if self.local(key) {
            let level = self.level();
            let empty = level.empty && matches!(key, Key::Hash(_));
            let value = level.values.get(key).copied();
            value.or(empty.then_some(Value::Null))
        } else {
            self.common.get(key).copied()
        };
        if let Some(value) = found {
            return value;
        }
        if let Some(value) = self.not_set.get(key) {
            return *value;
        }
        let value = self.fresh(key);
        self.not_set.insert(key.clone(), value);
        value
    }

    fn exists(&self, key: &Key) -> Option<bool> {
        let set = if self.local(key) {
            self.levels
                .last()
                .is_some_and(|level| level.values.contains_key(key))
        } else {
            self.common.contains_key(key)
        };
        // A global name may have been set by a program before.
        (set || self.local(key) && !self.forgotten).then_some(set)
    }
}

fn fingerprint(key: &Key, value: &Value) -> u64 {
    let mut hasher = DefaultHasher::new();
    key.hash(&mut hasher);
    value.hash(&mut hasher);
    hasher.finish()
}
