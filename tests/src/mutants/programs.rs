//! Builds the copies of the library with the torture of the simulated chip, and runs it.
//!
//! One workspace holds them all, so that what they depend on is built once. The versions are those of the tree's own lock file, and
//! nothing is fetched: the tree was built before.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use super::{ALL, Edit, Mutant, Sources, mutants_folder};
use crate::board_image::{Lock, clean_cargo, source_tree};

/// Runs `src/bin/first_fault.rs` on a copy: what it counted, by name.
///
/// # Panics
/// When the copies cannot be built, or the program fails.
#[must_use]
pub fn first_fault(mutant: Mutant, torture: &str, budget: u64) -> BTreeMap<String, u64> {
    let program = programs().join(mutant.name);
    let output = Command::new(&program)
        .args([torture, &budget.to_string()])
        .output()
        .unwrap_or_else(|error| panic!("{}: {error}", program.display()));
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success(),
        "{} {torture}: {told}\n{}",
        mutant.name,
        String::from_utf8_lossy(&output.stderr)
    );
    let words =
        |line: &str| line.split_once(' ').map(|(name, count)| (name.to_owned(), count.parse().unwrap()));
    told.lines().filter_map(words).collect()
}

/// The folder of the built programs, each under its mutant's name. Builds them once.
fn programs() -> &'static Path {
    static PROGRAMS: OnceLock<PathBuf> = OnceLock::new();
    PROGRAMS.get_or_init(|| {
        let tree = source_tree();
        let folder = mutants_folder(&tree);
        let _guard = Lock::take(&tree, "mutants.lock");
        workspace(&tree).write(&folder.join("library"));
        let output = clean_cargo()
            .args(["build", "--offline", "--quiet", "--bins", "--target-dir"])
            .arg(folder.join("built"))
            .current_dir(folder.join("library"))
            .output()
            .expect("cargo runs: it has built this program");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        folder.join("built/debug")
    })
}

/// The files of the workspace.
fn workspace(tree: &Path) -> Sources {
    let mut files = Sources::default();
    let root = std::fs::read_to_string(tree.join("Cargo.toml")).expect("the tree has a manifest");
    let from = root.find("[workspace.package]").expect("the manifest has moved");
    let to = root.find("[profile.dev]").expect("the manifest has moved");
    let inherited = root[from..to].replace("path = \"", &format!("path = \"{}/", tree.display()));
    files.put(
        "Cargo.toml",
        format!(
            "[workspace]\nresolver = \"3\"\nmembers = [\"*/firmware\", \"*/torture\"]\n\n{inherited}{PROFILE}"
        ),
    );
    files.put(
        "Cargo.lock",
        std::fs::read_to_string(tree.join("Cargo.lock")).expect("the tree has a lock file"),
    );
    let library = Sources::read(&tree.join("firmware"), &["Cargo.toml", "src"]);
    for mutant in ALL {
        let mut library = library.clone();
        library.edit(&Edit {
            file: "Cargo.toml",
            from: "name = \"firmware\"\n",
            to: "name = \"firmware-NAME\"\n",
        });
        library.edit(&Edit {
            file: "Cargo.toml",
            from: "[features]\n",
            to: "[lib]\nname = \"firmware\"\n\n[features]\n",
        });
        for edit in mutant.edits {
            library.edit(edit);
        }
        for (place, text) in library.0 {
            files.put(
                Path::new(mutant.name).join("firmware").join(place),
                text.replace("firmware-NAME", &format!("firmware-{}", mutant.name)),
            );
        }
        let torture = Path::new(mutant.name).join("torture");
        let filled =
            |text: &str| text.replace("NAME", mutant.name).replace("TREE", &tree.display().to_string());
        files.put(torture.join("Cargo.toml"), filled(TORTURE));
        files.put(torture.join("lib.rs"), filled(TORTURE_LIBRARY));
    }
    files
}

/// As the tests themselves are built.
const PROFILE: &str = "[profile.dev]\nopt-level = 1\ndebug = false\n";

const TORTURE: &str = "[package]
name = \"torture-NAME\"
edition.workspace = true

[lib]
name = \"tests\"
path = \"lib.rs\"

[[bin]]
name = \"NAME\"
path = \"TREE/tests/src/bin/first_fault.rs\"

[dependencies]
firmware = { package = \"firmware-NAME\", path = \"../firmware\", features = [\"sim\"] }
shared-types.workspace = true
embedded-storage.workspace = true
postcard.workspace = true
heapless.workspace = true
rand.workspace = true
rand_chacha.workspace = true
rand_distr.workspace = true
sequential-storage = { version = \"8.0.2\", default-features = false }
embedded-storage-async = \"0.4.2\"
";

const TORTURE_LIBRARY: &str = "#[path = \"TREE/tests/src/power_cut/mod.rs\"]
pub mod power_cut;
";
