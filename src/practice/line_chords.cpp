#include "src/practice/line_chords.h"

#include <algorithm>
namespace landfall {

bool LineChords::isIn(const Line& line) {
    return std::ranges::any_of(line.moves, [](const LineMove& each) { return !each.move.with.empty(); });
}

LineChords::LineChords(const Line& given, double sampleRate, Hertz a4)
    : line(given), kept(sampleRate), voices({.sampleRate = kept.rate()}) {
    config.a4 = a4;
    config.targets = Targets(line.target);
}

const LineChords::Reading& LineChords::read(const Played& played) {
    for (const Reading& known : readings)
        if (known.played == played) return known;
    std::vector<Move> moves;
    for (std::size_t i = 0; i < played.count; ++i) moves.push_back(line.moves[played.first + i].move);
    auto [landings, frames] =
        readStroke(voices, kept.all(), moves, static_cast<int>(played.first) + 1, played.stroke, played.end, config);
    readings.push_back({played, std::move(landings), std::move(frames)});
    return readings.back();
}

void LineChords::forget(double before) {
    kept.forget(kept.before(before));
    readings.clear();
}

}  // namespace landfall
