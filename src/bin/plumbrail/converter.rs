//! A program of the user's that makes a DXF of a DWG: run without a shell, in a folder of its own, for a limited time.

use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use anyhow::{Context, Result, bail, ensure};

use crate::read;

/// How often it is looked whether the program has ended.
const LOOK: Duration = Duration::from_millis(50);

/// So much of what the program says is kept.
const MOST_SAID: usize = 4096;

/// Runs `command` (words, `{in}` and `{out}` for the files) on the bytes of a DWG, and gives those of the DXF.
pub fn run(command: &str, dwg: &[u8], seconds: u32) -> Result<Vec<u8>> {
    let folder = tempfile::tempdir().context("cannot make a temporary folder")?;
    let (from, to) = (folder.path().join("plan.dwg"), folder.path().join("plan.dxf"));
    std::fs::write(&from, dwg).context("cannot write the temporary DWG")?;
    let words = words(command)?;
    for placeholder in ["{in}", "{out}"] {
        let named = words.iter().skip(1).any(|w| w.contains(placeholder));
        ensure!(named, "--dwg-converter '{command}' does not say {placeholder}: write 'CMD {{in}} {{out}}'");
    }
    let put = |word: &String| word.replace("{in}", &text(&from)).replace("{out}", &text(&to));
    let mut words = words.iter().map(put);
    let program = words.next().context("--dwg-converter names no program")?;
    let mut child = Command::new(&program)
        .args(words)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .with_context(|| format!("cannot run {program}"))?;
    let (status, said) = wait(&mut child, seconds)?;
    let said = said.trim();
    let said = if said.is_empty() { String::new() } else { format!("; it says: {}", said.replace('\n', " / ")) };
    let Some(status) = status else {
        bail!("{program} did not end within {seconds} seconds and was stopped (--dwg-timeout){said}");
    };
    ensure!(status.success(), "{program} failed ({status}){said}");
    let dxf = read::whole(&to).ok().map(Vec::from).filter(|b| !b.is_empty());
    dxf.with_context(|| format!("{program} ended well, but wrote nothing to {{out}}{said}"))
}

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// Waits for the end; no status when the time is up. What the program says is read all along, lest it stop for nobody
/// reads it.
fn wait(child: &mut Child, seconds: u32) -> Result<(Option<ExitStatus>, String)> {
    let (send, said) = mpsc::channel();
    if let Some(mut pipe) = child.stderr.take() {
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(length @ 1..) = pipe.read(&mut buffer) {
                if send.send(buffer.get(..length).unwrap_or_default().to_vec()).is_err() {
                    break;
                }
            }
        });
    }
    let mut kept = Vec::new();
    // A program that closes its standard error ends the channel; then only its end is waited for.
    let (keep, rest) = mpsc::channel::<Vec<u8>>();
    let mut open = true;
    let looks = u128::from(seconds) * 1000 / LOOK.as_millis();
    let mut looked = 0;
    while looked <= looks {
        if let Some(status) = child.try_wait().context("cannot wait for the program")? {
            drain(&said, &mut kept);
            return Ok((Some(status), String::from_utf8_lossy(&kept).into_owned()));
        }
        let source = if open { &said } else { &rest };
        match source.recv_timeout(LOOK) {
            Ok(piece) => add(&mut kept, &piece),
            Err(mpsc::RecvTimeoutError::Disconnected) => open = false,
            Err(mpsc::RecvTimeoutError::Timeout) => looked += 1,
        }
    }
    drop(keep);
    child.kill().and_then(|()| child.wait()).context("cannot stop the program")?;
    Ok((None, String::from_utf8_lossy(&kept).into_owned()))
}

/// What is still on its way; a program that was started by the program may keep the channel open.
fn drain(said: &Receiver<Vec<u8>>, kept: &mut Vec<u8>) {
    while let Ok(piece) = said.recv_timeout(LOOK * 40) {
        add(kept, &piece);
    }
}

fn add(kept: &mut Vec<u8>, piece: &[u8]) {
    let room = MOST_SAID.saturating_sub(kept.len());
    kept.extend(piece.iter().take(room));
}

/// Words of a command, divided at blanks; quotes hold blanks together. A backslash is a letter like any other, since it
/// stands in paths.
fn words(command: &str) -> Result<Vec<String>> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote: Option<char> = None;
    for c in command.chars() {
        match (quote, c) {
            (Some(open), c) if c == open => quote = None,
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, c) if c.is_whitespace() => words.extend(word.take()),
            (_, c) => word.get_or_insert_default().push(c),
        }
    }
    ensure!(quote.is_none(), "--dwg-converter: a quote is not closed");
    words.extend(word);
    Ok(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_divided_at_blanks_outside_of_quotes() {
        let all = words(r#"'/opt/my tools/conv' -o"{out} x"  {in} C:\tools "" "#).unwrap();
        assert_eq!(all, ["/opt/my tools/conv", "-o{out} x", "{in}", r"C:\tools", ""]);
        assert!(words("conv '{in}").is_err());
        assert_eq!(words("  ").unwrap(), Vec::<String>::new());
    }
}
