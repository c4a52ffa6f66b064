#include "src/practice/line_practice.h"

#include <algorithm>

namespace landfall {

namespace {

// It is looked where the player is at multiples of so many samples, so that the cut of the input does not show.
constexpr std::uint64_t lookEvery = 256;

}  // namespace

LinePractice::LinePractice(const Line& practised, double sampleRate, Hertz a4, const LinePracticeConfig& given)
    : line(practised), config(given), listener(practised, sampleRate, a4), told(practised.moves.size()) {}

std::span<const LineEvent> LinePractice::process(std::span<const float> samples) {
    events.clear();
    heardSignal.clear();
    while (!samples.empty()) {
        const auto room = static_cast<std::size_t>(lookEvery - heard % lookEvery);
        const auto piece = samples.first(std::min(room, samples.size()));
        const auto signal = listener.process(piece);
        heardSignal.insert(heardSignal.end(), signal.begin(), signal.end());
        heard += piece.size();
        samples = samples.subspan(piece.size());
        if (heard % lookEvery == 0) look();
    }
    return events;
}

std::span<const LineEvent> LinePractice::finish() {
    events.clear();
    heardSignal.clear();
    listener.finish();
    endPass();
    return events;
}

void LinePractice::look() {
    const std::size_t at = listener.follower().position();
    const bool moved = at != position && at > 0;
    if (moved) events.emplace_back(MoveReached{at - 1});
    position = at;
    if (moved) tell();
    if (isOver()) endPass();
    else if (const auto begins = nextPass()) endPass(begins);
}

// The moves before the one that sounds; each once, and again where it was gone back to or looks otherwise now.
void LinePractice::tell() {
    const auto now = told.begin() + static_cast<std::ptrdiff_t>(position - 1);
    std::fill(now, told.end(), std::nullopt);
    if (now == told.begin()) return;
    const LineMarks marks = listener.marks(listener.follower().searched());
    std::vector<LineTrace> played = listener.traces(LineFollower::all);
    for (std::size_t i = 0; i + 1 < position; ++i) {
        const Outcome outcome = marks.moves[i].outcome;
        // A mistake is one once the move after it has come, too.
        if (told[i] == outcome || (outcome != Outcome::landed && i + 2 == position)) continue;
        told[i] = outcome;
        events.emplace_back(MoveTold{marks.moves[i], std::move(played[i])});
    }
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

// Not something else that was played.
bool LinePractice::isLine(const LineMarks& marks, std::span<const LineTrace> played) const {
    const bool few = line.moves.size() < config.fewest;
    std::size_t came = 0;
    for (const LineMark& mark : marks.moves) {
        const auto& trace = played[mark.move];
        const bool sounded =
            std::ranges::count_if(trace, [](const LinePoint& point) { return point.fromTarget.has_value(); })
            >= config.heard;
        if (few ? sounded : mark.outcome == Outcome::landed || (mark.outcome == Outcome::died && sounded)) ++came;
    }
    return came > 0 && (came >= config.fewest || 4 * came >= line.moves.size());
}

void LinePractice::endPass(std::optional<std::size_t> next) {
    const LineFollower& follower = listener.follower();
    LineMarks marks = next ? listener.marks(*next) : listener.marks();
    std::vector<LineTrace> played = next ? listener.traces(*next) : listener.traces();
    if (isLine(marks, played)) events.emplace_back(PassOver{++passes, std::move(marks), std::move(played)});
    listener.beginAgain(next.value_or(follower.searched()));
    position = 0;
    reachedLast = false;
    leftLast.reset();
    std::fill(told.begin(), told.end(), std::nullopt);
}

}  // namespace landfall
