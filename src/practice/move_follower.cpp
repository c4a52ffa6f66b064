#include "src/practice/move_follower.h"

#include <utility>

#include "src/practice/recording.h"

namespace landfall {

MoveFollower::MoveFollower(const FollowerConfig& given, std::vector<ListenerEvent>& sink)
    : config(given), events(sink), heard(given.sampleRate), voices({.sampleRate = heard.rate(), .hop = given.hop}),
      beside(heard, voices, given.notes.a4), notes(given.notes),
      finder(given.find, Targets(given.target, given.ownFrets), beside) {
    make();
}

void MoveFollower::make() {
    const TryMaker::Around around{notes, finder, heard, voices, events};
    if (order == MoveOrder::once) maker = std::make_unique<Recording>(around);
    else if (several) maker = std::make_unique<ChordTry>(config.chords, around);
    else maker = std::make_unique<RepeatedTry>(config.tries, around);
    notes.tell(*maker);
}

void MoveFollower::setMoves(std::vector<Move> asked, MoveOrder how) {
    finder.moves = std::move(asked);
    const bool other = std::exchange(order, how) != how;
    if (std::exchange(several, severalAsked()) != several || other) make();
    maker->begin();
}

void MoveFollower::sound(std::span<const float> samples) {
    for (const float sample : samples) heard.hear(sample);
    maker->sound();
    if (order == MoveOrder::once || several) return;
    const double before = heard.end() - config.remembered;
    if (heard.before(before) > heard.samples().size() / 2) heard.forget(heard.before(before));
}

void MoveFollower::settled(const PitchFrame& frame) {
    notes.settled(frame);
    // Notes of a recording may be one another's repeats, and are no echoes.
    if (order == MoveOrder::once) return;
    if (frame.pitch) beside.heard(frame, notes.note() ? notes.note()->onset : frame.centre.value);
    beside.forget(frame.centre.value - config.remembered);
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
