#include "src/music/line_on_guitar.h"

#include <algorithm>

#include <fmt/core.h>

namespace landfall {

std::string otherGuitar(const Line& line, const Guitar& guitar) {
    const auto same = std::min(line.openStrings.size(), guitar.openStrings.size());
    const bool tuned =
        line.openStrings.size() <= guitar.openStrings.size()
        && std::equal(line.openStrings.begin(), line.openStrings.begin() + static_cast<std::ptrdiff_t>(same),
                      guitar.openStrings.begin());
    if (!tuned || line.capo != guitar.capo)
        return fmt::format("{} is written for the tuning {}, {}: set the guitar to it in the settings", line.title,
                           tuningName(line.openStrings),
                           line.capo > 0 ? fmt::format("capo on {}", line.capo) : "without a capo");
    int highest = 0;
    for (const LineMove& each : line.moves)
        highest = std::max({highest, each.move.place ? each.move.place->fret : 0, each.move.targetFret.value_or(0)});
    if (highest > guitar.highestPlayedFret())
        return fmt::format("{} goes up to fret {}, further than this guitar", line.title, highest);
    return {};
}

}  // namespace landfall
