//! A sound daemon of the test's own: pulseaudio with a null sink in a temporary folder, its own sockets, no other
//! daemon touched; a recording of what arrives there; and children of this test binary that play to it (the daemon's
//! address is an environment variable, which only a child can be given safely).

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// The rate of the daemon and of the recording.
pub(crate) const RATE: u32 = 48_000;

/// Where a child finds the folder that it shares with its parent.
const FOLDER: &str = "HOLDFAST_TEST_SOUND_FOLDER";

/// The tests that use a daemon go one after the other: three daemons at once starve a machine with two cores.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// A process that is ended, by its own number, when the test is over.
pub(crate) struct Running(Child);

impl Running {
    /// One that was started elsewhere.
    #[allow(dead_code, reason = "a bench starts its own")]
    pub(crate) fn of(child: Child) -> Running {
        Running(child)
    }

    /// Stops it where it stands, as if it hung.
    pub(crate) fn freeze(&self) {
        self.signal("-STOP");
    }

    /// Lets it go on.
    pub(crate) fn thaw(&self) {
        self.signal("-CONT");
    }

    fn signal(&self, signal: &str) {
        assert!(Command::new("kill").args([signal, &self.0.id().to_string()]).status().unwrap().success());
    }

    /// Ends it now.
    pub(crate) fn end(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.end();
    }
}

/// A folder, and the environment in which sound goes to the daemon that lives in it.
pub(crate) struct House {
    folder: TempDir,
    _turn: MutexGuard<'static, ()>,
}

impl House {
    /// An empty house: no daemon runs in it yet.
    pub(crate) fn new() -> House {
        let turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
        let folder = TempDir::new().unwrap();
        for name in ["home", "run"] {
            let path = folder.path().join(name);
            fs::create_dir(&path).unwrap();
            #[cfg(unix)]
            fs::set_permissions(&path, std::os::unix::fs::PermissionsExt::from_mode(0o700)).unwrap();
        }
        House { folder, _turn: turn }
    }

    /// The folder.
    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Starts the daemon and waits until it answers.
    pub(crate) fn start_daemon(&self) -> Running {
        let socket = self.path().join("pulse.sock");
        let mut command = self.command("pulseaudio");
        command.env_remove("PULSE_SERVER");
        command.args(["-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"]);
        command.args(["-L", &format!("module-null-sink sink_name=cue rate={RATE} channels=2 norewinds=1")]);
        let protocol = format!("module-native-protocol-unix socket={} auth-anonymous=1", socket.display());
        command.args(["-L", &protocol]);
        let log = File::create(self.path().join("pulse.log")).unwrap();
        let child = command.stdout(Stdio::null()).stderr(log).spawn();
        let running = Running(child.expect("pulseaudio is needed for this test: `make test` says how to install it"));
        let answers = || self.command("pactl").arg("info").output().is_ok_and(|output| output.status.success());
        wait_for("the sound daemon answers", answers);
        running
    }

    /// Records the sink until the value is dropped.
    pub(crate) fn record(&self, name: &str) -> Recording {
        let path = self.path().join(name);
        let mut command = self.command("parec");
        command.args(["-d", "cue.monitor", "--raw", "--format=s16le", "--channels=2", "--latency-msec=10"]);
        command.arg(format!("--rate={RATE}"));
        let child = command.stdout(File::create(&path).unwrap()).stderr(Stdio::null()).spawn().unwrap();
        let recording = Recording { running: Running(child), path };
        wait_for("the recording has begun", || fs::metadata(&recording.path).is_ok_and(|file| file.len() > 0));
        recording
    }

    /// Runs the ignored test `name` of this binary as a child in this house.
    pub(crate) fn child(&self, name: &str) -> Child {
        let mut command = self.command(std::env::current_exe().unwrap());
        command.args(["--exact", name, "--ignored", "--nocapture", "--test-threads=1"]);
        command.env(FOLDER, self.path()).env_remove("RUST_LOG");
        let log = File::create(self.path().join("child.log")).unwrap();
        command.stdout(Stdio::null()).stderr(log).spawn().unwrap()
    }

    /// What a child wrote to standard error.
    pub(crate) fn child_log(&self) -> String {
        fs::read_to_string(self.path().join("child.log")).unwrap()
    }

    /// A program that uses the daemon.
    pub(crate) fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        let path = self.path();
        command.env("HOME", path.join("home")).env("XDG_RUNTIME_DIR", path.join("run"));
        command.env("PULSE_SERVER", format!("unix:{}", path.join("pulse.sock").display()));
        command.env_remove("ALSA_CONFIG_PATH").stdin(Stdio::null());
        command
    }
}

/// A recording under way.
pub(crate) struct Recording {
    running: Running,
    path: PathBuf,
}

impl Recording {
    /// Ends the recording; its left channel.
    pub(crate) fn finish(mut self) -> Vec<i16> {
        self.running.end();
        let bytes = fs::read(&self.path).unwrap();
        bytes.chunks_exact(4).map(|frame| i16::from_le_bytes([frame[0], frame[1]])).collect()
    }
}

/// The folder that a child shares with its parent.
pub(crate) fn shared_folder() -> PathBuf {
    std::env::var_os(FOLDER).expect("this test is started by another one, as a child").into()
}

/// Waits until `what` is so, for ten seconds at the most.
pub(crate) fn wait_for(what: &str, is_so: impl FnMut() -> bool) {
    assert!(within(Duration::from_secs(10), is_so), "waited in vain until {what}");
}

#[allow(clippy::disallowed_methods, reason = "a test may read the clock to give up")]
fn within(time: Duration, mut is_so: impl FnMut() -> bool) -> bool {
    let begun = Instant::now();
    while !is_so() {
        if begun.elapsed() > time {
            return false;
        }
        thread::sleep(Duration::from_millis(5));
    }
    true
}
