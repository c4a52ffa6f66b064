#include "src/review/progress.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <fmt/core.h>

#include "dsp/statistics.h"

namespace landfall {

namespace {

constexpr std::array looks{80, 40, 20, 10};  // days
constexpr double pocockFour = 0.0182;
// cents: a smaller change is none that a listener would notice at the end of a bend
constexpr double leastChange = 2.0;
constexpr std::size_t leastOfDay = 3;  // first tries: fewer are no day's measure
constexpr double farOff = 60.0;        // cents; further is another mistake than of intonation, and counts as so much

struct Day {
    CalendarTime at;
    std::vector<double> cold, warm;
};

// `kinds`: as many questions are asked at once, and again in each eighty days: each is allowed its share of the chance to
// be wrong, so that a student who does not change hears of a change once in a few years at the most.
void compare(Progress& progress, const std::vector<double>& dayMisses, std::size_t kinds) {
    const double limit = pocockFour / 2.0 / static_cast<double>(kinds);
    const auto look = std::ranges::find_if(looks, [&](int days) { return std::ssize(dayMisses) >= days; });
    if (look == looks.end()) return;
    progress.comparedDays = *look;
    const auto all = std::span(dayMisses).first(static_cast<std::size_t>(*look));
    const auto early = all.first(all.size() / 2), late = all.last(all.size() / 2);
    const Difference difference = welch(early, late);
    progress.before = plainMean(early).value;
    progress.after = plainMean(late).value;
    progress.doubt = studentLimit(0.05, difference.degrees) * difference.se;
    progress.change = Change::none;
    if (difference.p >= limit || std::abs(difference.value) < leastChange) return;
    progress.change = difference.value < 0.0 ? Change::nearer : Change::wider;
}

}  // namespace

std::vector<Progress> progressOf(std::span<const ReviewedTry> tries) {
    std::map<MoveKind, std::map<int, Day>> played;
    std::map<MoveKind, Progress> found;
    for (const ReviewedTry& one : tries) {
        if (!one.counted || one.guided || !one.error) continue;
        Day& day = played[one.kind][one.day];
        if (day.cold.empty()) day.at = one.at;
        Progress& progress = found[one.kind];
        progress.kind = one.kind;
        progress.aim = one.aim;
        if (day.cold.size() < firstOfDay) {
            day.cold.push_back(*one.error);
            ++progress.firstTries;
            progress.firstInside += one.inside ? 1 : 0;
        } else day.warm.push_back(*one.error);
    }
    std::vector<Progress> all;
    for (auto& [kind, progress] : found) {
        std::map<int, std::vector<double>> missesOf;  // of each eighty days of practice
        for (const auto& [number, day] : played[kind]) {
            DayMean& mean = progress.days.emplace_back();
            mean.day = number;
            mean.at = day.at;
            mean.cold = robustMean(day.cold);
            mean.warm = robustMean(day.warm);
            std::vector<double> distances;
            for (const double error : day.cold) distances.push_back(std::min(std::abs(error), farOff));
            mean.coldMiss = plainMean(distances).value;
            if (day.cold.size() >= leastOfDay) missesOf[number / looks.front()].push_back(mean.coldMiss);
        }
        if (missesOf.size() > 1 && std::ssize(missesOf.rbegin()->second) < looks.back())
            missesOf.erase(missesOf.rbegin()->first);
        if (!missesOf.empty()) compare(progress, missesOf.rbegin()->second, found.size());
        all.push_back(std::move(progress));
    }
    return all;
}

std::string wordsOf(const Progress& progress) {
    const std::string share = fmt::format("{} of {} first tries inside ±{:g}.", progress.firstInside,
                                          progress.firstTries, progress.aim.value);
    if (progress.change == Change::tooEarly) return share + " Too early for a trend.";
    const int half = progress.comparedDays / 2;
    const std::string sides =
        fmt::format("First tries of a day landed {:.0f} cents off on {} days, {:.0f} on the {} after", progress.before,
                    half, progress.after, half);
    if (progress.change == Change::none)
        return fmt::format("{} {}: no change that can be told from chance (sure to within {:.0f}).", share, sides,
                           saidDoubt(progress.doubt));
    const double by = std::abs(progress.after - progress.before);
    return fmt::format("{} {}: {} by {:.0f}, sure to within {:.0f}.", share, sides,
                       progress.change == Change::nearer ? "nearer" : "wider", by, saidDoubt(progress.doubt));
}

}  // namespace landfall
