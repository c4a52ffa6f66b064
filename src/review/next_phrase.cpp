#include "src/review/next_phrase.h"

#include <algorithm>
#include <map>

#include "src/music/line_on_guitar.h"
#include "src/practice/practice_care.h"
#include "src/review/bias_map.h"
#include "src/review/next_place.h"

namespace landfall {

namespace {

// Where nothing leans, the phrase whose places are known least: a cent of doubt is worth so much need.
constexpr double perDoubt = 1e-3;

// Of its moves those that the map is of.
std::vector<MapPlace> placesOf(const Line& line) {
    std::vector<MapPlace> found;
    for (const LineMove& each : line.moves) {
        const MoveKind kind = moveKindOf(each.move);
        if (each.move.place && kind.halfSteps > 0 && !kind.several) found.push_back({kind, *each.move.place});
    }
    return found;
}

}  // namespace

std::optional<NextPhrase> nextPhrase(std::span<const ReviewedTry> tries, const Guitar& guitar,
                                     std::span<const Line> lines, int today, bool easyOnly) {
    std::map<MoveKind, int> played;
    for (const ReviewedTry& one : tries)
        if (isOnMap(one)) ++played[one.kind];
    const auto isKnown = [&](const MapPlace& at) {
        const auto count = played.find(at.kind);
        return count != played.end() && count->second >= leastForPlace;
    };
    const auto isDemanding = [](const MapPlace& at) { return at.kind.halfSteps >= 4; };
    std::vector<std::pair<std::size_t, std::vector<MapPlace>>> possible;
    MapWish wish{.draw = static_cast<unsigned>(today)};
    for (std::size_t i = 0; i < lines.size(); ++i) {
        std::vector<MapPlace> places = placesOf(lines[i]);
        if (places.empty() || !otherGuitar(lines[i], guitar).empty() || heavyReason(lines[i], guitar)
            || !std::ranges::all_of(places, isKnown) || (easyOnly && std::ranges::any_of(places, isDemanding)))
            continue;
        wish.also.insert(wish.also.end(), places.begin(), places.end());
        possible.emplace_back(i, std::move(places));
    }
    if (possible.empty()) return {};
    std::ranges::sort(wish.also);
    wish.also.erase(std::ranges::unique(wish.also).begin(), wish.also.end());
    const BiasMap map = biasMapOf(tries, guitar, wish);
    std::map<MapPlace, std::size_t> cellOf;
    for (std::size_t i = 0; i < map.cells.size(); ++i) cellOf[{map.cells[i].kind, map.cells[i].place}] = i;

    std::optional<NextPhrase> best;
    double most = -1.0;
    for (const auto& [line, places] : possible) {
        double sum = 0.0, worst = -1.0;
        const MapCell* of = nullptr;
        for (const MapPlace& at : places) {
            const auto found = cellOf.find(at);
            if (found == cellOf.end()) continue;
            const MapCell& cell = map.cells[found->second];
            const double need = needOf(cell, map.drawn[found->second]) + perDoubt * cell.doubt;
            sum += need;
            if (need > worst) worst = need, of = &cell;
        }
        const double share = sum / static_cast<double>(lines[line].moves.size());
        if (of == nullptr || share <= most) continue;
        most = share;
        best = {line, placeFor(*of, guitar).reason + " Here they stand in a line."};
    }
    return best;
}

}  // namespace landfall
