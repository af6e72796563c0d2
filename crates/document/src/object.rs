//! A JSON object whose keys are taken one by one. The remaining keys are unknown and are kept.

use crate::locate::locate;
use crate::{DocumentError, Place};
use bladeform_table::{Notice, Step, TableError, path_text};
use serde_json::{Map, Value};

/// The problem of the value at a path. Its position in the text is found when the error is reported.
#[derive(Debug)]
pub(crate) struct Fault {
    pub(crate) path: Vec<Step>,
    pub(crate) problem: String,
}

impl Fault {
    /// The fault as an error in a JSON text.
    pub(crate) fn in_text(self, text: &str) -> DocumentError {
        let place = locate(text, &self.path);
        DocumentError::Value { place, path: path_text(&self.path), problem: self.problem }
    }

    /// The fault as an error of a table in memory.
    pub(crate) fn in_memory(self) -> DocumentError {
        DocumentError::Value { place: Place::default(), path: path_text(&self.path), problem: self.problem }
    }
}

impl From<TableError> for Fault {
    fn from(error: TableError) -> Fault {
        Fault { path: error.path, problem: error.fault.to_string() }
    }
}

/// A JSON object and the path to it.
#[derive(Debug)]
pub(crate) struct Object {
    map: Map<String, Value>,
    path: Vec<Step>,
}

impl Object {
    /// The value as an object.
    pub(crate) fn new(value: Value, path: Vec<Step>) -> Result<Object, Fault> {
        match value {
            Value::Object(map) => Ok(Object { map, path }),
            other => Err(Fault { path, problem: expected("an object { ... }", &other) }),
        }
    }

    /// Whether the key is present, even with the value `null`.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.map.contains_key(key)
    }

    /// The path of a key.
    pub(crate) fn path_of(&self, key: &str) -> Vec<Step> {
        let mut path = self.path.clone();
        path.push(Step::Key(key.to_owned()));
        path
    }

    /// A fault of a key.
    pub(crate) fn fault(&self, key: &str, problem: impl Into<String>) -> Fault {
        Fault { path: self.path_of(key), problem: problem.into() }
    }

    /// Takes a value. `None` if the key is missing or `null`.
    pub(crate) fn take(&mut self, key: &str) -> Option<Value> {
        // The order of the remaining keys is kept.
        self.map.shift_remove(key).filter(|value| !value.is_null())
    }

    pub(crate) fn number(&mut self, key: &str) -> Result<Option<f64>, Fault> {
        match self.take(key) {
            None => Ok(None),
            Some(value) => match finite(&value) {
                Some(number) => Ok(Some(number)),
                None => Err(self.fault(key, expected("a number or null", &value))),
            },
        }
    }

    pub(crate) fn needed_number(&mut self, key: &str) -> Result<f64, Fault> {
        match self.number(key)? {
            Some(number) => Ok(number),
            None => Err(self.fault(key, "is missing; a number is needed here")),
        }
    }

    pub(crate) fn count(&mut self, key: &str) -> Result<Option<u64>, Fault> {
        match self.take(key) {
            None => Ok(None),
            Some(value) => match whole(&value) {
                Some(count) => Ok(Some(count)),
                None => Err(self.fault(key, expected("a whole number from 0 on, or null", &value))),
            },
        }
    }

    /// A text. Empty if the key is missing or `null`.
    pub(crate) fn text(&mut self, key: &str) -> Result<String, Fault> {
        match self.take(key) {
            None => Ok(String::new()),
            Some(Value::String(text)) => Ok(text),
            Some(other) => Err(self.fault(key, expected("a text or null", &other))),
        }
    }

    /// A Boolean. False if the key is missing or `null`.
    pub(crate) fn truth(&mut self, key: &str) -> Result<bool, Fault> {
        match self.take(key) {
            None => Ok(false),
            Some(Value::Bool(truth)) => Ok(truth),
            Some(other) => Err(self.fault(key, expected("true or false", &other))),
        }
    }

    pub(crate) fn object(&mut self, key: &str) -> Result<Option<Object>, Fault> {
        let path = self.path_of(key);
        self.take(key).map(|value| Object::new(value, path)).transpose()
    }

    /// The items of an array, each with its path. Empty if the key is missing or `null`.
    pub(crate) fn items(&mut self, key: &str) -> Result<Vec<(Value, Vec<Step>)>, Fault> {
        let values = match self.take(key) {
            None => Vec::new(),
            Some(Value::Array(values)) => values,
            Some(other) => return Err(self.fault(key, expected("an array [ ... ]", &other))),
        };
        let with_path = |(index, value)| {
            let mut path = self.path_of(key);
            path.push(Step::Index(index));
            (value, path)
        };
        Ok(values.into_iter().enumerate().map(with_path).collect())
    }

    pub(crate) fn numbers(&mut self, key: &str) -> Result<Vec<f64>, Fault> {
        self.items(key)?.into_iter().map(|(value, path)| number_at(&value, path)).collect()
    }

    pub(crate) fn texts(&mut self, key: &str) -> Result<Vec<String>, Fault> {
        let text_at = |(value, path)| match value {
            Value::String(text) => Ok(text),
            other => Err(Fault { path, problem: expected("a text", &other) }),
        };
        self.items(key)?.into_iter().map(text_at).collect()
    }

    pub(crate) fn notices(&mut self, key: &str) -> Result<Vec<Notice>, Fault> {
        Ok(self.texts(key)?.iter().map(|text| Notice::read(text)).collect())
    }

    /// The keys that were not taken.
    pub(crate) fn rest(self) -> Map<String, Value> {
        self.map
    }
}

pub(crate) fn number_at(value: &Value, path: Vec<Step>) -> Result<f64, Fault> {
    finite(value).ok_or_else(|| Fault { path, problem: expected("a number", value) })
}

fn finite(value: &Value) -> Option<f64> {
    value.as_f64().filter(|v| v.is_finite())
}

/// A count, also if it was written as `24.0`.
fn whole(value: &Value) -> Option<u64> {
    /// Whole numbers beyond this are no longer exact in 64-bit floating point.
    const LARGEST_EXACT: f64 = 9_007_199_254_740_992.0;
    let from_float =
        || finite(value).filter(|v| (0.0..=LARGEST_EXACT).contains(v) && v.fract() == 0.0).map(|v| v as u64);
    value.as_u64().or_else(from_float)
}

fn expected(what: &str, found: &Value) -> String {
    let found = match found {
        Value::Null => "null".to_owned(),
        Value::Bool(truth) => truth.to_string(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => format!("the text `{}`", shortened(text)),
        Value::Array(_) => "an array".to_owned(),
        Value::Object(_) => "an object".to_owned(),
    };
    format!("is {found} where {what} is needed")
}

/// A text short enough for a sentence.
pub(crate) fn shortened(text: &str) -> String {
    // Chosen: enough to recognise the text.
    const LONGEST: usize = 40;
    if text.chars().count() <= LONGEST {
        text.to_owned()
    } else {
        text.chars().take(LONGEST).chain("...".chars()).collect()
    }
}
