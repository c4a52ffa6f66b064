#include "src/practice/line_practice.h"

#include <algorithm>

namespace landfall {

namespace {

// It is looked where the player is at multiples of so many samples, so that the cut of the input does not show.
constexpr std::uint64_t lookEvery = 256;

}  // namespace

LinePractice::LinePractice(const Line& practised, double sampleRate, Hertz a4, const LinePracticeConfig& given)
    : line(practised), config(given), listener(practised, sampleRate, a4) {}

std::span<const LineEvent> LinePractice::process(std::span<const float> samples) {
    events.clear();
    while (!samples.empty()) {
        const auto room = static_cast<std::size_t>(lookEvery - heard % lookEvery);
        const auto piece = samples.first(std::min(room, samples.size()));
        listener.process(piece);
        heard += piece.size();
        samples = samples.subspan(piece.size());
        if (heard % lookEvery == 0) look();
    }
    return events;
}

std::span<const LineEvent> LinePractice::finish() {
    events.clear();
    listener.finish();
    endPass(listener.marks(), listener.follower().searched());
    return events;
}

void LinePractice::look() {
    const std::size_t at = listener.follower().position();
    if (at != position && at > 0) events.emplace_back(MoveReached{at - 1});
    position = at;
    if (isOver()) endPass(listener.marks(), listener.follower().searched());
    else if (const auto begins = nextPass()) endPass(markFrames(line, listener.follower(), *begins), *begins);
}

bool LinePractice::isOver() const {
    const LineFollower& follower = listener.follower();
    if (follower.searched() == 0) return false;
    if (position == line.moves.size() && follower.restsFor() >= config.afterLast && follower.lead() >= config.sure)
        return true;
    const double since = follower.frames()[follower.searched() - 1].time - follower.frames().front().time;
    return follower.quietFor() >= patience() || since >= config.longest.value;
}

// A rest or a note that has died away is no end of the line.
Seconds LinePractice::patience() const {
    if (position == 0 || line.moves.size() < 2) return config.givenUp;
    const std::size_t next = std::min(position, line.moves.size() - 1);  // perhaps the last one has not come yet
    const double quarters = line.moves[next].beat - line.moves[next - 1].beat;
    const double rest = 60.0 * quarters / line.tempo.value_or(config.usualTempo);
    return std::max(config.givenUp, Seconds(config.restAtMost * rest));
}

// The frame with which the line began again after its last move, without a pause.
std::optional<std::size_t> LinePractice::nextPass() {
    const LineFollower& follower = listener.follower();
    if (position == line.moves.size()) {
        reachedLast = true;
        leftLast.reset();
    }
    if (!reachedLast || position == line.moves.size() || position == 0) return std::nullopt;
    const std::size_t now = follower.searched() - 1;
    if (!leftLast) leftLast = now;
    if (follower.frames()[now].time - follower.frames()[*leftLast].time < config.stays.value) return std::nullopt;
    reachedLast = false;
    bool played = false;
    for (const Playing& playing : follower.playedSoFar().moves) {
        if (playing.move + 1 == line.moves.size()) played = true;
        else if (played && playing.move <= (line.moves.size() - 1) / 4) return playing.begin;
    }
    return std::nullopt;  // the end of the line is played again
}

void LinePractice::endPass(LineMarks marks, std::size_t frame) {
    const auto landed = static_cast<std::size_t>(
        std::ranges::count_if(marks.moves, [](const LineMark& each) { return each.outcome == Outcome::landed; }));
    if (landed > 0 && (landed >= config.fewest || 4 * landed >= line.moves.size()))
        events.emplace_back(PassOver{++passes, std::move(marks)});
    listener.beginAgain(frame);
    position = 0;
    reachedLast = false;
    leftLast.reset();
}

}  // namespace landfall
