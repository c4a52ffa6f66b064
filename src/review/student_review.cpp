#include "src/review/student_review.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <set>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "dsp/statistics.h"
#include "src/practice/practice_care.h"
#include "src/practice/words.h"
#include "src/store/totals.h"

namespace landfall {

int bendsAWeek(bool firstMonth) {
    // Our own choice, on the careful side: no published figure.
    constexpr int sittingsAWeek = 5;
    const CareLimits limits;
    return sittingsAWeek * (firstMonth ? limits.demandingFirstMonth : limits.demandingLater);
}

namespace {

constexpr int leastDays = 3;   // for an interval of days' means
constexpr int daysRead = 160;  // of practice: what progress looks at, and more than the map needs

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

ReviewedTry reviewed(std::int64_t sitting, const LoggedTry& one) {
    const Landing& landing = one.landing;
    ReviewedTry found;
    if (landing.landingTime) found.arrival = (*landing.landingTime - landing.onset).value;
    found.sitting = sitting;
    found.number = one.number;
    found.at = one.at;
    found.kind = moveKindOf(landing.move);
    if (landing.move.with.empty()) found.place = landing.move.place;
    found.aim = one.aim;
    found.guided = one.guided;
    found.counted = !one.struck && isCounted(landing);
    found.inside = isInside(landing, one.aim);
    found.lost = isLost(landing);
    const GestureKind& kind = kindOf(landing.move.gesture);
    found.demanding = kind.bends && kind.course != Course::falls && std::abs(landing.move.width()) >= 1.999;
    if (found.counted) found.error = errorOf(landing);
    return found;
}

// Of a day's first tries or its later ones is decided by who counts them.
bool isBehind(const Behind& behind, const ReviewedTry& one) {
    using Which = Behind::Which;
    if (!one.counted || one.guided || one.kind != behind.kind) return false;
    if (behind.place && one.place != behind.place) return false;
    if (behind.day && one.day != *behind.day) return false;
    switch (behind.which) {
        case Which::all: return true;
        case Which::inside: return one.inside;
        case Which::lost: return one.lost;
        case Which::under: return one.error && !one.inside && *one.error < 0.0;
        case Which::over: return one.error && !one.inside && *one.error >= 0.0;
        case Which::measured:
        case Which::first:
        case Which::later: return one.error.has_value();
    }
    return false;
}

// Most tries first.
std::vector<KindReview> countsOf(const std::vector<ReviewedTry>& tries) {
    std::map<MoveKind, KindReview> kinds;
    for (const ReviewedTry& one : tries) {
        if (!one.counted || one.guided) continue;
        KindReview& kind = kinds[one.kind];
        kind.kind = one.kind;
        ++kind.tries;
        kind.inside += one.inside ? 1 : 0;
        kind.lost += one.lost ? 1 : 0;
        kind.measured += one.error ? 1 : 0;
        kind.under += isBehind({one.kind, Behind::Which::under}, one) ? 1 : 0;
        kind.over += isBehind({one.kind, Behind::Which::over}, one) ? 1 : 0;
    }
    std::vector<KindReview> found;
    for (auto& [key, kind] : kinds) found.push_back(kind);
    std::ranges::stable_sort(found, std::greater{}, &KindReview::tries);
    return found;
}

std::vector<KindReview> kindsOf(const std::vector<ReviewedTry>& tries) {
    std::map<MoveKind, std::map<int, std::vector<double>>> days;
    std::map<MoveKind, std::vector<double>> errors, arrivals;
    for (const ReviewedTry& one : tries) {
        if (!one.counted || one.guided) continue;
        if (one.arrival && !one.lost) arrivals[one.kind].push_back(*one.arrival);
        if (!one.error) continue;
        days[one.kind][one.day].push_back(*one.error);
        errors[one.kind].push_back(*one.error);
    }
    std::vector<KindReview> found = countsOf(tries);
    for (KindReview& kind : found) {
        const MoveKind& key = kind.kind;
        std::vector<double> means;
        for (const auto& [day, values] : days[key]) means.push_back(robustMean(values).value);
        const Estimate bias = plainMean(means);
        kind.days = bias.count;
        kind.bias = bias.value;
        if (kind.measured > 0) {
            kind.typicalMiss = medianDeviation(errors[key]);
            kind.spread = 1.4826 * medianDeviation(errors[key], median(errors[key]));
        }
        if (!arrivals[key].empty()) kind.arrival = median(arrivals[key]);
        if (bias.count >= leastDays) kind.doubt = studentLimit(0.10, bias.count - 1) * bias.se;
    }
    return found;
}

// Of drills and phrases, try by try.
class Tasks {
public:
    void add(const LoggedTry& one, const ReviewedTry& reviewed) {
        auto& [task, sittings] = tasks[one.drill];
        task.name = one.drill;
        sittings.insert(reviewed.sitting);
        task.tries += reviewed.counted ? 1 : 0;
        task.inside += reviewed.counted && reviewed.inside ? 1 : 0;
    }
    std::vector<TaskReview> all() const {
        std::vector<TaskReview> found;
        for (const auto& [name, one] : tasks) {
            found.push_back(one.first);
            found.back().sittings = static_cast<int>(one.second.size());
        }
        std::ranges::stable_sort(found, std::greater{}, &TaskReview::tries);
        return found;
    }

private:
    std::map<std::string, std::pair<TaskReview, std::set<std::int64_t>>> tasks;
};

// Of the kind that misses most, of those measured often enough to have a typical try.
std::optional<MoveKind> worthShowing(const std::vector<KindReview>& kinds) {
    constexpr int enough = 5;
    const KindReview* worst = nullptr;
    for (const KindReview& kind : kinds)
        if (kind.measured >= enough && (worst == nullptr || kind.typicalMiss > worst->typicalMiss)) worst = &kind;
    return worst ? std::optional(worst->kind) : std::nullopt;
}

Result<LoggedTry> tryOf(Log& log, std::int64_t sitting, int number) {
    auto tries = log.tries(sitting);
    if (!tries) return tries.error();
    const auto at = std::ranges::find(*tries, number, &LoggedTry::number);
    if (at == tries->end())
        return Error{Error::Code::notFound, fmt::format("there is no try {}.{} any more", sitting, number)};
    return std::move(*at);
}

Result<std::vector<Example>> examplesOf(Log& log, const std::vector<ReviewedTry>& tries, const MoveKind& kind) {
    std::vector<const ReviewedTry*> order;
    for (const ReviewedTry& one : tries)
        if (one.counted && !one.guided && one.error && one.kind == kind) order.push_back(&one);
    std::ranges::stable_sort(order, {}, [](const ReviewedTry* one) { return std::abs(*one->error); });
    std::vector<Example> found;
    if (order.empty()) return found;
    const std::pair<Example::Kind, std::size_t> wanted[] = {
        {Example::Kind::best, 0}, {Example::Kind::typical, order.size() / 2}, {Example::Kind::worst, order.size() - 1}};
    for (const auto& [which, place] : wanted) {
        const ReviewedTry& one = *order[place];
        auto whole = tryOf(log, one.sitting, one.number);
        if (!whole) return whole.error();
        auto curve = log.curve(one.sitting, one.number);
        if (!curve) return curve.error();
        found.push_back({which, one.sitting, std::move(*whole), curve->value_or(TryCurve{})});
    }
    return found;
}

std::chrono::sys_days localDay(CalendarTime time) {
    const std::string text = dayText(time);
    const auto number = [&](std::size_t at, std::size_t length) { return std::stoi(text.substr(at, length)); };
    return std::chrono::year_month_day(std::chrono::year(number(0, 4)),
                                       std::chrono::month(static_cast<unsigned>(number(5, 2))),
                                       std::chrono::day(static_cast<unsigned>(number(8, 2))));
}

std::chrono::sys_days mondayOf(std::chrono::sys_days day) {
    return day - (std::chrono::weekday(day) - std::chrono::Monday);
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
        const std::chrono::sys_days monday = mondayOf(localDay(each.sitting.started));
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
    care.weekLimit = bendsAWeek(firstMonth);
    return care;
}

// When the last so many days of practice began.
CalendarTime beginningOf(const std::vector<SittingSummary>& sittings, int days) {
    std::set<std::string> seen;
    CalendarTime begins = sittings.back().sitting.started;
    for (auto each = sittings.rbegin(); each != sittings.rend(); ++each) {
        seen.insert(dayText(each->sitting.started));
        if (static_cast<int>(seen.size()) > days) break;
        begins = each->sitting.started;
    }
    return begins;
}

// A student's sittings, oldest first; two may have one name.
Result<std::vector<SittingSummary>> sittingsOf(Log& log, const Student& student) {
    auto sittings = log.sittings(student.name);
    if (sittings)
        std::erase_if(*sittings, [&](const SittingSummary& each) { return each.sitting.studentUuid != student.uuid; });
    return sittings;
}

// The tries of the sittings from then on, numbered by day of practice. The day is the sitting's: past midnight it is
// still the same evening. `hear` is told of each as the log has it, too.
Result<std::vector<ReviewedTry>> readTries(Log& log, const Student& student,
                                           const std::vector<SittingSummary>& sittings, CalendarTime from,
                                           const std::function<void(const LoggedTry&, const ReviewedTry&)>& hear = {},
                                           Log::Columns columns = Log::Columns::figures) {
    std::map<std::int64_t, int> dayOfSitting;
    std::map<std::string, int> days;
    for (const SittingSummary& each : sittings)
        dayOfSitting[each.id] =
            days.emplace(dayText(each.sitting.started), static_cast<int>(days.size())).first->second;
    std::vector<ReviewedTry> tries;
    tries.reserve(100 * sittings.size());  // a usual evening's; growing would copy them all over and over
    std::map<int, int> played;
    const auto add = [&](std::int64_t sitting, const LoggedTry& one) {
        ReviewedTry& found = tries.emplace_back(reviewed(sitting, one));
        found.day = dayOfSitting[sitting];
        found.ofDay = played[found.day];
        if (found.counted) ++played[found.day];
        if (hear) hear(one, found);
    };
    const auto read = log.eachTry(student, from, add, columns);
    if (!read) return read.error();
    return tries;
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

std::string wordsOf(const CareReview& care, std::size_t weeks) {
    const std::size_t shown = std::min(weeks, care.weeks.size());
    if (shown == 0) return "";
    std::vector<std::string> said;
    bool over = care.mostInSitting > care.sittingLimit;
    for (const WeekOfCare& week : std::span(care.weeks).last(shown)) {
        said.push_back(fmt::format("{} in the week from {}", week.bends, utcText(week.begins).substr(0, 10)));
        over = over || week.bends > care.weekLimit;
    }
    return fmt::format("Bends of a full step and more: {} in a sitting at the most (limit {}); {} (limit {}). {}",
                       care.mostInSitting, care.sittingLimit, fmt::join(said, ", "), care.weekLimit,
                       over ? "Over the limit: fewer, and a day off." : "Within the limits.");
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
    auto notes = notesOf(log, student);
    if (!notes) return notes.error();
    found.notes = std::move(*notes);
    if (since) std::erase_if(found.notes, [&](const KeptNote& note) { return note.written < *since; });
    auto sittings = sittingsOf(log, student);
    if (!sittings) return sittings.error();
    found.next = "Nothing has been played yet: begin with a first drill.";
    if (sittings->empty()) return found;
    found.guitar = sittings->back().sitting.guitar;
    const CalendarTime firstEver = sittings->front().sitting.started;
    CalendarTime from = beginningOf(*sittings, daysRead);
    if (since) from = std::min(from, *since);
    std::set<std::string> days;
    std::set<std::int64_t> recent;
    for (const SittingSummary& each : *sittings) {
        if (since && each.sitting.started < *since) continue;
        days.insert(dayText(each.sitting.started));
        recent.insert(each.id);
    }
    found.days = static_cast<int>(days.size());
    Tally tally;
    Tasks tasks;
    auto tries = readTries(log, student, *sittings, from, [&](const LoggedTry& one, const ReviewedTry& reviewed) {
        if (!recent.contains(reviewed.sitting)) return;
        if (!one.struck) tally.add(one.landing, one.aim, one.guided);
        tasks.add(one, reviewed);
    });
    if (!tries) return tries.error();
    found.progress = progressOf(*tries);
    found.map = biasMapOf(*tries, found.guitar);
    found.next = whatNext(found.map, found.guitar);
    found.care = careOf(*tries, *sittings, firstEver, since);
    std::erase_if(*tries, [&](const ReviewedTry& one) { return !recent.contains(one.sitting); });
    std::erase_if(*sittings, [&](const SittingSummary& each) { return !recent.contains(each.id); });
    found.sittings = std::move(*sittings);
    found.totals = tally.gestures();
    found.tries = static_cast<int>(tries->size());
    found.tasks = tasks.all();
    found.kinds = kindsOf(*tries);
    found.shown = worthShowing(found.kinds);
    if (!found.shown) return found;
    auto examples = examplesOf(log, *tries, *found.shown);
    if (!examples) return examples.error();
    found.examples = std::move(*examples);
    return found;
}

Result<StudentReview> shortReview(Log& log, const Student& student) {
    StudentReview found;
    found.student = student;
    auto homework = homeworkOf(log, student);
    if (!homework) return homework.error();
    found.homework = std::move(*homework);
    auto sittings = log.sittingsOf(student);
    if (!sittings) return sittings.error();
    if (sittings->empty()) return found;
    found.guitar = sittings->back().sitting.guitar;
    const auto tries = readTries(log, student, *sittings, beginningOf(*sittings, daysRead), {}, Log::Columns::landings);
    if (!tries) return tries.error();
    found.map = biasMapOf(*tries, found.guitar);
    found.care = careOf(*tries, *sittings, sittings->front().sitting.started, {});
    found.kinds = countsOf(*tries);
    found.tries = static_cast<int>(tries->size());
    found.sittings = std::move(*sittings);
    return found;
}

namespace {

// What is known when the next thing is to be played.
struct KnownNow {
    std::vector<ReviewedTry> tries;
    int today = 0;          // as a day of practice
    bool easyOnly = false;  // the hands have done their full steps
};

Result<KnownNow> knownNow(Log& log, const Student& student, CalendarTime now) {
    KnownNow known;
    const auto sittings = log.sittingsOf(student);
    if (!sittings) return sittings.error();
    if (sittings->empty()) return known;
    auto tries = readTries(log, student, *sittings, beginningOf(*sittings, daysRead));
    if (!tries) return tries.error();
    known.tries = std::move(*tries);
    int demanding = 0;
    for (const ReviewedTry& one : known.tries) known.today = std::max(known.today, one.day);
    if (dayText(sittings->back().sitting.started) != dayText(now)) ++known.today;
    for (const ReviewedTry& one : known.tries) demanding += one.day == known.today && one.demanding ? 1 : 0;
    const CareReview care = careOf(known.tries, *sittings, sittings->front().sitting.started, {});
    const WeekOfCare& week = care.weeks.back();
    const bool weekIsFull = week.begins == mondayOf(localDay(now)) && week.bends >= care.weekLimit;
    known.easyOnly = demanding >= care.sittingLimit || weekIsFull;
    return known;
}

}  // namespace

Result<std::optional<NextPlace>> nextFor(Log& log, const Student& student, const Guitar& guitar, CalendarTime now) {
    const auto known = knownNow(log, student, now);
    if (!known) return known.error();
    return nextPlace(known->tries, guitar, known->today, known->easyOnly);
}

Result<std::optional<NextPhrase>> nextPhraseFor(Log& log, const Student& student, const Guitar& guitar,
                                                std::span<const Line> lines, CalendarTime now) {
    const auto known = knownNow(log, student, now);
    if (!known) return known.error();
    return nextPhrase(known->tries, guitar, lines, known->today, known->easyOnly);
}

Result<TriesBehind> triesBehind(Log& log, const Student& student, const Behind& behind, std::size_t most) {
    using Which = Behind::Which;
    TriesBehind found;
    const auto sittings = log.sittingsOf(student);
    if (!sittings) return sittings.error();
    if (sittings->empty()) return found;
    auto tries = readTries(log, student, *sittings, beginningOf(*sittings, daysRead));
    if (!tries) return tries.error();
    if (behind.place) {  // the map is of the latest only
        std::ptrdiff_t tooMany = std::ranges::count_if(*tries, isOnMap) - static_cast<std::ptrdiff_t>(MapWish{}.most);
        auto first = tries->begin();
        for (; tooMany > 0; ++first) tooMany -= isOnMap(*first) ? 1 : 0;
        tries->erase(tries->begin(), first);
    }
    std::vector<const ReviewedTry*> chosen;
    std::map<int, int> ofDay;
    for (const ReviewedTry& one : *tries) {
        Behind ofKind = behind;
        ofKind.place.reset();
        if (!isBehind(ofKind, one)) continue;
        const bool isFirst = one.error && ofDay[one.day]++ < firstOfDay;
        if ((behind.which == Which::first && !isFirst) || (behind.which == Which::later && isFirst)) continue;
        if (isBehind(behind, one)) chosen.push_back(&one);
    }
    found.count = static_cast<int>(chosen.size());
    std::map<std::int64_t, std::vector<LoggedTry>> read;
    for (auto one = chosen.rbegin(); one != chosen.rend() && found.tries.size() < most; ++one) {
        const ReviewedTry& each = **one;
        if (!read.contains(each.sitting)) {
            auto whole = log.tries(each.sitting);
            if (!whole) return whole.error();
            read.emplace(each.sitting, std::move(*whole));
        }
        for (const LoggedTry& whole : read[each.sitting])
            if (whole.number == each.number) found.tries.push_back({each.sitting, whole});
    }
    return found;
}

Result<Neighbours> neighboursOf(Log& log, std::int64_t sitting, const LoggedTry& oneTry, std::size_t most) {
    const Move& move = oneTry.landing.move;
    Neighbours found;
    const auto read = [&](std::int64_t from, std::vector<CurvedTry>& into) -> Result<void> {
        const auto tries = log.tries(from);
        if (!tries) return tries.error();
        for (auto one = tries->rbegin(); one != tries->rend(); ++one) {
            const bool itself = from == sitting && one->number == oneTry.number;
            const bool same = move.place && one->landing.move.place == move.place
                              && moveKindOf(one->landing.move) == moveKindOf(move) && !one->struck;
            if (!itself && (!same || into.size() >= most)) continue;
            const auto curve = log.curve(from, one->number);
            if (!curve) return curve.error();
            into.insert(into.begin(), {*one, curve->value_or(TryCurve{})});
        }
        return {};
    };
    if (const auto done = read(sitting, found.here); !done) return done.error();
    const auto before = log.sittingBefore(sitting, move);
    if (!before) return before.error();
    if (!*before) return found;
    const auto summary = log.sitting(**before);
    if (!summary) return summary.error();
    found.when = summary->sitting.started;
    if (const auto done = read(**before, found.before); !done) return done.error();
    return found;
}

}  // namespace landfall
