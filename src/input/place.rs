//! Where something is in a file, what is wrong there, and what names may be like.

/// One step from a table to a value inside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Step {
    /// Key of a table.
    Key(String),
    /// Place in a list, from 0.
    Index(usize),
}

impl From<&str> for Step {
    fn from(key: &str) -> Self {
        Step::Key(key.to_owned())
    }
}
impl From<&String> for Step {
    fn from(key: &String) -> Self {
        Step::Key(key.clone())
    }
}
impl From<usize> for Step {
    fn from(index: usize) -> Self {
        Step::Index(index)
    }
}

/// `steps!["layer", 2, "thickness"]`.
macro_rules! steps {
    ($($step:expr),* $(,)?) => { vec![$($crate::input::Step::from($step)),*] };
}
pub(crate) use steps;

/// The steps and one more.
pub(crate) fn with_step(steps: &[Step], step: impl Into<Step>) -> Vec<Step> {
    let mut longer = steps.to_vec();
    longer.push(step.into());
    longer
}

/// Something wrong at a place of the document, before that place has a line number.
#[derive(Clone, Debug)]
pub(crate) struct Finding {
    pub steps: Vec<Step>,
    /// Point at the key rather than at its value.
    pub at_key: bool,
    pub message: String,
    pub hint: String,
}

impl Finding {
    pub fn at(steps: Vec<Step>, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            steps,
            at_key: false,
            message: message.into(),
            hint: hint.into(),
        }
    }

    pub fn at_key(steps: Vec<Step>, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            at_key: true,
            ..Self::at(steps, message, hint)
        }
    }
}
