#include "src/review/student_review.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/practice/practice_care.h"
#include "src/practice/words.h"
#include "src/store/totals.h"

namespace landfall {

namespace {

constexpr int leastDays = 3;      // for an interval of days' means
constexpr int daysRead = 160;     // of practice: what progress looks at, and more than the map needs
constexpr int sittingsAWeek = 5;  // for the week's limit; our own choice, on the careful side: no published figure

std::string dayOf(CalendarTime time) { return localText(time).substr(0, 10); }

bool otherNote(const Landing& landing) {
    return landing.verdict == Verdict::otherInterval || landing.verdict == Verdict::wrongFret;
}

// Of the hand; over frets the cents are the guitar's setup unless they are held against its own frets.
std::optional<double> errorOf(const Landing& landing) {
    if (!landing.firstStopError || isLost(landing) || otherNote(landing)) return {};
    if (kindOf(landing.move.gesture).overFrets && landing.target != Target::ownGuitar) return {};
    if (!std::isfinite(landing.firstStopError->value)) return {};
    return landing.firstStopError->value;
}

ReviewedTry reviewed(const TryInSitting& one) {
    const Landing& landing = one.oneTry.landing;
    ReviewedTry found;
    if (landing.landingTime) found.arrival = (*landing.landingTime - landing.onset).value;
    found.sitting = one.sitting;
    found.number = one.oneTry.number;
    found.at = one.oneTry.at;
    found.kind = moveKindOf(landing.move);
    if (landing.move.with.empty()) found.place = landing.move.place;
    found.aim = one.oneTry.aim;
    found.guided = one.oneTry.guided;
    found.counted = !one.oneTry.struck && isCounted(landing);
    found.inside = isInside(landing, one.oneTry.aim);
    found.lost = isLost(landing);
    const GestureKind& kind = kindOf(landing.move.gesture);
    found.demanding = kind.bends && kind.course != Course::falls && std::abs(landing.move.width()) >= 1.999;
    if (found.counted) found.error = errorOf(landing);
    return found;
}

std::vector<KindReview> kindsOf(const std::vector<ReviewedTry>& tries) {
    std::map<MoveKind, KindReview> kinds;
    std::map<MoveKind, std::map<int, std::vector<double>>> days;
    std::map<MoveKind, std::vector<double>> errors;
    for (const ReviewedTry& one : tries) {
        if (!one.counted || one.guided) continue;
        KindReview& kind = kinds[one.kind];
        kind.kind = one.kind;
        ++kind.tries;
        kind.inside += one.inside ? 1 : 0;
        kind.lost += one.lost ? 1 : 0;
        if (!one.error) continue;
        days[one.kind][one.day].push_back(*one.error);
        errors[one.kind].push_back(*one.error);
    }
    std::vector<KindReview> found;
    for (auto& [key, kind] : kinds) {
        std::vector<double> means;
        for (const auto& [day, values] : days[key]) means.push_back(robustMean(values).value);
        const Estimate bias = plainMean(means);
        kind.measured = static_cast<int>(errors[key].size());
        kind.days = bias.count;
        kind.bias = bias.value;
        if (kind.measured > 0) kind.typicalMiss = medianDeviation(errors[key]);
        if (bias.count >= leastDays) kind.doubt = studentLimit(0.10, bias.count - 1) * bias.se;
        found.push_back(kind);
    }
    std::ranges::stable_sort(found, std::greater{}, &KindReview::tries);
    return found;
}

std::vector<TaskReview> tasksOf(const std::vector<TryInSitting>& logged, const std::vector<ReviewedTry>& tries) {
    std::map<std::string, TaskReview> tasks;
    std::map<std::string, std::set<std::int64_t>> sittings;
    for (std::size_t i = 0; i < logged.size(); ++i) {
        TaskReview& task = tasks[logged[i].oneTry.drill];
        sittings[logged[i].oneTry.drill].insert(logged[i].sitting);
        task.tries += tries[i].counted ? 1 : 0;
        task.inside += tries[i].counted && tries[i].inside ? 1 : 0;
    }
    std::vector<TaskReview> found;
    for (auto& [name, task] : tasks) {
        task.name = name;
        task.sittings = static_cast<int>(sittings[name].size());
        found.push_back(task);
    }
    std::ranges::stable_sort(found, std::greater{}, &TaskReview::tries);
    return found;
}

// Of the kind that misses most, of those measured often enough to have a typical try.
std::optional<MoveKind> worthShowing(const std::vector<KindReview>& kinds) {
    constexpr int enough = 5;
    const KindReview* worst = nullptr;
    for (const KindReview& kind : kinds)
        if (kind.measured >= enough && (worst == nullptr || kind.typicalMiss > worst->typicalMiss)) worst = &kind;
    return worst ? std::optional(worst->kind) : std::nullopt;
}

Result<std::vector<Example>> examplesOf(Log& log, const std::vector<TryInSitting>& all,
                                        const std::vector<ReviewedTry>& tries, const MoveKind& kind) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < tries.size(); ++i)
        if (tries[i].counted && !tries[i].guided && tries[i].error && tries[i].kind == kind) order.push_back(i);
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return std::abs(*tries[i].error); });
    std::vector<Example> found;
    if (order.empty()) return found;
    const std::pair<Example::Kind, std::size_t> wanted[] = {
        {Example::Kind::best, 0}, {Example::Kind::typical, order.size() / 2}, {Example::Kind::worst, order.size() - 1}};
    for (const auto& [which, place] : wanted) {
        const TryInSitting& one = all[order[place]];
        auto curve = log.curve(one.sitting, one.oneTry.number);
        if (!curve) return curve.error();
        found.push_back({which, one.sitting, one.oneTry, curve->value_or(TryCurve{})});
    }
    return found;
}

std::chrono::sys_days localDay(CalendarTime time) {
    const std::string text = dayOf(time);
    const auto number = [&](std::size_t at, std::size_t length) { return std::stoi(text.substr(at, length)); };
    return std::chrono::year_month_day(std::chrono::year(number(0, 4)),
                                       std::chrono::month(static_cast<unsigned>(number(5, 2))),
                                       std::chrono::day(static_cast<unsigned>(number(8, 2))));
}

CareReview careOf(const std::vector<ReviewedTry>& tries, const std::vector<SittingSummary>& sittings,
                  CalendarTime firstEver, std::optional<CalendarTime> since) {
    CareReview care;
    const CareLimits limits;
    std::map<std::int64_t, int> bends;
    for (const ReviewedTry& one : tries)
        if (one.demanding) ++bends[one.sitting];
    std::map<std::chrono::sys_days, WeekOfCare> weeks;
    for (const SittingSummary& each : sittings) {
        const std::chrono::sys_days day = localDay(each.sitting.started);
        const std::chrono::sys_days monday = day - (std::chrono::weekday(day) - std::chrono::Monday);
        WeekOfCare& week = weeks[monday];
        week.begins = monday;
        ++week.sittings;
        week.bends += bends[each.id];
        if (!since || each.sitting.started >= *since) care.mostInSitting = std::max(care.mostInSitting, bends[each.id]);
    }
    for (auto& [monday, week] : weeks) care.weeks.push_back(week);
    if (care.weeks.size() > 4) care.weeks.erase(care.weeks.begin(), care.weeks.end() - 4);
    const bool firstMonth = calendarNow() - firstEver < std::chrono::days(30);
    care.sittingLimit = firstMonth ? limits.demandingFirstMonth : limits.demandingLater;
    care.weekLimit = sittingsAWeek * care.sittingLimit;
    return care;
}

// The tries of the days that count, numbered by day of practice. The day is the sitting's: past midnight it is still the
// same evening.
std::vector<ReviewedTry> numbered(const std::vector<TryInSitting>& all, const std::vector<SittingSummary>& sittings) {
    std::map<std::int64_t, int> dayOfSitting;
    std::map<std::string, int> days;
    for (const SittingSummary& each : sittings)
        dayOfSitting[each.id] = days.emplace(dayOf(each.sitting.started), static_cast<int>(days.size())).first->second;
    std::vector<ReviewedTry> tries;
    std::map<int, int> played;
    for (const TryInSitting& one : all) {
        ReviewedTry& found = tries.emplace_back(reviewed(one));
        found.day = dayOfSitting[one.sitting];
        found.ofDay = played[found.day];
        if (found.counted) ++played[found.day];
    }
    return tries;
}

// When the last so many days of practice began.
CalendarTime beginningOf(const std::vector<SittingSummary>& sittings, int days) {
    std::set<std::string> seen;
    CalendarTime begins = sittings.back().sitting.started;
    for (auto each = sittings.rbegin(); each != sittings.rend(); ++each) {
        seen.insert(dayOf(each->sitting.started));
        if (static_cast<int>(seen.size()) > days) break;
        begins = each->sitting.started;
    }
    return begins;
}

}  // namespace

MoveKind moveKindOf(const Move& move) {
    return {move.gesture, kindOf(move.gesture).bends ? static_cast<int>(std::lround(std::abs(move.width()) * 2.0)) : 0,
            !move.with.empty()};
}

std::string nameOf(const MoveKind& kind) {
    std::string name(kindOf(kind.gesture).plural);
    if (kind.halfSteps != 0) name = fmt::format("{} {}", intervalName(kind.gesture, kind.halfSteps / 2.0), name);
    return kind.several ? name + " of several strings" : name;
}

std::string whatNext(const BiasMap& map, const Guitar& guitar) {
    const CareLimits limits;
    constexpr double fine = 3.5, perNeed = 5.0;  // cents
    const MapCell *worst = nullptr, *most = nullptr;
    double greatest = 0.0;
    for (const MapCell& cell : map.cells) {
        if (cell.force > limits.forceNewton || !hasPlace(guitar, cell.place)) continue;
        if (most == nullptr || cell.tries > most->tries) most = &cell;
        if (cell.tries < leastForPlace || std::abs(cell.bias) <= cell.doubt) continue;
        const double need = (std::abs(cell.bias) - fine) / perNeed;
        if (need > greatest) {
            greatest = need;
            worst = &cell;
        }
    }
    if (most == nullptr) return "Nothing has been measured yet: play a drill of bends.";
    const auto named = [&](const MapCell& cell) {
        return fmt::format("{} on the {} at fret {}", nameOf(cell.kind), stringName(guitar, cell.place.string),
                           cell.place.fret);
    };
    if (worst != nullptr)
        return capitalised(fmt::format(
            "{} land about {:.0f} {}, sure to within {:.0f}: start there, a few tries at a time.", named(*worst),
            std::abs(worst->bias), worst->bias < 0.0 ? "under" : "over", saidDoubt(worst->doubt)));
    if (most->tries < leastForPlace)
        return capitalised(
            fmt::format("No place has {} measured tries yet (most, with {}: {}), so go on with the drills "
                        "as they come.",
                        leastForPlace, most->tries, named(*most)));
    return "No place stands out from chance: go on with the drills as they come, and try places that were not played "
           "yet.";
}

Result<StudentReview> review(Log& log, const Student& student, std::optional<CalendarTime> since) {
    StudentReview found;
    found.student = student;
    found.since = since;
    auto homework = homeworkOf(log, student);
    if (!homework) return homework.error();
    found.homework = std::move(*homework);
    auto sittings = log.sittings(student.name);
    if (!sittings) return sittings.error();
    std::erase_if(*sittings, [&](const SittingSummary& each) { return each.sitting.studentUuid != student.uuid; });
    found.next = "Nothing has been played yet: begin with a first drill.";
    if (sittings->empty()) return found;
    found.guitar = sittings->back().sitting.guitar;
    const CalendarTime firstEver = sittings->front().sitting.started;
    CalendarTime from = beginningOf(*sittings, daysRead);
    if (since) from = std::min(from, *since);
    auto all = log.triesSince(student, from);
    if (!all) return all.error();
    std::vector<ReviewedTry> tries = numbered(*all, *sittings);
    found.progress = progressOf(tries);
    found.map = biasMapOf(tries, found.guitar);
    found.next = whatNext(found.map, found.guitar);
    found.care = careOf(tries, *sittings, firstEver, since);

    std::set<std::string> days;
    std::set<std::int64_t> recent;
    for (SittingSummary& each : *sittings) {
        if (since && each.sitting.started < *since) continue;
        days.insert(dayOf(each.sitting.started));
        recent.insert(each.id);
        found.sittings.push_back(std::move(each));
    }
    found.days = static_cast<int>(days.size());
    std::vector<ReviewedTry> these;
    std::vector<TryInSitting> asLogged;
    Tally tally;
    for (std::size_t i = 0; i < tries.size(); ++i) {
        if (!recent.contains(tries[i].sitting)) continue;
        const LoggedTry& one = (*all)[i].oneTry;
        if (!one.struck) tally.add(one.landing, one.aim, one.guided);
        these.push_back(tries[i]);
        asLogged.push_back((*all)[i]);
    }
    found.totals = tally.gestures();
    found.tries = static_cast<int>(these.size());
    found.tasks = tasksOf(asLogged, these);
    found.kinds = kindsOf(these);
    found.shown = worthShowing(found.kinds);
    if (!found.shown) return found;
    auto examples = examplesOf(log, asLogged, these, *found.shown);
    if (!examples) return examples.error();
    found.examples = std::move(*examples);
    return found;
}

Result<std::optional<NextPlace>> nextFor(Log& log, const Student& student, const Guitar& guitar, CalendarTime now) {
    auto sittings = log.sittings(student.name);
    if (!sittings) return sittings.error();
    std::erase_if(*sittings, [&](const SittingSummary& each) { return each.sitting.studentUuid != student.uuid; });
    if (sittings->empty()) return nextPlace({}, guitar, 0);
    const auto all = log.triesSince(student, beginningOf(*sittings, daysRead));
    if (!all) return all.error();
    const std::vector<ReviewedTry> tries = numbered(*all, *sittings);
    int today = 0, demanding = 0;
    for (const ReviewedTry& one : tries) today = std::max(today, one.day);
    if (dayOf(sittings->back().sitting.started) != dayOf(now)) ++today;
    for (const ReviewedTry& one : tries) demanding += one.day == today && one.demanding ? 1 : 0;
    const bool firstMonth = now - sittings->front().sitting.started < std::chrono::days(30);
    const CareLimits limits;
    return nextPlace(tries, guitar, today,
                     demanding >= (firstMonth ? limits.demandingFirstMonth : limits.demandingLater));
}

}  // namespace landfall
