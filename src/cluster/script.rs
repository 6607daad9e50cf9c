//! The job script.

use super::Task;

/// A study that becomes a job script.
#[derive(Clone, Debug, PartialEq)]
pub struct Script {
    pub study: String,
    /// Folder the commands run in.
    pub folder: String,
    pub program: String,
    /// Words of the sweep after the program, without shard and limits.
    pub sweep: Vec<String>,
    /// Folder of the study's results.
    pub results: String,
    /// Folder on a local disk of the node; may use variables of the job.
    pub scratch: String,
    /// Minutes between two copies of a shard's store.
    pub copy_every: f64,
    /// Whether the merge draws charts.
    pub charts: bool,
    /// Further options for the scheduler, such as `--partition=long`.
    pub options: Vec<String>,
    /// Points of the plan.
    pub points: u64,
    /// What a task is given.
    pub task: Task,
    /// Where its wall time comes from, one line.
    pub reason: String,
}

/// Seconds before the end of the wall time at which a task is told to stop; a fifth of a short one.
fn warning_seconds(minutes: u64) -> u64 {
    (12 * minutes).clamp(10, 300)
}

/// Times a task is started again by itself after it was stopped.
const MOST_RESTARTS: u32 = 20;

/// Points joined per minute at least, on a slow network file system; measured figures are in guide/src/cost.md.
const MERGED_PER_MINUTE: u64 = 100_000;

impl Script {
    pub fn text(&self) -> String {
        let charts = if self.charts { "" } else { " --no-charts" };
        let (head, submit, shard) = (self.head(), self.submit(), self.shard());
        format!(
            r#"{head}
case "${{1:-submit}}" in
{submit}
{shard}
merge)
    exec "$padfield" merge "$results"{charts}
    ;;
*)
    echo "expected nothing, shard K or merge" >&2
    exit 2
    ;;
esac
"#
        )
    }

    /// What a reader should know, what the scheduler is asked for, and variables.
    fn head(&self) -> String {
        let Self {
            study,
            points,
            reason,
            task,
            ..
        } = self;
        let Task {
            shards,
            processors,
            minutes,
            ..
        } = *task;
        let title = one_line(study);
        let name: String = study
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { '-' })
            .collect();
        let options: String = self
            .options
            .iter()
            .map(|option| format!("#SBATCH {}\n", one_line(option)))
            .collect();
        let [folder, program, results] =
            [&self.folder, &self.program, &self.results].map(|text| shell_word(text));
        // The scheduler counts in units of 1024 x 1024 bytes.
        let asked_megabytes = task.memory_bytes.div_ceil(1 << 20);
        let warning = warning_seconds(minutes);
        format!(
            r#"#!/bin/bash
# Study "{title}": {points} points in {shards} shards, then a merge that waits for them.
#
#   bash THIS_FILE            hands both to Slurm
#   bash THIS_FILE shard K    solves shard K here, without a scheduler
#   bash THIS_FILE merge      joins what there is and says what is missing
#
# Wall time: {reason}
# For another scheduler change the lines that begin with #SBATCH and what stands under submit; the
# array's number must arrive in place of SLURM_ARRAY_TASK_ID.
#SBATCH --job-name=padfield-{name}
#SBATCH --cpus-per-task={processors}
#SBATCH --mem={asked_megabytes}M
#SBATCH --time={minutes}
#SBATCH --signal=B:TERM@{warning}
#SBATCH --requeue
#SBATCH --open-mode=append
{options}set -u
script=$(realpath "$0")
cd {folder} || exit 2
padfield={program}
results={results}
shards={shards}
"#
        )
    }

    /// Hands shards and merge to the scheduler.
    fn submit(&self) -> String {
        let merge_minutes = 30 + self.points / MERGED_PER_MINUTE;
        format!(
            r#"submit)
    # An array may not be longer than the cluster allows: several follow one another then.
    limit=$(scontrol show config | sed -n 's/^MaxArraySize *= *//p')
    longest=$((${{limit:-1001}} - 1))
    mkdir -p "$results/logs" || exit 2
    after=afterany
    for ((first = 0; first < shards; first += longest)); do
        last=$((shards - first < longest ? shards - first : longest))
        job=$(sbatch --parsable --array="1-$last" --output="$results/logs/%A_%a.log" \
            "$script" shard "$first") || exit 1
        echo "shards $((first + 1)) to $((first + last)): job ${{job%%;*}}"
        after+=:${{job%%;*}}
    done
    job=$(sbatch --parsable --dependency="$after" --output="$results/logs/merge_%j.log" \
        --cpus-per-task=1 --mem=1500M --time={merge_minutes} "$script" merge) || exit 1
    echo "merge: job ${{job%%;*}}; its log and those of the shards are in $results/logs"
    ;;"#
        )
    }

    /// Solves one shard.
    fn shard(&self) -> String {
        let Self {
            task, copy_every, ..
        } = self;
        let sweep: Vec<String> = self.sweep.iter().map(|word| shell_word(word)).collect();
        let sweep = sweep.join(" ");
        let megabytes = task.memory_bytes.div_ceil(1_000_000);
        let processors = task.processors;
        let scratch = self.scratch.replace(['"', '`', '\\', '\n'], "");
        format!(
            r#"shard)
    number=$(($2 + ${{SLURM_ARRAY_TASK_ID:-0}}))
    # Told to stop, padfield finishes the points in hand, copies its store and ends with 130.
    task=""
    stopped=""
    trap 'stopped=yes; [ -z "$task" ] || kill -TERM "$task"' TERM
    "$padfield" {sweep} --shard "$number/$shards" \
        --threads {processors} --memory {megabytes}MB \
        --scratch "{scratch}" --copy-every {copy_every} &
    task=$!
    [ -z "$stopped" ] || kill -TERM "$task"
    wait "$task"
    code=$?
    while [ "$code" -eq 143 ] && kill -0 "$task" 2> /dev/null; do
        wait "$task"
        code=$?
    done
    # Told before it could heed: nothing is lost, it begins again.
    [ "$code" -ne 143 ] || code=130
    if [ "$code" -eq 130 ] && [ "${{SLURM_RESTART_COUNT:-0}}" -lt {MOST_RESTARTS} ]; then
        [ -z "${{SLURM_JOB_ID:-}}" ] || scontrol requeue "$SLURM_JOB_ID"
    fi
    exit "$code"
    ;;"#
        )
    }
}

/// A word that a shell reads as itself.
///
/// ```
/// assert_eq!(padfield::cluster::shell_word("panel.toml"), "panel.toml");
/// assert_eq!(padfield::cluster::shell_word("it's 5 mm"), r"'it'\''s 5 mm'");
/// ```
pub fn shell_word(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./:,+@%".contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        text.to_owned()
    } else {
        format!("'{}'", text.replace('\'', r"'\''"))
    }
}

/// Comments and directives end with their line.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}
