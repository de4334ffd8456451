//! Many seasons of one world, in two threads; the counts do not depend on how they were shared out.

use super::counts::Counts;
use super::play::Season;
use super::world::World;

/// Plays seasons 0 to `seasons` of a seed and adds them up in their order.
pub fn run(world: &World, seed: u64, seasons: u64) -> Counts {
    let one = |number: u64| Season::new(world, seed, number).play(|_, _, _| ());
    let share = |start: u64| {
        (start..seasons)
            .step_by(2)
            .map(one)
            .collect::<Vec<Counts>>()
    };
    let (even, odd) = std::thread::scope(|scope| {
        let odd = scope.spawn(|| share(1));
        (share(0), odd.join().expect("every season can be played"))
    });
    let mut all = Counts::default();
    let mut odd = odd.iter();
    for counts in &even {
        all.add(counts);
        odd.next().into_iter().for_each(|counts| all.add(counts));
    }
    all
}
