#include "src/practice/move_follower.h"

#include <utility>

#include "src/practice/recording.h"

namespace landfall {

MoveFollower::MoveFollower(const FollowerConfig& given, std::vector<ListenerEvent>& sink)
    : config(given), events(sink), notes(given.notes), finder(given.find, Targets(given.target, given.ownFrets)) {
    make();
}

ChordTryConfig MoveFollower::chordConfig() const {
    ChordTryConfig now = config.chords;
    now.from = static_cast<double>(heard) / now.sampleRate;
    return now;
}

void MoveFollower::make() {
    const TryMaker::Around around{notes, finder, events};
    if (order == MoveOrder::once) maker = std::make_unique<Recording>(around);
    else if (several) maker = std::make_unique<ChordTry>(chordConfig(), around);
    else maker = std::make_unique<RepeatedTry>(config.tries, around);
    notes.tell(*maker);
}

void MoveFollower::setMoves(std::vector<Move> asked, MoveOrder how) {
    finder.moves = std::move(asked);
    const bool other = std::exchange(order, how) != how;
    if (std::exchange(several, severalAsked()) != several || other) make();
    maker->begin();
}

std::optional<Cents> MoveFollower::fromTarget(Hertz pitch) const {
    if (several || maker->next() >= finder.moves.size()) return std::nullopt;
    return Cents(100.0 * pitchOf(pitch, config.notes.a4).value - finder.targets.of(finder.moves[maker->next()]).cents);
}

void MoveFollower::finish() {
    notes.finish();
    maker->finish();
}

}  // namespace landfall
