#include "src/review/glance.h"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/core.h>

#include "src/practice/words.h"
#include "src/review/report_drawings.h"

namespace landfall {

namespace {

// Our own choices, no published figures: a fortnight without playing is worth a question, and so is a kind of move of
// which one try in four dies.
constexpr int lateDays = 14;
constexpr double manyLost = 0.25;
constexpr int enoughLost = 20;  // tries

int daysBetween(CalendarTime from, CalendarTime to) {
    return static_cast<int>(std::chrono::floor<std::chrono::days>(to - from).count());
}

std::string placeOf(const MapCell& cell, const Guitar& guitar) {
    return fmt::format("{} {}", stringNames(guitar, cell.place.string).brief, cell.place.fret);
}

// By how much more than its doubt it leans: what is both large and sure.
const MapCell* standsOut(const StudentReview& review) {
    const MapCell* worst = nullptr;
    const auto beyond = [](const MapCell& cell) { return std::abs(cell.bias) - cell.doubt; };
    for (const MapCell& cell : review.map.cells)
        if (cell.tries >= leastForPlace && hasPlace(review.guitar, cell.place) && beyond(cell) > 0.0
            && (worst == nullptr || beyond(cell) > beyond(*worst)))
            worst = &cell;
    return worst;
}

std::string homeworkWords(const StudentReview& review) {
    if (review.homework.empty() || review.homework.front().tasks.empty()) return {};
    const auto& tasks = review.homework.front().tasks;
    const auto done = std::ranges::count_if(tasks, [](const TaskDone& task) { return task.isDone(); });
    return fmt::format("homework {} of {}", done, tasks.size());
}

bool overLimits(const CareReview& care) {
    return care.mostInSitting > care.sittingLimit || (!care.weeks.empty() && care.weeks.back().bends > care.weekLimit);
}

}  // namespace

const KindReview* diesOften(const StudentReview& review) {
    for (const KindReview& kind : review.kinds)
        if (kind.tries >= enoughLost && kind.lost >= manyLost * kind.tries) return &kind;
    return nullptr;
}

std::string worstPlace(const StudentReview& review) {
    const MapCell* worst = standsOut(review);
    if (worst == nullptr) return {};
    return fmt::format("{} at {} land {}, sure to within {:.0f}", nameOf(worst->kind), placeOf(*worst, review.guitar),
                       leaning(worst->bias), saidDoubt(worst->doubt));
}

Glance glanceOf(const StudentReview& review, CalendarTime now) {
    Glance found{.student = review.student, .last = {}, .worst = {}, .ask = {}, .homework = homeworkWords(review)};
    if (review.sittings.empty()) {
        found.worst = "Nothing played yet";
        found.ask = "Ask for a first drill together.";
        found.need = 2.0;
        return found;
    }
    found.last = review.sittings.back().sitting.started;
    std::set<std::string> days;
    for (const SittingSummary& each : review.sittings)
        if (daysBetween(each.sitting.started, now) < lateDays) days.insert(dayText(each.sitting.started));
    found.lately = static_cast<int>(days.size());
    const MapCell* worst = standsOut(review);
    found.worst = worst ? worstPlace(review) : "No place stands out from chance";
    const int away = daysBetween(*found.last, now);
    // What hurts first, then who is gone, then what is heard.
    if (overLimits(review.care)) {
        found.ask = fmt::format("Ask about the hand: {} bends of a full step and more in one sitting (limit {}).",
                                review.care.mostInSitting, review.care.sittingLimit);
        if (review.care.mostInSitting <= review.care.sittingLimit)
            found.ask = fmt::format("Ask about the hand: {} bends of a full step and more in a week (limit {}).",
                                    review.care.weeks.back().bends, review.care.weekLimit);
        found.need = 4.0;
    } else if (away >= lateDays) {
        found.ask = fmt::format("Ask what is in the way: {} days without playing.", away);
        found.need = 2.0 + std::min(1.0, away / 365.0);
    } else if (const KindReview* dies = diesOften(review)) {
        found.ask =
            fmt::format("Ask to see {}: {} of {} died on the way.", nameOf(dies->kind), dies->lost, dies->tries);
        found.need = 1.5;
    } else if (worst != nullptr) {
        found.ask = fmt::format("Ask for {} at {}: {} tries there.", nameOf(worst->kind),
                                placeOf(*worst, review.guitar), worst->tries);
        found.need = std::min(1.4, (std::abs(worst->bias) - worst->doubt) / 20.0);
    }
    return found;
}

}  // namespace landfall
