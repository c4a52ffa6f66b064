#include "src/review/next_place.h"

#include <cmath>
#include <set>

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/music/bending_model.h"
#include "src/practice/practice_care.h"
#include "src/review/next_phrase.h"
#include "src/review/student_review.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"

using namespace landfall;

namespace {

void play(std::vector<ReviewedTry>& tries, const MapPlace& at, int day, double error, int count = 1) {
    for (int i = 0; i < count; ++i) {
        ReviewedTry one;
        one.day = day;
        one.ofDay = tries.empty() || tries.back().day != day ? 0 : tries.back().ofDay + 1;
        one.kind = at.kind;
        one.place = at.place;
        one.counted = true;
        one.error = error + (i % 3 - 1) * 4.0;
        tries.push_back(one);
    }
}

void playProbes(std::vector<ReviewedTry>& tries, int day) {
    for (const MapPlace& each : coldProbes(Guitar{})) play(tries, each, day, 0.0);
}

constexpr MapPlace low{{Gesture::bend, 4}, {3, 9}}, fine{{Gesture::bend, 2}, {2, 9}};

}  // namespace

TEST_CASE("a day begins with the same eight to ten cold tries, easy ones first, and each is asked for once") {
    const auto probes = coldProbes(Guitar{});
    CHECK(probes.size() >= 8);
    CHECK(probes.size() <= 10);
    CHECK(std::set(probes.begin(), probes.end()).size() == probes.size());
    for (std::size_t i = 1; i < probes.size(); ++i) CHECK(probes[i].kind.halfSteps >= probes[i - 1].kind.halfSteps);
    std::vector<ReviewedTry> tries;
    for (const int day : {0, 1})
        for (std::size_t i = 0; i < probes.size(); ++i) {
            const auto next = nextPlace(tries, Guitar{}, day);
            REQUIRE(next);
            CHECK(next->why == NextPlace::Why::probe);
            CHECK(next->at == probes[i]);
            CHECK(next->probe == static_cast<int>(i) + 1);
            CHECK(next->tries == 1);
            play(tries, next->at, day, 5.0);
        }
    CHECK(nextPlace(tries, Guitar{}, 1)->why != NextPlace::Why::probe);
}

TEST_CASE("no place is asked for that needs more force than care allows, or that the bending model cannot judge") {
    const Guitar heavy{.gaugesInch = {0.012, 0.016, 0.024, 0.032, 0.042, 0.054}, .plainStrings = 2};
    for (const Guitar& guitar : {Guitar{}, heavy})
        for (const MapPlace& each : allowedPlaces(guitar)) {
            const auto effort = bendEffort(guitar, each.place, Cents(50.0 * each.kind.halfSteps));
            REQUIRE(effort);
            CHECK(effort->forceNewton <= CareLimits{}.forceNewton);
            const NextPlace asked{.at = each};
            CHECK_FALSE(heavyReason(drillOf(asked, guitar), guitar, each.place));
        }
    CHECK(allowedPlaces(heavy).size() < allowedPlaces(Guitar{}).size());
    // the worst of all places is too stiff: it is passed over
    std::vector<ReviewedTry> tries;
    MapPlace stiff{{Gesture::bend, 4}, {3, 1}};
    while (bendEffort(Guitar{}, stiff.place, Cents(50.0 * stiff.kind.halfSteps))->forceNewton
           <= CareLimits{}.forceNewton)
        ++stiff.kind.halfSteps;
    play(tries, stiff, 0, -60.0, 40);
    playProbes(tries, 1);
    for (int block = 0; block < 12; ++block) {
        const auto next = nextPlace(tries, Guitar{}, 1);
        REQUIRE(next);
        CHECK(next->at != stiff);
        play(tries, next->at, 1, 0.0, 2);
    }
    CHECK_FALSE(nextPlace({}, Guitar{.plainStrings = 0}, 0));
}

TEST_CASE("the place that lands far under is asked for most, with how much and how sure, and never twice running") {
    std::vector<ReviewedTry> tries;
    for (int day = 0; day < 4; ++day) {
        playProbes(tries, day);
        play(tries, fine, day, 0.0, 10);
        play(tries, low, day, -30.0, 10);
    }
    playProbes(tries, 4);
    int asked = 0, onString = 0;  // at that place; on its string, where all land as it does
    MapPlace before;
    std::string reason;
    for (int block = 0; block < 40; ++block) {
        const auto next = nextPlace(tries, Guitar{}, 4);
        REQUIRE(next);
        CHECK(next->at != before);
        before = next->at;
        if (next->at == low) {
            ++asked;
            reason = next->reason;
            CHECK(next->why == NextPlace::Why::leans);
        }
        const bool lands = next->at.kind != low.kind || next->at.place.string != 3;
        onString += lands ? 0 : 1;
        play(tries, next->at, 4, lands ? 0.0 : -30.0, next->tries);
    }
    CHECK(asked >= 1);
    CHECK(asked <= 10);  // four others come between
    CHECK(onString >= 20);
    INFO(reason);
    CHECK(reason.find("Full step bends on the G string around fret 9 land about ") == 0);
    CHECK(reason.find(" under, sure to within ") != std::string::npos);
}

TEST_CASE("what was learned is asked for again after days, and what was never tried has its share") {
    std::vector<ReviewedTry> tries;
    play(tries, fine, 0, 0.0, 30);
    for (int day = 1; day <= 6; ++day) {
        playProbes(tries, day);
        play(tries, low, day, -8.0, 6);
    }
    playProbes(tries, 7);
    std::set<NextPlace::Why> whys;
    for (int block = 0; block < 10; ++block) {
        const auto next = nextPlace(tries, Guitar{}, 7);
        REQUIRE(next);
        whys.insert(next->why);
        if (next->why == NextPlace::Why::review) {
            CHECK(next->at == fine);
            CHECK(next->reason
                  == "Half step bends on the B string around fret 9 landed well and were not played for 7 days of "
                     "practice: do they still?");
        }
        play(tries, next->at, 7, 0.0, next->tries);
    }
    CHECK(whys.contains(NextPlace::Why::review));
    CHECK(whys.contains(NextPlace::Why::untried));
}

TEST_CASE("hands that have done their full steps are asked for half steps only") {
    std::vector<ReviewedTry> tries;
    play(tries, low, 0, -30.0, 40);
    for (int block = 0; block < 15; ++block) {
        const auto next = nextPlace(tries, Guitar{}, 0, true);
        REQUIRE(next);
        CHECK(next->at.kind.halfSteps < 4);
        play(tries, next->at, 0, 0.0, next->tries);
    }
}

TEST_CASE("the same question has the same answer, and each answer is a drill that the drill file holds") {
    std::vector<ReviewedTry> tries;
    for (int day = 0; day < 3; ++day) {
        playProbes(tries, day);
        for (int block = 0; block < 8; ++block) {
            const auto next = nextPlace(tries, Guitar{}, day), again = nextPlace(tries, Guitar{}, day);
            REQUIRE(next);
            CHECK(next->at == again->at);
            CHECK(next->reason == again->reason);
            const Drill drill = drillOf(*next, Guitar{});
            const auto back = parseDrill(drillAsToml(drill), "next.toml");
            REQUIRE_MESSAGE(back, back.error().message);
            CHECK(back->trains == next->reason);
            REQUIRE(back->places.size() == next->then.size() + 1);
            CHECK(back->places.size() <= 4);
            for (const NeckPlace place : back->places) CHECK_FALSE(heavyReason(*back, Guitar{}, place));
            CHECK(moveKindOf(movesAt(*back, Guitar{}, next->at.place)->back()) == next->at.kind);
            play(tries, next->at, day, -10.0, next->tries);
        }
    }
}

namespace {

// Bends up at these places on a standard guitar, a phrase of them.
Line lineOf(const std::string& title, std::initializer_list<MapPlace> places) {
    Line line{
        .title = title, .tempo = {}, .openStrings = Guitar{}.openStrings, .barBegins = {}, .moves = {}, .listen = {}};
    for (const MapPlace& at : places) {
        const MidiPitch fretted = pitchAt(Guitar{}, at.place);
        LineMove& each = line.moves.emplace_back();
        each.move = {at.kind.gesture, fretted, fretted + Cents(50.0 * at.kind.halfSteps), at.place, {}};
        each.beat = static_cast<double>(line.moves.size() - 1);
    }
    return line;
}

}  // namespace

TEST_CASE("from a log: probes on a new day, and no more full steps once the day's are done") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    Sitting sitting;
    sitting.student = "Ines";
    sitting.started = calendarNow() - std::chrono::hours(48);
    std::vector<LoggedTry> rows;
    for (int number = 1; number <= 40; ++number)
        rows.push_back(practisedTry(number, sitting.started + std::chrono::seconds(number), {3, 9}, Gesture::bend,
                                    -20.0, false, false));
    REQUIRE(log->putAll(sitting, rows));
    const auto ines = findStudent(*log, "Ines");
    const auto tomorrow = nextFor(*log, *ines, Guitar{}, calendarNow());
    REQUIRE(tomorrow);
    REQUIRE(*tomorrow);
    CHECK((*tomorrow)->probe == 1);
    const auto then = nextFor(*log, *ines, Guitar{}, sitting.started + std::chrono::minutes(1));
    REQUIRE(*then);
    CHECK((*then)->at.kind.halfSteps < 4);
    // Five sittings' full steps in a week are enough: on Saturday only half steps, on Monday all of it again.
    const auto tobi = log->addStudent("Tobi");
    using namespace std::chrono;
    const auto today = floor<days>(calendarNow());
    const CalendarTime monday = today - (weekday(today) - Monday) - days(7) + hours(12);
    int number = 0;
    for (int day = 0; day < 5; ++day) {
        Sitting each;
        each.student = "Tobi";
        each.started = monday + days(day);
        std::vector<LoggedTry> played;
        for (int i = 0; i < bendsAWeek(true) / 5; ++i)
            played.push_back(
                practisedTry(++number, each.started + seconds(i), {3, 9}, Gesture::bend, -20.0, false, false));
        REQUIRE(log->putAll(each, played));
    }
    const std::vector<Line> lines{lineOf("full steps", {low})};
    CHECK_FALSE(*nextPhraseFor(*log, *tobi, Guitar{}, lines, monday + days(5)));
    CHECK(*nextPhraseFor(*log, *tobi, Guitar{}, lines, monday + days(7)));
    const auto nobody = log->addStudent("Noor");
    CHECK((*nextFor(*log, *nobody, Guitar{}, calendarNow()))->probe == 1);
}

TEST_CASE("the phrase that goes where the map leans most is next, with that place and how sure it is as the reason") {
    const MapPlace other{{Gesture::bend, 4}, {2, 10}};
    std::vector<ReviewedTry> tries;
    play(tries, low, 0, -25.0, 40);
    play(tries, other, 0, 0.0, 40);
    play(tries, fine, 0, 0.0, 40);
    const Line leaning = lineOf("leaning", {low, fine, low}), well = lineOf("well", {other, fine, fine});
    for (const bool first : {true, false}) {
        const std::vector<Line> lines = first ? std::vector{leaning, well} : std::vector{well, leaning};
        const auto next = nextPhrase(tries, Guitar{}, lines, 1);
        REQUIRE(next);
        CHECK(lines[next->line].title == "leaning");
        CHECK(next->reason.find("Full step bends on the G string around fret 9 land about 2") == 0);
        CHECK(next->reason.ends_with("Here they stand in a line."));
    }
    const auto easy = nextPhrase(tries, Guitar{}, std::vector{leaning, well, lineOf("easy", {fine})}, 1, true);
    REQUIRE(easy);
    CHECK(easy->line == 2);  // the day's full steps are done
}

TEST_CASE("no phrase for another guitar, too heavy for the hand, or with moves that were hardly played") {
    const MapPlace never{{Gesture::preBend, 4}, {3, 9}}, heavy{{Gesture::bend, 8}, {3, 9}};
    std::vector<ReviewedTry> tries;
    play(tries, low, 0, -25.0, leastForPlace);
    play(tries, heavy, 0, -25.0, leastForPlace);
    const std::vector<Line> one{lineOf("low", {low})};
    CHECK(nextPhrase(tries, Guitar{}, one, 1));
    CHECK_FALSE(nextPhrase({}, Guitar{}, one, 0));
    tries.pop_back();
    CHECK_FALSE(nextPhrase(tries, Guitar{}, std::vector{lineOf("never", {low, never})}, 1));
    CHECK_FALSE(nextPhrase(tries, Guitar{}, std::vector{lineOf("heavy", {heavy})}, 1));
    CHECK_FALSE(nextPhrase(tries, Guitar{.capo = 2}, one, 1));
    CHECK_FALSE(nextPhrase(tries, Guitar{.openStrings = *parseTuning("drop D")}, one, 1));
    CHECK_FALSE(nextPhrase(tries, Guitar{}, {}, 1));
}
