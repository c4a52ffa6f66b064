#include "src/review/glance.h"
#include "src/review/student_review.h"

#include "src/store/students.h"

#include <doctest/doctest.h>

#include "src/store/totals.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"

using namespace landfall;

namespace {

const CalendarTime first = calendarNow() - std::chrono::hours(24 * 60);

Log logOf(const TestFolder& folder, int sittings, int tries = 48) {
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    const auto made = inventPractice(*log, "Ines", first, sittings, tries, 7);
    REQUIRE_MESSAGE(made, made.error().message);
    return std::move(*log);
}

StudentReview reviewOf(Log& log, const std::string& who, std::optional<CalendarTime> since = {}) {
    const auto student = findStudent(log, who);
    REQUIRE_MESSAGE(student, student.error().message);
    auto found = review(log, *student, since);
    REQUIRE_MESSAGE(found, found.error().message);
    return *found;
}

}  // namespace

TEST_CASE("a review has the totals of the log's own tally, sitting by sitting and over all") {
    const TestFolder folder;
    Log log = logOf(folder, 12);
    const StudentReview found = reviewOf(log, "ines");
    REQUIRE(found.sittings.size() == 12);
    CHECK(found.days == 12);
    std::vector<LoggedTry> all;
    for (const SittingSummary& each : found.sittings) {
        const auto tries = log.tries(each.id);
        REQUIRE(tries);
        CHECK(each.gestures == tallyOf(*tries).gestures());
        all.insert(all.end(), tries->begin(), tries->end());
    }
    CHECK(found.totals == tallyOf(all).gestures());
    int tries = 0;
    for (const KindReview& kind : found.kinds) tries += kind.tries;
    CHECK(tries == 12 * 48);
}

TEST_CASE("the map finds what the hand was made to do, and what next names the place that lands worst") {
    const TestFolder folder;
    Log log = logOf(folder, 20);
    const StudentReview found = reviewOf(log, "Ines");
    int withVerdict = 0;
    for (const MapCell& cell : found.map.cells) {
        const double truth = cell.place.string == 3 ? -14.0 : cell.place.fret == 9 ? 9.0 : 0.0;
        CAPTURE(cell.place.string);
        CAPTURE(cell.place.fret);
        CHECK(cell.tries >= leastForPlace);
        CHECK(std::abs(cell.bias - truth) < 5.0);
        withVerdict += std::abs(cell.bias - truth) <= cell.doubt ? 1 : 0;
    }
    CHECK(found.map.cells.size() == 6);
    CHECK(withVerdict >= 4);
    CHECK(found.map.cold < -2.0);
    CHECK(found.next.find("Full step bends on the G string at fret ") == 0);
    CHECK(found.next.find(" under, sure to within ") != std::string::npos);
}

TEST_CASE("slides count by fret and never make a place of the map, and their cents claim nothing") {
    const TestFolder folder;
    Log log = logOf(folder, 12);
    const StudentReview found = reviewOf(log, "Ines");
    for (const MapCell& cell : found.map.cells) CHECK(cell.kind.gesture == Gesture::bend);
    for (const Progress& each : found.progress) CHECK(each.kind.gesture == Gesture::bend);
    const auto slides =
        std::ranges::find(found.kinds, Gesture::slide, [](const KindReview& k) { return k.kind.gesture; });
    REQUIRE(slides != found.kinds.end());
    CHECK(slides->measured == 0);
    CHECK(slides->inside == slides->tries - slides->lost);
}

TEST_CASE("bends of several strings are a kind of their own, and no place of the map") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    Sitting sitting;
    sitting.student = "Ines";
    for (int number = 1; number <= 12; ++number) {
        LoggedTry one;
        one.number = number;
        one.drill = "One holds";
        one.landing.move = {Gesture::bend, MidiPitch(62.0), MidiPitch(64.0), NeckPlace{3, 7}, {}, false, {}};
        if (number > 6) {
            one.landing.move.with = {{Gesture::note, MidiPitch(67.0), MidiPitch(67.0), NeckPlace{2, 8}, {}, false, {}}};
            one.landing.strings.resize(2);
        }
        one.landing.verdict = Verdict::under;
        one.landing.landingTime = Seconds(1.0);
        one.landing.landingError = one.landing.firstStopError = Cents(number > 6 ? -40.0 : -10.0);
        REQUIRE(log->put(sitting, one));
    }
    const StudentReview found = reviewOf(*log, "Ines");
    REQUIRE(found.kinds.size() == 2);
    std::vector<std::string> names;
    for (const KindReview& kind : found.kinds) names.push_back(nameOf(kind.kind));
    CHECK(std::ranges::count(names, "full step bends") == 1);
    CHECK(std::ranges::count(names, "full step bends of several strings") == 1);
    REQUIRE(found.map.cells.size() == 1);
    CHECK(found.map.cells.front().tries == 6);
    CHECK(found.map.cells.front().bias > -15.0);
}

TEST_CASE("the examples are the nearest, the middle and the furthest try of what misses most, with their curves") {
    const TestFolder folder;
    Log log = logOf(folder, 6);
    const StudentReview found = reviewOf(log, "Ines");
    REQUIRE(found.examples.size() == 3);
    std::vector<double> distances;
    for (const Example& each : found.examples) {
        CHECK(each.curve.size() == 220);
        distances.push_back(std::abs(each.oneTry.landing.firstStopError->value));
        CHECK(moveKindOf(each.oneTry.landing.move) == *found.shown);
    }
    CHECK(std::ranges::is_sorted(distances));
    int nearer = 0, counted = 0;
    for (std::int64_t id = 1; id <= 6; ++id) {
        const auto tries = log.tries(id);
        REQUIRE(tries);
        for (const LoggedTry& one : *tries) {
            if (moveKindOf(one.landing.move) != *found.shown || !one.landing.firstStopError) continue;
            const double distance = std::abs(one.landing.firstStopError->value);
            CHECK(distance >= distances[0]);
            CHECK(distance <= distances[2]);
            nearer += distance < distances[1] ? 1 : 0;
            ++counted;
        }
    }
    CHECK(std::abs(nearer - counted / 2) <= 1);
}

TEST_CASE(
    "since a date there are only the sittings from then on, but what is known of before still counts for the map") {
    const TestFolder folder;
    Log log = logOf(folder, 12);
    const StudentReview found = reviewOf(log, "Ines", first + std::chrono::hours(24 * 10 - 1));
    CHECK(found.sittings.size() == 2);
    CHECK(found.map.tries > 12 * 48 * 3 / 4);
    CHECK(reviewOf(log, "Ines", calendarNow()).sittings.empty());
}

TEST_CASE("the hand's care counts bends of a full step and more, a week from Monday to Sunday") {
    const TestFolder folder;
    Log log = logOf(folder, 14);
    const StudentReview found = reviewOf(log, "Ines");
    CHECK(found.care.sittingLimit == 60);  // played for longer than a month
    CHECK(found.care.weekLimit == 300);
    int bends = 0, sittings = 0;
    for (const WeekOfCare& week : found.care.weeks) {
        CHECK(std::chrono::weekday(std::chrono::floor<std::chrono::days>(week.begins)) == std::chrono::Monday);
        bends += week.bends;
        sittings += week.sittings;
    }
    CHECK(sittings == 14);
    int truth = 0, most = 0;
    for (std::int64_t id = 1; id <= 14; ++id) {
        const auto tries = log.tries(id);
        int here = 0;
        for (const LoggedTry& one : *tries)
            here += one.landing.move.gesture == Gesture::bend && one.landing.move.width() > 1.9 ? 1 : 0;
        truth += here;
        most = std::max(most, here);
    }
    CHECK(bends == truth);
    CHECK(found.care.mostInSitting == most);
}

TEST_CASE(
    "a glance names the place that stands out, and asks about the hand, an absence and dying tries in this order") {
    const TestFolder folder;
    Log log = logOf(folder, 20);
    StudentReview found = reviewOf(log, "Ines");
    const CalendarTime last = found.sittings.back().sitting.started;
    Glance glance = glanceOf(found, last);
    CHECK(glance.worst.find("full step bends at G ") == 0);
    CHECK(glance.worst.find(" under, sure to within ") != std::string::npos);
    CHECK(glance.lately == 14);
    CHECK(glance.homework.empty());
    LessonTask two;
    two.tries = 2;
    found.homework.push_back({.title = "Week 3", .from = {}, .note = {}, .received = last, .tasks = {}});
    found.homework.front().tasks = {{.asked = two, .tries = 2, .counted = 2, .inside = 2}, {.asked = two}};
    CHECK(glanceOf(found, last).homework == "homework 1 of 2");
    CHECK(glance.ask.find("Ask for full step bends at G ") == 0);
    const double usual = glance.need;
    CHECK(glanceOf(found, last + std::chrono::hours(24 * 13)).ask == glance.ask);
    glance = glanceOf(found, last + std::chrono::hours(24 * 14));
    CHECK(glance.ask == "Ask what is in the way: 14 days without playing.");
    CHECK(glance.lately == 0);
    CHECK(glance.need > usual);
    const double away = glance.need;
    found.kinds.front().lost = found.kinds.front().tries / 3;
    CHECK(glanceOf(found, last).ask.find(" died on the way.") != std::string::npos);
    found.care.mostInSitting = found.care.sittingLimit + 1;
    glance = glanceOf(found, last + std::chrono::hours(24 * 14));
    CHECK(glance.ask.find("Ask about the hand: 61 bends of a full step and more in one sitting (limit 60).") == 0);
    CHECK(glance.need > away);
    found.map.cells.clear();
    CHECK(glanceOf(found, last).worst == "No place stands out from chance");
    CHECK(glanceOf({}, last).ask == "Ask for a first drill together.");
}

TEST_CASE("the short review of a list says the same of the same tries as the whole one") {
    const TestFolder folder;
    Log log = logOf(folder, 20);
    const StudentReview whole = reviewOf(log, "Ines");
    const auto brief = shortReview(log, whole.student);
    REQUIRE(brief);
    CHECK(brief->tries == whole.tries);
    CHECK(brief->sittings.size() == whole.sittings.size());
    CHECK(wordsOf(brief->care, 4) == wordsOf(whole.care, 4));
    REQUIRE(brief->kinds.size() == whole.kinds.size());
    for (std::size_t i = 0; i < whole.kinds.size(); ++i) {
        const KindReview &one = brief->kinds[i], &same = whole.kinds[i];
        CHECK(one.kind == same.kind);
        for (int KindReview::*count : {&KindReview::tries, &KindReview::inside, &KindReview::lost,
                                       &KindReview::measured, &KindReview::under, &KindReview::over})
            CHECK(one.*count == same.*count);
    }
    REQUIRE(brief->map.cells.size() == whole.map.cells.size());
    for (std::size_t i = 0; i < whole.map.cells.size(); ++i) {
        CHECK(brief->map.cells[i].bias == whole.map.cells[i].bias);
        CHECK(brief->map.cells[i].doubt == whole.map.cells[i].doubt);
    }
    for (const int days : {0, 3, 30}) {
        const CalendarTime now = whole.sittings.back().sitting.started + std::chrono::hours(24 * days);
        const Glance one = glanceOf(*brief, now), same = glanceOf(whole, now);
        CHECK(one.worst == same.worst);
        CHECK(one.ask == same.ask);
        CHECK(one.need == same.need);
        CHECK(one.lately == same.lately);
        CHECK(one.last == same.last);
    }
}

TEST_CASE("every try is read with what figures need, and the last sitting at a place is found") {
    const TestFolder folder;
    Log log = logOf(folder, 6);
    const auto student = findStudent(log, "Ines");
    std::size_t count = 0;
    std::map<std::int64_t, std::vector<LoggedTry>> whole;
    for (std::int64_t id = 1; id <= 6; ++id) whole[id] = *log.tries(id);
    REQUIRE(log.eachTry(*student, first - std::chrono::hours(1), [&](std::int64_t sitting, const LoggedTry& one) {
        ++count;
        const LoggedTry& same = whole[sitting].at(static_cast<std::size_t>(one.number - 1));
        const bool equal =
            one.at == same.at && one.drill == same.drill && one.aim == same.aim && one.landing.move == same.landing.move
            && one.landing.verdict == same.landing.verdict && one.landing.firstStopError == same.landing.firstStopError
            && one.landing.landingTime == same.landing.landingTime && one.landing.landedFret == same.landing.landedFret
            && one.landing.landingError == same.landing.landingError;
        CHECK(equal);
    }));
    CHECK(count == 6 * 48);
    for (const LoggedTry& one : whole[6]) {
        std::int64_t truth = 0;
        for (std::int64_t id = 5; id > 0 && truth == 0; --id)
            for (const LoggedTry& other : whole[id])
                if (other.landing.move.place == one.landing.move.place
                    && moveKindOf(other.landing.move) == moveKindOf(one.landing.move))
                    truth = id;
        const auto before = log.sittingBefore(6, one.landing.move);
        REQUIRE(before);
        CHECK(before->value_or(0) == truth);
    }
}

TEST_CASE("of two students with one name each is found by the beginning of the UUID, and a stranger is named") {
    const TestFolder folder;
    Log log = logOf(folder, 2);
    const auto other = log.addStudent("Ines");
    REQUIRE(other);
    const auto both = findStudent(log, "Ines");
    REQUIRE_FALSE(both);
    CHECK(both.error().message.find(other->uuid.substr(0, 8)) != std::string::npos);
    const StudentReview found = reviewOf(log, other->uuid.substr(0, 8));
    CHECK(found.sittings.empty());
    CHECK(found.next == "Nothing has been played yet: begin with a first drill.");
    const auto nobody = findStudent(log, "Tobi");
    REQUIRE_FALSE(nobody);
    CHECK(nobody.error().message == "there is no student 'Tobi' in the log: it has Ines, Ines");
}

TEST_CASE("a place that needs much force is never asked for, and one with few tries gets no verdict") {
    BiasMap map;
    map.cells = {{.kind = {Gesture::bend, 4},
                  .place = {2, 3},
                  .tries = 90,
                  .days = 9,
                  .bias = -30.0,
                  .doubt = 2.0,
                  .spread = 9.0,
                  .force = 27.0},
                 {.kind = {Gesture::bend, 2},
                  .place = {2, 8},
                  .tries = 19,
                  .days = 3,
                  .bias = -20.0,
                  .doubt = 3.0,
                  .spread = 9.0,
                  .force = 9.0}};
    CHECK(whatNext(map, Guitar{})
              .find("No place has 20 measured tries yet (most, with 19: half step bends on the B string "
                    "at fret 8)")
          == 0);
    map.cells[1].tries = 20;
    CHECK(
        whatNext(map, Guitar{}).find("Half step bends on the B string at fret 8 land about 20 under, sure to within 3:")
        == 0);
    map.cells[1].bias = -2.0;
    CHECK(whatNext(map, Guitar{}).find("No place stands out from chance") == 0);
}
