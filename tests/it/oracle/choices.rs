//! Places where the description of the method can be read in two ways, and the reading taken here.
//!
//! Each is one constant, so that a different decision is one edit.

/// A packet sown on the same day counts among "the other crosses sown on the same day" (code: its parent),
/// because "a batch from a packet counts as a self of its parent".
pub const PACKETS_ARE_CROSSES: bool = true;

/// "Stated genotypes at their word": a locus that is not stated keeps its founder prior, and the plant's own
/// looks do not sharpen it.
pub const LABEL_USES_OWN_LOOKS: bool = false;

/// "Too early" counts as a seedling's first reading when emergence dates after it are left out: it was there.
pub const EARLY_IS_A_FIRST_READING: bool = true;

/// "Too early" says nothing about the shelf: it opens no window in which another batch rules out dim light.
pub const EARLY_OPENS_DIM_WINDOW: bool = false;

/// A firm tally of the late class rules out dim light also when a newer tally of its batch or cell has superseded
/// it (false: only tallies that are still evidence do): the colour was seen there on that day.
pub const SUPERSEDED_TALLIES_RULE_OUT_DIM: bool = true;

/// A seedling of a whole batch's tally stands in some cell: without counts of the batch, the dates recorded for
/// its cells (each cell alike) are the dates it may have emerged (false: sowing plus the usual days).
pub const BATCH_TALLY_USES_CELL_DATES: bool = true;

/// `keep` asks for the same class once more on "no such D": every day of the horizon, also one before the
/// day of the imagined reading (false: only days after it).
pub const KEEP_LOOKS_AT_EVERY_DAY: bool = true;
