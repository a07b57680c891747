//! Builds the pages of `clients/` in a copy under `OUT_DIR`, where `src/server/pages.rs` takes them into the binary.
//! `CLIENTS_DIST=DIR` takes ready-built pages from a folder instead, for machines without Node.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};
use std::{env, fs, io};

/// What the pages are built from. One by one: `clients/` as a whole holds `node_modules`, which changes all the time.
const SOURCES: [&str; 26] = [
    ".npmrc",
    "core",
    "desk",
    "desk.html",
    "front",
    "home",
    "home.config.ts",
    "home.html",
    "index.html",
    "join",
    "join.html",
    "package-lock.json",
    "package.json",
    "part",
    "phone",
    "phone.html",
    "public",
    "review",
    "review.html",
    "score",
    "score.html",
    "sound",
    "sound.html",
    "tsconfig.json",
    "ui",
    "vite.config.ts",
];

/// What the program is made of, beside the pages.
const PROGRAM: [&str; 4] = ["src", "configs", "Cargo.toml", "Cargo.lock"];

fn main() -> ExitCode {
    match build().and_then(|()| name_the_build()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            for line in why.lines() {
                println!("cargo::error={line}");
            }
            ExitCode::FAILURE
        }
    }
}

fn build() -> Result<(), String> {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-env-changed=CLIENTS_DIST");
    if env::var("CARGO_CFG_TARGET_OS").is_ok_and(|it| it == "linux") {
        // Where the program's own addresses stand is written in a tenth of the room, and read sooner.
        println!("cargo::rustc-link-arg-bins=-Wl,-z,pack-relative-relocs");
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or("OUT_DIR is not set: build with cargo")?);
    let pages = out.join("pages");
    if let Some(ready) = env::var_os("CLIENTS_DIST") {
        return take_ready(Path::new(&ready), &pages);
    }
    // This runs whenever anything of the program changes; the pages are built anew when theirs does.
    let made_of = sources_of_pages().map_err(|why| format!("clients/ could not be read: {why}"))?;
    let kept = out.join("pages.hash");
    if pages.join("index.html").is_file() && fs::read_to_string(&kept).is_ok_and(|kept| kept == made_of) {
        return Ok(());
    }
    let copy = out.join("clients");
    copy_sources(Path::new("clients"), &copy).map_err(|why| format!("clients/ could not be copied: {why}"))?;
    install(&copy)?;
    let vite =
        ["node_modules/vite/bin/vite.js", "build", "--outDir", "../pages", "--emptyOutDir", "--logLevel", "warn"];
    run("node", &vite, &copy)?;
    fs::write(kept, made_of).map_err(|why| format!("what the pages were made of could not be kept: {why}"))
}

fn sources_of_pages() -> io::Result<String> {
    let mut hash = DefaultHasher::new();
    for source in SOURCES {
        println!("cargo::rerun-if-changed=clients/{source}");
        hash_of(&Path::new("clients").join(source), &mut hash)?;
    }
    Ok(format!("{:016x}", hash.finish()))
}

/// Gives the program a number for what it was made of, so that two programs of one version are told apart: the standard
/// library's hash over names and contents of its sources.
fn name_the_build() -> Result<(), String> {
    let mut hash = DefaultHasher::new();
    env::var("HOST").unwrap_or_default().hash(&mut hash);
    for source in PROGRAM {
        println!("cargo::rerun-if-changed={source}");
        hash_of(Path::new(source), &mut hash).map_err(|why| format!("{source} could not be read: {why}"))?;
    }
    println!("cargo::rustc-env=HOLDFAST_BUILD={:012x}", hash.finish() >> 16);
    // What a count of instructions depends on (benches/instructions.rs).
    println!("cargo::rustc-env=HOLDFAST_OPT_LEVEL={}", env::var("OPT_LEVEL").unwrap_or_default());
    Ok(())
}

fn hash_of(path: &Path, hash: &mut DefaultHasher) -> io::Result<()> {
    path.to_string_lossy().hash(hash);
    if !path.is_dir() {
        fs::read(path)?.hash(hash);
        return Ok(());
    }
    let mut inside =
        fs::read_dir(path)?.map(|entry| entry.map(|entry| entry.path())).collect::<io::Result<Vec<_>>>()?;
    inside.sort();
    inside.iter().try_for_each(|path| hash_of(path, hash))
}

fn take_ready(ready: &Path, pages: &Path) -> Result<(), String> {
    println!("cargo::rerun-if-changed={}", ready.display());
    if !ready.join("index.html").is_file() {
        return Err("CLIENTS_DIST names a folder without index.html in it. \
             Build the pages there first: cd clients && npm ci && npm run build, then CLIENTS_DIST=clients/dist."
            .into());
    }
    replace(ready, pages).map_err(|why| format!("the pages in CLIENTS_DIST could not be copied: {why}"))
}

fn copy_sources(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir_all(to)?;
    for source in SOURCES {
        replace(&from.join(source), &to.join(source))?;
    }
    Ok(())
}

/// Installs the packages anew only when the lock file is another one than the last time.
fn install(copy: &Path) -> Result<(), String> {
    let read = |name: &str| fs::read(copy.join(name)).ok();
    let lock = read("package-lock.json");
    if copy.join("node_modules/vite").is_dir() && lock.is_some() && lock == read("installed.lock") {
        return Ok(());
    }
    let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
    run(npm, &["ci", "--omit=dev", "--ignore-scripts", "--no-audit", "--no-fund"], copy)?;
    fs::write(copy.join("installed.lock"), lock.unwrap_or_default())
        .map_err(|why| format!("the list of installed packages could not be kept: {why}"))
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> Result<(), String> {
    let done = Command::new(program).args(arguments).current_dir(folder).output().map_err(|why| {
        format!(
            "the pages need Node 20.19 or later with npm, and `{program}` could not be started ({why}). \
             Install Node, or give the build ready-made pages with CLIENTS_DIST=DIR."
        )
    })?;
    if done.status.success() {
        return Ok(());
    }
    let said = [String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr)].concat();
    Err(format!("`{program} {}` failed in the copy of clients/. It said:\n{said}", arguments.join(" ")))
}

/// Makes `to` a copy of `from`, a file or a folder, without anything that was there before.
fn replace(from: &Path, to: &Path) -> io::Result<()> {
    if to.is_dir() {
        fs::remove_dir_all(to)?;
    }
    if !from.is_dir() {
        return fs::copy(from, to).map(|_| ());
    }
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        replace(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}
