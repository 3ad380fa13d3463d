//! Where each program looks for what its user adds to it.

use std::ffi::OsString;
use std::path::PathBuf;

use anyhow::{Context, Result};

use crate::args::Host;

/// How a system arranges a user's files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum System {
    /// The XDG base directories.
    Xdg,
    Mac,
    Windows,
}

const SYSTEM: System = if cfg!(target_os = "macos") {
    System::Mac
} else if cfg!(windows) {
    System::Windows
} else {
    System::Xdg
};

/// The user's folder of a program for what is added to it.
pub fn user_folder(host: Host) -> Result<PathBuf> {
    let hint = "the user's folder is not known; name one with --to";
    folder(host, SYSTEM, &|name| std::env::var_os(name)).context(hint)
}

/// By system and environment: FreeCAD's `Mod`, and Inkscape's `extensions`, as their manuals name them. Where the program's
/// own variable moves its folders, it is followed.
fn folder(host: Host, system: System, variable: &dyn Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let absolute = |name: &str| variable(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let home = || absolute("HOME");
    let support = || Some(home()?.join("Library/Application Support"));
    match host {
        Host::Freecad => {
            let data = match system {
                System::Xdg => absolute("XDG_DATA_HOME").or_else(|| Some(home()?.join(".local/share"))),
                System::Mac => support(),
                System::Windows => absolute("APPDATA"),
            };
            absolute("FREECAD_USER_DATA").or_else(|| Some(data?.join("FreeCAD"))).map(|data| data.join("Mod"))
        }
        Host::Inkscape => {
            let profile = match system {
                System::Xdg => absolute("XDG_CONFIG_HOME").or_else(|| Some(home()?.join(".config"))),
                System::Mac => support().map(|s| s.join("org.inkscape.Inkscape/config")),
                System::Windows => absolute("APPDATA"),
            };
            let profile = absolute("INKSCAPE_PROFILE_DIR").or_else(|| Some(profile?.join("inkscape")));
            profile.map(|profile| profile.join("extensions"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(host: Host, system: System, set: &[(&str, &str)]) -> Option<String> {
        let variable = |name: &str| set.iter().find(|(n, _)| *n == name).map(|(_, value)| OsString::from(value));
        folder(host, system, &variable).map(|path| path.to_string_lossy().into_owned())
    }

    #[cfg(unix)]
    #[test]
    fn folders_are_those_of_the_systems() {
        let home = ("HOME", "/home/a");
        for (host, system, set, expected) in [
            (Host::Freecad, System::Xdg, &[home][..], "/home/a/.local/share/FreeCAD/Mod"),
            (Host::Freecad, System::Xdg, &[home, ("XDG_DATA_HOME", "/d")], "/d/FreeCAD/Mod"),
            // What is not absolute is not followed (XDG base directory specification).
            (Host::Freecad, System::Xdg, &[home, ("XDG_DATA_HOME", "d")], "/home/a/.local/share/FreeCAD/Mod"),
            (Host::Freecad, System::Xdg, &[home, ("FREECAD_USER_DATA", "/f")], "/f/Mod"),
            (Host::Freecad, System::Mac, &[home], "/home/a/Library/Application Support/FreeCAD/Mod"),
            (Host::Freecad, System::Windows, &[("APPDATA", "/r")], "/r/FreeCAD/Mod"),
            (Host::Inkscape, System::Xdg, &[home], "/home/a/.config/inkscape/extensions"),
            (Host::Inkscape, System::Xdg, &[("XDG_CONFIG_HOME", "/c")], "/c/inkscape/extensions"),
            (Host::Inkscape, System::Xdg, &[home, ("INKSCAPE_PROFILE_DIR", "/i")], "/i/extensions"),
            (
                Host::Inkscape,
                System::Mac,
                &[home],
                "/home/a/Library/Application Support/org.inkscape.Inkscape/config/inkscape/extensions",
            ),
            (Host::Inkscape, System::Windows, &[("APPDATA", "/r")], "/r/inkscape/extensions"),
        ] {
            assert_eq!(found(host, system, set).as_deref(), Some(expected), "{system:?}");
        }
        assert_eq!(found(Host::Freecad, System::Xdg, &[]), None);
    }
}
