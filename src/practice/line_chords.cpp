#include "src/practice/line_chords.h"

#include <algorithm>
namespace landfall {

bool LineChords::isIn(const Line& line) {
    return std::ranges::any_of(line.moves, [](const LineMove& each) { return !each.move.with.empty(); });
}

LineChords::LineChords(const Line& given, double sampleRate, Hertz a4)
    : line(given), decimator({.sampleRate = sampleRate}), voices({.sampleRate = decimator.workingRate()}),
      lead(static_cast<double>(decimator.latencySamples()) / sampleRate) {
    config.a4 = a4;
    config.targets = Targets(line.target);
}

void LineChords::hear(float sample) {
    if (const auto lower = decimator.push(sample)) kept.push_back(*lower);
}

const LineChords::Reading& LineChords::read(const Played& played) {
    for (const Reading& known : readings)
        if (known.played == played) return known;
    std::vector<Move> moves;
    for (std::size_t i = 0; i < played.count; ++i) moves.push_back(line.moves[played.first + i].move);
    auto [landings, frames] = readStroke(voices, kept, lead - origin, moves, static_cast<int>(played.first) + 1,
                                         played.stroke, played.end, config);
    readings.push_back({played, std::move(landings), std::move(frames)});
    return readings.back();
}

void LineChords::forget(double before) {
    const double rate = decimator.workingRate();
    const auto samples =
        std::min(kept.size(), static_cast<std::size_t>(std::max(0.0, (before + lead - origin) * rate)));
    kept.erase(kept.begin(), kept.begin() + static_cast<std::ptrdiff_t>(samples));
    origin += static_cast<double>(samples) / rate;
    readings.clear();
}

}  // namespace landfall
