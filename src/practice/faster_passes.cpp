#include "src/practice/faster_passes.h"

#include <algorithm>

#include <fmt/core.h>

#include "src/practice/line_words.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

bool fails(const TimedPass& pass, std::size_t move) {
    return std::ranges::find(pass.failed, move) != pass.failed.end();
}

double shareFailed(std::span<const TimedPass> passes, std::size_t move) {
    const auto failed = std::ranges::count_if(passes, [&](const TimedPass& each) { return fails(each, move); });
    return static_cast<double>(failed) / static_cast<double>(passes.size());
}

}  // namespace

std::optional<Breaking> breaksFirst(std::span<const TimedPass> given, const FasterConfig& config) {
    std::vector<TimedPass> passes(given.begin(), given.end());
    std::ranges::stable_sort(passes, {}, &TimedPass::tempo);
    if (passes.size() < config.passes || passes.back().tempo < config.spread * passes.front().tempo) return {};
    const std::span<const TimedPass> all = passes;
    // From the slowest step upwards, so that the first found is the one that breaks first.
    for (std::size_t from = 1; from < all.size(); ++from) {
        const auto slower = all.first(from), faster = all.subspan(from);
        std::optional<Breaking> found;
        double most = 0.0;
        for (const std::size_t move : faster.front().failed) {
            const double above = shareFailed(faster, move);
            if (above < config.failsAbove || shareFailed(slower, move) > config.failsBelow || above <= most) continue;
            most = above;
            found = Breaking{move, faster.front().tempo};
        }
        if (found) return found;
    }
    return {};
}

std::string fasterWords(const Line& line, std::span<const TimedPass> passes) {
    const auto first = breaksFirst(passes);
    if (!first) return "";
    const LineMove& move = line.moves[first->move];
    return fmt::format("Faster, {} breaks first: the {}, from {:.0f} on.", uncapitalised(placeOf(move)),
                       moveName(move.move), first->tempo);
}

}  // namespace landfall
