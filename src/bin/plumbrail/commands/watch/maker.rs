//! Makes the files of each layout that is shown, and writes them into the folder as `layout` does.

use std::path::PathBuf;
use std::sync::Arc;
use std::thread;

use anyhow::Result;
use plumbrail::base::Finding;
use plumbrail::write::message::SummaryLine;

use super::board::{Board, Shown, Standing};
use crate::args::{MessageFormat, Outputs, Watch};
use crate::commands::{count, layout, print_line};
use crate::files::Making;
use crate::guarded::guarded;
use crate::messages;
use crate::output::{self, Content, File, There};

/// Works from now on.
pub fn start(args: &Watch, board: Arc<Board>, format: MessageFormat) -> Result<()> {
    let maker = Maker {
        plan: args.plan.clone(),
        folder: layout::folder(&args.plan, args.out.as_deref()),
        outputs: args.outputs.clone(),
        format,
    };
    thread::Builder::new().name("files".to_owned()).spawn(move || {
        loop {
            let (number, shown) = board.next();
            match guarded(|| maker.make(&shown)).map_err(anyhow::Error::msg).and_then(|made| made) {
                Ok((files, standing)) => board.made(number, Arc::new(files), standing),
                Err(error) => {
                    messages::failed_plan(&maker.plan, &error, format);
                    board.made(number, Arc::default(), Some(Standing::Unwritten { why: format!("{error:#}") }));
                }
            }
        }
    })?;
    Ok(())
}

struct Maker {
    plan: PathBuf,
    folder: PathBuf,
    outputs: Outputs,
    format: MessageFormat,
}

type Named = Vec<(String, Vec<u8>)>;

impl Maker {
    /// All files of a layout, and what went wrong with writing them.
    fn make(&self, shown: &Shown) -> Result<(Named, Option<Standing>)> {
        let mut making = Making::new(&shown.outcome, &shown.settings, &self.outputs, false, &self.plan);
        // The page shows all else of a layout that the drawing cannot take, and the folder gets nothing.
        let (rails, refused) = match making.rails(&shown.bytes) {
            Ok(rails) => (rails, None),
            Err(refusal) => (None, Some(refusal)),
        };
        let mut files = making.files()?;
        let rail_name = making.rail_name();
        files.extend(rails.map(|graft| File { name: rail_name, content: Content::Graft(graft, &shown.bytes) }));
        let mut standing = None;
        if !shown.is_preview {
            match refused.map_or_else(|| self.write(&files, &making), |refusal| Err(refusal.into())) {
                Ok(()) => self.say(shown, &making.findings, files.len())?,
                Err(error) => {
                    messages::failed_plan(&self.plan, &error, self.format);
                    standing = Some(Standing::Unwritten { why: format!("{error:#}") });
                }
            }
        }
        let named = files.into_iter().map(|file| Ok((file.name, file.content.bytes()?.into_owned())));
        Ok((named.collect::<Result<_>>()?, standing))
    }

    fn write(&self, files: &[File<'_>], making: &Making<'_>) -> Result<()> {
        let makes = |name: &str| making.makes(name);
        output::write(&self.folder, files, &There { makes: Some(&makes), plan: &self.plan, ..There::nothing() })
    }

    fn say(&self, shown: &Shown, findings: &[Finding], files: usize) -> Result<()> {
        messages::findings(&self.plan, Some(&shown.outcome.plan.frame), findings, self.format);
        let out = self.folder.display().to_string();
        let written = format!("{} written to {out}", count(files, "file"));
        let line = layout::in_a_line(&self.plan, &shown.outcome, findings, &written);
        let summary = SummaryLine { files, out, ..line };
        match self.format {
            MessageFormat::Text => {
                print_line(&summary.message)?;
                messages::conclusion(layout::conclusion(&self.plan, &shown.outcome, findings), self.format);
                Ok(())
            }
            MessageFormat::Json => {
                messages::summary(summary, self.format);
                Ok(())
            }
        }
    }
}
