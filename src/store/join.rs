//! Joining the stores of shards into one: what is joined in whatever order, or twice, ends the same.

use super::digest::{RESULT, of_point, of_study};
use super::part::Part;
use super::read::{Reader, StudyRecord, place_in};
use super::{Store, StoreError};
use crate::study::Plan;
use rusqlite::types::Value;
use rusqlite::{Connection, Transaction, params};
use std::cmp::Ordering;
use std::collections::HashMap;

/// Memory for pages while joining: keys arrive in no order \[KiB\].
const CACHE_KIB: i64 = 512 * 1024;

/// What a part brought.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Joined {
    /// Points that were not known.
    pub new: u64,
    /// Points of the plan that it lists.
    pub listed: u64,
}

impl Store {
    /// Takes over the points of a part, all or none. Where both have a point with different results (twins
    /// in two shards, a shard that ran twice), the better one stays, then the one a single machine would have
    /// solved first: whatever is joined before or after, the rows end the same.
    ///
    /// # Errors
    /// The part was damaged after it was opened, or this store cannot be written.
    pub fn join(&mut self, part: &Part) -> Result<Joined, StoreError> {
        let path = self.path().to_owned();
        let connection = &self.reader.connection;
        connection
            .pragma_update(None, "cache_size", -CACHE_KIB)
            .map_err(self.reader.fault())?;
        connection
            .execute("ATTACH ?1 AS part", [part.uri()])
            .map_err(|error| StoreError::from_database(&part.path, error))?;
        let joined = self.join_attached(&part.label.scenario);
        let detached = self.reader.connection.execute("DETACH part", []);
        let joined = joined?;
        detached.map_err(|error| StoreError::from_database(&path, error))?;
        Ok(joined)
    }

    fn join_attached(&mut self, scenario: &str) -> Result<Joined, StoreError> {
        self.transaction(|transaction| {
            transaction
                .execute(
                    "INSERT INTO main.studies (scenario, name, definition, points, engine, digest) \
                     SELECT scenario, name, definition, points, engine, \
                     row_digest(scenario, name, definition, points, engine, NULL) FROM part.studies \
                     WHERE scenario = ?1 ON CONFLICT (scenario) DO NOTHING",
                    [scenario],
                )
                .map(|_| ())
        })?;
        let study = self.study_of(scenario)?;
        let mut joined = Joined::default();
        self.transaction(|transaction| {
            joined = join_rows(transaction, &study, scenario)?;
            Ok(())
        })?;
        Ok(joined)
    }

    /// The record of a scenario.
    ///
    /// # Errors
    /// A damaged store, or one that does not have it.
    pub fn study_of(&self, scenario: &str) -> Result<StudyRecord, StoreError> {
        let studies = self.reader.studies()?;
        let found = studies
            .into_iter()
            .find(|record| record.scenario == scenario);
        found.ok_or_else(|| StoreError::Damaged {
            path: self.reader.path.clone(),
            reason: "the study it should be of is missing".to_owned(),
        })
    }
}

impl Reader {
    /// Place, in the order one thread solves in, of the first recorded point of a study that has numbers.
    ///
    /// # Errors
    /// A damaged store.
    pub fn first_with_numbers(&self, study: &StudyRecord) -> Result<Option<u64>, StoreError> {
        first_with_numbers(&self.connection, "main", study.id, &study.study.plan())
            .map_err(self.fault())
    }

    /// Numbers of the points of a study that are recorded, in plan order, handed to `visit`.
    ///
    /// # Errors
    /// A damaged store.
    pub fn visit_recorded(
        &self,
        study: &StudyRecord,
        mut visit: impl FnMut(u64),
    ) -> Result<(), StoreError> {
        let mut statement = self
            .connection
            .prepare("SELECT plan_index FROM members WHERE study = ?1 ORDER BY plan_index")
            .map_err(self.fault())?;
        let mut rows = statement.query([study.id]).map_err(self.fault())?;
        while let Some(row) = rows.next().map_err(self.fault())? {
            let index = row.get(0).map_err(self.fault())?;
            visit(study.place(index).map_err(self.fault())?);
        }
        Ok(())
    }
}

fn join_rows(
    transaction: &Transaction<'_>,
    study: &StudyRecord,
    scenario: &str,
) -> rusqlite::Result<Joined> {
    let theirs: i64 = transaction.query_row(
        "SELECT id FROM part.studies WHERE scenario = ?1",
        [scenario],
        |row| row.get(0),
    )?;
    let plan = study.study.plan();
    let first_mine = first_with_numbers(transaction, "main", study.id, &plan)?;
    let first_theirs = first_with_numbers(transaction, "part", theirs, &plan)?;
    let asked = "hash IN (SELECT hash FROM part.members WHERE study = ?1)";
    // In the order of the rows, not of the keys: their texts are read once, from end to end, unsorted.
    let new = transaction.execute(
        &format!(
            "INSERT INTO main.points SELECT * FROM part.points NOT INDEXED WHERE {asked} \
             ON CONFLICT (hash) DO NOTHING"
        ),
        [theirs],
    )?;
    let count = format!("SELECT count(*) FROM part.points NOT INDEXED WHERE {asked}");
    let there: i64 = transaction.query_row(&count, [theirs], |row| row.get(0))?;
    if (new as i64) < there {
        settle_conflicts(transaction, study, theirs, &plan)?;
    }
    let listed = transaction.execute(
        "INSERT OR REPLACE INTO main.members (study, plan_index, hash, coordinates, digest) \
         SELECT ?1, plan_index, hash, coordinates, digest FROM part.members WHERE study = ?2 \
         ORDER BY plan_index",
        params![study.id, theirs],
    )?;
    // What the numbers hang on is noted with the first of them, as in a run on one machine.
    let earlier = |theirs: u64| first_mine.is_none_or(|mine| theirs < mine);
    if first_theirs.is_some_and(earlier) {
        transaction.execute(
            "UPDATE main.studies SET assumptions = \
             coalesce((SELECT assumptions FROM part.studies WHERE id = ?2), assumptions) WHERE id = ?1",
            params![study.id, theirs],
        )?;
        let digest = of_study("studies");
        transaction.execute(
            &format!("UPDATE main.studies SET digest = {digest} WHERE id = ?1"),
            [study.id],
        )?;
    }
    Ok(Joined {
        new: new as u64,
        listed: listed as u64,
    })
}

/// Place, in the order of solving, of the first point of a study that has numbers.
fn first_with_numbers(
    connection: &Connection,
    schema: &str,
    study: i64,
    plan: &Plan<'_>,
) -> rusqlite::Result<Option<u64>> {
    let mut statement = connection.prepare(&format!(
        "SELECT plan_index FROM {schema}.members JOIN {schema}.points USING (hash) \
         WHERE study = ?1 AND state = 'done' ORDER BY plan_index"
    ))?;
    let mut rows = statement.query([study])?;
    let mut first: Option<(u64, u64)> = None;
    while let Some(row) = rows.next()? {
        let index = place_in(plan.len(), row.get(0)?)?;
        let (run, turn) = (index / plan.run_length(), plan.turn(index));
        match first {
            // The first run that has any has the first: only the order inside it is not that of the plan.
            Some((first_run, _)) if run > first_run => break,
            Some((_, least)) if turn >= least => {}
            _ => first = Some((run, turn)),
        }
    }
    Ok(first.map(|(_, turn)| turn))
}

/// Points that both have with different results: the row that stays is written into this store.
fn settle_conflicts(
    transaction: &Transaction<'_>,
    study: &StudyRecord,
    theirs: i64,
    plan: &Plan<'_>,
) -> rusqlite::Result<()> {
    let differ = RESULT.map(|column| format!("mine.{column} IS NOT theirs.{column}"));
    let columns = |of: &str| RESULT.map(|column| format!("{of}.{column}")).join(", ");
    let query = format!(
        "SELECT theirs.hash, {}, {} FROM part.points AS theirs NOT INDEXED \
         JOIN main.points AS mine ON mine.hash = theirs.hash \
         WHERE theirs.hash IN (SELECT hash FROM part.members WHERE study = ?1) AND ({})",
        columns("mine"),
        columns("theirs"),
        differ.join(" OR ")
    );
    let mut statement = transaction.prepare(&query)?;
    let mut rows = statement.query([theirs])?;
    let mut conflicts = Vec::new();
    while let Some(row) = rows.next()? {
        let read = |start: usize| {
            (start..start + RESULT.len())
                .map(|column| row.get(column))
                .collect::<rusqlite::Result<Vec<Value>>>()
        };
        conflicts.push((row.get::<_, Vec<u8>>(0)?, read(1)?, read(1 + RESULT.len())?));
    }
    if conflicts.is_empty() {
        return Ok(());
    }
    let mine_at = first_turns(transaction, "main", study.id, plan)?;
    let theirs_at = first_turns(transaction, "part", theirs, plan)?;
    let set: Vec<String> = (0..RESULT.len())
        .map(|at| format!("{} = ?{}", RESULT[at], at + 2))
        .collect();
    let mut update = transaction.prepare(&format!(
        "UPDATE main.points SET {} WHERE hash = ?1",
        set.join(", ")
    ))?;
    let mut sign = transaction.prepare(&format!(
        "UPDATE main.points SET digest = {} WHERE hash = ?1",
        of_point("points")
    ))?;
    let turn = |turns: &HashMap<Vec<u8>, u64>, hash: &Vec<u8>| turns.get(hash).copied();
    for (hash, mine, theirs) in conflicts {
        // Without a place in this study it comes from another one, whose grid may differ.
        let mine_turn = turn(&mine_at, &hash).unwrap_or(u64::MAX);
        let theirs_turn = turn(&theirs_at, &hash).unwrap_or(u64::MAX);
        if better(&theirs, theirs_turn, &mine, mine_turn) == Ordering::Less {
            let key = std::iter::once(Value::Blob(hash.clone()));
            update.execute(rusqlite::params_from_iter(key.chain(theirs)))?;
            sign.execute([&hash])?;
        }
    }
    Ok(())
}

/// First place of every point of a study in the order of solving.
fn first_turns(
    connection: &Connection,
    schema: &str,
    study: i64,
    plan: &Plan<'_>,
) -> rusqlite::Result<HashMap<Vec<u8>, u64>> {
    let mut statement = connection.prepare(&format!(
        "SELECT hash, plan_index FROM {schema}.members WHERE study = ?1"
    ))?;
    let mut rows = statement.query([study])?;
    let mut turns = HashMap::new();
    while let Some(row) = rows.next()? {
        let turn = plan.turn(place_in(plan.len(), row.get(1)?)?);
        let first = turns.entry(row.get(0)?).or_insert(turn);
        *first = turn.min(*first);
    }
    Ok(turns)
}

/// Less: the first result stays. A total order, so that whatever meets whatever first ends the same.
fn better(one: &[Value], one_turn: u64, other: &[Value], other_turn: u64) -> Ordering {
    fn number(value: &Value) -> i64 {
        match value {
            Value::Integer(number) => *number,
            _ => 0,
        }
    }
    let text = |value: &Value| match value {
        Value::Text(text) => text.clone(),
        Value::Real(number) => format!("{number:e}"),
        Value::Integer(number) => number.to_string(),
        _ => String::new(),
    };
    // As FINAL says, but for the memory: more memory is better only where the answer is not final.
    let settled = |row: &[Value]| match text(&row[0]).as_str() {
        "done" => number(&row[4]) == 1,
        _ => text(&row[1]) != "memory",
    };
    let memory = |row: &[Value]| if settled(row) { 0 } else { -number(&row[5]) };
    let rank = |row: &[Value], turn: u64| (!settled(row), memory(row), turn);
    rank(one, one_turn)
        .cmp(&rank(other, other_turn))
        .then_with(|| one.iter().map(text).cmp(other.iter().map(text)))
}
