//! `grade`: grades of a plant by a taster or looker.

use clap::Args;

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::count::Count;
use crate::records::entry::{Entry, Grades};
use crate::records::target::Target;
use crate::report::tasting::CAUTION;

/// Record grades of a plant: `grade T1-03 heat=4 crunch=2 --pod 2 --by Ann`
#[derive(Debug, Args)]
#[command(
    after_help = format!(
        "Examples (a graded trait comes first; then one pod, one taster; then what all grades say):\n  locule trait add heat --grades 0-5\n  locule grade T1-03 heat=4 --pod 1 --by Ann\n  locule grades heat\n{CAUTION}"
    )
)]
pub struct GradeArgs {
    /// The seedling or parent
    target: Target,
    /// Graded trait and grade: heat=4
    #[arg(required = true, value_name = "TRAIT=GRADE")]
    grades: Vec<String>,
    /// Which of its pods
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pod: Option<Count>,
    /// Who gave them; each taster's bias is taken out of the means
    #[arg(
        long,
        value_name = "NAME",
        default_value = "",
        hide_default_value = true
    )]
    by: String,
}

impl GradeArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let example = "locule grade T1-03 heat=4";
        let grades: Result<_, _> = (self.grades.iter())
            .map(|text| typed::pair(text, example))
            .collect();
        Ok(Entry::Grade(Grades {
            target: self.target,
            grades: grades?,
            pod: self.pod,
            taster: self.by,
            day: world.day()?,
        }))
    }
}
