#include "src/music/line.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// To find one's place again between two that were not neighbours.
constexpr double pause = 1.0;  // quarters

}  // namespace

LinePart partOf(const Line& line, std::span<const std::size_t> moves) {
    LinePart part{line, {}};
    part.line.moves.clear();
    part.line.barBegins = {0.0};
    double moved = 0.0;  // what the part's beats are later
    for (std::size_t begin = 0, end = 0; begin < line.moves.size(); begin = end) {
        end = begin + 1;
        while (end < line.moves.size() && !line.moves[end].picked) ++end;
        if (std::ranges::none_of(moves, [&](std::size_t move) { return move >= begin && move < end; })) continue;
        const bool follows = !part.moves.empty() && part.moves.back() + 1 == begin;
        if (part.moves.empty()) {
            moved = -std::floor(line.moves[begin].beat);
        } else if (!follows) {
            const double free = std::ceil(part.line.moves.back().ends + pause);
            moved = free - std::floor(line.moves[begin].beat);
        }
        for (std::size_t i = begin; i < end; ++i) {
            part.moves.push_back(i);
            part.line.moves.push_back(line.moves[i]);
            part.line.moves.back().beat += moved;
            part.line.moves.back().ends += moved;
        }
    }
    for (const LineMove& move : part.line.moves) part.line.length = std::max(move.beat, move.ends);
    return part;
}

}  // namespace landfall
