#include "src/review/next_place.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include <fmt/core.h>

#include "src/music/bending_model.h"
#include "src/practice/practice_care.h"
#include "src/practice/words.h"
#include "src/review/robust.h"

namespace landfall {

namespace {

// Chosen on simulated students, judged on others (tests/bench/coach; doc/measured.md).
struct CoachConfig {
    double fineBias = 3.5, perBias = 5.0;       // cents; less than the first is as good as it gets
    double fineSpread = 7.0, perSpread = 8.0;   // cents
    double usualSpread = 12.0, usualTries = 6;  // a place's own spread is drawn to this as by so many tries
    std::size_t apart = 4;                      // so many places are left out that were played last
    int block = 2;                              // tries
    std::size_t then = 2;                       // more places in a drill of it
    int round = 8, reviewAt = 3, newAt = 6;     // of every so many blocks of a day: one reviews, one is a new place
    int overdue = 5;                            // days of practice since a place that landed well was played
    int lowestFret = 5, highestFret = 12;       // where bends are practised; below, a string is stiff at its end
};
constexpr CoachConfig config;

bool isAllowed(const Guitar& guitar, const MapPlace& at) {
    if (!hasPlace(guitar, at.place)) return false;
    if (at.kind.halfSteps == 0) return true;
    const auto effort = bendEffort(guitar, at.place, Cents(50.0 * at.kind.halfSteps));
    return effort && effort->forceNewton <= CareLimits{}.forceNewton && at.kind.halfSteps < 8;
}

std::string placeWords(const MapPlace& at, const Guitar& guitar) {
    return capitalised(fmt::format("{} on the {} around fret {}", nameOf(at.kind), stringName(guitar, at.place.string),
                                   at.place.fret));
}

MapPlace placeOf(const ReviewedTry& one) { return {one.kind, *one.place}; }

MapPlace mapPlace(const MapCell& cell) { return {cell.kind, cell.place}; }

double spreadOf(const MapCell& cell) {
    return std::sqrt(
        (cell.tries * cell.spread * cell.spread + config.usualTries * config.usualSpread * config.usualSpread)
        / (cell.tries + config.usualTries));
}

NextPlace made(NextPlace::Why why, const MapCell& cell, const Guitar& guitar, const std::string& says) {
    NextPlace next{.why = why, .at = mapPlace(cell), .tries = config.block};
    next.reason = placeWords(next.at, guitar) + " " + says;
    return next;
}

// The places of the latest blocks, the last first, each once.
std::vector<MapPlace> latestPlaces(std::span<const ReviewedTry> tries, std::size_t most) {
    std::vector<MapPlace> found;
    for (auto one = tries.rbegin(); one != tries.rend() && found.size() < most; ++one)
        if (one->place && std::ranges::find(found, placeOf(*one)) == found.end()) found.push_back(placeOf(*one));
    return found;
}

// Full steps and more; their releases were bent up, too.
bool isDemanding(const MapPlace& at) { return at.kind.halfSteps >= 4; }

std::optional<NextPlace> nextProbe(std::span<const ReviewedTry> ofToday, const Guitar& guitar, bool easyOnly) {
    const std::vector<MapPlace> probes = coldProbes(guitar);
    std::optional<NextPlace> next;
    for (std::size_t i = 0; i < probes.size(); ++i) {
        const bool played = std::ranges::any_of(
            ofToday, [&](const ReviewedTry& one) { return one.place && placeOf(one) == probes[i]; });
        if (played || (easyOnly && isDemanding(probes[i]))) continue;
        if (next) {
            if (probes[i].kind == next->at.kind) next->then.push_back(probes[i].place);
            continue;
        }
        next = NextPlace{.at = probes[i], .tries = 1};
        next->probe = static_cast<int>(i) + 1;
        next->probes = static_cast<int>(probes.size());
        next->reason = fmt::format("Cold try {} of {}: the same places every day, so that the days can be compared.",
                                   next->probe, next->probes);
    }
    return next;
}

class Choice {
public:
    Choice(std::span<const ReviewedTry> given, const Guitar& instrument, int day, int block, bool easy)
        : tries(given), guitar(instrument), today(day), easyOnly(easy), latest(latestPlaces(given, config.apart)) {
        MapWish wish{.also = allowedPlaces(guitar), .draw = static_cast<unsigned>(1000 * day + block)};
        map = biasMapOf(tries, guitar, wish);
        for (const ReviewedTry& one : tries)
            if (one.place) lastDay[placeOf(one)] = one.day;
    }

    std::optional<NextPlace> review() const {
        const MapCell* longest = nullptr;
        for (const MapCell& cell : map.cells) {
            const bool well = std::abs(cell.bias) <= std::max(cell.doubt, config.fineBias);
            if (!maySend(cell) || cell.tries < leastForPlace || !well) continue;
            if (daysSince(cell) < config.overdue) continue;
            if (longest == nullptr || daysSince(cell) > daysSince(*longest)) longest = &cell;
        }
        if (longest == nullptr) return {};
        return made(NextPlace::Why::review, *longest, guitar,
                    fmt::format("landed well and were not played for {} days of practice: do they still?",
                                daysSince(*longest)));
    }

    // The surest of the new ones: beside what is known, where the neighbours say most.
    std::optional<NextPlace> untried() const {
        const MapCell* nearest = nullptr;
        for (const MapCell& cell : map.cells)
            if (maySend(cell) && !lastDay.contains(mapPlace(cell))
                && (nearest == nullptr || cell.doubt < nearest->doubt))
                nearest = &cell;
        if (nearest == nullptr) return {};
        return made(NextPlace::Why::untried, *nearest, guitar, "were never tried: hear how they land.");
    }

    // One map of those that are possible is drawn, and the place that needs it most there is played (W. R. Thompson,
    // Biometrika 25, 1933): what is doubtful is tried as often as it may be the worst.
    std::optional<NextPlace> worst() const {
        std::vector<std::pair<double, const MapCell*>> needs;
        for (std::size_t i = 0; i < map.cells.size(); ++i) {
            const MapCell& cell = map.cells[i];
            if (!maySend(cell)) continue;
            needs.emplace_back(needOf(cell, map.drawn[i]), &cell);
        }
        if (needs.empty()) return {};
        std::ranges::stable_sort(needs, std::greater{}, [](const auto& each) { return each.first; });
        NextPlace next = placeFor(*needs.front().second, guitar);
        for (const auto& [need, cell] : needs)
            if (cell != needs.front().second && cell->kind == next.at.kind && next.then.size() < config.then)
                next.then.push_back(cell->place);
        return next;
    }

private:
    bool maySend(const MapCell& cell) const {
        return isAllowed(guitar, mapPlace(cell)) && cell.kind.halfSteps > 0
               && !(easyOnly && isDemanding(mapPlace(cell)))
               && std::ranges::find(latest, mapPlace(cell)) == latest.end();
    }
    int daysSince(const MapCell& cell) const {
        const auto found = lastDay.find(mapPlace(cell));
        return found == lastDay.end() ? 0 : today - found->second;
    }
    std::span<const ReviewedTry> tries;
    const Guitar& guitar;
    int today;
    bool easyOnly;
    std::vector<MapPlace> latest;
    std::map<MapPlace, int> lastDay;
    BiasMap map;
};

}  // namespace

double needOf(const MapCell& cell, double bias) {
    return std::max(std::abs(bias) - config.fineBias, 0.0) / config.perBias
           + std::max(spreadOf(cell) - config.fineSpread, 0.0) / config.perSpread;
}

NextPlace placeFor(const MapCell& cell, const Guitar& guitar) {
    const char* side = cell.bias < 0.0 ? "under" : "over";
    if (cell.tries >= leastForPlace && std::abs(cell.bias) > cell.doubt)
        return made(NextPlace::Why::leans, cell, guitar,
                    fmt::format("land about {:.0f} {}, sure to within {:.0f}.", std::abs(cell.bias), side,
                                saidDoubt(cell.doubt)));
    if (cell.tries >= leastForPlace && spreadOf(cell) > config.usualSpread)
        return made(NextPlace::Why::wide, cell, guitar,
                    fmt::format("land on both sides, usually {:.0f} apart.", spreadOf(cell)));
    if (cell.tries == 0) return made(NextPlace::Why::untried, cell, guitar, "were never tried: hear how they land.");
    return made(NextPlace::Why::unsure, cell, guitar,
                fmt::format("may land {}: {} so far, too few to say.", side,
                            cell.tries == 1 ? "1 try" : fmt::format("{} tries", cell.tries)));
}

std::vector<MapPlace> coldProbes(const Guitar& guitar) {
    constexpr MoveKind half{Gesture::bend, 2}, full{Gesture::bend, 4}, down{Gesture::release, 4};
    const MapPlace fixed[] = {{half, {2, 8}}, {half, {2, 10}}, {half, {3, 9}},  {half, {1, 10}}, {full, {2, 10}},
                              {full, {2, 8}}, {full, {3, 9}},  {full, {1, 12}}, {down, {2, 10}}};
    std::vector<MapPlace> probes;
    for (const MapPlace& each : fixed)
        if (isAllowed(guitar, each)) probes.push_back(each);
    return probes;
}

std::vector<MapPlace> allowedPlaces(const Guitar& guitar) {
    std::vector<MapPlace> found;
    for (const MoveKind kind :
         {MoveKind{Gesture::bend, 2}, {Gesture::bend, 4}, {Gesture::release, 4}, {Gesture::preBend, 4}})
        for (int string = 1; string <= guitar.stringCount(); ++string)
            for (int fret = config.lowestFret; fret <= config.highestFret; ++fret)
                if (const MapPlace at{kind, {string, fret}}; isAllowed(guitar, at)) found.push_back(at);
    return found;
}

std::optional<NextPlace> nextPlace(std::span<const ReviewedTry> tries, const Guitar& guitar, int today, bool easyOnly) {
    std::size_t first = tries.size();
    while (first > 0 && tries[first - 1].day == today) --first;
    const auto ofToday = tries.subspan(first);
    if (auto probe = nextProbe(ofToday, guitar, easyOnly)) return probe;
    const int block = static_cast<int>(ofToday.size()) / config.block;
    const Choice choice(tries, guitar, today, block, easyOnly);
    if (block % config.round == config.reviewAt)
        if (auto review = choice.review()) return review;
    if (block % config.round == config.newAt)
        if (auto untried = choice.untried()) return untried;
    return choice.worst();
}

Drill drillOf(const NextPlace& next, const Guitar& guitar) {
    const double width = next.at.kind.halfSteps / 2.0;
    Drill drill;
    drill.name = whatNextName;
    drill.trains = next.reason;
    drill.how = fmt::format("{} on the {}, fret {}.", capitalised(nameOf(next.at.kind)),
                            stringName(guitar, next.at.place.string), next.at.place.fret);
    drill.places = {next.at.place};
    drill.places.insert(drill.places.end(), next.then.begin(), next.then.end());
    drill.tries = next.tries;
    drill.guidedTries = 0;
    drill.lastSetByEar = false;
    if (next.at.kind.gesture == Gesture::release) {
        drill.subject = Subject::release;
        drill.steps = {{Gesture::bend, 0.0, width, 0}, {Gesture::release, width, 0.0, 0}};
    } else drill.steps = {{next.at.kind.gesture, 0.0, width, 0}};
    if (isDemanding(drill)) drill.rest = Seconds(60.0);
    return drill;
}

}  // namespace landfall
