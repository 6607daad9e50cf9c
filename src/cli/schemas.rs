//! `padfield schema`: what the panel file may hold, and what every answer with `--json` holds.

use super::ending::Answered;
use super::field::FieldRecord;
use super::lists::MaterialsRecord;
use super::solve::SolveAnswer;
use super::study_record::{ChartedRecord, ClusterRecord, MergedRecord, StudiesRecord, SweepRecord};
use super::verify::VerifyRecord;
use super::window::WindowAnswer;
use super::{Exit, Failure, print};
use crate::input;
use crate::questions::against::ComparisonRecord;
use crate::questions::circuit::CircuitRecord;
use crate::questions::compare::{CorrelationRecord, RevisionRecord};
use crate::questions::discharge::DischargeRecord;
use crate::questions::drift::DriftRecord;
use crate::questions::find::FindRecord;
use crate::questions::return_path::ReturnRecord;
use crate::questions::rules::RulesRecord;
use crate::questions::tolerance::ToleranceRecord;
use crate::questions::walk::{SlidesRecord, WalkRecord};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};
use std::io::Write;

/// Print the JSON Schema of the panel file, or of what a command answers with --json
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield schema > panel.schema.json\n         \
    padfield schema window > window.schema.json")]
pub struct SchemaArguments {
    /// Command whose answer is described: every key with its unit (default: the panel file)
    #[arg(value_name = "COMMAND", value_parser = ANSWERS.map(|(command, _)| command))]
    pub command: Option<String>,
}

/// A command that answers with `--json`, and what makes the schema of what it answers.
type Answering = (&'static str, fn() -> Schema);

/// All of them.
const ANSWERS: [Answering; 18] = [
    (
        "solve",
        either::<Answered<SolveAnswer>, Answered<ComparisonRecord>>,
    ),
    ("field", of::<FieldRecord>),
    ("sweep", of::<SweepRecord>),
    ("cluster", of::<ClusterRecord>),
    ("merge", of::<StudiesRecord<MergedRecord>>),
    ("chart", of::<StudiesRecord<ChartedRecord>>),
    ("find", of::<Answered<FindRecord>>),
    ("window", of::<Answered<WindowAnswer>>),
    (
        "walk",
        either::<Answered<WalkRecord>, Answered<SlidesRecord>>,
    ),
    ("rules", of::<Answered<RulesRecord>>),
    ("tolerance", of::<Answered<ToleranceRecord>>),
    (
        "compare",
        either::<Answered<CorrelationRecord>, Answered<RevisionRecord>>,
    ),
    ("circuit", of::<Answered<CircuitRecord>>),
    ("discharge", of::<Answered<DischargeRecord>>),
    ("drift", of::<Answered<DriftRecord>>),
    ("return-path", of::<Answered<ReturnRecord>>),
    ("verify", of::<VerifyRecord>),
    ("materials", of::<MaterialsRecord>),
];

/// One of two answers of one command.
#[derive(JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "only its schema is asked for")]
enum Either<A, B> {
    One(A),
    Other(B),
}

fn of<T: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    settings.into_generator().into_root_schema_for::<T>()
}

fn either<A: JsonSchema, B: JsonSchema>() -> Schema {
    of::<Either<A, B>>()
}

/// Prints a JSON Schema.
///
/// # Errors
/// An output that cannot be written.
pub fn schema(arguments: &SchemaArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let asked = arguments.command.as_deref();
    let found = ANSWERS.iter().find(|(command, _)| Some(*command) == asked);
    let schema = match found {
        None => input::schema(),
        Some((command, schema)) => {
            let mut schema = schema();
            let title = format!("Answer of padfield {command} --json");
            schema.insert("title".to_owned(), title.into());
            schema.to_value()
        }
    };
    print(output, &format!("{schema:#}\n"))?;
    Ok(Exit::Success)
}
