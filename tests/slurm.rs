//! A study on a real Slurm: two nodes on this machine, an array of shards over both, one node lost with its
//! daemon, its jobs and its disk in the middle, another task told to stop; requeued, merged. The table is that
//! of a single-machine run.
//!
//! Takes about five minutes, needs root and the Debian packages slurm-wlm and munge, so it runs by itself:
//! `cargo test --test slurm -- --ignored`. Services are started here, on loopback and with all their files
//! in a temporary folder, and stopped by their process ids.

use std::collections::BTreeSet;
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Some thousandths of a second for a point.
const PANEL: &str = concat!(
    include_str!("panels/round_pad.toml"),
    r#"[study.size]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", points = 40 },
  { path = "pads.key.diameter", from = "6 mm", to = "20 mm", points = 200 },
]
report = ["base capacitance", "touch shift", "relative touch shift"]
accuracy = "1 %"
"#
);
const SHARDS: &str = "5";
/// 8000 over 5, about: shards are whole groups. Enough for some seconds on a fast machine, and copied ten times a
/// second, so that the middle of a shard is met by whoever looks fifty times a second.
const POINTS_OF_A_SHARD: u64 = 1600;

/// Nothing here takes this long: whoever waits longer waits for ever.
const FOREVER: Duration = Duration::from_secs(600);

/// A cluster of two nodes on this machine.
struct Cluster {
    folder: tempfile::TempDir,
    services: Vec<(String, Child)>,
}

impl Cluster {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn configuration(&self) -> PathBuf {
        self.path("slurm.conf")
    }

    fn start() -> Self {
        for program in ["munged", "slurmctld", "slurmd", "sbatch", "runuser"] {
            let found = Command::new("sh")
                .args(["-c", &format!("command -v {program}")])
                .stdout(Stdio::null())
                .status()
                .is_ok_and(|status| status.success());
            assert!(
                found,
                "{program} is missing: install the Debian packages slurm-wlm and munge"
            );
        }
        let folder = tempfile::Builder::new()
            .prefix("padfield-slurm-")
            .permissions(std::fs::Permissions::from_mode(0o755))
            .tempdir()
            .expect("a temporary folder");
        let mut cluster = Self {
            folder,
            services: Vec::new(),
        };
        cluster.authentication();
        cluster.configure();
        let configuration = cluster.configuration().display().to_string();
        cluster.service(
            "slurmctld",
            "slurmctld",
            &["-D", "-c", "-f", &configuration],
        );
        for node in ["n1", "n2"] {
            cluster.node(node);
        }
        cluster.wait("both nodes to be idle", || {
            cluster.states() == ["n1 idle", "n2 idle"]
        });
        cluster
    }

    /// A munge of our own: its key and its socket are in the folder.
    fn authentication(&mut self) {
        let munge = self.path("munge");
        std::fs::create_dir(&munge).expect("a folder");
        let mut key = Vec::new();
        let random = std::fs::File::open("/dev/urandom").expect("random bytes");
        std::io::Read::read_to_end(&mut std::io::Read::take(random, 128), &mut key)
            .expect("random bytes");
        std::fs::write(munge.join("key"), key).expect("the key");
        let mode = |path: &Path, mode| {
            std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("a mode");
        };
        mode(&munge.join("key"), 0o400);
        mode(&munge, 0o755);
        let owner = Command::new("chown")
            .args(["-R", "munge:munge"])
            .arg(&munge)
            .status();
        assert!(owner.expect("chown").success(), "this test needs root");
        let file = |option: &str, name: &str| format!("--{option}={}", munge.join(name).display());
        let options = [
            file("key-file", "key"),
            file("socket", "socket"),
            file("pid-file", "pid"),
            file("log-file", "log"),
            file("seed-file", "seed"),
        ];
        let mut words = vec!["-u", "munge", "--", "munged", "--foreground"];
        words.extend(options.iter().map(String::as_str));
        self.service("munged", "runuser", &words);
        self.wait("munged", || munge.join("socket").exists());
    }

    fn configure(&self) {
        // Free now; nobody else is likely to take them within the second.
        let ports: Vec<TcpListener> = (0..3)
            .map(|_| TcpListener::bind("127.0.0.1:0").expect("a free port"))
            .collect();
        let port = |at: usize| ports[at].local_addr().expect("an address").port();
        let host = Command::new("hostname")
            .arg("-s")
            .output()
            .expect("hostname")
            .stdout;
        let host = String::from_utf8(host).expect("text").trim().to_owned();
        let d = self.folder.path().display();
        for name in ["state", "spool", "log"] {
            std::fs::create_dir(self.path(name)).expect("a folder");
        }
        // Arrays of at most three tasks: five shards are two arrays.
        let text = format!(
            "ClusterName=ci\nSlurmctldHost={host}(127.0.0.1)\nSlurmUser=root\nSlurmdUser=root\n\
             AuthType=auth/munge\nAuthInfo=socket={d}/munge/socket\nSlurmctldPort={}\n\
             ProctrackType=proctrack/linuxproc\nTaskPlugin=task/none\n\
             JobAcctGatherType=jobacct_gather/none\nAccountingStorageType=accounting_storage/none\n\
             SelectType=select/cons_tres\nSelectTypeParameters=CR_Core\nMpiDefault=none\n\
             ReturnToService=2\nSlurmdTimeout=10\nMaxArraySize=4\nSlurmdParameters=config_overrides\n\
             StateSaveLocation={d}/state\nSlurmdSpoolDir={d}/spool/%n\n\
             SlurmctldLogFile={d}/log/slurmctld\nSlurmdLogFile={d}/log/%n\n\
             SlurmctldPidFile={d}/slurmctld.pid\nSlurmdPidFile={d}/%n.pid\n\
             NodeName=n1 NodeHostname={host} NodeAddr=127.0.0.1 Port={} CPUs=2 Sockets=1 \
             CoresPerSocket=2 ThreadsPerCore=1 RealMemory=2000 State=UNKNOWN\n\
             NodeName=n2 NodeHostname={host} NodeAddr=127.0.0.1 Port={} CPUs=2 Sockets=1 \
             CoresPerSocket=2 ThreadsPerCore=1 RealMemory=2000 State=UNKNOWN\n\
             PartitionName=sweep Nodes=n1,n2 Default=YES MaxTime=60 State=UP\n",
            port(0),
            port(1),
            port(2)
        );
        std::fs::write(self.configuration(), text).expect("the configuration");
    }

    fn service(&mut self, name: &str, program: &str, words: &[&str]) {
        let log = std::fs::File::create(self.path(&format!("{name}.out"))).expect("a log");
        let child = Command::new(program)
            .args(words)
            .env("SLURM_CONF", self.configuration())
            .env("SLURMD_NODENAME", name)
            .stdin(Stdio::null())
            .stdout(log.try_clone().expect("a log"))
            .stderr(log)
            .spawn()
            .unwrap_or_else(|error| panic!("{program}: {error}"));
        self.services.push((name.to_owned(), child));
    }

    fn node(&mut self, name: &str) {
        let configuration = self.configuration().display().to_string();
        self.service(name, "slurmd", &["-D", "-N", name, "-f", &configuration]);
    }

    /// Ends a node as a power cut does: its daemon, everything that runs on it, its local disk.
    fn lose(&mut self, name: &str) {
        let at = self
            .services
            .iter()
            .position(|(service, _)| service == name);
        let (_, mut daemon) = self.services.remove(at.expect("a running node"));
        daemon.kill().expect("SIGKILL");
        daemon.wait().expect("its end");
        self.end_processes(Some(name));
        std::fs::remove_dir_all(self.path("local").join(name)).expect("the disk of the node");
    }

    /// Ends all jobs, or those of one node: first what watches over them, so that it cannot report their end.
    fn end_processes(&self, node: Option<&str>) {
        let processes = self.processes(node);
        let watchers: BTreeSet<u32> = processes
            .iter()
            .filter_map(|process| {
                let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
                let parent = status.lines().find_map(|line| line.strip_prefix("PPid:"))?;
                let parent: u32 = parent.trim().parse().ok()?;
                let line = std::fs::read(format!("/proc/{parent}/cmdline")).ok()?;
                line.starts_with(b"slurmstepd:").then_some(parent)
            })
            .collect();
        for process in watchers.into_iter().chain(processes) {
            kill("-KILL", process);
        }
    }

    /// Processes of this cluster, of one node of it: they carry both in their environment.
    fn processes(&self, node: Option<&str>) -> Vec<u32> {
        let cluster = format!("SLURM_CONF={}", self.configuration().display());
        let node = node.map(|name| format!("SLURMD_NODENAME={name}"));
        let own = std::process::id();
        let entries = std::fs::read_dir("/proc").expect("processes").flatten();
        entries
            .filter_map(|entry| entry.file_name().to_str()?.parse::<u32>().ok())
            .filter(|process| *process != own)
            .filter(|process| {
                let variables =
                    std::fs::read(format!("/proc/{process}/environ")).unwrap_or_default();
                let has = |wanted: &str| {
                    variables
                        .split(|byte| *byte == 0)
                        .any(|v| v == wanted.as_bytes())
                };
                has(&cluster) && node.as_deref().is_none_or(has)
            })
            .collect()
    }

    /// The shard that a padfield on this node solves, such as 2/5.
    fn shard_on(&self, node: &str) -> Option<String> {
        self.processes(Some(node)).into_iter().find_map(|process| {
            let line = std::fs::read(format!("/proc/{process}/cmdline")).ok()?;
            let words: Vec<&str> = line
                .split(|byte| *byte == 0)
                .map(|word| std::str::from_utf8(word).unwrap_or(""))
                .collect();
            let program = words.first()?.ends_with("padfield");
            let at = words.iter().position(|word| *word == "--shard")?;
            program.then(|| words.get(at + 1).map(ToString::to_string))?
        })
    }

    fn ask(&self, program: &str, words: &[&str]) -> String {
        let output = Command::new(program)
            .args(words)
            .env("SLURM_CONF", self.configuration())
            .output()
            .unwrap_or_else(|error| panic!("{program}: {error}"));
        String::from_utf8_lossy(&output.stdout).trim().to_owned()
    }

    fn states(&self) -> Vec<String> {
        let text = self.ask("sinfo", &["-h", "-N", "-o", "%N %T"]);
        let mut states: Vec<String> = text.lines().map(str::to_owned).collect();
        states.sort();
        states
    }

    fn wait(&self, what: &str, reached: impl Fn() -> bool) {
        let start = Instant::now();
        while !reached() {
            assert!(
                start.elapsed() < FOREVER,
                "waited for {what} for ever\n{}\n{}\n{}",
                self.ask("sinfo", &["-N", "-l"]),
                self.ask("squeue", &["-l"]),
                std::fs::read_to_string(self.path("log/slurmctld")).unwrap_or_default()
            );
            // A shard takes a few seconds.
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits until a node is in the middle of a shard: some of its points are in the copy, more than half are still
    /// to do. Gives both.
    fn in_the_middle(&self, node: &str) -> (String, u64) {
        let found = std::cell::RefCell::new(None);
        self.wait(&format!("{node} to be in the middle of a shard"), || {
            let at = self.shard_on(node).map(|shard| {
                let copied = self.copied(&shard);
                (shard, copied)
            });
            *found.borrow_mut() =
                at.filter(|(_, copied)| (1..POINTS_OF_A_SHARD / 2).contains(copied));
            found.borrow().is_some()
        });
        found.into_inner().expect("waited for")
    }

    /// Points in the copy of a shard.
    fn copied(&self, shard: &str) -> u64 {
        let name = format!("shard-{}.sqlite", shard.replace('/', "-of-"));
        let path = self.path("work/results/disc/size/shards").join(name);
        let Ok(bytes) = std::fs::read(path) else {
            return 0;
        };
        // Of a copy of the copy: the next one may come meanwhile.
        let file = tempfile::NamedTempFile::new().expect("a file");
        std::fs::write(file.path(), bytes).expect("a file");
        let connection = rusqlite::Connection::open(file.path()).expect("a store");
        let count: i64 = connection
            .query_row("SELECT count(*) FROM members", [], |row| row.get(0))
            .expect("a count");
        count as u64
    }

    fn logs(&self) -> String {
        let folder = self.path("work/results/disc/size/logs");
        let mut text = String::new();
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            let content = std::fs::read_to_string(entry.path()).unwrap_or_default();
            text += &format!("== {}\n{content}\n", entry.path().display());
        }
        text
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        for (_, service) in self.services.iter().rev() {
            kill("-TERM", service.id());
        }
        std::thread::sleep(Duration::from_secs(1));
        self.end_processes(None);
        for (_, service) in &mut self.services {
            let _ = service.kill();
            let _ = service.wait();
        }
    }
}

fn kill(signal: &str, process: u32) {
    let _ = Command::new("kill")
        .args([signal, &process.to_string()])
        .stderr(Stdio::null())
        .status();
}

/// Points known before, of every run that a log tells of.
fn known_before(log: &str) -> Vec<u64> {
    log.match_indices(" known before")
        .filter_map(|(at, _)| log[..at].rsplit(' ').next()?.replace(',', "").parse().ok())
        .collect()
}

#[test]
#[ignore = "five minutes, root, a real Slurm: .ci/run runs it"]
fn a_node_that_is_lost_in_the_middle_changes_nothing_in_the_table() {
    let mut cluster = Cluster::start();
    let work = cluster.path("work");
    std::fs::create_dir(&work).expect("a folder");
    std::fs::write(work.join("disc.toml"), PANEL).expect("the panel file");
    let configuration = cluster.configuration();
    let padfield = |words: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_padfield"))
            .args(words)
            .current_dir(&work)
            .env("SLURM_CONF", &configuration)
            .output()
            .expect("the program runs");
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(0), "{errors}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    for node in ["n1", "n2"] {
        std::fs::create_dir_all(cluster.path("local").join(node)).expect("the disk of a node");
    }
    let scratch = format!("{}/$SLURMD_NODENAME", cluster.path("local").display());
    let words = [
        "cluster",
        "disc.toml",
        "--study",
        "size",
        "--tasks",
        SHARDS,
        "--cpus",
        "2",
        "--memory",
        "500MB",
        "--scratch",
        &scratch,
        "--copy-every",
        "0.002",
    ];
    let shown = padfield(&[&words[..], &["--dry-run"]].concat());
    assert!(!work.join("results").exists(), "a dry run writes nothing");
    assert!(shown.contains("sbatch --parsable --array="), "{shown}");
    let told = padfield(&[&words[..], &["--submit"]].concat());
    for line in ["shards 1 to 3: job", "shards 4 to 5: job", "merge: job"] {
        assert!(told.contains(line), "{told}");
    }

    let (lost, kept) = cluster.in_the_middle("n1");
    cluster.lose("n1");

    // A task of the other node is told that its time is up; one that ends by itself meanwhile does not count.
    let other = loop {
        let (shard, _) = cluster.in_the_middle("n2");
        let jobs = cluster.ask("squeue", &["-h", "-t", "R", "-w", "n2", "-o", "%A"]);
        let Some(job) = jobs.lines().next() else {
            continue;
        };
        cluster.ask("scancel", &["--batch", "--signal=TERM", job]);
        cluster.wait("the task to end", || {
            cluster.shard_on("n2").as_ref() != Some(&shard)
        });
        let words = "stopped before the end; go on with: padfield sweep disc.toml --study size ";
        // Between these the manner of the run: its threads, its memory and the disk of its node.
        let end = format!(" --shard {shard}");
        let is_told = |line: &str| line.starts_with(words) && line.ends_with(&end);
        if cluster.logs().lines().any(is_told) {
            break shard;
        }
    };

    cluster.wait("the lost node to be given up", || {
        cluster
            .states()
            .iter()
            .any(|state| state.starts_with("n1 down"))
    });
    std::fs::create_dir_all(cluster.path("local/n1")).expect("a new disk");
    cluster.node("n1");
    let mut again = BTreeSet::new();
    let start = Instant::now();
    while !cluster.ask("squeue", &["-h"]).is_empty() {
        again.extend(cluster.shard_on("n1"));
        assert!(start.elapsed() < FOREVER, "{}", cluster.logs());
        std::thread::sleep(Duration::from_millis(500));
    }
    let logs = cluster.logs();
    assert!(
        !again.is_empty(),
        "the node that came back has work\n{logs}"
    );
    assert!(
        logs.contains("5 shards joined, 8,000 points new: 8,000 of 8,000"),
        "{logs}"
    );
    let of = |shard: &str| {
        let needed = format!(
            "shard {} of {SHARDS}: ",
            shard.split('/').next().unwrap_or("")
        );
        logs.split("== ")
            .find(|log| log.contains(&needed))
            .map(known_before)
            .unwrap_or_default()
    };
    let resumed = of(&lost);
    assert!(
        resumed
            .last()
            .is_some_and(|known| *known >= kept && kept > 0),
        "shard {lost} had {kept} points in its copy, known before: {resumed:?}\n{logs}"
    );
    let stopped = of(&other);
    assert!(
        stopped.len() == 2 && stopped[1] > 0,
        "{other}: {stopped:?}\n{logs}"
    );

    padfield(&["sweep", "disc.toml", "--study", "size", "--out", "single"]);
    let read = |path: &str| std::fs::read_to_string(work.join(path)).expect("a table");
    let (single, merged) = (
        read("single/size/points.csv"),
        read("results/disc/size/points.csv"),
    );
    assert_eq!(single.lines().count(), 8001);
    for (one, other) in single.lines().zip(merged.lines()) {
        assert_eq!(one, other);
    }
    assert!(single == merged, "the same table, byte for byte");
}
